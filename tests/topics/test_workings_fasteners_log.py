"""Re-use, reach and order of bolts.  Nothing is published for these: the numbers are worked by hand from the lengths."""

import json
import math

import pytest
from matplotlib.figure import Figure

from shoplib.core.checks import Outcome
from shoplib.core.errors import BadInput
from shoplib.topics import get
from shoplib.topics.fasteners.tightening_order import suggest_order

SOURCE = "bench notes of the teaching workshop, sheet 14"


def refused(working, **typed):
    with pytest.raises(BadInput) as error:
        get(working)(**typed)
    return {p.field: str(p) for p in error.value.problems}


def drawn(result):
    figure = Figure(figsize=result.working.figure_size, layout="constrained")
    result.working.draw(figure)(result)
    figure.draw_without_rendering()
    return {t.get_gid(): t.get_text() for t in figure.findobj(lambda a: hasattr(a, "get_text")) if t.get_gid()}


# ------------------------------------------------------------------------------ re-use
def reuse(**typed):
    return get("bolt_reuse")(**({"limit_source": SOURCE} | typed))


@pytest.mark.parametrize(
    ("typed", "margin", "outcome"),
    [
        ({"method": "max_length", "measured": "146.2 mm", "limit": "147.0 mm"}, 0.8, "pass"),
        ({"method": "max_length", "measured": "147.0 mm", "limit": "147 mm"}, 0.0, "undecided"),
        ({"method": "max_length", "measured": "147,1 mm", "limit": "147 mm"}, -0.1, "fail"),
        ({"method": "min_diameter", "measured": "8.90 mm; 8.72 mm", "limit": "8.70 mm"}, 0.02, "pass"),
        ({"method": "min_diameter", "measured": "8.90 mm; 8.69 mm", "limit": "8.70 mm"}, -0.01, "fail"),
        ({"method": "necking", "measured": "9.80 mm", "reference": "9.95 mm", "limit": "0.20 mm"}, 0.05, "pass"),
        ({"method": "necking", "measured": "9.80 mm; 9.60 mm", "reference": "9.95 mm; 9.85 mm", "limit": "0.20 mm"}, -0.05, "fail"),
        ({"method": "max_length", "measured": "146.2 mm; not measured", "limit": "147 mm"}, 0.8, "undecided"),
        ({"method": "max_length", "measured": "146.2 mm", "limit": "147 mm", "limit_source": ""}, 0.8, "no limit given"),
        ({"method": "max_length", "measured": "147.2 mm", "limit": "147 mm", "limit_source": ""}, -0.2, "fail"),
        ({"method": "max_length", "measured": "146.2 mm"}, None, "no limit given"),
        ({"method": "never"}, None, "fail"),
        ({"method": "never", "measured": "146.2 mm", "limit": "147 mm"}, None, "fail"),
    ],
)  # fmt: skip
def test_reuse(typed, margin, outcome):
    result = reuse(**typed)
    assert result["margin"] == (None if margin is None else pytest.approx(margin * 1e-3, abs=1e-9))
    assert result.outcome == outcome
    assert result["text"].startswith("Re-use is allowed" if outcome == "pass" else "Replace")


def test_reuse_names_the_bolts():
    result = reuse(method="max_length", measured="146 mm; 148 mm; - ; 147.5 mm", bolts="A; B; C; D", limit="147 mm")
    assert "Replace bolts B, D: beyond the limit" in result["text"]
    assert "Measure bolt C." in result["text"]
    assert result["worst_bolt"] == "B"
    assert result.values["margins"].to_json() == {
        "value": [pytest.approx(1), pytest.approx(-1), None, pytest.approx(-0.5)],
        "unit": "mm",
    }
    assert [c.outcome for c in result.checks] == [Outcome.PASS, Outcome.FAIL, Outcome.UNDECIDED, Outcome.FAIL]


def test_reuse_on_input():
    assert refused("bolt_reuse", method="max_length").keys() == {"measured"}
    assert refused("bolt_reuse", method="necking", measured="9.8 mm").keys() == {"reference"}
    assert refused("bolt_reuse", method="max_length", measured="146 mm", reference="9 mm").keys() == {"reference"}
    assert "swapped" in refused("bolt_reuse", method="necking", measured="9.9 mm", reference="9.8 mm")["measured"]
    assert "2 names for 1" in refused("bolt_reuse", method="max_length", measured="146 mm", bolts="A; B")["bolts"]
    assert (
        "A is listed 2 times"
        in refused("bolt_reuse", method="max_length", measured="1 mm; 1 mm", bolts="A; A")["bolts"]
    )
    assert "146.2" in refused("bolt_reuse", method="max_length", measured="146.2")["measured[1]"]
    assert refused("bolt_reuse", method="by eye").keys() == {"method"}


