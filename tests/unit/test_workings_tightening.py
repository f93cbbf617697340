"""Stages, and the workings of angle, joint, tightening, scatter and loads: what they refuse, and their closures."""

import json

import pytest

from shoplib.desk import LiveFigure
from shoplib.stages import read_stage, read_stages
from shoplib.units import Unreadable, one, read, unit_of
from shoplib.working import BadInput, Value
from shoplib.workings import get
from tests.unit.test_livefigure import assert_same

PURE = unit_of(one)


# ------------------------------------------------------------------------------ what the floors below give
def test_a_pure_number_may_be_typed_in_percent_but_never_by_accident():
    assert read("6 %", PURE).value == 0.06 and read("6 %", PURE).unit == "percent"
    with pytest.raises(Unreadable, match="pure number"):  # 0.12 and a spread, never 0.0012
        read("0.12 ±10 %", PURE, band=True)


def test_a_list_of_yes_and_no_reads_as_words():
    value = Value([False, True, None], None, "Yielded")
    assert value.shown == "no; yes; None" and value.to_json() == {"value": [False, True, None], "unit": None}


# ------------------------------------------------------------------------------ the grammar of stages
READ = [
    ("30 N*m", "torque", 30, 30, 30, "30 N·m"),
    ("37–43 N*m", "torque", 40, 37, 43, "37–43 N·m"),
    ("30 N*m ±4 %", "torque", 30, 28.8, 31.2, "28.8–31.2 N·m"),
    ("30 ft-lb", "torque", 40.67453844994202, 40.67453844994202, 40.67453844994202, "40.6745 N·m"),
    ("+90 deg", "angle", 90, 90, 90, "+90°"),
    ("90°", "angle", 90, 90, 90, "+90°"),
    ("+85–95 deg", "angle", 90, 85, 95, "+85–95°"),
    ("+90 deg ±5 deg", "angle", 90, 85, 95, "+85–95°"),
    ("+1/4 turn", "angle", 90, 90, 90, "+90°"),
    ("+¼ turn", "angle", 90, 90, 90, "+90°"),
    ("+0 deg", "angle", 0, 0, 0, "+0°"),
    ("loosen 360 deg", "loosen", 360, 360, 360, "loosen 360°"),
    ("loosen by 1 turn", "loosen", 360, 360, 360, "loosen 360°"),
    ("repeat 30 N*m", "repeat", 30, 30, 30, "repeat 30 N·m"),
    ("Repeat 30 N·m", "repeat", 30, 30, 30, "repeat 30 N·m"),
    ("check >= 60 N*m", "check", 60, 60, 60, "check ≥ 60 N·m"),
    ("check ≥ 60 N·m", "check", 60, 60, 60, "check ≥ 60 N·m"),
    ("wait 10 min", "wait", 10, 10, 10, "wait 10 min"),
]


@pytest.mark.parametrize(("typed", "kind", "value", "low", "high", "shown"), READ)
def test_a_stage_is_read(typed, kind, value, low, high, shown):
    stage = read_stage(typed)
    found = [stage.unit.from_si(x) for x in (stage.value, stage.low, stage.high)]
    assert stage.kind == kind and found == pytest.approx([value, low, high], rel=1e-12)
    assert stage.shown == shown and stage.is_band == (low != high)


@pytest.mark.parametrize("typed", [t for t, *_ in READ])
def test_what_is_shown_reads_back_as_the_same_stage(typed):
    stage = read_stage(typed)
    again = read_stage(stage.shown)
    # a torque typed in another unit is shown to six digits
    assert again.kind == stage.kind and (again.low, again.high) == pytest.approx((stage.low, stage.high), rel=5e-6)


