"""Troubles of a store told in words: locks, full disks, lost servers, many writers."""

import contextlib
import multiprocessing
import os
import sqlite3
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest
import sqlalchemy as sa

from shoplib.record.errors import Busy, Full, ReadOnly, Unreachable
from shoplib.record.line_writer import LineWriter
from shoplib.record.store import Refused, Stale, Store
from tests import ci_part
from tests.record.store.helpers import WHO
from tests.record_fixtures import HEADER, NUMBER, clock, fresh, protrusion, started


# ------------------------------------------------------------------------------ troubles
def test_a_locked_record_says_so_and_keeps_nothing(tmp_path):
    with (
        started(tmp_path / "jobs.db", wait=0.2) as store,
        contextlib.closing(sqlite3.connect(tmp_path / "jobs.db", isolation_level=None)) as other,
    ):
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(Busy, match=r"waited 0.2 s.*Nothing was saved.*still on the screen"):
            store.keep(NUMBER, protrusion(), **WHO)
        assert store.job(NUMBER).entries == ()  # reading goes on
        other.execute("ROLLBACK")
        assert store.keep(NUMBER, protrusion(), **WHO).n == 2


def test_a_locked_server_says_so(tmp_path):
    with fresh("postgres", tmp_path) as where, started(where, wait=1) as store, Store.open(where) as other:
        with other._appending() as writer:
            writer.cursor(NUMBER)
            with pytest.raises(Busy, match="waited 1 s"):
                store.keep(NUMBER, protrusion(), **WHO)
        assert store.keep(NUMBER, protrusion(), **WHO).n == 2


def test_a_server_that_goes_away_comes_back(tmp_path):
    with fresh("postgres", tmp_path) as where, started(where) as store:
        with store._reading() as c:
            mine = c.exec_driver_sql("SELECT pg_backend_pid()").scalar()
        import psycopg

        with psycopg.connect(where, autocommit=True) as admin:
            admin.execute("SELECT pg_terminate_backend(%s)", (mine,))
        assert store.keep(NUMBER, protrusion(), **WHO).n == 2


@contextlib.contextmanager
def mounted(size):
    """A small file system of our own, where the machine lets us have one."""
    with tempfile.TemporaryDirectory() as folder:
        made = os.name == "posix" and os.geteuid() == 0 and subprocess.run(
            ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", folder], capture_output=True, check=False)  # fmt: skip
        if not made or made.returncode:
            pytest.skip("needs the right to mount a small file system")
        try:
            yield Path(folder)
        finally:
            subprocess.run(["umount", "-l", folder], check=True)


def test_a_full_disk_keeps_what_was_acknowledged(tmp_path):
    with mounted("1m") as folder:
        with started(folder / "jobs.db") as store:
            kept, drafts, filler = [], [None], folder / "filler"

            def keep_on():
                for _ in range(100):
                    content = {"rows": ["x" * 3900] * 8}
                    kept.append(store.note(NUMBER, "log", content, title="t", **WHO).uid)

            def draft_on():  # room inside the log may still take a few
                for k in range(100):
                    store.save_draft("thread", {"k": k, "rows": ["x" * 3900] * 20})
                    drafts.append(k)

            with pytest.raises(Full, match="Nothing was saved") as error:
                keep_on()
            assert len(kept) >= 5
            assert "Free some space" in str(error.value)
            with contextlib.suppress(OSError):
                filler.write_bytes(b"x" * 2_000_000)
            with pytest.raises(Full):
                draft_on()
            draft = store.draft("thread")
            assert (draft and draft.inputs["k"]) == drafts[-1]  # the last one acknowledged, whole
            assert [e.uid for e in store.job(NUMBER).entries] == kept  # still readable
            filler.unlink()
        with Store.open(folder / "jobs.db") as store:
            assert [e.uid for e in store.job(NUMBER).entries] == kept
            assert store.check() == []
            assert store.save_draft("thread", {"thread": "M10"})  # room again: it goes on


def test_a_full_disk_before_there_is_a_store():
    with mounted("16k") as folder:
        (folder / "filler").write_bytes(b"x" * 12_000)
        with pytest.raises(Full, match="disk"):
            started(folder / "jobs.db")


def test_a_full_disk_in_the_middle_of_a_write(lite, monkeypatch):
    """Without the right to mount: the error that SQLite raises, at the worst moment."""

    def full(*_, **__):
        error = sqlite3.OperationalError("database or disk is full")
        error.sqlite_errorcode = sqlite3.SQLITE_FULL
        raise sa.exc.OperationalError("INSERT", {}, error)

    with monkeypatch.context() as m:
        m.setattr(LineWriter, "_advance", full)  # the line is written, the job's row is not
        with pytest.raises(Full, match="Nothing was saved"):
            lite.keep(NUMBER, protrusion(), **WHO)
    assert len(lite.job(NUMBER).lines) == 1
    assert lite.check() == []
    assert lite.keep(NUMBER, protrusion(), **WHO).n == 2


def test_a_read_only_file_system():
    with mounted("4m") as folder:
        with started(folder / "jobs.db") as store:
            kept = store.keep(NUMBER, protrusion(), **WHO).uid
        subprocess.run(["mount", "-o", "remount,ro", str(folder)], check=True)
        with pytest.raises((ReadOnly, Unreachable), match="Nothing was saved"), Store.open(folder / "jobs.db") as store:
            store.keep(NUMBER, protrusion(), **WHO)
        with pytest.raises((ReadOnly, Unreachable)):
            Store.open(folder / "new" / "jobs.db")
        subprocess.run(["mount", "-o", "remount,rw", str(folder)], check=True)
        with Store.open(folder / "jobs.db") as store:
            assert store.job(NUMBER).entries[0].uid == kept


def test_a_read_only_folder(tmp_path):
    """As a user who may not write there; root may write anywhere, so root asks as nobody."""
    if os.name != "posix":
        pytest.skip("needs POSIX permissions")
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o555)
    code = (
        "import os, sys; from shoplib.record.store import Store, StoreError; import sqlalchemy.dialects.sqlite\n"
        "if os.geteuid() == 0: os.setgroups([]); os.setegid(65534); os.seteuid(65534)\n"
        "try: Store.open(sys.argv[1])\n"
        "except StoreError as e: print(type(e).__name__, e)"
    )
    try:
        for path in (folder / "jobs.db", folder / "new" / "jobs.db"):
            ran = subprocess.run([sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=False,
                                 env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)})  # fmt: skip
            assert ran.stdout.split()[0] in ("ReadOnly", "Unreachable"), ran.stderr
            assert str(folder) in ran.stdout
    finally:
        folder.chmod(0o755)
        folder.rmdir()


