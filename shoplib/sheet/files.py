"""Writing a sheet: never over an existing file unless told so, whole or not at all, inside its folder."""

from __future__ import annotations

import os
import re
import tempfile
from pathlib import Path


class NotWritten(OSError):
    """Why a file was not written, in words for the user."""


def name_for(job_number: str) -> str:
    """A file name for a job number that cannot leave its folder: letters, digits, dot, dash, underscore."""
    kept = re.sub(r"[^\w.-]+", "-", job_number, flags=re.UNICODE).strip(".-_")[:80]
    return f"job-{kept or 'unnamed'}.pdf"


def free(path: Path, force: bool = False) -> None:
    """Say before the work that a file would be in the way.  Raises NotWritten."""
    if path.exists() and not force:
        raise NotWritten(
            f"{path} exists already; nothing was written. Add --force to replace it, or -o for another place"
        )


def write(path: Path, content: bytes, *, force: bool = False) -> None:
    """Write to a temporary file beside the target, then rename.  Raises NotWritten."""
    free(path, force)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=".sheet-", suffix=".part")
    except OSError as error:
        raise NotWritten(f"{path.parent}: cannot write here: {error.strerror}") from None
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(temporary, 0o644)
        if force:
            os.replace(temporary, path)
        else:
            os.link(temporary, path)  # refuses if somebody was quicker
    except OSError as error:
        raise NotWritten(f"{path}: was not written: {error.strerror}") from None
    finally:  # also when it is stopped by a key
        Path(temporary).unlink(missing_ok=True)
