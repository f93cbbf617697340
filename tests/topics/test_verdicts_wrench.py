"""Verdicts on a wrench: no source that nobody typed, no default that decides, the standard as it is now."""

import random
from fractions import Fraction

import pytest

from shoplib.core.checks import Outcome
from shoplib.core.errors import BadInput
from shoplib.physics.wrench import permissible_deviation
from shoplib.topics import get
from tests.slow_judge import CASES, differential, judged, together

WRENCH, PLAN, CARD = get("wrench_setting"), get("tightening_plan"), get("conversion_card")
BASE = {"torque": "80 N*m", "wrench_length": "400 mm", "adapter_length": "50 mm"}
RANGE = {"wrench_min": "20 N*m", "wrench_max": "100 N*m", "wrench_range_source": "marked on TW-2"}
DATES = {"calibration_due": "2027-03-01", "date_used": "2026-11-20"}


def outcomes(**more):
    result = WRENCH(BASE | more)
    return {c.label: c.outcome for c in result.checks}, result


def test_no_check_names_a_source_that_nobody_typed():
    _, result = outcomes(wrench_min="20 N*m", wrench_max="200 N*m", **DATES)  # finding 16
    assert all(c.limit_source is None for c in result.checks)
    assert "2003" not in " ".join(str(c.limit_source) for c in result.checks)
    assert result.outcome == "no limit given"
    told, _ = outcomes(**RANGE, **DATES, adapter_angle="0 deg", calibration_source="certificate 12")
    assert set(told.values()) == {Outcome.PASS}


@pytest.mark.parametrize(
    ("used", "more", "outcome"),
    [
        ("2026-11-20", {"calibration_source": "certificate 12"}, "pass"),
        ("2026-11-20", {}, "no limit given"),
        ("2027-03-01", {"calibration_source": "certificate 12"}, "undecided"),  # on the very day
        ("2027-03-02", {"calibration_source": "certificate 12"}, "fail"),
        ("2027-03-02", {}, "fail"),
    ],
)
def test_calibration(used, more, outcome):
    assert outcomes(calibration_due="2027-03-01", date_used=used, **more)[1].outcome == outcome


def test_a_day_of_use_without_a_calibration_date_is_undecided():
    told, _ = outcomes(date_used="2026-11-20")  # finding 14
    assert told == {"Calibration valid on the day of use": Outcome.UNDECIDED}


def test_an_adapter_angle_that_nobody_typed_does_not_decide():
    at_limit = RANGE | {"wrench_max": "75 N*m"}  # finding 15: in line 71.1 N·m, square 80 N·m
    told, result = outcomes(**at_limit)
    assert told["Setting within the wrench's range"] is Outcome.UNDECIDED
    assert any("Adapter angle" in c.remark for c in result.checks)
    assert outcomes(**at_limit, adapter_angle="0 deg")[0]["Setting within the wrench's range"] is Outcome.PASS
    assert outcomes(**at_limit, adapter_angle="90 deg")[0]["Setting within the wrench's range"] is Outcome.FAIL
    straight, _ = outcomes(**(at_limit | {"wrench_max": "85 N*m"}), adapter_length="0 mm")
    assert straight["Setting within the wrench's range"] is Outcome.PASS  # no adapter: its angle does not matter


def test_the_permissible_deviation_goes_by_the_largest_value_of_the_tool():
    assert permissible_deviation(8.0, 50.0) == 0.04  # finding 16: 8 N·m on a tool that reaches 50
    assert permissible_deviation(8.0, 10.0) == 0.06
    assert permissible_deviation(8.0) == 0.06  # not known: the wider one
    assert permissible_deviation(40.0) == 0.04
    low = WRENCH(BASE | {"torque": "8 N*m"}, wrench_max="50 N*m", wrench_min="5 N*m")
    assert low["torque_low"] == pytest.approx(8 * 0.96)


def test_a_plan_says_when_the_calibration_of_its_wrench_is_not_known():
    typed = {"positions": [{"name": "1", "x": "0 mm", "y": "0 mm"}], "stages": "40 N*m", "stages_source": "page 3",
             "lubricant": "oil", "lubricant_where": "thread", "order": "1"}  # fmt: skip
    assert PLAN(typed).outcome == "pass"
    assert PLAN(typed, tools="TW-2").outcome == "no limit given"
    assert PLAN(typed, tools="TW-2", date_used="2026-11-20").outcome == "undecided"
    assert PLAN(typed, tools="TW-2", **DATES, calibration_source="certificate 12").outcome == "pass"


