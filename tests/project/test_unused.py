"""No function, class or constant that only tests use.  A name that a framework calls is listed with its caller."""

import ast
import collections
import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
READ = ("shoplib/**/*", "notebooks/*.ipynb", "binder/*", "data/**/*.csv", "*.toml", "*.md")
CALLED_BY = {
    "_repr_html_": "Jupyter",
    "get_renderer": "matplotlib",
    "add_label": "matplotlib",
    "check_xsrf_cookie": "tornado",
    "launch_browser": "jupyter_server",
    "all_exercises": "the list of exercises, for scripts",
    "names_in_question": "the declaration of an exercise is checked with it",
}


def words(*patterns):
    found = collections.Counter()
    for pattern in patterns:
        for path in ROOT.glob(pattern):
            if path.is_file() and path.suffix in (
                ".py",
                ".html",
                ".js",
                ".typ",
                ".md",
                ".ipynb",
                ".toml",
                ".json",
                ".csv",
            ):
                found.update(re.findall(r"\w+", path.read_text(encoding="utf-8")))
    return found


def defined():
    """The name of each function and class, once per definition; what is registered by a decorator is left out."""
    for path in (ROOT / "shoplib").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("__"):
                registered = any(isinstance(d, ast.Call) for d in node.decorator_list)
                yield node.name, registered


def unused(definitions, used):
    times = collections.Counter(name for name, _ in definitions)
    return sorted({name for name, registered in definitions if not registered and used[name] <= times[name]})


def test_nothing_is_there_for_tests_only():
    found = unused(list(defined()), words(*READ))
    assert sorted(set(found) - CALLED_BY.keys()) == []


def test_an_unused_name_is_found():
    used = collections.Counter({"alone": 1, "called": 2, "registered": 1})
    assert unused([("alone", False), ("called", False), ("registered", True)], used) == ["alone"]
