"""Guided lessons about torque, stretch, angle and yield.  All numbers are of the model bolt."""

from __future__ import annotations

import math
from collections.abc import Callable

from shoplib.core.units import show_number
from shoplib.core.working import Result
from shoplib.teaching.choice import Item, Option
from shoplib.teaching.guided import Find, GuidedLesson, Scene
from shoplib.teaching.known import Known
from shoplib.topics.angle import cases, settling_cases
from shoplib.topics.angle.exercises import EXERCISES, STAGES
from shoplib.topics.angle.guesses import GUESSES
from shoplib.topics.angle.settling_exercise import LOSS_FROM_STRETCH
from shoplib.topics.angle.settling_lesson import SHANKS
from shoplib.topics.angle.staged_tightening import STAGED_TIGHTENING as STAGED
from shoplib.topics.angle.yield_exercise import DEGREES_PAST_YIELD
from shoplib.topics.preload import exercises as preload

ANGLE = {x.name: x for x in EXERCISES}
PRELOAD = {x.name: x for x in preload.EXERCISES}
GUESS = {g.name: g for g in GUESSES}


def _bolt(stages: str, **more: str) -> Result:
    return STAGED({**STAGES, **more, "stages": stages})


def _kN(F: float) -> str:
    return f"{show_number(F / 1e3, 3)} kN"


def parts_of_the_torque() -> Known:
    """The torque is known; how much of it stretches the bolt is asked.  That there are losses is not told."""
    return Known((("torque on the wrench", 1.0, "40 N·m"), ("the part that stretches the bolt", None, "")))


def dry_and_oiled_at_the_end() -> Known:
    """The torque of two bolts at the end of 90° is known, their travel is asked."""
    dry, oiled = (_bolt("40 N·m; +90°", mu_thread=mu, mu_head=mu)["torque"][1] for mu in ("0.16", "0.08"))
    return Known((("dry bolt, torque at the end of its 90°", 1.0, f"{dry:.0f} N·m"),
                  ("oiled bolt, torque at the end of its 90°", oiled / dry, f"{oiled:.0f} N·m"),
                  ("travel of the dry thread", None, ""), ("travel of the oiled thread", None, "")))  # fmt: skip


def two_at_the_snug_torque() -> Known:
    """The two bolts before the angle."""
    r = _bolt("40 N·m", mu_low="0.10", mu_high="0.16")
    low, high = r["preload_low"][0], r["preload_high"][0]
    return Known(
        (("dry bolt at 40 N·m", low / high, _kN(low)), ("slippery bolt at 40 N·m", 1.0, _kN(high)),
         ("the ratio of the two after a further 60°", None, "")), f"ratio at 40 N·m: {high / low:.2f}"
    )  # fmt: skip


def after_the_first_quarter() -> Known:
    """40 N·m and the first 90° are known."""
    snug, first = _bolt("40 N·m; +90°")["preload"]
    return Known((("clamp load at 40 N·m", snug / first, _kN(snug)), ("after 90°", 1.0, _kN(first)),
                  ("after another 90°", None, "")))  # fmt: skip


def longer_while_tight() -> Known:
    """The bolt's length while it is tight is known."""
    longer = 1e3 * _bolt("40 N·m; +180°")["elongation"][1]
    return Known((("longer than new, tight", 1.0, f"{longer:.2f} mm"), ("longer than new, loosened", None, "")))


def before_it_settles() -> Known:
    """The load just after tightening is known, what is lost is not."""
    return Known((("clamp load, just tightened", 1.0, "24.3 kN"), ("clamp load that is lost", None, "")),
                 "surfaces settle by 0.02 mm")  # fmt: skip


