"""The grid of readings in the real JupyterLab: keys, paste from a spreadsheet, decimal commas, an empty row to go on in."""

from tests.browser.test_lab import bring_and_run

PASTE = """([cell, text]) => { const data = new DataTransfer(); data.setData("text", text);
  cell.dispatchEvent(new ClipboardEvent("paste", { clipboardData: data, bubbles: true, cancelable: true })); }"""


def test_keys_paste_and_commas(desk):
    page, panel = desk, bring_and_run(desk, "31-straightedge-and-feeler.ipynb")
    shop = panel.locator(".jupyter-widgets.shop").first
    grid = shop.locator(".shop-grid").first

    def cell(r, c):
        return grid.locator(f"[data-r='{r}'][data-c='{c}']")

    shop.locator(".shop-outcome[data-outcome=undecided]").wait_for(timeout=60_000)
    # the leaf that decides was tried and does not go: a decimal comma, no unit
    cell(1, 5).fill("0,08")
    shop.locator(".shop-outcome[data-outcome=pass]").wait_for(timeout=20_000)
    assert cell(1, 5).input_value() == "0,08"
    # Enter and the arrows move the eye down, up and across
    cell(1, 5).press("Enter")
    assert page.evaluate("document.activeElement.dataset.r + document.activeElement.dataset.c") == "25"
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowLeft")
    assert page.evaluate("document.activeElement.dataset.r + document.activeElement.dataset.c") == "14"
    # rows pasted from a spreadsheet: one of them bad, and every one stays
    last = grid.locator("tbody tr").count() - 1
    page.evaluate(PASTE, [cell(last, 0).element_handle(), "7 new\tA\tB\t\t0,03\t0,04\r\n8 new\tH\tC\t\t0,10\t0,12\r\n"])
    shop.locator(".shop-outcome[data-outcome=fail]").wait_for(timeout=20_000)
    assert cell(last + 1, 4).input_value() == "0,10"
    assert cell(last + 2, 0).input_value() == "", "one empty row to go on in"
    # blank is missing, not zero
    cell(last + 1, 4).fill("")
    cell(last + 1, 5).fill("")
    shop.locator(".shop-outcome[data-outcome=undecided]").wait_for(timeout=20_000)
