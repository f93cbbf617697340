"""The connection to PostgreSQL is cut at every statement of every operation, and at COMMIT before and after it."""

import contextlib
import threading

import psycopg
import pytest
import sqlalchemy as sa
from sqlalchemy import event

from shoplib.record.line_writer import NewLine
from shoplib.record.store import Store, new_id
from tests.faults.operations import OPERATIONS, attempt, judge, make
from tests.record_fixtures import HEADER, fresh, protrusion, server

MOST = 400
NAMES = list(OPERATIONS)


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


def test_what_was_acknowledged_is_on_the_disk_of_the_server(tmp_path):
    """The log is forced at least as far as it had grown when COMMIT was sent."""
    written = []
    with fresh("postgres", tmp_path) as where, psycopg.connect(server(), autocommit=True) as admin:
        with Store.open(where) as store:
            store.start(**HEADER)

            @event.listens_for(store._engine, "before_cursor_execute")
            def _note(connection, cursor, statement, *_):
                if statement.startswith("COMMIT"):
                    written.append(admin.execute("SELECT pg_current_wal_insert_lsn()").fetchone()[0])

            for _ in range(10):
                store.keep(HEADER["number"], protrusion(), who="A. Learner")
                forced = admin.execute("SELECT pg_current_wal_flush_lsn() >= %s::pg_lsn", [written[-1]]).fetchone()[0]
                assert forced
        assert len(written) == 10


def test_two_jobs_that_are_written_at_the_same_time_make_one_chain(tmp_path):
    with fresh("postgres", tmp_path) as where, Store.open(where) as one, Store.open(where) as other:
        for store, number in ((one, "26-001"), (other, "26-002")):
            store.start(**{**HEADER, "number": number})
        errors = []

        def write():
            try:
                other.keep("26-002", protrusion(), who="A. Learner")
            except Exception as error:  # noqa: BLE001 -- handed to the test
                errors.append(error)

        thread = threading.Thread(target=write)
        with one._appending() as writer:
            fields = {"fields": {"complaint": "It overheats."}, "because": "told later"}
            writer.append(writer.cursor("26-001"), NewLine("header", "A. Learner", fields))
            thread.start()
            thread.join(0.5)
            assert thread.is_alive(), "it waits for the end of the chain"
        thread.join(30)
        assert errors == []
        assert one.check() == []
