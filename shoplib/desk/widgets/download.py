"""A file for download: a link that contains its bytes, and a name that is safe on every system."""

from __future__ import annotations

import base64
import io
import re
import zipfile
from collections.abc import Mapping

from shoplib.core.errors import ShoplibError
from shoplib.desk.widgets.escape_html import e

LARGEST = 60_000_000  # bytes; browsers refuse a longer link
_KINDS = {
    "pdf": "application/pdf",
    "json": "application/json",
    "zip": "application/zip",
    "db": "application/vnd.sqlite3",
}
_RESERVED = re.compile(r"(?i)(con|prn|aux|nul|com\d|lpt\d)")  # names reserved by one operating system
_EARLIEST = (1980, 1, 1, 0, 0, 0)  # the earliest time in a zip file: equal tables give equal files


class TooLarge(ShoplibError, ValueError):
    """A file too large for a link; the message says what to do instead."""


def safe_name(*parts: str, ending: str) -> str:
    """``safe_name("job", "26/014", ending="pdf")`` is ``job-26-014.pdf``: letters, digits, dash and underscore, no
    folder, no leading dot, no reserved name.
    """
    kept = (re.sub(r"[^\w-]+", "-", part, flags=re.UNICODE).strip("-_")[:60] for part in parts)
    name = "-".join(filter(None, kept)) or "unnamed"
    return f"{'file-' * bool(_RESERVED.fullmatch(name))}{name}.{ending}"


def link(content: bytes, name: str, words: str) -> str:
    """The link as HTML.  Raises TooLarge."""
    if len(content) > LARGEST:
        raise TooLarge(f"{len(content) // 10**6} MB is too large to download here; the limit is {LARGEST // 10**6} MB")
    kind = _KINDS.get(name.rpartition(".")[2], "application/octet-stream")
    code = base64.b64encode(content).decode("ascii")
    return (
        f'<a class="shop-link" download="{e(name)}" href="data:{kind};base64,{code}">'
        f"⤓ {e(words)}</a> <small>{e(name)}, {size(content)}</small>"
    )


def size(content: bytes) -> str:
    """The size as text."""
    count = len(content)
    return f"{count} bytes" if count < 1000 else f"{count // 1000} kB" if count < 10**6 else f"{count / 10**6:.1f} MB"


def zipped(files: Mapping[str, str]) -> bytes:
    """Text files in one zip, with the byte order mark by which spreadsheets recognise UTF-8."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in files.items():
            member = zipfile.ZipInfo(name, _EARLIEST)
            member.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(member, text.encode("utf-8-sig"))
    return out.getvalue()
