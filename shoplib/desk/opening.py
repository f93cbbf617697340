"""Opening the notebooks: on a copy of one's own, in JupyterLab, on this machine only."""

from __future__ import annotations

import json
import os
import secrets
import shutil
import socket
import subprocess
import sys
from pathlib import Path

import platformdirs

from shoplib.places import NOTEBOOKS

FIRST = "00-contents.ipynb"


class CannotOpen(RuntimeError):
    """Why the notebooks do not open, in words for the user."""


def copy_notebooks(target: Path | None = None) -> Path:
    """The user's own copy.  A notebook that is there already is never overwritten; new ones are added."""
    folder = target or Path(platformdirs.user_data_dir("shoplib", appauthor=False)) / "notebooks"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for source in sorted(NOTEBOOKS.glob("*.ipynb")):
            if not (folder / source.name).exists():
                shutil.copyfile(source, folder / source.name)
    except OSError as error:
        raise CannotOpen(f"{folder}: cannot keep the notebooks here: {error.strerror}") from None
    return folder


def free_port(wanted: int | None) -> int:
    """A port on loopback; a wanted one that is taken is said so."""
    with socket.socket() as probe:
        try:
            probe.bind(("127.0.0.1", wanted or 0))
        except OSError:
            raise CannotOpen(f"port {wanted} is taken; choose another with --port, or leave it out") from None
        return int(probe.getsockname()[1])


def lab_command(folder: Path, port: int, token: str, *, browser: bool) -> list[str]:
    """JupyterLab on loopback with a token, asking nobody outside for news or updates."""
    return [
        sys.executable, "-m", "jupyterlab",
        "--ServerApp.ip=127.0.0.1", f"--ServerApp.port={port}", "--ServerApp.port_retries=0",
        f"--IdentityProvider.token={token}", f"--ServerApp.root_dir={folder}",
        f"--LabApp.default_url=/lab/tree/{FIRST}",
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate", "--LabApp.news_url=None",
        "--LabApp.extension_manager=readonly",
        *([] if browser else ["--no-browser"]),
        *(["--ServerApp.allow_root=True"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []),
    ]  # fmt: skip


def lab_environment(folder: Path) -> dict[str, str]:
    """Defaults for a quiet JupyterLab, beside the copy; the user's own settings still win."""
    settings = folder.parent / "jupyter" / "labconfig"
    settings.mkdir(parents=True, exist_ok=True)
    (settings / "default_setting_overrides.json").write_text(
        json.dumps({"@jupyterlab/apputils-extension:notification": {"fetchNews": "false", "checkForUpdates": False}}),
        encoding="utf-8",
    )
    known = os.environ.get("JUPYTER_CONFIG_PATH")
    path = str(settings.parent) + (os.pathsep + known if known else "")
    return {**os.environ, "JUPYTER_CONFIG_PATH": path, "JUPYTER_PREFER_ENV_PATH": "1"}


def open_notebooks(*, port: int | None = None, browser: bool = True) -> int:
    """Copy, start JupyterLab, and stay until it is closed."""
    folder = copy_notebooks()
    port, token = free_port(port), secrets.token_hex(24)
    print(
        f"notebooks: {folder}",
        f"open:      http://127.0.0.1:{port}/lab/tree/{FIRST}?token={token}",
        "close:     Ctrl-C",
        sep="\n",
        flush=True,
    )
    command = lab_command(folder, port, token, browser=browser)
    try:
        ran = subprocess.run(command, env=lab_environment(folder), cwd=folder, check=False)  # noqa: S603 -- our own words
        return ran.returncode
    except KeyboardInterrupt:
        return 0
