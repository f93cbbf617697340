"""The cases of the step Check of the lessons about torque, stretch, angle and yield.

In each version of a case another answer is right.
"""

from __future__ import annotations

from shoplib.teaching.choice import Cases, Item, Option

RUSTY, CLEAN, SAME = "the rusty bolt", "the clean, oiled bolt", "both the same"
RUST_TAKES = "Rust takes torque. What rust takes does not stretch the bolt."

CLICK = Cases(
    (
        Item(
            "A rusty bolt and a clean, oiled bolt both click at 60 N·m. Which one has the larger clamp load?",
            (Option(CLEAN), Option(SAME, "torque_is_tightness", RUST_TAKES), Option(RUSTY, "oil_slips", RUST_TAKES)),
            "Less friction, more stretch, more clamp load.",
        ),
        Item(
            "A rusty bolt and a clean, oiled bolt both click at 85 N·m. Which one is stretched less?",
            (
                Option(RUSTY),
                Option(SAME, "torque_is_tightness", RUST_TAKES),
                Option(CLEAN, "oil_slips", "Oil takes less torque, so more of it stretches the bolt."),
            ),
            "What rust takes does not stretch the bolt.",
        ),
        Item(
            "A rusty bolt and a clean, oiled bolt are both to have the same clamp load. Which one needs less torque?",
            (
                Option(CLEAN),
                Option(SAME, "torque_is_tightness", "Friction needs torque of its own, beside the stretch."),
                Option(RUSTY, "oil_slips", "Rust costs torque: more is lost to friction."),
            ),
            "Less friction needs less torque for the same stretch.",
        ),
        Item(
            "A rusty bolt and a clean, oiled bolt of one kind are stretched by the same 0.2 mm. Which one has the "
            "larger clamp load?",
            (
                Option(SAME),
                Option(CLEAN, "oil_no_matter", "Oil saves torque. The load follows the stretch, and that is the same."),
                Option(
                    RUSTY,
                    "torque_is_tightness",
                    "Rust needs more torque. The load follows the stretch, and that is the same.",
                ),
            ),
            "The stretch gives the clamp load. Friction decides how much torque it takes.",
        ),
        Item(
            "A rusty bolt and a clean, oiled bolt are both to have the same clamp load. Which one needs more torque?",
            (
                Option(RUSTY),
                Option(SAME, "torque_is_tightness", "Friction needs torque of its own, beside the stretch."),
                Option(CLEAN, "oil_slips", "Oil saves torque: less is lost to friction."),
            ),
            "More friction needs more torque for the same stretch.",
        ),
    )
)

BOTTOM = Cases(
    (
        Item(
            "A bolt reaches the bottom of its blind hole before its head touches the part. The wrench clicks at "
            "70 N·m. How large is the clamp load?",
            (
                Option("none at all"),
                Option("as large as for any bolt at 70 N·m", "click_is_enough",
                       "The bolt pushes on the bottom of the hole. Nothing pulls the head onto the part."),
                Option("about half", "torque_is_tightness",
                       "Nothing pulls the head onto the part, so nothing clamps, whatever the torque is."),
            ),
            "The torque is real, but the bolt pushes against the bottom of the hole instead of pulling on the part.",
        ),
        Item(
            "A long bolt and a short bolt of one thread have the same friction. Both click at 40 N·m. How large is the "
            "clamp load of the short bolt?",
            (
                Option("as large as that of the long bolt"),
                Option("larger than that of the long bolt", "length_no_matter",
                       "It stretches less, but the torque and the friction give both the same clamp load."),
                Option("smaller than that of the long bolt", "torque_is_tightness",
                       "A short bolt needs less stretch for the same clamp load."),
            ),
            "Torque and friction give the clamp load. The length decides only how much stretch that takes.",
        ),
        Item(
            "The wrench clicks at 40 N·m. Which of the three has it measured?",
            (
                Option("the torque"),
                Option("the clamp load", "click_is_enough", "It does not know the friction, so not the clamp load."),
                Option("the stretch of the bolt", "torque_is_tightness", "For the stretch you measure a length."),
            ),
            "Torque, stretch and clamp load are three things.",
        ),
    )
)  # fmt: skip

