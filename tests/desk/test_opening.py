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
import segno
from jupyter_server.serverapp import ServerApp
from jupyter_server.services.kernels.connection.channels import ZMQChannelsWebsocketConnection
from tornado.httpserver import HTTPServer
from tornado.netutil import bind_sockets
from tornado.web import Application
from tornado.websocket import WebSocketHandler, websocket_connect

from shoplib.cli import main
from shoplib.desk.server import address
from shoplib.desk.server import launcher as opening
from shoplib.desk.server.address import CannotOpen, free_port
from shoplib.desk.server.launcher import require, server_command


@pytest.fixture
def started(monkeypatch, tmp_path):
    """The commands that would have been run."""
    commands = []

    class Server:
        stdin = None

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
    assert f"port {port} is in use" in said and "--port" in said
    assert started == []


@pytest.mark.parametrize("port", [0, -1, 65536, 99999])
def test_a_number_that_is_no_port(port):
    with pytest.raises(CannotOpen, match=f"{port} is not a port; choose one from 1024"):
        free_port(port)


def test_an_address_of_another_machine():
    with pytest.raises(CannotOpen, match=r"192\.0\.2\.1 is not an address of this machine"):  # RFC 5737: nobody's
        free_port(None, "192.0.2.1")


@pytest.mark.parametrize(("program", "arguments"), [("jupyterlab", []), ("voila", []), ("voila", ["--forms"])])
def test_a_program_that_is_too_old_or_missing(program, arguments, monkeypatch, capsys, started):
    real = opening.metadata.version
    monkeypatch.setattr(opening.metadata, "version", lambda name: "0.4.1" if name == program else real(name))
    assert main(["open", *arguments]) == 2
    said = capsys.readouterr().err
    assert f"{program} 0.4.1 is installed, but shoplib needs" in said and "pip install --upgrade" in said

    def gone(name):
        if name == program:
            raise opening.metadata.PackageNotFoundError(name)
        return real(name)

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


@pytest.fixture
def on_a_network(monkeypatch):
    """This machine seems to be 192.0.2.20 on a network (RFC 5737: an address of nobody)."""
    monkeypatch.setattr(address, "shown", lambda ip: "192.0.2.20" if ip == "0.0.0.0" else ip)


def test_another_address_says_what_it_means(capsys, started, on_a_network):
    assert main(["open", "--listen", "0.0.0.0", "--no-browser"]) == 0
    said = capsys.readouterr().out
    assert "Other machines can reach 192.0.2.20 (every address of this machine: 0.0.0.0)" in said
    assert "not encrypted" in said and "--new-token" in said
    assert "--ServerApp.ip=0.0.0.0" in started[0]


def test_a_tablet_gets_the_address_as_a_qr_code(capsys, started, on_a_network, tmp_path):
    assert main(["open", "--forms", "--listen", "0.0.0.0", "--no-browser"]) == 0
    said = capsys.readouterr().out
    link = re.search(r"pages: +(http://192\.0\.2\.20:\d+/bench\S+)", said)[1]
    assert link.endswith("?token=" + json.loads((tmp_path / "address.json").read_text())["token"])
    shown = said.partition("with its camera\n")[2].partition("\nclose:")[0].splitlines()
    pairs = {"█": (0, 0), " ": (1, 1), "▀": (0, 1), "▄": (1, 0)}  # light blocks; two rows in a line
    rows = [[pairs[mark][half] for mark in line] for line in shown for half in (0, 1)]
    wanted = [list(row) for row in segno.make_qr(link, error="l").matrix_iter(border=4)]
    assert rows[: len(wanted)] == wanted


@pytest.mark.parametrize("here", ["127.0.0.1", "127.0.0.2", "localhost"])
def test_no_qr_code_for_an_address_that_no_tablet_can_reach(here, capsys, started):
    assert main(["open", "--listen", here, "--no-browser"]) == 0
    assert "camera" not in capsys.readouterr().out


