"""Docstrings of formulas are completed from their annotations, and pint quantities are checked at the call."""

import csv
import doctest
import importlib
import inspect
import pkgutil
import re
from pathlib import Path

import numpy as np
import pint
import pytest

import shoplib.physics
from shoplib.core import formula_docs, units
from shoplib.core.errors import BadInput
from shoplib.core.formula import REGISTRY, units_of
from shoplib.core.formula_docs import SI_NAMES, with_units
from shoplib.physics.angle import travel

for found in pkgutil.iter_modules(shoplib.physics.__path__):
    importlib.import_module(f"shoplib.physics.{found.name}")
FORMULAS = sorted(
    (f for f in REGISTRY if f.__module__.startswith("shoplib.physics.")), key=lambda f: f"{f.__module__}.{f.__name__}"
)
PINT = pint.UnitRegistry()
PARAMETER = re.compile(r":param (\w+): (\S[^;]*(?:; [^;]*)*); ([^;()]+)(?: \(shown in (.+)\))?")


def subject(fn):
    return fn.__module__.rpartition(".")[2]


@pytest.mark.parametrize("fn", FORMULAS, ids=lambda f: f"{subject(f)}.{f.__name__}")
def test_a_formula_says_what_it_takes_and_gives_in_si(fn):
    lines = inspect.getdoc(fn).splitlines()
    assert lines[0].endswith((".", ":")) or lines[1], "one sentence"
    described = {m[1]: m for m in map(PARAMETER.fullmatch, lines) if m}
    assert set(described) == set(inspect.signature(fn).parameters)
    for name, found in described.items():
        unit = units_of(fn)[name]
        assert found[2] != name, f"symbols.csv: the meaning of {name} in {subject(fn)}"
        assert found[3] == SI_NAMES[unit.name]
        assert found[4] == (None if unit.si == 1.0 else unit.text)
    assert any(line.startswith(f":returns: {fn.symbol}; {SI_NAMES[units_of(fn)['return'].name]}") for line in lines)
    assert lines[-1] == f":source: {fn.source}"


def test_no_symbol_is_described_for_nothing():
    used = {(subject(f), n) for f in FORMULAS for n in inspect.signature(f).parameters}
    text = (Path(formula_docs.__file__).parent / "symbols.csv").read_text(encoding="utf-8")
    rows = [(r["subject"], r["symbol"]) for r in csv.DictReader(text.splitlines())]
    assert len(rows) == len(set(rows))
    own = set(rows)
    for where, symbol in rows:
        assert (where, symbol) in used if where else any(n == symbol and (s, n) not in own for s, n in used), (
            where,
            symbol,
        )


@pytest.mark.parametrize("name", sorted(SI_NAMES))
def test_si_names_agree_with_pint(name):
    every = {units.unit_of(x).name: units.unit_of(x) for x in vars(units).values() if hasattr(x, "__metadata__")}
    unit = every[name]
    said = {"a pure number": "dimensionless"}.get(
        SI_NAMES[name], SI_NAMES[name].replace("·", "*").replace("²", "**2").replace("³", "**3")
    )
    one = PINT.Quantity(
        PINT.parse_expression(
            {"%": "percent", "": "dimensionless", "degC": "kelvin", "uin": "microinch"}.get(name, name)
        )
    )
    assert one.to(said).magnitude == pytest.approx(unit.si, rel=1e-12)


@pytest.mark.parametrize("fn", FORMULAS, ids=lambda f: f"{subject(f)}.{f.__name__}")
def test_pint_quantities_give_what_si_numbers_give(fn):
    rng = np.random.default_rng(7)
    bare, held = {}, {}
    for name in inspect.signature(fn).parameters:
        unit, x = units_of(fn)[name], float(rng.uniform(1.1, 1.9))
        bare[name] = unit.to_si(x)
        held[name] = (
            x
            if unit.name in ("", "%")
            else PINT.Quantity(x * PINT.parse_expression({"uin": "microinch"}.get(unit.name, unit.name)))
        )
        if unit.name == "%":
            bare[name] = x
    with np.errstate(all="ignore"):
        expected = fn(**bare)
        found = with_units(fn)(**held)
    unit = units_of(fn)["return"]
    assert float(unit.to_si(found.magnitude)) == pytest.approx(float(expected), rel=1e-9, nan_ok=True)


def test_degrees_and_millimetres_as_bare_numbers_are_refused():
    with pytest.raises(BadInput) as caught:
        with_units(travel)(90, 1.5)
    assert [p.field for p in caught.value.problems] == ["theta", "P"]
    with pytest.raises(BadInput, match="P: is in degree; give a quantity in mm"):
        with_units(travel)(theta=90 * PINT.degree, P=90 * PINT.degree)
    assert travel(np.pi / 2, 1.5e-3) == pytest.approx(0.375e-3), "the function itself has no wrapper"


def test_examples_in_the_docstring_are_true():
    found = doctest.testmod(formula_docs)
    assert found.attempted and not found.failed
