"""What the program says after trouble is true: nothing saved, saved, or not known and asked again."""

import contextlib
import io
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest
import sqlalchemy as sa
from PIL import Image
from sqlalchemy import event

from shoplib.record import parts
from shoplib.record.errors import Full, NoSuchJob, ReadOnly, StoreError, Uncertain, Unreachable
from shoplib.record.line_writer import LineWriter
from shoplib.record.store import Store
from shoplib.sheet import files
from tests.record_fixtures import HEADER, KINDS, NUMBER, fresh, programme, protrusion, started

OLD = Path(__file__).parents[1] / "archive" / "0.1.0" / "databases" / "jobs.db"
WHO = {"who": "A. Learner"}


@pytest.fixture(params=KINDS)
def store(request, tmp_path):
    with fresh(request.param, tmp_path) as where, started(where) as opened:
        yield opened


def lost(dialect):
    """What the driver raises when the answer to COMMIT did not come."""
    if dialect == "postgresql":
        import psycopg

        return psycopg.OperationalError("consuming input failed: server closed the connection unexpectedly")
    error = sqlite3.OperationalError("disk I/O error")
    error.sqlite_errorcode = sqlite3.SQLITE_IOERR_FSYNC
    return error


@contextlib.contextmanager
def answers_lost(store, *, saved, times):
    """The first so many COMMITs get no answer; ``saved`` says whether they were done."""
    left = [times]

    def commit(connection):
        if left[0] and connection.get_execution_options().get("writes"):
            left[0] -= 1
            raw = connection.connection.driver_connection
            if connection.dialect.name == "sqlite":
                raw.execute("COMMIT" if saved else "ROLLBACK")
            else:
                (raw.commit if saved else raw.rollback)()
            raise sa.exc.OperationalError("COMMIT", {}, lost(connection.dialect.name))

    event.listen(store._engine, "commit", commit)
    try:
        yield
    finally:
        event.remove(store._engine, "commit", commit)


def photograph():
    out = io.BytesIO()
    Image.linear_gradient("L").resize((90, 60)).convert("RGB").save(out, "JPEG")
    return out.getvalue()


WRITES = {
    "start": lambda s, _: s.start(**HEADER | {"number": "26-099"}),
    "keep": lambda s, _: s.keep(NUMBER, protrusion(), **WHO),
    "note": lambda s, _: programme(s),
    "strike": lambda s, uid: s.strike(NUMBER, uid, because="wrong bolt", **WHO),
    "attach": lambda s, uid: s.attach(NUMBER, uid, photograph(), **WHO),
    "sign": lambda s, _: s.sign(NUMBER, role="done by", **WHO),
    "issue": lambda s, _: s.issue(NUMBER, **WHO),
    "amend": lambda s, _: s.amend(NUMBER, complaint="leaks", **WHO),
    "start_from": lambda s, _: s.start_from({"job": HEADER | {"number": "26-099"}, "entry": [ENTRY]}),
    "draft": lambda s, _: s.save_draft("thread", {"a": 1}, number=NUMBER, desk="x"),
}


ENTRY = {"working": "angle_travel", "inputs": {"angle": "90 deg", "pitch": "1.5 mm"}}
ADDS = {"draft": 0, "start_from": 2}  # lines


@pytest.mark.parametrize("saved", [True, False])
@pytest.mark.parametrize("write", WRITES)
def test_a_lost_answer_is_asked_again_and_saved_once(store, write, saved):
    uid = store.keep(NUMBER, protrusion(), **WHO).uid
    before = sum(r.lines for r in store.jobs().rows)
    with answers_lost(store, saved=saved, times=1):
        WRITES[write](store, uid)
    assert sum(r.lines for r in store.jobs().rows) == before + ADDS.get(write, 1)
    assert store.check() == []


def test_when_no_answer_comes_at_all_it_says_that_it_is_not_known(store):
    store.wait = 0.3
    with answers_lost(store, saved=False, times=10**6), pytest.raises(Uncertain, match="not known whether") as error:
        store.keep(NUMBER, protrusion(), uid="a-uid-of-a-call", **WHO)
    assert "Nothing was" not in str(error.value)
    assert store.keep(NUMBER, protrusion(), uid="a-uid-of-a-call", **WHO).n == 2


