"""The evidence tables: what the published tests compare, and which formula each comparison answers for.

    .venv/bin/python -m tests.evidence                  # writes data/evidence/*.csv and datapackage.json
    .venv/bin/python -m tests.evidence test_coolant     # the same, only the tests of this file measured again

Every comparison in ``tests/published`` is kept.  Then each formula that was evaluated for it is made wrong by one
per cent, by multiplying what it returns, and the test is run again: how far the compared value moves says how large
an error of that formula the comparison would notice.  A formula that was merely evaluated on the way, and whose
error would go unnoticed, gets no credit.  The tests themselves compare the committed tables with what they give
(``tests/published/test_evidence.py``), so the page cannot drift from the tests.
"""

from __future__ import annotations

import ast
import csv
import functools
import importlib
import inspect
import io
import json
import math
import pkgutil
import re
import sys
import textwrap
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import CodeType
from typing import Any

import numpy as np
import pytest

import shoplib.physics
from shoplib.core import evidence as page
from shoplib.core.formula import REGISTRY, name, steps, text, tree
from tests.published.published import FOLDER, NOW, Compared

SEEN = pytest.StashKey[dict[str, list[Compared]]]()  # comparisons of this run, by test
NARROWED = pytest.StashKey[bool]()  # some tests were deselected
MEASURE = pytest.StashKey["Measure"]()
LAST = "test_the_committed_evidence_is_what_these_tests_give"
COMMAND = ".venv/bin/python -m tests.evidence"
PERCENT = 1.0  # by which a formula is made wrong


def formulas() -> dict[str, Callable[..., Any]]:
    """Every formula of the package, by topic and name."""
    for module in pkgutil.iter_modules(shoplib.physics.__path__):
        importlib.import_module(f"shoplib.physics.{module.name}")
    shipped = [fn for fn in REGISTRY if fn.__module__.startswith("shoplib.physics.")]
    return {f"{fn.__module__.rpartition('.')[2]}.{fn.__name__}": fn for fn in shipped}


# ------------------------------------------------------------------------------ making a formula wrong
@functools.cache
def wrong_code(fn: Callable[..., Any]) -> CodeType:
    """The same body, returning one per cent more."""
    body = ast.parse(textwrap.dedent(inspect.getsource(fn)))
    function = body.body[0]
    assert isinstance(function, ast.FunctionDef)
    function.decorator_list = []
    function.args.defaults = []
    last = function.body[-1]
    assert isinstance(last, ast.Return) and last.value is not None
    last.value = ast.BinOp(last.value, ast.Mult(), ast.Constant(1 + PERCENT / 100))
    flags = fn.__code__.co_flags & sys.modules["__future__"].annotations.compiler_flag
    module = compile(ast.fix_missing_locations(body), fn.__code__.co_filename, "exec", flags, dont_inherit=True)
    return next(c for c in module.co_consts if isinstance(c, CodeType) and c.co_name == fn.__name__)


@contextmanager
def made_wrong(fn: Callable[..., Any]) -> Iterator[None]:
    right, fn.__code__ = fn.__code__, wrong_code(fn)
    try:
        yield
    finally:
        fn.__code__ = right


def forget() -> None:
    """Empty the caches that may hold what a formula gave; tables are files and stay."""
    for key, module in list(sys.modules.items()):
        if key.startswith(("shoplib.physics.", "shoplib.topics")) and key != "shoplib.physics.tables":
            for value in vars(module).values():
                if hasattr(value, "cache_clear") and getattr(value, "__module__", "") == key:
                    value.cache_clear()


class Measure:
    """Runs each published test again with one formula wrong at a time."""

    def __init__(self) -> None:
        self.by_code = {fn.__code__: (key, fn) for key, fn in formulas().items()}
        for _, fn in self.by_code.values():  # now, before anybody edits a source file
            wrong_code(fn)
        self.checks: list[dict[str, str]] = []
        self.unreached: list[str] = []

    def pytest_configure(self, config: pytest.Config) -> None:
        config.stash[MEASURE] = self

    @contextmanager
    def watching(self) -> Iterator[set[CodeType]]:
        """The formulas that are evaluated meanwhile."""
        evaluated: set[CodeType] = set()

        def called(frame: Any, event: str, _: Any) -> None:
            if event == "call" and frame.f_code in self.by_code:
                evaluated.add(frame.f_code)

        forget()
        sys.setprofile(called)
        try:
            yield evaluated
        finally:
            sys.setprofile(None)

    def disturb(self, test: str, kept: list[Compared], evaluated: set[CodeType], again: Callable[[], Any]) -> None:
        found: dict[int, list[tuple[float, str]]] = {n: [] for n in range(len(kept))}
        for key, fn in sorted((self.by_code[code] for code in evaluated), key=lambda pair: pair[0]):
            moved: list[Compared] = []
            NOW.listener, NOW.lenient = moved.append, True
            try:
                with made_wrong(fn):
                    forget()
                    again()
            except Exception:  # noqa: BLE001 -- whatever a wrong formula breaks; what was compared until then counts
                if len(moved) < len(kept):
                    self.unreached.append(f"{test}: {len(moved)} of {len(kept)} with {key} wrong")
            finally:
                NOW.lenient = False
                forget()
            for n, (was, now) in enumerate(zip(kept, moved, strict=False)):
                percent = notices(was, now.value)
                if percent <= page.NOTICED:
                    found[n].append((percent, key))
        for n, c in enumerate(kept):
            answers = "; ".join(f"{key} {percent:.2g}" for percent, key in sorted(found[n], key=lambda pair: pair[1]))
            self.checks.append({**as_row(f"{test}.{n + 1}", test, c), "answers_for": answers})