RISES, FALLS, NOTHING = "The clamp load rises.", "The clamp load falls.", "Nothing changes."
HEAD = Cases(
    (
        Item(
            "Only the face under the head is oiled; the thread stays dry. The torque is the same. What happens?",
            (
                Option(RISES),
                Option(NOTHING, "oil_no_matter",
                       "The head takes about half of the torque. Oil there leaves more for the stretch."),
                Option(FALLS, "oil_slips", "Less friction under the head leaves more torque for the stretch."),
            ),
            "Less is lost under the head, so more is left for the stretch.",
        ),
        Item(
            "Thread and head were oiled. On the next bolt the oil under the head was wiped off. The torque is the "
            "same. What happens?",
            (
                Option(FALLS),
                Option(NOTHING, "oil_no_matter", "The head takes about half of the torque, and dry it takes more."),
                Option(RISES, "oil_slips", "A dry head takes more torque, so less is left for the stretch."),
            ),
            "More is lost under the head, so less is left for the stretch.",
        ),
    )
)  # fmt: skip

UNDER_HEAD, IN_THREAD, STRETCH = "the part under the head", "the part in the thread", "the part that stretches the bolt"
PARTS = Cases(
    (
        Item(
            "The torque has three parts. Which one is the smallest on a usual bolt?",
            (
                Option(STRETCH),
                Option(IN_THREAD, "all_to_stretch", "The thread takes more than twice what stretches the bolt."),
                Option(UNDER_HEAD, "oil_no_matter", "The head slides under the full clamp load. It takes most."),
            ),
            "About one seventh stretches the bolt at a friction of 0.12.",
        ),
        Item(
            "The torque has three parts. Which one is the largest on a usual bolt?",
            (
                Option(UNDER_HEAD),
                Option(STRETCH, "all_to_stretch", "Only about one seventh of the torque stretches the bolt."),
                Option(IN_THREAD, "oil_no_matter", "The thread takes much, but the head turns on a larger radius."),
            ),
            "The head slides on a larger radius than the thread.",
        ),
        Item(
            "Friction rises in the thread and under the head. The torque stays the same. Which part gets smaller?",
            (
                Option(STRETCH),
                Option(UNDER_HEAD, "torque_is_tightness", "Friction rises there, so this part does not get smaller."),
                Option(IN_THREAD, "oil_no_matter", "Friction rises there, so this part does not get smaller."),
            ),
            "The sum is the torque. What friction takes is not left for the stretch.",
        ),
        Item(
            "A better lubricant is put in the thread only. The torque stays the same. Which part gets smaller?",
            (
                Option(IN_THREAD),
                Option(UNDER_HEAD, "oil_no_matter", "The clamp load rises, so the head takes more."),
                Option(STRETCH, "oil_slips", "The clamp load rises, so more of the torque stretches the bolt."),
            ),
            "Less is lost in the thread. Head and stretch share what is left.",
        ),
    )
)

FURTHER_TRAVEL = Cases(
    (
        Item(
            "Bolt A is dry and has a pitch of 2 mm. Bolt B is oiled and has a pitch of 1.25 mm. Both are turned a "
            "further 90°. Which one travels further?",
            (
                Option("bolt A"),
                Option("both the same", "angle_is_torque", "A quarter of the pitch: 0.5 mm and 0.31 mm."),
                Option("bolt B", "angle_is_torque", "Oil does not count. A fine thread travels less for each turn."),
            ),
            "A quarter of 2 mm is more than a quarter of 1.25 mm.",
        ),
        Item(
            "Bolt A has a pitch of 1.5 mm, is dry and is turned 100°. Bolt B has a pitch of 1.25 mm, is oiled and is "
            "turned 120°. Which one travels further?",
            (
                Option("both the same"),
                Option("bolt A", "angle_is_torque", "The friction does not count. 1.5 mm × 100° is 1.25 mm × 120°."),
                Option("bolt B", "oil_no_matter", "The oil does not count. 1.5 mm × 100° is 1.25 mm × 120°."),
            ),
            "Both travel 0.417 mm. The travel depends on pitch and angle only.",
        ),
        Item(
            "Bolt A is oiled, has a pitch of 1.5 mm and is turned 60°. Bolt B is dry, has a pitch of 1 mm and is "
            "turned 120°. Which one travels further?",
            (
                Option("bolt B"),
                Option("both the same", "", "1.5 mm × 60° ÷ 360° is 0.25 mm, 1 mm × 120° ÷ 360° is 0.33 mm."),
                Option("bolt A", "angle_is_torque", "Pitch and angle both count: 0.25 mm against 0.33 mm."),
            ),
            "0.25 mm against 0.33 mm.",
        ),
    )
)  # fmt: skip

