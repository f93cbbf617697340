"""What ``shoplib open`` says when it cannot, in words; nothing is started here."""

import asyncio
import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
import webbrowser

import pytest
from jupyter_server.serverapp import ServerApp
from jupyter_server.services.kernels.connection.channels import ZMQChannelsWebsocketConnection
from tornado.httpserver import HTTPServer
from tornado.netutil import bind_sockets
from tornado.web import Application
from tornado.websocket import WebSocketHandler, websocket_connect
from voila.app import Voila

from shoplib.cli import main
from shoplib.desk import opening
from shoplib.desk.opening import CannotOpen, free_port, lab_command, pages_command, require


@pytest.fixture
def started(monkeypatch, tmp_path):
    """The commands that would have been run."""
    commands = []

    class Server:
        def __init__(self, command, **_):
            commands.append(command)

        def wait(self):
            return 0

    monkeypatch.setattr(opening.subprocess, "Popen", Server)
    monkeypatch.setattr(opening.platformdirs, "user_data_dir", lambda *a, **k: str(tmp_path))
    return commands


def test_a_port_that_is_taken(capsys, started):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        port = other.getsockname()[1]
        assert main(["open", "--port", str(port)]) == 2
    said = capsys.readouterr().err
    assert f"port {port} is taken" in said and "--port" in said
    assert started == []


@pytest.mark.parametrize("port", [0, -1, 65536, 99999])
def test_a_number_that_is_no_port(port):
    with pytest.raises(CannotOpen, match=f"{port} is no port; choose one from 1024"):
        free_port(port)


def test_an_address_of_another_machine():
    with pytest.raises(CannotOpen, match=r"192\.0\.2\.1 is no address of this machine"):  # RFC 5737: nobody's
        free_port(None, "192.0.2.1")


@pytest.mark.parametrize(("program", "arguments"), [("jupyterlab", []), ("voila", ["--forms"])])
def test_a_program_that_is_too_old_or_missing(program, arguments, monkeypatch, capsys, started):
    real = opening.metadata.version
    monkeypatch.setattr(opening.metadata, "version", lambda name: "0.4.1" if name == program else real(name))
    assert main(["open", *arguments]) == 2
    said = capsys.readouterr().err
    assert f"{program} 0.4.1 is here, but shoplib needs" in said and "pip install --upgrade" in said

    def gone(name):
        raise opening.metadata.PackageNotFoundError(name)

    monkeypatch.setattr(opening.metadata, "version", gone)
    assert main(["open", *arguments]) == 2
    assert f"{program} is not installed; type: " in capsys.readouterr().err
    assert started == []


def test_what_is_installed_here_is_new_enough():
    require("jupyterlab")
    require("voila")


def test_no_browser_here_is_said_and_the_address_stays(monkeypatch, capsys, started):
    def none():
        raise webbrowser.Error("none")

    monkeypatch.setattr(opening.webbrowser, "get", none)
    assert main(["open"]) == 0
    said = capsys.readouterr().out
    assert "browser:   none found" in said and "http://127.0.0.1:" in said and "token=" in said
    assert "--no-browser" in started[0]


def test_another_address_says_what_it_means(capsys, started):
    assert main(["open", "--listen", "127.0.0.2", "--no-browser"]) == 0
    said = capsys.readouterr().out
    assert "anybody who can reach 127.0.0.2" in said and "not encrypted" in said
    assert "--ServerApp.ip=127.0.0.2" in started[0]


@pytest.mark.parametrize("command", [lab_command, pages_command])
def test_the_slow_grammar_is_not_built_for_a_server(command, tmp_path):
    head = command(tmp_path, 1, "t", browser=False)[:4]
    assert head[:3] == [sys.executable, "-m", "shoplib.desk.serve"]
    code = (
        "import runpy, sys; sys.argv = ['serve', 'json.tool', '--help']\n"
        "try: runpy.run_module('shoplib.desk.serve', run_name='__main__')\n"
        "finally: print(sys.modules['rfc3987_syntax'])"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert "usage" in ran.stdout and ran.stdout.splitlines()[-1] == "None"


@pytest.mark.parametrize("command", [lab_command, pages_command])
def test_the_servers_send_every_message_at_once(command, tmp_path, monkeypatch):
    """The server itself parses the option; a real socket is asked whether it waits for its partner's word."""
    words = [word for word in command(tmp_path, 1, "t", browser=False) if "connection_class" in word]
    app = Voila() if command is pages_command else ServerApp()
    app.parse_command_line(words)
    monkeypatch.setattr(ZMQChannelsWebsocketConnection, "connect", lambda self: "connected")

    class Probe(WebSocketHandler):
        def open(self):
            found = [self.ws_connection.stream.socket.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY)]
            mine = type("Mine", (app.kernel_websocket_connection_class,), {"websocket_handler": self})
            assert mine().connect() == "connected"
            found.append(self.ws_connection.stream.socket.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY))
            self.write_message(json.dumps(found))

    async def ask():
        server = HTTPServer(Application([("/", Probe)]))
        (sock,) = bind_sockets(0, "127.0.0.1")
        server.add_sockets([sock])
        client = await websocket_connect(f"ws://127.0.0.1:{sock.getsockname()[1]}/")
        said = await client.read_message()
        client.close()
        server.stop()
        await server.close_all_connections()
        return json.loads(said)

    waits, at_once = asyncio.run(ask())
    assert not waits and at_once


