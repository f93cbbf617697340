"""Reading a job file: TOML, hostile until parsed."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

LARGEST = 5_000_000  # bytes


class BadFile(ValueError):
    """A file that cannot be taken as a job file."""


def read_job_file(path: Path) -> dict[str, Any]:
    """The tables of a job file.  Raises BadFile saying what is wrong and where."""
    try:
        size = path.stat().st_size
        if size > LARGEST:
            raise BadFile(f"{path.name}: {size} bytes is too large for a job file; at most {LARGEST}")
        raw = path.read_bytes()
    except OSError as error:
        raise BadFile(f"{path.name}: cannot be read: {error.strerror}") from None
    try:
        return tomllib.loads(raw.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise BadFile(f"{path.name}: is not UTF-8 text; save it again as UTF-8") from None
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise BadFile(f"{path.name}: is not a job file: {str(error)[:200]}") from None
