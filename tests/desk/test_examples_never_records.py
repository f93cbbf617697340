"""Examples never become records: marked, without an outcome, gone with a job open, and never saved unconfirmed."""

import html
import json
import re

import pytest

from shoplib.desk import Form
from shoplib.desk.widgets.form import NOT_YOURS
from shoplib.desk.widgets.session import desk, session
from tests.record_fixtures import HEADER, NUMBER

BOLT = {"torque": "40 N*m", "thread": "M10x1.5", "mu_thread": "0.12", "mu_head": "0.12", "bearing_mean": "13 mm"}
TURNED = {
    "turns": "2",
    "direction": "running direction",
    "resistance": "no",
    "marks": "in line",
    "marks_source": "page 22",
}
TEST = {"readings": "12.4 bar; 12.1 bar; 9.1 bar; 9.3 bar", "layout": "1 2 3 4", "rule": "lowest/highest",
        "limit": "75 %", "limit_source": "page 8"}  # fmt: skip
STEPS = [{"step": "battery isolated", "state": "done", "when": "08:40"}, {"step": "engine cold", "state": "done"}]


@pytest.fixture
def job():
    session.store().start(**HEADER)
    session.number, session.who = NUMBER, "A. Learner"
    return lambda: session.store().job(NUMBER)


def seen(working="preload_from_torque", **values):
    form = Form(working, **(values or BOLT))
    form.keeping.activate()
    return form


def words(widget):
    return html.unescape(re.sub(r"<[^>]+>", " ", widget.value)).strip()


def keep(form):
    form.keeping._panel.go.click()
    return words(form.keeping._panel.said)


def is_empty(form):
    return all(entry.typed is None for entry in form.entries.values())


def marked(form):
    return [name for name, entry in form.entries.items() if "shop-example" in entry._dom_classes]


# ------------------------------------------------------------------------------ without a job
@pytest.mark.parametrize(("working", "values"), [("two_turn_check", TURNED), ("compression_test", TEST)])
def test_an_example_is_marked_and_has_no_outcome(working, values):
    form = seen(working, **values)
    assert marked(form) == list(values)
    assert form.result is not None and form.result.outcome is not None
    page = form.answer.value + form.static_html()
    assert "data-outcome" not in page and 'class="shop-checks"' not in page
    assert page.count(NOT_YOURS) == 2, "also where no kernel runs"
    name = next(iter(values))
    form.entries[name].box.value += " "
    assert "shop-outcome" in form.answer.value and NOT_YOURS not in form.answer.value
    assert "Still as in the example: " in words(form.answer)
    assert marked(form) == list(values)[1:]


def test_the_worked_example_can_always_be_worked(job):
    form = seen()
    assert form.result is None
    assert form.worked["preload"] == pytest.approx(24269.043464757702)


# ------------------------------------------------------------------------------ with a job
@pytest.mark.parametrize(
    ("working", "values"), [("preload_from_torque", BOLT), ("compression_test", TEST), ("strip_log", {"steps": STEPS})]
)
def test_with_a_job_open_a_form_starts_empty(job, working, values):
    form = seen(working, **values)
    assert is_empty(form) and marked(form) == []
    assert "Nothing is typed yet." in words(form.answer)
    assert not any(entry.error.value for entry in form.entries.values())
    assert "nothing is typed yet" in keep(form)
    assert job().entries == ()


def test_the_example_goes_when_a_job_is_chosen_and_comes_back_without_one(job):
    session.number = ""
    form = seen()
    assert not is_empty(form)
    session.number = NUMBER
    assert is_empty(form)
    session.number = ""
    assert marked(form) == list(BOLT)


def test_the_button_fills_and_empties(job):
    form = seen()
    assert form.keeping.back.description == "Fill with the example"
    form.keeping.back.click()
    assert marked(form) == list(BOLT)
    assert "shop-outcome" not in form.answer.value
    assert form.keeping.back.description == "Empty the form"
    form.keeping.back.click()
    assert is_empty(form)


def test_filling_with_the_example_loses_nothing_typed(job):
    form = seen()
    form.entries["torque"].box.value = "41 Nm"
    form.keeping.back.click()
    assert form.entries["torque"].box.value == "40 N*m"
    session.close()
    form = seen()
    assert is_empty(form), "the example was nobody's"
    form.keeping.back.click()
    assert form.keeping.back.description == "Restore my entries"
    form.keeping.back.click()
    assert form.entries["torque"].box.value == "41 Nm"
    assert marked(form) == []


