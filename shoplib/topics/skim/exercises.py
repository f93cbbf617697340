"""After the skim: ratio, gasket, timing, clearance, height and roughness."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from shoplib.core.working import Result
from shoplib.teaching.exercise import Exercise, Mistake, again, among, pick
from shoplib.topics.skim.cam_retard import CAM_RETARD
from shoplib.topics.skim.compression_ratio import COMPRESSION_RATIO
from shoplib.topics.skim.gasket_grade import GASKET_GRADE
from shoplib.topics.skim.skim_allowance import SKIM_ALLOWANCE
from shoplib.topics.skim.surface_roughness import SURFACE_ROUGHNESS
from shoplib.topics.skim.valve_to_piston_clearance import VALVE_TO_PISTON_CLEARANCE

GRADES = [
    {"name": "1", "low": "0.50 mm", "high": "0.60 mm"},
    {"name": "2", "low": "0.60 mm", "high": "0.70 mm"},
    {"name": "3", "low": "0.70 mm", "high": "0.80 mm"},
]


def _bore_area(r: Result) -> str:
    return f"{math.pi / 4 * (r.inputs.bore * 1e3) ** 2!r} mm2"


def _pistons(rng: np.random.Generator) -> dict[str, Any]:
    """Three pistons, each with a tilt of a few hundredths, one of them plainly the highest."""
    middle = int(rng.integers(56, 72))
    highest = int(rng.integers(3))
    readings = []
    for k in range(3):
        mean = middle + (int(rng.integers(3, 6)) if k == highest else -int(rng.integers(0, 4)))
        tilt = int(rng.integers(2, 5))
        readings.append([f"0.{mean - tilt} mm", f"0.{mean + tilt} mm"])
    shown = {f"p{k}": " and ".join(pair) for k, pair in enumerate(readings, 1)}
    return {"projections": readings, **shown}


def _two_limits(rng: np.random.Generator) -> dict[str, Any]:
    """Four heights and two cuts: together plainly within 0.40 mm or plainly beyond it."""
    while True:
        lost, cut, block = (int(rng.choice(n)) for n in (range(8, 26, 2), (10, 15, 20), (5, 10, 15)))
        if abs(lost + cut + block - 40) > 2:
            break
    heights = [f"{136 - (lost - more) / 100:.2f} mm" for more in (1, 0, 2, 1)]
    return {"lowest": heights[1], "heights": "; ".join(heights), "cut": f"0.{cut} mm", "block_cut": f"0.{block:02d} mm"}


def _grade_by(rule: str) -> Any:
    """The grade that another rule gives, where it is another grade."""

    def wrong(r: Result) -> str | None:
        found = str(again(r, rule=rule)["grade"])
        taken = {str(r["grade"])} | ({str(again(r, rule="max")["grade"])} if rule == "mean_of_all" else set())
        return None if found in taken or found not in WORDS else found

    return wrong


def _cut_added(r: Result) -> float:
    """The ratio with the cut's volume added."""
    return float(1 + r["swept_volume"] / (2 * r["clearance_before"] - r["clearance_after"]))


def _swept_alone(r: Result) -> float | None:
    """The ratio less one; None where it looks like another mistake."""
    found = float(r["ratio_after"] - 1)
    return None if min(abs(found - r["ratio_before"]), abs(found - _cut_added(r))) < 0.1 else found


WORDS = ("1", "2", "3", "1 or 2", "2 or 3")


