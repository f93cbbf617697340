"""Writes a sheet: over an existing file only on request, complete or not at all, inside its folder."""

from __future__ import annotations

import os
import re
from pathlib import Path

from shoplib.core.errors import ShoplibError
from shoplib.record import parts


class NotWritten(ShoplibError, OSError):
    """Why a file was not written; the message is for the user."""


def name_for(job_number: str) -> str:
    """A file name for a job number that cannot leave its folder: letters, digits, dot, dash, underscore."""
    kept = re.sub(r"[^\w.-]+", "-", job_number, flags=re.UNICODE).strip(".-_")[:80]
    return f"job-{kept or 'unnamed'}.pdf"


def free(path: Path, force: bool = False) -> None:
    """Check before the work that the file does not exist yet.  Raises NotWritten."""
    if path.exists() and not force:
        raise NotWritten(
            f"{path} already exists; nothing was written. Add --force to replace it, or -o for another file"
        )


def write(path: Path, content: bytes, *, force: bool = False) -> None:
    """Write to a temporary file beside the target, then rename.  Raises NotWritten."""
    free(path, force)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise NotWritten(f"{path.parent}: cannot write here: {error.strerror}") from None
    try:
        with parts.whole(path, replace=force) as part:
            with part.open("r+b") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            part.chmod(0o644)
    except OSError as error:
        raise NotWritten(f"{path}: could not be written: {error.strerror}") from None
