"""A formula is a plain function: its number, its unit check and its printed form are all read from it.

The body is straight-line arithmetic on SI floats or NumPy arrays::

    @formula(symbol="A_s", source="ISO 898-1, nominal stress area")
    def stress_area(d: mm, P: mm) -> mm2:
        d_2: mm = d - 0.649519 * P
        ...

``@formula`` returns the very function it was given.  Everything here only reads it.  There is one
printer: it turns an expression into a tree of plain JSON nodes, and the dialects (LaTeX, text) are
drawn from that tree.  The sheet takes the tree itself, so that no maths is ever parsed from text.

Parameters that have one meaning in all functions:

- ``fn``: a function marked with ``@formula``
- ``node``: a tree of what is printed
"""

from __future__ import annotations

import ast
import functools
import inspect
import textwrap
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, TypeVar, get_type_hints

import numpy as np

from shoplib.core import rounding
from shoplib.core.errors import ShoplibError
from shoplib.core.formula_docs import documented
from shoplib.core.units import Unit, show_number, unit_of

Function = TypeVar("Function", bound=Callable[..., Any])
Node = dict[str, Any]

FULL_TURN = 2 * np.pi  # rad; printed as 360°, so that a learner's calculator gives what the page says

REGISTRY: list[Callable[..., Any]] = []


class NotAFormula(ShoplibError, SyntaxError):
    """A body that cannot be printed: a loop, a call of something else, a line without a unit."""


def formula(*, symbol: str, source: str) -> Callable[[Function], Function]:
    """Mark a function as a printable formula and return it; only its docstring is completed.

    :param symbol: as the source prints it, such as F_M
    :param source: document, edition and clause
    """

    def mark(fn: Function) -> Function:
        fn.symbol, fn.source = symbol, source  # type: ignore[attr-defined] # a plain function takes attributes
        fn.__doc__ = documented(fn, symbol, source)
        REGISTRY.append(fn)
        return fn

    return mark


# ------------------------------------------------------------------------------ reading the body
@functools.cache
def units_of(fn: Callable[..., Any]) -> Mapping[str, Unit]:
    """Unit of each parameter, and of the value under "return"."""
    return {name: unit_of(hint) for name, hint in get_type_hints(fn, include_extras=True).items()}


@functools.cache
def steps(fn: Callable[..., Any]) -> tuple[tuple[str, ast.expr, Unit], ...]:
    """(name, expression, unit) of each line of the body; the last one is the value.

    :raises NotAFormula: a body that is not straight-line, or a line without a unit
    """
    tree = ast.parse(textwrap.dedent(inspect.getsource(fn))).body[0]
    assert isinstance(tree, ast.FunctionDef)
    lines: list[tuple[str, ast.expr, Unit]] = []
    for statement in tree.body:
        match statement:
            case ast.Expr(value=ast.Constant(value=str())):
                continue
            case ast.AnnAssign(target=ast.Name(id=name), annotation=ast.Name(id=u), value=ast.expr() as value):
                lines.append((name, value, unit_of(fn.__globals__[u])))
            case ast.Return(value=ast.expr() as value):
                lines.append((fn.symbol, value, units_of(fn)["return"]))  # type: ignore[attr-defined] # set by formula()
            case _:
                raise NotAFormula(f"{fn.__name__}: {ast.unparse(statement)!r} is not `name: unit = expression`")
    return tuple(lines)


@functools.cache
def _compiled(fn: Callable[..., Any]) -> tuple[Any, ...]:
    return tuple(compile(ast.Expression(e), f"<{fn.__name__}>", "eval") for _, e, _ in steps(fn))


def trace(fn: Callable[..., Any], /, **si: Any) -> Iterator[tuple[str, ast.expr, Unit, Any]]:
    """Run the body line by line, and prove that the lines give what the function gives.

    :param si: its parameters, each by keyword; in SI
    :raises AssertionError: the printed lines give another value than the function
    """
    scope: dict[str, Any] = dict(si)
    value: Any = None
    for (name, expression, unit), code in zip(steps(fn), _compiled(fn), strict=True):
        value = eval(code, fn.__globals__, scope)  # noqa: S307 -- the function's own source, never typed text
        scope[name] = value
        yield name, expression, unit, value
    whole = fn(**si)
    if not np.array_equal(value, whole, equal_nan=True):
        raise AssertionError(f"{fn.__name__}: the printed lines give {value}, the function gives {whole}")


