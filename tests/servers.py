"""``shoplib open`` as a process of its own, for tests: its address, its server, its kernels, its routes."""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import psutil

PATIENCE = 90  # seconds until something has to have happened; a quick machine needs a few
NAMES = ("secret.png", "secret.ipynb")
SENTINEL = "only-the-owner-reads-this"
METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")
UPGRADE = {
    "Connection": "Upgrade", "Upgrade": "websocket", "Sec-WebSocket-Version": "13",
    "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ==",  # RFC 6455, 1.3
}  # fmt: skip


def until(happened, what):
    """Wait until the function gives something true, and give that."""
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        found = happened()
        if found:
            return found
        time.sleep(0.05)
    raise AssertionError(f"not within {PATIENCE} s: {what}")


def _command(process):
    """Its command line; nothing for one that has ended meanwhile."""
    try:
        return " ".join(process.cmdline())
    except psutil.NoSuchProcess:
        return ""


@dataclass
class Opened:
    """A running ``shoplib open``."""

    process: subprocess.Popen
    home: Path
    port: int
    token: str
    more: list = field(default_factory=list)

    @property
    def notebooks(self):
        return self.home / "data" / "shoplib" / "notebooks"

    def ask(self, method, path, headers=(), body=None, patience=60):
        """Status, headers and text of one answer; no redirect is followed."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=patience)
        try:
            connection.request(method, path, body=body, headers=dict(headers))
            answer = connection.getresponse()
            text = b"" if answer.status == 101 else answer.read()
            return answer.status, answer.headers, text.decode("utf-8", "replace")
        finally:
            connection.close()

    def mine(self):
        return {"Authorization": f"token {self.token}"}

    def answers(self):
        with contextlib.suppress(OSError, http.client.HTTPException):
            return self.ask("GET", "/login")[0] == 200
        return False

    def ended(self):
        """Wait until ``shoplib open`` has ended, and give its exit code; else say what still runs and what was logged."""
        try:
            return self.process.wait(PATIENCE)
        except subprocess.TimeoutExpired:
            still = [(one.pid, one.status(), _command(one)) for one in psutil.Process(self.process.pid).children(True)]
            logs = [path.read_text()[-2000:] for path in self.notebooks.parent.glob("server*.log")]
            raise AssertionError(f"not ended within {PATIENCE} s; below it: {still}; logged: {logs}") from None

    def start_kernel(self, *, page=False):
        """Start one as a user does, and give every process below ``shoplib open``."""
        if page:
            status, _, _ = self.ask("GET", "/voila/render/61-preload-from-torque.ipynb", self.mine())
            assert status == 200
        else:
            status, _, said = self.ask("POST", "/api/kernels", self.mine(), json.dumps({}))
            assert status == 201, said
        return until(self._with_a_kernel, "a kernel below it")

    def _with_a_kernel(self):
        below = psutil.Process(self.process.pid).children(recursive=True)
        return below if any("ipykernel" in _command(one) for one in below) else None


def _no_signal_ignored():
    """Whoever starts the tests may ignore some, as nohup does; a child would ignore them too."""
    for name in ("SIGHUP", "SIGINT", "SIGTERM"):
        signal.signal(getattr(signal, name), signal.SIG_DFL)


@contextlib.contextmanager
def opened(home, *, more=()) -> Iterator[Opened]:
    """Start it with everything that it writes below a folder; end it and what it left."""
    for name in ("data", "tmp"):
        (home / name).mkdir(exist_ok=True)
    places = {"XDG_DATA_HOME": "data", "HOME": ".", "TMPDIR": "tmp", "JUPYTER_RUNTIME_DIR": "runtime",
              "JUPYTER_CONFIG_DIR": "config", "JUPYTER_DATA_DIR": "jupyter", "IPYTHONDIR": "ipython",
              "SHOPLIB_STORE": "jobs.db", "JUPYTERLAB_SETTINGS_DIR": "settings", "JUPYTERLAB_WORKSPACES_DIR": "workspaces"}  # fmt: skip
    environment = {**os.environ, **{name: str(home / place) for name, place in places.items()}}
    words = [sys.executable, "-u", "-m", "shoplib.cli", "open", "--no-browser", *more]
    process = subprocess.Popen(
        words, env=environment, stdout=subprocess.PIPE, text=True, start_new_session=True, preexec_fn=_no_signal_ignored
    )
    below = []
    try:
        said = ""
        while "close:" not in said:
            line = process.stdout.readline()
            assert line, f"it ended: {said}"
            said += line
        _, port, token = re.search(r"http://([^/:]+):(\d+)/\S+token=(\S+)", said).groups()
        running = Opened(process, home, int(port), token)
        until(running.answers, "an answer")
        below = psutil.Process(process.pid).children(recursive=True)
        yield running
    finally:
        if process.poll() is None:
            below += psutil.Process(process.pid).children(recursive=True)
            process.terminate()
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(30)
        for one in below:
            with contextlib.suppress(psutil.NoSuchProcess):
                one.kill()
        process.stdout.close()


# ------------------------------------------------------------------------------ routes
LIST = """
import json, sys
from tornado.routing import PathMatches
from tornado.websocket import WebSocketHandler
from shoplib.desk.server import fast_server as serve

def walk(rules, found):
    for rule in rules:
        if isinstance(rule.matcher, PathMatches):
            socket = isinstance(rule.target, type) and issubclass(rule.target, WebSocketHandler)
            found.append([rule.matcher.regex.pattern, rule.target.__name__, socket])
        if hasattr(rule.target, "rules"):
            walk(rule.target.rules, found)
    return found

def tell(app):
    print("ROUTES" + json.dumps(walk(app.default_router.rules, [])), flush=True)

tell(serve.jupyterlab("t" * 32).initialize_server(sys.argv[1:]).web_app)
"""


def routes(command, environment):
    """Pattern, handler and whether it is a socket, of every route that the server of a command has."""
    words = command[command.index("shoplib.desk.server.fast_server") + 1 :]
    ran = subprocess.run(
        [sys.executable, "-c", LIST, *words], env=environment, capture_output=True, text=True, check=False, timeout=120
    )
    found = [line for line in ran.stdout.splitlines() if line.startswith("ROUTES")]
    assert found, ran.stdout + ran.stderr
    return [tuple(route) for route in json.loads(found[0].removeprefix("ROUTES"))]


def example(pattern, name):
    """One path that the pattern takes, with the name of a file wherever it takes one."""
    path = _example(re._parser.parse(pattern), name)
    assert re.match(pattern, path), (pattern, path)
    return path if path.startswith("/") else f"/{path}"


def _example(parsed, name):
    return "".join(_piece(str(kind), value, name) for kind, value in parsed)


def _piece(kind, value, name):
    if kind == "LITERAL":
        return chr(value)
    if kind == "AT":
        return ""
    if kind == "SUBPATTERN":
        return _example(value[3], name)
    if kind == "BRANCH":
        return _example(value[1][0], name)
    if kind in ("MAX_REPEAT", "MIN_REPEAT"):
        least, most, what = value
        first = str(what[0][0])
        if most > 1 and (first in ("ANY", "NOT_LITERAL") or (first == "IN" and str(what[0][1][0][0]) == "NEGATE")):
            return name
        return _example(what, name) * max(least, 1 if first in ("SUBPATTERN", "IN") else least)
    if kind == "IN":
        first, of = value[0]
        return {"LITERAL": lambda: chr(of), "RANGE": lambda: chr(of[0])}.get(str(first), lambda: "a")()
    if kind == "ANY":
        return "a"
    raise NotImplementedError(kind)