NO_NUMBER = Cases(
    (
        Item(
            "On dry bolts the wrench showed 95 N·m at the end of the 90°. The next bolts are oiled and get 90° too. "
            "What do they show at the end?",
            (
                Option("less than 95 N·m, and the travel is the same"),
                Option("less than 95 N·m, and the travel is larger", "angle_is_torque",
                       "90° is a quarter of the pitch, with oil or without."),
                Option("95 N·m, and the travel is the same", "angle_is_torque",
                       "The angle fixes the travel. The torque follows the friction."),
                Option("95 N·m, and the travel is larger", "torque_is_tightness",
                       "The angle fixes the travel. The torque follows the friction."),
            ),
            "The angle fixes the travel, not the torque.",
        ),
        Item(
            "On your bolts the wrench showed about 75 N·m at the end of the 90°. For the next bolts, somebody sets "
            "his wrench to 75 N·m instead of turning 90°. What does he get?",
            (
                Option("A different angle from bolt to bolt."),
                Option("About 90° at each bolt.", "angle_is_torque",
                       "A slippery bolt goes further before 75 N·m, a dry one stops earlier."),
                Option("The same clamp load at each bolt.", "torque_is_tightness",
                       "Friction takes another part of the 75 N·m at each bolt."),
            ),
            "A torque does not say how far the thread goes.",
        ),
        Item(
            "A dry and an oiled bolt were tightened to 40 N·m. Now both are turned until the wrench shows 50 N·m, and "
            "stay elastic. Which one turns further?",
            (
                Option("the oiled bolt"),
                Option("both the same", "angle_is_torque",
                       "10 N·m are no angle. With less friction they turn the bolt further."),
                Option("the dry bolt", "oil_slips", "Friction takes more of the 10 N·m there, so it turns less."),
            ),
            "A torque is not an angle: friction decides how far 10 N·m turn a bolt.",
        ),
    )
)  # fmt: skip


def _snug(one: tuple[int, int], other: tuple[int, int]) -> Item:
    """Two programmes, each a snug torque and an angle: with which one do the loads differ less from bolt to bolt?"""
    words = [f"{torque} N·m, then {angle}°" for torque, angle in (one, other)]
    if one[0] == other[0]:
        why = "The snug torque is the same, and each angle adds the same to every bolt."
        wrong = [Option(w, b, why) for w, b in zip(words, ("more_turns", "angle_cures_all"), strict=True)]
        right = SAME
    else:
        low, high = words if one[0] < other[0] else words[::-1]
        right, why = low, "Friction scatters what the snug torque gives. The lower one leaves less of that."
        wrong = [
            Option(high, "angle_cures_all", "Its snug torque is higher, and friction scatters all of that."),
            Option(SAME, "torque_is_tightness", "The snug torques differ. Friction scatters what they give."),
        ]
    return Item(
        f"A long M14 bolt stays elastic (springs back if loosened) with {words[0]}, and also with {words[1]}. With "
        "which do the clamp loads differ by fewer kN from bolt to bolt?", (Option(right), *wrong), why,
    )  # fmt: skip


SNUG = Cases(
    (_snug((30, 60), (80, 60)), _snug((30, 60), (30, 90)), _snug((70, 90), (50, 30)), _snug((60, 75), (60, 45)))
)

