"""Strength by a coolant's own table: by hand, and against the slow judge."""

import random

import pytest

from shoplib.core.errors import BadInput
from shoplib.topics import get
from tests.slow_judge import CASES, differential, judged, together

TABLE = get("coolant_table")
SOURCE = "bench notes of the teaching workshop, sheet 25"
COLUMNS = {20: ((30, 1.040, -16), (40, 1.055, -25), (50, 1.070, -37), (60, 1.085, -50)),
           40: ((30, 1.031, -16), (40, 1.045, -25), (50, 1.059, -37), (60, 1.073, -50))}  # fmt: skip
ROWS = [{"temperature": f"{T}.0 degC", "strength": f"{c}.0 %", "value": f"{x:.4f}", "protects_to": f"{p}.0 degC"}
        for T, rows in COLUMNS.items() for c, x, p in rows]  # fmt: skip
TYPED = {"contents": "only the coolant of this table", "instrument": "relative density (hydrometer)", "rows": ROWS,
         "table_source": SOURCE}  # fmt: skip


def strength(reading, T):
    """Per cent, straight between rows and temperatures."""
    found = []
    for rows in COLUMNS.values():
        k = next((n for n in range(2) if reading <= rows[n + 1][1]), 2)
        (a, x, _), (b, y, _) = rows[k : k + 2]
        found.append(a + (b - a) * (reading - x) / (y - x))
    return found[0] + (found[1] - found[0]) * (T - 20) / 20


def protection(c):
    rows = COLUMNS[20]
    k = next((n for n in range(2) if c <= rows[n + 1][0]), 2)
    (a, _, p), (b, _, q) = rows[k : k + 2]
    return p + (q - p) * (c - a) / (b - a)


def test_by_hand():
    # 1.0625 at 20 °C: half way from 40 to 50 %; halfway protection −31 °C
    found = TABLE(TYPED, reading="1.0625", sample_temperature="20 degC")
    assert found["strength"] == pytest.approx(0.45)
    assert found["protects_to"] == pytest.approx(273.15 - 31)
    # at 30 °C 1.0625 lies between 45 % and 52.5 %
    assert TABLE(TYPED, reading="1.0625", sample_temperature="30 degC")["strength"] == pytest.approx(0.4875)


@pytest.mark.parametrize("contents", ["mixed with another", "not known"])
def test_a_mixture_is_refused_with_the_reason(contents):
    with pytest.raises(BadInput, match="one reading belongs to many mixtures"):
        TABLE({**TYPED, "contents": contents}, reading="1.0625", sample_temperature="20 degC")


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"reading": "1.030"}, "reading"),
        ({"sample_temperature": "50 degC"}, "sample_temperature"),
        ({"rows": ROWS[:4], "sample_temperature": "25 degC"}, "sample_temperature"),
        ({"rows": ROWS[:2]}, "rows"),
        ({"rows": [*ROWS[:3], {**ROWS[3], "value": "1.0500"}]}, "rows"),
        ({"reading": "12 brix"}, "reading"),
    ],
)
def test_what_the_table_does_not_cover_is_refused(more, field):
    with pytest.raises(BadInput) as caught:
        TABLE({**TYPED, "reading": "1.0625", "sample_temperature": "20 degC", **more})
    assert field in {p.field for p in caught.value.problems}


@differential("coolant_table")
def test_a_table_equals_the_slow_judge():
    rng, seen = random.Random(40), set()
    for _ in range(CASES):
        reading, T = round(rng.uniform(1.0405, 1.0725), 4), round(rng.uniform(20, 40), 1)
        typed = {**TYPED, "reading": f"{reading:.4f}", "sample_temperature": f"{T:.1f} degC"}
        half_reading = 0.00005
        if rng.random() < 0.4:
            typed["resolution"], half_reading = "0.001", 0.0005
        middle = strength(reading, T)
        near = [strength(reading + a, T + b) for a in (-half_reading, half_reading) for b in (-0.05, 0.05)]
        half = max(abs(x - middle) for x in near)
        # the digits of the table: half of 0.0001 along its slope, half of 0.1 %; the rows lie on straight lines
        half += 0.00005 * max(10 / 0.015, 10 / 0.014) + 0.05
        limits = {"minimum_strength": ("≥", f"{rng.uniform(30, 52):.1f} %"), "maximum_strength": ("≤", f"{rng.uniform(42, 62):.1f} %"),
                  "needed_protection": ("≤", f"{rng.uniform(-40, -18):.1f} degC")}  # fmt: skip
        limits = {n: x for n, x in limits.items() if rng.random() < 0.6}
        for name, (_, text) in limits.items():
            typed[name] = text
            typed |= {f"{name}_source": SOURCE} if rng.random() < 0.85 else {}
        typed |= {"at_limit": "allowed"} if rng.random() < 0.6 else {}
        simple = rng.random() < 0.3
        typed |= {"decision_rule": "simple_acceptance"} if simple else {}
        if not limits:
            continue
        expected, doubtful = [], False
        for name, (sign, text) in limits.items():
            bound = float(text.split()[0])
            u = half
            value = middle
            if name == "needed_protection":
                ends = [middle - half, middle + half]
                inside = [c for c, *_ in COLUMNS[20] if ends[0] < c < ends[1]]
                value, u = protection(middle), max(abs(protection(c) - protection(middle)) for c in (*ends, *inside))
            u = 0.0 if simple else u
            lost = name == "needed_protection" and not 30 <= middle - half <= middle + half <= 60
            doubtful |= any(abs(value + k * u - bound) < 0.02 for k in (-1, 0, 1))
            doubtful |= name == "needed_protection" and min(abs(middle - half - 30), abs(middle + half - 60)) < 0.02
            expected.append(judged([value - u, value, value + u], sign, bound, typed.get("at_limit"),
                                   f"{name}_source" in typed, missing=lost))  # fmt: skip
        try:
            found = TABLE(typed)
        except BadInput as error:  # at one of the two temperatures outside
            assert {p.field for p in error.problems} == {"reading"} and not 1.0400 <= reading <= 1.0730
            continue
        assert found["strength"] == pytest.approx(middle / 100, abs=1e-9)
        assert found["strength_uncertainty"] == pytest.approx(half / 100, rel=0.05)
        if not doubtful:
            seen.add(together(expected))
            assert str(found.outcome) == together(expected), (typed, expected)
    assert seen == {"fail", "undecided", "no limit given", "pass"}
