"""Watch what the code of the topics compares and decides, while inputs are tried.

``install()`` rewrites each module of the topics as it is imported: every comparison, condition and ``and``/``or`` then
tells :data:`SEEN` what it saw.  An event is a place with what happened there: below, equal or above, or near to each other
(a limit that is changed by a twentieth is seen there only); true or false; which of two numbers is the larger.
Inputs that cause a new event are worth a recorded run.  ``LAST`` has the two numbers of each comparison.
"""

from __future__ import annotations

import ast
import importlib.abc
import importlib.machinery
import sys
from numbers import Real

import numpy as np

SEEN: set[tuple] = set()  # events of the present run
LAST: dict[tuple, tuple[float, float]] = {}  # the numbers of a comparison, as near to each other as they came
SIGNS = {-1: "below", 0: "equal", 1: "above"}
NEAR = 0.045  # of the smaller number; mutants change a number by a twentieth


def forget() -> None:
    SEEN.clear()
    LAST.clear()


def compared(place, left, right, answer):
    """A comparison with what it answers."""
    if isinstance(left, Real) and isinstance(right, Real) and not isinstance(left, bool):
        a, b = float(left), float(right)
        sign = SIGNS[(a > b) - (a < b)]
        SEEN.add((*place, sign))
        if a != b and abs(a - b) < NEAR * min(abs(a), abs(b)):
            SEEN.add((*place, "near", sign))
        if place not in LAST or abs(a - b) < abs(LAST[place][0] - LAST[place][1]):
            LAST[place] = (a, b)
    elif isinstance(answer, np.ndarray):
        SEEN.update((*place, bool(x)) for x in answer.ravel())
    else:
        SEEN.add((*place, bool(answer)))
    return answer


def extreme(place, function, *values):
    """The least or the greatest, and which one it is."""
    found = function(values)
    SEEN.update((*place, n) for n, value in enumerate(values) if value is found)
    return found


def decided(place, value):
    """A condition, or a part of one."""
    if not isinstance(value, np.ndarray):
        SEEN.add((*place, bool(value)))
    return value


class _Watch(ast.NodeTransformer):
    def __init__(self, module: str) -> None:
        self.module, self.number = module, 0

    def _place(self, node: ast.expr) -> ast.expr:
        self.number += 1
        where = (self.module, node.lineno, node.col_offset, self.number)
        return ast.Tuple([ast.Constant(x) for x in where], ast.Load())

    def _call(self, name: str, node: ast.expr, *args: ast.expr) -> ast.expr:
        return ast.Call(ast.Name(name, ast.Load()), [self._place(node), *args], [])

    def visit_Compare(self, node):  # left and right are named, so that each is evaluated once
        place = self._place(node)
        self.generic_visit(node)
        if len(node.ops) != 1:
            return node
        a, b = f"_l{self.number}", f"_r{self.number}"
        args = ast.arguments([], [ast.arg(a), ast.arg(b)], None, [], [], None, [])
        answer = ast.Compare(ast.Name(a, ast.Load()), node.ops, [ast.Name(b, ast.Load())])
        told = [place, ast.Name(a, ast.Load()), ast.Name(b, ast.Load()), answer]
        inner = ast.Lambda(args, ast.Call(ast.Name("_compared", ast.Load()), told, []))
        return ast.Call(inner, [node.left, node.comparators[0]], [])

    def visit_Call(self, node):
        place = self._place(node)
        self.generic_visit(node)
        several = len(node.args) > 1 and not node.keywords and not any(isinstance(a, ast.Starred) for a in node.args)
        if isinstance(node.func, ast.Name) and node.func.id in ("min", "max") and several:
            node.args = [place, node.func, *node.args]
            node.func = ast.Name("_extreme", ast.Load())
        return node

    def visit_BoolOp(self, node):
        places = [self._place(v) for v in node.values]
        self.generic_visit(node)
        node.values = [
            ast.Call(ast.Name("_decided", ast.Load()), [p, v], []) for p, v in zip(places, node.values, strict=True)
        ]
        return node

    def _test(self, node):
        place = self._place(node.test)
        self.generic_visit(node)
        node.test = ast.Call(ast.Name("_decided", ast.Load()), [place, node.test], [])
        return node

    visit_If = visit_IfExp = visit_While = _test

    def visit_comprehension(self, node):
        places = [self._place(c) for c in node.ifs]
        self.generic_visit(node)
        node.ifs = [
            ast.Call(ast.Name("_decided", ast.Load()), [p, c], []) for p, c in zip(places, node.ifs, strict=True)
        ]
        return node

    def visit_FunctionDef(self, node):
        if any(isinstance(d, ast.Call) and getattr(d.func, "id", "") == "formula" for d in node.decorator_list):
            return node  # a formula is read from its source
        node.body = [self.visit(x) for x in node.body]
        return node


class _Loader(importlib.machinery.SourceFileLoader):
    def source_to_code(self, data, path, *, _optimization=-1):
        tree = _Watch(self.name).visit(ast.parse(data))
        return compile(ast.fix_missing_locations(tree), path, "exec", dont_inherit=True)

    def get_code(self, fullname):  # never from a file of bytecode
        path = self.get_filename(fullname)
        return self.source_to_code(self.get_data(path), path)

    def exec_module(self, module):
        vars(module).update(_compared=compared, _decided=decided, _extreme=extreme)
        super().exec_module(module)


class _Finder(importlib.abc.MetaPathFinder):
    def find_spec(self, name, path, target=None):
        if not name.startswith("shoplib.topics"):
            return None
        spec = importlib.machinery.PathFinder.find_spec(name, path)
        if spec and isinstance(spec.loader, importlib.machinery.SourceFileLoader):
            spec.loader = _Loader(name, spec.origin)
        return spec


def install() -> None:
    """From now on; a module of the topics must not have been imported yet."""
    loaded = [name for name in sys.modules if name.startswith("shoplib.topics")]
    assert not loaded, f"imported before it could be watched: {loaded[0]}"
    sys.meta_path.insert(0, _Finder())