CLICK = GuidedLesson(
    name="same_click",
    objective=1,
    title="Torque, stretch and clamp load are three things",
    goal="The click tells me a torque. The clamp load comes from the stretch, and friction decides how much of it.",
    guess=GUESS["guess_oiled_clamp"],
    scene=Scene("same_click", {"friction": 0.16}),
    explore=Scene("same_click", {"friction": 0.16}),
    task="try the hole that is too shallow, and the short bolt. Then, in the deep hole, drag the friction down to "
    "0.08. The torque stays at 40 N·m.",
    reasons=Item(
        "Why does the oiled bolt clamp as it does?",
        (
            Option("More of the torque stretches it, because friction takes less."),
            Option("The wrench is set to the same torque, so the clamp load is the same.", "torque_is_tightness",
                   "The wrench measures how hard the bolt turns. Friction and stretch both make it hard to turn."),
            Option("The oiled thread slips, so it cannot hold the load.", "oil_slips",
                   "A thread at this slope holds by itself, oiled or dry. Less friction means more stretch."),
            Option("With oil the wrench clicks later, at a higher torque.", "torque_is_tightness",
                   "The wrench clicks at 40 N·m, with oil or without. The bolt just turns further until then."),
        ),
    ),
    explain=Item(
        "At the same click the oiled bolt is stretched more. Why?",
        (
            Option("Friction takes less of the torque, and the rest stretches it."),
            Option("The click comes later, at more than 40 N·m.", "torque_is_tightness",
                   "The wrench clicked at 40 N·m with both bolts."),
            Option("Oil lets each turn lift the thread further.", "", "The pitch decides the travel of a turn."),
            Option("Oil gets between the parts, so the bolt must be longer.", "oil_slips",
                   "The parts are as thick as before. The bolt is turned further."),
        ),
    ),
    meaning="The wrench measures how hard the bolt is to turn. The joint needs the bolt to pull. Friction separates "
    "the two, and the wrench cannot measure friction.",
    checks=(cases.CLICK, cases.BOTTOM, PRELOAD["clamp_at_half_the_friction"]),
    visit={"friction": (0.08,), "bolt": ("short, 40 mm",), "hole": ("too shallow",)},
    explain_at={"friction": 0.08, "bolt": "long, 120 mm", "hole": "deep enough"},
)  # fmt: skip

SHARES = GuidedLesson(
    name="where_the_torque_goes",
    objective=2,
    title="Where the torque goes",
    goal="Most of the torque is lost to friction. At a friction of 0.12, about one seventh stretches the bolt.",
    guess=GUESS["guess_share_that_stretches"],
    scene=parts_of_the_torque,
    explore=Scene("where_the_torque_goes", {"friction": 0.12}),
    task="drag the friction from 0.08 to 0.20. Watch all three parts of the torque.",
    reasons=Item(
        "Why is the part that stretches the bolt so small?",
        (
            Option("Friction acts in the thread and under the head, and takes most of it."),
            Option("The torque goes into the bolt, so nearly all of it stretches the bolt.", "all_to_stretch",
                   "That would be true without friction, but friction takes most of the torque."),
            Option("Only the thread has friction. The head just rests on the part.", "oil_no_matter",
                   "The head slides under the full clamp load. It takes about half of the torque."),
        ),
    ),
    explain=Item(
        "Both frictions rise from 0.12 to 0.20, and the clamp load falls. Why?",
        (
            Option("Friction takes more of the same torque, so less is left for the stretch."),
            Option("With more friction the wrench clicks at a lower torque.", "torque_is_tightness",
                   "The wrench clicks at 40 N·m each time."),
            Option("More friction makes the bolt stiffer, so it stretches less.", "",
                   "The steel keeps its stiffness."),
            Option("Only the part under the head grew; the thread takes what it took before.", "oil_no_matter",
                   "Compare both parts in the picture: each takes more than before."),
        ),
    ),
    meaning="The part that stretches the bolt is the smallest of the three. When friction rises a little, the small "
    "part pays. So one torque gives many different clamp loads.",
    checks=(cases.HEAD, cases.PARTS, PRELOAD["share_that_stretches"]),
    visit={"friction": (0.08, 0.2)},
    explain_at={"friction": 0.2},
)  # fmt: skip

