"""An imported job is judged before anybody has to wait, and what is taken in can also be printed and exported."""

import copy
import json
import threading

import pytest

from shoplib.core.errors import BadInput
from shoplib.record import exchange, importing, job_transfer
from shoplib.record.errors import NotAJob
from shoplib.record.job import START, Line, digest_of
from shoplib.record.jobfile_record import canonical
from shoplib.record.line_writer import LineWriter
from shoplib.record.store import Refused, Stale, Store
from shoplib.sheet import job_sheet
from tests import ci_part
from tests.record_fixtures import HEADER, KINDS, NUMBER, fresh, programme, protrusion, started

WHO = {"who": "A. Learner"}


@pytest.fixture(scope="module")
def exported(tmp_path_factory):
    """A job with corrections, stale numbers that were worked again, signatures and an issue."""
    with started(tmp_path_factory.mktemp("from") / "jobs.db") as store:
        first = store.keep(NUMBER, protrusion(), **WHO)
        second = store.keep(NUMBER, protrusion("0.07 mm"), **WHO, sources=[first.uid])
        better = store.correct(NUMBER, first.uid, protrusion("0.05 mm"), **WHO, because="misread")
        store.correct(NUMBER, second.uid, protrusion("0.08 mm"), **WHO, because="worked again", sources=[better.uid])
        plan = programme(store)
        store.tick(NUMBER, programme=plan, stage=1, bolt="1", value="40 N·m", initials="AL", uid="tick-0001")
        store.sign(NUMBER, **WHO, role="done by")
        store.issue(NUMBER, **WHO)
        store.amend(NUMBER, **WHO, complaint="leaks")
        return store.export(NUMBER)


def resealed(whole):
    """The file with every hash set anew, as somebody who knows the rules would do it."""
    before = START
    for raw in whole["lines"]:
        raw["digest"] = before = digest_of(Line(**raw), whole["job"]["uid"], before)
    return json.dumps(whole, ensure_ascii=False).encode()


@pytest.mark.parametrize("kind", KINDS)
def test_a_job_arrives_as_it_left(exported, tmp_path, kind):
    with fresh(kind, tmp_path) as where, Store.open(where) as store:
        store.start(**HEADER | {"number": "26-001"})  # so that the ids are others
        store.keep("26-001", protrusion(), **WHO)
        assert store.import_job(exported).number == NUMBER
        assert store.check() == []
        assert [exchange.plain_line(x) for x in store.job(NUMBER).lines] == json.loads(exported)["lines"]
        assert store.import_job(exported) == (NUMBER, 0)  # once more adds nothing
        store.keep(NUMBER, protrusion(), **WHO)  # and it goes on
        assert store.check() == []


@pytest.mark.parametrize("kind", KINDS)
def test_the_rest_of_a_job_is_added(exported, tmp_path, kind):
    whole = json.loads(exported)
    part = dict(whole, lines=whole["lines"][:6])
    with fresh(kind, tmp_path) as where, Store.open(where) as store:
        store.import_job(json.dumps(part).encode())
        assert len(store.job(NUMBER).lines) == 6
        store.import_job(exported)
        assert len(store.job(NUMBER).lines) == len(whole["lines"])
        assert store.check() == []


def test_another_number(exported, tmp_path):
    with started(tmp_path / "jobs.db") as store:
        with pytest.raises(Refused, match="already exists"):
            store.import_job(exported)
        assert store.import_job(exported, number="26-099", who="B").number == "26-099"
        assert store.check() == []
        assert store.jobs("26-099").found == 1


def test_others_can_write_while_lines_are_judged(exported, tmp_path, monkeypatch):
    """While the judging waits in the middle, another program saves an entry at once."""
    judging, go_on = threading.Event(), threading.Event()
    real = importing.rows_of

    def slow(c):
        judging.set()
        assert go_on.wait(60)
        return real(c)

    monkeypatch.setattr(importing, "rows_of", slow)
    with Store.open(tmp_path / "jobs.db") as store, Store.open(tmp_path / "jobs.db", wait=2) as other:
        other.start(**HEADER | {"number": "26-001"})
        job = threading.Thread(target=store.import_job, args=(exported,))
        job.start()
        assert judging.wait(60)
        assert other.keep("26-001", protrusion(), **WHO).n == 2
        go_on.set()
        job.join(60)
        assert store.jobs().found == 2
        assert store.check() == []


