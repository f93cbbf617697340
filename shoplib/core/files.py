"""Reading a file that somebody handed in: a regular file, of bounded size, and nothing else."""

from __future__ import annotations

import os
import stat
from pathlib import Path, PurePosixPath, PureWindowsPath

from shoplib.core.errors import ShoplibError


class NotRead(ShoplibError, OSError):
    """Why a file was not read, in words that follow its name."""


def read_bounded(path: Path | str, largest: int) -> bytes:
    """The bytes of a regular file.  Raises NotRead.

    A pipe or a device is refused before it is opened: it may have no end, and opening it may wait for ever.

    :param path: of the file
    :param largest: bytes, at most
    """
    try:
        _regular(os.stat(path), largest)
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        with os.fdopen(handle, "rb") as file:
            _regular(os.fstat(handle), largest)  # what was opened may be another file than the one looked at
            raw = file.read(largest + 1)
    except NotRead:
        raise
    except OSError as error:
        raise NotRead(f"cannot be read: {error.strerror}") from None
    except ValueError:  # a zero byte in the name
        raise NotRead("cannot be read: this is not the name of a file") from None
    if len(raw) > largest:
        raise NotRead(_too_large(len(raw), largest))
    return raw


def _regular(found: os.stat_result, largest: int) -> None:
    if not stat.S_ISREG(found.st_mode):
        raise NotRead("cannot be read: this is not a regular file")
    if found.st_size > largest:
        raise NotRead(_too_large(found.st_size, largest))


def _too_large(size: int, largest: int) -> str:
    return f"{size} bytes is too large; at most {largest}"


def inside(folder: Path, name: str) -> Path:
    """The file of that name in the folder, links followed.  Raises NotRead for whatever leads out of the folder.

    :param folder: out of which nothing may lead
    :param name: of the file, as it was typed
    """
    windows, posix = PureWindowsPath(name), PurePosixPath(name)
    if windows.drive or windows.root or posix.is_absolute() or ".." in windows.parts:
        raise NotRead("is not read: name a file in the folder of the job file, without a path that leads out of it")
    try:
        home = folder.resolve()
        found = (home / name).resolve()
    except (OSError, ValueError, RuntimeError):
        raise NotRead("cannot be read: this is not the name of a file") from None
    if not found.is_relative_to(home):
        raise NotRead("is not read: it is a link out of the folder of the job file")
    return found