def test_a_range_is_judged_at_both_ends_of_every_stage():
    rng = random.Random(6)
    for _ in range(60):
        ends = sorted(rng.randrange(10, 130) for _ in range(4))
        stages = [(ends[0], ends[1]), (ends[2], ends[3])]
        typed = {"positions": [{"name": "1", "x": "0 mm", "y": "0 mm"}], "stages": [f"{a}–{b} N*m" if b > a else
                 f"{a} N*m" for a, b in stages], "stages_source": "page 3", "lubricant": "oil", "order": "1",
                 "lubricant_where": "thread", **RANGE}  # fmt: skip
        told = [c.outcome for c in PLAN(typed).checks if c.label.startswith("Settings")]
        inside = [20 <= v <= 100 for stage in stages for v in stage]
        assert (Outcome.FAIL in told) == (not all(inside))


def test_a_card_rounds_no_value_away():
    rows = CARD(kind="pressure", first="0.1 bar", last="0.5 bar", step="0.1 bar")["rows"]  # finding 28: "1 psi"
    assert rows[0]["psi"].value / 6894.757293168 == pytest.approx(1.45, rel=0.05)
    small = CARD(kind="roughness", first="0.01 um", last="0.02 um", step="0.01 um")["rows"]
    assert small[0]["uin"].value == pytest.approx(0.01e-6, rel=0.05)
    large = CARD(kind="pressure", first="2 bar", last="10 bar", step="4 bar")["rows"]
    assert all(r["kPa"].value == pytest.approx(r["lead"].value, rel=1e-9) for r in large)


def test_lengths_that_no_wrench_has_are_refused():
    with pytest.raises(BadInput, match="not plausible"):
        WRENCH(BASE | {"wrench_length": "40 m"})


# ------------------------------------------------------------------------------ a slow judge
@differential("wrench_setting")
def test_a_setting_equals_the_slow_judge():
    rng, seen = random.Random(12), set()
    for _ in range(CASES):
        L, E, M = rng.choice((300, 400)), rng.choice((0, 50, 100)), rng.randrange(20, 120)
        typed = {"torque": f"{M} N*m", "wrench_length": f"{L} mm", "adapter_length": f"{E} mm"}
        angles = {"0 deg": 1, "90 deg": 0, "180 deg": -1}
        choices = {"adapter_angle": list(angles), "wrench_min": ["20 N*m", "40 N*m"], "wrench_range_source": ["TW-2"],
                   "calibration_source": ["certificate 12"], "calibration_due": ["2026-11-19", "2026-11-20", "2027-03-01"]}  # fmt: skip
        some = {name: rng.choice(values) for name, values in choices.items() if rng.random() < 0.6}
        typed |= some | {"wrench_max": rng.choice(("80 N*m", "100 N*m")), "date_used": "2026-11-20"}
        turned = [angles[typed["adapter_angle"]]] if "adapter_angle" in typed else angles.values() if E else [1]
        settings = [Fraction(M * L, L + E * a) for a in turned]
        source = "wrench_range_source" in typed
        found = [judged(settings, "≤", int(typed["wrench_max"][:-4]), "allowed", source)]
        least = int(typed.get("wrench_min", "0 N*m")[:-4])
        found.append(judged(settings, "≥", least, "allowed", source) if least else "no limit given")
        due = typed.get("calibration_due")
        if due in (None, "2026-11-20"):
            found.append("undecided")
        else:
            source = "pass" if "calibration_source" in typed else "no limit given"
            found.append("fail" if due == "2026-11-19" else source)
        assert str(WRENCH(typed).outcome) == together(found), typed
        seen.add(together(found))
    assert len(seen) == 4


# ------------------------------------------------------------------------------ at the limits of the inputs
def takes(**more):
    try:
        WRENCH(BASE | more)
    except BadInput as error:
        return {p.field for p in error.problems}
    return set()


@pytest.mark.parametrize(
    ("name", "taken", "refused"),
    [
        ("wrench_length", ("20 mm", "3 m"), ("0 mm", "19 mm", "3.1 m")),
        ("adapter_length", ("0 mm", "1.5 m"), ("-1 mm", "1.51 m")),
        ("adapter_angle", ("-360 deg", "360 deg"), ("-361 deg", "361 deg", "367 deg")),
        ("torque", ("0.5 N*m",), ("0 N*m",)),
        ("deviation_percent", ("0.1 %", "99 %"), ("0 %", "100 %", "150 %")),
    ],
)
def test_the_ends_of_what_may_be_typed(name, taken, refused):
    for value in taken:
        assert takes(**{name: value}) <= ({"adapter_length"} if name == "wrench_length" else set()), value
    for value in refused:
        assert name in takes(**{name: value}), value