def test_trouble_before_the_commit_saves_nothing_and_says_so(store, monkeypatch):
    def full(*_, **__):
        error = sqlite3.OperationalError("database or disk is full")
        error.sqlite_errorcode = sqlite3.SQLITE_FULL
        raise sa.exc.OperationalError("INSERT", {}, error)

    monkeypatch.setattr(LineWriter, "_advance", full)
    with pytest.raises(Full, match="Nothing was saved"):
        store.keep(NUMBER, protrusion(), **WHO)


def test_photographs_from_the_desk_are_saved_once(monkeypatch):
    """The desk gives the same photograph the same uid until it was answered."""
    from shoplib.desk import Form
    from shoplib.desk.widgets.session import session

    session.store().start(**HEADER)
    session.number, session.who = NUMBER, "A. Learner"
    form = Form("thread", thread="M10x1.5")
    form.keeping.kept = session.store().keep(NUMBER, protrusion(), **WHO)
    uids, real = [], Store.attach

    def attach(self, *args, **more):
        uids.append(more.get("uid"))
        kept = real(self, *args, **more)
        if len(uids) == 1:
            raise Uncertain("It is not known whether it was saved.")
        return kept

    monkeypatch.setattr(Store, "attach", attach)
    with pytest.raises(Uncertain):
        form.keeping.attach(photograph(), "")
    form.keeping.attach(photograph(), "")
    assert uids[0] and uids[0] == uids[1]
    assert sum(x.kind == "photo" for x in session.store().job(NUMBER).lines) == 1
    form.keeping.attach(photograph(), "")  # the same again, after an answer, is a new one
    assert sum(x.kind == "photo" for x in session.store().job(NUMBER).lines) == 2


# ------------------------------------------------------------------------------ read-only media
AS_NOBODY = """
import os, sys
import sqlalchemy.dialects.sqlite
from shoplib.record.store import Store, StoreError
from shoplib.topics import get
import shoplib.record.exchange, fastjsonschema
if os.geteuid() == 0: os.setgroups([]); os.setegid(65534); os.seteuid(65534)
with Store.open(sys.argv[1]) as store:
    print(store.read_only, [r.number for r in store.jobs().rows], store.check())
    number = store.jobs().rows[0].number
    print(len(store.job(number).lines), len(store.export(number)) > 100, store.drafts(number=number))
    for write in (lambda: store.strike(number, "x" * 8, who="A", because="b"), lambda: store.save_draft("f", {})):
        try: write()
        except StoreError as e: print(type(e).__name__, e)
"""


@pytest.mark.skipif(os.name != "posix", reason="needs POSIX permissions")
@pytest.mark.parametrize("made", ["today", "by 0.1.0"])
def test_a_record_on_read_only_media_is_read(tmp_path, made):
    folder = Path(tempfile.mkdtemp())  # pytest's own folders are for its user alone
    if made == "today":
        started(folder / "jobs.db").close()
    else:
        shutil.copy(OLD, folder / "jobs.db")
    (folder / "jobs.db").chmod(0o444)
    folder.chmod(0o555)
    before = sorted(p.name for p in folder.iterdir())
    ran = subprocess.run([sys.executable, "-c", AS_NOBODY, str(folder / "jobs.db")], capture_output=True, text=True,
                         check=False, env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)})  # fmt: skip
    folder.chmod(0o755)
    said = ran.stdout.splitlines()
    assert len(said) == 4, ran.stderr
    assert said[0].startswith("True ['26-") and said[0].endswith(" []")
    assert said[2].startswith("ReadOnly") and "read-only: you can read it, not change it" in said[2]
    assert said[3].startswith("ReadOnly")
    assert sorted(p.name for p in folder.iterdir()) == before
    shutil.rmtree(folder)


@pytest.mark.skipif(os.name != "posix", reason="needs POSIX permissions")
def test_a_folder_that_may_not_be_looked_into_is_said_in_words(tmp_path):
    folder = Path(tempfile.mkdtemp())
    started(folder / "jobs.db").close()
    folder.chmod(0o700)
    ran = subprocess.run([sys.executable, "-c", AS_NOBODY, str(folder / "jobs.db")], capture_output=True, text=True,
                         check=False, env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)})  # fmt: skip
    shutil.rmtree(folder)
    assert "errors.ReadOnly" in ran.stderr and "PermissionError" not in ran.stderr.splitlines()[-1]


