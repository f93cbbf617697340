"""Docstrings of formulas are completed from their annotations, and pint quantities are checked at the call."""

import ast
import csv
import doctest
import importlib
import inspect
import pkgutil
import re
import textwrap
from pathlib import Path
from typing import get_type_hints

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


# ------------------------------------------------------------------------------ every public function
EXAMPLE = re.compile(r"^\s*>>> ", re.MULTILINE)


def public(*packages):
    """(name, function) of every public function and method that the modules of these packages define."""
    for package in packages:
        for found in pkgutil.iter_modules(importlib.import_module(f"shoplib.{package}").__path__):
            module = importlib.import_module(f"shoplib.{package}.{found.name}")
            for name, value in vars(module).items():
                if name.startswith("_") or getattr(value, "__module__", "") != module.__name__:
                    continue
                if inspect.isfunction(value):
                    yield f"{package}.{found.name}.{name}", value
                elif inspect.isclass(value):
                    for method, made in vars(value).items():
                        if (
                            inspect.isfunction(made)
                            and not method.startswith("_")
                            and inspect.getsourcefile(made) == (module.__file__)
                        ):
                            yield f"{package}.{found.name}.{name}.{method}", made


def raised(fn):
    """The errors that a function raises in its own lines."""
    tree = ast.parse(textwrap.dedent(inspect.getsource(fn)))
    made = (r.exc.func for r in ast.walk(tree) if isinstance(r, ast.Raise) and isinstance(r.exc, ast.Call))
    named = {f.id for f in made if isinstance(f, ast.Name)}
    return {get_type_hints(fn.__globals__[n])["return"].__name__ if n in MAKERS else n for n in named}


MAKERS = {"no_such_job"}  # functions that make an error


def test_every_public_function_says_what_it_does_and_what_it_raises():
    found = []
    for name, fn in public("physics", "core", "record"):  # mypy finds a parameter without annotation
        doc = inspect.getdoc(fn) or ""
        if not doc.partition("\n\n")[0].endswith((".", ":", "?")):
            found.append(f"{name}: begin with one sentence")
        found += [f"{name}: say that it raises {e}" for e in raised(fn) if e not in doc and not e.startswith("_")]
    assert found == []


def test_every_parameter_of_core_and_record_has_its_meaning():
    """In the docstring of the function, or once for all in that of its class or its module."""
    found = []
    for name, fn in public("core", "record"):
        package, module, *inside = name.split(".")
        owner = importlib.import_module(f"shoplib.{package}.{module}")
        docs = [inspect.getdoc(owner) or "", inspect.getdoc(fn) or ""]
        docs += [inspect.getdoc(getattr(owner, inside[0])) or ""] if len(inside) > 1 else []
        said = {m[1] for doc in docs for m in GIVEN_MEANING.finditer(doc)}
        asked = set(inspect.signature(fn).parameters) - {"self", "cls"}
        found += [f"{name}: {missing}" for missing in sorted(asked - said)]
    assert found == []


GIVEN_MEANING = re.compile(r"^(?:- ``|:param )(\w+)(?:``)?: \S", re.MULTILINE)


def test_every_function_of_the_handbook_says_its_units_and_what_it_returns():
    found = {}
    for name, fn in public("physics"):
        lines = inspect.getdoc(fn).splitlines()
        described = [m[1] for line in lines if (m := re.fullmatch(r":param (\w+): \S.*; \S.*", line))]
        if name.count(".") == 2 and described != list(inspect.signature(fn).parameters):
            found[name] = f"described: {described}"
        if name.count(".") == 2 and not any(line.startswith(":returns: ") for line in lines):
            found[name] = "returns"
    assert found == {}


@pytest.mark.parametrize("package", ["physics", "core", "record"])
def test_every_example_in_a_docstring_is_true(package):
    for found in pkgutil.iter_modules(importlib.import_module(f"shoplib.{package}").__path__):
        module = importlib.import_module(f"shoplib.{package}.{found.name}")
        if EXAMPLE.search(inspect.getsource(module)):
            assert not doctest.testmod(module).failed, module.__name__
