"""A reading against its stage: what a stage without a tolerance can say, and what it cannot."""

import math
import random
from fractions import Fraction

import pytest

from shoplib.core.checks import Outcome
from shoplib.core.tightening_program import read_stage
from shoplib.core.units import Unreadable
from shoplib.topics import get
from shoplib.topics.tightening.stage_reading import judge_reading
from tests.slow_judge import CASES, differential

SOURCE = "bench notes, sheet 3"
STAGE = get("stage_reading")
BAD = [Outcome.PASS, Outcome.UNDECIDED, Outcome.FAIL]


@pytest.mark.parametrize(
    ("stage", "reading", "outcome"),
    [
        ("40 N*m", "40.6 N*m", "undecided"),  # finding 10: was a fail, "or a new bolt"
        ("+90 deg", "92 deg", "undecided"),  # finding 10
        ("+90 deg", "95.5 deg", "undecided"),
        ("+90 deg", "95.6 deg", "fail"),
        ("40 N*m", "42.1 N*m", "undecided"),
        ("40 N*m", "42.3 N*m", "fail"),
        ("8 N*m", "9 N*m", "undecided"),  # up to 10 N·m the wrench may be off by 6 %
        ("60 N*m", "300 N*m", "fail"),  # finding 11
        ("+85–95 deg", "20 deg", "fail"),  # finding 11
        ("+85–95 deg", "104 deg", "fail"),
        ("+90 deg", "100 deg", "fail"),
        ("+90 deg ±5 deg", "92 deg", "pass"),
    ],
)
def test_a_stage_without_tolerance_fails_only_what_is_far_outside(stage, reading, outcome):
    result = get("stage_reading")(stage=stage, reading=reading, stages_source=SOURCE)
    assert result.outcome == outcome
    assert judge_reading(read_stage(stage), reading).outcome == outcome
    if outcome == "undecided":
        assert "new bolt" not in result["text"]
        assert any("type it with the stage" in c.remark for c in result.checks)


def test_the_source_and_the_deviation_are_only_named_where_they_were_typed():
    result = get("stage_reading")(stage="40 N*m", reading="40.6 N*m")
    assert all(c.limit_source is None for c in result.checks)
    assert any("not checked" in a for a in result.assumptions)
    typed = get("stage_reading")(stage="40 N*m", reading="40.6 N*m", instrument_deviation="4 %")
    assert not typed.assumptions
    assert get("stage_reading")(stage="+90 deg", reading="92 deg", instrument_deviation="1 deg").outcome == "fail"


def test_what_cannot_be_read_is_refused_in_its_own_field():
    for more, field in (({"reading": "x"}, "reading"), ({"instrument_deviation": "4 bar"}, "instrument_deviation")):
        with pytest.raises(ValueError, match=f"^{field}:"):
            get("stage_reading")({"stage": "40 N*m", "reading": "40 N*m", **more})
    with pytest.raises(Unreadable, match="below zero"):
        judge_reading(read_stage("+90 deg"), "-4 deg")


def slow(kind, low, high, half, off, reading):
    """Obviously right, in fractions: every value that the reading may stand for, against every value of the stage."""
    if kind == "minimum":
        return Outcome.PASS if reading >= low else Outcome.FAIL
    if kind == "range":
        return Outcome.PASS if low <= reading <= high else Outcome.FAIL
    if low - half <= reading <= low + half:
        return Outcome.PASS
    possible = [reading + off * Fraction(k, 100) for k in range(-100, 101)]
    return Outcome.UNDECIDED if any(low - half <= x <= low + half for x in possible) else Outcome.FAIL


@differential("stage_reading")
def test_the_rule_equals_a_slow_judge_on_random_readings():
    rng = random.Random(15)
    for _ in range(CASES):
        kind = rng.choice(["plain", "range", "minimum"])
        places = rng.choice([0, 1])
        low = Fraction(rng.randrange(11 * 10**places, 120 * 10**places), 10**places)
        high = low + rng.randrange(1, 9)
        reading = low + Fraction(rng.randrange(-120, 120), 10)
        text = {
            "plain": f"{float(low):.{places}f} N*m",
            "range": f"{float(low)}–{float(high)} N*m",
            "minimum": f"check >= {float(low)} N*m",
        }
        if reading <= 0:
            continue
        result = STAGE(stage=text[kind], reading=f"{float(reading)} N*m", stages_source=SOURCE)
        half, off = Fraction(1, 2 * 10**places), reading * Fraction(4, 100)
        assert result.outcome is slow(kind, low, high, half, off, reading), (text[kind], float(reading))


def test_more_deviation_and_a_worse_reading_never_help():
    stage = read_stage("+90 deg")
    for tenths in range(900, 1100, 3):
        found = [judge_reading(stage, f"{tenths / 10} deg", f"{d} deg").outcome for d in (1, 2, 5, 9)]
        ranks = [BAD.index(x) for x in found]
        assert ranks == sorted(ranks, reverse=True)  # only a fail may become undecided
        assert Outcome.PASS not in found or set(found) == {Outcome.PASS}
    worse = [BAD.index(judge_reading(stage, f"{t / 10} deg").outcome) for t in range(900, 1100, 3)]
    assert worse == sorted(worse)
    assert math.isinf(judge_reading(read_stage("wait 10 min"), "20 min").high)


# ------------------------------------------------------------------------------ peak torques
def test_a_peak_torque_is_judged_with_its_uncertainty():
    typed = {"readings": "100 N*m; 100 N*m; 115 N*m", "peak_tolerance": "15 %", "peak_tolerance_source": SOURCE}
    peak = get("peak_torque")
    assert peak(typed).outcome == "undecided"  # 15 % from the middle, with half a digit either way
    assert peak(typed, peak_tolerance="17 %").outcome == "pass"
    assert peak(typed, peak_tolerance="13 %").outcome == "fail"
    assert peak(typed, peak_tolerance="17 %", resolution="5 N*m").outcome == "undecided"
    assert all(c.uncertainty is not None for c in peak(typed).checks)