# ------------------------------------------------------------------------------ files
def test_the_record_and_its_log_are_for_their_user_alone(tmp_path):
    was = os.umask(0o022)
    try:
        with started(tmp_path / "new" / "jobs.db") as store:
            store.copy_to(tmp_path / "copy.db")
            modes = {p.name: p.stat().st_mode & 0o777 for p in (tmp_path / "new").iterdir()}
    finally:
        os.umask(was)
    assert modes == dict.fromkeys(("jobs.db", "jobs.db-queue", "jobs.db-wal", "jobs.db-shm"), 0o600)
    assert (tmp_path / "copy.db").stat().st_mode & 0o777 == 0o600


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs SIGKILL")
def test_a_killed_copy_leaves_nothing_after_the_next_start(tmp_path):
    started(tmp_path / "jobs.db").close()
    dying = (
        "import os, signal, sys; from pathlib import Path; from shoplib.record import parts\n"
        "with parts.whole(Path(sys.argv[1])) as part:\n"
        "    part.write_bytes(b'half'); os.kill(os.getpid(), signal.SIGKILL)"
    )
    for target in ("jobs.db.before-2", "copy.db"):
        subprocess.run([sys.executable, "-c", dying, str(tmp_path / target)], check=False)
    (tmp_path / "jobs.db.before-9.4711.part").write_bytes(b"of version 0.1.0")
    (tmp_path / "another.part").write_bytes(b"somebody else's")
    assert len(list(tmp_path.glob("*.part"))) == 4
    with parts.whole(tmp_path / "jobs.db.before-8"), Store.open(tmp_path / "jobs.db") as store:
        assert len(list(tmp_path.glob("jobs.db*.part"))) == 1  # one that is being written stays
        store.copy_to(tmp_path / "copy.db")
    assert [p.name for p in tmp_path.glob("*.part")] == ["another.part"]


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs SIGKILL")
def test_a_sheet_that_was_killed_leaves_nothing_after_the_next_one(tmp_path):
    dying = (
        "import os, signal, sys; from pathlib import Path; from shoplib.sheet import files\n"
        "os.fsync = lambda _: os.kill(os.getpid(), signal.SIGKILL)\n"
        "files.write(Path(sys.argv[1]), b'half')"
    )
    subprocess.run([sys.executable, "-c", dying, str(tmp_path / "job-1.pdf")], check=False)
    assert [p.suffix for p in tmp_path.iterdir()] == [".part"]
    for force in (False, True):
        files.write(tmp_path / "job-1.pdf", b"whole", force=force)
        assert [(p.name, p.read_bytes()) for p in tmp_path.iterdir()] == [("job-1.pdf", b"whole")]
    with pytest.raises(files.NotWritten, match="already exists"):
        files.write(tmp_path / "job-1.pdf", b"other")


# ------------------------------------------------------------------------------ places that are none
@pytest.mark.parametrize(
    "place", ["~nouser-of-this-name/x.db", "sqlite+pysqlcipher:///x.db", "postgresql+nodriver://127.0.0.1:9/x",
              "postgresql://127.0.0.1:nine/x", "postgresql://127.0.0.1:9/x?nooption=1", "a\0b.db"],
)  # fmt: skip
def test_a_place_that_is_none_is_said_in_words(tmp_path, monkeypatch, place):
    monkeypatch.chdir(tmp_path)
    if place.startswith("sqlite"):  # SQLite has one driver here, whatever is named
        Store.open(place, wait=1).close()
        return
    with pytest.raises(Unreachable):
        Store.open(place, wait=1)


def test_an_odd_version_is_damage(tmp_path):
    with started(tmp_path / "jobs.db") as store, store._engine.begin() as c:
        c.exec_driver_sql("UPDATE store SET value = '²'")
    with pytest.raises(StoreError, match="is not a job record"):
        Store.open(tmp_path / "jobs.db")


def test_words_name_no_job_that_is_not_there(store):
    with pytest.raises((NoSuchJob, ReadOnly)):
        store.keep("none", protrusion(), **WHO)
