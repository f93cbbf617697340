"""A trace against its stage and the intention: a slow judge looks at every value that the trace allows."""

import random
from fractions import Fraction

from shoplib.topics import get
from tests.slow_judge import CASES, differential, judged

TRACE = get("torque_angle_trace")


def ramp(start, end, slope, bend=None, less=0.1):
    """A trace without noise: straight from ``start`` degrees on, with a fraction of the slope beyond ``bend``."""
    rows, torque = [], 0.5
    for x in range(0, end + 1):
        if x > start:
            torque += slope * (less if bend is not None and x > bend else 1)
        rows.append(f"{x};{torque:.3f}")
    return "angle_deg;torque_Nm\n" + "\n".join(rows)


@differential("torque_angle_trace")
def test_the_checks_equal_a_slow_judge():
    rng, seen = random.Random(21), set()
    for _ in range(min(CASES, 120)):
        start, slope = rng.randint(8, 20), rng.choice((0.5, 0.8, 1.2))
        end = start + rng.randint(60, 110)
        threshold = rng.choice((10, 15, 20))
        low, width = rng.randint(30, 90), rng.choice((2, 10, 30))
        dev, source = rng.choice((0, 1, 3)), rng.choice(("", "page 4"))
        typed = {"trace": ramp(start, end, slope), "threshold": f"{threshold} N*m",
                 "stage": f"+{low}–{low + width} deg", "angle_deviation": f"{dev} deg", "torque_deviation": "0 %"}  # fmt: skip
        if source:
            typed["stages_source"] = source
        if missing := rng.random() < 0.2:
            del typed["angle_deviation"]
        result = TRACE(typed)
        turned = end - (start + (Fraction(threshold) - Fraction("0.5")) / Fraction(str(slope)))
        assert abs(result.values["angle_from_threshold"].unit.from_si(result["angle_from_threshold"]) - turned) < 0.1
        for check, sign, bound in zip(result.checks, "≥≤", (low, low + width), strict=True):
            off = abs(turned - bound)
            if off < 6 and not (dev == 3 and not missing and off < 2):  # too near for a judge without its uncertainty
                continue
            half = 3 if dev == 3 and not missing else 0
            values = [turned - half, turned, turned + half]
            wanted = judged(values, sign, bound, at_limit="allowed", source=bool(source), missing=missing)
            assert check.outcome == wanted, (typed, check.as_line())
            seen.add(str(check.outcome))
    assert seen == {"pass", "fail", "undecided", "no limit given"}


def test_the_intention_is_judged_by_the_slope():
    straight, bent = ramp(10, 90, 1.0), ramp(10, 110, 1.0, bend=70)
    for trace, intention, source, outcome in (
        (straight, "elastic", "page 4", "pass"),
        (straight, "elastic", None, "no limit given"),
        (straight, "past elastic", "page 4", "fail"),
        (bent, "past elastic", "page 4", "pass"),
        (bent, "elastic", "page 4", "fail"),
        ("angle_deg;torque_Nm\n" + "\n".join(f"{10 * k};{8 * k}" for k in range(9)), "elastic", "page 4", "undecided"),
    ):
        more = {"intention_source": source} if source else {}
        assert TRACE(trace=trace, intention=intention, **more).outcome == outcome
