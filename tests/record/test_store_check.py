"""check() finds every damage, names the job, and one damaged line leaves the rest readable."""

import hashlib
import io
import shutil
import sqlite3
from pathlib import Path
from types import SimpleNamespace

import pytest
import sqlalchemy as sa
from PIL import Image

from shoplib.core.errors import BadInput
from shoplib.record import checking, exchange, ledger, schema
from shoplib.record.errors import Damaged, StoreError
from shoplib.record.store import Store, new_id
from shoplib.sheet.job_pages import attached
from tests.record_fixtures import HEADER, KINDS, NUMBER, fresh, programme, protrusion, started

OLD = Path(__file__).parents[1] / "archive" / "0.1.0" / "databases" / "jobs.db"
OTHER = "26-015"


@pytest.fixture(params=KINDS)
def store(request, tmp_path):
    """Two jobs with an entry, a photograph, a tick and a draft."""
    with fresh(request.param, tmp_path) as where, started(where) as opened:
        fill(opened)
        yield opened


@pytest.fixture(scope="module")
def filled(tmp_path_factory):
    """The file of such a store, made once."""
    path = tmp_path_factory.mktemp("filled") / "jobs.db"
    with started(path) as opened:
        fill(opened)
    return path


@pytest.fixture
def lite(filled, tmp_path):
    with Store.open(shutil.copy(filled, tmp_path / "jobs.db")) as opened:
        yield opened


def fill(store):
    store.start(**HEADER | {"number": OTHER})
    entry = store.keep(NUMBER, protrusion(), who="A. Learner")
    photograph = io.BytesIO()
    Image.linear_gradient("L").resize((900, 600)).convert("RGB").save(photograph, "JPEG")
    store.attach(NUMBER, entry.uid, photograph.getvalue(), who="A. Learner")
    plan = programme(store)
    store.tick(NUMBER, programme=plan, stage=1, bolt="1", value="40 N·m", initials="AL", uid=new_id())
    store.save_draft("thread", {"thread": "M10"}, number=NUMBER, desk="bench 1")
    store.keep(OTHER, protrusion(), who="A. Learner")
    assert store.check() == []


def change(store, *statements, parameters=()):
    """What somebody does to the database outside this program."""
    dialect = store._engine.dialect.name
    raw = store._engine.raw_connection()
    run = raw.cursor().execute
    if dialect == "sqlite":
        run("PRAGMA foreign_keys = OFF")
    for name, (table, _) in schema.triggers(dialect).items():
        run(f"DROP TRIGGER {name}" + (f" ON {table}" if dialect == "postgresql" else ""))
    for statement in statements:
        run(statement, parameters)
    for _, sql in schema.triggers(dialect).values():
        run(sql)
    raw.commit()
    if dialect == "sqlite":
        run("PRAGMA foreign_keys = ON")
    raw.close()


def one(store, says):
    wrong = store.check()
    assert any(says in x for x in wrong), wrong
    return wrong


# ------------------------------------------------------------------------------ each damage by its name
@pytest.mark.parametrize(
    ("statement", "says"),
    [
        ("DELETE FROM picture WHERE digest IN (SELECT min(digest) FROM picture)", "job 26-014, line 3: its photograph is missing"),
        ("UPDATE picture SET content = 'x'", "job 26-014, line 3: its photograph was altered"),
        ("UPDATE line SET place = NULL WHERE kind = 'tick'", "job 26-014, line 5: its bolt and stage"),
        ("UPDATE line SET place = 'x' WHERE kind = 'entry'", "its bolt and stage"),
        ("UPDATE job SET engine = 'Another' WHERE number = '26-014'", "job 26-014: engine in the list of jobs"),
        ("UPDATE job SET closed = NOT closed WHERE number = '26-014'", "job 26-014: closed in the list"),
        ("UPDATE job SET issue = 'C' WHERE number = '26-014'", "job 26-014: issue in the list"),
        ("UPDATE job SET search = '' WHERE number = '26-014'", "job 26-014: search in the list"),
        ("UPDATE job SET last = 1 WHERE number = '26-014'", "job 26-014: last in the list"),
        ("UPDATE job SET lines = 4 WHERE number = '26-014'", "job 26-014: its last line is missing"),
        ("UPDATE draft SET inputs = 'no json'", "job 26-014: the draft of the form thread cannot be read"),
        ("UPDATE ledger SET number = 'x' WHERE n = 2", "ledger: row 2"),
        ("DELETE FROM ledger WHERE n = 2", "ledger: rows from 2 on are missing"),
        ("UPDATE ledger SET line = 7 WHERE n = 2", "job 26-015: line 7 is missing"),
    ],
)  # fmt: skip
def test_a_damage_is_named(store, statement, says):
    change(store, statement)
    one(store, says)
    assert len(store.job(OTHER).entries) == 1  # the other job is read as before