def test_a_window_that_has_no_blocks_says_so(capsys, started, on_a_network, monkeypatch):
    monkeypatch.setattr(opening.address, "qr_code", lambda *a, **k: "\ud800")
    assert main(["open", "--listen", "0.0.0.0", "--no-browser"]) == 0
    assert "cannot show a QR code; type the address above" in capsys.readouterr().out


@pytest.mark.parametrize("nothing", ["", " "])
def test_an_empty_address_is_refused(nothing, capsys, started):
    assert main(["open", "--listen", nothing]) == 2
    assert "--listen needs an address of this machine. Type for example 192.168.1.20" in capsys.readouterr().err
    assert started == []


def test_a_short_way_to_write_every_address_is_seen_as_that(capsys, started, on_a_network):
    assert main(["open", "--listen", "0", "--no-browser"]) == 0
    assert "every address of this machine: 0.0.0.0" in capsys.readouterr().out


@pytest.mark.parametrize("arguments", [[], ["--forms"]])
def test_the_token_is_on_no_command_line(arguments, started, tmp_path):
    assert main(["open", "--no-browser", *arguments]) == 0
    token = json.loads((tmp_path / "address.json").read_text())["token"]
    assert len(token) >= 32 and not any(token in word for word in started[0])


def test_the_address_stays_the_same(capsys, started, tmp_path):
    links = []
    for arguments in ([], [], ["--forms"], ["--new-token"]):
        assert main(["open", "--no-browser", *arguments]) == 0
        links.append(re.search(r"http\S+", capsys.readouterr().out)[0])
    lab, again, pages, fresh = links
    assert lab == again == pages
    port, token = re.compile(r":(\d+)/"), re.compile(r"token=(.*)")
    assert port.search(fresh)[1] == port.search(lab)[1] and token.search(fresh)[1] != token.search(lab)[1]


def test_both_faces_have_an_address_and_the_browser_shows_the_one_that_was_asked_for(capsys, started):
    for arguments, first in (([], "/lab/tree/00-contents.ipynb"), (["--forms"], "/bench")):
        assert main(["open", "--no-browser", *arguments]) == 0
        said = capsys.readouterr().out
        assert re.search(r"open: +http://127\.0\.0\.1:\d+/lab/tree/00-contents\.ipynb\?token=\S{32}", said)
        assert re.search(r"pages: +http://127\.0\.0\.1:\d+/bench\?token=\S{32}", said)
        assert f"--LabApp.default_url={first}" in started[-1]


def test_a_usual_port_that_is_taken_is_said(capsys, started, tmp_path):
    usual = address.kept(tmp_path).port
    with socket.socket() as other:
        other.bind(("127.0.0.1", usual))
        assert main(["open", "--no-browser"]) == 0
    said = capsys.readouterr().out
    assert f" instead of the usual {usual}; this address is valid until you close it" in said
    assert f":{usual}/" not in said and "already open" not in said


def test_a_second_start_says_that_it_is_the_second(capsys, started, tmp_path, monkeypatch):
    """A running JupyterLab writes its port and its process into a file of its user."""
    usual = address.kept(tmp_path).port
    monkeypatch.setenv("JUPYTER_RUNTIME_DIR", str(tmp_path / "runtime"))
    (tmp_path / "runtime").mkdir()
    running = {"pid": os.getpid(), "port": usual, "url": f"http://127.0.0.1:{usual}/"}
    (tmp_path / "runtime" / "jpserver-1.json").write_text(json.dumps(running))
    with socket.socket() as other:
        other.bind(("127.0.0.1", usual))
        assert main(["open", "--no-browser"]) == 0
    assert f"shoplib is already open on port {usual}" in capsys.readouterr().out


@pytest.mark.skipif(sys.platform == "win32", reason="a mode of a file is of other systems")
def test_the_address_is_for_its_owner_alone_and_one_that_others_saw_is_replaced(tmp_path):
    first = address.kept(tmp_path)
    file = tmp_path / "address.json"
    assert file.stat().st_mode & 0o777 == 0o600
    assert address.kept(tmp_path) == first
    file.chmod(0o644)
    second = address.kept(tmp_path)
    assert second.token != first.token and second.port == first.port
    assert file.stat().st_mode & 0o777 == 0o600