def notices(was: Compared, now: float) -> float:
    """The error of the formula, in per cent either way, from which this comparison goes red."""
    shift = abs(now - was.value) / PERCENT
    if was.low is None or was.high is None or not shift > 1e-9 * max(abs(was.value), 1e-300):
        return math.inf
    return max(was.high - was.value, was.value - was.low) / shift


# ------------------------------------------------------------------------------ the tables
CHECKS = (
    "check", "what", "printed", "computed", "unit", "tolerance", "low", "high", "agrees", "source", "mark", "note", "test",
    "file", "line", "answers_for",
)  # fmt: skip
FORMULAS = (
    "formula", "symbol", "equation", "unit", "operations", "source", "about", "standing", "checks", "notices_percent",
)  # fmt: skip
ABOUT = {
    "checks": ("Every comparison with a published value, as the tests make it", {
        "check": "test and number of the comparison in it", "what": "what is compared",
        "printed": "as the source prints it", "computed": "what the package gives, to four digits beyond the tolerance",
        "unit": "of printed and computed", "tolerance": "how far apart they may lie, in words",
        "low": "lowest value with which the test is content", "high": "highest value with which the test is content",
        "agrees": "yes, or stated: the source disagrees and the test says so", "source": "document, edition, table",
        "mark": "read, quoted, library, from memory, common practice or derived", "note": "what has to be known about it",
        "test": "where it is compared", "file": "table in tests/published that holds the printed value",
        "line": "line in that table",
        "answers_for": "formulas whose error it would notice, each with that error in per cent, either way",
    }),
    "formulas": ("Every formula, its source, and how it stands", {
        "formula": "topic and name", "symbol": "of the source", "equation": "as it is printed", "unit": "of its value",
        "operations": "of arithmetic in it: one is a sum, a difference, a product or a quotient of two numbers",
        "source": "of the formula", "about": "what it gives", "standing": "best kind of check that answers for it",
        "checks": "comparisons of that kind that would notice an error of five per cent",
        "notices_percent": "smallest error that one of these would notice",
    }),
}  # fmt: skip
NUMBERS = {"low": "", "high": "", "line": "1", "operations": "1", "checks": "1", "notices_percent": "%"}


def as_row(key: str, test: str, c: Compared) -> dict[str, str]:
    return {
        "check": key, "what": c.what, "printed": c.printed, "computed": shown(c.value, c.low, c.high), "unit": c.unit,
        "tolerance": c.tolerance, "low": end(c.low), "high": end(c.high), "agrees": "yes" if c.agrees else "stated",
        "source": c.source, "mark": c.mark, "note": c.note, "test": test.partition("[")[0], "file": c.file,
        "line": str(c.line or ""),
    }  # fmt: skip


def shown(value: float, low: float | None, high: float | None) -> str:
    """Four digits beyond the tolerance, so that the last binary digits of a machine are not in the table."""
    if low is None or high is None or high - low < 1e-14 * abs(value):
        return f"{value:.7g}" if low is None or high is None else repr(value)
    decimals = 3 - math.floor(math.log10(high - low))
    return f"{value:.{max(decimals, 0)}f}".replace("-0." + "0" * max(decimals, 0), "0." + "0" * max(decimals, 0))


def end(x: float | None) -> str:
    return "" if x is None else f"{x:.12g}"


def formula_rows(checks: list[dict[str, str]]) -> list[dict[str, str]]:
    """One row a formula; how it stands follows from the comparisons."""
    rows = []
    for key, fn in sorted(formulas().items()):
        links = [
            (c["mark"], found[key]) for c in checks if c["agrees"] == "yes" and key in (found := page.answers_for(c))
        ]
        standing = page.standing(mark for mark, _ in links)
        errors = [error for mark, error in links if mark in page.STANDINGS[standing].marks]
        rows.append({
            **described(fn), "formula": key, "standing": standing, "checks": str(len(errors)),
            "notices_percent": f"{min(errors):.2g}" if errors else "",
        })  # fmt: skip
    return [{k: r[k] for k in FORMULAS} for r in rows]