def without(store, job, keep):
    """A job cut after line ``keep``, with its row set to match: no hash of the job shows it."""
    head = store.job(job).line(keep).digest
    return (
        f"DELETE FROM line WHERE n > {keep} AND job = (SELECT id FROM job WHERE number = '{job}')",
        f"UPDATE job SET lines = {keep}, head = '{head}' WHERE number = '{job}'",
    )


def test_a_cut_tail_is_found_though_its_job_agrees(store):
    change(store, *without(store, NUMBER, 3))
    wrong = one(store, "job 26-014: line 5 is missing")
    assert any("line 4 is missing" in x for x in wrong)
    assert not store.job(NUMBER).damaged  # the job alone does not show it


def test_a_missing_job_is_named(store):
    change(store, "DELETE FROM line WHERE job = (SELECT id FROM job WHERE number = '26-015')",
           "DELETE FROM job WHERE number = '26-015'")  # fmt: skip
    one(store, "job 26-015: the whole job is missing (2 lines)")


def test_a_program_notices_that_what_it_saved_is_gone(store):
    """All of it was taken out and the chain with it: nothing in the record shows it, but this program knows."""
    n = store._known.n
    change(store, "DELETE FROM line WHERE job = (SELECT id FROM job WHERE number = '26-015')",
           "DELETE FROM job WHERE number = '26-015'", f"DELETE FROM ledger WHERE n = {n}")  # fmt: skip
    one(store, "lines that this program read before are missing")
    with pytest.raises(Damaged, match="Nothing was saved"):
        store.keep(NUMBER, protrusion(), who="A. Learner")


def test_a_protection_that_is_gone_is_named(store):
    on = " ON picture" if store._engine.dialect.name == "postgresql" else ""
    with store._engine.begin() as c:
        c.exec_driver_sql(f"DROP TRIGGER picture_no_delete{on}")
    one(store, "the write protection picture_no_delete is missing")


def test_a_protection_that_does_nothing_is_named(lite):
    with lite._engine.begin() as c:
        c.exec_driver_sql("DROP TRIGGER line_no_delete")
        c.exec_driver_sql("CREATE TRIGGER line_no_delete BEFORE DELETE ON line BEGIN SELECT 1; END")
    one(lite, "the write protection line_no_delete is missing or was altered")


# ------------------------------------------------------------------------------ odd content raises nothing of Python's
DEEP = "[" * 100_000
BODIES = {
    "NaN": '{"inputs": {"x": NaN}}',
    "infinity": '{"result": {"a": 1e999}}',
    "deep": DEEP,
    "deep and whole": '{"content": ' + DEEP + "]" * 100_000 + "}",
    "a list": "[1, 2]",
    "a number": "7",
    "a huge number": "9" * 5000,
    "half a surrogate": '{"title": "\\ud800"}',
    "wrong types": '{"sources": 7, "fields": 3, "inputs": [], "result": 4, "checks": null, "covers": "x"}',
    "empty": "",
    "twins": '{"title":"a","title":"b"}',
}


@pytest.mark.parametrize("kind", ["header", "entry", "note", "tick", "photo"])
@pytest.mark.parametrize("body", BODIES.values(), ids=BODIES)
def test_an_odd_body_damages_one_line(lite, kind, body):
    change(lite, f"UPDATE line SET body = ? WHERE kind = '{kind}' AND job = 1", parameters=(body,))
    one(lite, "job 26-014, line")
    job = lite.job(NUMBER)
    assert len(job.damaged) == 1
    assert len(job.lines) == 5
    exchange.tables(job)
    attached(job)
    assert [e.as_line() for e in (*job.entries, *job.ticks)]
    assert job.notes and job.changes(0) is not None
    for write in (
        lambda: lite.keep(NUMBER, protrusion(), who="A. Learner"),
        lambda: lite.amend(NUMBER, who="A. Learner", complaint="leaks"),
        lambda: lite.correct(NUMBER, job.lines[1].uid, protrusion("0.07 mm"), who="A. Learner", because="misread"),
        lambda: lite.sign(NUMBER, who="A. Learner", role="done by"),
        lambda: lite.issue(NUMBER, who="A. Learner"),
        lambda: lite.export(NUMBER),
    ):
        try:
            write()
        except StoreError as error:
            assert NUMBER in str(error) or "line" in str(error)
        except BadInput:  # the correction takes over from the damaged line what is not good
            assert kind == "entry"
    assert lite.job(OTHER).entries
    assert lite.jobs().found == 2


@pytest.mark.parametrize("column", ["uid", "kind", "form", "at", "who", "program", "digest", "n", "about", "place"])
@pytest.mark.parametrize("value", [b"\xff\xfe", "\u202e", 7, 2.5])
def test_an_odd_value_damages_one_line(lite, column, value):
    change(lite, f"UPDATE line SET {column} = ? WHERE job = 1 AND n = 2", parameters=(value,))
    one(lite, "job 26-014")
    job = lite.job(NUMBER)
    exchange.tables(job)
    assert [e.as_line() for e in job.entries]


