"""Coolant: the weak end of the band is the protection, and no caution contradicts its outcome.

Beside the audit's inputs stand judges written again, slowly and plainly.
"""

import itertools
import random

import pytest

from shoplib.physics import coolant_properties
from shoplib.topics import get
from tests.slow_judge import CASES, differential

PROTECTION, STRENGTH, READING, LEDGER = (
    get(n) for n in ("coolant_protection", "coolant_strength", "coolant_reading", "fluid_ledger")
)
ORDER = ["fail", "undecided", "no limit given", "pass"]
LIMIT = {"unaccounted_limit": "0.2 L", "unaccounted_limit_source": "bench notes, page 20"}


def hydrometer(value, **more):
    return READING(instrument="relative_density", value=value, temperature="20 degC", glycol="ethylene", **more)


# ------------------------------------------------------------------------------ the audit's inputs
def test_a_hydrometer_promises_no_more_than_its_weak_end():
    result = hydrometer("1.082")
    assert result.values["concentration"].shown == "55.1 vol %"
    assert result["concentration_low"] < 0.467
    weak = float(coolant_properties.freezing_point("ethylene", result["concentration_low"]))
    assert result["freezing_point_safe"] >= weak + 2.9  # the tables differ there as well
    assert -33 < result["freezing_point_safe"] - coolant_properties.ZERO < -25
    assert "±2.5" not in result.as_text()
    assert "safe side −44" not in READING.alt(result)
    assert "at the strength as read" in result.values["freezing_point"].label


@pytest.mark.parametrize(
    "typed",
    [
        {"instrument": "freezing_point", "value": "-24 degC"},
        {"instrument": "refractive_index", "value": "1.3728", "temperature": "20 degC"},
        {"instrument": "relative_density", "value": "1.060", "temperature": "20 degC"},
    ],
)
def test_fewer_digits_promise_less(typed):
    fine, coarse = (
        READING(typed, glycol="ethylene"),
        READING({**typed, "value": "-2e1 degC"}, glycol="ethylene")
        if typed["instrument"] == "freezing_point"
        else READING({**typed, "value": typed["value"][:4]}, glycol="ethylene"),
    )
    for result in (fine, coarse):
        assert result["freezing_point_safe"] >= result["freezing_point"] + 2.9
    assert coarse["freezing_point_safe"] > fine["freezing_point_safe"]


def test_water_in_the_band_protects_from_nothing():
    assert hydrometer("1.005")["freezing_point_safe"] == coolant_properties.ZERO


def test_no_caution_contradicts_a_pass():
    typed = {"capacity": "9 L", "out": "6.00 L", "in": "5.90 L", **LIMIT}
    within = LEDGER(typed)
    assert str(within.checks[0].outcome) == "pass"
    assert not any("missing" in text or "Do not run" in text for text in within.labelled_cautions)
    for worse in ({"in": "5.70 L"}, {"in": "5.81 L"}, {"unaccounted_limit_source": ""}):
        result = LEDGER({**typed, **worse})
        assert str(result.checks[0].outcome) != "pass"
        assert any("Do not run the engine" in text for text in result.labelled_cautions)


# ------------------------------------------------------------------------------ judges, written again
@differential("fluid_ledger")
@pytest.mark.parametrize("seed", range(CASES))
def test_the_balance_equals_the_slow_judge(seed):
    rng = random.Random(seed)
    out = [round(rng.uniform(0.5, 5), 1) for _ in range(rng.randint(1, 3))]
    poured = [round(x - rng.choice([0, 0.1, 0.3, -0.2]), 1) for x in out]
    half, limit = rng.choice([0.05, 0.02, 0.25]), rng.choice([0.1003, 0.2503, 0.6003])
    typed = {"capacity": "20 L", "out": [f"{x} L" for x in out], "in": [f"{x} L" for x in poured],
             "unaccounted_limit": f"{limit} L", "unaccounted_limit_source": "notes"}  # fmt: skip
    if half != 0.05:
        typed["resolution"] = f"{2 * half} L"
    ends = itertools.product(*([x - half, x, x + half] for x in (*out, *poured)))
    lost = [sum(e[: len(out)]) - sum(e[len(out) :]) for e in ends]
    lost += [0.0] if min(lost) < 0 < max(lost) else []
    held = {abs(x) <= limit for x in lost}
    expected = "undecided" if len(held) == 2 else "pass" if held == {True} else "fail"
    assert str(LEDGER(typed).checks[0].outcome) == expected


@differential("coolant_protection")
@pytest.mark.parametrize("seed", range(CASES))
def test_frost_protection_equals_the_slow_judge(seed):
    rng = random.Random(seed)
    glycol, basis = rng.choice(coolant_properties.GLYCOLS), rng.choice(["volume", "mass"])
    percent, half = rng.randint(10, 58), rng.choice([0.5, 1.0, 4.0])
    limit = round(rng.uniform(-55, -2), 1) + 0.031
    typed = {"glycol": glycol, "basis": basis, "concentration": f"{percent} %", "temperature": "40 degC",
             "lowest_temperature": f"{limit} degC", "lowest_temperature_source": "notes"}  # fmt: skip
    if half != 0.5:
        typed["resolution"] = f"{2 * half} %"

    def frozen(x):
        v = coolant_properties.volume_fraction(glycol, x / 100) if basis == "mass" else x / 100
        return float(coolant_properties.freezing_point(glycol, min(v, 0.6))) - 273.15

    most = 100 * float(coolant_properties.mass_fraction(glycol, 0.6)) if basis == "mass" else 60
    possible = [frozen(min(percent + half * k / 10, most)) + 3 * j for k in range(-10, 11) for j in (-1, 0, 1)]
    held = {min(t, 0.0) <= limit for t in possible}
    expected = "undecided" if len(held) == 2 else "pass" if held == {True} else "fail"
    assert str(PROTECTION(typed).checks[0].outcome) == expected


