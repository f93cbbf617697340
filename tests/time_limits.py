"""Nothing runs for ever: a test that hangs fails, and a run that hangs ends; both show where every thread was.

pytest-timeout ends a test, with its fixtures.  What hangs between tests, such as a worker that waits for its next one, is
ended by the interpreter.  What is run by name may take as long as it needs.
"""

import faulthandler
import os

BY_NAME = any(os.environ.get(name) for name in ("SHOPLIB_SLOW", "SHOPLIB_FUZZ"))
TEST = "600"  # seconds; the slowest takes 46 on a slow machine
RUN = float(os.environ.get("SHOPLIB_LONGEST_RUN", "4800"))  # seconds; the whole suite takes a sixth of it on two cores
ERRORS = os.dup(2)  # before pytest captures what is written there

os.environ.setdefault("PYTEST_TIMEOUT", "0" if BY_NAME else TEST)


def pytest_configure():
    if not BY_NAME:
        faulthandler.dump_traceback_later(RUN, exit=True, file=ERRORS)


def pytest_unconfigure():
    faulthandler.cancel_dump_traceback_later()
