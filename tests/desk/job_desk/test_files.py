"""Jobs that go out as files and come in."""

import io
import json
import re
import zipfile

import pytest

from shoplib.desk.widgets import download
from shoplib.desk.widgets.job_desk import JobDesk
from shoplib.record.store import Store
from shoplib.sheet import sheet_service as fordesk
from tests.desk.job_desk.helpers import WHO, chosen, html_of, page, plain, put, saved
from tests.record_fixtures import HEADER, NUMBER, protrusion


# ------------------------------------------------------------------------------ files
def test_the_job_goes_out_and_comes_into_another_record(desk, store, tmp_path, monkeypatch):
    store.keep(NUMBER, protrusion(), title="Protrusion", **WHO)
    files = page(desk, "files")
    files.json_it.click()
    name, raw = saved(files.out_said)
    assert name == "job-26-014.json"
    with Store.open(tmp_path / "other.db") as other:
        assert other.import_job(raw).number == NUMBER
    files.csv_it.click()
    name, zipped = saved(files.out_said)
    assert name == "job-26-014-tables.zip"
    with zipfile.ZipFile(io.BytesIO(zipped)) as archive:
        assert "entries.csv" in archive.namelist()
        assert "Protrusion" in archive.read("entries.csv").decode("utf-8-sig")
    again = saved(files.out_said)
    files.csv_it.click()
    assert saved(files.out_said) == again, "the same tables give the same file"


def take(files, name, raw, **typed):
    files.file.value = chosen(name, raw)
    put(files.boxes, **typed)
    if files.take_part.layout.display != "none":
        files.take_it.click()
    return plain(files)


def test_a_job_is_looked_at_before_it_is_taken_in(desk, store, tmp_path):
    with Store.open(tmp_path / "other.db") as other:
        other.start(**HEADER | {"engine": "of another workshop"})
        other.keep(NUMBER, protrusion("0,12 mm"), **WHO)
        raw = other.export(NUMBER)
    files = page(desk, "files")
    files.file.value = chosen("job.json", raw)
    assert "No fault found : job.json, job 26-014 2 lines, 0 photographs" in plain(files.looked)
    assert len(store.jobs().rows) == 1, "nothing is taken in before it is asked for"
    files.take_it.click()
    assert "already exists" in plain(files.in_said)
    put(files.boxes, number="26-077", who="B. Teacher")
    files.take_it.click()
    assert "Imported as job 26-077" in plain(files.in_said)
    assert "26-077" in [value for _, value in desk.choose.options]
    assert files.take_part.layout.display == "none"


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"{}", "is not an exported job"),
        (b"{\xff\xfe", "is not UTF-8"),
        (b'{"a": 1, "a": 2}', "duplicate key"),
        (b"[" * 5000, "not JSON|nested too deeply"),
        (b"%PDF-1.7 nothing", "carries no record"),
    ],
)
def test_what_is_no_job_is_refused_in_words(desk, content, says):
    text = take(page(desk, "files"), "<b>job</b>.json", content)
    assert re.search(says, text)
    assert desk.pages["files"].take_part.layout.display == "none"
    assert "&lt;b&gt;job" in html_of(desk.pages["files"])


def test_a_job_that_was_changed_does_not_stand(desk, store):
    store.keep(NUMBER, protrusion("0,12 mm"), **WHO)
    whole = json.loads(store.export(NUMBER))
    whole["lines"][1]["body"]["inputs"]["value"] = "0,02 mm"
    text = take(page(desk, "files"), "job.json", json.dumps(whole).encode())
    assert "NOT verified" in text
    assert "line 2 does not match its hash" in text
    assert desk.pages["files"].take_part.layout.display == "none"


def test_a_copy_of_the_record_is_a_record(desk, store, tmp_path):
    files = page(desk, "files")
    files.copy_it.click()
    name, raw = saved(files.keep_said)
    assert name == "shoplib-record.db"
    (tmp_path / "copy.db").write_bytes(raw)
    with Store.open(tmp_path / "copy.db") as copy:
        assert [r.number for r in copy.jobs().rows] == [NUMBER]
    files.check_it.click()
    assert "No damage found" in plain(files.check_said)
    with store._engine.begin() as c:
        c.exec_driver_sql("DROP TRIGGER line_no_update")
        c.exec_driver_sql("UPDATE line SET who = 'somebody else' WHERE n = 1")
    files.check_it.click()
    assert "job 26-014, line 1: was altered outside this program" in plain(files.check_said)
    assert "changed outside" in plain(page(desk, "open"))


def test_a_record_too_large_for_a_link_is_said(desk, monkeypatch):
    monkeypatch.setattr(download, "LARGEST", 1000)
    files = page(desk, "files")
    files.copy_it.click()
    assert "too large to download here" in plain(files.keep_said)
    files.csv_it.click()
    assert "too large to download here" in plain(files.out_said)


def test_the_sheet_of_a_whole_job_goes_out_and_comes_back(store, tmp_path):
    store.keep(NUMBER, protrusion("0,12 mm"), title="Protrusion", **WHO)
    desk = JobDesk(fordesk)
    hand = page(desk, "hand")
    hand.hand_it.click()
    name, pdf = saved(hand.sheet_said)
    assert (name, pdf[:5]) == ("job-26-014-sheet-A.pdf", b"%PDF-")
    files = page(desk, "files")
    text = take(files, name, pdf, number="26-077", who="B. Teacher")
    assert "No fault found" in text
    assert "byte for byte" in text
    assert "differs from line" in text or "Imported as job" in text
    with Store.open(tmp_path / "other.db") as other:
        assert other.import_job(fordesk.look(pdf).exported).number == NUMBER
        assert other.job(NUMBER).current_entries[0].inputs["value"] == "0,12 mm"
    broken = pdf[:-2000] + b"0" * 2000
    text = take(files, name, broken)
    assert "NOT verified" in text or "not a readable PDF" in text or "no record" in text


def test_the_sheet_of_a_job_file_is_worked_anew(desk, store):
    from shoplib.record.jobfile_record import make_record
    from shoplib.sheet import typeset

    job = {"job": HEADER, "entry": [{"working": "measurement", "inputs": dict(protrusion().inputs.as_entered)}]}
    pdf = typeset(make_record(job))
    desk = JobDesk(fordesk)
    text = take(page(desk, "files"), "sheet.pdf", pdf, number="26-078", who="B. Teacher")
    assert "Imported as job 26-078" in text
    assert store.job("26-078").current_entries[0].form == "measurement"
