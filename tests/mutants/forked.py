"""A plugin for pytest: many mutants of functions in one process.  Set up by environment.

The tests are collected once.  Each mutant has a fork, in which the code of its functions is replaced before its tests run.
A test that fails there counts only if it passes in a fork without a change.  Code outside functions is not changed here.
"""

from __future__ import annotations

import contextlib
import gc
import json
import os
import resource
import signal
import time
from collections.abc import Iterator
from pathlib import Path
from types import CodeType, FunctionType

import pytest
from _pytest.runner import runtestprotocol

from tests import own_record

ASKED, OUT = Path(os.environ["MUTANTS_ASKED"]), Path(os.environ["MUTANTS_OUT"])
PASSED, FAILED, UNCLEAR = 0, 1, 2


def _codes(code: CodeType) -> Iterator[CodeType]:
    for part in code.co_consts:
        if isinstance(part, CodeType):
            yield part
            yield from _codes(part)


def _functions(path: str) -> dict[tuple[str, int], list[FunctionType]]:
    """The functions of a file that live in this process, by name and first line."""
    found: dict[tuple[str, int], list[FunctionType]] = {}
    for thing in gc.get_objects():
        if isinstance(thing, FunctionType) and thing.__code__.co_filename == path:
            found.setdefault((thing.__code__.co_qualname, thing.__code__.co_firstlineno), []).append(thing)
    return found


def _replacements(path: str, source: str, live: dict) -> list[tuple[FunctionType, CodeType]]:
    """The functions whose code the mutant changes.  None: the change is outside them all."""
    was = {
        (code.co_qualname, code.co_firstlineno): code
        for code in _codes(compile(Path(path).read_text(encoding="utf-8"), path, "exec"))
    }
    return [
        (function, code)
        for code in _codes(compile(source, path, "exec"))
        if was.get(place := (code.co_qualname, code.co_firstlineno)) != code
        for function in live.get(place, [])
        if function.__code__.co_freevars == code.co_freevars
    ]


def _in_fork(config, items, replaced, seconds: float) -> int:
    """Whether all items pass with the functions replaced."""
    child = os.fork()
    if child == 0:
        status = UNCLEAR
        with contextlib.suppress(BaseException):
            os.setpgid(0, 0)
            limit = int(5 + 10 * seconds)
            resource.setrlimit(resource.RLIMIT_CPU, (limit, limit))
            own_record.pytest_configure(config)
            for function, code in replaced:
                function.__code__ = code
            status = PASSED
            for n, item in enumerate(items):
                following = items[n + 1] if n + 1 < len(items) else None
                if any(report.failed for report in runtestprotocol(item, log=False, nextitem=following)):
                    status = FAILED
                    ASKED.with_suffix(".first").write_text(item.nodeid)
                    break
            own_record.pytest_unconfigure(config)
        os._exit(status)
    ended, until = 0, time.monotonic() + 60 + 20 * seconds
    while not ended and time.monotonic() < until:
        ended, status = os.waitpid(child, os.WNOHANG)
        time.sleep(0.01)
    if not ended:
        os.killpg(child, signal.SIGKILL)
        os.waitpid(child, 0)
        return UNCLEAR
    if os.WIFSIGNALED(status):  # its processor time is over: it never ends
        return FAILED if os.WTERMSIG(status) in (signal.SIGXCPU, signal.SIGKILL) else UNCLEAR
    return os.WEXITSTATUS(status)


@pytest.hookimpl
def pytest_runtestloop(session):
    items, config = {item.nodeid: item for item in session.items}, session.config
    live: dict[str, dict] = {}
    trusted: dict[str, bool] = {}
    with OUT.open("w") as out:
        for n, (path, source, tests, seconds) in enumerate(json.loads(ASKED.read_text())):
            replaced = _replacements(path, source, live.setdefault(path, _functions(path)))
            picked = [items[test] for test in tests if test in items and trusted.get(test, True)]
            status = UNCLEAR
            while replaced and picked:
                status = _in_fork(config, picked, replaced, seconds)
                if status != FAILED or not ASKED.with_suffix(".first").exists():
                    break
                first = ASKED.with_suffix(".first").read_text()
                ASKED.with_suffix(".first").unlink()
                if first not in trusted:
                    trusted[first] = _in_fork(config, [items[first]], [], seconds) == PASSED
                    ASKED.with_suffix(".first").unlink(missing_ok=True)
                if trusted[first]:
                    break
                picked = [item for item in picked if item.nodeid != first]
                status = UNCLEAR
            print(n, status, file=out, flush=True)
    return True
