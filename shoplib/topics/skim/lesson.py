"""The skim chain: one cut changes ratio, valve-to-piston clearance, timing and height."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from shoplib.core.units import deg, mm, unit_of
from shoplib.core.working import Result
from shoplib.physics.threads import circle_area
from shoplib.plotting.plot_style import ACCENT, INK, SOFT, WARM, shape_to_place
from shoplib.teaching.lesson import Control, Lesson
from shoplib.topics.skim.cam_retard import CAM_RETARD
from shoplib.topics.skim.pictures import alt_chain, draw_chain_on
from shoplib.topics.skim.skim_chain import SKIM_CHAIN as CHAIN
from shoplib.topics.skim.sweep_picture import alt_sweep, draw_sweep
from shoplib.topics.skim.valve_sweep import VALVE_SWEEP

MM, DEG = unit_of(mm), unit_of(deg)

# An invented engine; a learner's own takes its place in the notebook.
ENGINE = {
    "bore": "86 mm",
    "stroke": "90 mm",
    "ratio": "18",
    "gasket_bore": "87.5 mm",
    "measured_height": "135.72 mm",
    "minimum_height": "135.50 mm",
    "minimum_height_source": "bench notes of the teaching workshop, sheet 7",
    "valve_to_piston_clearance": "1.20 mm",
    "minimum_clearance": "0.80 mm",
    "minimum_clearance_source": "bench notes of the teaching workshop, sheet 7",
    "sprocket_diameter": "120 mm",
    "idler_in_tight_run": "no",
}
CHAMBER = {"head_face": "chamber in head", "chamber_opening_area": "3900 mm2", "valve_angle": "20 deg", "crown": "flat"}
FLAT = {"head_face": "flat face", "chamber_opening_area": "400 mm2", "valve_angle": "0 deg"}


GASKETS = {"as before": "0 mm", "0.2 mm thicker": "0.2 mm"}


def at_cut(head_skim: float, face: dict[str, str], gasket: str) -> Result:
    """The chain's result for a cut in metres, a kind of head and how much thicker the gasket is."""
    r = _chain(f"{MM.from_si(head_skim)!r} mm", face, gasket)
    return replace(r, plot_data={**r.plot_data, "same_axes": _every_head()})


def _chain(head_skim: str, face: dict[str, str], gasket: str) -> Result:
    typed: dict[str, Any] = {**ENGINE, **face, "head_skim": head_skim, "gasket_gain": gasket}
    return CHAIN(typed)


@functools.cache
def _every_head() -> tuple[Result, ...]:
    """Each head with each gasket, so that the gauges keep their axes when one of them is chosen."""
    return tuple(_chain("0.2 mm", face, gasket) for face in (CHAMBER, FLAT) for gasket in GASKETS.values())


def volumes(result: Result) -> tuple[tuple[float, float], tuple[float, float]]:
    """Area and thickness of what the cut takes off, and of what the gasket adds."""
    inputs = result.inputs
    hole = float(circle_area(inputs.gasket_bore))
    return (inputs.chamber_opening_area, inputs.head_skim), (hole, inputs.gasket_gain)


def says(result: Result) -> str:
    """What one cut does, in words."""
    failed = [c.label.lower() for c in result.checks if c.outcome == "fail"]
    off, on = (f"{1e9 * area * thick:.0f} mm³" for area, thick in volumes(result))
    text = f"{alt_chain(result)} The cut takes {off} off the chamber; the gasket adds {on}."
    if result.inputs.valve_angle and result["net_drop"]:
        text += f" The valve leans by {DEG.from_si(result.inputs.valve_angle):.0f}°: over a flat crown its clearance "
        text += "changes by a little more than the head moves."
    return text + (f" Not allowed: {'; '.join(failed)}." if failed else "")


