"""What the calculation of each working gives: recorded runs, each with the version of the calculation that gave it.

``python -m tests.calculations`` adds the runs of new workings, and runs again those of a calculation whose version was
raised.  It refuses a calculation that gives other results under the same version: raise ``calculation`` in its
``Working``.  Runs of earlier versions are kept: they say what was changed.
"""

import gzip
import json
import math
from pathlib import Path

from shoplib.topics import all_workings

FILE = Path(__file__).parent / "archive" / "calculations.json.gz"
TOLERANCE = 1e-9  # relative; libraries and processors round otherwise


def given(working, inputs):
    """The outcome and every number of a result, by its place: what a version of a calculation promises."""
    said = json.loads(json.dumps(working(inputs).to_json()))
    found = {"outcome": said["outcome"]}
    for name, value in said["results"].items():
        rows = value["value"] if isinstance(value["value"], list) else [value]
        for n, row in enumerate(rows):
            cells = row if isinstance(row, dict) and "value" not in row else {"": row}
            for column, cell in cells.items():
                number = cell.get("value") if isinstance(cell, dict) else cell
                if isinstance(number, int | float) and not isinstance(number, bool):
                    found[f"{name}[{n}].{column}" if rows != [value] else name] = number
    return found


def recorded():
    """Every recorded run: working, calculation, inputs, and what it gave."""
    return json.loads(gzip.decompress(FILE.read_bytes())) if FILE.exists() else []


def differences(run, now):
    """The places in which a run gives something else; a result that is new or gone is none."""
    then = run["gave"]
    return [
        f"{k}: {then[k]} became {now[k]}"
        for k in then
        if k in now and then[k] != now[k]
        and not (isinstance(then[k], float | int) and isinstance(now[k], float | int)
                 and math.isclose(then[k], now[k], rel_tol=TOLERANCE, abs_tol=1e-12))
    ]  # fmt: skip


def checked(working, runs):
    """What is wrong with the version of a working's calculation, in words."""
    mine = [r for r in runs if r["working"] == working.name]
    current = [r for r in mine if r["calculation"] == working.calculation]
    if not current:
        return [f"{working.name}: no run of calculation {working.calculation}; run python -m tests.calculations"]
    return [
        f"{working.name}: {said}; raise its calculation to {working.calculation + 1}"
        for run in current
        for said in differences(run, given(working, run["inputs"]))
    ]


def main():
    from tests.topics.typed_inputs import typed

    runs, workings = recorded(), all_workings()
    for working in workings.values():
        mine = [r for r in runs if r["working"] == working.name]
        if any(r["calculation"] == working.calculation for r in mine):
            if wrong := checked(working, runs):
                raise SystemExit("\n".join(wrong))
            continue
        inputs = {json.dumps(r["inputs"], sort_keys=True): r["inputs"] for r in mine} or {"": typed(working)}
        runs += [{"working": working.name, "calculation": working.calculation, "inputs": i, "gave": given(working, i)}
                 for i in inputs.values()]  # fmt: skip
    raw = json.dumps(sorted(runs, key=lambda r: (r["working"], r["calculation"])), ensure_ascii=False).encode()
    FILE.write_bytes(gzip.compress(raw, mtime=0))
    print(f"{len(runs)} runs of {len(workings)} workings")


if __name__ == "__main__":
    main()
