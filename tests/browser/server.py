"""The server of both faces for a test, on loopback, with its own settings; ended by its own process id."""

from __future__ import annotations

import contextlib
import subprocess
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

from shoplib.desk.server.address import free_port
from shoplib.desk.server.launcher import copy_notebooks, lab_environment, launch, server_command

TOKEN = "browser-test"


def wait_for(url: str, process: subprocess.Popen[bytes], log: Path, seconds: float = 90) -> None:
    """Until the address answers; a server that died shows its log."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if process.poll() is not None:
            raise RuntimeError(f"the server ended with {process.returncode}\n{log.read_text()[-3000:]}")
        failures = (urllib.error.URLError, ConnectionError, TimeoutError)
        with contextlib.suppress(*failures), urllib.request.urlopen(url, timeout=2) as answer:
            if answer.status == 200:
                return
        time.sleep(0.05)
    raise TimeoutError(f"{url}\n{log.read_text()[-3000:]}")


def record(folder: Path) -> Path:
    """Where the jobs lie that a server on this copy of the notebooks keeps."""
    return folder.parent / "jobs.db"


@contextlib.contextmanager
def served(command_of, folder: Path, probe: str) -> Iterator[str]:
    """Run a server on a copy of the notebooks; gives its base address."""
    port = free_port(None)
    with tempfile.TemporaryDirectory(prefix="shoplib-") as own:
        places = {
            n: str(Path(own) / n.lower())
            for n in (
                "JUPYTER_CONFIG_DIR",
                "JUPYTER_DATA_DIR",
                "JUPYTER_RUNTIME_DIR",
                "IPYTHONDIR",
                "JUPYTERLAB_SETTINGS_DIR",
                "JUPYTERLAB_WORKSPACES_DIR",
            )
        }
        log = Path(own) / "server.log"
        with log.open("wb") as out:
            environment = {**lab_environment(folder, TOKEN), **places, "SHOPLIB_STORE": str(record(folder))}
            process = launch(command_of(port), environment, folder, out)
        try:
            wait_for(f"http://127.0.0.1:{port}{probe}", process, log)
            yield f"http://127.0.0.1:{port}"
        finally:
            process.stdin.close()  # it ends its kernels
            try:
                process.wait(15)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


def lab(folder: Path):
    """JupyterLab exactly as ``shoplib open`` starts it; a test may also give it commands from the page."""
    copy_notebooks(folder)
    more = ["--LabApp.expose_app_in_browser=True"]
    return served(lambda port: server_command(folder, port, browser=False) + more, folder, f"/api/status?token={TOKEN}")


def pages(folder: Path):
    """The pages without code, exactly as ``shoplib open`` serves them."""
    copy_notebooks(folder)
    return served(lambda port: server_command(folder, port, browser=False), folder, f"/api/status?token={TOKEN}")
