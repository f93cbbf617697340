"""Coolant and its table, typed exactly at a limit: what is said, and how it is judged.

Expected numbers are arithmetic with the tables of the handbook (``shoplib.physics.coolant_properties``), which have tests of their own.
"""

import numpy as np
import pytest

from shoplib.core.checks import Outcome
from shoplib.physics import coolant_properties as properties
from shoplib.topics.coolant.coolant_inputs import _ends
from shoplib.topics.coolant.coolant_table import Column
from tests.topics.typed_inputs import refused, run


# ------------------------------------------------------------------------------ filling and correcting
def test_a_weak_product_does_not_matter_where_nothing_is_to_be_done():
    """The strength is right already; or old coolant is stronger than wanted, and 2.25 L of 40 % give 50 %."""
    r = run("coolant_correct", measured="50 %", product_concentration="40 %")
    assert r["advice"] == "Nothing to drain: the strength is right."
    r = run("coolant_fill", drained="3 L", residual_concentration="60 %", product_concentration="40 %")
    assert r["advice"] == "Pour in 2.25 L of product and 0.750 L of water."


def test_a_product_that_is_not_used_does_not_hide_the_shrinkage():
    """No table has a mixture of 80 %."""
    more = {"product_concentration": "80 %", "glycol": "ethylene"}
    assert run("coolant_correct", measured="50 %", **more)["contraction"] == 0
    assert "contraction" not in run("coolant_correct", measured="49 %", **more).values


@pytest.mark.parametrize(("product", "words"), [
    ("50 %", "Draining again never reaches 50.0 vol %: use a stronger product."),
    ("50.1 %", "Draining again never reaches 50.0 vol %: drain more, or use a stronger product."),
])  # fmt: skip
def test_a_product_of_the_strength_wanted_never_reaches_it(product, words):
    more = {"drained": "0.5 L", "residual_concentration": "20 %", "product_concentration": product}
    assert run("coolant_fill", **more)["advice"].endswith(words)


# ------------------------------------------------------------------------------ a reading of an instrument
@pytest.mark.parametrize("glycol", ["ethylene", "propylene"])
def test_the_ends_of_the_freezing_table_belong_to_it(glycol):
    coldest = properties.coldest_freezing(glycol)
    assert _ends(glycol, properties.ZERO, coldest) == (0, pytest.approx(0.6))
    assert _ends(glycol, properties.ZERO + 1e-6, coldest - 1e-6) == (0, None)


def test_half_of_the_last_digit_is_in_the_unit_that_was_read():
    """−13 °F are −25 °C; half a degree Fahrenheit is 0.28 K, and with 3 K it protects to −21.72 °C."""
    assert run("coolant_reading", value="-13 degF")["freezing_point_safe"] == pytest.approx(273.15 - 21.7)
    assert run("coolant_reading", value="-25 degC")["freezing_point_safe"] == pytest.approx(273.15 - 21.5)


def test_a_refractive_index_is_uncertain_by_half_of_its_last_digit_and_3_kelvin():
    def frozen(index):
        return properties.freezing_point("ethylene", properties.strength_from_index("ethylene", index))

    more = {"instrument": "refractive_index", "temperature": "20 degC"}
    r = run("coolant_reading", **more, value="1.37")
    for name, freezes in (("concentration_low", frozen(1.365) + 3), ("concentration_high", frozen(1.375) - 3)):
        assert r[name] == pytest.approx(properties.strength_from_freezing("ethylene", freezes))
    r = run("coolant_reading", **more, value="1.333")  # water has 1.3330; half a digit below there is no table
    assert (r["concentration_low"], r["freezing_point_safe"]) == (0, properties.ZERO)


@pytest.mark.parametrize(("glycol", "value", "half"), [("ethylene", "1.065", 0.0005), ("propylene", "1.03", 0.005)])
def test_a_hydrometer_is_uncertain_by_twice_what_inhibitors_may_do(glycol, value, half):
    more = {"glycol": glycol, "instrument": "relative_density", "temperature": "20 degC"}
    r = run("coolant_reading", **more, value=value, reference_temperature="20 degC")
    water, T = properties.water_density(293.15), 293.15
    rho, v = float(value) * water, r["concentration"]
    assert v == pytest.approx(properties.strength_from_density(glycol, rho, T))
    rise = abs(rho - properties.uninhibited_density(glycol, v))
    for name, shifted in (("low", rho - 2 * rise - half * water), ("high", rho + 2 * rise + half * water)):
        assert r[f"concentration_{name}"] == pytest.approx(properties.strength_from_density(glycol, shifted, T))
    protects = properties.freezing_point(glycol, r["concentration_low"]) + 3
    assert r["freezing_point_safe"] == pytest.approx(protects, abs=0.1)
    (step,) = r.steps
    assert (step.title, step.digits) == ("Density of the sample", 5)


def test_a_hydrometer_that_shows_almost_water_may_show_water():
    more = {"instrument": "relative_density", "temperature": "20 degC", "reference_temperature": "20 degC"}
    r = run("coolant_reading", **more, value="1.00")
    assert (r["concentration_low"], r["freezing_point_safe"]) == (0, properties.ZERO)


