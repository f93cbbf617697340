"""What the tests of the job record share: fresh stores on SQLite and PostgreSQL, and small jobs to fill them."""

import contextlib
import datetime
import os
import uuid

import pytest

from shoplib.record.store import Store
from shoplib.topics import get

KINDS = ("sqlite", "postgres")
NUMBER = "26-014"
HEADER = {
    "number": NUMBER,
    "engine": "Three-cylinder irrigation-pump diesel",
    "done_by": "A. Learner",
    "date": "2026-11-25",
}
NOTES = "bench notes, sheet 12"


def server():
    """URL of the PostgreSQL that .ci/run started; without one the test is skipped, in CI it fails."""
    url = os.environ.get("SHOPLIB_TEST_POSTGRES")
    if not url:
        reason = "no PostgreSQL: start one on loopback and set SHOPLIB_TEST_POSTGRES=postgresql://postgres@127.0.0.1:PORT/postgres"
        if os.environ.get("SHOPLIB_REQUIRE_POSTGRES"):
            pytest.fail(reason)
        pytest.skip(reason)
    return url


@contextlib.contextmanager
def fresh(kind, folder):
    """The place of a store that does not exist yet."""
    if kind == "sqlite":
        yield str(folder / "jobs.db")
        return
    import psycopg

    url = server()
    name = f"t_{uuid.uuid4().hex[:16]}"
    with psycopg.connect(url, autocommit=True) as admin:  # a schema of its own is quicker than a database
        admin.execute(f"CREATE SCHEMA {name}")
        try:
            yield f"{url}?options=-csearch_path%3D{name}"
        finally:
            admin.execute(f"DROP SCHEMA {name} CASCADE")


def protrusion(value="0,06 mm", **more):
    """A result to keep."""
    return get("measurement")(
        what="Liner protrusion", where="cylinder 2", value=value, high="0.10 mm", high_source=NOTES, **more
    )


def started(where, **more):
    """An open store with one job in it."""
    store = Store.open(where, **more)
    store.start(**HEADER)
    return store


def programme(store, number=NUMBER):
    """The note that a tightening guide works from."""
    content = {"stages": ["40 N*m", "+90 deg"], "bolts": ["1", "2", "3"]}
    return store.note(number, "programme", content, title="Head bolts: two stages", who="A. Learner").uid


def clock(*moments):
    """A clock that shows these moments, and stays at the last."""
    left = [datetime.datetime.fromisoformat(m).replace(tzinfo=datetime.UTC) for m in moments]
    return lambda: left.pop(0) if len(left) > 1 else left[0]