def draw_with_areas(figure: Any) -> Callable[[Result], None]:
    """The chain; below it both volumes, each drawn as its area wide and its thickness high."""
    grid = figure.add_gridspec(5, 2, width_ratios=(1.12, 1), height_ratios=(1, 1, 1, 1, 0.95))
    move_chain = draw_chain_on(figure, grid)
    ax = figure.add_subplot(grid[4, :])
    ax.axis("off")
    ax.set(xlim=(0, 13.4), ylim=(-0.05, 0.95))  # 1000 mm², mm
    drawn = []
    for n, (x, word, colour, hatch) in enumerate(((0, "cut off", ACCENT, ""), (6.9, "gasket adds", WARM, "///"))):
        box = shape_to_place(ax, facecolor=colour, edgecolor="white", hatch=hatch, lw=0, gid=f"volume{n}")
        drawn.append((x, word, box, ax.text(x, 0.62, "", fontsize=10, color=INK, va="bottom", gid=f"volume-note{n}")))
        ax.plot([x, x + 6.2], [0, 0], color=SOFT, lw=0.8)

    def move(result: Result) -> None:
        move_chain(result)
        for (x, word, box, note), (area, thick) in zip(drawn, volumes(result), strict=True):
            wide, high = 1e3 * area, 1e3 * thick
            box.set_xy([(x, 0), (x + wide, 0), (x + wide, high), (x, high)])
            note.set_text(f"{word}: {1e6 * area:.0f} mm² × {high:.2f} mm = {1e9 * area * thick:.0f} mm³")

    return move


VALVES: dict[str, dict[str, str]] = {  # invented, by simple harmonic motion
    "exhaust": {"peak_angle": "-108 deg", "duration": "250 deg", "peak_lift": "9.0 mm"},
    "intake": {"peak_angle": "106 deg", "duration": "250 deg", "peak_lift": "9.5 mm"},
}
SWEPT = {"closed_gap": "3.60 mm", "valve_angle": "20 deg", "crown": "flat", "rod_length": "143 mm", "stroke": "90 mm",
         "minimum_clearance": "1.00 mm",
         "minimum_clearance_source": "bench notes of the teaching workshop, sheet 7"}  # fmt: skip


def swept(head_skim: float, valve: str, timed: bool) -> Result:
    """The smallest clearance after a cut in metres, for one valve; the camshaft timed anew, or late by the cut."""
    cut = f"{MM.from_si(head_skim)!r} mm"
    late = CAM_RETARD(head_skim=cut, sprocket_diameter="120 mm", idler_in_tight_run="no")["crank_angle"]
    turned = f"{0.0 if timed else DEG.from_si(late)!r} deg"
    return VALVE_SWEEP({**SWEPT, **VALVES[valve], "net_drop": cut, "retard": turned})


LESSONS = [
    Lesson(
        name="valve_sweep",
        title="How close does the valve come?",
        controls=(
            Control("head_skim", "Amount cut from the head", mm, 0.0, 1.0, 0.02, 0.3),
            Control("valve", "Valve", choices=(("exhaust", "exhaust"), ("intake", "intake"))),
            Control("timed", "Camshaft", choices=(("late by the cut", False), ("timed anew", True))),
        ),
        state=swept,
        draw=draw_sweep,
        says=alt_sweep,
        alt=alt_sweep,
        caution="The engine and its lift curve are invented. The maker's procedure for this engine governs.",
        figure_size=(7.6, 4.0),
        narrowest=680.0,
    ),
    Lesson(
        name="skim_chain",
        title="One cut, four consequences",
        controls=(
            Control("head_skim", "Amount cut from the head", mm, 0.0, 0.5, 0.01, 0.2),
            Control("face", "Head", choices=(("chamber in the head", CHAMBER), ("flat face", FLAT))),
            Control("gasket", "Gasket", choices=tuple(GASKETS.items())),
        ),
        state=at_cut,
        draw=draw_with_areas,
        says=says,
        alt=says,
        caution="The engine is invented and the movement is exaggerated. The maker's procedure for this engine "
        "governs.",
        figure_size=(7.6, 4.4),
        narrowest=680.0,
    ),
]
