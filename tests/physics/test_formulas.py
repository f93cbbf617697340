"""What every formula gets for free: its units balance, arrays equal scalars, and it prints as it computes."""

import ast
import importlib
import inspect
import math
import pkgutil

import numpy as np
import pytest

import shoplib.physics
from shoplib.core import unit_names, units
from shoplib.core.formula import REGISTRY, NotAFormula, formula, latex, name, steps, text, trace, tree, units_of, worked
from shoplib.core.units import N_m, kN, mm, mm2
from tests import ci_part

for module in pkgutil.iter_modules(shoplib.physics.__path__):
    importlib.import_module(f"shoplib.physics.{module.name}")
SHIPPED = tuple(REGISTRY)
each = pytest.mark.parametrize("fn", SHIPPED, ids=lambda f: f"{f.__module__.rpartition('.')[2]}.{f.__name__}")


def made(fn, **about):
    """Mark a function as a formula for one test only."""
    marked = formula(**about)(fn)
    REGISTRY.remove(marked)
    return marked


# ------------------------------------------------------------------------------ the mark
def test_the_very_function_is_returned():
    def plain(d: mm) -> mm:
        return d

    assert made(plain, symbol="x", source="n/a") is plain


@each
def test_is_documented(fn):
    assert fn.source.strip() and fn.symbol.strip() and (fn.__doc__ or "").strip()
    assert set(inspect.signature(fn).parameters) | {"return"} == set(units_of(fn))


# ------------------------------------------------------------------------------ units balance
def quantity(unit, magnitude):
    reg = unit_names.registry()
    if unit.name == "%":
        return reg.Quantity(magnitude * 0.01, "dimensionless")
    if unit.name in ("", "deg", "rad", "turn"):
        return reg.Quantity(magnitude * unit.si, "dimensionless" if not unit.name else "radian")
    return (magnitude * reg.Quantity(reg.parse_expression(unit_names.pint_name(unit.name)))).to_base_units()


def check_units(fn):
    """The body once on pint quantities; every line against its annotation."""
    scope = {k: quantity(unit, 1.7 + 0.31 * n) for n, (k, unit) in enumerate(units_of(fn).items()) if k != "return"}
    for k, expression, unit in steps(fn):
        found = eval(compile(ast.Expression(expression), fn.__name__, "eval"), dict(fn.__globals__), scope)
        found = unit_names.registry().Quantity(found)
        want = quantity(unit, 1.0).dimensionality
        assert found.dimensionality == want, f"{fn.__name__}: {k} is {found.dimensionality}, annotated {unit.name}"
        scope[k] = found


@each
def test_units_balance(fn):
    with np.errstate(all="ignore"):
        check_units(fn)


def test_the_unit_check_bites():
    def wrong(T: N_m, d: mm) -> kN:
        return T * d

    with pytest.raises(AssertionError, match="annotated kN"):
        check_units(made(wrong, symbol="F", source="deliberately wrong"))


def test_an_intermediate_is_checked_too():
    def wrong(d: mm) -> mm2:
        half: mm2 = d / 2
        return half * d

    with pytest.raises(AssertionError, match="half is"):
        check_units(made(wrong, symbol="A", source="deliberately wrong"))


# ------------------------------------------------------------------------------ arrays, printing
@each
def test_array_equals_scalar(fn):
    rng = np.random.default_rng(0)
    single = rng.uniform(0.5, 2, (len(inspect.signature(fn).parameters), 50)).astype(np.float32)
    columns = single.astype(np.float64)
    with np.errstate(all="ignore"):
        whole = np.broadcast_to(fn(*columns), 50)
        # numpy's vector and scalar routines may differ in the last binary digit of a power or a transcendental function;
        # where terms cancel that is more of the result, as much as single precision shows, 29 binary digits further left
        rough = np.abs(fn(*single) - whole)
        lost = 4 * np.max(rough[np.isfinite(rough)], initial=0.0) * 2.0**-29
        assert lost <= 1e-11 * np.nanmax(np.abs(whole)), "the formula cannot be computed in single precision to tell"
        np.testing.assert_allclose(whole, [fn(*c) for c in columns.T], rtol=4e-15, atol=lost)


