"""Timing, proving and stripping: teeth and gaps as degrees, dead centre, low cylinders, pressure hold, shear area."""

from __future__ import annotations

import math

from shoplib.core.working import Result
from shoplib.teaching.exercise import Exercise, Mistake, choose_one, draw_value
from shoplib.teaching.solution_text import entered, short
from shoplib.topics.timing.dead_centre import DEAD_CENTRE
from shoplib.topics.timing.degree_disc import DEGREE_DISC
from shoplib.topics.timing.timing_gap import TIMING_GAP
from shoplib.topics.timing.timing_mark import TIMING_MARK

DEGREE = math.pi / 180


def _teeth_solution(r: Result) -> str:
    count, teeth = entered(r, "tooth_count"), entered(r, "teeth")
    cam = 360 * teeth / count
    return f"Camshaft: 360 ÷ {count:g} × {teeth:g} = {short(cam)}°. Crankshaft: 2 × {short(cam)} = {short(2 * cam)}°."


def _gap_solution(r: Result) -> str:
    gap, length = entered(r, "gap"), entered(r, "lever_length")
    cam = gap / length * 57.3
    return f"Camshaft: {gap:g} ÷ {length:g} × 57.3 = {short(cam)}°. Crankshaft: 2 × {short(cam)} = {short(2 * cam)}°."


def _stops_solution(r: Result) -> str:
    before, after = entered(r, "stop_before"), entered(r, "stop_after")
    return f"Half the difference: ({after:g} − {before:g}) ÷ 2 = {short((after - before) / 2)}°."


def _disc_solution(r: Result) -> str:
    shift, radius = entered(r, "off_centre"), entered(r, "diameter") / 2
    return f"Shift over radius: {shift:g} ÷ {radius:g} × 57.3 = {short(shift / radius * 57.3, 3)}°."


EXERCISES = (
    Exercise(
        name="teeth_at_the_crank",
        topic="timing",
        title="A mark that is off",
        question="The mark on a camshaft sprocket with {tooth_count} teeth is off by {teeth} teeth. "
        "By how many degrees is the crankshaft off?",
        working=TIMING_MARK,
        result="other_angle",
        numbers=lambda rng: {
            "teeth": choose_one(rng, "0.5", "1", "1.5", "2"),
            "tooth_count": draw_value(rng, 34, 50, 2),
        },
        tolerance="1 %",
        solution=_teeth_solution,
        mistakes=(
            Mistake(
                "gave the angle of the camshaft",
                lambda r: r["angle"],
                "The crankshaft turns twice while the camshaft turns once.",
            ),
            Mistake(
                "halved instead of doubling",
                lambda r: r["angle"] / 2,
                "The camshaft is the slow one: its angle is half of the crankshaft's.",
            ),
            Mistake(
                "divided half a turn by the teeth",
                lambda r: r["angle"] * 4,
                "A whole turn, 360°, is divided by the teeth of the sprocket; then double it once.",
            ),
        ),
        first_step="How many degrees is one tooth? Divide 360° by the teeth. Then convert to the crankshaft.",
        lesson="Camshaft angle = 360° × teeth off ÷ teeth on the sprocket; the crankshaft has twice that.",
    ),
    Exercise(
        name="gap_under_the_bar",
        topic="timing",
        title="A gap under the locking bar",
        question="The locking bar in the end of the camshaft touches the head on one side. On the other side, "
        "{lever_length} along the bar, a leaf of {gap} fits under it. By how many degrees is the crankshaft off? "
        "(1 radian is 57.3°.)",
        working=TIMING_GAP,
        result="crank_angle",
        numbers=lambda rng: {
            "gap": draw_value(rng, 0.2, 1.2, 0.1, "mm"),
            "lever_length": draw_value(rng, 70, 140, 10, "mm"),
        },
        tolerance="1.5 %",
        solution=_gap_solution,
        mistakes=(
            Mistake(
                "gave the angle of the camshaft",
                lambda r: r["cam_angle"],
                "The bar is in the camshaft; the crankshaft has twice that angle.",
            ),
            Mistake(
                "left the quotient in radians",
                lambda r: r["crank_angle"] * DEGREE,
                "Gap over length is an angle in radians: multiply by 57.3 for degrees.",
            ),
            Mistake(
                "measured from the middle of the bar",
                lambda r: 2 * r["crank_angle"],
                "The tilt is the gap over the whole length from where the bar touches to the leaf.",
            ),
        ),
        first_step="The tilt is gap ÷ length, in radians; times 57.3 gives degrees at the camshaft.",
        lesson="A small tilt is gap over length, times 57.3°; the crankshaft has twice the camshaft's angle.",
    ),
    Exercise(
        name="middle_of_two_stops",
        topic="timing",
        title="Dead centre between two stops",
        question="With a stop in the cylinder, the disc reads {stop_before} before its zero when the piston touches, "
        "and {stop_after} after its zero from the other side. How far past the zero is dead centre?",
        working=DEAD_CENTRE,
        result="correction",
        numbers=lambda rng: {
            "stop_before": draw_value(rng, 18, 25, 0.5) + "°",
            "stop_after": draw_value(rng, 27, 34, 0.5) + "°",
        },
        tolerance="0.1°",
        solution=_stops_solution,
        mistakes=(
            Mistake(
                "took the whole difference",
                lambda r: 2 * r["correction"],
                "Dead centre is half way: halve the difference.",
            ),
            Mistake(
                "took the mean of the two readings",
                lambda r: r["half_angle"],
                "That is what both readings should be once the disc is set correctly. How far is the middle from zero?",
            ),
        ),
        first_step="Mark both stops on a line with zero between them. Where is the middle?",
        lesson="Dead centre is half way between the stops: half the difference of the readings from zero. Set "
        "the disc and take both readings again: both readings must be equal.",
    ),
    Exercise(
        name="disc_off_centre",
        topic="timing",
        title="A disc that is off centre",
        question="A degree disc, {diameter} in diameter, is {off_centre} off the centre of the shaft. "
        "By how many degrees can one reading be wrong? (1 radian is 57.3°.)",
        working=DEGREE_DISC,
        result="off_centre_error",
        numbers=lambda rng: {
            "diameter": draw_value(rng, 100, 180, 10, "mm"),
            "off_centre": choose_one(rng, "0.5 mm", "1 mm", "1.5 mm", "2 mm"),
        },
        tolerance="2 %",
        solution=_disc_solution,
        mistakes=(
            Mistake(
                "divided by the diameter",
                lambda r: r["off_centre_error"] / 2,
                "The reading is taken at the radius, half the diameter from the centre.",
            ),
            Mistake(
                "gave the error between two readings",
                lambda r: r["off_centre_pair"],
                "That is the worst difference between two readings; the error of one reading is half of it.",
            ),
        ),
        first_step="How many degrees is that shift, seen from the centre, at the radius of the scale?",
        lesson="Shift over radius, times 57.3°. The mean of two readings at opposite ends of a diameter is free of "
        "this error.",
    ),
)