@pytest.mark.parametrize("seed", range(min(CASES, 300)))
def test_what_an_instrument_promises_holds_for_every_value_that_it_may_have_shown(seed):
    """Half the last digit either way, and for a hydrometer what inhibitors do, each taken on its own."""
    rng = random.Random(seed)
    kind = rng.choice(["freezing_point", "refractive_index", "relative_density"])
    low, high, digits = {"freezing_point": (-40, -8, 1), "refractive_index": (1.345, 1.385, 4),
                         "relative_density": (1.02, 1.07, 3)}[kind]  # fmt: skip
    shown = f"{rng.uniform(low, high):.{digits}f}"
    half = 0.5 * 10.0**-digits
    result = READING(instrument=kind, value=f"{shown} degC" if kind == "freezing_point" else shown,
                     temperature="20 degC", glycol="ethylene")  # fmt: skip
    warmest = []
    for k in range(-10, 11):
        x = float(shown) + half * k / 10
        if kind == "freezing_point":
            warmest.append(x + 273.15)
        elif kind == "refractive_index":
            warmest.append(
                float(
                    coolant_properties.freezing_point("ethylene", coolant_properties.strength_from_index("ethylene", x))
                )
            )
        else:
            v = result["concentration"]
            rise = abs(
                coolant_properties.density("ethylene", v, 293.15)
                - coolant_properties.uninhibited_density("ethylene", v)
            )
            for part in (-2, -1, 0, 1, 2):
                rho = x * coolant_properties.water_density(293.15) + part * rise
                try:
                    warmest.append(
                        float(
                            coolant_properties.freezing_point(
                                "ethylene", coolant_properties.strength_from_density("ethylene", rho, 293.15)
                            )
                        )
                    )
                except coolant_properties.OutOfTable:
                    warmest.append(coolant_properties.ZERO)
    worst = min(max(warmest) + 3, coolant_properties.ZERO)
    assert worst - 1e-6 <= result["freezing_point_safe"] <= worst + 0.1 + 1e-6


def test_a_default_basis_that_decides_leaves_it_undecided():
    """50 % by volume freezes at −37 °C, by mass at −33 °C; nobody typed which it is."""
    typed = {"glycol": "ethylene", "concentration": "50.0 %", "lowest_temperature_source": "notes"}
    for limit, volume, mass, default in (
        ("-32 degC", "pass", "undecided", "undecided"),
        ("-25 degC", "pass", "pass", "pass"),
        ("-38 degC", "undecided", "fail", "undecided"),
        ("-45 degC", "fail", "fail", "fail"),
    ):
        found = [
            str(PROTECTION({**typed, "lowest_temperature": limit, **basis}).outcome)
            for basis in ({"basis": "volume"}, {"basis": "mass"}, {})
        ]
        assert found == [volume, mass, default], limit


# ------------------------------------------------------------------------------ what may never happen
@pytest.mark.parametrize("poured", [f"{p / 20:.2f} L" for p in range(104, 130, 2)])
def test_more_uncertainty_never_gives_a_verdict(poured):
    typed = {"capacity": "9 L", "out": "6.00 L", "in": poured, **LIMIT}
    outcomes = [str(LEDGER({**typed, "resolution": f"{r} L"}).checks[0].outcome) for r in (0.01, 0.05, 0.1, 0.3, 1)]
    for before, after in itertools.pairwise(outcomes):
        assert after in (before, "undecided")


def test_a_weaker_mixture_never_protects_better():
    limit = {"lowest_temperature": "-25 degC", "lowest_temperature_source": "notes"}
    found = [PROTECTION(glycol="ethylene", concentration=f"{p} %", **limit) for p in range(60, 0, -1)]
    ranks = [ORDER.index(str(r.outcome)) for r in found]
    assert ranks == sorted(ranks, reverse=True)
    assert len(set(ranks)) == 3
    safe = [r["freezing_point_safe"] for r in found]
    assert safe == sorted(safe)


def test_what_is_counted_on_is_rounded_to_the_safe_side():
    for percent in range(1, 60):
        result = PROTECTION(glycol="propylene", concentration=f"{percent} %", temperature="40 degC")
        weak = (
            float(coolant_properties.freezing_point("propylene", percent / 100 - 0.005)) + coolant_properties.ACCURACY
        )
        assert result["freezing_point_safe"] >= min(weak, coolant_properties.ZERO) - 1e-6
        assert result["boiling_point_safe"] < result["boiling_point"] - coolant_properties.ACCURACY + 0.1


def test_removing_the_measured_drain_never_makes_a_pass():
    whole = {"capacity": "6 L", "out": "6.00 L", "in": "5.95 L", **LIMIT}
    assert str(LEDGER(whole).checks[0].outcome) == "pass"
    assert str(LEDGER({k: v for k, v in whole.items() if k != "out"}).checks[0].outcome) == "undecided"


@pytest.mark.parametrize(
    ("working", "typed"),
    [
        (READING, {"instrument": "relative_density", "value": "1.082", "temperature": "20 degC", "glycol": "ethylene"}),
        (STRENGTH, {"glycol": "ethylene", "freezing_point": "-37 degC"}),
        (PROTECTION, {"glycol": "ethylene", "concentration": "50 %"}),
    ],
)
def test_the_picture_promises_what_the_result_does(working, typed):
    result = working(typed)
    promised = result.values["freezing_point_safe"].shown
    assert f"on the safe side {promised}" in working.alt(result)
    assert result.plot_data["protects"] == pytest.approx(result["freezing_point_safe"] - coolant_properties.ZERO)
