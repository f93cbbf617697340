"""Forms and the readings grid, driven without a browser."""

import html
import json
import re
import socket
import subprocess
import sys
from pathlib import Path

import ipywidgets
import pytest

from shoplib.core import units
from shoplib.core.errors import BadInput, Problem
from shoplib.core.fields import integer, quantity, words
from shoplib.core.paths import NOTEBOOKS
from shoplib.core.working import in_labels
from shoplib.desk import Form, Grid, example
from shoplib.desk.server.address import CannotOpen, free_port
from shoplib.desk.server.launcher import copy_notebooks, server_command
from shoplib.desk.widgets.form import NOT_YOURS
from shoplib.topics import all_workings

BOLT = {
    "torque": "40 N*m",
    "thread": "M10x1.5",
    "mu_thread": "0.12",
    "mu_head": "0.12",
    "bearing_mean": "13 mm",
}


@pytest.fixture
def form():
    return Form("preload_from_torque", **BOLT)


def shown(form):
    return re.sub(r"<[^>]+>", " ", form.answer.value)


def test_what_is_typed_shows_at_once(form):
    assert "24.3 kN" in shown(form)
    form.entries["torque"].box.value = "80 Nm"
    assert "48.5 kN" in shown(form)
    assert form.result["preload"] == pytest.approx(2 * 24269.043464757702)


def test_the_working_is_written_out_only_while_somebody_looks_at_it(form):
    steps = form.steps
    assert (steps.body.value, steps.fold.value) == ("", False)
    assert "Working" in steps.fold.description
    steps.fold.value = True
    assert "$$" in steps.body.value
    assert "24" in steps.body.value
    form.entries["torque"].box.value = "80 Nm"
    assert "48.5" in steps.body.value
    form.entries["torque"].box.value = "80"
    assert steps.body.value == ""
    assert steps.fold.layout.display == "none"
    form.entries["torque"].box.value = "40 Nm"
    assert "$$" in steps.body.value
    steps.fold.value = False
    assert steps.body.value == ""


def test_a_bad_value_takes_the_result_away_and_says_why_beside_the_field(form):
    form.entries["torque"].box.value = "40"
    assert form.result is None
    assert "24.3" not in form.answer.value + form.notes.value + form.steps.body.value
    assert form.picture.layout.display == "none"
    error = form.entries["torque"].error.value
    assert "unit" in error
    assert "N*m" in error or "N·m" in error
    assert form.entries["torque"].box.value == "40", "what was typed stays"
    assert not form.entries["thread"].error.value
    form.entries["torque"].box.value = "40 Nm"
    assert not form.entries["torque"].error.value
    assert "24.3 kN" in shown(form)
    assert form.picture.layout.display == ""


def test_what_no_box_is_to_blame_for_is_said_where_the_result_would_be(form, monkeypatch):
    def refuse(typed, *, folder):
        raise BadInput([Problem("group", "is not one <b>of</b> a, b")])

    monkeypatch.setattr(form, "working", refuse)
    form.entries["torque"].box.value = "41 N*m"
    assert "group: is not one &lt;b&gt;of&lt;/b&gt; a, b" in form.answer.value
    assert 'role="alert"' in form.answer.value
    assert "marked fields" not in form.answer.value


def test_every_bad_field_at_once(form):
    form.entries["torque"].box.value = "30 mm"
    form.entries["thread"].box.value = "M99"
    form.entries["mu_head"].box.value = "many"
    marked = [n for n, e in form.entries.items() if e.error.value]
    assert marked == ["torque", "thread", "mu_head"]


@pytest.mark.parametrize(
    "typed", ["", "   ", "nan", "inf", "1,234 N*m", "9" * 10_000, "=1+1", "<b>40 N*m</b>", "40 \u202eN*m"]
)
def test_nothing_typed_breaks_a_form(form, typed):
    form.entries["torque"].box.value = typed
    assert form.result is None
    assert form.entries["torque"].error.value
    assert form.entries["torque"].box.value == typed


def test_typed_text_is_never_markup():
    hostile = "<img src=x onerror=alert(1)> & $x^2$"
    form = Form("measurement", what=hostile, where=hostile, value="0.04 mm", high="0.05 mm", high_source=hostile)
    page = form.answer.value + form.notes.value + form.static_html() + "".join(e.label for e in form.entries.values())
    assert "<img src=x" not in page
    assert "&lt;img src=x" in page
    form.entries["value"].box.value = hostile
    assert "<img" not in form.entries["value"].error.value


def test_an_unknown_input_is_a_mistake_of_the_notebook_writer():
    with pytest.raises(TypeError, match="no input torke"):
        Form("preload_from_torque", torke="40 N*m")


