"""How an expression is printed: on one line and as LaTeX; brackets stand where the printed form would mean something else."""

import ast
import math

import pytest

from shoplib.core import formula as module
from shoplib.core import units
from shoplib.core.formula import NotAFormula, _leaf, latex, num, quantity, steps, text, trace, tree, units_of, worked
from shoplib.core.formula_docs import documented, in_si, meaning, with_units
from shoplib.core.unit_names import registry
from shoplib.core.units import N_m, kelvin, kN, mm, one, unit_of
from shoplib.core.worksheet import Step

MM, ONE, DEG = unit_of(mm), unit_of(one), unit_of(units.deg)


def expression(source):
    return ast.parse(source, mode="eval").body


@pytest.mark.parametrize(
    ("source", "line", "tex"),
    [
        ("a+b*c", "a + b·c", r"a + b\,c"), ("(a+b)*c", "(a + b)·c", r"\left(a + b\right)\,c"), ("a-(b-c)", "a − (b − c)", r"a - \left(b - c\right)"), ("a-(b+c)", "a − (b + c)", r"a - \left(b + c\right)"),
        ("a+(b-c)", "a + b − c", "a + b - c"), ("a+(-b)", "a + (− b)", r"a + \left(- b\right)"), ("a-(-b)", "a − (− b)", r"a - \left(- b\right)"), ("-a*b", "(− a)·b", r"\left(- a\right)\,b"),
        ("-(a+b)", "− (a + b)", r"- \left(a + b\right)"), ("-a+b", "− a + b", "- a + b"), ("a*(b*c)", "a·(b·c)", r"a\,\left(b\,c\right)"), ("a*b*c", "a·b·c", r"a\,b\,c"), ("a*2", "a·2", r"a \cdot 2"),
        ("2*a", "2·a", r"2\,a"), ("1e-6*a", "10^−6·a", r"10^{-6}\,a"), ("2.5e-7*a", "2.5·10^−7·a", r"2.5 \cdot 10^{-7}\,a"), ("a/b", "a/b", r"\frac{a}{b}"), ("a/(b*c)", "a/(b·c)", r"\frac{a}{b\,c}"),
        ("a*(b/c)", "a·(b/c)", r"a\,\frac{b}{c}"), ("(a/b)**2", "(a/b)^2", r"\left(\frac{a}{b}\right)^{2}"), ("(a*b)**2", "(a·b)^2", r"\left(a\,b\right)^{2}"), ("a**-1", "a^(− 1)", "a^{- 1}"),
        ("a**(b+c)", "a^(b + c)", "a^{b + c}"), ("np.sqrt(a*b)", "√(a·b)", r"\sqrt{a\,b}"), ("np.log(a)", "ln(a)", r"\ln\left(a\right)"), ("np.minimum(a,b)", "min(a, b)", r"\min\left(a, b\right)"),
        ("np.maximum(a,b)", "max(a, b)", r"\max\left(a, b\right)"), ("np.where(a<b,a,b)", "if(a < b, a, b)", r"\begin{cases}a & a < b\\b & \text{otherwise}\end{cases}"), ("a>=b", "a ≥ b", r"a \ge b"),
        ("(a<b)+c", "(a < b) + c", r"\left(a < b\right) + c"), ("a+(b<c)", "a + (b < c)", r"a + \left(b < c\right)"), ("np.pi*a", "π·a", r"\pi\,a"), ("a/FULL_TURN", "a/360°", r"\frac{a}{360^{\circ}}"),
        ("mu_G", "μ_G", r"\mu_{\mathrm{G}}"), ("x_a_alpha", "x_a,α", r"x_{\mathrm{a,\alpha}}"), ("alpha_prime", "α′", r"\alpha^{\prime}"), ("L_K_prime", "L_K′", r"L_{\mathrm{K}}^{\prime}"), ("abc", "abc", r"\mathrm{abc}"),
        ("a*(-b)", "a·(− b)", r"a\,\left(- b\right)"), ("a+-2*b", "a + (− 2)·b", r"a + \left(- 2\right)\,b"), ("a*2**b", "a·2^b", r"a \cdot 2^{b}"), ("a**b_2", "a^b_2", "a^{b_{\\mathrm{2}}}"),
        ("a*(2*b)", "a·(2·b)", r"a\,\left(2\,b\right)"), ("np.sin(a)*b", "sin(a)·b", r"\sin\left(a\right)\,b"), ("a-b*c", "a − b·c", r"a - b\,c"),
    ],
)  # fmt: skip
def test_an_expression_with_its_symbols(source, line, tex):
    node = tree(expression(source))
    assert (text(node), latex(node)) == (line, tex)


