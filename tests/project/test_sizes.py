"""The size of modules and functions, with the exceptions that still stand.  The lists may only shrink."""

import ast
from pathlib import Path

import shoplib

ROOT = Path(shoplib.__file__).parent
LINES_OF_A_MODULE, LINES_OF_A_FUNCTION = 500, 80
LARGER_MODULES: dict[str, tuple[int, str]] = {}  # module: (lines that it may have, why)
LARGER_FUNCTIONS: dict[str, tuple[int, str]] = {}  # module::function


def modules():
    return {path.relative_to(ROOT).as_posix(): path.read_text(encoding="utf-8") for path in ROOT.rglob("*.py")}


def functions():
    for name, text in modules().items():
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                yield f"{name}::{node.name}", node.end_lineno - node.lineno + 1


def too_large(sizes, limit, exceptions):
    return {name: size for name, size in sizes if size > exceptions.get(name, (limit,))[0]}


def test_modules_are_short():
    sizes = [(name, len(text.splitlines())) for name, text in modules().items()]
    assert len(sizes) > 200
    assert too_large(sizes, LINES_OF_A_MODULE, LARGER_MODULES) == {}


def test_functions_are_short():
    assert too_large(functions(), LINES_OF_A_FUNCTION, LARGER_FUNCTIONS) == {}


def test_an_exception_that_is_no_longer_needed_is_removed():
    lines = {name: len(text.splitlines()) for name, text in modules().items()}
    assert [name for name in LARGER_MODULES if lines[name] <= LINES_OF_A_MODULE] == []
    assert all(why for _, why in (*LARGER_MODULES.values(), *LARGER_FUNCTIONS.values()))


def test_one_too_long_is_found():
    assert too_large([("a.py", 501)], 500, {}) == {"a.py": 501}
    assert too_large([("a.py", 521)], 500, {"a.py": (520, "why")}) == {"a.py": 521}
    assert too_large([("a.py", 500)], 500, {}) == {}
