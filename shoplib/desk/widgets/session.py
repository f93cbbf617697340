"""Today's job at this desk: one record for all forms of a kernel, opened on first use.

    from shoplib.desk.widgets.session import session
    session.store()         # the open record; raises StoreError with a message
    session.number          # today's job, "" before one is chosen; remembered for the next kernel of this desk
    session.who             # the person at this desk

Environment: SHOPLIB_STORE gives the location of the record, SHOPLIB_DESK the name of this desk.
"""

from __future__ import annotations

import asyncio
import contextlib
import hashlib
import logging
import os
import re
import threading
import uuid
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import platformdirs
import traitlets

from shoplib.core.errors import BadInput
from shoplib.record.config import default_place
from shoplib.record.errors import StoreError
from shoplib.record.parts import write_new

if TYPE_CHECKING:  # the database library is imported when the record is opened, not when a form is shown
    from shoplib.classroom.classes import Classroom
    from shoplib.record.store import Store

_MEMORY = "session"  # the name of the draft that holds the choice of job
_ID = re.compile(r"[0-9a-f]{32}")
T = TypeVar("T")


def desk() -> str:
    """The name under which this desk's drafts and its choice of job are saved.  Desks that share one record have
    different names.

    It is derived from a random key in the user's data folder, and from SHOPLIB_DESK or the hub's user if there is one.
    So nobody can read the drafts of another desk by using its name.  If no key can be saved, the name is derived from
    SHOPLIB_DESK, or from the names of the user and the machine.
    """
    key, named = _key(), _named()
    if named:
        return _short(f"{key} {named}") if key else _short(named)
    return key or _short(_user_and_machine())


def _named() -> str:
    return os.environ.get("SHOPLIB_DESK", "").strip() or os.environ.get("JUPYTERHUB_USER", "").strip()


def _key() -> str:
    """A random key that only this user can read, made on first use; "" if it cannot be saved."""
    path = Path(platformdirs.user_data_dir("shoplib", appauthor=False)) / "desk"
    try:
        if not path.exists():
            path.parent.mkdir(parents=True, exist_ok=True)
            write_new(path, uuid.uuid4().hex.encode("ascii"))
        if path.stat().st_mode & 0o077:  # made by version 0.1.0
            path.chmod(0o600)
        found = path.read_text(encoding="ascii").strip()
    except (OSError, ValueError):
        return ""
    return found if _ID.fullmatch(found) else ""


def _user_and_machine() -> str:
    import getpass
    import platform

    try:
        user = getpass.getuser()
    except (OSError, KeyError, ImportError):  # a user without a name, as in some containers
        user = ""
    return f"{user}@{platform.node()}"


def _short(name: str) -> str:
    return hashlib.sha256(name.encode("utf-8", "surrogateescape")).hexdigest()[:32]


