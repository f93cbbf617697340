"""Several workers (``pytest -n auto``): each takes the next test, a notebook whole.

The cells of a notebook share one kernel; all other tests stand alone.  Shared out by file, the two files of browser
tests alone would keep one worker busy long after the others had ended.
"""

import pytest
from xdist.scheduler import LoadFileScheduling


class OneByOne(LoadFileScheduling):
    def _split_scope(self, nodeid):
        file = super()._split_scope(nodeid)
        return file if file.endswith(".ipynb") else nodeid


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    return OneByOne(config, log)