TALKER = "import signal, sys, time; print('word of the server', flush=True); {}"


@pytest.fixture
def serving(monkeypatch, tmp_path):
    """``shoplib open`` with a server that says a word and then does this."""
    monkeypatch.setattr(opening.platformdirs, "user_data_dir", lambda *a, **k: str(tmp_path))

    def serve(then, *more):
        monkeypatch.setattr(opening, "lab_command", lambda *a, **k: [sys.executable, "-c", TALKER.format(then)])
        return main(["open", "--no-browser", *more])

    return serve


def test_the_server_speaks_into_a_file(serving, capfd, tmp_path):
    assert serving("pass") == 0
    said = capfd.readouterr()
    assert len(said.out.splitlines()) == 3 and said.err == ""
    port = re.search(r":(\d+)/", said.out)[1]
    log = tmp_path / f"server-127.0.0.1-{port}.log"
    assert log.read_text() == "word of the server\n"
    assert sys.platform == "win32" or log.stat().st_mode & 0o077 == 0, "others can read the token"


def test_a_server_that_fails_is_heard(serving, capfd, tmp_path):
    port = str(free_port(None))
    assert serving("sys.exit('no more')", "--port", port) == 1
    said = capfd.readouterr().err
    assert "word of the server\nno more\nthe notebooks closed with an error (1)" in said
    assert str(tmp_path / f"server-127.0.0.1-{port}.log") in said


def test_two_that_are_open_at_once_speak_into_files_of_their_own(serving, tmp_path):
    open_already = tmp_path / f"server-127.0.0.1-{free_port(None)}.log"
    open_already.write_text("word of another server\n")
    with socket.socket() as other:
        other.bind(("127.0.0.1", int(open_already.stem.rpartition("-")[2])))
        assert serving("pass") == 0
    assert len(list(tmp_path.glob("server-*.log"))) == 2
    assert open_already.read_text() == "word of another server\n"


def test_one_port_at_two_addresses_has_two_files(serving, tmp_path):
    port = str(free_port(None))
    for address in ("127.0.0.1", "0.0.0.0"):  # nothing listens: the server of these tests only talks
        assert serving("pass", "--port", port, "--listen", address) == 0
    assert {log.name for log in tmp_path.glob("server-*.log")} == {
        f"server-127.0.0.1-{port}.log",
        f"server-0.0.0.0-{port}.log",
    }


@pytest.mark.parametrize("given", ["", "localhost", "LOCALHOST", "127.1"])
def test_the_file_of_the_words_has_a_safe_name_however_the_address_is_given(given):
    assert re.fullmatch(r"server-\d{1,3}(\.\d{1,3}){3}-8123\.log", opening.log_name(given, 8123))


def test_only_the_latest_words_of_servers_stay(serving, tmp_path):
    for k in range(20):
        old = tmp_path / f"server-{k}.log"
        old.write_text("old")
        os.utime(old, (1000 + k, 1000 + k))
    (tmp_path / "notes.log").write_text("not ours")
    assert serving("pass") == 0
    kept = {log.name for log in tmp_path.glob("server-*.log")}
    assert len(kept) == opening.KEPT_LOGS and {f"server-{k}.log" for k in range(13, 20)} < kept
    assert (tmp_path / "notes.log").exists()


@pytest.mark.skipif(sys.platform == "win32", reason="a signal to a group of processes is of other systems")
def test_control_c_lets_the_server_end_by_itself(tmp_path):
    code = (
        "import signal, sys\nfrom pathlib import Path\nfrom shoplib.desk import opening\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"  # whoever runs the tests may ignore it
        f"folder = Path({str(tmp_path / 'notebooks')!r}); folder.mkdir()\n"
        "talker = \"import time\\ntry:\\n    print('up', flush=True); time.sleep(60)\\n\"\n"
        "talker += \"except KeyboardInterrupt:\\n    time.sleep(1); print('kernels ended', flush=True)\"\n"
        "sys.exit(opening._stay([sys.executable, '-c', talker], folder, 'server-talker.log'))"
    )
    ran = subprocess.Popen([sys.executable, "-c", code], start_new_session=True)
    log = tmp_path / "server-talker.log"
    end = time.monotonic() + 60
    while not (log.exists() and "up" in log.read_text()) and time.monotonic() < end:
        time.sleep(0.05)
    os.killpg(ran.pid, signal.SIGINT)  # as a terminal does it: to both
    assert ran.wait(60) == 0
    assert log.read_text() == "up\nkernels ended\n"
