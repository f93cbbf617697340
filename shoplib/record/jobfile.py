"""Reads a job file: TOML, untrusted until parsed."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from shoplib.core import files
from shoplib.core.errors import ShoplibError
from shoplib.core.reading_limits import JOB_FILE


class BadFile(ShoplibError, ValueError):
    """A file that is not a valid job file."""


def read_job_file(path: Path) -> dict[str, Any]:
    """The tables of a job file.  Raises BadFile saying what is wrong and where.

    :param path: of the file
    """
    try:
        raw = files.read_bounded(path, JOB_FILE.size)
    except files.NotRead as error:
        raise BadFile(f"{path.name}: {error}") from None
    try:
        text = raw.decode("utf-8-sig")
        if why := _too_much(text):
            raise BadFile(f"{path.name}: is not a job file: {why}")
        found = tomllib.loads(text)
        if where := _too_long(found):
            raise BadFile(f"{path.name}: {where}: a whole number of more than 18 digits is not a reading")
        return found
    except UnicodeDecodeError:
        raise BadFile(f"{path.name}: is not UTF-8 text; save it again as UTF-8") from None
    except BadFile:
        raise
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise BadFile(f"{path.name}: is not a job file: {str(error)[:200]}") from None
    except ValueError:  # a whole number of thousands of digits
        raise BadFile(f"{path.name}: is not a job file: a number in it is too long") from None


# A quoted text, complete or cut off, is skipped as one piece and never scanned twice.
_TEXT = (
    r'"{3}(?:[^\\"]|\\.|"(?!""))*+(?:"{3}|\Z)'
    r"|'{3}(?:[^']|'(?!''))*+(?:'{3}|\Z)"
    r'|"(?:[^"\\\n]|\\[^\n])*+"?'
    r"|'[^'\n]*+'?"
)
_SIGNS = re.compile(
    rf"(?P<text>{_TEXT})|(?P<comment>\#[^\n]*)|(?P<open>[\[{{])|(?P<close>[\]}}])|(?P<dot>\.)|(?P<next>[,=\n])", re.S
)


def _too_much(text: str) -> str:
    """Why a text must not go to the parser, whose time grows with the square of the depth; "" if it may."""
    assert JOB_FILE.depth is not None
    assert JOB_FILE.pieces is not None
    depth = dots = pieces = 0
    for found in _SIGNS.finditer(text):
        match found.lastgroup:
            case "open":
                depth, dots, pieces = depth + 1, 0, pieces + 1
            case "close":
                depth, dots = max(0, depth - 1), 0
            case "dot":  # a.b.c = 1 nests too, and each level costs the parser several tables
                dots, pieces = dots + 1, pieces + 3
            case "next":
                dots, pieces = 0, pieces + 1
        if depth + dots > JOB_FILE.depth:
            return f"it is nested deeper than {JOB_FILE.depth} levels"
        if pieces > JOB_FILE.pieces:
            return f"it has more than {JOB_FILE.pieces} values"
    return ""


def _too_long(value: Any, where: str = "") -> str:
    """Where a whole number is longer than a job file allows, or ""."""
    if isinstance(value, int) and value.bit_length() > 63:
        return where
    if isinstance(value, dict):
        return next((w for k, v in value.items() if (w := _too_long(v, f"{where}.{k[:60]}".lstrip(".")))), "")
    if isinstance(value, list):
        return next((w for n, v in enumerate(value, 1) if (w := _too_long(v, f"{where}[{n}]"))), "")
    return ""
