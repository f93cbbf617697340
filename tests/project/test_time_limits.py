"""A test that hangs fails and says where; a run that hangs ends and says where (tests/time_limits.py)."""

import os
import subprocess
import sys
import textwrap

import pytest

HANGS = """
    import threading
    def test_that_hangs(): threading.Event().wait()
    def test_after_it(): pass
"""


def ran(folder, *more, **environment):
    (folder / "test_here.py").write_text(textwrap.dedent(HANGS))
    plugins = [f"-p{name}" for name in ("tests.time_limits", "pytest_timeout", "xdist", "no:cacheprovider")]
    outside = {name: value for name, value in os.environ.items() if not name.startswith(("PYTEST_", "SHOPLIB_"))}
    outside |= {"PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1", "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}
    command, environment = [sys.executable, "-m", "pytest", *plugins, *more, "."], outside | environment
    return subprocess.run(
        command, cwd=folder, env=environment, capture_output=True, text=True, check=False, timeout=120
    )


@pytest.mark.parametrize("workers", [(), ("-n", "1")])
def test_a_test_that_hangs_fails_and_the_next_one_runs(tmp_path, workers):
    found = ran(tmp_path, "--timeout=1", *workers)
    assert "1 failed, 1 passed" in found.stdout
    assert "threading.Event().wait()" in found.stdout, "where it hung"


def test_a_run_that_hangs_ends(tmp_path):
    found = ran(tmp_path, SHOPLIB_LONGEST_RUN="3")
    assert found.returncode == 1
    assert "in test_that_hangs" in found.stderr, "where it hung"


def test_what_is_run_by_name_has_no_limit(tmp_path):
    found = ran(tmp_path, "--deselect", "test_here.py::test_that_hangs", SHOPLIB_SLOW="1", SHOPLIB_LONGEST_RUN="0.001")
    assert found.returncode == 0, found.stderr
