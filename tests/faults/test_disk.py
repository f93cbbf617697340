"""The disk fails at every write and every forced write of every operation, once or from then on."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.faults.operations import OPERATIONS

SHIM = Path(__file__).with_name("shim.c")
COMPILER = shutil.which("cc")

pytestmark = pytest.mark.skipif(
    sys.platform != "linux" or COMPILER is None, reason="the shim needs Linux and a C compiler: apt-get install gcc"
)


@pytest.fixture(scope="session")
def shim(tmp_path_factory):
    built = tmp_path_factory.mktemp("shim") / "shim.so"
    subprocess.run([COMPILER, "-shared", "-fPIC", "-O1", "-o", built, SHIM, "-ldl"], check=True)
    return built


EVERY = [(name, mode) for name in (*OPERATIONS, "open", "upgrade", "copy") for mode in ("once", "on")]


@pytest.mark.parametrize(("name", "mode"), EVERY)
def test_nothing_is_lost_or_half_done(shim, tmp_path, name, mode):
    ran = subprocess.run(
        [sys.executable, "-m", "tests.faults.disk", str(tmp_path), name, mode],
        env=os.environ | {"LD_PRELOAD": str(shim)}, capture_output=True, text=True, check=False, timeout=600,
    )  # fmt: skip
    assert ran.returncode == 0, ran.stderr[-3000:]
    ended = json.loads(ran.stdout)
    print(f"{name}, {mode}: {ended}")
    assert ended["calls"] >= 4  # the shim sees the operation
    assert ended["saved"] >= 1  # the last round, without a fault
    if mode == "on":
        assert sum(ended.values()) - ended["calls"] > ended["saved"]  # and it is refused in others
