"""The same notebooks as pages without code: on a desk screen, a tablet, a phone and at 200 %; light and dark; by keys alone.

One page is set out for each notebook and everything is asked of it, because setting one out is what takes time.
"""

import pytest

from tests.browser import axe, desk_actions
from tests.browser.conftest import Guarded, new_context
from tests.browser.server import TOKEN
from tests.browser.test_lab import FORM, LEAST, has_form, use
from tests.notebooks import names, title

SIZES = {
    "desk": (1280, 1000),
    "tablet": (820, 1180),
    "zoom": (640, 500),
    "phone": (390, 844),
}  # zoom: 1280 × 1000 at 200 %

# what sticks out of the page, and is not inside a box of its own that scrolls
WIDE = """() => [...document.querySelectorAll("#rendered_cells *")].filter(e => {
  if (e.getBoundingClientRect().right <= innerWidth + 1) return false;
  for (let p = e.parentElement; p; p = p.parentElement) if (/auto|scroll|hidden/.test(getComputedStyle(p).overflowX)) return false;
  return true; }).slice(0, 5).map(e => `${e.tagName}.${e.className}: ${e.textContent.trim().slice(0, 40)}`)"""
CUT = """() => [...document.querySelectorAll(".shop-label, .widget-label, .shop h4, .shop button")]
  .filter(e => e.offsetParent && getComputedStyle(e).display !== "inline" && e.scrollWidth > e.clientWidth + 1)
  .map(e => e.textContent.trim())"""
SMALL = """([within, least]) => [...document.querySelectorAll(within)].flatMap(
  place => [...place.querySelectorAll("button, input, select, textarea, summary, a[href]")]).filter(e => {
  const r = e.getBoundingClientRect();
  return e.offsetParent && r.width && (r.height < least - 0.5) && !(e.tagName === "A" && e.closest("p, li, td"));
  }).map(e => `${e.tagName} ${e.className} ${e.textContent.trim().slice(0, 30)}: ${e.getBoundingClientRect().height}`)"""

MUTE = """() => [...document.querySelectorAll("[data-painted]")].map(e => e.shadowRoot.querySelector("svg"))
  .filter(e => e.getAttribute("role") !== "img" || (e.getAttribute("aria-label") ?? "").length < 10).map(e => e.outerHTML.slice(0, 120))"""


def set_out(page, pages, name):
    """The page of a notebook, when its first form stands."""
    page.goto(f"{pages}/voila/render/{name}?token={TOKEN}", wait_until="commit", timeout=180_000)
    page.locator("#rendered_cells").wait_for(timeout=180_000)
    forms = page.locator(".jupyter-widgets.shop")
    if has_form(name):
        forms.locator(FORM).locator("visible=true").first.wait_for(timeout=60_000)
    return forms


def unfold(page):
    """Open every part of the page that is behind its title."""
    for fold in page.locator(".shop-fold").all():
        head = fold.locator("> .widget-toggle-button")
        if head.text_content().startswith("▸"):
            head.click()
        fold.locator("> .shop").first.wait_for(timeout=60_000)


