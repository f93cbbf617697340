"""Guided lessons about torque, stretch, angle and yield.  All numbers are of the model bolt."""

from __future__ import annotations

from shoplib.core.units import show_number
from shoplib.core.working import Result
from shoplib.teaching.choice import Item, Option
from shoplib.teaching.guided import GuidedLesson, Scene
from shoplib.teaching.known import Known
from shoplib.topics.angle.exercises import STAGES
from shoplib.topics.angle.guesses import GUESSES
from shoplib.topics.angle.staged_tightening import STAGED_TIGHTENING as STAGED

GUESS = {g.name: g for g in GUESSES}
ONE_TURN = 1.5  # mm, the pitch of the model bolt


def _bolt(stages: str, **more: str) -> Result:
    return STAGED({**STAGES, **more, "stages": stages})


def _kN(F: float) -> str:
    return f"{show_number(F / 1e3, 3)} kN"


def parts_of_the_torque() -> Known:
    """The torque is known, its parts are not."""
    asked = ("lost in the thread", "lost under the head", "stretches the bolt")
    return Known((("torque on the wrench", 1.0, "40 N·m"), *((what, None, "") for what in asked)))


def a_full_turn() -> Known:
    """A full turn is known, a quarter turn is asked."""
    return Known((("travel of a full turn, 360°", 1.0, f"{ONE_TURN} mm"), ("travel of 90°", None, "")))


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
    longer = 1e3 * _bolt("40 N·m; +180°")["elongation"][-1]
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
    task="drag the friction down to 0.08. The torque stays at 40 N·m. Then try the short bolt, and the hole "
    "that is too short.",
    reasons=Item(
        "Why does the oiled bolt clamp as it does?",
        (
            Option("Friction takes less of the torque, so more of it stretches the bolt."),
            Option("The wrench is set to the same torque, so the clamp load is the same.", "torque_is_tightness",
                   "The wrench measures how hard the bolt turns. Friction and stretch both make it hard to turn."),
            Option("The oiled thread slips, so it cannot hold the load.", "oil_slips",
                   "A thread at this slope holds by itself, oiled or dry. Less friction means more stretch."),
            Option("The click means that the joint is clamped as designed.", "click_is_enough",
                   "The click means only that the torque was reached."),
        ),
    ),
    meaning="The wrench measures how hard the bolt is to turn. The joint needs the bolt to pull. Friction separates "
    "the two, and the wrench cannot measure friction.",
    checks=(
        Item(
            "A rusty bolt and a clean, oiled bolt both click at 60 N·m. Which one has the larger clamp load?",
            (
                Option("the clean, oiled bolt"),
                Option("both the same", "torque_is_tightness", "The rust takes torque that does not stretch the bolt."),
                Option("the rusty bolt", "oil_slips", "Rust takes torque. What rust takes does not stretch the bolt."),
            ),
            "Less friction, more stretch, more clamp load.",
        ),
        Item(
            "A bolt reaches the bottom of its blind hole before its head touches the part. The wrench clicks at "
            "40 N·m. How large is the clamp load?",
            (
                Option("none at all"),
                Option("as large as for any bolt at 40 N·m", "click_is_enough",
                       "The bolt pushes on the bottom of the hole. Nothing pulls the head onto the part."),
                Option("about half", "torque_is_tightness",
                       "Nothing pulls the head onto the part, so nothing clamps, whatever the torque is."),
            ),
            "The torque is real, but the bolt pushes against the bottom of the hole instead of pulling on the part.",
        ),
    ),
)  # fmt: skip