# ------------------------------------------------------------------------------ reach
BOLT = {
    "bolt_length": "120 mm", "thread_length": "40 mm", "stack": "2.5 mm; 92.3 mm; 1.2 mm",
    "hole_depth": "45 mm", "thread_start": "5 mm", "thread_depth": "38 mm",
}  # fmt: skip


def reach(**typed):
    return get("bolt_reach")({k: v for k, v in (BOLT | typed).items() if v is not None})


@pytest.mark.parametrize(
    ("typed", "engagement", "bottom", "shank", "outcome"),
    [
        # 120 − 96 = 24 below the face: 24 − 5 engaged; 45 − 24; 5 − (24 − 40)
        ({}, 19, 21, 21, "no limit given"),
        ({"minimum_engagement": "15 mm", "minimum_engagement_source": SOURCE}, 19, 21, 21, "pass"),
        ({"minimum_engagement": "15 mm"}, 19, 21, 21, "no limit given"),
        ({"minimum_engagement": "20 mm"}, 19, 21, 21, "undecided"),  # lengths typed to whole millimetres
        ({"minimum_engagement": "22 mm"}, 19, 21, 21, "fail"),
        # 20 mm too long: reaches 44, past the last full thread at 38: 38 − 5 engaged, 1 left, shank 5 − 4
        ({"bolt_length": "140 mm"}, 33, 1, 1, "fail"),
        ({"bolt_length": "141 mm"}, 33, 0, 0, "fail"),
        # a skim of 0.8 mm takes 0.8 off the stack
        ({"stack": "2.5 mm; 91.5 mm; 1.2 mm"}, 19.8, 20.2, 20.2, "no limit given"),
        # thread of the bolt shorter than the way through: 28 − 12 = 16 to 28
        ({"bolt_length": "124 mm", "thread_length": "12 mm"}, 12, 17, -11, "fail"),
        # does not reach the thread
        ({"bolt_length": "95 mm"}, -6, 46, 46, "fail"),
        ({"hole": "through", "hole_depth": None, "bolt_length": "139 mm"}, 33, None, 2, "no limit given"),
        ({"minimum_engagement": "15 mm", "minimum_engagement_source": SOURCE,
          "minimum_clearance": "23 mm", "minimum_clearance_source": SOURCE}, 19, 21, 21, "fail"),
    ],
)  # fmt: skip
def test_reach(typed, engagement, bottom, shank, outcome):
    result = reach(**typed)
    close = {"abs": 1e-9}
    assert result["engagement"] == pytest.approx(engagement * 1e-3, **close)
    assert result["bottom_clearance"] == (None if bottom is None else pytest.approx(bottom * 1e-3, **close))
    assert result["shank_clearance"] == pytest.approx(shank * 1e-3, **close)
    assert result.outcome == outcome


def test_reach_through_the_stack_sums_up():
    result = reach(stack="1,2 mm; 2.5 mm; 91.5 mm")
    assert result["stack_height"] == pytest.approx(95.2e-3, abs=1e-12)
    assert result["engagement"] == pytest.approx(19.8e-3, abs=1e-12)


def test_reach_on_input():
    assert refused("bolt_reach").keys() == {"bolt_length", "thread_length", "stack", "thread_start", "thread_depth"}
    assert refused("bolt_reach", **{k: v for k, v in BOLT.items() if k != "hole_depth"}).keys() == {"hole_depth"}
    assert refused("bolt_reach", **BOLT | {"hole": "through"}).keys() == {"hole_depth"}
    wrong = BOLT | {"thread_length": "130 mm", "thread_depth": "4 mm", "hole_depth": "3 mm"}
    assert refused("bolt_reach", **wrong).keys() == {"thread_length", "thread_depth", "hole_depth"}


# ------------------------------------------------------------------------------ order
def grid(columns, rows=2, pitch=90, apart=80):
    return [
        {"name": str(1 + c + columns * r), "x": f"{pitch * c} mm", "y": f"{apart * r} mm"}
        for r in range(rows)
        for c in range(columns)
    ]


def circle(count):
    turn = 2 * math.pi / count
    return [(math.cos(k * turn), math.sin(k * turn)) for k in range(count)]


@pytest.mark.parametrize(
    ("points", "order"),
    [
        (circle(8), [0, 4, 2, 6, 1, 5, 3, 7]),  # the star of a flange, common practice, no source
        (circle(4), [0, 2, 1, 3]),
        (circle(6), [0, 3, 1, 4, 2, 5]),
        ([(0, 0)], [0]),
        ([(0, 0), (1, 0)], [0, 1]),
    ],
)
def test_a_star(points, order):
    assert suggest_order(points) == order


