"""The address of the notebooks on this machine: a permanent token, a permanent port, and a QR code for a tablet."""

from __future__ import annotations

import contextlib
import errno
import io
import ipaddress
import json
import os
import secrets
import socket
import tempfile
from dataclasses import asdict, dataclass
from pathlib import Path

from shoplib.core.errors import ShoplibError

LOOPBACK = "127.0.0.1"
FILE = "address.json"
PORTS = range(20000, 32000)  # below the range that systems use for outgoing connections (Linux: from 32768)
TOKEN_BYTES = 24
NOBODY = "192.0.2.1"  # RFC 5737: the address of no machine
BENCH = "bench"  # leads to the page of the step that is next


class CannotOpen(ShoplibError, RuntimeError):
    """Why the notebooks cannot be opened, as a message for the user."""


@dataclass(frozen=True)
class Address:
    """The values that stay the same at every start, so that an address on a tablet stays valid."""

    token: str
    port: int


def kept(folder: Path, *, new_token: bool = False) -> Address:
    """The address of this machine's user, created at the first start.  A file that others can read is not trusted."""
    file = folder / FILE
    known = None if new_token else _read(file)
    if known is not None:
        return known
    made = Address(secrets.token_urlsafe(TOKEN_BYTES), _new_port())
    with contextlib.suppress(OSError, ValueError, TypeError, KeyError):  # a new token keeps the port
        made = Address(made.token, _port_in(json.loads(file.read_text(encoding="utf-8"))))
    _write(file, made, replace=file.exists())
    return _read(file) or made  # another process may have been quicker


def _port_in(kept: dict[str, object]) -> int:
    """Its port; an earlier version had two servers, and tablets know the port of the pages."""
    number = kept["port" if "port" in kept else "pages"]
    if not isinstance(number, int) or not 1023 < number < 65536:
        raise ValueError(number)
    return number


def _read(file: Path) -> Address | None:
    try:
        if os.name != "nt" and file.stat().st_mode & 0o077:
            return None
        kept = json.loads(file.read_text(encoding="utf-8"))
        token = kept["token"]
        if not isinstance(token, str) or len(token) < TOKEN_BYTES:
            return None
        return Address(token, _port_in(kept))
    except (OSError, ValueError, TypeError, KeyError):
        return None


def _write(file: Path, address: Address, *, replace: bool) -> None:
    """Write all or nothing, readable by the owner only (``mkstemp`` ensures this)."""
    try:
        handle, part = tempfile.mkstemp(dir=file.parent, prefix=".address-")
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as out:
                json.dump(asdict(address), out)
            if replace or not hasattr(os, "link"):
                os.replace(part, file)
            else:
                with contextlib.suppress(FileExistsError):
                    os.link(part, file)
        finally:
            with contextlib.suppress(FileNotFoundError):
                os.unlink(part)
    except OSError as error:
        raise CannotOpen(f"{file}: cannot save the address here: {error.strerror}") from None


def _new_port() -> int:
    while True:
        port = secrets.choice(PORTS)
        if is_free(port, LOOPBACK):
            return port


def numeric(listen: str) -> str:
    """The address given by ``--listen``, as digits; an empty one would mean every address of the machine."""
    if not listen.strip():
        raise CannotOpen("--listen needs an address of this machine. Type for example 192.168.1.20, or leave it out.")
    try:
        return socket.gethostbyname(listen)
    except (OSError, UnicodeError):
        raise CannotOpen(f"{listen} is not an address of this machine: the name is unknown") from None


def is_free(port: int, ip: str) -> bool:
    """Whether a server can listen there."""
    try:
        _bind(port, ip)
    except OSError:
        return False
    return True


def is_open(port: int) -> bool:
    """Whether this user has shoplib, or another JupyterLab, open on that port.

    The port itself is not asked: a stranger who listens there would learn the token.
    """
    from jupyter_server.serverapp import list_running_servers

    return any(server["port"] == port for server in list_running_servers())


def _bind(port: int, ip: str) -> int:
    with socket.socket() as probe:
        if os.name != "nt":  # as the server does: a connection that has just ended does not block the port
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        probe.bind((ip, port))
        return int(probe.getsockname()[1])


def free_port(wanted: int | None, ip: str = LOOPBACK) -> int:
    """A free port at the address; raises CannotOpen if the wanted port is in use."""
    if wanted is not None and not 0 < wanted < 65536:
        raise CannotOpen(f"{wanted} is not a port; choose one from 1024 to 65535 with --port, or leave it out")
    try:
        return _bind(wanted or 0, ip)
    except PermissionError:
        raise CannotOpen(
            f"port {wanted} is reserved for the system; choose one from 1024 to 65535 with --port"
        ) from None
    except OSError as error:
        if error.errno == errno.EADDRINUSE:
            raise CannotOpen(f"port {wanted} is in use; choose another with --port, or leave it out") from None
        raise CannotOpen(f"{ip} is not an address of this machine: {error.strerror}") from None


def others_reach(ip: str) -> bool:
    """Whether other machines can reach it."""
    return not ipaddress.ip_address(ip).is_loopback


def shown(ip: str) -> str:
    """The address to type on another device.  For "every address of this machine", the address that others see."""
    if not ipaddress.ip_address(ip).is_unspecified:
        return ip
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect((NOBODY, 9))  # sends nothing: the system only chooses the route
        except OSError:  # no network
            return socket.gethostname()
        return str(probe.getsockname()[0])


def qr_code(text: str, *, colours: bool) -> str:
    """The text as a QR code of half blocks, white on black where the terminal has colours."""
    import segno

    drawn = io.StringIO()
    segno.make_qr(text, error="l").terminal(drawn, compact=True)
    lines = drawn.getvalue().splitlines()
    return "\n".join(f"\033[97;40m{line}\033[0m" if colours else line for line in lines)