RAMP = GuidedLesson(
    name="angle_is_travel",
    objective=3,
    title="What 90° does",
    goal="90° is a quarter of the pitch, with oil or without. It has no fixed number of N·m.",
    guess=Item(
        "Two bolts with the same thread are tightened to 40 N·m. Then both are turned a further 90°. The dry one is "
        "much harder to turn. Which thread travels further by its 90°?",
        (
            Option("both the same"),
            Option("the oiled one", "angle_is_torque",
                   "Turning is easier with oil, but 90° is 90°. A thread is a slope with a fixed rise for each turn."),
            Option("the dry one", "angle_is_torque",
                   "More torque means more friction here, not more travel. The thread is a slope with a fixed rise."),
        ),
    ),
    scene=dry_and_oiled_at_the_end,
    explore=Scene("ramp", {"angle": 90, "friction": 0.12}),
    task="drag the friction to both ends. What changes, and what does not? Then drag the angle to a full turn, and try "
    "the pitch of 1 mm.",
    reasons=Item(
        "What decides how far the thread travels?",
        (
            Option("The pitch decides, and which part of a full turn the angle is."),
            Option("The torque decides: a bolt that is harder to turn travels less.", "angle_is_torque",
                   "The thread is a ramp. Its travel is the same whether it turns easily or hard."),
            Option("The friction decides: a slippery bolt travels further.", "oil_no_matter",
                   "An angle of 90° is 90° with oil or without."),
            Option("The clamp load decides: the bolt that pulls harder has travelled further.", "torque_is_tightness",
                   "The bolts had different clamp loads at 40 N·m already. Both travel the same by their 90°."),
        ),
    ),
    explain=Item(
        "At 90° a friction of 0.08 shows 58 N·m, and a friction of 0.20 shows 105 N·m. The travel is 0.375 mm both "
        "times. Why?",
        (
            Option("The pitch alone fixes the travel of a turn."),
            Option("With oil the pitch counts more, and the smaller torque counts less, so it comes out equal.",
                   "angle_is_torque", "Then a friction in between would give another travel. Drag it: none does."),
            Option("Both have the same clamp load at the end, so their travel is the same.", "torque_is_tightness",
                   "At 40 N·m the oiled bolt already had more clamp load. The travel does not follow the load."),
            Option("Both are still elastic; past yield the dry one travels less.", "angle_means_yield",
                   "Drag to 180° or 360°: friction never changes the travel."),
        ),
    ),
    meaning="Travel = pitch × angle ÷ 360°. What torque is 90 degrees? There is no such number. The torque depends "
    "on the stiffness of bolt and joint, on the pitch and on the friction.",
    checks=(cases.FURTHER_TRAVEL, cases.NO_NUMBER, ANGLE["travel_of_an_angle"]),
    visit={"friction": (0.08, 0.2), "angle": (360,), "pitch": ("1 mm",)},
    explain_at={"friction": 0.2, "angle": 90, "pitch": "1.5 mm"},
)  # fmt: skip

TWO = GuidedLesson(
    name="torque_then_angle",
    objective=4,
    title="Why torque, then angle",
    goal="While elastic, dry and oiled bolts gain the same by an angle. Their difference stays, their ratio shrinks.",
    guess=GUESS["guess_spread_after_the_angle"],
    scene=two_at_the_snug_torque,
    explore=Scene("two_frictions", {"angle": 0}),
    task="drag the angle to 60°, then on to 180°. Read the ratio of the two bolts.",
    reasons=Item(
        "Why does the ratio change as it does?",
        (
            Option("Both bolts gain the same clamp load, but they start at different loads."),
            Option("An angle has nothing to do with friction, so the difference is gone.", "angle_cures_all",
                   "The difference from the snug torque is still there. While both are elastic, the angle adds the "
                   "same to both."),
            Option("The slippery bolt gains more, so the difference stays in proportion.", "torque_is_tightness",
                   "The travel is the same for both, so the gain is the same."),
            Option("After an angle every bolt has yielded and all loads are equal.", "angle_means_yield",
                   "After 60° this long bolt is elastic: it would spring back to its old length. Past yield the ratio "
                   "is still about 1.1."),
        ),
    ),
    explain=Item(
        "By the 60° the ratio falls from 1.50 to 1.26. Why not to 1?",
        (
            Option("The difference of the two at the snug torque is still there."),
            Option("The dry bolt gains more than the other, but does not catch up.", "torque_is_tightness",
                   "Subtract in the picture: both gain 17.9 kN by the 60°."),
            Option("An angle of 60° is too small: with 180° it becomes 1.", "angle_cures_all",
                   "With 180° it is still 1.09."),
            Option("The angle adds more to the slippery bolt.", "oil_no_matter",
                   "Subtract in the picture: both gain 17.9 kN by the 60°."),
        ),
    ),
    meaning="The difference in kN from the snug torque stays while both bolts are elastic; it counts for less, so the "
            "ratio shrinks. The dry bolt is twisted harder, so it yields at a lower pull. The lubricant matters with "
            "an angle too.",
    checks=(cases.SNUG, cases.STILL, ANGLE["spread_after_the_angle"]),
    visit={"angle": (60, 180)},
    explain_at={"angle": 60},
    terms="Yielded: the bolt stays longer than new after it is loosened.",
)  # fmt: skip