SHARES = GuidedLesson(
    name="where_the_torque_goes",
    objective=2,
    title="Where the torque goes",
    goal="Most of the torque is lost to friction. About one seventh of it stretches the bolt.",
    guess=GUESS["guess_share_that_stretches"],
    scene=parts_of_the_torque,
    explore=Scene("where_the_torque_goes", {"friction": 0.12}),
    task="drag the friction. See which of the three parts pays when friction rises.",
    reasons=Item(
        "Why is the part that stretches the bolt so small?",
        (
            Option("Friction in the thread and friction under the head each take more than the stretch."),
            Option("The torque goes into the bolt, so nearly all of it stretches the bolt.", "all_to_stretch",
                   "That would be true without friction. A bolt without friction would also loosen by itself."),
            Option("Only the thread has friction. The head just rests on the part.", "oil_no_matter",
                   "The head slides under the full clamp load. It takes about half of the torque."),
        ),
    ),
    meaning="The part that stretches the bolt is the smallest of the three. When friction rises a little, the small "
    "part pays. So one torque gives many different clamp loads.",
    checks=(
        Item(
            "Only the face under the head is oiled; the thread stays dry. The torque is the same. What happens?",
            (
                Option("The clamp load rises."),
                Option("Nothing, because the thread does the work.", "oil_no_matter",
                       "The head takes about half of the torque. Oil there leaves more for the stretch."),
                Option("The clamp load falls.", "oil_slips",
                       "Less friction under the head leaves more torque for the stretch."),
            ),
            "Less is lost under the head, so more is left for the stretch.",
        ),
        Item(
            "Somebody measures 40 N·m at a bolt and says: all of that pulls on the joint. What do you answer?",
            (
                Option("Most of it is friction; about one seventh stretches the bolt."),
                Option("That is right, the bolt takes all of it.", "all_to_stretch",
                       "Thread and head take most of the torque."),
                Option("Half of it: the thread takes the other half.", "all_to_stretch",
                       "The head takes about half, and the thread most of the rest."),
            ),
            "At a friction of 0.12 about 15 % stretches this bolt.",
        ),
    ),
)  # fmt: skip

RAMP = GuidedLesson(
    name="angle_is_travel",
    objective=3,
    title="An angle is a distance",
    goal="90° is a quarter of the pitch. It has no fixed number of N·m.",
    guess=GUESS["guess_travel_of_a_quarter_turn"],
    scene=a_full_turn,
    explore=Scene("ramp", {"angle": 0}),
    task="drag the angle to 90°, then change the pitch.",
    reasons=Item(
        "What decides how far the thread travels?",
        (
            Option("The pitch, and which part of a full turn the angle is."),
            Option("The torque that the angle needs.", "angle_is_torque",
                   "The thread is a ramp. Its travel is the same whether it turns easily or hard."),
            Option("The friction: a slippery bolt travels further.", "oil_no_matter",
                   "An angle of 90° is 90° with oil or without."),
            Option("The length of the bolt.", "length_no_matter",
                   "The length decides what the travel does to the load, not how far the thread travels."),
        ),
    ),
    meaning="Travel = pitch × angle ÷ 360°. What torque is 90 degrees? There is no such number. The torque depends "
    "on the stiffness of bolt and joint, on the pitch and on the friction.",
    checks=(
        Item(
            "A bolt has a pitch of 2 mm. It is turned a further 180°. How far does the thread travel?",
            (
                Option("1 mm"),
                Option("2 mm", "", "That is a full turn. 180° is half a turn."),
                Option("0.5 mm", "", "That is a quarter turn. 180° is half a turn."),
                Option("It depends on the torque.", "angle_is_torque", "The travel depends on pitch and angle only."),
            ),
            "2 mm × 180° ÷ 360° = 1 mm.",
        ),
        Item(
            "The angle gauge is broken. Somebody asks how many N·m are 90°. What do you answer?",
            (
                Option("No number: get a wrench or a disc that measures the angle."),
                Option("About 50 N·m on an M10.", "angle_is_torque",
                       "Dry and oiled bolts need very different torques for the same angle."),
                Option("Look at the torque of the last engine.", "angle_is_torque",
                       "Another friction needs another torque for the same angle."),
            ),
            "The angle is the instruction.",
        ),
    ),
)  # fmt: skip