def test_what_nobody_touched_or_confirmed_is_not_saved(job):
    form = seen()
    form.keeping.back.click()
    for name in ("torque", "thread"):
        form.entries[name].box.value += " "
    told = keep(form)
    assert "Nothing was saved. Still the example: Friction in the thread; Friction under the bolt head; " in told
    assert job().entries == ()
    boxes = form.keeping._panel.asked.children
    assert [b.description.partition(":")[0] for b in boxes] == [
        form.entries[n].field.label for n in ("mu_thread", "mu_head", "bearing_mean")
    ]
    boxes[0].value = True
    form.entries["mu_head"].box.value = "0.13"
    assert "Mean bearing diameter" in keep(form)
    assert job().entries == ()
    (last,) = form.keeping._panel.asked.children
    last.value = True
    assert form.keeping._panel.asked.layout.display == "none"
    assert keep(form).startswith("✓ Saved as line 2")
    assert job().entries[0].inputs["mu_thread"] == "0.12"


def test_a_row_of_the_example_is_not_saved_either(job):
    form = seen("strip_log", steps=STEPS)
    form.keeping.back.click()
    grid = form.entries["steps"].box
    rows = [list(r) for r in grid.value]
    rows[0][[c.name for c in grid.columns].index("who")] = "A. L."
    grid.value = rows
    assert "Steps, row 2" in keep(form) and "row 1" not in words(form.keeping._panel.said)
    assert job().entries == ()
    rows[1] = [""] * len(rows[1])
    grid.value = rows
    assert marked(form) == []
    assert keep(form).startswith("✓ Saved as line 2")


def test_the_same_value_typed_by_hand_is_no_example(job):
    form = seen()
    for name, value in BOLT.items():
        form.entries[name].box.value = value
    assert marked(form) == []
    session.close()
    form = seen()
    assert form.boxes() == form.keeping.given, "it comes back"
    assert marked(form) == []
    assert keep(form).startswith("✓ Saved as line 2")


def test_what_was_the_example_stays_marked_after_a_restart(job):
    form = seen()
    form.keeping.back.click()
    form.entries["torque"].box.value = "41 Nm"
    session.close()
    form = seen()
    assert marked(form) == list(BOLT)[1:]
    assert "Still the example" in keep(form)


def test_a_draft_of_0_1_0_comes_back_and_what_equals_the_example_is_asked_for(job):
    form = seen()
    boxes = {**form.keeping.given, "torque": "41 Nm"}
    session.store().save_draft(form.keeping.key, {"boxes": boxes, "before": {}}, number=NUMBER, desk=desk())
    session.close()
    form = seen()
    assert form.boxes() == boxes
    assert marked(form) == list(BOLT)[1:]
    assert "Still the example" in keep(form)
    assert job().entries == ()


def test_the_draft_of_another_form_of_the_same_kind_is_left_alone(job):
    one = seen()
    one.entries["torque"].box.value = "41 Nm"
    assert is_empty(seen(**{**BOLT, "torque": "60 N*m"}))


def test_rows_of_a_table_come_back_under_their_columns(job):
    """0.1.0 had no column for the direction of a line, and did not name the columns in a draft."""
    line = {"name": "A", "from": "0; 0", "to": "100; 0", "goes": "0.05 mm", "no_go": "0.06 mm"}
    form = seen("flatness_lines", lines=[line])
    old = ["B", "0; 5", "90; 5", "", "0,03", "0,04", "", "", "", "", "", ""]
    boxes = {"comparison": "<", "limit": "", "lines": [old, [""] * 12]}
    session.store().save_draft("flatness_lines-0123abcd", {"boxes": boxes}, number=NUMBER, desk=desk())
    session.close()
    form = seen("flatness_lines", lines=[line])
    assert form.entries["lines"].typed == [
        {"name": "B", "from": "0; 5", "to": "90; 5", "goes": "0,03 mm", "no_go": "0,04 mm"}
    ]
    assert form.entries["limit"].typed is None
    assert form.entries["at_limit"].typed == "not allowed", "it was called comparison, and <"
    assert list(session.store().drafts(number=NUMBER, desk=desk())) == [form.keeping.key], "no other form takes it too"
    form.entries["limit"].box.value = "0.08 mm"
    held = session.store().draft(form.keeping.key, number=NUMBER, desk=desk()).inputs
    held["columns"]["lines"].insert(1, "colour")  # of a version to come
    held["boxes"]["lines"][0].insert(1, "red")
    session.store().save_draft(form.keeping.key, held, number=NUMBER, desk=desk())
    session.close()
    assert seen("flatness_lines", lines=[line]).entries["lines"].typed == form.entries["lines"].typed


def test_an_entry_that_is_corrected_is_no_example():
    form = Form("preload_from_torque", keeping=False, **BOLT)
    assert marked(form) == [] and NOT_YOURS not in form.answer.value
    assert form.own and form.text() == form.result.as_text()


def test_the_key_of_a_draft_is_that_of_the_example_as_before():
    given = json.dumps(Form("torque_units", torque="40 N*m").keeping.given, sort_keys=True)
    assert json.loads(given)["torque"] == "40 N*m"
