"""Fasteners and stripping down: two pitches, left hand, wet holes, re-use, reach, and the order of loosening."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from shoplib.core.working import Result
from shoplib.teaching.exercise import Exercise, Mistake, choose_one, draw_value, rerun
from shoplib.topics.fasteners.bolt_reach import BOLT_REACH
from shoplib.topics.fasteners.bolt_reuse import BOLT_REUSE
from shoplib.topics.fasteners.fastener_log import FASTENER_LOG

OUTCOMES = ("pass", "fail", "undecided", "no limit given")


NOTES = "bench notes, page 14"


PITCHES = (("M8x1", "1 mm"), ("M8x1.25", "1.25 mm"), ("M10x1.25", "1.25 mm"), ("M10x1.5", "1.5 mm"),
           ("M12x1.25", "1.25 mm"), ("M12x1.75", "1.75 mm"))  # fmt: skip


def _bolt(**typed: str) -> dict[str, str]:
    """A bolt with all its data; what the exercise asks about replaces a part of it."""
    known = {
        "name": "4", "x": "0 mm", "y": "0 mm", "thread": "M10x1.25", "pitch_bolt": "1.25 mm", "pitch_hole": "1.25 mm",
        "length": "110 mm", "hole": "through", "hand": "right", "use": "new", "lubricant": f"engine oil, {NOTES}",
        "lubricated": "thread", "dry": "yes", "chased": "yes",
    }  # fmt: skip
    return known | typed


def _pitches(rng: np.random.Generator) -> Mapping[str, Any]:
    thread, pitch = PITCHES[int(rng.integers(len(PITCHES)))]
    size = thread.partition("x")[0]
    other = next(p for t, p in PITCHES if t.partition("x")[0] == size and p != pitch)
    hole = choose_one(rng, pitch, other, "not gauged")
    told = "the hole was not gauged" if hole == "not gauged" else f"in the hole {hole}"
    row = _bolt(thread=thread, pitch_bolt=pitch, pitch_hole=hole)
    return {"thread": thread, "gauged": pitch, "told": told, "bolts": [row]}


def _left(rng: np.random.Generator) -> Mapping[str, Any]:
    thread, pitch = PITCHES[int(rng.integers(len(PITCHES)))]
    name = thread + choose_one(rng, " LH", " LH", "")
    return {"name": name, "bolts": [_bolt(thread=name, pitch_bolt=pitch, pitch_hole=pitch, hand="")]}


def _hole(rng: np.random.Generator) -> Mapping[str, Any]:
    name, kind = str(rng.integers(1, 9)), choose_one(rng, "blind", "blind", "through")
    state = choose_one(rng, "yes", "no", "not checked") if kind == "blind" else "not checked"
    told = {
        "yes": "was blown out through a hose, wiped, and the swab came out dry",
        "no": "has a few drops of coolant at the bottom",
        "not checked": "looks clean from above, but nobody has swabbed it or looked at the bottom",
    }[state]
    return {"name": name, "kind": kind, "told": told, "bolts": [_bolt(name=name, hole=kind, dry=state)]}


def _reuse(rng: np.random.Generator) -> Mapping[str, Any]:
    limit = float(choose_one(rng, 109.5, 110.0, 146.5, 147.0))
    tenths = [choose_one(rng, -4, -3, -2) for _ in range(3)] + [choose_one(rng, -1, -2, 2)]
    source = choose_one(rng, NOTES, NOTES, "")
    return {
        "measured": "; ".join(f"{limit + x / 10:.1f} mm" for x in tenths),
        "limit": f"{limit:.1f} mm",
        "limit_source": source,
        "told": f"the source is {source}" if source else "somebody remembers that number, but not where it comes from",
    }


def _margin(rng: np.random.Generator) -> Mapping[str, Any]:
    limit = float(choose_one(rng, 109.5, 110.0, 146.5, 147.0))
    over = [float(x) / 10 for x in rng.choice(np.arange(-9, 0), size=4, replace=False)]
    return {"measured": "; ".join(f"{limit + x:.1f} mm" for x in over), "limit": f"{limit:.1f} mm"}


def _parts(rng: np.random.Generator) -> str:
    """Washer, head and gasket."""
    parts = ((2.5, 4, 0.5), (90.2, 92.2, 0.4), (1.2, 1.5, 0.1))
    return "; ".join(draw_value(rng, low, high, step, "mm") for low, high, step in parts)


def _said(wrong: str, *where: str) -> Callable[[Result], str | None]:
    """The wrong word, where the right one is among ``where``."""
    return lambda r: wrong if str(r.outcome) in where else None


def _without(k: int) -> Callable[[Result], float]:
    """The clearance that comes out when one part of the stack is forgotten."""
    return lambda r: rerun(r, stack=_stack(r, k))["bottom_clearance"]


def _stack(result: Result, k: int) -> str:
    return "; ".join(x for n, x in enumerate(str(result.inputs.as_entered["stack"]).split("; ")) if n != k)


def _mm(x: float) -> str:
    return f"{1e3 * x:.10g} mm"


def _margin_solution(r: Result) -> str:
    longest, most = max(r.inputs.measured), r.inputs.limit
    return f"The longest bolt decides: {_mm(longest)}. Margin: {_mm(most)} − {_mm(longest)} = {_mm(r['margin'])}."


def _room_solution(r: Result) -> str:
    stack = " − ".join(_mm(x) for x in r.inputs.stack)
    reach, depth = r["reach"], r.inputs.hole_depth
    return (
        f"The bolt projects below the stack by {_mm(r.inputs.bolt_length)} − {stack} = {_mm(reach)}. "
        f"Clearance: {_mm(depth)} − {_mm(reach)} = {_mm(r['bottom_clearance'])}."
    )


def _pitch_solution(r: Result) -> str:
    told = {
        "fail": "Bolt and hole have different pitches. Stop, never force it: fail.",
        "undecided": "Only the bolt was gauged, so nothing is proved. Gauge the hole: until then undecided.",
        "pass": "Bolt and hole were gauged, and both have the same pitch: pass.",
    }
    return told[str(r.outcome)]


def _hand_solution(r: Result) -> str:
    if r["left_hand"]:
        return "LH is a left-hand thread: it tightens the other way round. It loosens clockwise."
    return "There is no LH in the name, so it is a right-hand thread. It loosens anticlockwise."


def _dry_solution(r: Result) -> str:
    if r.inputs.bolts[0]["hole"] == "through":
        return "Liquid in a through hole is pushed out at the other end. It does no harm: pass."
    told = {
        "fail": "In a blind hole liquid has no way out: the bolt cracks the casting. Stop: fail.",
        "undecided": "Nobody looked at the bottom of a blind hole. Until somebody does it is undecided.",
        "pass": "Somebody looked, and the blind hole is dry: pass.",
    }
    return told[str(r.outcome)]


def _reuse_solution(r: Result) -> str:
    longest, most = max(r.inputs.measured), r.inputs.limit
    told = f"The longest bolt has {_mm(longest)}; at most {_mm(most)} is allowed. "
    ends = {
        "fail": "It is too long, so the set is a fail.",
        "pass": "It is within a limit that has a source, so the set is a pass.",
        "no limit given": "It is within, but the number has no source. Write down: no limit given.",
    }
    return told + ends[str(r.outcome)]


EXERCISES = (
    Exercise(
        name="two_pitches",
        topic="fasteners",
        title="The bolt starts by hand",
        question="A new bolt {thread} starts in its hole by hand. The pitch gauge says {gauged} on the bolt; {told}. "
        "Everything else is known and good. What do you write down?",
        working=FASTENER_LOG,
        result="outcome",
        numbers=_pitches,
        tolerance="1 %",
        solution=_pitch_solution,
        choices=OUTCOMES,
        mistakes=(
            Mistake(
                "trusted the diameter",
                _said("pass", "fail"),
                "Two pitches of the same diameter start in each other's holes, for a turn or two.",
            ),
            Mistake(
                "took an unmeasured hole as good",
                _said("pass", "undecided"),
                "Nobody gauged the hole. A missing reading is not a good reading.",
            ),
            Mistake(
                "rejected what nobody had measured",
                _said("fail", "undecided"),
                "There is no wrong reading; there is no reading at all. That is undecided. Gauge the hole.",
            ),
            Mistake(
                "called two readings that agree undecided",
                _said("undecided", "pass"),
                "Bolt and hole were both gauged, and they agree.",
            ),
        ),
        first_step="Compare the two gauge readings, if there are two.",
        lesson="Check the thread pitch of the new bolt, the old bolt and the hole with a pitch gauge. Different: "
        "stop, never force it. Not gauged: undecided.",
    ),
    Exercise(
        name="which_way_is_loose",
        topic="fasteners",
        title="Which way loosens it",
        question="A bolt in a hub is marked {name}. You look at its head. Which way does the wrench turn to loosen it?",
        working=FASTENER_LOG,
        result=("kinds", 0, "loosens"),
        numbers=_left,
        tolerance="1 %",
        solution=_hand_solution,
        choices=("clockwise", "anticlockwise"),
        mistakes=(
            Mistake(
                "turned it like every other bolt",
                lambda r: "anticlockwise" if r["left_hand"] else None,
                "LH means a left-hand thread: that way the bolt gets tighter until it breaks.",
            ),
            Mistake(
                "took a right-hand bolt as left-hand",
                lambda r: None if r["left_hand"] else "clockwise",
                "There is no LH in the name: it is a right-hand thread.",
            ),
        ),
        first_step="Is there an LH in the name of the thread?",
        lesson="A right-hand thread loosens anticlockwise. LH loosens clockwise: mark it on the map before you put "
        "a bar on it.",
    ),
    Exercise(
        name="is_the_hole_dry",
        topic="fasteners",
        title="Is the hole dry?",
        question="Hole {name} is a {kind} hole; it {told}. Everything else is known and good. What do you write down?",
        working=FASTENER_LOG,
        result="outcome",
        numbers=_hole,
        tolerance="1 %",
        solution=_dry_solution,
        choices=OUTCOMES,
        mistakes=(
            Mistake(
                "thought a few drops do no harm",
                _said("pass", "fail"),
                "Liquid cannot be compressed: the bolt pushes it like a piston and cracks the casting.",
            ),
            Mistake(
                "took clean as dry", _said("pass", "undecided"), "Nobody looked. A blind hole must be known to be dry."
            ),
            Mistake(
                "applied the rule for blind holes to a through hole",
                lambda r: "undecided" if r.inputs.bolts[0]["hole"] == "through" else None,
                "Liquid in a through hole is pushed out at the other end.",
            ),
        ),
        first_step="Can the liquid get out when the bolt goes in?",
        lesson="A blind hole is dry only when somebody has looked and says so. Wet: stop. Not looked at: undecided.",
    ),
    Exercise(
        name="used_again",
        topic="fasteners",
        title="Used again?",
        question="Four used bolts measure {measured} under the head. At most {limit} is allowed for re-use; {told}. "
        "What do you write down for the set?",
        working=BOLT_REUSE,
        result="outcome",
        fixed={"method": "max_length"},
        numbers=_reuse,
        tolerance="1 %",
        solution=_reuse_solution,
        choices=OUTCOMES,
        mistakes=(
            Mistake(
                "judged the set by its good bolts",
                _said("pass", "fail"),
                "Judge each bolt by itself. Look at the longest.",
            ),
            Mistake(
                "used a number without a source as a limit",
                _said("pass", "no limit given"),
                "A limit without a source passes nothing: look it up, or replace the bolts.",
            ),
            Mistake("rejected bolts that are within their limit", _said("fail", "pass"), "All four are shorter."),
        ),
        first_step="Does the limit have a source? If so, is every bolt within it?",
        lesson="Beyond the limit fails, with or without a source. Within the limit passes only with a source. "
        "Without a source, replace.",
    ),
    Exercise(
        name="smallest_margin",
        topic="fasteners",
        title="How much is left",
        question="Four used bolts measure {measured} under the head; at most {limit} is allowed. "
        "What is the smallest margin?",
        working=BOLT_REUSE,
        result="margin",
        fixed={"method": "max_length", "limit_source": NOTES},
        numbers=_margin,
        tolerance="0.01 mm",
        solution=_margin_solution,
        steps_solve=False,
        mistakes=(
            Mistake(
                "took the shortest bolt",
                lambda r: max(r["margins"]),
                "The longest bolt is nearest to the limit; it decides.",
            ),
            Mistake(
                "took the mean of the four",
                lambda r: sum(r["margins"]) / 4,
                "Do not average: one bolt that is too long is one too many.",
            ),
        ),
        first_step="Limit minus the longest bolt.",
        lesson="Limit minus reading, for the bolt that is nearest to the limit.",
    ),
    Exercise(
        name="room_below_the_bolt",
        topic="fasteners",
        title="Clearance below the bolt",
        question="A bolt of {bolt_length} under the head goes through washer, head and gasket: {stack}. "
        "The blind hole is {hole_depth} deep from the deck face. How much clearance is left below the bolt?",
        working=BOLT_REACH,
        result="bottom_clearance",
        fixed={"thread_length": "40 mm", "thread_start": "2 mm", "thread_depth": "30 mm"},
        numbers=lambda rng: {
            "bolt_length": draw_value(rng, 116, 122, 1, "mm"),
            "stack": _parts(rng),
            "hole_depth": draw_value(rng, 34, 42, 1, "mm"),
        },
        tolerance="0.05 mm",
        solution=_room_solution,
        steps_solve=False,
        mistakes=(
            Mistake("forgot the washer", _without(0), "The washer is clamped too, so the bolt sits higher."),
            Mistake("forgot the gasket", _without(2), "The compressed gasket is part of the stack."),
            Mistake(
                "gave how far the bolt reaches",
                lambda r: r["reach"],
                "That is how deep it goes in. Subtract it from the depth of the hole.",
            ),
        ),
        first_step="How far does the bolt project below the stack? How much deeper is the hole?",
        lesson="Clearance = depth of the hole − (bolt − washer − head − gasket). After a skim there is less.",
    ),
)
