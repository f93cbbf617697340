"""A plugin for pytest: which test runs which lines of one file, and how long it takes.  Set up by environment."""

import json
import os
import time
from pathlib import Path

import coverage
import pytest

TARGET, OUT = os.environ["MUTANTS_TARGET"], os.environ["MUTANTS_OUT"]
_watch = coverage.Coverage(data_file=None, include=[TARGET], config_file=False)
_watch.start()
_took = {}


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item):
    _watch.switch_context(item.nodeid)
    begun = time.process_time()
    try:
        return (yield)
    finally:
        _took[item.nodeid] = time.process_time() - begun
        _watch.switch_context("")


def pytest_sessionfinish(exitstatus):
    _watch.stop()
    lines = {}
    data = _watch.get_data()
    for file in data.measured_files():
        for line, contexts in data.contexts_by_lineno(file).items():
            lines.setdefault(line, []).extend(c for c in contexts if c)
    Path(OUT).write_text(json.dumps({"exit": int(exitstatus), "lines": lines, "took": _took}))