def fits(page, size):
    """What does not, on a screen of that size."""
    width, height = SIZES[size]
    page.set_viewport_size({"width": width, "height": height})
    page.evaluate("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
    wrong = []
    if page.evaluate("document.documentElement.scrollWidth > innerWidth + 1"):
        wrong += [f"{size} scrolls sideways: {e}" for e in page.evaluate(WIDE)]
    return wrong + [f"{size} cuts: {words}" for words in page.evaluate(CUT)]


@pytest.mark.parametrize("name", names())
def test_a_page_on_every_screen_and_for_everybody(tab, pages, kept_on_pages, name):
    page = tab
    set_out(page, pages, name)
    assert page.title() == title(name)
    unfold(page)
    assert page.locator("html").get_attribute("lang") == "en"
    assert page.locator(".jp-InputArea-editor:visible").count() == 0, "code shows"
    assert page.locator("[data-mime-type='application/vnd.jupyter.stderr']").count() == 0
    wrong = []
    for size in SIZES:
        wrong += fits(page, size)
    wrong += [f"too small to press: {e}" for e in page.evaluate(SMALL, ["body", LEAST])]  # on the phone, the last size
    wrong += [f"light: {e}" for e in axe.run(page)]
    page.emulate_media(color_scheme="dark")
    page.locator("body[data-jp-theme-light=false]").wait_for(state="attached")
    wrong += [f"dark: {e}" for e in axe.run(page, only=("color-contrast",))]
    wrong += [f"a picture without words: {e}" for e in page.evaluate(MUTE)]
    assert wrong == []
    use(page.locator("body"), name, kept_on_pages, tab=True)


def test_what_was_kept_on_the_pages_is_on_the_sheet(request, tab, pages, kept_on_pages):
    """As in JupyterLab, one sheet for all."""
    asked_for = desk_actions.asked_for(request.session, "test_a_page_on_every_screen_and_for_everybody")
    if not asked_for:
        pytest.skip("this run asks for no notebook that keeps anything")
    set_out(tab, pages, desk_actions.LESSON)
    desk_actions.all_on_the_sheet(tab.locator(".shop-jobdesk").first, kept_on_pages, asked_for)


def test_the_button_reads_the_file_of_a_trace(tab, pages, tmp_path):
    rows = "\n".join(f"{x};{str(max(0.0, x - 10) * 0.8 + 0.3)[:5].replace('.', ',')}" for x in range(0, 80, 2))
    (tmp_path / "mine.csv").write_text("angle_deg;torque_Nm\n" + rows)
    (tmp_path / "wrong.csv").write_text("no numbers\n")
    forms = set_out(tab, pages, "66-trace-of-the-wrench.ipynb")
    box = tab.locator("textarea").first
    before = box.input_value()

    def choose(name):
        with tab.expect_file_chooser() as chooser:
            forms.first.get_by_role("button", name="Read a CSV file").click()
        chooser.value.set_files(tmp_path / name)

    choose("mine.csv")
    tab.wait_for_function("before => document.querySelector('textarea').value !== before", arg=before, timeout=30_000)
    assert box.input_value().splitlines()[1:3] == ["0;0.3", "2;0.3"]
    tab.get_by_text("40", exact=True).locator("visible=true").first.wait_for(timeout=30_000)  # samples evaluated
    choose("wrong.csv")
    tab.get_by_text("no line has two numbers").first.wait_for(timeout=30_000)
    assert box.input_value().splitlines()[1:2] == ["0;0.3"], "what was read before stays"
    box.fill("angle_deg;torque_Nm\n0;1\n2;3")  # pasted, and the box is not left
    tab.get_by_text("has 2 rows with an angle and a torque").first.wait_for(timeout=30_000)


def test_a_page_that_lost_a_widget_on_its_way_is_shown_whole(tab, pages):
    """What JupyterLab's manager of widgets draws in the place of a lost one is gone, and the page has new forms."""
    set_out(tab, pages, "61-preload-from-torque.ipynb")
    lost = "<div class='jupyter-widgets-error-widget'></div>"
    tab.evaluate(
        "lost => document.querySelector('.jupyter-widgets.shop').parentElement.insertAdjacentHTML('beforeend', lost)",
        lost,
    )
    tab.locator("body[data-renewed='1']").wait_for(timeout=60_000)
    tab.locator(".jupyter-widgets.shop").locator(FORM).locator("visible=true").first.wait_for(timeout=60_000)
    assert tab.locator(".jupyter-widgets-error-widget").count() == 0


def test_a_stranger_without_the_token_sees_nothing(page, pages):
    answer = page.request.get(f"{pages}/voila/render/61-preload-from-torque.ipynb", max_redirects=0)
    assert answer.status in (302, 401, 403)
    assert "preload" not in answer.text()


def test_whoever_asks_another_machine_is_seen(browser):
    guarded = Guarded(new_context(browser))
    asks = "fetch('http://192.0.2.1/a').catch(() => 0); new Image().src = 'http://example.invalid/b.png'"
    guarded.page.set_content(f"<script>{asks}</script>")
    guarded.page.wait_for_timeout(500)
    assert {url.split("/")[2] for url in guarded.outside} == {"192.0.2.1", "example.invalid"}
    with pytest.raises(AssertionError, match="leave this machine"):
        guarded.check()
    guarded.context.close()
