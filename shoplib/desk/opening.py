"""Opening the notebooks, on a copy of one's own: in JupyterLab, or as pages without code; on this machine only."""

from __future__ import annotations

import contextlib
import errno
import json
import os
import secrets
import shutil
import socket
import subprocess
import sys
import webbrowser
from importlib import metadata
from pathlib import Path

import platformdirs

from shoplib.desk import STATIC
from shoplib.places import NOTEBOOKS

FIRST = "00-contents.ipynb"
SERVE = "shoplib.desk.serve"
CONNECTION = "shoplib.desk.connection.AtOnce"


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
TO_CLOSE = 15  # seconds for the kernels to end
LAST_WORDS = 15  # lines of a server that ended with an error
KEPT_LOGS = 8  # of the latest starts, this one among them
IDLE_SECONDS = 600  # a page that nobody looks at gives its memory back after this long


def free_port(wanted: int | None, ip: str = LOOPBACK) -> int:
    """A port at the address; a wanted one that is taken is said so."""
    if wanted is not None and not 0 < wanted < 65536:
        raise CannotOpen(f"{wanted} is no port; choose one from 1024 to 65535 with --port, or leave it out")
    with socket.socket() as probe:
        try:
            probe.bind((ip, wanted or 0))
        except PermissionError:
            raise CannotOpen(
                f"port {wanted} is kept for the system; choose one from 1024 to 65535 with --port"
            ) from None
        except OSError as error:
            if error.errno == errno.EADDRINUSE:
                raise CannotOpen(f"port {wanted} is taken; choose another with --port, or leave it out") from None
            raise CannotOpen(f"{ip} is no address of this machine: {error.strerror}") from None
        return int(probe.getsockname()[1])


def require(program: str) -> None:
    """Said at once and in words when the program that shows the notebooks is not here, or older than shoplib needs."""
    from packaging.requirements import Requirement  # a part of every JupyterLab

    wanted = next(r for r in map(Requirement, metadata.requires("shoplib") or ()) if r.name.lower() == program)
    cure = f'type: {Path(sys.executable).name} -m pip install --upgrade "{wanted}"'
    try:
        found = metadata.version(program)
    except metadata.PackageNotFoundError:
        raise CannotOpen(f"{program} is not installed; {cure}") from None
    if not wanted.specifier.contains(found, prereleases=True):
        raise CannotOpen(f"{program} {found} is here, but shoplib needs {wanted.specifier}; {cure}")


def browser_is_here() -> bool:
    """Whether a browser can be opened from here."""
    try:
        webbrowser.get()
    except webbrowser.Error:
        return False
    return True


def lab_command(folder: Path, port: int, token: str, *, browser: bool, ip: str = LOOPBACK) -> list[str]:
    """JupyterLab with a token, asking nobody outside for news or updates."""
    return [
        sys.executable, "-m", SERVE, "jupyterlab",
        f"--ServerApp.ip={ip}", f"--ServerApp.port={port}", "--ServerApp.port_retries=0",
        f"--IdentityProvider.token={token}", f"--ServerApp.root_dir={folder}",
        f"--LabApp.default_url=/lab/tree/{FIRST}", f"--ServerApp.kernel_websocket_connection_class={CONNECTION}",
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate", "--LabApp.news_url=None",
        "--LabApp.extension_manager=readonly",
        "--ServerApp.answer_yes=True",  # Ctrl-C is the answer, not the question
        *([] if browser else ["--no-browser"]),
        *(["--ServerApp.allow_root=True"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []),
    ]  # fmt: skip


def pages_command(folder: Path, port: int, token: str, *, browser: bool, ip: str = LOOPBACK) -> list[str]:
    """The same notebooks as pages without code; a kernel left alone is ended."""
    return [
        sys.executable, "-m", SERVE, "voila", str(folder),
        f"--Voila.ip={ip}", f"--Voila.port={port}", "--Voila.port_retries=0", f"--Voila.token={token}",
        f"--MappingKernelManager.cull_idle_timeout={IDLE_SECONDS}", "--MappingKernelManager.cull_interval=60",
        "--VoilaExecutor.iopub_timeout=60", "--VoilaExecutor.startup_timeout=180",  # a crowded machine loses no form
        f"--Voila.kernel_websocket_connection_class={CONNECTION}",
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
    require("voila" if pages else "jupyterlab")
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
    if browser and not browser_is_here():
        print("browser:   none found to open here; open the address above in one yourself")
        browser = False
    print("close:     Ctrl-C", flush=True)
    command = (pages_command if pages else lab_command)(folder, port, token, browser=browser, ip=listen)
    return _stay(command, folder, log_name(listen, port))


def log_name(ip: str, port: int) -> str:
    """Of the words of one server.  Digits and dots, whatever name the address was given by: every file system takes it,
    and two that are open at once differ in it.
    """
    return f"server-{socket.gethostbyname(ip)}-{port}.log"


def _for_me_alone(path: str, flags: int) -> int:
    return os.open(path, flags, 0o600)  # the server writes its token there


def _forget_old_logs(folder: Path) -> None:
    """A port is another one at every start: without this the files would only become more."""
    logs = []
    for log in folder.glob("server*.log"):
        with contextlib.suppress(OSError):  # gone meanwhile: another start does the same
            logs.append((log.stat().st_mtime, log))
    for _, log in sorted(logs)[: -(KEPT_LOGS - 1)]:
        with contextlib.suppress(OSError):  # where a file in use cannot be removed, it is still needed
            log.unlink()


def _stay(command: list[str], folder: Path, log_named: str) -> int:
    """Until the server ends or Ctrl-C.  What it says of itself goes to a file: here it would bury the address."""
    log = folder.parent / log_named
    _forget_old_logs(log.parent)
    with open(log, "wb", opener=_for_me_alone) as out:
        server = subprocess.Popen(  # noqa: S603 -- our own words
            command, env=lab_environment(folder), cwd=folder, stdout=out, stderr=subprocess.STDOUT
        )
        try:
            ended = server.wait()
        except KeyboardInterrupt:  # the server has it too, and ends its kernels
            with contextlib.suppress(subprocess.TimeoutExpired):
                server.wait(TO_CLOSE)
            server.kill()
            return 0
    if ended > 0:
        said = log.read_text(encoding="utf-8", errors="replace").splitlines()[-LAST_WORDS:]
        print(
            *said,
            f"the notebooks closed with an error ({ended}); all the server said: {log}",
            sep="\n",
            file=sys.stderr,
        )
    return ended
