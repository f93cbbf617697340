"""Open the user's own copy of the notebooks, in JupyterLab and as pages without code, on this machine only."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import signal
import subprocess
import sys
import webbrowser
from collections.abc import Iterator
from importlib import metadata
from pathlib import Path
from typing import IO

import platformdirs

from shoplib.core.paths import NOTEBOOKS
from shoplib.desk import STATIC
from shoplib.desk.server import address
from shoplib.desk.server.address import BENCH, LOOPBACK, CannotOpen, free_port

FIRST = "00-contents.ipynb"
SERVE = "shoplib.desk.server.fast_server"
CONNECTION = "shoplib.desk.server.nodelay_socket.NoDelaySocket"
KERNELS = "shoplib.desk.server.spare_kernel.SpareKernel"
PAGES_TOO = {"voila.server_extension": True}
LAB = f"lab/tree/{FIRST}"


def copy_notebooks(target: Path | None = None) -> Path:
    """Make the user's own copy.  Existing notebooks are never overwritten; new ones are added."""
    folder = target or Path(platformdirs.user_data_dir("shoplib", appauthor=False)) / "notebooks"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for source in sorted(NOTEBOOKS.glob("*.ipynb")):
            if not (folder / source.name).exists():
                shutil.copyfile(source, folder / source.name)
    except OSError as error:
        raise CannotOpen(f"{folder}: cannot save the notebooks here: {error.strerror}") from None
    return folder


TO_CLOSE = 30  # seconds for the kernels to end; a kernel that does not answer takes 6 of them on an idle machine
LAST_WORDS = 15  # last lines of the log shown after an error
KEPT_LOGS = 8  # of the latest starts, including this one
IDLE_SECONDS = 300  # a kernel that nobody has open is ended after this time to free memory


def require(program: str) -> None:
    """Raise CannotOpen if the program that shows the notebooks is missing or too old."""
    from packaging.requirements import Requirement  # installed with every JupyterLab

    wanted = next(r for r in map(Requirement, metadata.requires("shoplib") or ()) if r.name.lower() == program)
    cure = f'type: {Path(sys.executable).name} -m pip install --upgrade "{wanted}"'
    try:
        found = metadata.version(program)
    except metadata.PackageNotFoundError:
        raise CannotOpen(f"{program} is not installed; {cure}") from None
    if not wanted.specifier.contains(found, prereleases=True):
        raise CannotOpen(f"{program} {found} is installed, but shoplib needs {wanted.specifier}; {cure}")


def browser_is_here() -> bool:
    """Whether a browser can be opened on this machine."""
    try:
        webbrowser.get()
    except webbrowser.Error:
        return False
    return True