@each
def test_prints_in_every_dialect(fn):
    shown = {k: unit.to_si(0.37 + 0.11 * n) for n, (k, unit) in enumerate(units_of(fn).items()) if k != "return"}
    with np.errstate(all="ignore"):
        lines = worked(fn, **shown)
    assert len(lines) == len(steps(fn))
    for line in lines:
        for node in (line.symbol, *line.chain):
            assert text(node) and latex(node)


@each
def test_what_is_printed_is_what_is_computed(fn):
    """Each printed line, read back from its text, gives the value of the line."""
    values = {k: 0.37 + 0.11 * n for n, k in enumerate(units_of(fn)) if k != "return"}
    scope = {text(name(k)): v for k, v in values.items()}
    with np.errstate(all="ignore"):
        for k, expression, _, value in trace(fn, **values):
            assert read_back(text(tree(expression)), scope) == pytest.approx(float(value), rel=1e-12, nan_ok=True)
            scope[text(name(k))] = float(value)


def test_an_angle_is_printed_as_a_part_of_360_degrees():
    """A learner who types the printed numbers into a calculator gets the printed result."""
    from shoplib.physics import angle, timing

    (line,) = worked(angle.travel, theta=math.radians(105), P=0.0015)
    assert text(line.numbers) == "(1.5 mm·105°)/360°"
    (line,) = worked(timing.tooth_angle, n=1, z=38)
    assert text(line.numbers) == "(360°·1)/38"
    assert pytest.approx(1e3 * angle.travel(math.radians(105), 0.0015)) == 1.5 * 105 / 360


def read_back(printed, scope):
    """Evaluate printed text as mathematics."""
    source = printed
    names = {}
    for n, symbol in enumerate(sorted([*scope, "π"], key=len, reverse=True)):
        names[f"v{n}"] = math.pi if symbol == "π" else scope[symbol]
        source = _replace_symbol(source, symbol, f" v{n} ")
    for sign, python in (
        ("·", "*"),
        ("−", "-"),
        ("^", "**"),
        ("√", "sqrt"),
        ("≤", "<="),
        ("≥", ">="),
        ("if(", "where("),
        ("360°", "(2*pi)"),
    ):
        source = source.replace(sign, python)
    functions = {"pi": math.pi, "sqrt": np.sqrt, "ln": np.log, "where": np.where, "min": np.minimum, "max": np.maximum}
    functions |= {f: getattr(np, f) for f in ("sin", "cos", "tan", "arcsin", "arccos", "arctan", "exp")}
    return float(eval(" ".join(source.split()), {**functions, **names}))


def _replace_symbol(source, symbol, by):
    out, at = "", 0
    while (found := source.find(symbol, at)) >= 0:
        before, after = source[found - 1 : found], source[found + len(symbol) : found + len(symbol) + 1]
        whole = not (before.isalnum() or before in ("_", "′")) and not (
            after.isalnum() or (after in ("_", "′", ",") and symbol != "π")
        )
        comma_ends = after == "," and source[found + len(symbol) + 1 : found + len(symbol) + 2] == " "
        out += source[at:found] + (by if whole or (comma_ends and not before.isalnum() and before != "_") else symbol)
        at = found + len(symbol)
    return out + source[at:]


# ------------------------------------------------------------------------------ every two-level expression
LEAVES = ["a", "b_2", "0.7", "3", "1e-05"]


def grow(parts):
    for x in parts:
        yield f"(-({x}))"
        yield f"(({x})**2)"
        yield f"np.cos({x})"
        yield f"np.sqrt(1+({x})**2)"
        for y in parts:
            for sign in "+-*/":
                yield f"(({x}){sign}({y}))"
            yield f"np.minimum({x},{y})"
            yield f"np.where(({x})<({y}),{x},{y})"


