"""``python -m tests.mutants shoplib/core/rounding.py [--tests FILE …] [--sample N] [--of-all] [--seed S] …``.

Changes one expression at a time in a copy of the project and runs the tests that cover its line, quickest first.
Prints the mutants that no test noticed.  ``--sample`` takes N of each file, with ``--of-all`` N of all files together; a folder
stands for its files.  What tests do not notice in a fork (``forked``) is tried again with the file changed on the disk.  ``equivalents.csv`` names those that change nothing, each with the reason.
A runner of our own: a formula is read from its source, and the tools that wrap every function hide that source.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from tests.mutants.changes import Mutant, mutants

ROOT = Path(__file__).parents[2]
EQUIVALENTS = Path(__file__).with_name("equivalents.csv")
OF_CONSTANTS = {  # they run no line of what they look at
    "tests/physics/test_same_numbers.py::test_limits_and_constants_are_those_of_before",
    "tests/record/test_line_rules.py::test_what_a_line_needs_and_how_long_its_texts_are_stays_as_it_was",
}
DECLARED = ("declared", "constants", "tables")  # recorded runs that look at what modules declare
LONGEST = 60.0  # seconds of tests for one mutant, if not asked otherwise
USUAL = ["tests/topics", "tests/physics/test_formulas.py", "tests/core/test_types.py", "tests/core/test_working.py",
         "tests/property", "tests/published"]  # fmt: skip
QUIET = ["-q", "-o", "addopts=", "-p", "no:cacheprovider", "-p", "tests.skipped_work", "-p", "tests.own_record", "-p",
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


def covered(top: Path, targets: list[str], tests: list[str]) -> dict:
    """Which passing tests run which line of which file, and the time of each.  One that fails unchanged notices nothing."""
    out = top / "covered.json"
    files = [str(p.relative_to(top)) for name in tests for p in sorted(top.glob(name))]
    folders = sorted({str((top / target).parent / "*") for target in targets})
    more = {"MUTANTS_TARGETS": os.pathsep.join(folders), "MUTANTS_OUT": str(out)}
    command = [sys.executable, "-m", "pytest", *QUIET, "-p", "tests.mutants.covering", *files]
    ran = subprocess.run(
        command, cwd=top, env=environment(top, **more), capture_output=True, text=True, errors="replace", check=False
    )
    if not out.exists() or not (found := json.loads(out.read_text()))["took"]:
        sys.exit(f"no test passes before anything is changed:\n{ran.stdout[-3000:]}{ran.stderr[-2000:]}")
    for test in found["failed"]:
        print(f"left out, it fails unchanged: {test}", flush=True)
    return found


def chosen(found: dict, target: str, line: int, longest: float) -> list[str]:
    """The tests of a line, quickest first, for so many seconds.

    Of a line that runs on import: those that touch its file, the recorded runs first, because they look at every number.
    """
    of_file = found["lines"].get(target, {})
    if not any(of_file.values()):  # it only declares: the tests of the folder
        near = [lines for file, lines in found["lines"].items() if Path(file).parent == Path(target).parent]
        of_file = {f"{n} {at}": tests for n, lines in enumerate(near) for at, tests in lines.items()}
    tests = of_file.get(str(line))
    on_import = not tests
    if on_import:
        declared = {t for t in found["took"] if t in OF_CONSTANTS or any(f"[{kind}-" in t for kind in DECLARED)}
        tests = list({*declared, *(t for tests in of_file.values() for t in tests)})
    picked, took = [], 0.0
    for test in sorted(
        tests, key=lambda t: (t not in OF_CONSTANTS, on_import and "test_recorded" not in t, found["took"][t])
    ):
        took += found["took"][test]
        if picked and took > longest:
            break
        picked.append(test)
    return picked


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


def noticed_in_forks(top: Path, found: dict, asked: dict[str, list[Mutant]], longest: float) -> set[tuple[str, str]]:
    """Those that tests notice in one process (see ``forked``): most of them, in a small part of the time."""
    wanted = [(target, mutant) for target, of_file in asked.items() for mutant in of_file]
    tasks = []
    for target, mutant in wanted:
        tests = chosen(found, target, mutant.line, longest)
        tasks.append((str(top / target), mutant.source, tests, sum(found["took"][test] for test in tests)))
    task_file, out = top / "tasks.json", top / "forked.txt"
    task_file.write_text(json.dumps(tasks))
    more = {"MUTANTS_ASKED": str(task_file), "MUTANTS_OUT": str(out)}
    files = sorted({test.partition("::")[0] for _, _, tests, _ in tasks for test in tests})
    command = [sys.executable, "-m", "pytest", *QUIET, "--basetemp", str(top / "tmp"), "-p", "tests.mutants.forked"]
    subprocess.run([*command, *files], cwd=top, env=environment(top, **more), stdin=subprocess.DEVNULL,
                   stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False)  # fmt: skip
    lines = out.read_text().splitlines() if out.exists() else []
    failed = [wanted[int(n)] for n, status in map(str.split, lines) if status == "1"]
    return {(target, mutant.source) for target, mutant in failed}


def set_aside() -> set[tuple[str, str, str]]:
    """Mutants that change nothing that anybody could see: file, line and change."""
    with open(EQUIVALENTS, encoding="utf-8", newline="") as file:
        return {(row["file"], row["line"], row["mutant"]) for row in csv.DictReader(file)}


def files_of(names: list[str]) -> list[str]:
    """The files, and those of the folders, as paths from the top of the project."""
    found = [
        p for name in names for p in ([ROOT / name] if name.endswith(".py") else sorted((ROOT / name).rglob("*.py")))
    ]
    return [str(p.relative_to(ROOT)) for p in found]


def drawn(
    targets: list[str], sample: int | None, of_all: bool, seed: int
) -> tuple[dict[str, list[Mutant]], Counter[str]]:
    """The mutants to try by file, and how many each file has."""
    aside, every = set_aside(), {}
    for target in targets:
        source = (ROOT / target).read_text(encoding="utf-8")
        every[target] = [m for m in mutants(source) if (target, m.within, m.name) not in aside]
    counts = Counter({target: len(of_file) for target, of_file in every.items()})
    if sample is None:
        return every, counts
    if of_all:
        pool = [(target, mutant) for target, of_file in every.items() for mutant in of_file]
        asked: dict[str, list[Mutant]] = {}
        for target, mutant in sorted(pool, key=lambda each: _draw(seed, *each))[:sample]:
            asked.setdefault(target, []).append(mutant)
        return asked, counts
    return {t: sorted(of, key=lambda m, t=t: _draw(seed, t, m))[:sample] for t, of in every.items()}, counts


def _draw(seed: int, target: str, mutant: Mutant) -> str:
    """A random place in the order of all mutants that does not depend on the others: a draw stays as code is added."""
    return hashlib.sha256(f"{seed} {target} {mutant.within} {mutant.name}".encode()).hexdigest()


def left_over(
    top: Path, asked: dict[str, list[Mutant]], tests: list[str], longest: float
) -> tuple[dict[str, list[Mutant]], bool]:
    """The mutants that these tests do not notice; and whether a test fails before anything is changed."""
    begun = time.monotonic()
    found = covered(top, list(asked), tests)
    patience = 60 + 10 * min(time.monotonic() - begun, longest)
    in_forks = noticed_in_forks(top, found, asked, longest)
    left: dict[str, list[Mutant]] = {}
    for target, of_file in asked.items():
        source = (top / target).read_text(encoding="utf-8")
        for mutant in of_file:
            if (target, mutant.source) in in_forks:
                continue
            picked = chosen(found, target, mutant.line, longest)
            if not picked or not noticed(top, target, mutant, picked, patience):
                left.setdefault(target, []).append(mutant)
                said = "" if picked else "  (no test runs it)"
                print(f"{target}:{mutant.line}: {mutant.name}{said}", flush=True)
        (top / target).write_text(source, encoding="utf-8")
    return left, bool(found["failed"])


def run(
    targets: list[str], rounds: list[list[str]], sample: int | None, of_all: bool, seed: int, longest: float,
    least: float,
) -> int:  # fmt: skip
    """0 if so large a share of the mutants was noticed, and no test fails before anything is changed."""
    asked, counts = drawn(targets, sample, of_all, seed)
    top = copied()
    try:
        begun, left, failed = time.monotonic(), asked, False
        for tests in rounds:
            if left:
                left, fails = left_over(top, left, tests, longest)
                failed = failed or fails
                print(f"left over: {sum(map(len, left.values()))}", flush=True)
        for target, of_file in asked.items():
            seen = len(of_file) - len(left.get(target, []))
            print(f"{target}: {seen} of {len(of_file)} noticed ({counts[target]} in all)", flush=True)
        number = sum(map(len, asked.values()))
        seen = number - sum(map(len, left.values()))
        print(f"all files: {seen} of {number} noticed ({counts.total()} in all, {time.monotonic() - begun:.0f} s)")
        return int(seen < least * number or failed)
    finally:
        shutil.rmtree(top, ignore_errors=True)


def main() -> int:
    reads = argparse.ArgumentParser(prog="python -m tests.mutants")
    reads.add_argument("targets", nargs="+")
    reads.add_argument("--tests", nargs="+", default=USUAL)
    reads.add_argument("--then", nargs="+", default=[], help="tests for what the others did not notice")
    reads.add_argument("--sample", type=int)
    reads.add_argument("--of-all", action="store_true")
    reads.add_argument("--seed", type=int, default=1)
    reads.add_argument("--longest", type=float, default=LONGEST, metavar="SECONDS", help="of tests for one mutant")
    reads.add_argument("--least", type=float, default=1.0, metavar="SHARE", help="that must be noticed")
    asked = reads.parse_args()
    targets = files_of(asked.targets)
    rounds = [asked.tests, asked.then] if asked.then else [asked.tests]
    return run(targets, rounds, asked.sample, asked.of_all, asked.seed, asked.longest, asked.least)


if __name__ == "__main__":
    sys.exit(main())
