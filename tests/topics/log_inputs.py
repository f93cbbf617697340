"""Inputs of the logs that several tests use."""

SOURCE = "bench notes of the teaching workshop, sheet 14"

HEAD = {
    "rows": "2", "columns": "4", "pitch_along": "110 mm", "pitch_across": "100 mm", "thread": "M10x1.25",
    "pitch_bolt": "1.25 mm", "pitch_hole": "1,25 mm", "length": "110 mm", "washer": "captive", "hole": "blind",
    "use": "new", "lubricant": f"engine oil, {SOURCE}", "lubricated": "thread", "dry": "yes", "chased": "yes",
}  # fmt: skip

SAFE = [{"step": s, "state": "done"} for s in ("battery isolated", "engine cold", "pressure released")]

LOCK = {"step": "lock in", "state": "done"}

RULE = {"lock_position": "pin in, 60° before dead centre", "lock_tools": "pin", "lock_position_source": SOURCE}

PLACES = [{"name": str(1 + c + 2 * r), "x": f"{90 * c} mm", "y": f"{80 * r} mm"} for r in (0, 1) for c in (0, 1)]
