"""A plugin for pytest: which test runs which lines of some files, and how long it takes.  Set up by environment."""

import json
import os
import time
from pathlib import Path

import coverage
import pytest

ROOT, OUT = Path.cwd(), os.environ["MUTANTS_OUT"]
_watch = coverage.Coverage(data_file=None, include=os.environ["MUTANTS_TARGETS"].split(os.pathsep), config_file=False)
_watch.start()
_took, _failed = {}, set()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item):
    _watch.switch_context(item.nodeid)
    begun = time.process_time()
    try:
        return (yield)
    finally:
        _took[item.nodeid] = time.process_time() - begun
        _watch.switch_context("")


def pytest_runtest_logreport(report):
    if report.failed:
        _failed.add(report.nodeid)


def pytest_sessionfinish(exitstatus):
    _watch.stop()
    lines = {}
    data = _watch.get_data()
    for file in data.measured_files():
        of_file = lines.setdefault(str(Path(file).relative_to(ROOT)), {})
        for line, contexts in data.contexts_by_lineno(file).items():
            of_file[line] = [c for c in contexts if c and c not in _failed]
    took = {test: time for test, time in _took.items() if test not in _failed}
    Path(OUT).write_text(json.dumps({"failed": sorted(_failed), "lines": lines, "took": took}))