def test_the_range_of_the_wrench_at_its_ends():
    assert takes(wrench_max="0.5 N*m", wrench_min="0 N*m") == set()  # a wrench for small torques, from zero on
    assert takes(wrench_max="0 N*m") == {"wrench_max"}
    assert takes(wrench_max="20 N*m", wrench_min="-1 N*m") == {"wrench_min"}
    assert takes(wrench_max="20 N*m", wrench_min="20 N*m") == {"wrench_min"}
    assert takes(wrench_max="20 N*m", wrench_min="19 N*m") == set()
    assert takes(wrench_min="20 N*m") != set(), "a smallest value alone is no range"
    assert takes(wrench_max="20 N*m") == takes() == set(), "both may be left out"


def test_an_adapter_that_reaches_back_past_the_grip():
    """Common practice, no source: a lever below a twentieth of the wrench is no lever.  At 180° it is L − E."""
    back = {"wrench_length": "400 mm", "adapter_angle": "180 deg"}
    assert takes(**back, adapter_length="379 mm") == set()
    assert takes(**back, adapter_length="381 mm") == {"adapter_length"}
    assert takes(**back, adapter_length="420 mm") == {"adapter_length"}
    assert takes(wrench_length="400 mm", adapter_angle="0 deg", adapter_length="420 mm") == set()


def test_what_is_assumed_and_what_is_cautioned_about_the_adapter():
    def said(**more):
        result = WRENCH(BASE | more)
        return ["in line" in " ".join(result.assumptions), "along the bolt's axis" in " ".join(result.cautions),
                "exactly at 90°" in " ".join(result.cautions)]  # fmt: skip

    assert said() == [True, False, False]
    assert said(adapter_angle="0 deg") == [False, False, False]
    assert said(adapter_length="0 mm") == [False, True, False]
    assert said(adapter_angle="90 deg") == [False, False, True]
    assert said(adapter_angle="270 deg") == [False, False, True]
    assert said(adapter_angle="89 deg") == [False, False, False]


def test_the_numbers_beside_the_setting():
    """By hand: 80 N·m · 400/450 = 71.1 N·m; uncorrected 80 · 450/400 = 90 N·m, 12.5 % too much."""
    result = WRENCH(BASE | {"deviation_percent": "5 %", "adapter_angle": "0 deg"})
    values = [result[n] for n in ("setting", "uncorrected_torque", "over_torque", "torque_low", "torque_high")]
    assert values == pytest.approx([80 * 400 / 450, 90.0, 0.125, 76.0, 84.0])
    assert not result.assumptions


def test_a_setting_low_in_the_range_is_cautioned():
    """ISO 6789:2003 begins at a fifth of the largest value (quoted in the program)."""
    for torque, low in (("19 N*m", True), ("20 N*m", False), ("21 N*m", False)):
        result = WRENCH(BASE | {"torque": torque, "adapter_length": "0 mm", "wrench_max": "100 N*m"})
        assert ("a fifth" in " ".join(result.cautions)) == low, torque


def test_the_smallest_value_is_asked_for_only_where_it_is_missing():
    def remark(**more):
        (check,) = [c for c in WRENCH(BASE | more).checks if "smallest" in c.label]
        return check.remark

    assert "type " in remark(wrench_max="100 N*m")
    assert "range starts there" not in remark(wrench_max="100 N*m", wrench_min="20 N*m", adapter_angle="0 deg")
    assert not [c for c in WRENCH(BASE).checks if "range" in c.label], "without a largest value nothing is judged"


@pytest.mark.parametrize("adapter", ["400 mm", "420 mm"])
def test_an_adapter_as_long_as_the_wrench_can_be_square_but_not_turned_back(adapter):
    """By hand: square, 80 N·m is set at 80 N·m; turned back there is no lever left."""
    long = {"adapter_length": adapter, "wrench_min": "20 N*m", "wrench_range_source": "marked on TW-2"}

    def told(largest):  # within the range, then not below its smallest value
        return list(outcomes(**long, wrench_max=largest)[0].values())

    assert told("81 N*m") == [Outcome.PASS, Outcome.PASS]
    assert told("78 N*m") == [Outcome.UNDECIDED, Outcome.PASS]
