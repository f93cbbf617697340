"""The skim chain: one cut changes ratio, valve-to-piston clearance, timing and height."""

from __future__ import annotations

from typing import Any

from shoplib.core.units import mm, unit_of
from shoplib.core.working import Result
from shoplib.teaching.lesson import Control, Lesson
from shoplib.topics.skim.pictures import alt_chain, draw_chain
from shoplib.topics.skim.skim_chain import SKIM_CHAIN as CHAIN

MM = unit_of(mm)

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


def at_cut(head_skim: float, face: dict[str, str], gasket: str) -> Result:
    """The chain's result for a cut in metres, a kind of head and how much thicker the gasket is."""
    typed: dict[str, Any] = {**ENGINE, **face, "head_skim": f"{MM.from_si(head_skim)!r} mm", "gasket_gain": gasket}
    return CHAIN(typed)


def says(result: Result) -> str:
    """What one cut does, in words."""
    failed = [c.label.lower() for c in result.checks if c.outcome == "fail"]
    return alt_chain(result) + (f" Not allowed: {'; '.join(failed)}." if failed else "")


LESSONS = [
    Lesson(
        name="skim_chain",
        title="One cut, four consequences",
        controls=(
            Control("head_skim", "Cut off the head", mm, 0.0, 0.5, 0.01, 0.2),
            Control("face", "Head", choices=(("chamber in the head", CHAMBER), ("flat face", FLAT))),
            Control("gasket", "Gasket", choices=(("as before", "0 mm"), ("0.2 mm thicker", "0.2 mm"))),
        ),
        state=at_cut,
        draw=draw_chain,
        says=says,
        alt=says,
        caution="The engine is invented and the movement is exaggerated. The maker's procedure for this engine "
        "governs.",
        figure_size=(7.6, 4.4),
        narrowest=680.0,
    ),
]