def test_a_stage_may_name_its_bolts_and_their_order():
    stage = read_stage("30 N*m group short ones order 4 2 a1")
    assert (stage.kind, stage.group, stage.order) == ("torque", "short ones", ("4", "2", "a1"))
    assert read_stage("loosen order 1 2").order == ("1", "2") and read_stage("loosen").value is None


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("-90 deg", "negative angle; to turn back type loosen 90°"),
        ("+-90 deg", "negative angle"),
        ("-30 N*m", "is negative"),
        ("+30 N*m", "written without \\+"),
        ("30 mm", "is a length; a torque or an angle is wanted"),
        ("30 N", "is a force"),
        ("30", "has no unit"),
        ("+90", "has no unit"),
        ("tight", "a stage is 40 N\\*m"),
        ("check <= 30 N*m", "not a minimum"),
        ("check", "not how much"),
        ("wait 10 mm", "a time is wanted"),
        ("loosen 30 N*m", "an angle is wanted"),
        ("0 N*m", "is zero"),
        ("0–30 N*m", "reaches down to zero"),
        ("43–37 N*m", "runs backwards"),
        ("", "is empty"),
        (40, "has no unit"),
        (None, "text is wanted"),
    ],
)
def test_what_is_no_stage_says_what_to_type(typed, says):
    with pytest.raises(Unreadable, match=says):
        read_stage(typed)


def test_every_bad_stage_of_a_programme_is_named():
    stages, wrong = read_stages(["40 N*m", "-90 deg", "+90 deg", "30"])
    assert [s.kind for s in stages] == ["torque", "angle"] and [n for n, _ in wrong] == [2, 4]
    assert read_stages(["+1 deg"] * 41)[1][0][0] == 41


# ------------------------------------------------------------------------------ the model bolt, for all that follows
MODEL = {
    "thread": "M10x1.5", "shank_diameter": "8.4 mm", "shank_length": "100 mm", "thread_length": "20 mm",
    "mu_thread": "0.12", "mu_head": "0.12", "mu_low": "0.10", "mu_high": "0.16", "bearing_mean": "13 mm",
    "yield_strength": "940 MPa", "yield_strength_source": "the workshop's model bolt", "tensile_strength": "1040 MPa",
    "uniform_strain": "5 %", "uniform_strain_source": "the workshop's model bolt", "parts_stiffness": "286.1 kN/mm",
    "ends": "none",
}  # fmt: skip
STAGED, TRAVEL = get("staged_tightening"), get("angle_travel")


def refused(working, typed):
    """Field to message of everything that is refused."""
    with pytest.raises(BadInput) as caught:
        working(typed)
    return {p.field: p.why for p in caught.value.problems}


# ------------------------------------------------------------------------------ pictures
@pytest.mark.parametrize(
    ("working", "typed", "field", "values"),
    [
        (STAGED, MODEL, "stages", [f"40 N*m; +{n} deg" for n in (60, 70, 83, 95, 120)]),
        (STAGED, MODEL | {"stages": "40 N*m; +60 deg"}, "mu_thread", ["0.12", "0.125", "0.13"]),
        (TRAVEL, {"pitch": "1.5 mm"}, "angle", ["90 deg", "120 deg", "300 deg"]),
    ],
)
def test_a_drag_sends_only_what_moved_and_shows_what_a_full_rendering_would(working, typed, field, values):
    live = LiveFigure(working.draw, working(typed | {field: values[0]}), figsize=working.figure_size)
    base = live.svg
    for value in values[1:]:
        before = dict(live.parts)
        live.move(working(typed | {field: value}))
        assert live.svg == base, f"{value} rendered the whole figure again"
        assert live.parts != before
        assert_same(live)
        assert working.alt(working(typed | {field: value}))


@pytest.mark.parametrize(
    "stages",
    [
        "40 N*m", "+90 deg", "40 N*m; +90 deg; loosen", "loosen_none", "40 N*m; +90 deg; loosen; 40 N*m; +60 deg",
        "40 N*m; +1500 deg", "20 N*m; 40 N*m; +85–95 deg; +90 deg; check >= 60 N*m; wait 10 min", "500 N*m",
    ],
)  # fmt: skip
@pytest.mark.parametrize("banded", [True, False])
def test_every_programme_has_a_picture(stages, banded):
    typed = MODEL if banded else {k: v for k, v in MODEL.items() if k not in ("mu_low", "mu_high")}
    result = STAGED(typed | {"stages": stages if stages != "loosen_none" else "+0 deg"})
    live = LiveFigure(STAGED.draw, result, figsize=STAGED.figure_size)
    assert_same(live)
    assert "nan" not in STAGED.alt(result) + result.as_text() and "inf" not in STAGED.alt(result)
    json.dumps(result.to_json(), allow_nan=False)
