"""The log of the bolts, their re-use and their order, typed at a limit.  Limits are common practice, no source."""

import pytest

from shoplib.core.errors import BadInput
from shoplib.topics import get
from shoplib.topics.fasteners.tightening_order import one_by_one, suggest_order

PLACED = {"x": "0 mm", "y": "0 mm"}


def log(*rows, **more):
    named = [{"name": str(k), **row} for k, row in enumerate(rows, 1)]
    return get("fastener_log")({**({"bolts": named} if rows else {}), **more})


def refused(name, **more):
    """What is said about each field that is refused."""
    with pytest.raises(BadInput) as caught:
        get(name)(more)
    return {problem.field: problem.why for problem in caught.value.problems}


def warned(r):
    return {row["what"].value: row["bolts"].value for row in r["warnings"]}


def test_a_bare_diameter_has_the_pitch_that_was_gauged_or_none():
    r = log({"thread": "M10"}, {"thread": "M10", "pitch_bolt": "1.25 mm"}, {"thread": "M10x1.5"})
    assert {row["thread"].value for row in r["kinds"]} == {"M10, pitch not gauged", "M10x1.25", "M10x1.5"}
    assert [row["thread"].value for row in r["log"]] == ["M10", "M10x1.25", "M10x1.5"]


@pytest.mark.parametrize(("rows", "columns", "needed"), [
    ("1", "1", set()), ("1", "2", {"pitch_along"}), ("2", "1", {"pitch_across"}),
    ("2", "2", {"pitch_along", "pitch_across"}),
])  # fmt: skip
def test_two_bolts_in_a_row_need_their_distance(rows, columns, needed):
    if needed:
        assert refused("fastener_log", rows=rows, columns=columns).keys() == needed
    else:
        (only,) = log(rows=rows, columns=columns)["log"]
        assert (only["x"].value, only["y"].value) == (0, 0)


def test_the_places_of_a_regular_map():
    r = log(rows="2", columns="2", pitch_along="90 mm", pitch_across="80 mm")
    for axis, places in (("x", [0, 0.09, 0, 0.09]), ("y", [0, 0, 0.08, 0.08])):
        assert [row[axis].value for row in r["log"]] == pytest.approx(places)


def test_a_name_that_stands_twice_is_refused():
    assert "twice" in refused("fastener_log", rows="1", columns="3", pitch_along="90 mm", names="1; 1; 2")["names"]


@pytest.mark.parametrize(("hand", "said"), [("left", True), ("", True), ("right", False)])
def test_a_thread_that_is_named_as_left_hand_is_not_right_hand(hand, said):
    row = {"thread": "M10x1.25 LH", "hand": hand}
    if said:
        assert log(row)["left_hand"] == ["1"]
    else:
        assert "named as left hand" in refused("fastener_log", bolts=[{"name": "1", **row}])["bolts[1].hand"]


@pytest.mark.parametrize(("second", "outcome"), [("1.255 mm", "pass"), ("1.256 mm", "fail")])
def test_two_pitches_are_one_within_half_of_the_last_digit_of_a_pitch_gauge(second, outcome):
    r = log({"pitch_bolt": "1.25 mm", "pitch_hole": second})
    (check,) = (c for c in r.checks if c.label.startswith("Pitch of bolt and hole"))
    assert check.outcome == outcome
    r = log({"thread": "M10", "pitch_bolt": "1.25 mm"}, {"thread": "M10", "pitch_bolt": second})
    assert any(what.startswith("TWO PITCHES at 10 mm") for what in warned(r)) == (outcome == "fail")


SIDE = "different lengths side by side: do not swap them"


def in_a_row(*bolts):
    """Bolts at so many mm, each with its length in mm."""
    return log(*({"x": f"{x} mm", "y": "0 mm", "length": f"{length} mm", **more} for x, length, more in bolts))


@pytest.mark.parametrize(("third", "beside"), [("-13", True), ("-13.1", False)])
def test_a_neighbour_is_at_most_1_3_times_as_far_as_the_nearest(third, beside):
    """The third and fourth have a nearer neighbour of their own."""
    r = in_a_row((0, 100, {}), (10, 100, {}), (third, 80, {}), (float(third) - 1, 80, {}))
    assert warned(r) == ({SIDE: "1 (100 mm) beside 3 (80 mm)"} if beside else {})


def test_every_pair_of_neighbours_is_named():
    r = in_a_row((0, 100, {}), (20, 100, {}), (10, 80, {}))
    assert warned(r) == {SIDE: "1 (100 mm) beside 3 (80 mm); 2 (100 mm) beside 3 (80 mm)"}


@pytest.mark.parametrize(("first", "second", "could_swap"), [
    ("", "", True), ("M10x1.5", "", True), ("", "M10x1.5", True), ("M10x1.5", "M10x1.25", True),
    ("M10x1.5", "M12x1.5", False),
])  # fmt: skip
def test_bolts_of_two_diameters_cannot_be_swapped(first, second, could_swap):
    r = in_a_row((0, 100, {"thread": first}), (10, 80, {"thread": second}))
    assert (SIDE in warned(r)) == could_swap


@pytest.mark.parametrize(("reference", "uncertain"), [
    ("10.0 mm; 10.00 mm", [0.055e-3, 0.01e-3]), ("10.0 mm", [0.055e-3, 0.055e-3]), ("10.00 mm", [0.01e-3, 0.01e-3]),
])  # fmt: skip
def test_a_necking_is_uncertain_by_half_of_the_last_digit_of_both_diameters(reference, uncertain):
    r = get("bolt_reuse")({"method": "necking", "measured": "9.90 mm; 9.90 mm", "reference": reference,
                           "limit": "0.2 mm", "limit_source": "notes"})  # fmt: skip
    assert [c.uncertainty.value for c in r.checks] == pytest.approx(uncertain)


@pytest.mark.parametrize("size", [1e-5, 1.0, 1e5])
def test_the_order_does_not_depend_on_the_size_of_the_pattern(size):
    points = [(0.0, 0.0), (1.0, 0.02), (2.03, 0.0), (0.01, 1.0), (1.0, 1.05), (2.0, 1.01)]
    assert suggest_order([(size * x, size * y) for x, y in points]) == suggest_order(points)


@pytest.mark.parametrize(("typed", "names", "order"), [
    (["2 5 1 4"], ["1", "2", "4", "5"], ["2", "5", "1", "4"]),
    (["2-5, 1–4"], ["1", "2", "4", "5"], ["2", "5", "1", "4"]),
    (["2 9"], ["1", "2"], ["2", "9"]),  # one that is not on the map is named later
    (["2-5"], ["2-5", "2", "5"], ["2-5"]),  # the name of a bolt
    (["front left"], ["1", "2"], ["front left"]),
    (["1 2"], [], ["1", "2"]),
    (["1 left"], [], ["1 left"]),
    (["1", "2 3"], ["1", "2", "3"], ["1", "2 3"]),
    (["1 2", "3"], [], ["1 2", "3"]),
])  # fmt: skip
def test_an_order_that_was_typed_in_one_piece_is_taken_apart(typed, names, order):
    assert one_by_one(typed, names) == order