def test_readers_without_a_kernel_see_the_worked_example(form):
    data = form._repr_mimebundle_()
    data = data[0] if isinstance(data, tuple) else data
    assert "application/vnd.jupyter.widget-view+json" in data
    assert "24.3 kN" in data["text/html"]
    assert "Run All Cells" in data["text/html"], "how it comes alive"
    assert "data:image/svg+xml;base64," in data["text/html"]
    assert "<svg" not in data["text/html"], "inline drawings are stripped by viewers"
    assert data["text/plain"] == f"{NOT_YOURS}\n\n{form.result.as_text()}"


def test_the_worked_example_prints_as_text(form, capsys):
    example(form, also={"torque": "60 N*m"})
    assert "36.40 kN" in capsys.readouterr().out
    assert form.entries["torque"].box.value == "40 N*m"


@pytest.mark.parametrize("name", list(all_workings()))
def test_every_working_has_a_form_that_opens_empty(name):
    form = Form(name)
    assert set(form.entries) == {f.name for f in form.working.fields}
    for entry in form.entries.values():
        assert entry.field.label in html.unescape(entry.label)
    assert form.result is None
    assert "Nothing is typed yet." in form.answer.value
    assert not any(entry.error.value for entry in form.entries.values()), "nobody did anything wrong yet"
    required = [f.name for f in form.working.fields if f.required and f.default is None]
    for name in required:
        assert form.working.field(name).label in html.unescape(form.answer.value)


def test_what_is_missing_is_said_beside_its_box_once_something_is_typed():
    form = Form("preload_from_torque")
    form.entries["torque"].box.value = "40 N*m"
    assert [n for n, e in form.entries.items() if "is missing" in e.error.value] == ["thread", "mu_thread", "mu_head"]
    form.entries["torque"].box.value = ""
    assert not any(e.error.value for e in form.entries.values())


def test_a_form_needs_no_arithmetic():
    source = (Path(sys.modules["shoplib.desk.widgets.form"].__file__)).read_text(encoding="utf-8")
    assert "numpy" not in source
    assert "physics" not in source


def test_a_bad_cell_of_a_table_is_marked_and_unmarked():
    lines = [{"name": "A", "from": "0; 0 mm", "to": "100; 0 mm", "goes": "0.05 mm", "no_go": "0.06 mm"}]
    form = Form("flatness_lines", lines=lines)
    grid = form.entries["lines"].box
    assert grid.bad == []
    column = [c.name for c in grid.columns].index("goes")
    good = [list(row) for row in grid.value]
    bad = [list(row) for row in grid.value]
    bad[0][column] = "much"
    grid.value = bad
    assert grid.bad == [f"0,{column}"]
    assert form.entries["lines"].error.value
    grid.value = good
    assert grid.bad == []


LINES = [{"name": "A", "from": "0; 0 mm", "to": "100; 0 mm", "goes": "0.05 mm", "no_go": "0.06 mm"}]


@pytest.mark.parametrize("given", [json.dumps(LINES), json.dumps(LINES[0]), LINES[0], tuple(LINES)])
def test_a_table_may_be_given_as_the_command_line_takes_it(given):
    form = Form("flatness_lines", lines=given)
    assert form.entries["lines"].typed == LINES
    assert form.result.to_json() == Form("flatness_lines", lines=LINES).result.to_json()


def test_readings_alone_are_rows_too():
    rows = [["0.61 mm", "0.64 mm"]] * 4
    given = Form("gasket_grade", projections=json.dumps(rows)).entries["projections"].typed
    assert given == [{"readings": "0.61 mm; 0.64 mm"}] * 4


@pytest.mark.parametrize("given", ["A: 0.05 mm", "[{", "[1, 2]", "7", 7, "[]"])
def test_text_that_holds_no_table_is_said(given):
    with pytest.raises(BadInput, match=r"^lines: .+; type for example \[\{"):
        Form("flatness_lines", lines=given)


# ------------------------------------------------------------------------------ names of inputs in messages
def seen(widget):
    return html.unescape(re.sub(r"<[^>]+>", " ", widget.value))


HEIGHTS = {"cut": "0.1 mm", "new_height": "140.0 mm", "measured_height": "140.2 mm"}


def test_a_form_calls_an_input_by_its_label():
    form = Form("skim_allowance", **HEIGHTS)
    told = seen(form.entries["measured_height"].error)
    assert "is above “Height when new” 140.0 mm" in told and "leave “Height when new” empty" in told
    assert "new_height" not in told
    with pytest.raises(BadInput, match="is above new_height"):  # its name where names are typed
        form.working(HEIGHTS)


def test_a_form_calls_an_input_by_its_label_in_what_is_assumed_and_remarked():
    lines = [{"name": "A", "from": "0; 0 mm", "to": "100; 0 mm", "goes": "0.05 mm", "no_go": "0.06 mm"}]
    assert "neither “Straightedge error, up to” nor “Straightedge grade”" in seen(
        Form("flatness_lines", lines=lines).notes
    )
    gap = Form("measurement", keeping=False, what="cover", where="left", state="good")
    assert "fill in “Source for good or bad”" in seen(gap.answer)