def server_command(folder: Path, port: int, *, browser: bool, ip: str = LOOPBACK, first: str = LAB) -> list[str]:
    """The command for the server of both faces: JupyterLab, and the pages without code.

    It requests no news and no updates.  A kernel that nobody has open is ended.
    """
    return [
        sys.executable, "-m", SERVE,
        f"--ServerApp.ip={ip}", f"--ServerApp.port={port}", "--ServerApp.port_retries=0",
        f"--ServerApp.root_dir={folder}", f"--LabApp.default_url=/{first}",
        f"--ServerApp.kernel_websocket_connection_class={CONNECTION}", f"--ServerApp.kernel_manager_class={KERNELS}",
        f"--MappingKernelManager.cull_idle_timeout={IDLE_SECONDS}", "--MappingKernelManager.cull_interval=30",
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate", "--LabApp.news_url=None",
        "--LabApp.extension_manager=readonly",
        f"--ServerApp.jpserver_extensions={PAGES_TOO}",
        "--ServerApp.allow_unauthenticated_access=False", "--PasswordIdentityProvider.allow_password_change=False",
        "--ServerApp.answer_yes=True",  # Ctrl-C stops it without a question
        "--LanguageServerManager.autodetect=False",  # it would start node and rust to look for help with code
        "--VoilaExecutor.iopub_timeout=60", "--VoilaExecutor.startup_timeout=180",  # for a busy machine
        "--VoilaConfiguration.template=bench", "--VoilaConfiguration.file_allowlist=[]",  # no file without the token
        *([] if browser else ["--no-browser"]),
        *(["--ServerApp.allow_root=True"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []),
    ]  # fmt: skip


def lab_environment(folder: Path, token: str) -> dict[str, str]:
    """The token, and default settings for JupyterLab beside the copy; the user's own settings have priority."""
    settings = folder.parent / "jupyter" / "labconfig"
    settings.mkdir(parents=True, exist_ok=True)
    (settings / "default_setting_overrides.json").write_text(
        json.dumps({"@jupyterlab/apputils-extension:notification": {"fetchNews": "false", "checkForUpdates": False}}),
        encoding="utf-8",
    )
    return {
        **os.environ,
        "JUPYTER_TOKEN": token,
        "JUPYTER_CONFIG_PATH": _before("JUPYTER_CONFIG_PATH", settings.parent),
        "JUPYTER_PATH": _before("JUPYTER_PATH", STATIC / "jupyter"),  # our page template, and what runs a notebook
        "JUPYTER_PREFER_ENV_PATH": "1",
    }


def launch(command: list[str], environment: dict[str, str], folder: Path, out: IO[bytes]) -> subprocess.Popen[bytes]:
    """Start a server.  It ends when its ``stdin`` is closed, or when this process ends in any way."""
    return subprocess.Popen(  # noqa: S603 -- a fixed command
        command, env=environment, cwd=folder, stdin=subprocess.PIPE, stdout=out, stderr=subprocess.STDOUT
    )


def _before(name: str, first: Path) -> str:
    known = os.environ.get(name)
    return str(first) + (os.pathsep + known if known else "")


def open_notebooks(
    *,
    port: int | None = None,
    browser: bool = True,
    pages: bool = False,
    listen: str = LOOPBACK,
    new_token: bool = False,
) -> int:
    """Copy the notebooks, start the server of JupyterLab and the pages, and wait until it is closed.

    ``pages``: the browser of this machine shows the pages instead of JupyterLab.
    """
    require("voila")
    require("jupyterlab")
    ip = address.numeric(listen)
    folder = copy_notebooks()
    mine = address.kept(folder.parent, new_token=new_token)
    usual = mine.port
    port = free_port(port if port is not None or not address.is_free(usual, ip) else usual, ip)
    here = f"http://{address.shown(ip)}:{port}/"
    bench = f"{here}{BENCH}?token={mine.token}"
    print(f"notebooks: {folder}", f"open:      {here}{LAB}?token={mine.token}", f"pages:     {bench}", sep="\n")
    print("           the page of the next step; without a job, the contents")
    if port != usual:
        print(f"port:      {port} instead of the usual {usual}; this address is valid until you close it")
        if address.is_open(usual):
            print(f"           shoplib is already open on port {usual}; both can stay open")
    if address.others_reach(ip):
        _warn(ip, bench)
    if browser and not browser_is_here():
        print("browser:   none found; open the address above in a browser yourself")
        browser = False
    print("close:     Ctrl-C", flush=True)
    command = server_command(folder, port, browser=browser, ip=ip, first=BENCH if pages else LAB)
    return _stay(command, lab_environment(folder, mine.token), folder, log_name(ip, port))


def _warn(ip: str, link: str) -> None:
    """Warn that other machines can reach the address; show it as a QR code for a tablet."""
    every = "" if address.shown(ip) == ip else f" (every address of this machine: {ip})"
    print(
        f"careful:   Other machines can reach {address.shown(ip)}{every}. Anybody with the address above can run",
        "           programs here as you. The connection is not encrypted. Use it only on a network that you trust.",
        "           To make old addresses invalid, close this and start again with --new-token.",
        sep="\n",
    )
    code = address.qr_code(link, colours=sys.stdout.isatty())
    try:
        code.encode(sys.stdout.encoding or "ascii")
    except UnicodeEncodeError:
        print("tablet:    this window cannot show a QR code; type the address above on the tablet")
    else:
        print("tablet:    scan this with its camera", code, sep="\n")


def log_name(ip: str, port: int) -> str:
    """The log file of one server; servers that run at the same time have different files."""
    return f"server-{ip}-{port}.log"


def _for_me_alone(path: str, flags: int) -> int:
    handle = os.open(path, flags, 0o600)  # the server writes its token there
    if hasattr(os, "fchmod"):
        os.fchmod(handle, 0o600)  # also for an existing file
    return handle


def _forget_old_logs(folder: Path) -> None:
    """Delete old logs: a start on another port makes another file."""
    logs = []
    for log in folder.glob("server*.log"):
        with contextlib.suppress(OSError):  # already deleted by another start
            logs.append((log.stat().st_mtime, log))
    for _, log in sorted(logs)[: -(KEPT_LOGS - 1)]:
        with contextlib.suppress(OSError):  # a file that cannot be removed is still in use
            log.unlink()


@contextlib.contextmanager
def _closing_signals() -> Iterator[None]:
    """Closing the session or its window has the same effect as Ctrl-C."""
    names = [getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
    before = {name: signal.getsignal(name) for name in names}
    for name, handler in before.items():
        if handler is not signal.SIG_IGN:  # as under nohup
            signal.signal(name, signal.default_int_handler)
    try:
        yield
    finally:
        for name, handler in before.items():
            signal.signal(name, handler)


def _end(server: subprocess.Popen[bytes]) -> None:
    """Let the server end its kernels; a second Ctrl-C ends it at once."""
    try:
        if server.stdin:
            server.stdin.close()
        with contextlib.suppress(subprocess.TimeoutExpired, KeyboardInterrupt):
            server.wait(TO_CLOSE)
    finally:
        server.kill()
        server.wait()


def _stay(command: list[str], environment: dict[str, str], folder: Path, log_named: str) -> int:
    """Wait until the server ends or is closed.  Its output goes to a file, so that the address stays visible."""
    log = folder.parent / log_named
    _forget_old_logs(log.parent)
    with open(log, "wb", opener=_for_me_alone) as out, _closing_signals():
        server = launch(command, environment, folder, out)
        try:
            ended = server.wait()
        except KeyboardInterrupt:
            _end(server)
            return 0
        finally:
            if server.stdin:
                server.stdin.close()
    if ended > 0:
        said = log.read_text(encoding="utf-8", errors="replace").splitlines()[-LAST_WORDS:]
        print(
            *said,
            f"the notebooks closed with an error ({ended}); full log: {log}",
            sep="\n",
            file=sys.stderr,
        )
    return ended
