"""``python -m shoplib.desk.server.fast_server …``: the server of JupyterLab and the pages, as shoplib starts it.

The token is passed in the environment, because every user of the machine can read a command line.  It is then removed
from the environment, so that no kernel inherits it.  The server and its kernels end when its standard input ends: the
parent process holds the other end, and the system closes that end however the parent ends.

This module also saves 2.7 s at the start.  On import, jsonschema builds a grammar of web addresses for a check that is
never used here; it treats the ImportError as "this optional checker is not installed".
"""

from __future__ import annotations

import hashlib
import hmac
import os
import signal
import sys
import threading
from typing import Any

SLOW = "rfc3987_syntax"
TOKEN = "JUPYTER_TOKEN"  # noqa: S105 -- the name of the variable


def secrets_of(token: str) -> Any:
    """The secret settings.  A log-in stays valid after a restart, until the token changes."""
    from traitlets.config import Config

    cookies = hmac.new(token.encode(), b"cookies", hashlib.sha256).digest()
    return Config({"IdentityProvider": {"token": token}, "ServerApp": {"cookie_secret": cookies}})


def jupyterlab(token: str) -> Any:
    """The class that starts JupyterLab and the pages, with the request guard and a kernel in reserve."""
    from jupyter_server.serverapp import ServerApp
    from jupyterlab.labapp import LabApp
    from tornado.ioloop import IOLoop

    from shoplib.desk.server.gate import guard

    class Server(ServerApp):
        def load_config_file(self, *arguments: Any, **named: Any) -> None:
            super().load_config_file(*arguments, **named)
            self.update_config(secrets_of(token))

        def init_webapp(self) -> None:
            super().init_webapp()
            guard(self.web_app, self.ip)

        def start_ioloop(self) -> None:
            IOLoop.current().add_callback(self.kernel_manager.make_spare)
            super().start_ioloop()

        def stop(self, from_signal: bool = False) -> None:
            """Stop once: a second stop would end the loop while the first still waits for its kernels."""
            if not self._stopping:
                super().stop(from_signal)

    LabApp.serverapp_class = Server
    return LabApp


def end_with_whoever_started_us() -> None:
    """Wait in a separate thread for the end of standard input; then stop as on SIGTERM."""

    def wait() -> None:
        try:
            while os.read(0, 1024):
                pass
        except OSError:
            pass
        os.kill(os.getpid(), signal.SIGTERM)

    threading.Thread(target=wait, daemon=True).start()
    hang_up = getattr(signal, "SIGHUP", None)
    if hang_up is not None and signal.getsignal(hang_up) is not signal.SIG_IGN:
        signal.signal(
            hang_up, lambda *_: os.kill(os.getpid(), signal.SIGTERM)
        )  # closing the window also ends the kernels


def main(arguments: list[str]) -> None:
    """Start the server with the arguments as its options."""
    sys.modules.setdefault(SLOW, None)  # type: ignore[arg-type]  # None makes the import fail
    token = os.environ.pop(TOKEN, "")
    if not token:
        raise SystemExit(f"no token in the variable {TOKEN}: without a token the server is open to everybody")
    end_with_whoever_started_us()
    jupyterlab(token).launch_instance(arguments)


if __name__ == "__main__":
    main(sys.argv[1:])
