"""The concept test: twenty pairs of questions, form A for before and form B for after.  Wrong options name beliefs."""

from __future__ import annotations

from shoplib.teaching.choice import Item, Option


def _item(text: str, right: str, *wrong: tuple[str, str]) -> Item:
    return Item(text, (Option(right), *(Option(words, belief) for belief, words in wrong)))


PAIRS: tuple[tuple[Item, Item], ...] = (
    (
        _item("Two bolts of one kind click at 50 N·m. One was dry, one oiled. Their clamp loads are",
              "different: the oiled one has more", ("torque_is_tightness", "the same"),
              ("oil_slips", "different: the dry one has more")),
        _item("The same bolt is tightened twice to 70 N·m, once with a rusty thread and once with a clean one. "
              "The clamp load is larger", "with the clean thread", ("torque_is_tightness", "in neither case"),
              ("oil_slips", "with the rusty thread")),
    ),
    (
        _item("The wrench clicks. What is certain?", "the set torque was reached",
              ("click_is_enough", "the joint has the clamp load that it needs"),
              ("all_to_stretch", "all of the torque pulls on the joint")),
        _item("All ten bolts clicked at the right torque. What do you know?",
              "each bolt reached the right torque once", ("click_is_enough", "the joint is clamped as designed"),
              ("load_stays", "each bolt has its load and keeps it")),
    ),
    (
        _item("Of 40 N·m at the wrench, the part that stretches the bolt is about",
              "6 N·m", ("all_to_stretch", "40 N·m"), ("all_to_stretch", "20 N·m")),
        _item("Most of the torque on a bolt goes into", "friction in the thread and under the head",
              ("all_to_stretch", "stretching the bolt"), ("oil_no_matter", "the thread alone, as heat")),
    ),
    (
        _item("A washer with a slippery coating is put under the head. The torque stays the same. The clamp load",
              "rises", ("oil_no_matter", "stays the same"), ("oil_slips", "falls")),
        _item("The maker's new bolts have a slippery coating. The old torque figure is used. The clamp load is",
              "larger than before", ("torque_is_tightness", "as before"), ("oil_slips", "smaller than before")),
    ),
    (
        _item("A bolt has a pitch of 1.5 mm. It is turned a further 120°. The thread travels",
              "0.5 mm", ("angle_is_torque", "a distance that depends on the torque"), ("", "1.5 mm"), ("", "0.18 mm")),
        _item("A bolt has a pitch of 1.25 mm. It is turned a further 72°. The thread travels",
              "0.25 mm", ("angle_is_torque", "a distance that depends on the friction"), ("", "1.25 mm"),
              ("", "0.9 mm")),
    ),
    (
        _item("How many N·m are 90°?", "there is no such number",
              ("angle_is_torque", "about 50 N·m"), ("angle_is_torque", "as many as for the last engine")),
        _item("The protractor is missing. Can the angle of 60° be replaced by a torque?",
              "no: the torque for it differs from bolt to bolt", ("angle_is_torque", "yes, by about 30 N·m"),
              ("angle_is_torque", "yes, if the threads are oiled")),
    ),
    (
        _item("A long bolt is tightened to a low torque and turned 45°. Has it yielded?",
              "that depends on its length and strength", ("angle_means_yield", "yes, an angle makes it yield"),
              ("springs_back", "no, bolts do not yield")),
        _item("Instructions use an angle for a bolt that may be used again. Is that a contradiction?",
              "no: an angle can stay below yield", ("angle_means_yield", "yes: an angle always stretches it for good"),
              ("springs_back", "no: a bolt always springs back")),
    ),
    (
        _item("At the snug torque two bolts differ by 50 %. After an elastic angle they differ",
              "by less than 50 %, but they still differ", ("angle_cures_all", "no longer"),
              ("torque_is_tightness", "by 50 % as before")),
        _item("Friction makes one bolt clamp 1.5 times as hard as another. What does the angle then do to this ratio?",
              "it brings it closer to 1", ("angle_cures_all", "it makes it 1"),
              ("torque_is_tightness", "nothing")),
    ),
    (
        _item("The oil on the threads is left out, because the last stage is an angle. This is",
              "wrong: the friction still changes the clamp load", ("oil_no_matter", "right: an angle ignores friction"),
              ("angle_cures_all", "right, if the angle is exact")),
        _item("Torque 30 N·m, then 90°. What still depends on the lubricant?",
              "the load at 30 N·m, and the load at which it yields", ("oil_no_matter", "nothing"),
              ("angle_cures_all", "only the torque that is felt during the angle")),
    ),
    (
        _item("A stretch bolt is just past yield. It is turned a further 90° and does not break. Its clamp load",
              "rises a little or not at all", ("more_turns", "rises as much as with the first 90°"),
              ("angle_means_yield", "falls to about half")),
        _item("To be safe, somebody turns every stretch bolt 30° further than the instructions say. This gives",
              "longer bolts, hardly more load, and less reserve before they break",
              ("more_turns", "30° more of clamp load"), ("angle_cures_all", "less scatter and no harm")),
    ),
    (
        _item("During the angle the torque suddenly falls by half. This means",
              "bolt or thread is giving way: stop", ("more_turns", "it needs a few more degrees"),
              ("oil_no_matter", "the oil has reached the thread")),
        _item("At 70° of 90° the torque of the last bolt falls away. The right action is",
              "stop, record it, and replace the bolt", ("more_turns", "turn further to 90° and a little more"),
              ("angle_cures_all", "turn further to 90°: the angle decides")),
    ),
    (
        _item("A stretch bolt went past yield and is loosened. Its length is then",
              "between the new length and the length when tight", ("springs_back", "the new length"),
              ("angle_means_yield", "the length when tight")),
        _item("After loosening, a bolt is 0.4 mm longer than new. This shows",
              "it was past yield", ("springs_back", "it will spring back in time"),
              ("angle_means_yield", "it was turned by an angle")),
    ),
    (
        _item("A short and a long bolt of one thread get the same 40° after the same torque. Both stay elastic. "
              "The load rises more",
              "in the short bolt", ("length_no_matter", "in both alike"), ("more_turns", "in the long bolt")),
        _item("Surfaces settle by 0.01 mm under a short bolt and under a long one. More load is lost",
              "by the short bolt", ("length_no_matter", "by both alike"), ("load_stays", "by neither")),
    ),
    (
        _item("Bolt 1 is tight. Its neighbours are tightened next. The load of bolt 1",
              "falls", ("load_stays", "stays"), ("order_no_matter", "rises")),
        _item("After the first round, the bolts that were tightened first have",
              "less load than those tightened last", ("order_no_matter", "the same load as all others"),
              ("load_stays", "the load that they clicked at")),
    ),
    (
        _item("Why tighten in rounds instead of each bolt fully at once?",
              "so that the parts close evenly", ("order_no_matter", "it is only a habit"),
              ("click_is_enough", "to make sure that each bolt clicks")),
        _item("Somebody goes round the head clockwise with full torque; every bolt clicks. The result is",
              "uneven clamp load", ("order_no_matter", "even clamp load, as with any other order"),
              ("click_is_enough", "even clamp load, because every bolt clicked")),
    ),
    (
        _item("A bolt was tightened and never touched. A month later its clamp load is",
              "probably smaller: the surfaces settled", ("load_stays", "the same"), ("more_turns", "larger")),
        _item("Dirt was left between two faces and the bolt clicked. In service the clamp load",
              "falls, because the dirt is squeezed", ("load_stays", "stays, because the bolt clicked"),
              ("length_no_matter", "falls only if the bolt is long")),
    ),
    (
        _item("A leaf of 0.06 mm fits, one of 0.09 mm does not. The limit is 0.08 mm. The line is",
              "undecided", ("leaf_is_gap", "good: the gap is 0.06 mm"), ("average", "good: the middle is 0.075 mm")),
        _item("A leaf of 0.04 mm fits, one of 0.07 mm does not. The limit is 0.05 mm. The line is",
              "undecided", ("leaf_is_gap", "good: the gap is 0.04 mm"), ("average", "bad: the middle is 0.055 mm")),
    ),
    (
        _item("Along both long sides a face shows no gap. Across and on the diagonals nothing was measured. It is",
              "not judged yet", ("lengthwise", "flat"), ("lines_see_all", "flat, if the straightedge is good")),
        _item("All six lines are within the limit. What can still be wrong?",
              "a dip between the lines", ("lines_see_all", "nothing"), ("lengthwise", "only a bow along the head")),
    ),
    (
        _item("0.3 mm was cut off a head with the chamber in it. The gasket is 0.3 mm thicker. The ratio is",
              "not the same as before", ("gasket_cancels", "the same as before"),
              ("one_effect", "the same: only the height changed")),
        _item("After a skim, the ratio was put right by a thicker gasket. Then the height of the head is",
              "still smaller by the cut", ("gasket_cancels", "right again too"),
              ("one_effect", "not affected by the cut")),
    ),
    (
        _item("4 L of water stayed in an 8 L system. It is filled with 50 % premix. The strength is",
              "25 %", ("premix_holds", "50 %"), ("", "12.5 %")),
        _item("A full 10 L system has 40 % and needs 50 %. The way to get there is",
              "drain part of it and pour in concentrate", ("add_on_top", "add 1 L of concentrate on top"),
              ("premix_holds", "top up with 50 % premix")),
    ),
)  # fmt: skip

FORMS = {"A": tuple(a for a, _ in PAIRS), "B": tuple(b for _, b in PAIRS)}
