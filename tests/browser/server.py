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


class Served:
    """A server on a copy of the notebooks, on one port; it can be killed and started again."""

    def __init__(self, command_of, folder: Path, probe: str, own: Path) -> None:
        self.port, self.folder, self.probe = free_port(None), folder, probe
        self.base = f"http://127.0.0.1:{self.port}"
        self._command, self._own = command_of(self.port), own
        self.process: subprocess.Popen[bytes]

    def start(self) -> None:
        """Until it answers."""
        places = {
            n: str(self._own / n.lower())
            for n in (
                "JUPYTER_CONFIG_DIR",
                "JUPYTER_DATA_DIR",
                "JUPYTER_RUNTIME_DIR",
                "IPYTHONDIR",
                "JUPYTERLAB_SETTINGS_DIR",
                "JUPYTERLAB_WORKSPACES_DIR",
            )
        }
        log = self._own / "server.log"
        with log.open("ab") as out:
            environment = {**lab_environment(self.folder, TOKEN), **places, "SHOPLIB_STORE": str(record(self.folder))}
            self.process = launch(self._command, environment, self.folder, out)
        wait_for(f"{self.base}{self.probe}", self.process, log)

    def kill(self) -> None:
        """As a power cut does."""
        self.process.kill()
        self.process.wait()
        self.process.stdin.close()

    def end(self) -> None:
        """It ends its kernels."""
        self.process.stdin.close()
        try:
            self.process.wait(15)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()


@contextlib.contextmanager
def mortal(command_of, folder: Path, probe: str) -> Iterator[Served]:
    """A server that a test may kill."""
    with tempfile.TemporaryDirectory(prefix="shoplib-") as own:
        one = Served(command_of, folder, probe, Path(own))
        one.start()
        try:
            yield one
        finally:
            one.end()


@contextlib.contextmanager
def served(command_of, folder: Path, probe: str) -> Iterator[str]:
    """Run a server on a copy of the notebooks; gives its base address."""
    with mortal(command_of, folder, probe) as one:
        yield one.base


def lab(folder: Path):
    """JupyterLab exactly as ``shoplib open`` starts it; a test may also give it commands from the page."""
    copy_notebooks(folder)
    more = ["--LabApp.expose_app_in_browser=True"]
    return served(lambda port: server_command(folder, port, browser=False) + more, folder, f"/api/status?token={TOKEN}")


def pages(folder: Path):
    """The pages without code, exactly as ``shoplib open`` serves them."""
    copy_notebooks(folder)
    return served(lambda port: server_command(folder, port, browser=False), folder, f"/api/status?token={TOKEN}")


def pages_to_kill(folder: Path):
    """The pages, with the server in hand."""
    copy_notebooks(folder)
    return mortal(lambda port: server_command(folder, port, browser=False), folder, f"/api/status?token={TOKEN}")
