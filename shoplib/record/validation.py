"""Validation of everything that enters the store from people, files and other programs, in one place.

Text stays text (see :mod:`shoplib.record.sanitise`); size, depth and numbers are bounded, so that no input can
fill the memory, the disk or the reader's screen.

Parameters that have one meaning in all functions:

- ``value``: as it was given
- ``where``: name of the field in messages
- ``problems``: what is wrong; new problems are added to it
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from typing import Any

from shoplib.core.errors import Problem
from shoplib.core.reading_limits import EXPORTED_JOB, Limit
from shoplib.record.errors import NotAJob
from shoplib.record.sanitise import LONGEST, BadText, clean

DEEPEST = 24  # levels of lists and tables in one entry
LARGEST_BODY = 20_000_000  # characters of one line of the record
LARGEST_FILE = EXPORTED_JOB.size
_SURROGATE = re.compile(rb"\\u[dD][89a-fA-F]")


def line_of_text(
    value: Any, where: str, problems: list[Problem], *, longest: int = 200, needed: bool = True, example: str = ""
) -> str:
    """One line of clean text; problems are appended to ``problems``.

    :param longest: characters at most
    :param needed: False: it may be empty
    :param example: what to type, for the message
    """
    text = words(value, where, problems, longest=longest, needed=needed, example=example)
    if "\n" in text or "\t" in text:
        problems.append(Problem(where, "must be on one line", example))
    return text


def words(
    value: Any, where: str, problems: list[Problem], *, longest: int = LONGEST, needed: bool = True, example: str = ""
) -> str:
    """Clean text without spaces at its ends; empty only if it may be.

    :param longest: characters at most
    :param needed: False: it may be empty
    :param example: what to type, for the message
    """
    if value is None or (isinstance(value, str) and len(value) <= longest and not value.strip()):
        if needed:
            problems.append(Problem(where, "is missing", example))
        return ""
    if not isinstance(value, str):
        problems.append(Problem(where, "must be text", example))
        return ""
    if len(value) > longest:  # before any other processing
        problems.append(Problem(where, f"{len(value)} characters is too long; at most {longest}", example))
        return ""
    try:
        return clean(value, where, longest).strip()
    except BadText as error:
        problems.append(Problem(where, str(error).removeprefix(f"{where}: ")))
        return ""


def tree(value: Any, where: str, problems: list[Problem]) -> Any:
    """Plain data with clean text, finite numbers and bounded depth and size, or None and the reason."""
    try:
        size = len(json.dumps(value, ensure_ascii=False, default=str))
    except (ValueError, RecursionError):  # reported in more detail below
        size = 0
    if size > LARGEST_BODY:
        problems.append(Problem(where, f"{size} characters is too large; at most {LARGEST_BODY}"))
        return None
    try:
        return _tree(value, where, 0)
    except BadText as error:
        where, _, why = str(error).partition(": ")
        problems.append(Problem(where, why))
        return None


def _tree(value: Any, where: str, depth: int) -> Any:
    if depth > DEEPEST:
        raise BadText(f"{where[:60]}: is nested deeper than {DEEPEST} levels")
    match value:
        case None | bool():
            return value
        case str():
            if len(value) > LONGEST:
                raise BadText(f"{where}: {len(value)} characters is too long; at most {LONGEST}")
            return clean(value, where)
        case int():
            if value.bit_length() > 63:
                raise BadText(f"{where}: a whole number of {value.bit_length()} bits is not a reading")
            return value
        case float():
            if not math.isfinite(value):
                raise BadText(f"{where}: is not a finite number")
            return value
        case dict() | Mapping():
            return {_key(k, where): _tree(v, f"{where}.{str(k)[:60]}", depth + 1) for k, v in value.items()}
        case list() | tuple():
            return [_tree(v, f"{where}[{i}]", depth + 1) for i, v in enumerate(value, 1)]
    raise BadText(f"{where}: {type(value).__name__} is not plain data")


def _key(key: Any, where: str) -> str:
    if not isinstance(key, str) or len(key) > 200:
        raise BadText(f"{where}: a key in it is not a short text")
    return clean(key, where)


def finite(value: Any) -> Any:
    """A result with null for what is not a finite number: JSON has no infinity, and null is shown as "not known".

    :param value: plain data
    """
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if value is None or isinstance(value, str | int):  # most values; to ask for a Mapping takes longer
        return value
    if isinstance(value, Mapping):
        return {k: finite(v) for k, v in value.items()}
    return [finite(v) for v in value] if isinstance(value, list | tuple) else value


def read_json(raw: bytes, limit: Limit = EXPORTED_JOB) -> Any:
    """JSON of bounded size, depth and number of values.  Raises NotAJob.

    :param raw: the bytes of the file
    :param limit: size, depth and number of values, at most
    """
    largest = min(limit.size, LARGEST_FILE)
    if len(raw) > largest:
        raise NotAJob(f"{len(raw)} bytes is too large for a job; at most {largest}")
    if limit.pieces and sum(map(raw.count, (b",", b"[", b"{"))) > limit.pieces:
        raise NotAJob(f"has more than {limit.pieces} values, too many for one job")
    try:
        found = json.loads(raw.decode("utf-8-sig"), object_pairs_hook=_no_twins, parse_constant=_no_number)
        if limit.depth and _deeper_than(found, limit.depth):
            raise NotAJob(f"is nested deeper than {limit.depth} levels")
        if _SURROGATE.search(raw):
            json.dumps(found, ensure_ascii=False).encode("utf-8")
        return found
    except UnicodeEncodeError:
        raise NotAJob("contains half of a surrogate pair") from None
    except UnicodeDecodeError:
        raise NotAJob("is not UTF-8 text") from None
    except RecursionError:
        raise NotAJob("is nested too deeply") from None
    except ValueError as error:
        raise NotAJob(f"is not JSON: {str(error)[:120]}") from None


def _deeper_than(value: Any, depth: int) -> bool:
    if isinstance(value, dict):
        return depth == 0 or any(_deeper_than(v, depth - 1) for v in value.values() if isinstance(v, dict | list))
    if isinstance(value, list):
        return depth == 0 or any(_deeper_than(v, depth - 1) for v in value if isinstance(v, dict | list))
    return False


def _no_number(name: str) -> None:
    raise ValueError(f"{name} is not a number")


def _no_twins(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Reject a key that is listed twice in one table: it would hide one of its values."""
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("duplicate key")
    return found