def long_at(degrees: int) -> Callable[[Result], bool]:
    """Whether the picture shows the long bolt, turned further by so much."""

    def found(r: Result) -> bool:
        turned = round(math.degrees(sum(stage.value for stage in r.plot_data["stages"][1:])))
        return bool(r.inputs.shank_length == SHANKS["long"] and turned == degrees)

    return found


def just_past_yield(r: Result) -> bool:
    """Whether the picture shows the short bolt past yield by less than 0.1 mm."""
    short = r.inputs.shank_length == SHANKS["short"]
    return bool(short and r["state"][-1] == "yielded" and r["plastic_elongation"][-1] < 1e-4)


FURTHER = GuidedLesson(
    name="another_quarter_turn",
    objective=5,
    title="Another quarter turn",
    goal="Past yield an angle adds length, not clamp load. More turns end in a broken bolt.",
    guess=GUESS["guess_another_quarter_turn"],
    scene=after_the_first_quarter,
    explore=Scene("how_far", {"angle": 90}, without=("then",)),
    task="drag from 90° to 180°, and on to 600°, where it breaks. Watch the load and the length. Then choose the short "
    "bolt: at what angle does it yield?",
    reasons=Item(
        "Why does the second 90° act as it does?",
        (
            Option("Past yield the bolt gets longer, but its load hardly rises."),
            Option("Each turn adds the same clamp load, as the first did.", "more_turns",
                   "That is true only while the bolt is elastic."),
            Option("A bolt past yield has lost its strength.", "angle_means_yield",
                   "It keeps its load and gains a little. Only past its highest load does the load fall."),
            Option("The thread travels less in the second quarter turn, because turning is harder.", "angle_is_torque",
                   "Each quarter turn is a quarter of the pitch, however hard it is."),
        ),
    ),
    explain=Item(
        "From 90° to 180° the clamp load rises by 1.5 kN only. Why?",
        (
            Option("Past yield the steel gets longer at almost the same pull."),
            Option("The thread travels less in the second quarter turn.", "angle_is_torque",
                   "It travels a quarter of the pitch each time. The bolt gets longer by all of it."),
            Option("Friction takes the second 90°.", "oil_no_matter",
                   "Friction takes torque, not travel. The bolt gets longer all the same."),
            Option("The parts give way at almost the same pull.", "",
                   "The parts stay springs. The picture shows that the bolt gets longer."),
        ),
    ),
    meaning="Up to yield the bolt is a spring. Past yield it gets longer but hardly pulls harder. At its highest load "
    "it begins to neck: it gets thinner in one place. From there the load falls until the bolt breaks.",
    checks=(cases.GIVES_WAY, cases.LENGTH, DEGREES_PAST_YIELD, ANGLE["clamp_that_an_angle_adds"]),
    visit={"bolt": ("short, 40 mm",)},
    find=(Find("the long bolt at 180°", long_at(180)), Find("the long bolt at 600°", long_at(600)),
          Find("the angle at which the short bolt is just past yield", just_past_yield)),
    explain_at={"angle": 180, "bolt": "long, 120 mm"},
    terms="Elastic: a loosened bolt springs back to its old length. Past yield: it springs back only in part.",
)  # fmt: skip

