"""The grid of readings in the real JupyterLab: keys, paste from a spreadsheet, decimal commas, an empty row to go on in."""

from playwright.sync_api import expect

from shoplib.topics import get
from tests.browser import desk_actions
from tests.browser.test_lab import bring_and_run

GOES, NO_GO = ([c.name for c in get("flatness_lines").field("lines").columns].index(n) for n in ("goes", "no_go"))

PASTE = """([cell, text]) => { const data = new DataTransfer(); data.setData("text", text);
  cell.dispatchEvent(new ClipboardEvent("paste", { clipboardData: data, bubbles: true, cancelable: true })); }"""


def test_keys_paste_and_commas(desk):
    page, panel = desk, bring_and_run(desk, "31-straightedge-and-feeler.ipynb")
    shop = panel.locator(".jupyter-widgets.shop").first
    grid = shop.locator(".shop-grid").first

    def cell(r, c):
        return grid.locator(f"[data-r='{r}'][data-c='{c}']")

    desk_actions.fill(shop)
    # the leaf that decides was tried and does not go: a decimal comma, no unit
    cell(1, NO_GO).fill("0,06")
    line = shop.locator(".shop-checks tr", has_text="Line “2 rear").filter(has_text="pass")
    line.wait_for(timeout=60_000)
    assert cell(1, NO_GO).input_value() == "0,06"
    # Enter and the arrows move the eye down, up and across
    cell(1, NO_GO).press("Enter")
    assert page.evaluate("document.activeElement.dataset.r + document.activeElement.dataset.c") == f"2{NO_GO}"
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowLeft")
    assert page.evaluate("document.activeElement.dataset.r + document.activeElement.dataset.c") == f"1{GOES}"
    # rows pasted from a spreadsheet: one of them bad, and every one stays
    last = grid.locator("tbody tr").count() - 1
    page.evaluate(
        PASTE, [cell(last, 0).element_handle(), "7 new\t\tA\tB\t\t0,03\t0,04\r\n8 new\t\tH\tC\t\t0,10\t0,12\r\n"]
    )
    shop.locator(".shop-outcome[data-outcome=fail]").wait_for(timeout=60_000)
    assert cell(last + 1, GOES).input_value() == "0,10"
    assert cell(last + 2, 0).input_value() == "", "one empty row to go on in"
    # blank is missing, not zero
    cell(last + 1, GOES).fill("")
    cell(last + 1, NO_GO).fill("")
    shop.locator(".shop-outcome[data-outcome=undecided]").wait_for(timeout=60_000)
    # a row is deleted, the table emptied, and neither is lost by a slip
    rows = grid.locator("tbody tr")
    held = rows.count()
    cell(0, 0).focus()
    shop.get_by_role("button", name="Delete row 1", exact=True).click()
    expect(rows).to_have_count(held - 1)
    assert cell(0, 0).input_value() == "2 rear, along"
    shop.get_by_role("button", name="Restore the rows").first.click()
    expect(rows).to_have_count(held)
    shop.get_by_role("button", name="Clear the table").first.click()
    expect(rows).to_have_count(1)
    assert cell(0, 0).input_value() == ""
    shop.get_by_role("button", name="Restore the rows").first.click()
    expect(rows).to_have_count(held)
    assert cell(0, 0).input_value() == "1 front, along"