STILL = Cases(
    (
        Item(
            "At the snug torque a dry bolt has 31 kN and an oiled one 44 kN. Both get a further 45° and stay elastic. "
            "By how much do they differ now?",
            (
                Option("by 13 kN"),
                Option("not at all", "angle_cures_all", "The angle adds the same to both. The 13 kN remain."),
                Option("by less than 13 kN", "angle_cures_all", "The ratio gets smaller, the difference stays."),
            ),
            "The angle adds the same load to both.",
        ),
        Item(
            "A dry bolt and an oiled bolt get a further 60° and stay elastic. Which one gains more clamp load by the "
            "angle?",
            (
                Option("both gain the same"),
                Option("the oiled bolt", "torque_is_tightness", "The travel is the same, so the gain is the same."),
                Option("the dry bolt", "oil_slips", "The travel is the same, so the gain is the same."),
            ),
            "Same travel, same stretch, same gain.",
        ),
        Item(
            "The instructions say: oil the threads, 40 N·m, then 90°. May the oil be left out, because of the angle?",
            (
                Option("No: how much the bolt clamps at 40 N·m depends on the oil."),
                Option("No: without oil the bolt would turn too far by the 90°.", "angle_is_torque",
                       "The angle is an angle, with oil or without. The loads differ."),
                Option("Yes: with an angle friction does not matter.", "oil_no_matter",
                       "Friction still decides the load at the snug torque, and the twist past yield."),
                Option("Yes, if the angle is made a little larger in exchange.", "angle_cures_all",
                       "No angle replaces the oil. Follow the instructions."),
            ),
            "The instructions name the lubricant for a reason.",
        ),
    )
)  # fmt: skip

GIVES_WAY = Cases(
    (
        Item(
            "During the final angle the torque on the wrench falls. What does the clamp load do?",
            (
                Option("It falls."),
                Option("It hardly rises, as past yield.", "more_turns",
                       "Past yield the torque stays about the same. Where it falls, the bolt or its thread gives way."),
                Option("It rises as before: the angle decides.", "angle_cures_all",
                       "A torque that falls means a bolt or a thread that fails."),
            ),
            "A torque that falls during the angle is a warning. Stop, record it, and replace the bolt.",
        ),
        Item(
            "A stretch bolt is past yield, and not near its highest load. It is turned a further 30°. What happens to "
            "its load?",
            (
                Option("It rises a little."),
                Option("It rises as much as in the first 30°.", "more_turns",
                       "That is true only while the bolt is elastic."),
                Option("It falls: the bolt has lost its strength.", "angle_means_yield",
                       "It keeps its load and gains a little. The load falls only after the highest load."),
            ),
            "Past yield an angle adds length, and hardly any load.",
        ),
        Item(
            "A bolt has reached its highest load and begins to neck. It is turned a further 20°. What happens to its "
            "load?",
            (
                Option("It falls."),
                Option("It stays: the steel gives way at one pull.", "more_turns",
                       "Where it necks the bolt gets thinner, so it carries less and less."),
                Option("It rises a little, as all the way from yield.", "more_turns",
                       "That ends at the highest load. From there it gets thinner at one place."),
            ),
            "It is thinner at one place, and carries less from turn to turn.",
        ),
        Item(
            "A bolt would yield after 70°. It has been turned 30°, and is turned a further 30°. What happens to its "
            "load?",
            (
                Option("It rises as much as by the first 30°."),
                Option("It rises by less than in the first 30°.", "angle_means_yield",
                       "Up to 70° it is elastic: each degree adds as much as the one before."),
                Option("It rises by more than in the first 30°.", "more_turns",
                       "It gets harder to turn, but each degree adds as much as the one before."),
            ),
            "Below yield the bolt is a spring: the same travel adds the same load.",
        ),
    )
)  # fmt: skip