# ------------------------------------------------------------------------------ the one printer
GREEK = {
    "alpha": "α", "beta": "β", "gamma": "γ", "delta": "δ", "epsilon": "ε", "zeta": "ζ", "eta": "η", "theta": "θ",
    "kappa": "κ", "lambda": "λ", "mu": "μ", "nu": "ν", "xi": "ξ", "pi": "π", "rho": "ρ", "sigma": "σ", "tau": "τ",
    "phi": "φ", "chi": "χ", "psi": "ψ", "omega": "ω", "Gamma": "Γ", "Delta": "Δ", "Theta": "Θ", "Lambda": "Λ",
    "Sigma": "Σ", "Phi": "Φ", "Psi": "Ψ", "Omega": "Ω",
}  # fmt: skip
FUNCTIONS = {"sin": "sin", "cos": "cos", "tan": "tan", "arcsin": "arcsin", "arccos": "arccos", "arctan": "arctan",
             "exp": "exp", "log": "ln"}  # fmt: skip
RELATIONS = {ast.Lt: "<", ast.LtE: "≤", ast.Gt: ">", ast.GtE: "≥"}
LOOSE, ADD, MUL, APPLY, ATOM = range(5)  # how tightly a printed piece holds together


def row(*children: Node) -> Node:
    """Pieces side by side.

    :param children: the pieces, from left to right
    """
    return {"t": "row", "c": list(children)}


def op(sign: str) -> Node:
    """An operator or relation sign.

    :param sign: as it is printed
    """
    return {"t": "op", "v": sign}


def num(text: str) -> Node:
    """A number that is already formatted; "1.2×10⁻³" becomes a real power.

    :param text: the number as it is printed
    """
    mantissa, times, power = text.partition("×10")
    if not times:
        return {"t": "num", "v": text}
    digits = power.translate(str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "-0123456789")).replace("-", "−")
    return row(
        {"t": "num", "v": mantissa},
        op("·"),
        {"t": "att", "a": {"t": "num", "v": "10"}, "sup": {"t": "num", "v": digits}},
    )


def quantity(value: float, unit: Unit, digits: int = 4, decimals: int = rounding.MOST_DIGITS) -> Node:
    """An SI value as number and unit.  ``decimals``: zeros at the end are printed up to so many.

    :param value: in SI
    :param unit: in which values are shown
    :param digits: significant digits
    :param decimals: zeros at the end are printed up to so many decimals
    """
    number = num(rounding.without_further_zeros(show_number(float(unit.from_si(value)), digits), decimals))
    return row(number, {"t": "unit", "v": unit.text}) if unit.text else number


def name(identifier: str) -> Node:
    """A symbol: ``mu_G`` is μ with an upright G below.

    :param identifier: of the parameter in Python
    """
    head, _, sub = identifier.partition("_")
    letter = GREEK.get(head, head)
    node: Node = {"t": "sym" if len(letter) == 1 else "up", "v": letter}
    if sub == "prime" or sub.endswith("_prime"):
        node, sub = {"t": "att", "a": node, "sup": op("′")}, sub.removesuffix("prime").rstrip("_")
        if sub:
            node["sub"] = {"t": "up", "v": sub.replace("_", ",")}
        return node
    if sub:
        node = {"t": "att", "a": node, "sub": {"t": "up", "v": ",".join(GREEK.get(s, s) for s in sub.split("_"))}}
    return node


def paren(node: Node) -> Node:
    """The piece in brackets that grow with it."""
    return {"t": "par", "a": node}


_FULL_TURN_NODE = row(num("360"), {"t": "unit", "v": "°"})


def tree(expression: ast.expr, values: Mapping[str, tuple[Node, int]] | None = None) -> Node:
    """The expression as JSON nodes; with ``values`` the numbers stand in for the names.

    :param expression: the right side of a line of the body
    :param values: name to what is printed in its place, and how tightly that binds; None: names are printed
    """
    return _tree(expression, values or {})[0]


def _starts_with_digit(node: Node) -> bool:
    if node["t"] == "row":
        return bool(node["c"]) and _starts_with_digit(node["c"][0])
    if node["t"] == "att":
        return _starts_with_digit(node["a"])
    return bool(node["t"] == "num")


