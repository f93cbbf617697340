"""nbval talks to its kernels over files: there is no port that another connection could take (tests/notebook_kernels.py)."""

import os
import subprocess

import nbval.kernel
import pytest

pytestmark = pytest.mark.skipif(os.name != "posix", reason="this system has no sockets that are files")


def test_all_five_sockets_are_files_and_none_is_left():
    manager, client = nbval.kernel.start_new_kernel(kernel_name="python3", stderr=subprocess.DEVNULL)
    try:
        files = [f"{manager.ip}-{n}" for n in manager.ports]
        assert len(files) == 5 and all(map(os.path.exists, files))
        client.execute("1 + 1", reply=True, timeout=60)
    finally:
        client.stop_channels()
        manager.shutdown_kernel(now=True)
    assert not any(map(os.path.exists, files))
