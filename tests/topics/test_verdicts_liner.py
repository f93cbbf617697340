"""Liner protrusion against the slow judge; a leak as a hole and residual torque by hand."""

import itertools
import math
import random

import pytest

from shoplib.core.errors import BadInput
from shoplib.topics import get
from tests.slow_judge import CASES, differential, exact, judged, together

LINERS, LEAK, RESIDUAL = map(get, ("liner_protrusion", "leak_orifice", "residual_torque"))
SOURCE = "bench notes of the teaching workshop, sheet 24"
TWO = [
    {"liner": "1", "place_1": "0.06 mm", "place_2": "0.08 mm"},
    {"liner": "2", "place_1": "0.04 mm", "place_2": "0.05 mm"},
]


def test_liners_by_hand():
    found = LINERS(liners=TWO, places="2")
    assert found["largest_step"] == pytest.approx(0.025e-3)  # means 0.070 and 0.045 mm
    assert (found["lowest"], found["highest"]) == pytest.approx((0.04e-3, 0.08e-3))
    assert [row["spread"].value for row in found["each"]] == pytest.approx([0.02e-3, 0.01e-3])


def test_liners_of_two_banks_are_no_neighbours():
    banks = [{**row, "bank": bank} for row, bank in zip(TWO, "AB", strict=True)]
    found = LINERS(liners=banks, places="2", maximum_step="0.01 mm", maximum_step_source=SOURCE)
    assert found["largest_step"] is None and str(found.outcome) == "undecided"


@pytest.mark.parametrize(
    ("rows", "places", "field"),
    [
        ([{"liner": "1", "bank": "A"}], "2", "liners[1].place_1"),
        (TWO, "1", "liners[1].place_2"),
        (TWO * 13, "2", "liners"),
    ],
)
def test_liners_that_cannot_be_read_are_named(rows, places, field):
    with pytest.raises(BadInput) as caught:
        LINERS(liners=rows, places=places)
    assert field in {p.field for p in caught.value.problems}


@differential("liner_protrusion")
def test_liners_equal_the_slow_judge():
    rng, seen = random.Random(39), set()
    for _ in range(CASES):
        rows = [{"liner": str(k), "place_1": f"{rng.randint(3, 10) / 100:.2f} mm", "place_2": f"{rng.randint(30, 100) / 1000:.3f} mm"}
                for k in range(1, rng.randint(2, 4))]  # fmt: skip
        lost = rng.random() < 0.1
        if lost:
            del rows[0]["place_2"]
        typed = {"liners": rows, "places": "2"}
        typed |= {"resolution": "0.01 mm"} if (coarse := rng.random() < 0.3) else {}
        limits = {"minimum_protrusion": ("≥", 20, 60), "maximum_protrusion": ("≤", 70, 120), "maximum_step": ("≤", 5, 60),
                  "maximum_spread": ("≤", 10, 80)}  # fmt: skip
        limits = {n: x for n, x in limits.items() if rng.random() < 0.5}
        for name, (_, low, high) in limits.items():
            typed[name] = f"{rng.randint(low, high) / 1000:.3f} mm"
            typed |= {f"{name}_source": SOURCE} if rng.random() < 0.85 else {}
        typed |= {"at_limit": "allowed"} if rng.random() < 0.5 else {}
        typed |= {"decision_rule": "simple_acceptance"} if (simple := rng.random() < 0.3) else {}
        boxes = []
        for row in rows:
            read = [exact(row[n]) for n in ("place_1", "place_2") if n in row]
            boxes.append([(x, 0 if simple else exact("0.01 mm")[1] if coarse else h) for x, h in read])
        if not limits:
            continue
        expected = []
        for name, (sign, *_) in limits.items():
            bound, _ = exact(typed[name])
            if name.endswith("protrusion"):
                worst = min if sign == "≥" else max
                every = [b for box in boxes for b in box]
                values = [worst(x + k * h for x, h in every) for k in (-1, 0, 1)]
            elif name == "maximum_step":
                if len(rows) < 2:
                    expected.append("undecided")
                    continue
                means = [(sum(x for x, _ in box) / len(box), sum(h for _, h in box) / len(box)) for box in boxes]
                apart = [(abs(a - c), b + d) for (a, b), (c, d) in itertools.pairwise(means)]
                values = [max(x + k * h for x, h in apart) for k in (-1, 0, 1)]
            else:
                uneven = [
                    (max(x for x, _ in box) - min(x for x, _ in box), 2 * max(h for _, h in box)) for box in boxes
                ]
                values = [max(x + k * h for x, h in uneven) for k in (-1, 0, 1)]
            expected.append(judged(values, sign, bound, typed.get("at_limit"), f"{name}_source" in typed, missing=lost))
        seen.add(together(expected))
        assert str(LINERS(typed).outcome) == together(expected), (typed, expected)
    assert seen == {"fail", "undecided", "no limit given", "pass"}


# ------------------------------------------------------------------------------ a leak as a hole
def flow(area, before, after, steps=20000):
    """Air through a hole by another way: speed from the enthalpy given up, the largest flow along the expansion."""
    R, T, kappa = 287.05, 293.15, 1.4
    best = 0.0
    for k in range(1, steps + 1):
        p = before - (before - after) * k / steps
        T_2 = T * (p / before) ** ((kappa - 1) / kappa)
        speed = math.sqrt(2 * R * kappa / (kappa - 1) * (T - T_2))
        best = max(best, area * p / (R * T_2) * speed)
    return best


@pytest.mark.parametrize(("supply", "cylinder"), [(6.0, 5.1), (6.0, 2.0), (2.0, 0.5), (7.0, 6.9)])
def test_the_same_air_flows_through_both_holes(supply, cylinder):
    found = LEAK(supply=f"{supply} bar", cylinder=f"{cylinder} bar", orifice_diameter="1.0 mm")
    p_1, p_2, p_a = ((x + 1.013) * 1e5 for x in (supply, cylinder, 0.0))
    through_tester = flow(math.pi / 4 * 1e-6, p_1, p_2)
    assert flow(found["leak_area"], p_2, p_a) == pytest.approx(through_tester, rel=1e-4)
    assert found["leak_diameter"] == pytest.approx(math.sqrt(4 * found["leak_area"] / math.pi))


def test_a_tester_without_a_drop_shows_no_leak():
    with pytest.raises(BadInput):
        LEAK(supply="6 bar", cylinder="6 bar", orifice_diameter="1 mm")


def test_residual_torque_is_recorded_and_not_judged():
    rows = [{"bolt": str(k), "torque": f"{x} N*m"} for k, x in enumerate((52, 47, 55), 1)]
    found = RESIDUAL(method="first movement, loosening", readings=rows, assembly_torque="65 N*m")
    assert (found["median"], found["lowest_bolt"], found["part_of_assembly"]) == (52, "2", pytest.approx(0.8))
    assert found.outcome is None and any("loosening" in c for c in found.cautions)