def _tree(n: ast.expr, values: Mapping[str, tuple[Node, int]]) -> tuple[Node, int]:
    def child(x: ast.expr, level: int) -> Node:
        node, holds = _tree(x, values)
        return node if holds >= level else paren(node)

    match n:
        case ast.Constant(value=int() | float() as v) if not isinstance(v, bool):
            text = repr(v).removesuffix(".0")
            if "e" in text:
                mantissa, power = text.split("e")
                node = num("1×10⁰")
                node["c"][0]["v"] = mantissa
                node["c"][2]["sup"]["v"] = str(int(power)).replace("-", "−")
                return (node, MUL) if mantissa != "1" else (node["c"][2], APPLY)
            return num(text), ATOM
        case ast.Name(id=i) if i in values:
            return values[i]
        case ast.Name(id="FULL_TURN"):
            return _FULL_TURN_NODE, MUL
        case ast.Name(id=i) | ast.Attribute(value=ast.Name(id="np"), attr="pi" as i):
            return name(i), ATOM
        case ast.UnaryOp(op=ast.USub(), operand=o):
            return row(op("−"), child(o, MUL)), ADD
        case ast.BinOp(left=a, op=ast.Add() | ast.Sub() as sign, right=b):
            node, holds = _tree(b, values)
            leading_minus = node["t"] == "row" and node["c"] and node["c"][0] == op("−")
            negative = leading_minus or (holds == ADD and _first_text(node).startswith("−"))
            if holds < MUL and (isinstance(sign, ast.Sub) or negative or holds < ADD):
                node = paren(node)
            return row(child(a, ADD), op("+" if isinstance(sign, ast.Add) else "−"), node), ADD
        case ast.BinOp(left=a, op=ast.Mult(), right=b):
            is_product = isinstance(b, ast.BinOp) and isinstance(b.op, ast.Mult)
            left, right = child(a, MUL), child(b, APPLY if is_product else MUL)
            dot = bool(values) or _starts_with_digit(right)
            return row(left, op("·") if dot else {"t": "thin"}, right), MUL
        case ast.BinOp(left=a, op=ast.Div(), right=b):
            return {"t": "frac", "a": tree(a, values), "b": tree(b, values)}, APPLY
        case ast.BinOp(left=a, op=ast.Pow(), right=b):
            return {"t": "att", "a": child(a, ATOM), "sup": tree(b, values)}, APPLY
        case ast.Call(func=ast.Attribute(value=ast.Name(id="np"), attr=f), args=args, keywords=[]):
            parts = [tree(x, values) for x in args]
            if f == "sqrt":
                return {"t": "sqrt", "a": parts[0]}, APPLY
            if f in FUNCTIONS:
                return {"t": "fn", "v": FUNCTIONS[f], "c": parts}, APPLY
            if f in ("minimum", "maximum"):
                return {"t": "fn", "v": f[:3], "c": parts}, APPLY
            if f == "where":
                return {"t": "cases", "c": parts}, LOOSE
        case ast.Compare(left=a, ops=[relation], comparators=[b]) if type(relation) in RELATIONS:
            return row(child(a, ADD), op(RELATIONS[type(relation)]), child(b, ADD)), LOOSE
    raise NotAFormula(f"cannot print {ast.unparse(n)!r}; use + - * / **, np.sqrt, np.where, …")


def _first_text(node: Node) -> str:
    if node["t"] == "row":
        return _first_text(node["c"][0])
    return str(node.get("v", ""))


# ------------------------------------------------------------------------------ dialects of the tree
_LATEX = {
    "·": r" \cdot ",
    "−": " - ",
    "+": " + ",
    "<": " < ",
    ">": " > ",
    "≤": r" \le ",
    "≥": r" \ge ",
    "=": " = ",
    "′": r"\prime",
}
_LATEX_GREEK = {sign: "\\" + word for word, sign in GREEK.items()}


def latex(node: Node) -> str:
    """The tree as LaTeX, for MathJax in the notebook.

    :raises NotAFormula: a node that cannot be printed
    """
    match node:
        case {"t": "row", "c": c}:
            return "".join(map(latex, c)).strip()
        case {"t": "sym", "v": v}:
            return _LATEX_GREEK.get(str(v), str(v))
        case {"t": "up", "v": v}:
            return r"\mathrm{" + "".join(_LATEX_GREEK.get(x, x) for x in v) + "}"
        case {"t": "num", "v": v}:
            return str(v).replace("−", "-").replace("\u202f", r"\,")
        case {"t": "unit", "v": v}:
            body = "".join(_LATEX_UNIT.get(x, x) for x in v)
            return r"^{\circ}" if v == "°" else rf"\,\mathrm{{{body}}}"
        case {"t": "op", "v": v}:
            return _LATEX[v]
        case {"t": "thin"}:
            return r"\,"
        case {"t": "frac", "a": a, "b": b}:
            return rf"\frac{{{latex(a)}}}{{{latex(b)}}}"
        case {"t": "sqrt", "a": a}:
            return rf"\sqrt{{{latex(a)}}}"
        case {"t": "par", "a": a}:
            return rf"\left({latex(a)}\right)"
        case {"t": "fn", "v": v, "c": c}:
            return rf"\{v}\left({', '.join(map(latex, c))}\right)"
        case {"t": "cases", "c": [condition, then, other]}:
            return (rf"\begin{{cases}}{latex(then)} & {latex(condition)}\\"
                    rf"{latex(other)} & \text{{otherwise}}\end{{cases}}")  # fmt: skip
        case {"t": "att", "a": a}:
            sub = f"_{{{latex(node['sub'])}}}" if "sub" in node else ""
            return latex(a) + sub + (f"^{{{latex(node['sup']).strip()}}}" if "sup" in node else "")
    raise NotAFormula(f"unknown node {node!r}")


