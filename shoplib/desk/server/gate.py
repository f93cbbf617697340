"""The request guard of the server: is a request meant for this machine, and what may a page load?"""

from __future__ import annotations

import ipaddress
import secrets
import socket
from typing import Any

from jinja2 import ChoiceLoader, FileSystemLoader
from tornado.httputil import HTTPServerRequest
from tornado.routing import Matcher, PathMatches, Rule
from tornado.web import Application, RequestHandler

from shoplib.desk import STATIC
from shoplib.desk.server.address import BENCH
from shoplib.desk.server.next_page import NextPage

ALIVE = "/shoplib-alive"  # polled by static/ground.js
START = secrets.token_hex(8)  # of this process: a page that sees another one has lost its kernel

# Widgets load their scripts as blob: and data:, and JupyterLab compiles its settings validators with eval.  Nothing is
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
        "object-src 'self' blob:",  # the browser's own PDF viewer counts as an object
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
    """The answer to every request with a wrong Host."""

    def prepare(self) -> None:
        """Before any method."""
        self.set_status(403)
        self.set_header("Content-Type", "text/plain; charset=utf-8")
        self.finish(
            "This server does not recognise the name in this address. Use the address that `shoplib open` shows.\n"
        )

    def check_xsrf_cookie(self) -> None:
        """Nothing is changed, so no check is needed."""


class Alive(RequestHandler):
    """The status request of an open page, sent every second: can it still save, and is it the same server as before?
    It reveals nothing else.
    """

    def get(self) -> None:
        """Answer with the random name of this start."""
        self.set_header("Cache-Control", "no-store")
        self.finish(START)

    def _log(self) -> None:
        """Do not log every request."""


def guard(app: Application, ip: str) -> None:
    """Check the Host before every route, add the policy to every page and our own routes and log-in page."""
    own = [Rule(PathMatches(ALIVE), Alive), Rule(PathMatches(f"/{BENCH}"), NextPage)]
    app.default_router.rules[:0] = [Rule(WrongHost(ip), Refuse), *own]
    app.settings["headers"] = {**app.settings.get("headers", {}), "Content-Security-Policy": POLICY}
    app.settings |= {"mathjax_url": None, "mathjax_config": None}  # the pages have their own, and ask no other machine
    pages = app.settings["jinja2_env"]
    pages.loader = ChoiceLoader([FileSystemLoader(str(STATIC / "login")), pages.loader])