class Session(traitlets.HasTraits):
    """The shared state of the forms of one kernel.  Reading ``number`` or ``who`` opens the record.  If the record
    cannot be opened, both are empty and ``trouble`` holds the reason.
    """

    number = traitlets.Unicode()  # of today's job
    who = traitlets.Unicode()  # initials or name
    trouble = traitlets.Unicode("")  # the last error of the record, as a message
    written = traitlets.Int(0)  # counts the writes of this kernel; every view reads the record again

    def __init__(self) -> None:
        super().__init__()
        self._lock = threading.RLock()
        self._open: Store | None = None
        self._room: Classroom | None = None
        self._clerk: ThreadPoolExecutor | None = None
        self.observe(self._remember, ["number", "who"])

    # ------------------------------------------------------------------------------ the record
    def store(self) -> Store:
        """The record, opened on first use.  Raises StoreError, and tries again at the next call."""
        with self._lock:
            if self._open is None:
                from shoplib.record.store import Store

                self._open = Store.open()
                if self._open.caution:
                    logging.getLogger("shoplib").warning(self._open.caution)
                named = _named()
                if named:  # version 0.1.0 used the name of the desk alone
                    with contextlib.suppress(StoreError):
                        self._open.rename_desk(_short(named), desk())
            return self._open

    def classroom(self) -> Classroom:
        """The classes in the record, opened on first use.  Raises StoreError."""
        with self._lock:
            if self._room is None:
                from shoplib.classroom.classes import Classroom

                self._room = Classroom.open()
            return self._room

    def close(self) -> None:
        """Close the record, forget what was read, and remove the observers; the next call opens it again."""
        self.unobserve_all()
        self.observe(self._remember, ["number", "who"])
        if self._clerk is not None:
            self._clerk.shutdown()
            self._clerk = None
        with self._lock:
            if self._open is not None:
                self._open.close()
                self._open = None
            if self._room is not None:
                self._room.close()
                self._room = None
        for name in ("number", "who"):
            self._trait_values.pop(name, None)  # so that the next access reads it again
        self.trouble = ""

    # ------------------------------------------------------------------------------ remembered choices
    @staticmethod
    def anything() -> bool:
        """False if no record exists yet: then there is nothing to recall, and nothing is opened or created."""
        place = default_place()
        return "://" in place or Path(place).expanduser().exists()

    def recall(self) -> dict[str, str]:
        """The job number and the person, as last chosen at this desk.  Raises StoreError."""
        store = self.store()
        kept = store.draft(_MEMORY, desk=desk())
        found = kept.inputs if kept else {}
        number = store.number_of(str(found.get("job", "")))  # follow a job whose number was changed
        return {"number": number or "", "who": str(found.get("who", ""))}

    def again(self) -> None:
        """After an error: recall the choices again.  Choices made in the meantime stay."""
        try:
            found = self.recall()
        except StoreError as error:
            self.trouble = str(error)
            return
        self.trouble = ""
        for name, value in found.items():
            if value and not getattr(self, name):
                self.set_trait(name, value)
        self._remember(None)

    @traitlets.default("number")  # type: ignore[untyped-decorator] # traitlets has no types for it
    def _last_number(self) -> str:
        return self._recalled("number")

    @traitlets.default("who")  # type: ignore[untyped-decorator] # traitlets has no types for it
    def _last_who(self) -> str:
        return self._recalled("who")

    def _recalled(self, name: str) -> str:
        try:
            return self.recall()[name]
        except StoreError as error:
            self.trouble = str(error)
            return ""

    def _remember(self, _: Any) -> None:
        try:
            store = self.store()
            job = store.glance(self.number) if self.number else None
            store.save_draft(_MEMORY, {"job": job.uid if job else "", "who": self.who}, desk=desk())
            self.trouble = ""
        except (StoreError, BadInput) as error:
            self.trouble = str(error)

    # ------------------------------------------------------------------------------ in a worker thread
    @staticmethod
    def call_soon(work: Callable[[], None], seconds: float = 0.0) -> None:
        """Do ``work`` in the kernel after the current cell has finished, when its output is on the screen.

        Outside a kernel nothing is done: there is no viewer.
        """
        loop = _loop()
        if loop is not None:
            loop.call_later(seconds, work)

    def run_in_thread(self, work: Callable[[], T], then: Callable[[T | BaseException], None]) -> None:
        """Do ``work`` in a worker thread, so that no keystroke waits for a disk; then call ``then`` in the kernel with
        the result or the error.  Without a running kernel both are done at once.
        """
        loop = _loop()
        if loop is None:
            then(_outcome(work))
            return
        with self._lock:
            if self._clerk is None:
                self._clerk = ThreadPoolExecutor(1, thread_name_prefix="record")
            done: Future[T | BaseException] = self._clerk.submit(_outcome, work)

        def back(finished: Future[T | BaseException]) -> None:
            with contextlib.suppress(RuntimeError):  # the kernel is ending; the data is already written
                loop.call_soon_threadsafe(then, finished.result())

        done.add_done_callback(back)


def _loop() -> asyncio.AbstractEventLoop | None:
    """The kernel's event loop, or None if no kernel is running."""
    try:
        return asyncio.get_running_loop()
    except RuntimeError:
        return None


def _outcome(work: Callable[[], T]) -> T | BaseException:
    try:
        return work()
    except Exception as error:  # noqa: BLE001 -- returned to the caller
        return error


session = Session()
