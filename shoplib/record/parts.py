"""Files that appear complete or not at all, and that only their user can read.

A file is written in the same folder under another name, which ends in ``.part``, and is renamed at the end.  The
program that writes it holds a lock on it, so that the next program can recognise what a killed one left behind.
"""

from __future__ import annotations

import contextlib
import glob
import os
import uuid
from collections.abc import Iterator
from pathlib import Path

try:
    import fcntl
except ImportError:  # Windows, where a file that is open cannot be removed
    fcntl = None  # type: ignore[assignment] # the functions below ask for it


@contextlib.contextmanager
def whole(target: Path, *, replace: bool = False) -> Iterator[Path]:
    """A new, empty file of mode 0600 to be filled; it becomes ``target`` at the end.  It replaces an existing
    file only with ``replace``; otherwise FileExistsError.

    :param target: the file to be made
    :param replace: whether an existing file is replaced
    """
    clear(target)
    part = target.with_name(f"{target.name}.{uuid.uuid4().hex[:12]}.part")
    handle = os.open(part, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600)
    try:
        if fcntl is not None:
            with contextlib.suppress(OSError):  # a file system without locks
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        yield part
        if fcntl is None:
            os.close(handle)
            handle = -1
        if replace:
            os.replace(part, target)
        else:
            os.link(part, target)
    finally:
        if handle >= 0:
            os.close(handle)
        part.unlink(missing_ok=True)


def clear(target: Path) -> None:
    """Remove the parts of ``target`` that no running program is still writing.

    :param target: the file that was to be made
    """
    for part in target.parent.glob(f"{glob.escape(target.name)}.*.part"):
        with contextlib.suppress(OSError):
            handle = os.open(part, os.O_RDWR)
            try:
                if fcntl is not None:
                    fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)  # OSError: it is being written
                part.unlink()
            finally:
                os.close(handle)


def write_new(target: Path, content: bytes) -> None:
    """Write a complete file; do nothing if it exists already.

    :param target: the file to be made
    :param content: the bytes of the file
    """
    with contextlib.suppress(FileExistsError), whole(target) as part:
        part.write_bytes(content)
