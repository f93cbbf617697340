"""The invented example job, in a temporary record of its own."""

from __future__ import annotations

import contextlib
import datetime
import tempfile
from collections.abc import Iterator
from pathlib import Path

from shoplib.core.paths import DATA
from shoplib.record.store import Store

WHOLE_JOB = DATA / "demo" / "whole_job.json"
MORNING = datetime.datetime(2026, 11, 27, 8, 0, tzinfo=datetime.UTC)


@contextlib.contextmanager
def invented_job() -> Iterator[tuple[Store, str]]:
    """An open store with the invented job, and the job's number.

    Its clock starts on the morning after the job and advances one minute per call, so that its printed pages are always
    the same.  The user's own record is not touched.
    """
    now = MORNING

    def clock() -> datetime.datetime:
        nonlocal now
        now += datetime.timedelta(minutes=1)
        return now

    with (
        tempfile.TemporaryDirectory(prefix="shoplib-") as folder,
        Store.open(Path(folder) / "jobs.db", clock=clock) as store,
    ):
        yield store, store.import_job(WHOLE_JOB.read_bytes()).number
