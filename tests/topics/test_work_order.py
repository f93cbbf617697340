"""The work order: out as a form with blanks, back as judged rows, on one sheet."""

import io
import json
import re

import pypdf
import pytest

from shoplib.core.checks import Outcome
from shoplib.core.errors import BadInput
from shoplib.core.paths import DATA
from shoplib.desk import Form, OrderPage
from shoplib.desk.widgets.session import session
from shoplib.record.jobfile import read_job_file
from shoplib.record.jobfile_record import make_record
from shoplib.sheet import typeset
from shoplib.sheet import work_order as workorder
from shoplib.sheet.render import SheetError
from shoplib.topics import get
from shoplib.topics.skim.work_order import allowed
from tests.sheet import sheet_parts

DEMO = DATA / "demo" / "work_order.toml"
ORDER = get("work_order")
ITEM = {
    "work": "Straightness of the cam bore",
    "where": "bearings 1 to 4",
    "high": "0.05 mm",
    "source": "notes, sheet 9",
}


def job(*items, paper="a4", **inputs):
    entry = {"working": "work_order", "inputs": {"part": "Cylinder head", "items": [*items] or [ITEM], **inputs}}
    header = {"number": "T-9", "engine": "bench engine", "date": "2026-11-21", "done_by": "A. Learner"}
    return make_record({"job": header, "entry": [entry]}, paper=paper)


def words_of(pdf):
    return re.sub(r"[\s\u00a0\u202f\u200b]+", " ", sheet_parts.words_of(pdf))


@pytest.fixture(scope="module")
def demo():
    return make_record(read_job_file(DEMO), folder=DEMO.parent)


# ------------------------------------------------------------------------------ rows judged
@pytest.mark.parametrize(
    ("came_back", "outcome"),
    [
        ({}, Outcome.UNDECIDED),
        ({"value": "0.04 mm"}, Outcome.PASS),
        ({"value": "0.05 mm"}, Outcome.UNDECIDED),  # at the limit
        ({"value": "0.06 mm"}, Outcome.FAIL),
        ({"value": "0.03 mm", "state": "doubtful"}, Outcome.UNDECIDED),
        ({"state": "unreadable"}, Outcome.UNDECIDED),
        ({"state": "not applicable"}, None),
        ({"value": "0.03 mm", "source": ""}, Outcome.NO_LIMIT),
        ({"value": "0.06 mm", "source": ""}, Outcome.FAIL),
    ],
)
def test_each_row_is_judged_as_a_measurement(came_back, outcome):
    assert ORDER(part="head", items=[ITEM | came_back]).outcome is outcome


def test_what_is_still_out_is_named_once_and_is_never_zero():
    both = ITEM | {"low": "0 mm"}
    result = ORDER(part="head", items=[both, ITEM | {"where": "bearing 5", "value": "0.02 mm"}])
    assert result["still_out"] == ["Straightness of the cam bore, bearings 1 to 4"]
    assert [(c.outcome, c.remark) for c in result.checks] == [(Outcome.UNDECIDED, "outstanding"), (Outcome.PASS, "")]
    assert (result["asked"], result["came_back"]) == ("2", "1")


def test_a_failed_item_brings_its_caution():
    assert any("in writing" in c for c in ORDER(part="head", items=[ITEM | {"value": "0.5 mm"}]).cautions)


def test_bad_rows_are_named_by_row_and_column():
    rows = [ITEM | {"value": "0.03"}, ITEM | {"low": "3 bar"}, {"work": "Crack test"}, ITEM | {"state": "fine"}]
    with pytest.raises(BadInput) as caught:
        ORDER(part="head", items=rows)
    assert {p.field for p in caught.value.problems} == {"items[3].where", "items[4].state"}
    with pytest.raises(BadInput) as caught:
        ORDER(part="head", items=rows[:2])
    assert {"items[1].value", "items[2].high"} <= {p.field for p in caught.value.problems}


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ({"low": "1 mm", "high": "2 mm"}, "1 mm to 2 mm"), ({"low": "1 mm"}, "at least 1 mm"), ({"high": "2 mm"}, "at most 2 mm"),
        ({"source": "notes"}, "good or bad, by the source"), ({}, "no limit given"),
    ],
)  # fmt: skip
def test_limits_in_words(row, says):
    assert allowed({"low": None, "high": None, "source": None} | row) == says