def described(fn: Any) -> dict[str, str]:
    """What is read from the formula itself."""
    lines = [f"{text(name(symbol))} = {text(tree(expression))}" for symbol, expression, _ in steps(fn)]
    about = " ".join((fn.__doc__ or "").split("\n\n")[0].split())
    work = (ast.BinOp, ast.Call, ast.Compare)
    operations = sum(isinstance(node, work) for _, expression, _ in steps(fn) for node in ast.walk(expression))
    return {
        "symbol": text(name(fn.symbol)), "equation": "; ".join(lines), "unit": steps(fn)[-1][2].text, "source": fn.source,
        "about": about, "operations": str(operations),
    }  # fmt: skip


def as_csv(columns: tuple[str, ...], rows: list[dict[str, str]]) -> str:
    out = io.StringIO()
    writer = csv.DictWriter(out, columns, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def package() -> str:
    """The description of the tables."""
    resources = []
    for table, columns in (("formulas", FORMULAS), ("checks", CHECKS)):
        title, about = ABOUT[table]
        fields: list[dict[str, str]] = []
        for column in columns:
            kind = {"type": "number", "unit": NUMBERS[column]} if column in NUMBERS else {"type": "string"}
            fields.append({"name": column, **kind, "description": about[column]})
        resources.append({
            "name": table, "path": f"{table}.csv", "title": title, "profile": "tabular-data-resource",
            "mediatype": "text/csv", "encoding": "utf-8",
            "sources": [{"title": "the tests in tests/published; the source of each value stands beside it"}],
            "schema": {"fields": fields, "missingValues": [""]},
        })  # fmt: skip
    whole = {
        "profile": "data-package",
        "name": "shoplib-evidence",
        "title": "Evidence of shoplib",
        "resources": resources,
    }
    return json.dumps(whole, indent=2, ensure_ascii=False) + "\n"


# ------------------------------------------------------------------------------ what differs
def differences(seen: dict[str, list[Compared]], *, whole: bool) -> list[str]:
    """How the committed tables differ from the comparisons of this run; with ``whole`` none may be missing."""
    committed = {c["check"]: c for c in page.table("checks")}
    fresh = {f"{test}.{n}": as_row(f"{test}.{n}", test, c) for test, cs in seen.items() for n, c in enumerate(cs, 1)}
    ran = {row["test"] for row in fresh.values()} if whole else set()
    found = [f"{key} is not in checks.csv" for key in fresh if key not in committed]
    found += [
        f"{key} is no longer compared"
        for key, c in committed.items()
        if key not in fresh and (whole or c["test"] in ran)
    ]
    for key, row in fresh.items():
        old = committed.get(key)
        if old is not None:
            found += [
                f"{key}: {column} {old[column]!r} is now {row[column]!r}"
                for column in row
                if not same(column, old, row)
            ]
    return found


def same(column: str, old: dict[str, str], new: dict[str, str]) -> bool:
    """Texts to the letter; numbers but for the last digits of a machine or of another release of a library."""
    a, b = old[column], new[column]
    if a == b:
        return True
    numeric = column in ("computed", "low", "high") or (column == "printed" and new["mark"] == "library")
    if not numeric or not (a and b):
        return False
    width = float(new["high"]) - float(new["low"]) if new["low"] and new["high"] else 0.0
    return bool(
        np.isclose(float(a), float(b), rtol=1e-7, atol=1e-3 * width if new["mark"] == "library" else 1e-4 * width)
    )


def in_order(check: dict[str, str]) -> tuple[str, list[int]]:
    """Tests by name, their cases and comparisons by number."""
    name, _, rest = check["check"].replace("[", ".", 1).partition(check["test"])
    return check["test"], [int(n) for n in re.findall(r"\d+", rest or name)]


def main(names: list[str]) -> int:
    """Measure the tests of these files, or of all, and write the tables."""
    measure = Measure()
    files = [str(FOLDER / f"{name.removesuffix('.py')}.py") for name in names] or [str(FOLDER)]
    code = pytest.main(["-q", "-p", "no:cacheprovider", "--deselect", f"tests/published/test_evidence.py::{LAST}",
                        *files], plugins=[measure])  # fmt: skip
    if code:
        print("the published tests are red: nothing was written")
        return int(code)
    folder = page.FOLDER
    folder.mkdir(parents=True, exist_ok=True)
    measured = {name.removesuffix(".py") for name in names}
    others = [c for c in page.table("checks") if c["test"].partition(".")[0] not in measured] if names else []
    checks = sorted([*others, *measure.checks], key=in_order)
    tables = {"checks": (CHECKS, checks), "formulas": (FORMULAS, formula_rows(checks))}
    for table, (columns, rows) in tables.items():
        (folder / f"{table}.csv").write_text(as_csv(columns, rows), encoding="utf-8", newline="\n")
    (folder / "datapackage.json").write_text(package(), encoding="utf-8", newline="\n")
    for line in measure.unreached:
        print("not reached:", line)
    standing: dict[str, int] = {}
    for row in tables["formulas"][1]:
        standing[row["standing"]] = standing.get(row["standing"], 0) + 1
    print(f"{len(checks)} comparisons, {len(tables['formulas'][1])} formulas: {standing}")
    return 0


if __name__ == "__main__":
    from tests.evidence import main as run  # under the name by which conftest.py knows it

    sys.exit(run(sys.argv[1:]))