LONG, SHORT = "the long bolt", "the short bolt"
LENGTH = Cases(
    (
        Item(
            "A long bolt and a short bolt with the same thread are turned a further 15° and stay elastic. Which gains "
            "more clamp load?",
            (
                Option(SHORT),
                Option(SAME, "length_no_matter", "The travel is the same, but on less length it stretches more."),
                Option(LONG, "length_no_matter",
                       "A long bolt shares the travel over more length, so each millimetre stretches less."),
            ),
            "The same travel stretches each millimetre of a short bolt more.",
        ),
        Item(
            "A long bolt and a short bolt of one thread are at the snug torque (the first torque). Which one can be "
            "turned further before it yields?",
            (
                Option(LONG),
                Option(SAME, "length_no_matter", "The long bolt shares the travel over more length."),
                Option(SHORT, "length_no_matter", "The same travel is a larger part of a short bolt's length."),
            ),
            "More length shares the same travel.",
        ),
    )
)  # fmt: skip

ONLY_A, ONLY_B, BOTH, NEITHER = "only bolt A", "only bolt B", "both", "neither"


def _set_of(a: tuple[str, str], b: tuple[str, str], right: str, why: str) -> Item:
    """Two bolts, each with its stretch and the stretch at which it yields: which one is longer after loosening?"""
    replies = {
        BOTH: ("angle_means_yield", "A stretch below yield springs back completely."),
        NEITHER: ("springs_back", "Steel springs back only as far as it stayed elastic."),
        ONLY_A: ("more_turns", "Compare each stretch with the stretch at which that bolt yields."),
        ONLY_B: ("more_turns", "Compare each stretch with the stretch at which that bolt yields."),
    }
    wrong = [Option(words, *replies[words]) for words in (ONLY_A, ONLY_B, BOTH, NEITHER) if words != right]
    return Item(
        f"Bolt A is stretched by {a[0]} mm and would yield at {a[1]} mm. Bolt B is stretched by {b[0]} mm and would "
        f"yield at {b[1]} mm. Both are loosened. Which one is longer than new then?", (Option(right), *wrong), why,
    )  # fmt: skip


STAYS_LONGER = Cases(
    (
        _set_of(("0.35", "0.48"), ("0.92", "0.48"), ONLY_B, "Only what is past yield stays."),
        _set_of(("0.44", "0.48"), ("0.15", "0.18"), NEITHER, "Below yield a bolt springs back, long or short."),
        _set_of(("0.32", "0.18"), ("0.40", "0.48"), ONLY_A, "Bolt A is short: its smaller stretch is past yield."),
        _set_of(("0.52", "0.48"), ("0.92", "0.48"), BOTH, "What is past yield stays: a little of A, much of B."),
    )
)  # fmt: skip

USED_AGAIN = Cases(
    (
        Item(
            "A used stretch bolt measures 147.2 mm; new it had 146.5 mm. The instructions allow re-use up to 147.0 mm, "
            "and its thread is good. May it be used again?",
            (
                Option("No: too much of its stretch has stayed."),
                Option("Yes: it is still a spring.", "springs_back",
                       "It is one, but 0.7 mm stayed, and the limit allows 0.5 mm."),
                Option("Yes, with a smaller angle.", "more_turns", "The angle is the maker's. You may not change it."),
            ),
            "147.2 mm is above 147.0 mm: fit a new bolt.",
        ),
        Item(
            "A used stretch bolt measures 146.8 mm; new it had 146.5 mm. The instructions allow re-use up to 147.0 mm, "
            "and its thread is good. May it be used again?",
            (
                Option("Yes: not too much of its stretch has stayed."),
                Option("No: what is longer for good has no strength left.", "angle_means_yield",
                       "It is still a spring. The maker has set a length up to which it may be used."),
                Option("No: only a bolt as long as new may be used again.", "springs_back",
                       "The limit allows 0.5 mm, and 0.3 mm stayed."),
            ),
            "146.8 mm is within 147.0 mm. The rule has a source and a limit.",
        ),
        Item(
            "A used stretch bolt measures as long as new. The instructions demand new bolts each time. May it be used "
            "again?",
            (
                Option("No: its length does not matter here."),
                Option("Yes: it sprang back completely.", "springs_back",
                       "It may have done so. The rule does not ask for the length."),
                Option("Yes, if it was never turned past yield.", "angle_means_yield",
                       "The rule makes no exception for it. A length proves little about the past of a bolt."),
            ),
            "The rule with a source decides. Without one, fit new bolts too.",
        ),
    )
)  # fmt: skip