def test_the_work_grows_with_the_lines_not_with_their_square(tmp_path, monkeypatch):
    """Signatures do not read the whole job again: counted, not timed."""
    with started(tmp_path / "from.db") as store:
        for _ in range(30):
            programme(store)
            store.sign(NUMBER, **WHO, role="done by")
        raw = store.export(NUMBER)
    reads = []
    real = LineWriter.job
    monkeypatch.setattr(LineWriter, "job", lambda self, *a: reads.append(1) or real(self, *a))
    with Store.open(tmp_path / "to.db") as store:
        statements = []
        monkeypatch.setattr(job_transfer, "write_import", counted(store, statements))
        store.import_job(raw)
    assert not reads
    assert len(statements) < 25  # for 61 lines


def counted(store, statements):
    """The writing, with every statement that is sent to the database noted."""
    from sqlalchemy import event

    real = job_transfer.write_import

    def run(*args):
        event.listen(store._engine, "before_cursor_execute", lambda *a: statements.append(a[2]))
        return real(*args)

    return run


def test_a_signature_over_stale_numbers_is_refused(exported, tmp_path):
    whole = json.loads(exported)
    lines = whole["lines"]
    del lines[4]  # the stale entry is not worked again before it is signed
    for n, line in enumerate(lines, 1):
        line["n"] = n
        if "covers" in line["body"]:
            line["body"]["covers"] = n - 1
    with Store.open(tmp_path / "jobs.db") as store, pytest.raises(Stale):
        store.import_job(resealed(whole))


# ------------------------------------------------------------------------------ what is taken in can be shown
def result(change):
    def run(whole):
        change(whole["lines"][1]["body"]["result"])

    return run


ODD = {
    "checks null": result(lambda r: r.update(checks=None)),
    "checks text": result(lambda r: r.update(checks="pass")),
    "a check that is text": result(lambda r: r.update(checks=["pass"])),
    "a label of 4117 characters": result(lambda r: r["checks"][0].update(label="x" * 4117)),
    "no label": result(lambda r: r["checks"][0].pop("label")),
    "a label that is a number": result(lambda r: r["checks"][0].update(label=7)),
    "an outcome of its own": result(lambda r: r["checks"][0].update(outcome="splendid")),
    "found is text": result(lambda r: r["checks"][0].update(found="7 mm")),
    "the unit is a list": result(lambda r: r["checks"][0]["found"].update(unit=["mm"])),
    "results null": result(lambda r: r.update(results=None)),
    "a result that is a number": result(lambda r: r["results"].update(x=7)),
    "a value that is an object": result(lambda r: r["results"].update(x={"value": {"a": 1}, "unit": None})),
    "the whole outcome is a list": result(lambda r: r.update(outcome=["pass"])),
    "cautions are numbers": result(lambda r: r.update(cautions=[7])),
    "inputs are text": result(lambda r: r.update(inputs="x")),
}


@pytest.mark.parametrize("change", ODD.values(), ids=ODD)
def test_an_odd_result_is_refused(exported, tmp_path, change):
    whole = json.loads(exported)
    change(whole)
    raw = resealed(whole)
    with Store.open(tmp_path / "jobs.db") as store:
        with pytest.raises((NotAJob, BadInput)):
            store.import_job(raw)
        assert store.jobs().found == 0


def leaves(node, path=()):
    """Every place in a result."""
    if isinstance(node, dict):
        for key, value in node.items():
            yield (*path, key)
            yield from leaves(value, (*path, key))
    elif isinstance(node, list):
        for k, value in enumerate(node):
            yield (*path, k)
            yield from leaves(value, (*path, k))


def test_what_is_taken_in_can_be_exported_and_printed(exported, tmp_path):
    """Each place of a result replaced by odd values: refused, or taken in and then listed, exported and printed."""
    whole = json.loads(exported)
    places = ci_part.a_part(leaves(whole["lines"][1]["body"]["result"]), 3)
    taken = printed = 0
    with Store.open(tmp_path / "jobs.db") as store:
        for k, path in enumerate(places):
            for odd in (None, "x" * 300, 7, [], {}, [{"a": None}], True):
                changed = copy.deepcopy(whole)
                changed["job"]["uid"] = f"{k:08d}-{taken:08d}"
                node = changed["lines"][1]["body"]["result"]
                for step in path[:-1]:
                    node = node[step]
                node[path[-1]] = odd
                try:
                    number = store.import_job(resealed(changed), number=f"n{k}-{taken}", who="A").number
                except (NotAJob, BadInput):
                    continue
                taken += 1
                job = store.job(number)
                exchange.tables(job)
                assert canonical(json.loads(store.export(number)))
                assert [e.as_line() for e in job.entries]
                if taken % 40 == 1:
                    assert job_sheet(store, number).startswith(b"%PDF")
                    printed += 1
    assert taken > 20
    assert printed