TWO = GuidedLesson(
    name="torque_then_angle",
    objective=4,
    title="Why torque, then angle",
    goal="The angle adds the same clamp load to every bolt. So it shrinks the scatter from friction, but keeps some.",
    guess=GUESS["guess_spread_after_the_angle"],
    scene=two_at_the_snug_torque,
    explore=Scene("two_frictions", {"angle": 0}),
    task="drag the angle to 60°, then on to 180°. Read the ratio of the two bolts.",
    reasons=Item(
        "Why does the ratio change as it does?",
        (
            Option("Both bolts get the same travel and gain the same load, but they start from different loads."),
            Option("An angle has nothing to do with friction, so the difference is gone.", "angle_cures_all",
                   "The difference from the snug torque is still there. The angle adds the same to both."),
            Option("The slippery bolt gains more, so the difference stays in proportion.", "torque_is_tightness",
                   "The travel is the same for both, so the gain is the same."),
            Option("After an angle every bolt has yielded and all loads are equal.", "angle_means_yield",
                   "60° leaves this long bolt elastic. Past yield the ratio is still about 1.1."),
        ),
    ),
    meaning="An angle makes the scatter smaller; it does not remove it. The start still differs. Past yield, the dry "
    "bolt is twisted harder, so it yields at a lower pull. The lubricant matters with an angle too.",
    checks=(
        Item(
            "One maker gives 30 N·m + 90°, another 80 N·m + 90° for the same elastic bolt. Which leaves less scatter?",
            (
                Option("30 N·m + 90°: the scatter comes from the snug torque."),
                Option("80 N·m + 90°: more torque is safer.", "torque_is_tightness",
                       "Friction scatters the torque part. A large torque part scatters more."),
                Option("Both the same: the angle decides.", "angle_cures_all",
                       "The scatter of the snug torque is still in the sum."),
            ),
            "A low snug torque leaves little for friction to scatter.",
        ),
        Item(
            "The instructions say: oil the threads, 40 N·m, then 90°. May the oil be left out, because of the angle?",
            (
                Option("No. The snug torque and the yield in twist depend on the oil."),
                Option("Yes. With an angle friction does not matter.", "oil_no_matter",
                       "Friction still decides the load at the snug torque, and the twist past yield."),
                Option("Yes, if the angle is a little larger.", "angle_cures_all",
                       "No angle replaces the oil. Follow the instructions."),
            ),
            "The instructions name the lubricant for a reason.",
        ),
    ),
)  # fmt: skip

FURTHER = GuidedLesson(
    name="another_quarter_turn",
    objective=5,
    title="Past yield: more length, not more load",
    goal="Past yield an angle adds length, not clamp load. More turns end in a broken bolt.",
    guess=GUESS["guess_another_quarter_turn"],
    scene=after_the_first_quarter,
    explore=Scene("how_far", {"angle": 90}),
    task="drag from 90° to 180°, and on until it breaks. Watch the load and the length.",
    reasons=Item(
        "Why does the second 90° act as it does?",
        (
            Option("Past yield the bolt gets longer, but its load hardly rises."),
            Option("Each turn adds the same clamp load, as the first did.", "more_turns",
                   "That is true only while the bolt is elastic."),
            Option("A bolt past yield has lost its strength.", "angle_means_yield",
                   "It keeps its load and gains a little. Only past its highest load does the load fall."),
        ),
    ),
    meaning="Up to yield the bolt is a spring. Past yield it gets longer but hardly pulls harder. At its highest load "
    "it begins to neck: it gets thinner in one place. From there the load falls until the bolt breaks.",
    checks=(
        Item(
            "During the final angle the bolt turns easier than before. What do you do?",
            (
                Option("Stop. Record it and replace the bolt."),
                Option("Turn a little further to make up for it.", "more_turns",
                       "It may be necking. Turning further lowers the load."),
                Option("Go on to the angle: the angle decides.", "angle_cures_all",
                       "A torque that falls means a bolt or a thread that fails."),
            ),
            "A torque that falls during the angle is a warning: bolt or thread gives way.",
        ),
        Item(
            "The same 90° is given to a long bolt and to a short bolt of the same thread. Which yields first?",
            (
                Option("the short bolt"),
                Option("both at the same angle", "length_no_matter",
                       "The same travel is a larger part of a short bolt's length."),
                Option("the long bolt", "length_no_matter",
                       "A long bolt shares the travel over more length, so each millimetre stretches less."),
            ),
            "The same travel on less length is more strain.",
        ),
    ),
)  # fmt: skip

