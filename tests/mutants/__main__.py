"""``python -m tests.mutants shoplib/core/rounding.py [--tests FILE …] [--sample N] [--seed S]``.

Changes one expression at a time in a copy of the project and runs the tests that cover its line, quickest first.
Prints the mutants that no test noticed.  ``equivalents.csv`` names those that change nothing, each with the reason.
A runner of our own: a formula is read from its source, and the tools that wrap every function hide that source.
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.mutants.changes import Mutant, mutants

ROOT = Path(__file__).parents[2]
EQUIVALENTS = Path(__file__).with_name("equivalents.csv")
MOST_TESTS = 60  # for one mutant, quickest first
USUAL = ["tests/unit/test_verdicts*.py", "tests/unit/test_workings*.py", "tests/unit/test_formulas.py",
         "tests/unit/test_types.py", "tests/unit/test_working.py", "tests/property", "tests/published"]  # fmt: skip
QUIET = ["-q", "-o", "addopts=", "-p", "no:cacheprovider", "-p", "tests.fastimport", "-p", "tests.apart", "-p",
         "_hypothesis_pytestplugin", "--hypothesis-seed=0"]  # fmt: skip


def copied() -> Path:
    """A copy of the project in which files may be changed."""
    top = Path(tempfile.mkdtemp(prefix="mutants-"))
    for name in ("shoplib", "tests", "data", "notebooks"):
        shutil.copytree(ROOT / name, top / name, ignore=shutil.ignore_patterns("__pycache__", ".pytest_cache"))
    for name in ("pyproject.toml", "README.md", "DEVELOPERS.md", "CHANGELOG.md"):
        shutil.copy(ROOT / name, top / name)
    return top


def environment(top: Path, **more: str) -> dict[str, str]:
    return (
        os.environ
        | {"PYTHONPATH": str(top), "PYTHONDONTWRITEBYTECODE": "1", "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}
        | more
    )


def covered(top: Path, target: str, tests: list[str]) -> dict[str, dict]:
    """Which tests run which line, all of them passing."""
    out = top / "covered.json"
    files = [str(p.relative_to(top)) for name in tests for p in sorted(top.glob(name))]
    more = {"MUTANTS_TARGET": str(top / target), "MUTANTS_OUT": str(out)}
    command = [sys.executable, "-m", "pytest", *QUIET, "-p", "tests.mutants.covering", *files]
    ran = subprocess.run(
        command, cwd=top, env=environment(top, **more), capture_output=True, text=True, errors="replace", check=False
    )
    if not out.exists() or (found := json.loads(out.read_text()))["exit"] != 0:
        sys.exit(f"the tests must pass before anything is changed:\n{ran.stdout[-3000:]}{ran.stderr[-2000:]}")
    return found


def chosen(found: dict[str, dict], line: int) -> list[str]:
    """The tests of a line, quickest first.  Of a line that runs on import: any test, those that touch the file first."""
    touching = {test for tests in found["lines"].values() for test in tests}
    tests = found["lines"].get(str(line)) or list(found["took"])
    return sorted(tests, key=lambda t: (t not in touching, found["took"].get(t, 9e9)))[:MOST_TESTS]


def noticed(top: Path, target: str, mutant: Mutant, tests: list[str], patience: float) -> bool:
    """Whether a test fails, or never ends, with this change."""
    (top / target).write_text(mutant.source, encoding="utf-8")
    command = [sys.executable, "-m", "pytest", "-x", *QUIET, *tests]
    try:
        ran = subprocess.run(
            command, cwd=top, env=environment(top), timeout=patience, check=False,
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return True
    return ran.returncode != 0


def set_aside() -> set[tuple[str, str, str]]:
    """Mutants that change nothing that anybody could see: file, line and change."""
    with open(EQUIVALENTS, encoding="utf-8", newline="") as file:
        return {(row["file"], row["line"], row["mutant"]) for row in csv.DictReader(file)}


def run(target: str, tests: list[str], sample: int | None, seed: int) -> int:
    """The number of mutants that no test noticed."""
    top = copied()
    try:
        source, begun = (top / target).read_text(encoding="utf-8"), time.monotonic()
        found = covered(top, target, tests)
        patience = 60 + 10 * (time.monotonic() - begun)
        aside = set_aside()
        every = [m for m in mutants(source) if (target, m.within, m.name) not in aside]
        asked = every if sample is None else random.Random(seed).sample(every, min(sample, len(every)))
        left = []
        for mutant in asked:
            picked = chosen(found, mutant.line)
            if not picked or not noticed(top, target, mutant, picked, patience):
                left.append(mutant)
                print(f"{target}:{mutant.line}: {mutant.name}", flush=True)
        killed = len(asked) - len(left)
        print(f"{target}: {killed} of {len(asked)} noticed ({len(every)} in all, {time.monotonic() - begun:.0f} s)")
        return len(left)
    finally:
        shutil.rmtree(top, ignore_errors=True)


def main() -> int:
    reads = argparse.ArgumentParser(prog="python -m tests.mutants")
    reads.add_argument("targets", nargs="+")
    reads.add_argument("--tests", nargs="+", default=USUAL)
    reads.add_argument("--sample", type=int)
    reads.add_argument("--seed", type=int, default=1)
    options = reads.parse_args()
    return int(sum(run(t, options.tests, options.sample, options.seed) for t in options.targets) > 0)


if __name__ == "__main__":
    sys.exit(main())
