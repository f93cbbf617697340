"""The grid of readings alone on a page, without a kernel: choices, wrapping, what stays in sight, copying from above."""

import json

import pytest

from shoplib.desk import STATIC, Grid
from shoplib.topics import get
from tests.browser.test_grid import PASTE

TRAITS = ("heads", "words", "labels", "units", "kinds", "pads", "hints", "value", "bad")
PAGE = """<meta charset="utf-8"><style>%s %s</style><div class="shop"><div id="here"></div></div><script>%s
const state = %s, hears = {};
window.model = { get: k => state[k], save_changes() {}, model_id: "m",
  set(k, v) { state[k] = v; for (const f of hears["change:" + k] ?? []) f(); },
  on(names, f) { for (const n of names.split(" ")) (hears[n] ??= []).push(f); } };
grid.render({ model: window.model, el: document.getElementById("here") });</script>"""


def show(page, rows, width=1180, field=("fastener_log", "bolts")):
    grid = Grid(get(field[0]).field(field[1]).columns, rows)
    read = {name: (STATIC / name).read_text(encoding="utf-8") for name in ("form.css", "grid.css", "grid.js")}
    script = read["grid.js"].replace("export default", "window.grid =")
    page.set_viewport_size({"width": width, "height": 900})
    state = json.dumps({k: getattr(grid, k) for k in TRAITS}).replace("</", "<\\/")
    page.set_content(PAGE % (read["form.css"], read["grid.css"], script, state))
    return grid


def cell(page, r, c):
    return page.locator(f"[data-r='{r}'][data-c='{c}']")


def value(page):
    return page.evaluate("model.get('value')")


HOLE, HAND, REASON = 8, 9, 11
THIRTY = [{"name": str(k), "thread": "M10x1.25", "hole": "blind"} for k in range(1, 31)]


def test_arrows_pass_a_choice_without_changing_it(page):
    show(page, THIRTY)
    cell(page, 2, HOLE).focus()
    for key in ("ArrowDown", "ArrowDown", "ArrowUp", "ArrowRight", "ArrowLeft", "Enter"):
        page.keyboard.press(key)
    assert page.evaluate("[document.activeElement.dataset.r, document.activeElement.dataset.c]") == ["4", str(HOLE)]
    assert [r[HOLE] for r in value(page)[:30]] == ["blind"] * 30
    page.keyboard.press("t")  # a letter picks
    assert value(page)[4][HOLE] == "through"
    page.keyboard.press("Delete")
    assert value(page)[4][HOLE] == ""


def test_a_cell_is_copied_from_above_by_key(page):
    show(page, THIRTY)
    cell(page, 0, REASON).fill("length within the limit")
    cell(page, 1, REASON).focus()
    page.keyboard.press("Control+d")
    page.keyboard.press("Enter")
    page.keyboard.press("Control+d")
    assert [r[REASON] for r in value(page)[:4]] == ["length within the limit"] * 3 + [""]


def test_a_whole_row_is_copied_from_above_by_one_press(page):
    show(page, THIRTY[:2])
    copy = page.get_by_role("button", name="Copy the row above")
    assert copy.is_disabled()
    cell(page, 0, HOLE).focus()
    assert copy.is_disabled(), "there is no row above the first"
    cell(page, 2, REASON).focus()
    copy.click()
    rows = value(page)
    assert rows[2] == rows[1]
    assert rows[3] == [""] * len(rows[1])
    assert page.evaluate("document.activeElement.dataset.r") == "2", "the name is changed next"


def test_a_phone_shows_digits_only_where_nothing_else_is_typed(page):
    grid = show(page, THIRTY[:1])
    names = [c.name for c in grid.columns]
    pads = {n: cell(page, 0, k).evaluate("e => e.inputMode") for k, n in enumerate(names)}
    assert pads["length"] == "decimal"
    assert pads["x"] == "", "it may be negative"
    assert pads["pitch_bolt"] == "", "a word may be typed instead"
    assert pads["name"] == ""


def test_rows_from_a_spreadsheet_pick_the_words_and_keep_the_rest(page):
    show(page, [])
    row = "A1\t0\t0\tM8x1\t\t\t110\tFLAT\tdeep \tLeft\tnew\t\t<b>oil</b>\tthread\tYES\tno\r\n"
    page.evaluate(PASTE, [cell(page, 0, 0).element_handle(), row * 3])
    kept = value(page)[0]
    assert kept[7:11] == ["flat", "deep", "left", "new"], "upper case is no other word; an unknown word stays"
    assert kept[12] == "<b>oil</b>"
    assert cell(page, 0, HOLE).input_value() == "deep"
    assert len(value(page)) == 4, "one empty row to go on in"
    assert page.locator("b").count() == 0