def test_an_address_of_two_servers_keeps_the_port_that_the_tablets_know(tmp_path):
    file = tmp_path / "address.json"
    file.write_text(json.dumps({"token": "t" * 32, "lab": 20001, "pages": 20002}))
    file.chmod(0o600)
    assert address.kept(tmp_path) == address.Address("t" * 32, 20002)


@pytest.mark.parametrize("text", ["", "[", "[]", "{}", '{"token": "", "port": 20001}', '{"token": 1}', "\x00"])
def test_a_damaged_address_is_made_anew(text, tmp_path):
    file = tmp_path / "address.json"
    file.write_text(text)
    file.chmod(0o600)
    made = address.kept(tmp_path)
    assert len(made.token) >= 32 and address.kept(tmp_path) == made


def test_an_address_that_cannot_be_saved_is_said(tmp_path):
    with pytest.raises(CannotOpen, match="cannot save the address here"):
        address.kept(tmp_path / "nowhere")


def test_the_slow_grammar_is_not_built_for_a_server(tmp_path):
    head = server_command(tmp_path, 1, browser=False)[:3]
    assert head == [sys.executable, "-m", "shoplib.desk.server.fast_server"]
    code = (
        "import os, sys; os.environ['JUPYTER_TOKEN'] = 't' * 32\n"
        "from shoplib.desk.server import fast_server as serve\n"
        "try: serve.main(['--version'])\n"
        "finally: print(sys.modules['rfc3987_syntax'])"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as ran:
        said = ran.stdout.read().split()
    assert said[0][0].isdigit() and said[-1] == "None"


def test_the_server_sends_every_message_at_once(tmp_path, monkeypatch):
    """The server itself parses the option; a real socket is asked whether it waits for its partner's word."""
    words = [word for word in server_command(tmp_path, 1, browser=False) if "connection_class" in word]
    app = ServerApp()
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
        monkeypatch.setattr(opening, "server_command", lambda *a, **k: [sys.executable, "-c", TALKER.format(then)])
        return main(["open", "--no-browser", *more])

    return serve


def test_the_server_speaks_into_a_file(serving, capfd, tmp_path):
    assert serving("pass") == 0
    said = capfd.readouterr()
    assert len(said.out.splitlines()) == 5 and said.err == ""
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
    for listen in ("127.0.0.1", "0.0.0.0"):  # nothing listens: the server of these tests only talks
        assert serving("pass", "--port", port, "--listen", listen) == 0
    assert {log.name for log in tmp_path.glob("server-*.log")} == {
        f"server-127.0.0.1-{port}.log",
        f"server-0.0.0.0-{port}.log",
    }


@pytest.mark.parametrize("given", ["localhost", "LOCALHOST", "127.1"])
def test_an_address_becomes_digits_however_it_is_given(given):
    assert address.numeric(given) == "127.0.0.1"


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
        "import os, signal, sys\nfrom pathlib import Path\nfrom shoplib.desk.server import launcher as opening\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"  # whoever runs the tests may ignore it
        f"folder = Path({str(tmp_path / 'notebooks')!r}); folder.mkdir()\n"
        "talker = \"import time\\ntry:\\n    print('up', flush=True); time.sleep(60)\\n\"\n"
        "talker += \"except KeyboardInterrupt:\\n    time.sleep(1); print('kernels ended', flush=True)\"\n"
        "sys.exit(opening._stay([sys.executable, '-c', talker], dict(os.environ), folder, 'server-talker.log'))"
    )
    ran = subprocess.Popen([sys.executable, "-c", code], start_new_session=True)
    log = tmp_path / "server-talker.log"
    end = time.monotonic() + 60
    while not (log.exists() and "up" in log.read_text()) and time.monotonic() < end:
        time.sleep(0.05)
    os.killpg(ran.pid, signal.SIGINT)  # as a terminal does it: to both
    assert ran.wait(60) == 0
    assert log.read_text() == "up\nkernels ended\n"