LEVEL_1 = LEAVES + list(grow(["a", "b_2"]))
LEVEL_2 = list(grow(LEVEL_1))
SCOPE = {"a": 1.37, "b_2": 2.11}


def value_of(source):
    try:
        return float(eval(source, {"np": np, **SCOPE}))
    except ZeroDivisionError:
        return math.nan


def expression(source):
    return ast.parse(source, mode="eval").body


def test_every_two_level_expression_survives_printing():
    assert len(LEVEL_2) > 5000
    with np.errstate(all="ignore"):
        for source in LEVEL_2:
            want = value_of(source)
            if math.isfinite(want):
                got = read_back(text(tree(expression(source))), SCOPE)
                assert got == pytest.approx(want, rel=1e-12), source


def test_substituted_numbers_survive_printing():
    from shoplib.core.formula import _leaf

    leaves = {k: _leaf(v, units.unit_of(units.one), 6) for k, v in {"a": -1.37, "b_2": 2.11}.items()}
    scope = {"np": np, "a": -1.37, "b_2": 2.11}
    with np.errstate(all="ignore"):
        for source in LEVEL_2:
            try:
                want = float(eval(source, dict(scope)))
            except ZeroDivisionError:
                continue
            if math.isfinite(want):
                assert read_back(text(tree(expression(source), leaves)), {}) == pytest.approx(want, rel=1e-12), source


def test_a_sample_of_three_level_expressions():
    rng = np.random.default_rng(3)
    with np.errstate(all="ignore"):
        for _ in range(3000 if ci_part.ALL else 1000):
            x, y = rng.choice(LEVEL_2, 2)
            source = f"(({x}){rng.choice(list('+-*/'))}({y}))"
            want = value_of(source)
            if math.isfinite(want):
                assert read_back(text(tree(expression(source))), SCOPE) == pytest.approx(want, rel=1e-9), source


def test_latex_read_back_by_an_independent_parser():
    pytest.importorskip("lark", reason="the independent LaTeX parser needs lark")
    sympy = pytest.importorskip("sympy", reason="the independent LaTeX parser")
    from sympy.parsing.latex import parse_latex

    rng, checked = np.random.default_rng(4), 0
    draws = 150 if ci_part.ALL else 30
    for source in rng.choice([s for s in LEVEL_2 if "np." not in s and "1e-05" not in s], draws):
        printed = latex(tree(expression(source.replace("b_2", "b")))).replace(r"\,", r" \cdot ")
        found = parse_latex(printed.replace(r"\left", "").replace(r"\right", ""), backend="lark")
        want = value_of(source)
        if isinstance(found, sympy.Basic) and math.isfinite(want):  # otherwise ambiguous to that parser, or x/0
            checked += 1
            assert float(found.subs({"a": 1.37, "b": 2.11}).evalf()) == pytest.approx(want, rel=1e-9), printed
    assert checked > 2 * draws / 3, checked


@pytest.mark.parametrize(
    ("source", "printed"),
    [
        ("(a / b_2)**2", r"\left(\frac{a}{b_{\mathrm{2}}}\right)^{2}"),
        ("np.cos(mu_G)**2", r"\left(\cos\left(\mu_{\mathrm{G}}\right)\right)^{2}"),
        ("a - (-b_2)", r"a - \left( - b_{\mathrm{2}}\right)"),
        ("rho_prime * 0.16 * P", r"\rho^{\prime} \cdot 0.16\,P"),
    ],
)
def test_typography(source, printed):
    def squeezed(x):
        return "".join(x.split())

    assert squeezed(latex(tree(expression(source)))) == squeezed(printed)


def test_refuses_what_it_cannot_print():
    def loop(d: mm) -> mm:
        for _ in range(3):
            d = d / 2
        return d

    def call(d: mm) -> mm:
        return float(d)

    for fn in (loop, call):
        with pytest.raises(NotAFormula):
            worked(made(fn, symbol="x", source="n/a"), d=1.0)