@pytest.mark.parametrize("width", [1180, 820, 390])
def test_name_and_heading_stay_in_sight_and_nothing_else_scrolls(page, width):
    long = "109.4 mm under the head, within 110 mm, bench notes of the teaching workshop, sheet 14"
    show(page, [r | {"reason": long} for r in THIRTY], width)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), "the page itself scrolls sideways"
    left = cell(page, 0, 0).bounding_box()["x"]
    for c in range(1, 16):
        cell(page, 29, c).focus()
        seen = cell(page, 29, c).bounding_box()
        assert seen["height"] >= 40
        assert seen["x"] >= left + cell(page, 29, 0).bounding_box()["width"] - 1, "hidden behind the first column"
        box = page.locator(".shop-grid-box").bounding_box()
        assert seen["x"] + seen["width"] <= box["x"] + box["width"], "runs out of sight"
    assert cell(page, 29, 0).bounding_box()["x"] == left
    heading = page.locator("thead th").first.bounding_box()
    assert heading["y"] >= page.locator(".shop-grid-box").bounding_box()["y"]
    whole = cell(page, 3, REASON).evaluate("e => [e.scrollHeight, e.clientHeight, e.scrollWidth, e.clientWidth]")
    assert whole[0] <= whole[1] + 1, "a long text is cut"
    assert whole[2] <= whole[3]


def test_on_a_phone_a_wide_first_column_scrolls_away(page):
    show(page, [{"step": "head bolts loosened", "state": "done"}] * 3, 300, ("strip_log", "steps"))
    cell(page, 1, 7).focus()
    assert cell(page, 1, 0).bounding_box()["x"] < 0
    assert 0 <= cell(page, 1, 7).bounding_box()["x"] < 260


def test_a_long_word_beside_numbers_is_not_cut(page):
    show(page, [{"name": "1", "pitch_bolt": "not gauged"}])
    assert cell(page, 0, 4).evaluate("e => e.scrollWidth <= e.clientWidth")


def test_bad_cells_are_marked_and_the_column_says_what_it_is_about(page):
    show(page, THIRTY)
    page.evaluate("document.getElementById('here').className = 'shop-field shop-bad'")  # as the form marks a bad table
    page.evaluate("model.set('bad', ['2,8', '31,0'])")
    borders = page.locator(".shop-grid-tools select").evaluate_all("all => all.map(e => getComputedStyle(e).border)")
    assert borders, "no list of units to look at"
    assert not any("dashed" in border for border in borders), "a list of units is marked for the error of a cell"
    assert page.locator("[aria-invalid=true]").count() == 1
    assert cell(page, 2, HOLE).evaluate("e => getComputedStyle(e).borderTopStyle") == "dashed"
    cell(page, 2, HOLE).focus()
    assert page.locator(".shop-grid-hint").inner_text() == "Hole: wet: the hole opens into coolant or oil"


def test_a_choice_is_shown_by_its_label_and_stored_by_its_word(page):
    show(page, [{"step": "find", "what": "gasket burnt"}], field=("strip_log", "steps"))
    step = cell(page, 0, 0)
    assert step.locator("option:checked").inner_text() == "finding"
    step.select_option(label="timing drive removed")
    assert value(page)[0][0] == "drive off"
    page.evaluate(PASTE, [cell(page, 1, 0).element_handle(), "Timing lock fitted\t\tdone\n"])
    assert value(page)[1][0] == "lock in", "pasted by its label"


def test_the_unit_of_a_column_is_chosen_once(page):
    """Bare numbers get the chosen unit at once and show it; numbers that are there keep the unit that they had."""
    rows = [{"name": "1 left", "goes": "0.05"}]
    grid = show(page, rows, field=("flatness_lines", "lines"))
    names = [c.name for c in grid.columns]
    goes, no_go = names.index("goes"), names.index("no_go")
    page.get_by_label("A number without a unit is in").select_option("thou")
    assert value(page)[0][goes] == "0.05 mm"
    assert page.locator("thead th").nth(goes).inner_text() == "Leaf that fits, thou"
    cell(page, 0, no_go).press_sequentially("2+1")
    assert value(page)[0][no_go] == "2+1 thou", "it means this from the first keystroke on"
    assert cell(page, 0, no_go).input_value() == "2+1", "nothing is written into the box while somebody types in it"
    cell(page, 0, no_go).press("Enter")
    assert cell(page, 0, no_go).input_value() == "2+1 thou"
    assert cell(page, 1, no_go).get_attribute("aria-label") == "row 2, Leaf that does not fit, thou"
    cell(page, 0, no_go).fill("0.06 mm")
    assert value(page)[0][no_go] == "0.06 mm", "a unit that was typed counts"
    page.evaluate(PASTE, [cell(page, 1, goes).element_handle(), "3\t4\n"])
    assert value(page)[1][goes : goes + 2] == ["3 thou", "4 thou"]
    page.get_by_label("A number without a unit is in").select_option("mm")
    cell(page, 2, goes).fill("0.07")
    assert [row[goes] for row in value(page)[:3]] == ["0.05 mm", "3 thou", "0.07"], "the heading gives the usual unit"
    read = grid._with_unit(grid.columns[goes], "0.07")
    assert read == "0.07 mm"
