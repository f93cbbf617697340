"""The connection to PostgreSQL is cut at every statement of every operation, and at COMMIT before and after it."""

import contextlib
import os

import psycopg
import pytest
import sqlalchemy as sa
from sqlalchemy import event

from shoplib.record.store import Store, new_id
from tests.faults.operations import OPERATIONS, attempt, judge, make
from tests.stores import fresh, server

MOST = 400
NAMES = list(OPERATIONS) if os.environ.get("SHOPLIB_SLOW") else ["keep", "attach", "import", "start_from"]


class Cutter:
    """Ends the server's side of a connection before the N-th statement; ``seen`` counts them, BEGIN to COMMIT."""

    def __init__(self, store, admin):
        self.store, self.admin, self.seen, self.at = store, admin, 0, 0

    def before(self, connection, *_):
        self.seen += 1
        if self.seen == self.at:
            self.cut(connection)

    def commit(self, connection):
        self.before(connection)
        self.seen += 1  # and once more after it was done, before its answer
        if self.seen == self.at:
            connection.connection.driver_connection.commit()
            self.cut(connection)
            raise sa.exc.OperationalError("COMMIT", {}, psycopg.OperationalError("server closed the connection"))

    def cut(self, connection):
        pid = connection.connection.driver_connection.info.backend_pid
        self.admin.execute("SELECT pg_terminate_backend(%s, 5000)", [pid])

    @contextlib.contextmanager
    def cutting(self, at):
        self.seen, self.at = 0, at
        engine = self.store._engine
        event.listen(engine, "before_cursor_execute", self.before)
        event.listen(engine, "commit", self.commit)
        try:
            yield
        finally:
            event.remove(engine, "before_cursor_execute", self.before)
            event.remove(engine, "commit", self.commit)


@pytest.mark.parametrize("name", NAMES)
def test_a_cut_connection_loses_nothing_and_leaves_nothing_half_done(name, tmp_path):
    with fresh("postgres", tmp_path) as where, psycopg.connect(server(), autocommit=True) as admin:
        for n in range(1, MOST):
            with Store.open(where, wait=2) as store:
                made = make(store, f"26-{n:03d}", scratch=tmp_path, closed=name == "reopen")
                before, uid = [x.digest for x in store.job(made.number).lines], new_id()
                cutter = Cutter(store, admin)
                with cutter.cutting(n):
                    error = attempt(name, store, made, uid)
            with Store.open(where) as again:
                judge(name, error, again, made, uid, before)
            if cutter.seen < n:
                break
        with Store.open(where) as again:
            assert again.check() == []
        print(f"{name}: cut at {n - 1} places")
        assert n > 4  # it saw the statements
