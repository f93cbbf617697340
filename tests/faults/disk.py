"""``python -m tests.faults.disk FOLDER NAME once|on``, with the shim loaded: fail every write of an operation in turn.

Prints one line of JSON: how many calls change a file, and how it ended in each case.
"""

from __future__ import annotations

import collections
import contextlib
import ctypes
import json
import shutil
import sys
from pathlib import Path

from shoplib.record.errors import StoreError
from shoplib.record.store import Store, new_id
from tests.faults.operations import OPERATIONS, attempt, judge, make

ARCHIVE = Path(__file__).parents[1] / "archive" / "0.1.0" / "databases" / "jobs.db"
MOST = 400  # calls of one operation; more would mean that the shim never ends


class Disk:
    """Switches the shim."""

    def __init__(self, below: Path, *, on: bool) -> None:
        self.library, self.below, self.on = ctypes.CDLL(None), str(below).encode(), on
        self.seen = 0

    @contextlib.contextmanager
    def failing(self, n: int):
        self.library.fault_arm(n, int(self.on), self.below)
        try:
            yield
        finally:
            self.seen = self.library.fault_disarm()


def operation(name: str, folder: Path, disk: Disk, scratch: Path) -> collections.Counter:
    """Every call of one operation fails in turn, each time with a new copy of the record."""
    base = scratch / "base.db"
    with Store.open(base) as store:
        made = make(store, "26-014", scratch=scratch, closed=name == "reopen")
        before = [x.digest for x in store.job(made.number).lines]
    ended: collections.Counter = collections.Counter()
    for n in range(1, MOST):
        empty(folder)
        shutil.copy(base, folder / "jobs.db")
        uid = new_id()
        with Store.open(folder / "jobs.db", wait=0.1) as store:
            store.glance(made.number)
            with disk.failing(n):
                error = attempt(name, store, made, uid)
        with Store.open(folder / "jobs.db") as again:
            judge(name, error, again, made, uid, before)
            assert again.check() == []
        ended[type(error).__name__ if error else "saved"] += 1
        if disk.seen < n:
            ended["calls"] = n - 1
            return ended
    raise AssertionError("the operation never ends")


def opening(folder: Path, disk: Disk, old: bool) -> collections.Counter:
    """Making a record, or bringing one of 0.1.0 up to date, with every call failing in turn."""
    ended: collections.Counter = collections.Counter()
    for n in range(1, MOST):
        empty(folder)
        if old:
            shutil.copy(ARCHIVE, folder / "jobs.db")
        error = None
        with disk.failing(n):
            try:
                Store.open(folder / "jobs.db", wait=0.1).close()
            except StoreError as found:
                error = found
        assert error is None or "Nothing was saved" in str(error) or "not known" in str(error), str(error)
        with Store.open(folder / "jobs.db") as again:
            assert again.check() == []
            assert {r.number for r in again.jobs().rows} == ({"26-027", "26-030"} if old else set())
        ended[type(error).__name__ if error else "saved"] += 1
        if disk.seen < n:
            ended["calls"] = n - 1
            return ended
    raise AssertionError("opening never ends")


def copying(folder: Path, disk: Disk, scratch: Path) -> collections.Counter:
    """A copy for safekeeping: whole or not there."""
    ended: collections.Counter = collections.Counter()
    with Store.open(scratch / "base.db") as store:
        made = make(store, "26-014", scratch=scratch)
        for n in range(1, MOST):
            empty(folder)
            error = None
            with disk.failing(n):
                try:
                    store.copy_to(folder / "copy.db")
                except StoreError as found:
                    error = found
            assert error is None or "Nothing was saved" in str(error), str(error)
            if (folder / "copy.db").exists():
                with Store.open(folder / "copy.db") as copy:
                    assert copy.check() == [] and len(copy.job(made.number).lines) == 3
            else:
                assert error is not None
            ended[type(error).__name__ if error else "saved"] += 1
            if disk.seen < n:
                ended["calls"] = n - 1
                return ended
    raise AssertionError("copying never ends")


def empty(folder: Path) -> None:
    for path in folder.iterdir():
        path.unlink()


def main(where: str, name: str, mode: str) -> None:
    folder, scratch = Path(where) / "disk", Path(where) / "scratch"
    folder.mkdir()
    scratch.mkdir()
    disk = Disk(folder, on=mode == "on")
    if name in OPERATIONS:
        ended = operation(name, folder, disk, scratch)
    elif name == "copy":
        ended = copying(folder, disk, scratch)
    else:
        ended = opening(folder, disk, old=name == "upgrade")
    print(json.dumps(ended))


if __name__ == "__main__":
    main(*sys.argv[1:])
