"""Coolant over the whole range of capacity, residual, target and product: nothing lost, nothing impossible."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from shoplib import topics as workings
from shoplib.core.errors import BadInput
from shoplib.physics import coolant_mix as mix
from shoplib.physics import coolant_properties

FILL, CORRECT = workings.get("coolant_fill"), workings.get("coolant_correct")
capacities = st.floats(0.5, 200.0)  # litres
parts = st.floats(0.02, 1.0)
strengths = st.floats(0.0, 1.0)
products = st.floats(0.05, 1.0)
glycols = st.sampled_from(coolant_properties.GLYCOLS)
PATIENT = settings(deadline=None)  # the first call reads tables and loads SciPy


def follow(plan, V, held, c_0, c_p):
    """Carry the plan out drop by drop: (volume, glycol in it, glycol poured, glycol drained)."""
    volume, glycol, poured, drained = held, held * c_0, 0.0, 0.0
    for p in plan:
        assert -1e-15 <= p.drain <= volume * (1 + 1e-12)
        out = p.drain * glycol / volume
        drained += out
        glycol += p.product * c_p - out
        poured += p.product * c_p
        volume += p.product + p.water - p.drain
        assert volume == pytest.approx(V, rel=1e-12)
        assert glycol / volume == pytest.approx(p.strength, abs=1e-12)
    return volume, glycol, poured, drained


@given(capacities, parts, strengths, strengths, products)
@PATIENT
def test_a_fill_and_its_drains_balance(V, part, c_r, c_t, c_p):
    V_d = V * part
    first = mix.fill(V, V_d, c_r, c_t, c_p)
    more, done = mix.swaps(V, V_d, first.strength, c_t, c_p, at_most=12)
    plan = [first, *more]
    for p in plan:
        assert min(p.drain, p.product, p.water) >= 0
        assert max(p.drain, p.product, p.water) <= V_d * (1 + 1e-12)
    held = V - V_d
    if held <= 0:
        held = 1e-300
    volume, glycol, poured, drained = follow(plan, V, held, c_r, c_p)
    assert abs(held * c_r + poured - drained - glycol) <= 1e-12 * V
    if done:
        assert glycol / volume == pytest.approx(c_t, abs=1e-12)
    low, high = mix.reach_of_fill(V, V_d, c_r, c_p)
    assert low - 1e-12 <= first.strength <= high + 1e-12
    if low <= c_t <= high:
        assert not more


@given(capacities, parts, strengths, strengths, products)
@PATIENT
def test_drains_come_nearer_every_time(V, part, c_m, c_t, c_p):
    plan, _ = mix.swaps(V, V * part, c_m, c_t, c_p, at_most=12)
    assume(c_m <= c_p or c_t < c_m)
    gaps = [abs(c_m - c_t), *(abs(p.strength - c_t) for p in plan)]
    if c_t <= c_p:
        assert all(b <= a + 1e-15 for a, b in itertools.pairwise(gaps))


@given(capacities, parts, strengths, strengths, products)
@settings(PATIENT, max_examples=60)
def test_the_working_keeps_what_it_promises(V, part, c_r, c_t, c_p):
    typed = {
        "capacity": f"{V!r} L",
        "drained": f"{V * part!r} L",
        "residual_concentration": f"{100 * c_r!r} %",
        "target": f"{100 * c_t!r} %",
        "product_concentration": f"{100 * c_p!r} %",
    }
    try:
        result = FILL(typed)
    except BadInput as error:
        assert {p.field for p in error.problems} == {"target", "product_concentration"}
        assert c_p < c_t
        return
    assert abs(result["closing_residual"]) <= 1e-12
    room = V * part * 1e-3
    assert result["product"] + result["water"] == pytest.approx(room, rel=1e-9)
    assert result["product"] >= 0 and result["water"] >= 0
    assert result["reachable"] == ("steps_needed" in result.values and result["steps_needed"] == 1)


@given(capacities, st.floats(0.01, 1), st.floats(0.01, 1), products)
@settings(PATIENT, max_examples=40)
def test_units_do_not_change_the_plan(V, part, c_t, c_p):
    assume(c_t <= c_p)
    sizes = {"L": 1.0, "US qt": 0.946352946, "imperial gal": 4.54609, "mL": 1e-3}
    found = []
    for unit, litres in sizes.items():
        result = FILL(
            capacity=f"{V / litres!r} {unit}",
            drained=f"{V * part / litres!r} {unit}",
            target=f"{100 * c_t!r} %",
            product_concentration=f"{100 * c_p!r} %",
        )
        found.append((result["product"], result["water"], result["best_possible"]))
    np.testing.assert_allclose(found, [found[0]] * len(found), rtol=1e-9, atol=1e-12)


@given(capacities, strengths, strengths, products)
@settings(PATIENT, max_examples=60)
def test_correcting_in_one_go(V, c_m, c_t, c_p):
    typed = {
        "capacity": f"{V!r} L",
        "measured": f"{100 * c_m!r} %",
        "target": f"{100 * c_t!r} %",
        "product_concentration": f"{100 * c_p!r} %",
    }
    try:
        result = CORRECT(typed)
    except BadInput as error:
        assert {p.field for p in error.problems} == {"target", "product_concentration"}
        assert c_m < c_t
        assert c_p < c_t
        return
    x = result["swap"] * 1e3
    assert 0 <= x <= V * (1 + 1e-9)
    other = c_p if result["swap_with"] == "product" else 0.0
    assert ((V - x) * c_m + x * other) / V == pytest.approx(c_t, abs=1e-9)


# ------------------------------------------------------------------------------ properties of the mixture
@given(glycols, st.floats(0, 0.6), st.floats(0, 0.6))
@PATIENT
def test_more_glycol_freezes_later_and_boils_later(glycol, a, b):
    low, high = sorted((a, b))
    assume(high - low > 1e-6)
    assert coolant_properties.freezing_point(glycol, high) < coolant_properties.freezing_point(glycol, low)
    w = coolant_properties.as_poured(glycol, np.array([low, high]))
    first, second = coolant_properties.boiling_point(glycol, w, 101325.0)
    assert second > first


@given(glycols, st.floats(0, 0.6))
@PATIENT
def test_freezing_point_back_to_strength(glycol, v):
    back = coolant_properties.strength_from_freezing(glycol, float(coolant_properties.freezing_point(glycol, v)))
    assert back == pytest.approx(v, abs=1e-9)


@given(glycols, st.floats(0, 0.6))
@PATIENT
def test_mass_and_volume_there_and_back(glycol, v):
    assert coolant_properties.volume_fraction(
        glycol, float(coolant_properties.mass_fraction(glycol, v))
    ) == pytest.approx(v, abs=1e-9)


@given(glycols, st.floats(0, 0.6), st.floats(20e3, 400e3))
@PATIENT
def test_the_boiling_point_closes(glycol, v, p):
    w = coolant_properties.as_poured(glycol, v)
    T = float(coolant_properties.boiling_point(glycol, w, p))
    x_w = coolant_properties.water_mole_fraction(w, coolant_properties.M_WATER, coolant_properties.molar_mass(glycol))
    assert coolant_properties.mixture_vapour_pressure(
        x_w, *coolant_properties.vapour_pressures(glycol, T)
    ) == pytest.approx(p, rel=1e-11)


@given(glycols, st.floats(0, 0.6), st.floats(273.15, 373.15))
@PATIENT
def test_density_back_to_strength(glycol, v, T):
    rho = coolant_properties.density(glycol, v, T)
    assert coolant_properties.strength_from_density(glycol, rho, T) == pytest.approx(v, abs=1e-7)


@given(glycols, st.floats(0.01, 20), st.floats(0.01, 20))
@PATIENT
def test_mixing_never_swells(glycol, glycol_litres, water_litres):
    assume(glycol_litres / (glycol_litres + water_litres) < 0.6)
    lost = coolant_properties.contraction(glycol, [(glycol_litres * 1e-3, 1.0), (water_litres * 1e-3, 0.0)])
    whole = (glycol_litres + water_litres) * 1e-3
    assert -2e-4 * whole <= lost <= 0.03 * whole


# ------------------------------------------------------------------------------ bottles
@given(st.floats(0.0, 60.0), st.lists(st.sampled_from([0.5, 1.0, 2.0, 2.5, 4.0, 5.0, 20.0]), min_size=1, max_size=3))
@PATIENT
def test_bottles_are_enough_and_none_too_many(need, sizes):
    counts, total = mix.bottles(need, sizes)
    held = sum(n * s for n, s in zip(counts, sizes, strict=True))
    assert held == pytest.approx(total)
    assert held >= need - 1e-9
    for n, s in zip(counts, sizes, strict=True):
        assert n >= 0
        if n:
            assert held - s < need + 1e-9
    # no other purchase leaves less: look at every multiple of half a litre up to what was found
    step = math.gcd(*(round(2 * s) for s in sizes)) / 2
    assert held - need < max(sizes) + step