# ------------------------------------------------------------------------------ on paper
def test_the_form_goes_out_without_what_came_back(demo):
    pdf = workorder.typeset_order(demo)
    text = words_of(pdf)
    for row in demo["entries"][0]["inputs"]["items"]:
        assert row["work"] in text and row["where"] in text
    assert "at least 135.50 mm" in text and "sheet 7" in text and "Before" in text
    for came_back in ("135.57", "0.92 mm", "30 µin", "roughness tester R-1"):
        assert came_back not in text
    (attached,) = pypdf.PdfReader(io.BytesIO(pdf)).attachments["work-order.json"]
    asked = json.loads(attached)
    assert "0.92 mm" not in attached.decode() and len(asked["orders"][0]["items"]) == 8
    assert pdf == workorder.typeset_order(demo)


def test_the_same_rows_come_back_on_the_worked_sheet(demo):
    assert demo["outcome"] == "undecided"
    text = words_of(typeset(demo))
    assert "135.57 mm" in text and "30 µin" in text and "outstanding" in text


def test_both_papers_many_items_and_long_words_stay_on_the_page():
    long = ITEM | {"work": "W" * 90, "where": "x" * 300}
    for paper, width in (("a4", 595), ("letter", 612)):
        pdf = workorder.typeset_order(job(*[long] * 25, paper=paper, height_points="12"))
        pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
        assert len(pages) > 3 and round(float(pages[0].mediabox.width)) == width


def test_typed_text_is_only_text_and_what_cannot_be_printed_is_named():
    hostile = ITEM | {"work": '#read("/etc/passwd") *bold* $x$', "where": "<b> = 1+1"}
    assert '#read("/etc/passwd") *bold* $x$' in words_of(workorder.typeset_order(job(hostile)))
    with pytest.raises(SheetError, match=r"items\[1\]\.work"):
        workorder.typeset_order(job(ITEM | {"work": "skim 面"}))


def test_a_job_without_an_order_says_so():
    header = {"number": "T-9", "engine": "e", "date": "2026-11-21", "done_by": "A. Learner"}
    record = make_record({"job": header, "entry": [{"working": "torque_units", "inputs": {"torque": "40 N*m"}}]})
    with pytest.raises(workorder.NoOrder, match="work_order"):
        workorder.typeset_order(record)


HEAD = {"number": "26-015", "engine": "Pump engine", "date": "2026-11-26", "done_by": "C. Other", "hours": "12"}


def test_saving_says_what_it_did_and_never_replaces(tmp_path):
    inputs = read_job_file(DEMO)["entry"][0]["inputs"]
    said = workorder.save_both(HEAD, inputs, tmp_path / "sheets")
    assert [s.partition(": ")[0] for s in said] == ["saved", "saved"]
    written = {p.name: p.read_bytes() for p in (tmp_path / "sheets").iterdir()}
    assert set(written) == {"job-26-015-order.pdf", "job-26-015-results.pdf"}
    again = workorder.save_both(HEAD, inputs | {"shop": "another"}, tmp_path / "sheets")
    assert all("already exists; nothing was written" in s for s in again)
    assert written == {p.name: p.read_bytes() for p in (tmp_path / "sheets").iterdir()}


@pytest.mark.parametrize(
    ("number", "change", "says"), [("", {}, "job.number"), ("1", {"items": []}, "items"), ("1", {"part": "面"}, "part")]
)
def test_what_cannot_be_saved_is_said(tmp_path, number, change, says):
    inputs = read_job_file(DEMO)["entry"][0]["inputs"] | change
    said = workorder.save_both({**HEAD, "number": number}, inputs, tmp_path)
    assert said[0] == "nothing was written" and says in "".join(said) and not list(tmp_path.iterdir())


def test_the_order_is_that_of_the_open_job_and_nothing_of_the_example(tmp_path):
    demo = read_job_file(DEMO)
    form = Form("work_order", **demo["entry"][0]["inputs"])
    page = OrderPage(form, workorder.save_both, tmp_path)
    page.button.click()
    assert "Open a job first" in page.said.value
    session.store().start(**{k: v for k, v in HEAD.items() if k != "hours"})
    session.number = HEAD["number"]
    form.keeping.activate()
    page.button.click()
    assert "Fill in the work order above" in page.said.value
    form.keeping.back.click()
    form.entries["part"].box.value = "Head of the open job"
    page.button.click()
    assert "Still the example: " in page.said.value and not list(tmp_path.iterdir())
    for entry in form.borrowed:
        entry.confirm()
    page.remark.box.value = "Call before cutting"
    page.button.click()
    assert page.said.value.count("saved: ") == 2
    for pdf in tmp_path.iterdir():
        text = words_of(pdf.read_bytes()).replace("\n", " ")
        for own in (HEAD["engine"], HEAD["done_by"], HEAD["number"], "Head of the open job", "Call before cutting"):
            assert own in text
        for foreign in (
            demo["job"]["engine"],
            demo["job"]["done_by"],
            demo["job"]["number"],
            demo["entry"][0]["remark"],
        ):
            assert foreign not in text
