"""Opening the notebooks, on a copy of one's own: in JupyterLab, or as pages without code; on this machine only."""

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

from shoplib.desk import STATIC
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


LOOPBACK = "127.0.0.1"
IDLE_SECONDS = 600  # a page that nobody looks at gives its memory back after this long


def free_port(wanted: int | None, ip: str = LOOPBACK) -> int:
    """A port at the address; a wanted one that is taken is said so."""
    with socket.socket() as probe:
        try:
            probe.bind((ip, wanted or 0))
        except OSError as error:
            if wanted is None:
                raise CannotOpen(f"{ip} is no address of this machine: {error.strerror}") from None
            raise CannotOpen(f"port {wanted} is taken; choose another with --port, or leave it out") from None
        return int(probe.getsockname()[1])


def lab_command(folder: Path, port: int, token: str, *, browser: bool, ip: str = LOOPBACK) -> list[str]:
    """JupyterLab with a token, asking nobody outside for news or updates."""
    return [
        sys.executable, "-m", "jupyterlab",
        f"--ServerApp.ip={ip}", f"--ServerApp.port={port}", "--ServerApp.port_retries=0",
        f"--IdentityProvider.token={token}", f"--ServerApp.root_dir={folder}",
        f"--LabApp.default_url=/lab/tree/{FIRST}",
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate", "--LabApp.news_url=None",
        "--LabApp.extension_manager=readonly",
        *([] if browser else ["--no-browser"]),
        *(["--ServerApp.allow_root=True"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []),
    ]  # fmt: skip


def pages_command(folder: Path, port: int, token: str, *, browser: bool, ip: str = LOOPBACK) -> list[str]:
    """The same notebooks as pages without code; a kernel left alone is ended."""
    return [
        sys.executable, "-m", "voila", str(folder),
        f"--Voila.ip={ip}", f"--Voila.port={port}", "--Voila.port_retries=0", f"--Voila.token={token}",
        f"--MappingKernelManager.cull_idle_timeout={IDLE_SECONDS}", "--MappingKernelManager.cull_interval=60",
        "--VoilaConfiguration.template=bench", "--VoilaConfiguration.file_allowlist=[]",
        *([] if browser else ["--no-browser"]),
    ]  # fmt: skip


def lab_environment(folder: Path) -> dict[str, str]:
    """Defaults for a quiet JupyterLab, beside the copy; the user's own settings still win."""
    settings = folder.parent / "jupyter" / "labconfig"
    settings.mkdir(parents=True, exist_ok=True)
    (settings / "default_setting_overrides.json").write_text(
        json.dumps({"@jupyterlab/apputils-extension:notification": {"fetchNews": "false", "checkForUpdates": False}}),
        encoding="utf-8",
    )
    return {
        **os.environ,
        "JUPYTER_CONFIG_PATH": _before("JUPYTER_CONFIG_PATH", settings.parent),
        "JUPYTER_PATH": _before("JUPYTER_PATH", STATIC / "jupyter"),  # our page template
        "JUPYTER_PREFER_ENV_PATH": "1",
    }


def _before(name: str, first: Path) -> str:
    known = os.environ.get(name)
    return str(first) + (os.pathsep + known if known else "")


def open_notebooks(
    *, port: int | None = None, browser: bool = True, pages: bool = False, listen: str = LOOPBACK
) -> int:
    """Copy, start JupyterLab or the pages, and stay until it is closed."""
    folder = copy_notebooks()
    port, token = free_port(port, listen), secrets.token_hex(24)
    where = f"voila/render/{FIRST}" if pages else f"lab/tree/{FIRST}"
    print(f"notebooks: {folder}", f"open:      http://{listen}:{port}/{where}?token={token}", sep="\n")
    if listen != LOOPBACK:
        print(
            f"careful:   anybody who can reach {listen} and has this address with its token can run programs here",
            "           as you; it is not encrypted. Only on a network you trust.",
            sep="\n",
        )
    print("close:     Ctrl-C", flush=True)
    command = (pages_command if pages else lab_command)(folder, port, token, browser=browser, ip=listen)
    try:
        ran = subprocess.run(command, env=lab_environment(folder), cwd=folder, check=False)  # noqa: S603 -- our own words
        return ran.returncode
    except KeyboardInterrupt:
        return 0