def test_a_head_is_suggested_from_the_middle_crosswise():
    result = get("tightening_order")(positions=grid(5))
    order = result["suggested_order"]
    assert set(order[:2]) == {"3", "8"}  # the middle pair
    assert set(order[2:6]) == {"2", "4", "7", "9"}
    assert set(order[6:]) == {"1", "5", "6", "10"}  # the corners last
    for a, b in zip(order[2::2], order[3::2], strict=True):
        assert int(a) + int(b) == 11  # each bolt is followed by the one across the middle
    assert result["loosening_order"] == order[::-1]
    assert any("suggested, not the maker's" in a for a in result.assumptions)
    assert "suggested, not the maker's" in result.values["suggested_order"].label
    assert "suggested, not the maker's" in drawn(result)["says"]
    assert result.outcome is None


def test_the_makers_order_goes_before_it():
    typed = "3; 8; 4; 7; 9; 2; 5; 6; 10; 1"
    result = get("tightening_order")(positions=grid(5), order=typed, order_source=SOURCE)
    assert result["order"] == typed.split("; ")
    assert result["loosening_order"] == result["order"][::-1]
    assert result["order_is"] == "the maker's, as typed"
    assert "suggested_order" in result.values
    own = get("tightening_order")(positions=grid(2), order=[1, 2, 3, 4], loosening="1; 3; 2; 4")
    assert own["loosening_order"] == ["1", "3", "2", "4"]
    assert "the reverse" not in " ".join(own.assumptions)


def test_duplicates_and_omissions_are_named():
    said = refused("tightening_order", positions=grid(3), order="3; 2; 2; 5; 9", loosening="1; 2; 3; 4; 5")
    assert said.keys() == {"order", "loosening"}
    with pytest.raises(BadInput) as error:
        get("tightening_order")(positions=grid(3), order="3; 2; 2; 5; 9")
    assert [str(p).split("; type")[0] for p in error.value.problems] == [
        "order: bolt 2 is listed more than once", "order: bolt 9 is not on the map", "order: bolt 1, 4, 6 is missing"]  # fmt: skip
    twins = [*grid(2), {"name": "1", "x": "5 mm", "y": "5 mm"}, {"name": "X", "x": "90 mm", "y": "0 mm"}]
    with pytest.raises(BadInput) as error:
        get("tightening_order")(positions=twins)
    assert "bolt 1 is listed 2 times" in str(error.value)
    assert "bolt X is at the same place as bolt 2" in str(error.value)
    assert "at most 60" in refused("tightening_order", positions=grid(31))["positions"]


def test_the_map_may_be_a_csv_file(tmp_path):
    (tmp_path / "map.csv").write_text("name;x_mm;y_mm\nA;0;0\nB;90;0\nC;180;0,5\n", encoding="utf-8")
    result = get("tightening_order")({"positions": "map.csv"}, folder=tmp_path)
    assert sorted(result["suggested_order"]) == ["A", "B", "C"]
    assert result["suggested_order"][0] == "B"


# ------------------------------------------------------------------------------ pictures and words
@pytest.mark.parametrize(
    ("name", "typed"),
    [
        ("bolt_reuse", {"method": "max_length", "measured": "146 mm; not measured; 148 mm", "limit": "147 mm"}),
        ("bolt_reuse", {"method": "min_diameter", "measured": "8 mm"}),
        ("bolt_reuse", {"method": "never"}),
        ("bolt_reach", BOLT),
        ("bolt_reach", BOLT | {"bolt_length": "90 mm"}),
        ("bolt_reach", BOLT | {"bolt_length": "160 mm", "stack": "96 mm"}),
        ("tightening_order", {"positions": grid(1, 1)}),
        ("tightening_order", {"positions": grid(30), "order": "; ".join(str(k) for k in range(1, 61))}),
    ],
)
def test_every_picture_draws_and_is_told_in_words(name, typed):
    result = get(name)(**typed)
    drawn(result)
    assert len(result.working.alt(result)) > 40
    assert json.dumps(result.to_json(), allow_nan=False)
    assert result.as_text()


def test_the_picture_shouts_when_the_bolt_stands_on_the_bottom():
    assert drawn(reach(bolt_length="142 mm"))["below"] == "BOTTOMS OUT, too long by 1.00 mm; SHANK JAMS by 1.00 mm"
    assert drawn(reach())["engaged"] == "engaged 19.0 mm"


@pytest.mark.parametrize("typed", ["2 5 1 4 3 6", "2-5-1-4-3-6", "2, 5, 1, 4, 3, 6", "2; 5; 1; 4; 3; 6"])
def test_an_order_may_be_typed_with_spaces_dashes_or_commas(typed):
    places = [{"name": str(n), "x": f"{40 * n} mm", "y": "0 mm"} for n in range(1, 7)]
    result = get("tightening_order")(positions=places, order=typed)
    assert result["order"] == ["2", "5", "1", "4", "3", "6"]


def test_a_bolt_whose_name_has_a_space_stays_one_bolt():
    result = get("tightening_order")(positions=[{"name": "rear left", "x": "0 mm", "y": "0 mm"}], order="rear left")
    assert result["order"] == ["rear left"]
