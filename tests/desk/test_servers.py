"""The server as ``shoplib open`` starts it, asked from outside: every route, every socket, and how it ends."""

import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
from pathlib import Path

import psutil
import pytest
from jupyterlab.labapp import LabApp

from shoplib.desk.server import fast_server
from shoplib.desk.server.address import free_port
from shoplib.desk.server.launcher import lab_environment, server_command
from tests.servers import METHODS, NAMES, SENTINEL, UPGRADE, example, opened, routes, until

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="folders, signals and users as Linux has them")
MUTE = {"LicensesHandler"}  # an error of its own in front of the log-in page: it never answers without the token

# What anybody may read: the log-in page, the version, and the program's own files.  By the name of the handler.
PUBLIC = {
    "LoginFormHandler", "VoilaLoginHandler", "LogoutHandler", "APIVersionHandler", "Alive",
    "FileFindHandler", "ThemesHandler", "MultiStaticFileHandler", "TemplateStaticFileHandler", "PublicStaticFileHandler",
}  # fmt: skip


@pytest.fixture(scope="module")
def running():
    """One server for every question, with files in its folder that only their owner may read; and its routes."""
    with tempfile.TemporaryDirectory(prefix="shoplib-") as own:
        home = Path(own)
        os.chmod(home, 0o755)  # the files are to protect themselves, not the folder above them
        with opened(home) as server:
            for name in NAMES:
                (server.notebooks / name).write_text(_notebook() if name.endswith("ipynb") else SENTINEL)
            command = server_command(server.notebooks, free_port(None), browser=False)
            found = routes(command, lab_environment(server.notebooks, "t"))
            assert len(found) > 60
            assert {"TornadoVoilaHandler", "NextPage"} <= {handler for _, handler, _ in found}
            yield server, found


def _notebook():
    cells = [{"cell_type": "markdown", "id": "a", "metadata": {}, "source": SENTINEL}]
    return json.dumps({"cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": 5})


def _kernels(server):
    """The kernels that somebody asked for: the one in reserve is not listed."""
    return json.loads(server.ask("GET", "/api/kernels", server.mine())[2])


def test_no_route_gives_anything_without_the_token(running):
    server, found = running
    before = {path: path.read_bytes() for path in server.notebooks.rglob("*") if path.is_file()}
    wrong = []
    for pattern, handler, is_socket in found:
        for name in NAMES:
            path = example(pattern, name)
            if handler in MUTE:
                with pytest.raises(TimeoutError):
                    server.ask("GET", path, patience=2)
                continue
            for method in METHODS:
                status, headers, said = server.ask(method, path)
                if is_socket:
                    assert status != 101
                if any(word in said for word in (SENTINEL, server.token, str(server.home))):
                    wrong.append(f"{method} {path} tells: {said[:200]}")
                closed = status in (400, 401, 403, 404, 405) or (method == "OPTIONS" and not said)
                where = headers.get("Location", "")
                elsewhere = status in (301, 302) and where.startswith("/") and not where.startswith("//") and not said
                if not (closed or elsewhere or handler in PUBLIC):
                    wrong.append(f"{method} {path} ({handler}): {status} {said[:100]}")
    assert wrong == []
    assert {path: path.read_bytes() for path in server.notebooks.rglob("*") if path.is_file()} == before
    assert _kernels(server) == []


def test_what_the_walk_looks_for_is_there_with_the_token(running):
    server, _ = running
    for path, what in (("/voila/api/contents", NAMES[1]), (f"/files/{NAMES[0]}", SENTINEL)):
        status, _, said = server.ask("GET", path, server.mine())
        assert status == 200 and what in said


@pytest.mark.parametrize("host", ["workshop.example", "workshop.example:{port}", "192.0.2.1", "127.0.0.1.example"])
def test_no_route_answers_to_another_host_even_with_the_token(running, host):
    server, found = running
    headers = server.mine() | {"Host": host.format(port=server.port)}
    for pattern, _, is_socket in found:
        for method in ("GET", "POST"):
            path = example(pattern, NAMES[0])
            status, _, said = server.ask(method, path, headers | (UPGRADE if is_socket else {}))
            assert (status, "does not recognise the name in this address" in said) == (403, True), (method, path, said)