LEAVES = {"a": (2e-3, MM), "b": (-3e-3, MM), "c": (4.0, ONE), "g": (-2.0, ONE), "h": (1.5e9, ONE), "k": (1.5e9, MM)}


@pytest.mark.parametrize(
    ("source", "line"),
    [
        ("a+b", "2 mm + (−3 mm)"), ("a-b", "2 mm − (−3 mm)"), ("a*b", "2 mm·(−3 mm)"), ("b*a", "(−3 mm)·2 mm"), ("b**2", "(−3 mm)^2"), ("a**2", "(2 mm)^2"), ("c**2", "4^2"), ("h**2", "(1.5000·10^9)^2"),
        ("a*c", "2 mm·4"), ("a/c", "(2 mm)/4"), ("g-g", "−2 − (−2)"), ("g+g", "−2 + (−2)"), ("c-g*c", "4 − (−2)·4"), ("np.pi*a", "π·2 mm"), ("a-(b-c)", "2 mm − (−3 mm − 4)"), ("a+(b-c)", "2 mm + (−3 mm − 4)"),
        ("-g", "− (−2)"), ("c*(g*c)", "4·((−2)·4)"), ("a+(c-b)", "2 mm + 4 − (−3 mm)"), ("c+c*g", "4 + 4·(−2)"), ("FULL_TURN*c", "360°·4"),
    ],
)  # fmt: skip
def test_an_expression_with_its_numbers(source, line):
    assert text(tree(expression(source), {name: _leaf(*leaf, 5) for name, leaf in LEAVES.items()})) == line


@pytest.mark.parametrize(
    "source", ["b if a else c", "f(a)", "np.tanh(a)", "a @ b", "a < b < c", "a == b", "True", "'x'", "a[0]", "not a"]
)
def test_what_cannot_be_printed(source):
    with pytest.raises(NotAFormula):
        tree(expression(source))
    for print_it in (text, latex):
        with pytest.raises(NotAFormula):
            print_it({"t": "odd"})


@pytest.mark.parametrize(
    ("value", "unit", "digits", "line"),
    [
        (0.01, mm, 5, "10 mm"), (0.0105, mm, 5, "10.5 mm"), (12345.0, one, 7, "12\u202f345"), (1e9, one, 4, "1.000·10^9"), (-1.5e-9, one, 4, "−1.500·10^−9"), (1.0, one, 4, "1"), (0.5, units.pct, 3, "50 %"),
        (math.pi / 4, units.deg, 4, "45°"),
    ],
)  # fmt: skip
def test_a_number_of_the_working(value, unit, digits, line):
    assert text(_leaf(value, unit_of(unit), digits)[0]) == line


def test_a_quantity_has_no_further_zeros():
    assert [text(quantity(0.012, MM, *more)) for more in ((), (4,), (4, 1), (4, 0))] == [
        "12.00 mm",
        "12.00 mm",
        "12.0 mm",
        "12 mm",
    ]
    assert latex(quantity(0.5, DEG, 3)) == r"28.6^{\circ}"
    assert latex(quantity(5e6, unit_of(units.N_per_mm2), 3)) == r"5.00\,\mathrm{N/mm^{2}}"
    assert text(num("1.2×10⁻³")) == "1.2·10^−3"
    assert text(num("12")) == "12"


def lever(F: kN, l: mm) -> N_m:
    """A force on a lever."""
    half: kN = 0.5 * F
    return half * l


def looped(F: kN) -> kN:
    """No formula."""
    for _ in range(2):
        F = F + F
    return F


def drawn(F: kN) -> kN:
    """Another value each time."""
    return F + DRAWN.pop()


def nothing(F: kN) -> kN:
    """Not a number."""
    return F - F


def two() -> one:
    """A number alone."""
    return 2.0


DRAWN = [1.0, 2.0]
for _fn in (two, lever, looped, drawn, nothing):
    _fn.symbol, _fn.source = "T", "made for this test"