# ------------------------------------------------------------------------------ the table of a coolant
def rows(*temperatures, values=("1.048", "1.062", "1.076"), strengths=(30, 40, 50), protects=(-16, -25, -37)):
    """A table with the same three strengths at each temperature, and readings 0.01 lower at each further one."""
    return [
        {"temperature": f"{t} degC", "strength": f"{c} %", "value": f"{float(v) - 0.01 * k:.3f}",
         "protects_to": f"{p} degC" if p is not None else ""}
        for k, t in enumerate(temperatures)
        for v, c, p in zip(values, strengths, protects, strict=True)
    ]  # fmt: skip


@pytest.mark.parametrize(("sample", "strength"), [
    ("10 degC", 0.40), ("15 degC", 0.40 + 0.005 / 0.014 * 0.10), ("20 degC", 0.40 + 0.010 / 0.014 * 0.10),
    ("25 degC", 0.40 + 0.005 / 0.014 * 0.10), ("30 degC", 0.40),
])  # fmt: skip
def test_a_strength_between_the_temperatures_next_to_the_sample(sample, strength):
    """1.062 at 10 °C; 0.01 less at 20 °C, so 1.052 has 40 % there; at 30 °C the row of 10 °C once more (arithmetic)."""
    table = rows(10, 20)
    table += [{**row, "temperature": "30 degC"} for row in table[:3]]
    r = run("coolant_table", rows=table, reading="1.062", sample_temperature=sample)
    assert r["strength"] == pytest.approx(strength)


@pytest.mark.parametrize("sample", ["9 degC", "31 degC"])
def test_a_sample_outside_the_temperatures_is_refused(sample):
    assert refused("coolant_table", rows=rows(10, 20, 30), sample_temperature=sample).keys() == {"sample_temperature"}


@pytest.mark.parametrize(("values", "strengths"), [
    (("1.048", "1.062", "1.062"), (30, 40, 50)), (("1.048", "1.062", "1.061"), (30, 40, 50)),
    (("1.048", "1.062", "1.076"), (30, 40, 40)),
])  # fmt: skip
def test_a_table_must_rise_at_each_row(values, strengths):
    assert (
        "does not rise at 20.0 °C"
        in refused("coolant_table", rows=rows(20, values=values, strengths=strengths))["rows"]
    )


def test_a_table_with_a_bend_is_less_sure_than_a_straight_one():
    """What the digits may do: 0.001 ÷ 2 along 0.1 ÷ 0.01, and 0.01 ÷ 2; a bend adds to it."""
    readings = np.array([1.04, 1.05, 1.06])
    straight, bent = (Column("", 293.15, readings, np.array(c)) for c in ([0.3, 0.4, 0.5], [0.3, 0.4, 0.55]))
    assert straight.doubt(1.045, 0.0005, 0.005) == pytest.approx(0.01)
    assert bent.doubt(1.045, 0.0005, 0.005) > 0.011


def test_the_coarsest_digit_of_a_table_counts():
    fine = rows(20)
    coarse = [{**fine[0], "value": "1.05"}, *fine[1:]]
    half = [run("coolant_table", rows=r, reading="1.065")["strength_uncertainty"] for r in (fine, coarse)]
    assert half[1] - half[0] == pytest.approx((0.005 - 0.0005) * 0.1 / 0.014, rel=0.2)


NEEDED = {"needed_protection": "-20 degC", "needed_protection_source": "notes", "sample_temperature": "20 degC"}


def protection(reading, table, **more):
    (check,) = run("coolant_table", rows=table, reading=reading, **NEEDED | more).checks
    return check


@pytest.mark.parametrize(
    ("reading", "told"), [("1.0483", False), ("1.0500", True), ("1.0740", True), ("1.0758", False)]
)
def test_the_table_must_say_to_which_temperature_every_possible_strength_protects(reading, told):
    """One row is 0.014 from the next, and the strength is uncertain by 1.2 %: 0.0017."""
    check = protection(reading, rows(20), needed_protection="-10 degC")
    assert ("does not say to which temperature every strength protects" in check.remark) == (not told)
    assert check.outcome is (Outcome.PASS if told else Outcome.UNDECIDED)


def test_a_temperature_between_two_rows_that_stands_out_counts():
    """At 40 % the table protects to −10 °C only; a reading of nearly 40 % may be 40 %."""
    table = rows(20, protects=(-30, -10, -37))
    for reading in ("1.0621", "1.0619"):
        check = protection(reading, table)
        assert check.found.value + check.uncertainty.value >= 273.15 - 10 - 1e-9


# ------------------------------------------------------------------------------ the balance of the coolant
@pytest.mark.parametrize(("temperature", "said"), [("50 degC", False), ("50.1 degC", True)])
def test_a_bleed_point_above_50_degrees_is_said(temperature, said):
    r = run("fluid_ledger", bleed=[{"where": "heater hose", "seen": "clear", "temperature": temperature}])
    assert any("above 50 °C" in c for c in r.cautions) == said