def test_a_bad_cell_is_named_as_the_eye_finds_it():
    rows = [{"name": "A", "from": "0; 0 mm", "to": "100; 0 mm", "goes": "0.05 mm", "no_go": "0.04 mm"}]
    grid = Form("flatness_lines", lines=[*rows, {**rows[0], "no_go": "x_1"}])
    told = seen(grid.entries["lines"].error)
    assert "row 2, “Leaf that does not fit”: " in told and "no_go" not in told and "x_1" in told
    assert grid.entries["lines"].box.bad == ["1,6"]


@pytest.mark.parametrize("typed", ["new_height", "NEW_HEIGHT mm", '"new_height" 3', "new_height_of_head mm"])
def test_a_message_quotes_what_was_typed_unaltered(typed):
    form = Form("skim_allowance", cut="0.1 mm", new_height="140 mm", measured_height=typed)
    box = form.entries["measured_height"]
    assert box.box.value == typed
    assert "Height when new" not in seen(box.error)


def test_typed_text_in_a_result_is_not_taken_for_a_name():
    row = {"name": "NEW PIN_OFFSET", "where": "1"}  # yes and no are quoted in lower case
    fields = Form("piston_position").working.fields
    assert in_labels("pin_offset and rod_length", fields, [row]) == (
        "pin_offset and “Connecting rod, centre to centre”"
    )
    assert in_labels("pin_offset, cut, my_pin_offset", fields, [{"pin_offset": "1 mm"}]) == (
        "“Pin or cylinder offset”, cut, my_pin_offset"
    )


def test_no_name_has_two_labels_on_one_form():
    for working in all_workings().values():
        labels = {}
        for f in (f for known in working.fields for f in (known, *known.columns)):
            assert "_" not in f.name or labels.setdefault(f.name, f.label) == f.label, f"{working.name}: {f.name}"


# ------------------------------------------------------------------------------ grid
COLUMNS = (
    words("name", "Line"),
    quantity("goes", units.mm, "Goes", required=False),
    integer("count", "Count", required=False),
)


def test_grid_keeps_text_and_gives_records():
    grid = Grid(COLUMNS, [{"name": "A", "goes": "0,05"}])
    assert grid.heads == ["Line", "Goes, mm", "Count"]
    grid.value = [["A", "0,05", "3"], ["", "", ""], ["B", "2 thou", ""], ["C", "n/a", "x"], ["D", "-.5", " "]]
    assert grid.records() == [
        {"name": "A", "goes": "0,05 mm", "count": "3"},
        {"name": "B", "goes": "2 thou"},
        {"name": "C", "goes": "n/a", "count": "x"},
        {"name": "D", "goes": "-.5 mm"},
    ]


def test_grid_speaks_as_the_browser_does():
    grid = Grid(COLUMNS)
    grid.set_state({"value": [["A", "1", "2"]]})
    assert grid.records() == [{"name": "A", "goes": "1 mm", "count": "2"}]


# ------------------------------------------------------------------------------ opening the notebooks
def test_opening_works_on_a_copy_and_never_overwrites_it(tmp_path):
    folder = copy_notebooks(tmp_path / "own")
    names = sorted(p.name for p in NOTEBOOKS.glob("*.ipynb"))
    assert sorted(p.name for p in folder.iterdir()) == names
    (folder / names[0]).write_text("mine", encoding="utf-8")
    (folder / names[1]).unlink()
    copy_notebooks(folder)
    assert (folder / names[0]).read_text(encoding="utf-8") == "mine"
    assert (folder / names[1]).read_bytes() == (NOTEBOOKS / names[1]).read_bytes()


def test_a_folder_that_cannot_be_written_is_said(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(CannotOpen, match="cannot save the notebooks"):
        copy_notebooks(tmp_path / "file" / "below")


def test_a_taken_port_is_said():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        port = taken.getsockname()[1]
        with pytest.raises(CannotOpen, match=f"port {port} is in use"):
            free_port(port)
    assert free_port(None) > 1023


def test_on_loopback_and_asking_nobody_outside(tmp_path):
    command = server_command(tmp_path, 8123, browser=False)
    for word in (
        "--ServerApp.ip=127.0.0.1",
        "--LabApp.news_url=None",
        "--no-browser",
    ):
        assert word in command
    assert any("cull_idle_timeout" in word for word in command)
    with pytest.raises(CannotOpen, match="not an address of this machine"):
        free_port(None, "192.0.2.1")


def test_widgets_load_only_when_asked_for():
    code = "import sys, shoplib.desk, json; print(json.dumps([m for m in ('ipywidgets','anywidget','matplotlib') if m in sys.modules]))"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert json.loads(ran.stdout) == []
    assert ipywidgets.__version__