def test_the_lines_of_a_working():
    half, torque = worked(lever, F=2000.0, l=0.1234)
    assert [text(x) for x in (half.symbol, *half.chain)] == ["half", "0.5·F", "0.5·2 kN", "1.0 kN"]
    assert [text(x) for x in (torque.symbol, *torque.chain)] == ["T", "half·l", "1 kN·123.4 mm", "123.4 N·m"]
    assert (torque.value, torque.unit.name, half.value) == (pytest.approx(123.4), "N*m", 1000.0)
    assert text(worked(lever, digits=2, F=2000.0, l=0.1234)[1].result) == "120 N·m"
    assert text(worked(lever, F=2000.0, l=0.10001)[1].numbers) == "1 kN·100.01 mm"
    assert text(worked(lever, F=2000.0, l=0.1)[1].result) == "100 N·m"
    assert text(worked(lever, F=3500.0, l=0.02)[1].result) == "35.00 N·m"  # 1.75 kN has two decimals
    assert text(worked(lever, F=2000.0, l=0.123456)[1].numbers) == "1 kN·123.46 mm"
    assert text(worked(two)[0].result) == "2"
    assert text(worked(nothing, F=math.nan)[0].result) == "not known kN"
    shown = Step("Torque", lever, {"F": 2000.0, "l": 0.1234}).to_json()
    assert shown["lines"][1] == {
        "text": "T = half·l = 1 kN·123.4 mm = 123.4 N·m", "latex": shown["lines"][1]["latex"], "value": torque.value, "unit": "N*m",
    }  # fmt: skip
    assert (shown["title"], shown["note"], shown["source"]) == ("Torque", "", "made for this test")
    assert units_of(lever)["l"] is MM
    with pytest.raises(NotAFormula, match="is not `name: unit = expression`"):
        steps(looped)
    with pytest.raises(AssertionError, match="the printed lines give"):
        list(trace(drawn, F=1.0))
    assert 2 * math.pi == module.FULL_TURN


# ------------------------------------------------------------------------------ docstrings and calls with pint
def test_the_docstring_names_the_si_units():
    assert (in_si(ONE), in_si(MM), in_si(DEG), in_si(unit_of(units.N_m))) == (
        "a pure number",
        "m (shown in mm)",
        "rad (shown in °)",
        "N·m",
    )
    assert (in_si(unit_of(units.kelvin)), in_si(unit_of(units.degC))) == ("K", "K (shown in °C)")
    assert meaning("no such subject", "no_such_symbol") == ""
    lines = documented(lever, "T", "page 1").splitlines()
    assert lines[:3] == ["A force on a lever.", "", "Called in SI by floats or NumPy arrays; arrays broadcast."]
    assert [line.partition(":")[2].partition(":")[0] for line in lines[4:]] == [
        "param F",
        "param l",
        "returns",
        "source",
    ]
    assert lines[-2:] == [":returns: T; N·m", ":source: page 1"]
    assert documented(lambda: None, "T", "page 1").startswith("\n\nCalled")


def test_a_meaning_of_its_own_subject_goes_first(monkeypatch):
    import shoplib.core.formula_docs as docs

    monkeypatch.setattr(docs, "_meanings", lambda: {("own", "x"): "mine", ("", "x"): "any", ("", "y"): "other"})
    assert [docs.meaning(*k) for k in (("own", "x"), ("else", "x"), ("own", "y"), ("own", "z"))] == [
        "mine",
        "any",
        "other",
        "",
    ]


def test_a_call_with_quantities():
    pint, call = registry(), with_units(lever)
    found = call(F=2 * pint.kN, l=50 * pint.mm)
    assert (found.magnitude, found.units) == (pytest.approx(50.0), pint.newton * pint.meter)

    def warmed(T: kelvin, q: one) -> kelvin:
        return T + q

    assert with_units(warmed)(pint.Quantity(20.0, "kelvin"), 2).magnitude == pytest.approx(22.0)
    for wrong, says in (
        (5.0, "5.0 is a bare number; give a quantity in kN"),
        (5 * pint.mm, "is in millimeter; give a quantity in kN"),
    ):
        with pytest.raises(ValueError, match=r"type for example 1 kN") as error:
            call(F=wrong, l=50 * pint.mm)
        assert says in str(error.value)
