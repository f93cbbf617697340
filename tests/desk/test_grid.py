"""The grid of readings: what is typed stays, blank is missing, bad cells are marked.  Keys and paste: see the browser tests."""

import re

import pytest

from shoplib.core.errors import BadInput
from shoplib.core.fields import choice, listing, number, quantity, words, yes_no
from shoplib.core.units import mm
from shoplib.desk import STATIC, Form, Grid
from shoplib.topics import get

COLUMNS = (
    words("name", "Line"),
    quantity("gap", mm, "Gap", states=("not measured",), terms=True),
    choice("state", "State", ("doubtful",)),
    listing("many", number("n", "n"), "Readings"),
)


def test_blank_is_missing_and_bare_numbers_take_the_units_of_the_heading():
    grid = Grid(COLUMNS)
    assert grid.heads == ["Line", "Gap, mm", "State", "Readings"]
    grid.value = [
        ["A", "0,05", "", ""],
        ["", "", "", ""],
        ["B", "0.05+0.03", "doubtful", "1; 2,5"],
        ["C", "2 thou", "", ""],
    ]
    assert grid.records() == [
        {"name": "A", "gap": "0,05 mm"},
        {"name": "B", "gap": "0.05+0.03 mm", "state": "doubtful", "many": "1; 2,5"},
        {"name": "C", "gap": "2 thou"},
    ]


@pytest.mark.parametrize("typed", ["not measured", "=1+1", "1e400x", "<b>", "0..5", "5 5"])
def test_words_are_kept_as_they_are(typed):
    grid = Grid(COLUMNS)
    grid.value = [["A", typed, "", ""]]
    assert grid.records() == [{"name": "A", "gap": typed}]
    assert grid.value[0][1] == typed


def test_rows_given_at_the_start_and_one_empty_row_to_go_on_in():
    grid = Grid(COLUMNS, [{"name": "A", "many": ["1", "2"]}, {"gap": None}])
    assert grid.value == [["A", "", "", "1; 2"], ["", "", "", ""], ["", "", "", ""]]
    assert grid.words == [[], ["not measured"], ["doubtful"], []]


def test_bad_cells_are_marked_where_they_stand():
    grid = Grid(COLUMNS)
    grid.value = [["A", "1", "", ""], ["", "", "", ""], ["B", "x", "", "1; y"], ["", "", "", ""]]
    grid.mark(["lines[2].gap", "lines[2].many[2]", "lines", "lines[9].gap", "lines[1].nonsense"])
    assert grid.bad == ["2,1", "2,3"], "the blank row in between is counted over"
    grid.mark(["lines[1]"])
    assert grid.bad == ["0,0", "0,1", "0,2", "0,3"]
    grid.mark([])
    assert grid.bad == []


LINES = [c.name for c in get("flatness_lines").field("lines").columns]
GOES = LINES.index("goes")


def line(**cells):
    return [cells.get(name, "") for name in LINES]


def test_the_problems_of_a_working_name_cells():
    grid = Grid(get("flatness_lines").field("lines").columns)
    grid.value = [line(name="A", goes="0.10", no_go="0.05"), line(), line(name="B", goes="tight")]
    with pytest.raises(BadInput) as caught:
        get("flatness_lines")(lines=grid.records())
    grid.mark(p.field for p in caught.value.problems)
    assert grid.bad == [f"2,{GOES}"]
    grid.value = grid.value[:1]
    with pytest.raises(BadInput) as caught:
        get("flatness_lines")(lines=grid.records())
    grid.mark(p.field for p in caught.value.problems)
    assert grid.bad == [f"0,{GOES}"]


def test_a_form_reads_its_grid():
    form = Form("flatness_lines", limit="0.08 mm", limit_source="notes")
    grid = form.entries["lines"].box
    grid.value = [line(name="A", goes="0,05", no_go="0,06"), line()]
    assert form.result["worst_high"] == pytest.approx(6e-5)
    assert form.result.checks[0].outcome == "pass"
    grid.value = [line(name="A", goes="0,05"), line()]
    assert form.result.checks[0].outcome == "undecided", "blank is missing, not zero"


def test_each_column_has_the_cell_that_suits_it():
    grid = Grid((*COLUMNS, yes_no("seen", "Seen", help="by you")))
    assert grid.kinds == ["text", "number", "choice", "text", "choice"]
    assert grid.words == [[], ["not measured"], ["doubtful"], [], ["yes", "no"]]
    assert grid.hints[-1] == "by you", "said of the column under the hand"
    log = Grid(get("fastener_log").field("bolts").columns)
    assert log.hints[3] == "or 3/8-16 UNC; for a left-hand thread add LH; such as M10x1.25"
    assert len(log.heads) == len(log.kinds) == len(log.hints) == 16


def test_a_word_that_is_no_choice_stays_and_is_named():
    """A spreadsheet may hold anything: the cell keeps it, the working says what may stand there."""
    grid = Grid(get("fastener_log").field("bolts").columns, [{"name": "1", "hole": "deep"}])
    assert grid.records() == [{"name": "1", "hole": "deep"}]
    with pytest.raises(BadInput) as caught:
        get("fastener_log")(bolts=grid.records())
    grid.mark(p.field for p in caught.value.problems)
    assert grid.bad == ["0,8"]


def test_the_script_never_sets_markup_from_what_was_typed():
    js = (STATIC / "grid.js").read_text(encoding="utf-8")
    assert "innerHTML" not in js
    assert "insertAdjacentHTML" not in js


def test_targets_are_large_and_marks_need_no_colour():
    css = (STATIC / "grid.css").read_text(encoding="utf-8")
    assert re.search(r"min-height: 40px", css)
    assert re.search(r"aria-invalid=true\] \{ border: 2px dashed", css)
    assert css.count("position: sticky") == 3, "heading, row number and first column stay in sight"
