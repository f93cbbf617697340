"""Opens the database of the job record and turns its errors into plain words.

An embedded SQLite file by default: write-ahead log, every commit forced to the disk before it is acknowledged,
foreign keys held.  The same code on PostgreSQL by a URL.

Parameters that have one meaning in all functions:

- ``url``: the database's address
- ``wait``: s, how long a lock is waited for
- ``engine``: of the database
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
import time
import urllib.parse
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import sqlalchemy as sa
from sqlalchemy import event

from shoplib.record import group_commit, parts, schema
from shoplib.record.errors import Busy, Damaged, Failing, Full, Newer, ReadOnly, Refused, StoreError, Unreachable
from shoplib.record.turns import Turns, nap

READ_ONLY = "this copy of the record is read-only: you can read it, not change it"
ON_SCREEN = "What you typed is still on the screen."
NOTHING_SAVED = f"Nothing was saved. {ON_SCREEN}"


def url_of(where: str | Path) -> sa.URL:
    """The database URL of a file name, or of a ``postgresql://`` URL.

    :param where: the file's name, or the URL of a server
    :raises Unreachable: not the address of a record
    """
    text = str(where).strip()
    if not text.isprintable():
        raise Unreachable("the address of the job record contains a control character; type it again")
    if "://" not in text:
        try:
            path = Path(text).expanduser().absolute()
        except RuntimeError:  # ~nobody
            raise Unreachable(f"{text[:80]}: there is no such user; type the full path of the file") from None
        return sa.URL.create("sqlite", database=str(path))
    try:
        url = sa.make_url(text)
    except (sa.exc.ArgumentError, ValueError):
        raise Unreachable(
            "this is not the address of a job record; type a file name, or postgresql://user@host/database"
        ) from None
    kind = url.drivername.partition("+")[0]
    if kind in ("postgresql", "postgres"):
        return url.set(drivername="postgresql+psycopg")
    if kind == "sqlite" and url.database and url.database != ":memory:":
        return url.set(drivername="sqlite")  # whatever driver was named
    raise Unreachable(f"{kind[:20]}: not supported; a job record is an SQLite file or a PostgreSQL database")


def place_of(url: sa.URL) -> str:
    """The address as shown to people: never with a password."""
    return str(url.database) if url.drivername.startswith("sqlite") else url.render_as_string(hide_password=True)


def make_file(path: Path) -> None:
    """An empty file that only this user can read, where there is none; SQLite gives its log the same mode.

    :param path: of the file
    :raises Unreachable: there is a folder of that name
    """
    if path.is_dir():
        raise Unreachable(
            f"{path}: is a folder. The job record is one file: type the name of a file in it, for example "
            f"{path / 'jobs.db'}. {NOTHING_SAVED}"
        )
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    parts.clear(path)
    with contextlib.suppress(FileExistsError):
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))


def engine_for(url: sa.URL, wait: float) -> sa.Engine:
    """An engine whose every connection is durable and waits ``wait`` seconds for others.

    :raises Unreachable: the driver of the server is not installed
    """
    if url.drivername.startswith("sqlite"):
        engine = sa.create_engine(url, connect_args={"timeout": wait, "isolation_level": None})
        turns = Turns(Path(str(url.database)))
        real = os.path.realpath(str(url.database))  # SQLite puts its log beside the file that a link names
        event.listen(engine, "engine_disposed", lambda _: turns.close())

        @event.listens_for(engine, "connect")
        def _durable(connection: Any, _: Any) -> None:
            _pragmas(connection, wait)

        @event.listens_for(engine, "begin")
        def _begin(connection: sa.Connection) -> None:
            options = connection.get_execution_options()
            if options.get("writes"):
                raw = connection.connection.driver_connection
                assert isinstance(raw, sqlite3.Connection)
                if options.get("grouped") and group_commit.POSSIBLE:
                    raw.execute("PRAGMA synchronous = NORMAL")  # forced to the disk after the lock: group_commit
                _begin_writing(raw, turns, wait)
                if options.get("grouped"):
                    group_commit.begun(connection, real)
            else:
                connection.exec_driver_sql("BEGIN")

        return engine
    return _server_engine(url, wait)


def _server_engine(url: sa.URL, wait: float) -> sa.Engine:
    try:
        # The driver would send its BEGIN alone; here settings go with it.
        engine = sa.create_engine(
            url, isolation_level="AUTOCOMMIT", connect_args={"connect_timeout": max(2, int(wait))}
        )
    except ModuleNotFoundError:
        raise Unreachable('PostgreSQL needs its driver: pip install "shoplib[postgres]"') from None

    @event.listens_for(engine, "connect")
    def _settings(connection: Any, _: Any) -> None:
        with connection.cursor() as cursor:  # synchronous_commit: whatever the server's own setting is
            cursor.execute(
                f"SET lock_timeout = '{int(wait * 1000)}ms'; SET synchronous_commit = on; SET client_encoding = 'UTF8'"
            )

    @event.listens_for(engine, "begin")
    def _begin(connection: sa.Connection) -> None:
        grouped = connection.get_execution_options().get("grouped")
        statement = f"BEGIN; {group_commit.NOT_FORCED}" if grouped else "BEGIN"
        try:
            connection.exec_driver_sql(statement)
        except sa.exc.DBAPIError as error:
            if not error.connection_invalidated:
                raise
            connection.exec_driver_sql(statement)  # the server ended the connection while it was idle: a new one

    return engine


def _pragmas(connection: sqlite3.Connection, wait: float) -> None:
    """Settings of one SQLite connection; the write-ahead log needs a retry of its own while others open too."""
    connection.text_factory = _text  # a damaged text is read as far as it goes, and its line named
    connection.execute(f"PRAGMA busy_timeout = {int(wait * 1000)}")
    until = time.monotonic() + wait
    while True:
        try:
            mode = connection.execute("PRAGMA journal_mode = WAL").fetchone()[0]
            break
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF not in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
                raise
            if time.monotonic() > until:
                raise
            time.sleep(0.01)
    if mode != "wal":
        raise Unreachable("this folder cannot hold a job record (a network drive?); use a folder on this machine")
    connection.execute("PRAGMA synchronous = FULL")  # on the disk before it is acknowledged
    connection.execute("PRAGMA fullfsync = ON")  # where the system distinguishes the two
    connection.execute("PRAGMA foreign_keys = ON")


def _text(raw: bytes) -> str:
    return raw.decode("utf-8", "replace")


def _begin_writing(connection: sqlite3.Connection, turns: Turns, wait: float) -> None:
    """Take the write lock when it is this writer's turn.  SQLite's own wait sleeps longer each time: it idles."""
    until = time.monotonic() + wait
    connection.execute("PRAGMA busy_timeout = 0")
    try:
        with turns.turn(until):
            while True:
                try:
                    connection.execute("BEGIN IMMEDIATE")
                    return
                except sqlite3.OperationalError as error:
                    if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > until:
                        raise
                    nap()
    finally:
        connection.execute(f"PRAGMA busy_timeout = {int(wait * 1000)}")


@contextlib.contextmanager
def in_words(place: str, wait: float) -> Iterator[None]:
    """Turn the database's errors into sentences that say what happened and that nothing was saved.

    :param place: the record in messages: its address without a password
    :raises StoreError: what happened, in words
    """
    try:
        yield
    except sa.exc.DBAPIError as error:
        raise _named(error.orig, place, wait) from error
    except sqlite3.Error as error:
        raise _named(error, place, wait) from error
    except sa.exc.SQLAlchemyError as error:
        raise StoreError(f"{place}: the job record cannot be read ({type(error).__name__}). {NOTHING_SAVED}") from error
    except OSError as error:
        raise _of_system(error, place) from error


def _of_system(error: OSError, place: str) -> StoreError:
    import errno

    match error.errno:
        case errno.ENOSPC | errno.EDQUOT:
            return Full(f"{place}: the disk is full. {NOTHING_SAVED} Free some space and save it again.")
        case errno.EACCES | errno.EPERM | errno.EROFS:
            return ReadOnly(f"{place}: the folder is read-only ({error.strerror}). {NOTHING_SAVED}")
    return Unreachable(f"{place}: cannot be reached ({error.strerror}). {NOTHING_SAVED}")


def _named(error: BaseException | None, place: str, wait: float) -> StoreError:
    if isinstance(error, sqlite3.Error):
        return _of_sqlite(error, place, wait)
    return _of_postgres(error, place, wait)


_SQLITE = {
    sqlite3.SQLITE_BUSY: (Busy, "another program is using the job record"),
    sqlite3.SQLITE_LOCKED: (Busy, "another program is using the job record"),
    sqlite3.SQLITE_FULL: (Full, "the disk is full"),
    sqlite3.SQLITE_READONLY: (ReadOnly, "the file or its folder is read-only"),
    sqlite3.SQLITE_PERM: (ReadOnly, "the file or its folder is read-only"),
    sqlite3.SQLITE_CANTOPEN: (
        Unreachable,
        "cannot be opened; check that the folder exists and that you may write in it",
    ),
    sqlite3.SQLITE_CORRUPT: (Damaged, "the file is damaged"),
    sqlite3.SQLITE_NOTADB: (Damaged, "the file is not a job record, or is damaged"),
    sqlite3.SQLITE_IOERR: (Failing, "the disk cannot read or write the data (it is full or failing)"),
}
_DO = {
    Busy: "Close the other program, or wait, and save it again.",
    Full: "Free some space and save it again.",
    Failing: "Free some space, check the disk, and save it again.",
    ReadOnly: "Choose a folder in which you may write.",
    Damaged: "The file was left unchanged. Move it to a safe place and restore your last backup, or start a new file.",
    Unreachable: "Check the folder, or choose another.",
}


def _of_sqlite(error: sqlite3.Error, place: str, wait: float) -> StoreError:
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF  # the low byte is the family
    kind, what = _SQLITE.get(code, (StoreError, f"the job record cannot be read ({str(error)[:120]})"))
    waited = f"; waited {wait:g} s" if kind is Busy else ""
    return kind(f"{place}: {what}{waited}. {NOTHING_SAVED} {_DO.get(kind, '')}".rstrip())


def _of_postgres(error: BaseException | None, place: str, wait: float) -> StoreError:
    state = str(getattr(error, "sqlstate", None) or "")
    first = (str(error).strip().splitlines() or [""])[0][:160]
    if state in ("55P03", "57014", "40001", "40P01"):
        return Busy(f"{place}: another program is using this job; waited {wait:g} s. {NOTHING_SAVED}")
    if state.startswith("53"):  # insufficient resources: disk full, out of memory, too many connections
        return Full(f"{place}: the server has run out of space, memory or connections ({first}). {NOTHING_SAVED}")
    if state in ("25006", "42501"):
        return ReadOnly(f"{place}: the server does not allow this ({first}). {NOTHING_SAVED}")
    if state == "23505" and "job_number" in str(error):  # of a job that this role may not see
        return Refused(f"{place}: a job with this number already exists in the record; choose another number")
    if state.startswith("XX"):
        return Damaged(f"{place}: the server reports damaged data ({first}). {NOTHING_SAVED}")
    if not state or state[:2] in ("08", "28", "3D", "57"):
        return Unreachable(f"{place}: the server cannot be reached or refuses the login ({first}). {NOTHING_SAVED}")
    return StoreError(f"{place}: the job record cannot be read ({state}: {first}). {NOTHING_SAVED}")


def unknown(error: StoreError) -> str:
    """The message for an error after which it is not known whether the data was saved.

    :param error: of the database
    """
    what = str(error).partition(NOTHING_SAVED)[0].rstrip()
    return f"{what} It is not known whether it was saved. Save it again: it is saved only once."


class Opened(NamedTuple):
    """A database that is ready."""

    engine: sa.Engine
    place: str
    version: int  # of its tables
    read_only: bool = False
    caution: str = ""  # what the user should know about this connection


def opened(url: sa.URL, wait: float) -> Opened:
    """The database with the current tables; opened as it is if it is read-only.  Raises StoreError."""
    place, lite = place_of(url), url.drivername == "sqlite"
    try:
        with in_words(place, wait):
            if lite:
                make_file(Path(str(url.database)))
            engine = engine_for(url, wait)
            try:
                prepare(engine, place)
            except BaseException:
                engine.dispose()
                raise
            return Opened(engine, place, schema.VERSION, caution="" if lite else _caution(engine, place))
    except (ReadOnly, Unreachable):
        if not lite or not os.path.isfile(str(url.database)):
            raise
        found = _to_be_read(Path(str(url.database)), place, wait)
        if found is None:
            raise
        return found


def _owner_here(connection: sa.Connection) -> str:
    """The current role, when it owns the table of lines or may act as its owner; "" otherwise."""
    return str(connection.scalar(sa.text(
        "SELECT current_user FROM pg_class "
        "WHERE oid = 'line'::regclass AND pg_has_role(current_user, relowner, 'MEMBER')"
    )) or "")  # fmt: skip


def _caution(engine: sa.Engine, place: str) -> str:
    with engine.connect() as connection, connection.begin():
        role = _owner_here(connection)
    if not role:
        return ""
    return (
        f"{place}: the role {role} owns the tables of the record, or is a superuser. It can delete "
        "saved lines. Use a role that can only add lines; create it with: shoplib store roles"
    )


def _to_be_read(path: Path, place: str, wait: float) -> Opened | None:
    """A file on a read-only disk or in a read-only folder.  None when it cannot be read either."""
    log = path.with_name(path.name + "-wal")
    modes = ["mode=ro"]
    if not log.exists() or not log.stat().st_size:  # what is in the log belongs to the record
        modes.append("mode=ro&immutable=1")
    for mode in modes:
        engine = _read_only_engine(path, mode, wait)
        try:
            with in_words(place, wait), engine.connect() as connection, connection.begin():
                version = _acceptable(connection, place)
            if version:
                return Opened(engine, place, version, read_only=True)
        except (ReadOnly, Unreachable):
            pass
        except BaseException:
            engine.dispose()
            raise
        engine.dispose()
    return None


def _read_only_engine(path: Path, mode: str, wait: float) -> sa.Engine:
    def connect() -> sqlite3.Connection:
        uri = f"file:{urllib.parse.quote(str(path))}?{mode}"
        connection = sqlite3.connect(uri, uri=True, timeout=wait, isolation_level=None, check_same_thread=False)
        connection.text_factory = _text
        return connection

    engine = sa.create_engine("sqlite://", creator=connect, poolclass=sa.pool.QueuePool)

    @event.listens_for(engine, "begin")
    def _begin(connection: sa.Connection) -> None:
        connection.exec_driver_sql("BEGIN")

    return engine


def prepare(engine: sa.Engine, place: str) -> None:
    """Create the tables in an empty database, or upgrade an older store; refuse anything else.

    :param place: the record in messages: its address without a password
    :raises ReadOnly: older tables, which only their owner may upgrade
    """
    if _is_current(engine):
        return
    with engine.connect() as connection, connection.begin():
        found = _acceptable(connection, place)
    if found == schema.VERSION:
        return
    if found and engine.dialect.name == "sqlite":
        _copy_before(engine, found)
    with engine.execution_options(writes=True).begin() as connection:
        if connection.dialect.name == "postgresql":  # one at a time, before there is a table to lock
            connection.execute(sa.select(sa.func.pg_advisory_xact_lock(schema.APPLICATION_ID)))
        found = _acceptable(connection, place)
        if found == 0:
            schema.create(connection)
        elif found != schema.VERSION:
            if connection.dialect.name == "postgresql" and not _owner_here(connection):
                raise ReadOnly(
                    f"{place}: the tables are of an older version ({found}; now: {schema.VERSION}). {NOTHING_SAVED} "
                    "Their owner must upgrade them: shoplib store roles"
                )
            schema.migrate(connection, found)


def _is_current(engine: sa.Engine) -> bool:
    """One query instead of a search of the catalogue; the search reports any error."""
    try:
        with engine.connect() as connection, connection.begin():
            return connection.execute(schema.VERSION_NOW).scalar() == str(schema.VERSION)
    except sa.exc.DBAPIError:
        return False


def _acceptable(connection: sa.Connection, place: str) -> int:
    found = schema.version_of(connection)
    if found is None:
        raise Damaged(f"{place}: is not a job record. {_DO[Damaged]}")
    if found > schema.VERSION:
        raise Newer(
            f"{place}: was written by a newer version of this program (store {found}; this version supports "
            f"{schema.VERSION}). It was left unchanged: update this program."
        )
    return found


def _copy_before(engine: sa.Engine, found: int) -> None:
    """A full copy beside the file before its tables are changed."""
    path = Path(str(engine.url.database))
    target = path.with_name(f"{path.name}.before-{found + 1}")
    if not target.exists():
        copy_to(engine, target)


def backup(engine: sa.Engine, target: Path, wait: float) -> None:
    """A copy of an SQLite store under a new name.  Raises Refused on a server or over an existing file.

    :param target: the file to be made, which may not exist
    """
    if engine.dialect.name != "sqlite":
        raise Refused("use the server's own backup for a record on a server")
    if target.exists():
        raise Refused(f"{target} already exists; nothing was written")
    with in_words(str(target), wait):
        copy_to(engine, target)


def copy_to(engine: sa.Engine, target: Path) -> None:
    """A consistent copy of an SQLite store, while others go on writing; whole or not at all.

    :param target: the file to be made
    """
    with (
        parts.whole(target) as part,
        engine.connect() as connection,
        contextlib.closing(sqlite3.connect(part)) as copy,
    ):
        raw = connection.connection.driver_connection
        assert isinstance(raw, sqlite3.Connection)
        raw.backup(copy)
        copy.execute("PRAGMA journal_mode = DELETE")  # one file, without a log beside it