EXERCISES = [
    Exercise(
        name="together_or_alone",
        topic="skim",
        title="Two limits at once",
        question="The head was {new_height} high when new. Its lowest of four heights is {lowest} now; it needs "
        "another {cut}. The block has lost {block_cut}. The manual allows the head no less than {minimum_height}, and "
        "head and block together no more than {combined_limit}. May it be cut: pass or fail?",
        working=SKIM_ALLOWANCE,
        result="outcome",
        numbers=_two_limits,
        fixed={
            "new_height": "136.00 mm",
            "minimum_height": "135.50 mm",
            "minimum_height_source": "the manual of this exercise",
            "combined_limit": "0.40 mm",
            "combined_limit_source": "the manual of this exercise",
        },
        choices=("pass", "fail"),
        tolerance="",
        mistakes=(
            Mistake(
                "looked at the head's height alone",
                lambda r: "pass" if str(r.outcome) == "fail" else None,
                "The height would do. But add up what head and block have lost since they were new.",
            ),
        ),
        first_step="Height after the cut against its minimum; then what head and block have lost together.",
        lesson="Both limits count: a head that is high enough can still be too much together with its block.",
    ),
    Exercise(
        name="ratio_after_a_cut",
        topic="skim",
        title="The ratio after a cut",
        question="Bore {bore}, stroke {stroke}, ratio {ratio}. The chamber in the head opens with "
        "{chamber_opening_area} in the face, and {head_skim} comes off. What is the ratio now?",
        working=COMPRESSION_RATIO,
        result="ratio_after",
        numbers=lambda rng: {
            "bore": pick(rng, 82, 92, 2, "mm"),
            "stroke": pick(rng, 84, 96, 2, "mm"),
            "ratio": pick(rng, 16, 20, 0.5),
            "chamber_opening_area": pick(rng, 3200, 4000, 100, "mm²"),
            "head_skim": pick(rng, 0.20, 0.40, 0.05, "mm"),
        },
        tolerance="0.04",
        mistakes=(
            Mistake(
                "took the bore's area for the opening's",
                lambda r: again(r, chamber_opening_area=_bore_area(r))["ratio_after"],
                "The cut takes its volume where the chamber opens in the face, not over the whole bore.",
            ),
            Mistake(
                "divided the swept volume alone by the clearance volume",
                _swept_alone,
                "The ratio is swept and clearance volume together, over the clearance volume.",
            ),
            Mistake(
                "added the cut to the clearance volume",
                _cut_added,
                "A cut makes the room above the piston smaller, so the ratio rises.",
            ),
            Mistake(
                "left the ratio as it was",
                lambda r: r["ratio_before"],
                "On a chamber in the head the ratio does move; on a flat face it hardly does.",
            ),
        ),
        first_step="Swept volume, then clearance volume = swept ÷ (ratio − 1), less opening × cut.",
        lesson="The cut works on the opening of the chamber; the ratio rises, though less than over the whole bore.",
    ),
    Exercise(
        name="gasket_that_keeps_the_ratio",
        topic="skim",
        title="How much thicker a gasket would keep the ratio?",
        question="{head_skim} came off a head whose chamber opens with {chamber_opening_area} in the face. The "
        "gasket's hole is {gasket_bore} across. How much thicker must the compressed gasket be to keep the ratio?",
        working=COMPRESSION_RATIO,
        result="gasket_gain_to_keep",
        numbers=lambda rng: {
            "head_skim": pick(rng, 0.20, 0.40, 0.05, "mm"),
            "chamber_opening_area": pick(rng, 3200, 4200, 100, "mm²"),
            "gasket_bore": pick(rng, 86, 92, 1, "mm"),
        },
        fixed={"bore": "84 mm", "stroke": "90 mm", "ratio": "18"},
        tolerance="2 %",
        mistakes=(
            Mistake(
                "took equal thicknesses",
                lambda r: r.inputs.head_skim,
                "The gasket gives volume back over its own hole, which is larger than the chamber's opening.",
            ),
            Mistake(
                "the areas upside down",
                lambda r: r.inputs.head_skim**2 / r["gasket_gain_to_keep"],
                "The larger area needs the smaller thickness.",
            ),
            Mistake(
                "took the diameter for the radius",
                lambda r: r["gasket_gain_to_keep"] / 4,
                "The area of the hole is π/4 times its diameter squared.",
            ),
        ),
        first_step="Volume cut away = opening × cut; the gasket gives it back over the area of its hole.",
        lesson="Equal thickness does not cancel: cut × opening = gain × hole of the gasket.",
    ),
    Exercise(
        name="camshaft_after_a_cut",
        topic="skim",
        title="How late is the camshaft?",
        question="The head comes down by {head_skim} in all. The cam sprocket has a pitch diameter of "
        "{sprocket_diameter}; its tight run lies along the cylinders, without an idler. How late is the camshaft, in "
        "degrees of the crankshaft?",
        working=CAM_RETARD,
        result="crank_angle",
        numbers=lambda rng: {
            "head_skim": pick(rng, 0.15, 0.50, 0.05, "mm"),
            "sprocket_diameter": pick(rng, 90, 140, 5, "mm"),
        },
        tolerance="2 %",
        mistakes=(
            Mistake(
                "gave camshaft degrees, or took the diameter for the radius",
                lambda r: r["cam_angle"],
                "The crankshaft turns twice as far as the camshaft; and the lever is the radius.",
            ),
            Mistake(
                "gave camshaft degrees and took the diameter for the radius",
                lambda r: r["cam_angle"] / 2,
                "Cut ÷ radius is the cam's angle in radians; the crankshaft turns twice as far.",
            ),
            Mistake(
                "left the angle in radians",
                lambda r: r["crank_angle"] * math.pi / 180,
                "Cut ÷ radius is an angle in radians; times 180 ÷ π it is in degrees.",
            ),
        ),
        first_step="Angle of the cam = cut ÷ pitch radius, in radians; then degrees; then twice for the crankshaft.",
        lesson="A shorter drive always makes the camshaft late. Free, pin-timed sprockets take the error out; keyed "
        "ones keep it.",
    ),
    Exercise(
        name="clearance_along_the_valve",
        topic="skim",
        title="What is left under the valve?",
        question="Before the cut the valve cleared the piston by {clearance}, measured along the valve, which leans "
        "{valve_angle} from the cylinder; its pocket is cut square to it. The head comes down by {net_drop}. What is "
        "left along the valve?",
        working=VALVE_TO_PISTON_CLEARANCE,
        result="clearance_after",
        numbers=lambda rng: {
            "clearance": pick(rng, 1.2, 2.0, 0.1, "mm"),
            "net_drop": pick(rng, 0.30, 0.60, 0.05, "mm"),
            "valve_angle": among(rng, "22°", "25°", "30°"),
        },
        fixed={"crown": "pocket square to the valve"},
        tolerance="0.01 mm",
        safe="below",  # a clearance that is not there
        mistakes=(
            Mistake(
                "took the whole drop",
                lambda r: r.inputs.clearance - r.inputs.net_drop,
                "Only the part of the drop along the valve closes this gap.",
            ),
            Mistake(
                "took the part across the valve",
                lambda r: r.inputs.clearance - r.inputs.net_drop * math.sin(r.inputs.valve_angle),
                "Along the valve is the cosine of its angle.",
            ),
            Mistake(
                "added the drop",
                lambda r: r.inputs.clearance + r.inputs.net_drop * math.cos(r.inputs.valve_angle),
                "The head comes nearer to the piston.",
            ),
        ),
        first_step="Drop × cosine of the valve's angle is what closes along the valve.",
        lesson="Along the valve the gap closes by drop × cos of its angle; over a flat crown by drop ÷ cos: more.",
    ),
    Exercise(
        name="projection_that_governs",
        topic="skim",
        title="Which projection governs?",
        question="Projections, two to a piston: {p1}; {p2}; {p3}. The source says: average each piston, then take the "
        "highest. Which projection governs?",
        working=GASKET_GRADE,
        result="governing",
        numbers=_pistons,
        fixed={"grades": GRADES, "rule": "mean_then_max"},
        tolerance="0.004 mm",
        mistakes=(
            Mistake(
                "took the highest reading",
                lambda r: again(r, rule="max")["governing"],
                "The two readings of a piston differ because it tilts; average them first.",
            ),
            Mistake(
                "averaged the whole engine",
                lambda r: again(r, rule="mean_of_all")["governing"],
                "The highest piston decides, not the average one.",
            ),
        ),
        first_step="One average for each piston; then the highest of them.",
        lesson="Averaging takes out each piston's tilt; the highest piston decides for the whole engine.",
    ),
    Exercise(
        name="grade_of_the_gasket",
        topic="skim",
        title="Which gasket?",
        question="Projections, two to a piston: {p1}; {p2}; {p3}. Average each piston, then take the highest. Grade 1 "
        "serves 0.50 to 0.60 mm, grade 2 0.60 to 0.70 mm, grade 3 0.70 to 0.80 mm. Which grade?",
        working=GASKET_GRADE,
        result="grade",
        numbers=_pistons,
        fixed={"grades": GRADES, "rule": "mean_then_max"},
        choices=WORDS,
        tolerance="",
        mistakes=(
            Mistake(
                "took the highest reading",
                _grade_by("max"),
                "Average the two readings of each piston first: that takes its tilt out.",
            ),
            Mistake(
                "averaged the whole engine",
                _grade_by("mean_of_all"),
                "The highest piston decides for the whole engine.",
            ),
        ),
        first_step="One average for each piston, then the highest of them, then the table.",
        lesson="Exactly on a printed boundary both grades are named: ask what the source says there.",
    ),
    Exercise(
        name="microinches",
        topic="skim",
        title="Microinches",
        question="A drawing wants Ra {value}. What is that in micrometres?",
        working=SURFACE_ROUGHNESS,
        result="micrometre",
        numbers=lambda rng: {"value": pick(rng, 16, 63, 1, "µin")},
        fixed={"parameter": "Ra"},
        tolerance="2 %",
        in_its_unit=True,
        mistakes=(
            Mistake(
                "the factor upside down",
                lambda r: r["micrometre"] / 0.0254**2,
                "A microinch is much smaller than a micrometre: 0.0254 µm.",
            ),
            Mistake(
                "took a microinch for a thousandth of a micrometre",
                lambda r: r["micrometre"] / 25.4,
                "An inch is 25.4 mm, so a microinch is 25.4 thousandths of a micrometre.",
            ),
        ),
        first_step="1 in is 25.4 mm, so 1 µin is 0.0254 µm.",
        lesson="30 µin is 0.76 µm, for the same parameter. Ra never turns into Rz.",
    ),
]