@pytest.mark.parametrize("host", ["127.0.0.1:{port}", "localhost:{port}", "[::1]:{port}", "127.0.0.9"])
def test_the_names_of_this_machine_are_answered(running, host):
    server, _ = running
    assert server.ask("GET", "/login", {"Host": host.format(port=server.port)})[0] == 200


def test_no_socket_opens_without_the_token(running):
    server, found = running
    sockets = [example(pattern, NAMES[0]) for pattern, _, is_socket in found if is_socket]
    assert any(path.endswith("/channels") for path in sockets)
    kernel = json.loads(server.ask("POST", "/api/kernels", server.mine(), "{}")[2])["id"]
    real = f"/api/kernels/{kernel}/channels"
    assert server.ask("GET", real, server.mine() | UPGRADE)[0] == 101  # with it, this one opens
    assert server.ask("GET", real, UPGRADE | {"Origin": "http://workshop.example"})[0] == 403
    sockets.append(real)
    for path in sockets:
        assert server.ask("GET", path, UPGRADE)[0] in (302, 400, 403, 404), path
        assert server.ask("GET", f"{path}?token={server.token[:-1]}", UPGRADE)[0] in (302, 400, 403, 404), path
    assert server.ask("DELETE", f"/api/kernels/{kernel}", server.mine())[0] == 204


def test_a_page_says_what_it_may_load(running):
    server, _ = running
    for where in ("/voila/tree/", "/lab", "/login"):
        policy = server.ask("GET", where, server.mine())[1]["Content-Security-Policy"].split("; ")
        for rule in ("default-src 'self'", "object-src 'self' blob:", "form-action 'self'", "frame-ancestors 'self'"):
            assert rule in policy
        assert not any("http" in rule or "*" in rule for rule in policy)


def test_the_log_in_page_is_in_plain_words_and_takes_the_token(running):
    server, _ = running
    status, headers, said = server.ask("GET", "/login?next=%2Fsecret")
    assert "This page needs its token" in said and "jupyter" not in said.lower()
    cookie = headers["Set-Cookie"].split(";")[0]
    form = {"Cookie": cookie, "Content-Type": "application/x-www-form-urlencoded"}
    words = f"_xsrf={cookie.partition('=')[2]}&password="
    status, _, said = server.ask("POST", "/login", form, words + "wrong")
    assert status == 401 and "This token is not correct" in said
    status, headers, _ = server.ask("POST", "/login?next=%2F", form, words + server.token)
    assert (status, headers["Location"]) == (302, "/")
    assert "username-" in headers["Set-Cookie"]


# What another user of the machine can find out: command lines, environments, and every file below the folder.
SPY = """
import json, os, sys
token, home, pids = json.load(sys.stdin)
found = []
def look(path):
    try:
        with open(path, "rb") as file:
            if token.encode() in file.read(10_000_000):
                found.append(path)
    except OSError:
        pass
for pid in filter(str.isdigit, os.listdir("/proc")):
    look(f"/proc/{pid}/cmdline")
    look(f"/proc/{pid}/environ")
for top, _, files in os.walk(home):
    for file in files:
        look(os.path.join(top, file))
def opens(path):
    try:
        return os.read(os.open(path, os.O_RDONLY), 1) is not None
    except OSError:
        return False
print(json.dumps([os.getuid(), found, [p for p in pids if opens(f"/proc/{p}/environ")], os.listdir(home)]))
"""


