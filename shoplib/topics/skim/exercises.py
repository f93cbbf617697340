"""After the skim: ratio, gasket, timing, clearance, height and roughness."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from shoplib.core.working import Result
from shoplib.teaching.exercise import Exercise, Mistake, choose_one, draw_value, rerun
from shoplib.teaching.solution_text import entered, entered_list, short
from shoplib.topics.skim.cam_retard import CAM_RETARD
from shoplib.topics.skim.compression_ratio import COMPRESSION_RATIO
from shoplib.topics.skim.gasket_grade import GASKET_GRADE
from shoplib.topics.skim.skim_allowance import SKIM_ALLOWANCE
from shoplib.topics.skim.surface_roughness import SURFACE_ROUGHNESS
from shoplib.topics.skim.sweep_exercises import EXERCISES as SWEEP
from shoplib.topics.skim.valve_lash import VALVE_LASH
from shoplib.topics.skim.valve_to_piston_clearance import VALVE_TO_PISTON_CLEARANCE

GRADES = [
    {"name": "1", "low": "0.50 mm", "high": "0.60 mm"},
    {"name": "2", "low": "0.60 mm", "high": "0.70 mm"},
    {"name": "3", "low": "0.70 mm", "high": "0.80 mm"},
]


def _bore_area(r: Result) -> str:
    return f"{math.pi / 4 * (r.inputs.bore * 1e3) ** 2!r} mm2"


def _pistons(rng: np.random.Generator) -> dict[str, Any]:
    """Three pistons, each with a tilt of a few hundredths, one of them clearly the highest."""
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
    """Four heights and two cuts: together clearly within 0.40 mm or clearly beyond it."""
    while True:
        lost, cut, block = (int(rng.choice(n)) for n in (range(8, 26, 2), (10, 15, 20), (5, 10, 15)))
        if abs(lost + cut + block - 40) > 2:
            break
    heights = [f"{136 - (lost - more) / 100:.2f} mm" for more in (1, 0, 2, 1)]
    return {"lowest": heights[1], "heights": "; ".join(heights), "cut": f"0.{cut} mm", "block_cut": f"0.{block:02d} mm"}


def _grade_by(rule: str) -> Any:
    """The grade that another rule gives, where it is another grade."""

    def wrong(r: Result) -> str | None:
        found = str(rerun(r, rule=rule)["grade"])
        taken = {str(r["grade"])} | ({str(rerun(r, rule="max")["grade"])} if rule == "mean_of_all" else set())
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


def _lost(r: Result) -> float:
    """What head and block have lost in all, in millimetres."""
    before = entered(r, "new_height") - min(entered_list(r, "heights"))
    return before + entered(r, "cut") + entered(r, "block_cut")


def _cut_counted_twice(r: Result) -> str | None:
    """The wrong outcome; None where it is the right one.  A sum of exactly the limit is allowed."""
    twice = round(_lost(r) + entered(r, "cut"), 2)
    return "fail" if str(r.outcome) == "pass" and twice > 0.40 else None


def _together_solution(r: Result) -> str:
    new, low = entered(r, "new_height"), min(entered_list(r, "heights"))
    cut, block = entered(r, "cut"), entered(r, "block_cut")
    least, most = entered(r, "minimum_height"), entered(r, "combined_limit")
    word = "too much, so the cut is not allowed: fail." if str(r.outcome) == "fail" else "allowed too: pass."
    return (
        f"Head alone: {low:.2f} − {cut:.2f} = {low - cut:.2f} mm, at least {least:.2f} mm is needed: enough. Head and "
        f"block together: {new:.2f} − {low:.2f} + {cut:.2f} + {block:.2f} = {_lost(r):.2f} mm, at most {most:.2f} mm "
        f"is allowed. That is {word}"
    )


def _ratio_solution(r: Result) -> str:
    bore, stroke, ratio = entered(r, "bore"), entered(r, "stroke"), entered(r, "ratio")
    area, cut = entered(r, "chamber_opening_area"), entered(r, "head_skim")
    swept = math.pi / 4 * bore**2 * stroke
    before, removed = swept / (ratio - 1), area * cut
    after = before - removed
    return (
        f"Swept volume: π ÷ 4 × {bore:g}² × {stroke:g} = {short(swept)} mm³. Clearance volume before: "
        f"{short(swept)} ÷ ({ratio:g} − 1) = {short(before)} mm³. The cut takes {area:g} × {cut:g} = "
        f"{short(removed)} mm³, "
        f"so {short(before)} − {short(removed)} = {short(after)} mm³ are left. "
        f"Ratio: ({short(swept)} + {short(after)}) ÷ {short(after)} = {short((swept + after) / after)}."
    )


def _gasket_solution(r: Result) -> str:
    cut, area, hole = entered(r, "head_skim"), entered(r, "chamber_opening_area"), entered(r, "gasket_bore")
    removed, disc = cut * area, math.pi / 4 * hole**2
    return (
        f"The cut removes {area:g} × {cut:g} = {short(removed)} mm³. Area of the gasket's hole: π ÷ 4 × {hole:g}² = "
        f"{short(disc)} mm². {short(removed)} ÷ {short(disc)} = {short(removed / disc, 3)} mm."
    )


def _retard_solution(r: Result) -> str:
    cut, radius = entered(r, "head_skim"), entered(r, "sprocket_diameter") / 2
    cam = math.degrees(cut / radius)
    return f"Camshaft: {cut:g} ÷ {radius:g} × 57.3 = {short(cam)}°. Crankshaft: 2 × {short(cam)} = {short(2 * cam)}°."


def _valve_solution(r: Result) -> str:
    drop, clearance, angle = entered(r, "net_drop"), entered(r, "clearance"), entered(r, "valve_angle")
    cosine = math.cos(math.radians(angle))
    closed = drop * cosine
    return (
        f"cos {angle:g}° = {short(cosine)}. Along the valve the gap closes by {drop:g} × {short(cosine)} = "
        f"{short(closed)} mm. "
        f"{clearance:g} − {short(closed)} = {math.floor(1e3 * (clearance - closed)) / 1e3:g} mm."
    )


def _means(r: Result) -> list[tuple[float, float]]:
    return [(float(a.split()[0]), float(b.split()[0])) for a, b in r.inputs.as_entered["projections"]]


def _projection_solution(r: Result) -> str:
    pairs = _means(r)
    told = "; ".join(f"({a:.2f} + {b:.2f}) ÷ 2 = {short((a + b) / 2)} mm" for a, b in pairs)
    return f"One average per piston: {told}. The highest governs: {short(max((a + b) / 2 for a, b in pairs))} mm."


def _grade_solution(r: Result) -> str:
    return f"{_projection_solution(r)} In the table that is grade {r['grade']}."


def _microinch_solution(r: Result) -> str:
    value = entered(r, "value")
    return f"1 µin is 25.4 ÷ 1000 = 0.0254 µm. {value:g} × 0.0254 = {short(value * 0.0254)} µm."


def _lash_solution(r: Result) -> str:
    ratio, drop, lash = entered(r, "rocker_ratio"), entered(r, "net_drop"), entered(r, "lash")
    return (
        f"The rocker multiplies the drop: {ratio:g} × {drop:g} = {short(ratio * drop)} mm. "
        f"{lash:g} − {short(ratio * drop)} = {short(lash - ratio * drop)} mm."
    )


EXERCISES = [
    Exercise(
        name="together_or_alone",
        topic="skim",
        title="Two limits at once",
        question="The head was {new_height} high when new. Its lowest of four heights is {lowest} now; it needs a "
        "further cut of {cut}. The block has lost {block_cut}. The manual allows the head no less than "
        "{minimum_height}, and "
        "no more than {combined_limit} removed from head and block together. Is the cut allowed: pass or fail?",
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
        solution=_together_solution,
        mistakes=(
            Mistake(
                "looked only at the height of the head",
                lambda r: "pass" if str(r.outcome) == "fail" else None,
                "The height is enough. But add up what head and block have lost since they were new.",
            ),
            Mistake(
                "counted the cut twice",
                _cut_counted_twice,
                "The measured height is the height before the cut. Take the cut off once.",
            ),
        ),
        first_step="Height after the cut against its minimum; then what head and block have lost together.",
        lesson="Both limits count: the head can be high enough while head and block together have lost too much.",
    ),
    Exercise(
        name="ratio_after_a_cut",
        topic="skim",
        title="The ratio after a cut",
        question="Bore {bore}, stroke {stroke}, ratio {ratio}. The chamber's opening in the head face is "
        "{chamber_opening_area}; {head_skim} is skimmed off. What is the ratio now?",
        working=COMPRESSION_RATIO,
        result="ratio_after",
        numbers=lambda rng: {
            "bore": draw_value(rng, 82, 92, 2, "mm"),
            "stroke": draw_value(rng, 84, 96, 2, "mm"),
            "ratio": draw_value(rng, 16, 20, 0.5),
            "chamber_opening_area": draw_value(rng, 3200, 4000, 100, "mm²"),
            "head_skim": draw_value(rng, 0.20, 0.40, 0.05, "mm"),
        },
        tolerance="0.04",
        solution=_ratio_solution,
        mistakes=(
            Mistake(
                "used the area of the bore instead of the opening",
                lambda r: rerun(r, chamber_opening_area=_bore_area(r))["ratio_after"],
                "The cut removes the area of the chamber's opening, not of the whole bore, times its depth.",
            ),
            Mistake(
                "divided the swept volume alone by the clearance volume",
                _swept_alone,
                "The ratio is swept volume plus clearance volume, divided by the clearance volume.",
            ),
            Mistake(
                "added the cut to the clearance volume",
                _cut_added,
                "A cut makes the volume above the piston smaller, so the ratio rises.",
            ),
            Mistake(
                "left the ratio as it was",
                lambda r: r["ratio_before"],
                "With a chamber in the head the ratio changes; with a flat face it hardly does.",
            ),
        ),
        first_step="Swept volume, then clearance volume = swept ÷ (ratio − 1), less opening × cut.",
        lesson="The cut removes the area of the chamber's opening times its depth. The ratio rises, but less than "
        "over the whole bore.",
    ),
    Exercise(
        name="gasket_that_keeps_the_ratio",
        topic="skim",
        title="How much thicker a gasket would keep the ratio?",
        question="{head_skim} was skimmed off a head; the chamber's opening in its face is {chamber_opening_area}. The "
        "gasket's hole is {gasket_bore} across. (Area of a circle: π ÷ 4 × diameter × diameter.) How much thicker "
        "must the compressed gasket be to keep the ratio?",
        working=COMPRESSION_RATIO,
        result="gasket_gain_to_keep",
        numbers=lambda rng: {
            "head_skim": draw_value(rng, 0.20, 0.40, 0.05, "mm"),
            "chamber_opening_area": draw_value(rng, 3200, 4200, 100, "mm²"),
            "gasket_bore": draw_value(rng, 90, 96, 1, "mm"),  # 6 % and more above the area in the picture of the lesson
        },
        fixed={"bore": "84 mm", "stroke": "90 mm", "ratio": "18"},
        tolerance="2 %",
        solution=_gasket_solution,
        mistakes=(
            Mistake(
                "took equal thicknesses",
                lambda r: r.inputs.head_skim,
                "The gasket adds volume over its own hole, which is larger than the chamber's opening.",
            ),
            Mistake(
                "divided the areas the wrong way round",
                lambda r: r.inputs.head_skim**2 / r["gasket_gain_to_keep"],
                "The larger area needs the smaller thickness.",
            ),
            Mistake(
                "used the diameter instead of the radius",
                lambda r: r["gasket_gain_to_keep"] / 4,
                "The area of the hole is π/4 times its diameter squared.",
            ),
        ),
        first_step="Volume removed = opening × cut. The gasket adds it back over the area of its hole.",
        lesson="Equal thicknesses do not cancel: cut × opening = extra thickness × area of the gasket's hole.",
    ),
    Exercise(
        name="camshaft_after_a_cut",
        topic="skim",
        title="How late is the camshaft?",
        question="The head comes down by {head_skim} in all. The cam sprocket has a pitch diameter of "
        "{sprocket_diameter}; its tight run lies along the cylinders, without an idler. How late is the camshaft, in "
        "degrees of the crankshaft? (1 radian is 57.3°.)",
        working=CAM_RETARD,
        result="crank_angle",
        numbers=lambda rng: {
            "head_skim": draw_value(rng, 0.15, 0.50, 0.05, "mm"),
            "sprocket_diameter": draw_value(rng, 90, 140, 5, "mm"),
        },
        tolerance="2 %",
        solution=_retard_solution,
        mistakes=(
            Mistake(
                "gave camshaft degrees, or used the diameter instead of the radius",
                lambda r: r["cam_angle"],
                "The crankshaft turns twice as far as the camshaft, and the lever arm is the radius.",
            ),
            Mistake(
                "gave camshaft degrees and used the diameter instead of the radius",
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
        lesson="A shorter drive always makes the camshaft late. Re-timing removes the error with free, pin-timed "
        "sprockets; keyed sprockets keep it.",
    ),
    Exercise(
        name="clearance_along_the_valve",
        topic="skim",
        title="What clearance is left under the valve?",
        question="Before the cut the valve cleared the piston by {clearance}, measured along the valve. The "
        "valve is {valve_angle} from the cylinder axis; its pocket is square to the valve. The head "
        "comes down by {net_drop}. What is left along the valve?",
        working=VALVE_TO_PISTON_CLEARANCE,
        result="clearance_after",
        numbers=lambda rng: {
            "clearance": draw_value(rng, 1.2, 2.0, 0.1, "mm"),
            "net_drop": draw_value(rng, 0.30, 0.60, 0.05, "mm"),
            "valve_angle": choose_one(rng, "22°", "25°", "30°"),
        },
        fixed={"crown": "pocket square to the valve"},
        tolerance="0.01 mm",
        solution=_valve_solution,
        safe="below",  # a clearance that is not there
        mistakes=(
            Mistake(
                "used the whole drop",
                lambda r: r.inputs.clearance - r.inputs.net_drop,
                "Only the part of the drop along the valve closes this gap.",
            ),
            Mistake(
                "used the component across the valve",
                lambda r: r.inputs.clearance - r.inputs.net_drop * math.sin(r.inputs.valve_angle),
                "The component along the valve is the cosine of its angle.",
            ),
            Mistake(
                "added the drop",
                lambda r: r.inputs.clearance + r.inputs.net_drop * math.cos(r.inputs.valve_angle),
                "The head comes nearer to the piston.",
            ),
        ),
        first_step="The clearance along the valve closes by drop × cosine of the valve angle.",
        lesson="Over a pocket the clearance closes by drop × cos of the valve angle; over a flat crown by drop ÷ "
        "cos, which is more.",
    ),
    Exercise(
        name="projection_that_governs",
        topic="skim",
        title="Which projection governs?",
        question="Projections, two per piston: {p1}; {p2}; {p3}. The source says: average each piston, then take the "
        "highest. Which projection governs?",
        working=GASKET_GRADE,
        result="governing",
        numbers=_pistons,
        fixed={"grades": GRADES, "rule": "mean_then_max"},
        tolerance="0.004 mm",
        solution=_projection_solution,
        mistakes=(
            Mistake(
                "took the highest reading",
                lambda r: rerun(r, rule="max")["governing"],
                "The two readings of a piston differ because it tilts; average them first.",
            ),
            Mistake(
                "averaged the whole engine",
                lambda r: rerun(r, rule="mean_of_all")["governing"],
                "The highest piston decides, not the average one.",
            ),
        ),
        first_step="One average for each piston; then the highest of them.",
        lesson="Averaging removes each piston's tilt; the highest piston decides for the whole engine.",
    ),
    Exercise(
        name="grade_of_the_gasket",
        topic="skim",
        title="Which gasket?",
        question="Projections, two per piston: {p1}; {p2}; {p3}. Average each piston, then take the highest. "
        "Grade 1 is for 0.50 to 0.60 mm, grade 2 0.60 to 0.70 mm, grade 3 0.70 to 0.80 mm. Which grade?",
        working=GASKET_GRADE,
        result="grade",
        numbers=_pistons,
        fixed={"grades": GRADES, "rule": "mean_then_max"},
        choices=WORDS,
        tolerance="",
        solution=_grade_solution,
        mistakes=(
            Mistake(
                "took the highest reading",
                _grade_by("max"),
                "Average the two readings of each piston first: that removes its tilt.",
            ),
            Mistake(
                "averaged the whole engine",
                _grade_by("mean_of_all"),
                "The highest piston decides for the whole engine.",
            ),
        ),
        first_step="One average for each piston, then the highest of them, then the table.",
        lesson="Exactly on a printed boundary both grades are named: check what the source says there.",
    ),
    Exercise(
        name="microinches",
        topic="skim",
        title="Microinches",
        question="A drawing wants Ra {value}. What is that in micrometres? (1 in is 25.4 mm; µ is one millionth.)",
        working=SURFACE_ROUGHNESS,
        result="micrometre",
        numbers=lambda rng: {"value": draw_value(rng, 16, 63, 1, "µin")},
        fixed={"parameter": "Ra"},
        tolerance="2 %",
        solution=_microinch_solution,
        in_its_unit=True,
        mistakes=(
            Mistake(
                "used the factor the wrong way round",
                lambda r: r["micrometre"] / 0.0254**2,
                "A microinch is much smaller than a micrometre: 0.0254 µm.",
            ),
            Mistake(
                "took a microinch as a thousandth of a micrometre",
                lambda r: r["micrometre"] / 25.4,
                "An inch is 25.4 mm, so a microinch is 25.4 thousandths of a micrometre.",
            ),
        ),
        first_step="1 in is 25.4 mm, so 1 µin is 0.0254 µm.",
        lesson="30 µin is 0.76 µm, for the same parameter. Ra never turns into Rz.",
    ),
    Exercise(
        name="lash_after_a_cut",
        topic="skim",
        title="Valve lash after the cut",
        question="An engine with its camshaft in the block has pushrods parallel to the cylinders and rockers of ratio "
        "{rocker_ratio}. The lash at the valve was {lash}. The head comes down by {net_drop}; seats and valves stay as "
        "they are. What lash is left at the valve?",
        working=VALVE_LASH,
        result="lash_after",
        numbers=lambda rng: {
            "lash": choose_one(rng, "0.40 mm", "0.45 mm", "0.50 mm"),
            "net_drop": choose_one(rng, "0.10 mm", "0.15 mm", "0.20 mm"),
            "rocker_ratio": choose_one(rng, "1.4", "1.5", "1.6"),
        },
        fixed={"camshaft": "in the block", "tip_rise": "0 mm"},
        tolerance="0.01 mm",
        solution=_lash_solution,
        mistakes=(
            Mistake(
                "left out the ratio of the rocker",
                lambda r: r.inputs.lash - r.inputs.net_drop,
                "The drop acts on the pushrod. The rocker multiplies it by its ratio.",
            ),
            Mistake(
                "added the movement",
                lambda r: r.inputs.lash + r.inputs.rocker_ratio * r.inputs.net_drop,
                "The pushrod is now too long for the head: that takes lash away.",
            ),
        ),
        first_step="The pushrod comes higher in the head by the net drop; the rocker multiplies that by its ratio.",
        lesson="A cut takes lash from engines with pushrods. With the camshaft in the head it takes none.",
    ),
    *SWEEP,
]