STAYS = GuidedLesson(
    name="longer_for_good",
    objective=5,
    title="Loosened again",
    goal="A bolt past yield springs back only in part. What stays is permanent.",
    guess=GUESS["guess_longer_for_good"],
    scene=longer_while_tight,
    explore=Scene("how_far", {"angle": 180}, without=("bolt",)),
    task="choose “loosen it”. Then try 60°, and 300°. Elastic means: it springs back to its old length.",
    reasons=Item(
        "What decides how much longer than new the loosened bolt is?",
        (
            Option("It springs back as far as it acted as a spring; the rest stays."),
            Option("Steel springs back when the load is gone.", "springs_back", "Only up to a certain stretch."),
            Option("Turned so far, a bolt has lost its spring. It keeps all of its stretch.", "angle_means_yield",
                   "It is still a spring: a part springs back."),
            Option("The stretch of the torque springs back; the stretch of the angle stays.", "angle_means_yield",
                   "Try 60°: there the stretch of the angle springs back too."),
        ),
    ),
    explain=Item(
        "Loosened after 60°, nothing stays. Loosened after 180°, 0.42 of 0.92 mm stays. Why?",
        (
            Option("After 60° all of the stretch was elastic, after 180° only a part of it."),
            Option("A part of every stretch stays, and after 60° it is too small to see.", "angle_means_yield",
                   "An elastic stretch springs back completely."),
            Option("After 180° it needs more time to spring back.", "springs_back",
                   "It springs back at once. What went past yield stays for good."),
            Option("Past yield a bolt is no spring any more.", "angle_means_yield",
                   "0.50 of the 0.92 mm sprang back, so it is still one."),
        ),
        "What sprang back is the clamp load divided by the stiffness of the bolt: 47.7 kN ÷ 95.4 kN/mm = 0.50 mm. For "
        "re-use the instructions give a largest length, or demand new bolts.",
    ),
    meaning="The bolt returns along a line parallel to the first one. What stays is the permanent set. Only a rule "
    "with a source can allow its re-use, for example a maximum length.",
    checks=(cases.STAYS_LONGER, cases.USED_AGAIN, ANGLE["longer_for_good"]),
    visit={"then": ("loosen it",), "angle": (60, 300)},
    explain_at={"then": "loosen it", "angle": 180},
)  # fmt: skip

SETTLES = GuidedLesson(
    name="load_settles",
    objective=7,
    title="Does a bolt stay at its load?",
    goal="A tight bolt loses load when its surfaces settle. For the same settling a short bolt loses more.",
    guess=GUESS["guess_settled"],
    scene=before_it_settles,
    explore=Scene("settling", {"by": 0.0}),
    task="drag the settling to 0.02 mm. Then choose the short bolt.",
    reasons=Item(
        "Why does the clamp load change although nobody turned the bolt?",
        (
            Option("Part of the stretch is gone: the surfaces flatten."),
            Option("It does not change: what is tight stays tight.", "load_stays",
                   "Rough spots, paint and gaskets give way under load. The bolt is then stretched less."),
            Option("Heat makes the bolt softer, a little with every warm-up.", "springs_back",
                   "The steel keeps its stiffness. It is stretched less, because the surfaces settled."),
        ),
    ),
    explain=Item(
        "When the surfaces settled, the short bolt lost more load than the long one. Why?",
        (
            Option("The same settling takes a larger part of its stretch."),
            Option("The short bolt had more clamp load, so it had more to lose.", "length_no_matter",
                   "Both had 24.3 kN."),
            Option("Rough spots give way further under a short bolt, because it is stiffer.", "length_no_matter",
                   "The surfaces settled by 0.02 mm under both."),
            Option("A short bolt gets warmer and softer.", "springs_back", "The steel keeps its stiffness."),
        ),
        "Bolt and parts are deformed together: 0.020 mm of 0.255 + 0.085 mm is 6 %. With the short bolt it is 0.020 "
        "mm of 0.084 + 0.028 mm, which is 18 %.",
    ),
    meaning="A clamp load is a stretch. When paint, dirt or a gasket settles, part of the stretch is gone. Clean faces "
    "settle less, and a long bolt loses less. Tighten again only if the instructions say so.",
    checks=(settling_cases.PAINT, settling_cases.LOSES, LOSS_FROM_STRETCH),
    visit={"by": (0.02,), "bolt": ("short, 40 mm",)},
    explain_at={"by": 0.02, "bolt": "short, 40 mm"},
)  # fmt: skip

GUIDED = [CLICK, SHARES, RAMP, TWO, FURTHER, STAYS, SETTLES]