def test_another_user_of_the_machine_finds_no_token(running):
    if os.geteuid() != 0:
        pytest.skip("only root can become another user")
    python = shutil.which("python3", path="/usr/local/bin:/usr/bin:/bin")
    if python is None:
        pytest.skip("no Python here that another user can run")
    server, _ = running
    for place in ("data", "data/shoplib", "tmp"):
        os.chmod(server.home / place, 0o755)
    below = [one.pid for one in server.start_kernel()]
    known = json.dumps([server.token, str(server.home), below])
    spy = [python, "-I", "-c", SPY]
    ran = subprocess.run(
        spy, input=known, user="nobody", group="nogroup", extra_groups=[], cwd="/", capture_output=True, text=True, check=True
    )  # fmt: skip
    uid, found, environments, listed = json.loads(ran.stdout)
    assert uid != 0 and "data" in listed, "the spy has to be somebody else, and to reach the folder"
    assert (found, environments) == ([], [])
    owner = json.loads(subprocess.run(spy, input=known, capture_output=True, text=True, check=True).stdout)
    assert str(server.home / "data" / "shoplib" / "address.json") in owner[1], "a spy that may read it finds it"
    kernels = [one for one in psutil.Process(server.process.pid).children(recursive=True) if one.pid in below]
    told = [one for one in kernels if "ipykernel" in " ".join(one.cmdline()) and server.token in one.environ().values()]
    assert told == [], "a kernel needs no token"


# ------------------------------------------------------------------------------ how they end
def _listens(port):
    with socket.socket() as probe:
        probe.settimeout(5)
        return probe.connect_ex(("127.0.0.1", port)) == 0


def _runs(one):
    """Asked while it may end: one question, no second one about a process that is gone by then."""
    try:
        return one.status() != psutil.STATUS_ZOMBIE and one.is_running()
    except psutil.NoSuchProcess:
        return False


@pytest.mark.parametrize("page", [False, True])
@pytest.mark.parametrize("name", ["SIGINT", "SIGKILL", "SIGTERM", "SIGHUP"])
def test_nothing_is_left_when_it_is_closed(page, name, tmp_path):
    with opened(tmp_path) as server:
        below = server.start_kernel(page=page)
        server.process.send_signal(getattr(signal, name))
        code = server.ended()
        assert code == (-signal.SIGKILL if name == "SIGKILL" else 0)
        until(lambda: not _listens(server.port), "the port is free again")
        until(lambda: not any(map(_runs, below)), f"all of {below} ended")


def test_a_closed_window_ends_everything(tmp_path):
    """The system sends SIGHUP to the whole group then, the server included."""
    with opened(tmp_path) as server:
        below = server.start_kernel()
        os.killpg(server.process.pid, signal.SIGHUP)
        assert server.ended() == 0
        until(lambda: not any(map(_runs, below)), f"all of {below} ended")


class _Loop:
    """Counts what it is asked to run."""

    def __init__(self):
        self.asked = []

    def add_callback_from_signal(self, callback, *_):
        self.asked.append(callback)

    add_callback = add_callback_from_signal


def test_two_signals_stop_a_server_once():
    """A closed window sends SIGHUP and ends the standard input.  Two stops race, and the loser leaves its kernels."""
    before = LabApp.serverapp_class
    try:
        server = fast_server.jupyterlab("t").serverapp_class()
    finally:
        LabApp.serverapp_class = before
    server.io_loop = loop = _Loop()
    server._signal_stop(signal.SIGTERM, None)
    server._signal_stop(signal.SIGTERM, None)
    assert len(loop.asked) == 1


def test_an_address_lasts_and_whoever_is_logged_in_stays_so(tmp_path):
    with opened(tmp_path) as first:
        cookie = first.ask("GET", f"/voila/tree/?token={first.token}")[1]["Set-Cookie"].split(";")[0]
        address = (first.port, first.token)
    with opened(tmp_path) as second:
        assert (second.port, second.token) == address
        assert second.ask("GET", "/voila/tree/", {"Cookie": cookie})[0] == 200
    with opened(tmp_path, more=["--new-token"]) as third:
        assert third.port == first.port and third.token != first.token
        assert third.ask("GET", "/voila/tree/", {"Cookie": cookie})[0] == 302


def test_without_a_token_no_server_starts():
    environment = {name: value for name, value in os.environ.items() if name != "JUPYTER_TOKEN"}
    ran = subprocess.run(
        [sys.executable, "-m", "shoplib.desk.server.fast_server"],
        env=environment, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert ran.returncode == 1 and "no token" in ran.stderr
