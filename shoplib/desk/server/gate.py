"""What both servers ask of every request before any route: is it meant for this machine?  And what a page may load."""

from __future__ import annotations

import ipaddress
import socket
from typing import Any

from jinja2 import ChoiceLoader, FileSystemLoader
from tornado.httputil import HTTPServerRequest
from tornado.routing import Matcher, PathMatches, Rule
from tornado.web import Application, RequestHandler

from shoplib.desk import STATIC

ALIVE = "/shoplib-alive"  # asked by static/ground.js

# Widgets bring their scripts as blob: and data:, and JupyterLab builds its checkers of settings with eval.  Nothing is
# loaded from, sent to or shown inside another site.
POLICY = "; ".join(
    (
        "default-src 'self'",
        "script-src 'self' 'unsafe-inline' 'unsafe-eval' blob: data:",
        "style-src 'self' 'unsafe-inline' blob: data:",
        "img-src 'self' blob: data:",
        "font-src 'self' data:",
        "media-src 'self' blob: data:",
        "connect-src 'self' blob: data:",
        "worker-src 'self' blob:",
        "frame-src 'self' blob: data:",
        "object-src 'self' blob:",  # the browser's own viewer of PDF counts as one
        "base-uri 'self'",
        "form-action 'self'",
        "frame-ancestors 'self'",
    )
)


class WrongHost(Matcher):
    """Requests that name another machine.  A page of another site can make a browser send such a request to us by
    pointing its own name at our address (DNS rebinding); it cannot make the browser send our name.
    """

    def __init__(self, ip: str) -> None:
        self.ip = ipaddress.ip_address(socket.gethostbyname(ip))
        here = socket.gethostname().lower()
        self.names = {"localhost"} if self.ip.is_loopback else {"localhost", here, f"{here}.local"}

    def meant_for_us(self, host: str) -> bool:
        """Whether a Host header without its port names an address at which this server listens."""
        host = host.lower()
        try:
            asked = ipaddress.ip_address(host.removeprefix("[").removesuffix("]"))
        except ValueError:
            return host in self.names
        return asked.is_loopback or asked == self.ip or self.ip.is_unspecified

    def match(self, request: HTTPServerRequest) -> dict[str, Any] | None:
        """The request is refused when this is not None."""
        return None if self.meant_for_us(request.host_name) else {}


class Refuse(RequestHandler):
    """One answer to every request with a wrong Host."""

    def prepare(self) -> None:
        """Before any method."""
        self.set_status(403)
        self.set_header("Content-Type", "text/plain; charset=utf-8")
        self.finish("This server does not know the name in this address. Use the address that `shoplib open` shows.\n")

    def check_xsrf_cookie(self) -> None:
        """Nothing is done, so nothing is asked."""


class Alive(RequestHandler):
    """What an open page asks every second: whether what is pressed on it can still be saved.  Tells nothing else."""

    def get(self) -> None:
        """Here."""
        self.set_status(204)

    def _log(self) -> None:
        """Not a line a second in the log."""


def guard(app: Application, ip: str) -> None:
    """Put the check of the Host before every route, the policy into every page, and the log-in page in plain words."""
    app.default_router.rules[:0] = [Rule(WrongHost(ip), Refuse), Rule(PathMatches(ALIVE), Alive)]
    app.settings["headers"] = {**app.settings.get("headers", {}), "Content-Security-Policy": POLICY}
    pages = app.settings["jinja2_env"]
    pages.loader = ChoiceLoader([FileSystemLoader(str(STATIC / "login")), pages.loader])