_LATEX_UNIT = {
    "·": r"\,",
    "²": "^{2}",
    "³": "^{3}",
    "%": r"\%",
    "µ": r"\mu ",
    "°": r"^{\circ}",
    "⁻": "^{-}",
    "⁶": "^{6}",
}


def text(node: Node) -> str:
    """The tree on one line, for plain output and screen readers: ``F_M = M_A/(0.16·P + …)``.

    :raises NotAFormula: a node that cannot be printed
    """
    match node:
        case {"t": "row", "c": c}:
            return "".join(f"({text(x)})" if x["t"] == "frac" else text(x) for x in c).strip()
        case {"t": "sym" | "up" | "num", "v": v}:
            return str(v)
        case {"t": "unit", "v": v}:
            return str(v) if v == "°" else f" {v}"
        case {"t": "op", "v": v}:
            return str(v) if v in "·′" else f" {v} "
        case {"t": "thin"}:
            return "·"
        case {"t": "frac", "a": a, "b": b}:
            return f"{_linear(a)}/{_linear(b)}"
        case {"t": "sqrt", "a": a}:
            return f"√({text(a)})"
        case {"t": "par", "a": a}:
            return f"({text(a)})"
        case {"t": "fn", "v": v, "c": c}:
            return f"{v}({', '.join(map(text, c))})"
        case {"t": "cases", "c": [condition, then, other]}:
            return f"if({text(condition)}, {text(then)}, {text(other)})"
        case {"t": "att", "a": a}:
            sub = f"_{text(node['sub'])}" if "sub" in node else ""
            prime = "sup" in node and node["sup"] == op("′")
            return text(a) + sub + ("′" if prime else f"^{_linear(node['sup'])}" if "sup" in node else "")
    raise NotAFormula(f"unknown node {node!r}")


def _linear(node: Node) -> str:
    plain = node["t"] in ("sym", "num", "att", "par", "up") or node == _FULL_TURN_NODE
    return text(node) if plain else f"({text(node)})"


# ------------------------------------------------------------------------------ worked lines
@dataclass(frozen=True)
class Line:
    """One line of a working: symbol = formula = numbers = result, each a tree."""

    symbol: Node
    formula: Node
    numbers: Node
    result: Node
    value: float
    unit: Unit

    @property
    def chain(self) -> list[Node]:
        """The right-hand sides, without repetition."""
        kept: list[Node] = []
        for node in (self.formula, self.numbers, self.result):
            if not kept or kept[-1] != node:
                kept.append(node)
        return kept


def worked(fn: Callable[..., Any], /, *, digits: int = 4, **si: float) -> list[Line]:
    """The printed working of a formula for SI inputs; every unit as the formula declares it.

    A result has no zeros at its end that the numbers before it do not have.

    :param digits: significant digits of the value
    :param si: its parameters, each by keyword; in SI
    """
    units = units_of(fn)
    values = {k: _leaf(v, units[k], digits + 1) for k, v in si.items()}
    lines = []
    for symbol, expression, unit, value in trace(fn, **si):
        most = max((rounding.decimals(text(node)) for node, _ in values.values()), default=0)
        result = quantity(float(value), unit, digits, most)
        lines.append(Line(name(symbol), tree(expression), tree(expression, values), result, float(value), unit))
        values[symbol] = _leaf(float(value), unit, digits)
    return lines


def _leaf(value: float, unit: Unit, digits: int) -> tuple[Node, int]:
    shown = show_number(float(unit.from_si(value)), digits)
    if "." in shown:  # an exact 10.000 is 10
        shown = shown.rstrip("0").rstrip(".")
    node = num(shown)
    if unit.text:
        node = row(node, {"t": "unit", "v": unit.text})
    negative = shown.startswith("−")
    return node, ADD if negative else MUL if unit.text or "×" in shown else ATOM
