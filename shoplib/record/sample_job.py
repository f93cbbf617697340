"""The invented job of the examples, in a record of its own that is gone afterwards."""

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
    """An open store that holds the invented job, and the job's number.

    Its clock stands at the morning after the job, and goes on a minute at each look: what is printed of it is the same
    every time.  Nothing of the user's own record is touched.
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
        yield store, store.import_job(WHOLE_JOB.read_bytes())
