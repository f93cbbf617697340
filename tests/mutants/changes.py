"""One small change at a time in the source of a module: the mutants."""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass

COMPARED = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
WORKED = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.FloorDiv: ast.Div}
CALLED = {"min": "max", "max": "min", "any": "all", "all": "any", "floor": "ceil", "ceil": "floor", "sin": "cos",
          "cos": "sin", "argmin": "argmax", "argmax": "argmin", "nanmin": "nanmax", "nanmax": "nanmin"}  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    """A changed expression."""

    line: int
    within: str  # the text of that line, and where in it: they name the mutant when lines move
    column: int
    was: str
    becomes: str
    source: str  # of the whole module

    @property
    def name(self) -> str:
        return f"{self.column}: {self.was}  ->  {self.becomes}"


def mutants(source: str) -> list[Mutant]:
    """All of them, in the order of the lines."""
    tree, lines = ast.parse(source), source.splitlines(keepends=True)
    silent, found = _texts_and_types(tree), []
    for statement in tree.body:
        for node in ast.walk(statement):
            if not isinstance(node, ast.expr) or node in silent:
                continue
            for changed in _changed(node):
                becomes = ast.unparse(changed)
                whole = _spliced(lines, node, f"({becomes})")
                if not _reads(whole, statement, len(lines)):
                    continue
                text, was = lines[node.lineno - 1], ast.get_source_segment(source, node) or ""
                column = node.col_offset - (len(text) - len(text.lstrip()))
                found.append(Mutant(node.lineno, text.strip(), column, " ".join(was.split()), becomes, whole))
    return sorted(found, key=lambda m: (m.line, m.name))


def _reads(whole: str, statement: ast.stmt, count: int) -> bool:
    """Whether the statement that was changed in a module of so many lines can still be read."""
    lines = whole.splitlines(keepends=True)
    first = min([statement.lineno, *(d.lineno for d in getattr(statement, "decorator_list", ()))])
    try:
        ast.parse("".join(lines[first - 1 : len(lines) - count + (statement.end_lineno or count)]))
    except SyntaxError:
        return False
    return True


def _texts_and_types(tree: ast.AST) -> set[ast.AST]:
    """Parts in which a change is none: annotations, decorators, f-strings, messages, and ``strict=True``: an assertion."""
    silent: set[ast.AST] = set()
    for node in ast.walk(tree):
        parts: list[ast.AST | None] = []
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            parts += node.decorator_list
        if isinstance(node, ast.FunctionDef):
            parts += [node.returns, *(a.annotation for a in [*node.args.args, *node.args.kwonlyargs])]
        if isinstance(node, ast.AnnAssign):
            parts.append(node.annotation)
        if isinstance(node, ast.keyword) and node.arg == "strict" and getattr(node.value, "value", None) is True:
            parts.append(node.value)
        if isinstance(node, ast.JoinedStr | ast.Raise):
            parts.append(node)
        for part in parts:
            if part is not None:
                silent |= set(ast.walk(part))
    return silent


def _changed(node: ast.expr) -> Iterator[ast.expr]:
    new = copy.copy(node)
    match new:
        case ast.Compare(ops=[op]) if type(op) in COMPARED:
            new.ops = [COMPARED[type(op)]()]
            yield new
        case ast.BinOp(op=op) if type(op) in WORKED:
            new.op = WORKED[type(op)]()
            yield new
        case ast.BoolOp(op=op):
            new.op = ast.Or() if isinstance(op, ast.And) else ast.And()
            yield new
        case ast.UnaryOp(op=ast.Not() | ast.USub()):
            yield new.operand
        case ast.IfExp():
            new.body, new.orelse = new.orelse, new.body
            yield new
        case ast.Constant(value=bool(value)):
            yield ast.Constant(not value)
        case ast.Constant(value=int(value)):
            yield ast.Constant(value + max(1, value // 20))
        case ast.Constant(value=float(value)):
            yield ast.Constant(value + 1 if value in (0, 1) else value * 1.05)
        case ast.Call(func=ast.Name(id=name)) if name in CALLED:
            new.func = ast.Name(CALLED[name])
            yield new
        case ast.Call(func=ast.Attribute(attr=name)) if name in CALLED:
            assert isinstance(new.func, ast.Attribute)
            new.func = ast.Attribute(new.func.value, CALLED[name], ast.Load())
            yield new


def _spliced(lines: list[str], node: ast.expr, text: str) -> str:
    """The source with the node replaced; columns count UTF-8 bytes."""
    assert node.end_lineno is not None
    raw = [line.encode() for line in lines]
    first, last = node.lineno - 1, node.end_lineno - 1
    before, after = raw[first][: node.col_offset], raw[last][node.end_col_offset :]
    return b"".join([*raw[:first], before + text.encode() + after, *raw[last + 1 :]]).decode()