def test_a_clock_that_goes_backwards_changes_no_order(place):
    said = clock("2026-11-25 10:00", "2026-11-25 10:01", "2025-01-01 00:00", "2026-11-25 10:02")
    with started(place, clock=said) as store:
        for title in ("first", "second", "third"):
            store.keep(NUMBER, protrusion(), **WHO, title=title)
        job = store.job(NUMBER)
        assert [(e.n, e.title) for e in job.entries] == [(2, "first"), (3, "second"), (4, "third")]
        assert job.notes == (
            "line 3: the computer's clock showed 2025-01-01T00:00:00.000Z, which is before line 2 "
            "(2026-11-25T10:01:00.000Z); the line numbers give the order",
        )


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE line SET who = 'Somebody' WHERE n = 2",
        "UPDATE line SET body = replace(body, '0,06 mm', '0,05 mm') WHERE n = 2",
        "UPDATE line SET body = 'not json' WHERE n = 2",
        "UPDATE line SET at = '2020-01-01T00:00:00.000Z' WHERE n = 3",
        "DELETE FROM line WHERE n = 2",
        "DELETE FROM line WHERE n = 3",
        "UPDATE job SET lines = 2",
    ],
)
def test_what_was_changed_outside_the_program_is_found(store, change):
    for _ in range(2):
        store.keep(NUMBER, protrusion(), **WHO)
    assert store.check() == []
    with store._engine.begin() as c:
        for verb in ("update", "delete"):
            on = " ON line" if c.dialect.name == "postgresql" else ""
            c.exec_driver_sql(f"DROP TRIGGER line_no_{verb}{on}")
        c.exec_driver_sql(change)
    assert any("outside this program" in x for x in store.check())
    job = store.job(NUMBER)
    if "job" not in change and "n = 3" not in change:
        assert job.damaged
        assert "altered outside this program" in job.notes[0]
        with pytest.raises(Stale, match="outside this program"):
            store.sign(NUMBER, who="A", role="done by")


def test_a_copy_is_whole_while_others_write(lite, tmp_path):
    kept = lite.keep(NUMBER, protrusion(), **WHO)
    lite.copy_to(tmp_path / "copy.db")
    assert sorted(p.name for p in tmp_path.glob("copy*")) == ["copy.db"]
    with pytest.raises(Refused, match="already exists"):
        lite.copy_to(tmp_path / "copy.db")
    with Store.open(tmp_path / "copy.db") as copy:
        assert copy.job(NUMBER).entries[0].uid == kept.uid


# ------------------------------------------------------------------------------ many at once
WRITERS = 8

EACH = 1000 if ci_part.ALL else 30


def write_many(where, gate, writer, each):
    gate.wait(60)
    with Store.open(where, wait=60) as store:  # all at once: one makes the tables, the others wait
        with contextlib.suppress(Refused):
            store.start(**HEADER)
        result = protrusion()
        for k in range(each):
            store.keep(NUMBER, result, who=f"writer {writer}", title=f"{writer}-{k}")


def test_eight_processes_lose_nothing_and_keep_their_order(place):
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["tests.record.store.test_trouble"])
    with context.Manager() as manager:
        gate = manager.Barrier(WRITERS)
        processes = [context.Process(target=write_many, args=(place, gate, w, EACH)) for w in range(WRITERS)]
        for p in processes:
            p.start()
        for p in processes:
            p.join(500)
    assert [p.exitcode for p in processes] == [0] * WRITERS
    with Store.open(place) as store:
        job = store.job(NUMBER)
        assert [x.n for x in job.lines] == list(range(1, WRITERS * EACH + 2))
        for w in range(WRITERS):
            mine = [e.title for e in job.entries if e.who == f"writer {w}"]
            assert mine == [f"{w}-{k}" for k in range(EACH)]
        assert store.check() == []


def test_a_record_behind_a_link_is_forced_to_the_disk_too(tmp_path, monkeypatch):
    forced = []
    real = os.fdatasync
    monkeypatch.setattr(os, "fdatasync", lambda fd: forced.append(os.readlink(f"/proc/self/fd/{fd}")) or real(fd))
    (tmp_path / "there").mkdir()
    (tmp_path / "link.db").symlink_to(tmp_path / "there" / "jobs.db")
    Store.open(tmp_path / "there" / "jobs.db").close()
    with Store.open(tmp_path / "link.db") as store:
        store.start(**HEADER)
    assert forced == [str(tmp_path / "there" / "jobs.db-wal")]
