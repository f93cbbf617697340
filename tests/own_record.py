"""Every test, and every notebook that is run as a test, has a job record of its own, never the user's.

A plugin, not a conftest: the notebooks lie outside this folder, and may be run alone.

The environment is inherited by the kernels and servers that tests start; a record is made only when somebody uses it.
"""

import hashlib
import os
import shutil
import sys
import tempfile
from pathlib import Path

import pytest

_folder = pytest.StashKey[Path]()


def pytest_configure(config):
    config.stash[_folder] = Path(tempfile.mkdtemp(prefix="shoplib-test-"))
    os.environ["SHOPLIB_STORE"] = str(config.stash[_folder] / "jobs.db")
    os.environ["SHOPLIB_DESK"] = "test"
    os.environ["XDG_DATA_HOME"] = str(config.stash[_folder] / "data")  # the key of the desk lies there


def pytest_unconfigure(config):
    shutil.rmtree(config.stash[_folder], ignore_errors=True)


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item):
    of = item if isinstance(item, pytest.Function) else item.parent  # the cells of a notebook share its kernel
    name = hashlib.sha256(of.nodeid.encode()).hexdigest()[:16]
    os.environ["SHOPLIB_STORE"] = str(item.config.stash[_folder] / f"{name}.db")


@pytest.hookimpl(trylast=True)
def pytest_runtest_teardown(item):
    if "shoplib.desk.widgets.session" in sys.modules:  # the next test opens its own
        sys.modules["shoplib.desk.widgets.session"].session.close()