@pytest.mark.parametrize("column", ["uid", "engine", "date", "closed", "lines", "head", "last", "changed_at"])
@pytest.mark.parametrize("value", [b"\xff\xfe", "x"])
def test_an_odd_value_in_the_list_of_jobs(lite, column, value):
    change(lite, f"UPDATE job SET {column} = ? WHERE id = 1", parameters=(value,))
    one(lite, "job 26-014")
    assert lite.jobs().found == 2


def test_bytes_that_are_no_text(lite):
    change(lite, "UPDATE line SET who = CAST(? AS TEXT) WHERE job = 1 AND n = 2", parameters=(b"A\xff\xfe",))
    one(lite, "job 26-014, line 2: was altered")
    assert lite.job(NUMBER).line(2).who.startswith("A")


@pytest.mark.parametrize("inputs", ["", "[]", "no json", DEEP, "9" * 5000])
def test_a_damaged_draft_is_left_out(lite, inputs):
    change(lite, "UPDATE draft SET inputs = ?", parameters=(inputs,))
    assert lite.draft("thread", number=NUMBER, desk="bench 1") is None
    assert lite.drafts(number=NUMBER, desk="bench 1") == {}
    lite.save_draft("thread", {"thread": "M8"}, number=NUMBER, desk="bench 1")
    assert lite.check() == []


def test_a_printed_sheet_that_was_altered_is_named_and_one_that_is_not_there_is_not():
    """An import does not hold the sheets."""
    sheet, other = b"sheet", hashlib.sha256(b"other").hexdigest()
    digest = hashlib.sha256(sheet).hexdigest()
    kinds = [("print", digest), ("print", other), ("print", "0" * 64), ("note", other), ("photo", other)]
    lines = [SimpleNamespace(kind=k, n=n, body={"sheet": d}) for n, (k, d) in enumerate(kinds, 1)]
    with sa.create_engine("sqlite://").begin() as c:
        schema.picture.create(c)
        for name in (digest, other):
            c.execute(sa.insert(schema.picture).values(digest=name, content=sheet))
        found = list(checking._photographs(c, {"u": SimpleNamespace(number="1", lines=lines)}))
    missing = "job 1, line 5: its photograph is missing"
    assert found == ["job 1, line 2: its sheet was altered outside this program", missing, missing]


# ------------------------------------------------------------------------------ the list of jobs
def test_each_column_of_the_list_of_jobs_is_compared_with_the_lines():
    people = [{"name": "A. Learner", "initials": "AL"}]
    header = {"number": "1", "engine": "pump", "complaint": "smokes", "date": "2026-11-25", "people": people}
    job = SimpleNamespace(
        header=header, closed=False, issues=[SimpleNamespace(body={"letter": x}) for x in "ABC"],
        lines=[SimpleNamespace(at=x) for x in "123"],
    )  # fmt: skip
    row = checking.row_of_header(header) | {"closed": False, "issue": "C", "last": 9, "changed_at": "3"}
    rows = [SimpleNamespace(id=k) for k in (7, 8, 9)]

    def wrong(**changed):
        return list(checking._contradictions(SimpleNamespace(**row | changed), job, rows))

    assert wrong() == []
    assert wrong(search="\n".join(reversed(row["search"].split("\n")))) == []  # it follows the order of typing
    for name, value in row.items():
        assert wrong(**{name: f"{value} x"}) == [name]
    assert wrong(number="1\n", complaint="\nsmokes") == ["number", "complaint"]
    bare = SimpleNamespace(header={}, closed=False, issues=[], lines=[])
    row = checking.row_of_header({}) | {"closed": False, "issue": "", "last": 0, "changed_at": ""}
    assert list(checking._contradictions(SimpleNamespace(**row), bare, [])) == []


# ------------------------------------------------------------------------------ upgrade of a store of 0.1.0
def test_an_old_store_gets_its_chain_at_the_upgrade(tmp_path):
    path = tmp_path / "jobs.db"
    shutil.copy(OLD, path)
    path.chmod(0o600)
    with sqlite3.connect(path) as old:
        lines = old.execute("SELECT count(*) FROM line").fetchone()[0]
    old.close()
    with Store.open(path) as store:
        assert store.check() == []
        with store._reading() as c:
            assert ledger.end(c).n == lines
            assert schema.version_of(c) == schema.VERSION
        change(store, *without(store, "26-030", 1))
        one(store, "job 26-030: line 2 is missing")


def test_a_new_store_and_an_upgraded_one_have_the_same_tables(tmp_path):
    shutil.copy(OLD, tmp_path / "old.db")
    (tmp_path / "old.db").chmod(0o600)
    made = []
    for name in ("old.db", "new.db"):
        with Store.open(tmp_path / name) as store, store._reading() as c:
            rows = c.exec_driver_sql("SELECT type, name, sql FROM sqlite_master ORDER BY name").all()
            made.append([(r.type, r.name, r.sql and " ".join(r.sql.split())) for r in rows])
    assert made[0] == made[1]