STAYS = GuidedLesson(
    name="longer_for_good",
    objective=5,
    title="Loosened again: what stays",
    goal="A bolt past yield springs back only in part. What stays is permanent.",
    guess=GUESS["guess_longer_for_good"],
    scene=longer_while_tight,
    explore=Scene("how_far", {"angle": 180}),
    task="choose “loosen it”. Then try 60°, and 300°.",
    reasons=Item(
        "Why does the bolt stay as long as it does?",
        (
            Option("The elastic part springs back; the part past yield stays."),
            Option("Steel always springs back.", "springs_back", "Only its elastic part does."),
            Option("Once it has yielded, it does not spring back at all.", "angle_means_yield",
                   "A yielded bolt is still a spring: the elastic part springs back."),
        ),
    ),
    meaning="The bolt returns along a line parallel to the first one. What stays is the permanent set. Only a rule "
    "with a source can allow its re-use, for example a maximum length.",
    checks=(
        Item(
            "Two bolts of one kind: A had 40 N·m + 60° and stayed elastic, B had 40 N·m + 180°. Both are loosened.",
            (
                Option("A has its old length, B is longer."),
                Option("Both are longer, because both had an angle.", "angle_means_yield",
                       "60° left this bolt elastic. An angle is a distance, not a yield."),
                Option("Both have their old length.", "springs_back", "B went past yield and keeps part of it."),
            ),
            "Only what went past yield stays.",
        ),
        Item(
            "A used stretch bolt measures as long as a new one. May it be used again?",
            (
                Option("Only if a rule with a source for this bolt allows it."),
                Option("Yes, it sprang back completely.", "springs_back",
                       "Its length alone proves little. The instructions may forbid re-use at any length."),
                Option("Yes, if it is tightened with less angle.", "more_turns",
                       "The angle is the maker's. It is not yours to change."),
            ),
            "Without a rule with a source, fit a new bolt.",
        ),
    ),
)  # fmt: skip

SETTLES = GuidedLesson(
    name="load_settles",
    objective=7,
    title="Does a bolt stay at its load?",
    goal="A tight bolt loses load when its surfaces settle. A short bolt loses most.",
    guess=GUESS["guess_settled"],
    scene=before_it_settles,
    explore=Scene("settling", {"by": 0.0}),
    task="drag the settling to 0.02 mm. Then choose the short bolt.",
    reasons=Item(
        "Why does the clamp load change although nobody turned the bolt?",
        (
            Option("The surfaces flatten, so part of the stretch is gone."),
            Option("It does not change: what is tight stays tight.", "load_stays",
                   "Rough spots, paint and gaskets give way under load. The bolt is then stretched less."),
            Option("The bolt gets softer with every warm-up.", "springs_back",
                   "The steel keeps its stiffness. It is stretched less, because the surfaces settled."),
        ),
    ),
    meaning="A clamp load is a stretch. When paint, dirt or a gasket settles, part of the stretch is gone. Clean faces "
    "and long bolts keep their load. Tighten again only if the instructions say so.",
    checks=(
        Item(
            "Paint was left under the head of a bolt. It clicked at the right torque. What happens in service?",
            (
                Option("The paint creeps, and the bolt loses clamp load."),
                Option("Nothing: the click was right.", "load_stays", "The paint gives way later, under the load."),
                Option("The paint holds the bolt, so it cannot loosen.", "load_stays",
                       "The paint is squeezed out. The stretch goes with it."),
            ),
            "Settling takes stretch away.",
        ),
        Item(
            "A short bolt and a long bolt hold the same load. Under both, the surfaces settle by 0.02 mm. Which loses "
            "more?",
            (
                Option("the short one"),
                Option("both the same", "length_no_matter",
                       "The short bolt is stretched less for the same load, so 0.02 mm is a larger part of it."),
                Option("neither", "load_stays", "Both lose. The short one loses more."),
            ),
            "The short bolt has less stretch to lose.",
        ),
    ),
)  # fmt: skip

GUIDED = [CLICK, SHARES, RAMP, TWO, FURTHER, STAYS, SETTLES]
