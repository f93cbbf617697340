"""Several workers (``pytest -n 3``): each takes the next file, so that what a file's tests share is made once.

The browser tests of a face are taken together: they share a browser, a server and a JupyterLab that is loaded once, and
run in the order of a run without workers, so that what one leaves behind is always the same.  They come early, and the
notebooks, which are short, last: so no worker waits long for the other at the end.

What was collected stays until the end: the collector of garbage does not look at it again (7 % of the processor time).
"""

import gc
import re

import pytest
from xdist.scheduler import LoadFileScheduling

LAB = re.compile(r"test_lab\.py|test_grid\.py|saved_notebook|\[[Ll]ab")  # the others use the pages


class ByFile(LoadFileScheduling):
    def _split_scope(self, nodeid):
        if nodeid.startswith("tests/browser/"):
            return "browser, JupyterLab" if LAB.search(nodeid) else "browser, pages"
        return super()._split_scope(nodeid)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    config.option.loadscopereorder = False  # the order of collection, not those with the most tests first
    return ByFile(config, log)


def pytest_collection_finish(session):
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 50)


def pytest_terminal_summary(terminalreporter):
    """A test that passed only the second time is printed like one that failed: somebody should look at it."""
    for report in terminalreporter.stats.get("rerun", []):
        terminalreporter.section(f"FAILED AT FIRST: {report.nodeid}")
        terminalreporter.line(report.longreprtext)
