"""Signing, issues, closing; to the sheet and back."""

import tempfile
from pathlib import Path

import pytest

from shoplib.core.errors import BadInput
from shoplib.record.jobfile_record import make_record
from shoplib.record.store import Refused, Store, new_id
from shoplib.sheet import typeset
from shoplib.sheet.verify import read_record, verify
from shoplib.topics import get
from tests.job_file_of import as_job_file
from tests.record.store.helpers import WHO, fields_of, tick
from tests.record_fixtures import HEADER, NUMBER, programme, protrusion


# ------------------------------------------------------------------------------ signing, issues, closing
def test_a_signature_covers_what_its_signer_saw(store):
    seen = store.keep(NUMBER, protrusion(), **WHO).n
    store.keep(NUMBER, protrusion(), **WHO, title="late")
    with pytest.raises(Refused, match=r"changed after you opened it: line 3 \(late\)"):
        store.sign(NUMBER, who="B. Instructor", role="checked by", seen=seen)
    uid = new_id()
    store.sign(NUMBER, who="B. Instructor", role="checked by", seen=3, uid=uid)
    assert store.sign(NUMBER, who="B. Instructor", role="checked by", uid=uid).again
    assert [(s.who, stands) for s, stands in store.job(NUMBER).signatures] == [("B. Instructor", True)]
    store.keep(NUMBER, protrusion(), **WHO)
    assert [stands for _, stands in store.job(NUMBER).signatures] == [False]


def test_issues_name_what_changed(store):
    entry = store.keep(NUMBER, protrusion("0,60 mm"), **WHO)
    assert store.issue(NUMBER, who="A", record="ab" * 32) == ("A", [])
    assert store.issue(NUMBER, who="A") == ("A", [])  # unchanged: the same letter again
    store.sign(NUMBER, who="A", role="done by")
    assert store.issue(NUMBER, who="A") == ("A", [])  # a signature changes no number
    plan = programme(store)
    tick(store, plan)
    store.correct(NUMBER, entry.uid, protrusion(), **WHO, because="misread")
    letter, changes = store.issue(NUMBER, who="A")
    assert letter == "B"
    assert [c.split(" was ")[0] for c in changes] == [
        "line 5 (Head bolts: two stages)", "line 6 (bolt 1, stage 1)", "line 2 (Measurement)"]  # fmt: skip
    assert store.jobs().rows[0].issue == "B"
    assert [x.body["letter"] for x in store.job(NUMBER).issues] == ["A", "B"]


def test_a_job_is_closed_with_its_root_cause(store):
    with pytest.raises(BadInput) as error:
        store.close_job(NUMBER, who="A", root_cause="  ")
    assert fields_of(error) == {"root_cause"}
    store.close_job(NUMBER, who="A", root_cause="gasket blown between 2 and 3", retorque="none, page 41")
    assert store.job(NUMBER).closed
    assert store.jobs().rows[0].closed
    with pytest.raises(Refused, match="closed; reopen it"):
        store.keep(NUMBER, protrusion(), **WHO)
    store.sign(NUMBER, who="A", role="done by")
    store.reopen(NUMBER, who="B", because="customer came back")
    store.keep(NUMBER, protrusion(), **WHO)
    with pytest.raises(Refused, match="not closed"):
        store.reopen(NUMBER, who="B", because="x")


# ------------------------------------------------------------------------------ to the sheet and back
def test_the_sheet_of_a_job_shows_what_was_corrected(lite):
    lite.amend(NUMBER, who="A", hours="1240 h", people=[{"name": "A. Learner"}])
    wrong = lite.keep(NUMBER, protrusion("0,60 mm"), **WHO, title="Liner protrusion")
    lite.keep(NUMBER, get("thread")(thread="M10x1.25"), **WHO)
    struck = lite.keep(NUMBER, protrusion("0,9 mm"), **WHO)
    programme(lite)
    lite.correct(NUMBER, wrong.uid, protrusion(), **WHO, because="misread")
    lite.strike(NUMBER, struck.uid, **WHO, because="wrong engine")
    file = as_job_file(lite.job(NUMBER))
    assert [e["title"] for e in file["entry"]] == ["Liner protrusion", "Thread: geometry and loads"]
    assert "value “0,60 mm” became “0,06 mm”" in file["entry"][0]["remark"]
    record = make_record(file)
    assert record["outcome"] == "pass"
    pdf = typeset(record)
    assert verify(pdf).verified
    with tempfile.TemporaryDirectory() as folder, Store.open(Path(folder) / "new.db") as other:
        number = other.start_from(read_record(pdf))
        assert [e.inputs for e in other.job(number).current_entries] == [e["inputs"] for e in file["entry"]]
        assert make_record(as_job_file(other.job(number)))["outcome"] == "pass"
        with pytest.raises(Refused, match="already exists"):
            other.start_from(read_record(pdf))


def test_a_stale_number_can_be_printed_only_as_such(lite):
    source = lite.keep(NUMBER, protrusion(), **WHO)
    lite.keep(NUMBER, protrusion(), **WHO, sources=[source.uid], remark="warm")
    lite.strike(NUMBER, source.uid, **WHO, because="x")
    (entry,) = as_job_file(lite.job(NUMBER), allow_stale=True)["entry"]
    assert entry["remark"].startswith("STALE, do not sign: line 2")
    assert entry["remark"].endswith("warm")


def test_starting_from_a_job_file_is_all_or_nothing(store):
    file = {"job": HEADER | {"number": "26-020"}, "entry": [
        {"working": "thread", "who": "A. Learner", "inputs": {"thread": "M10"}},
        {"working": "thread", "who": "A. Learner", "inputs": {"thread": "M10000"}}]}  # fmt: skip
    with pytest.raises(BadInput, match="entry 2"):
        store.start_from(file)
    assert store.jobs("26-020").found == 0
    file["entry"].pop()
    assert store.start_from(file) == "26-020"
    assert store.job("26-020").entries[0].result["results"]["pitch"]["value"] == 1.5
