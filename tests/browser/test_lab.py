"""The notebooks in the real JupyterLab, by keyboard and mouse."""

import re

import pytest
from playwright.sync_api import TimeoutError, expect

from tests import ci_part
from tests.browser import axe, desk_actions
from tests.browser.conftest import CLOSE
from tests.browser.server import TOKEN
from tests.notebooks import CONTENTS, FOLDER, names

IDLE = re.compile(r"^(?!No Kernel).*\| Idle$")  # the execution indicator says idle before there is a kernel

NUMBERS = ", ".join(f"[placeholder^='{digit}']" for digit in range(10))  # boxes that want a number
LEAST = 40  # pixels of whatever a finger presses
EVERY = [n for n in names() if n != CONTENTS]

FORM = ":is(.shop-results, input, button)"  # what is there to see or press once a form stands


# The frame around it (menus, tab bars, the cells' own toolbars) is JupyterLab's.
OURS = ".jp-NotebookPanel:not(.lm-mod-hidden) .jp-Cell-outputArea"


def has_form(name):
    text = (FOLDER / name).read_text(encoding="utf-8")
    for_reading = "Glossary(" in text or "MyClass(" in text  # the second, until the learner is in a class
    return "shoplib.desk" in text and not for_reading


def open_and_run(page, lab, name):
    page.goto(f"{lab}/lab/tree/{name}?token={TOKEN}&reset", wait_until="domcontentloaded")
    return run_all(page)


def bring_and_run(desk, name):
    """The same in a JupyterLab that stands already.

    A new kernel may find its port taken in the meantime and not start (ZMQ, "address already in use"): then once more.
    """
    desk.evaluate(CLOSE, [name])
    show(desk, name)
    try:
        return run_all(desk)
    except TimeoutError:
        desk.evaluate(CLOSE, [name])
        show(desk, name)
        return run_all(desk)


def show(desk, name):
    """Bring a notebook to the front; its kernel is there."""
    desk.evaluate(
        """async path => { const open = await jupyterapp.commands.execute('docmanager:open', { path });
      jupyterapp.shell.activateById(open.id);
      await open.context.sessionContext.ready; }""",
        name,
    )


def jobs_in(desk):
    """The desk of jobs: notebook 91 is run once and stays open beside the others."""
    if desk.locator(".jp-NotebookPanel .shop-jobdesk").count():
        show(desk, desk_actions.LESSON)
    else:
        bring_and_run(desk, desk_actions.LESSON)
    return desk.locator(".jp-NotebookPanel:not(.lm-mod-hidden) .shop-jobdesk").first


def run_all(page):
    """The notebook runs by itself when it is shown."""
    panel = page.locator(".jp-NotebookPanel:not(.lm-mod-hidden)")
    panel.and_(page.locator("[data-ran]")).wait_for(timeout=60_000)
    page.locator("#jp-main-statusbar .jp-StatusBar-TextItem", has_text=IDLE).wait_for(timeout=60_000)
    return panel


def field(panel, label, n=0):
    """The text box under a label."""
    return panel.locator(".shop-field", has=panel.page.locator(".shop-label", has_text=label)).nth(n).locator("input")


def test_typing_a_torque_shows_another_preload(desk):
    panel = bring_and_run(desk, "61-preload-from-torque.ipynb")
    assert panel.locator(".jp-WindowedPanel-outer").evaluate("e => e.scrollTop") == 0, "it stays at the top"
    answer = panel.locator(".jupyter-widgets [data-result=preload]")
    desk_actions.fill(panel.locator(".jupyter-widgets.shop").first)
    answer.filter(has_text="24.3 kN").first.wait_for(timeout=60_000)
    torque = field(panel, "Torque")
    torque.fill("80 Nm")
    answer.filter(has_text="48.5 kN").first.wait_for(timeout=60_000)
    # a bad value: the result goes, the reason stands beside the field, what was typed stays
    torque.fill("80")
    error = panel.locator(".shop-field .shop-error").first
    error.wait_for(timeout=60_000)
    assert "unit" in error.inner_text()
    panel.locator(".shop-stop").first.wait_for(timeout=60_000)
    assert torque.input_value() == "80"
    torque.press_sequentially(" N*m")
    answer.filter(has_text="48.5 kN").first.wait_for(timeout=60_000)
    # the picture is drawn and says in words what it shows
    assert panel.locator(".jupyter-widgets svg").first.bounding_box()["width"] > 300
    assert panel.locator("[role=img]").first.get_attribute("aria-label")


@pytest.mark.parametrize("name", EVERY)
def test_every_notebook_runs_and_its_form_is_used(desk, kept_in_lab, name):
    page, panel = desk, bring_and_run(desk, name)
    if has_form(name):
        panel.locator(".jupyter-widgets.shop").locator(FORM).locator("visible=true").first.wait_for(timeout=60_000)
    page.locator("#jp-main-statusbar .jp-StatusBar-TextItem", has_text=IDLE).wait_for(timeout=60_000)
    assert panel.locator("[data-mime-type='application/vnd.jupyter.stderr']").count() == 0
    for wide in panel.locator(".jupyter-widgets.shop").all():
        assert wide.evaluate("e => e.scrollWidth <= e.clientWidth + 1"), "the form scrolls sideways"
    if ci_part.ALL:  # else the pages answer for the same forms
        assert axe.run(page, within=OURS) == []
    use(panel, name, kept_in_lab)


def test_what_was_kept_in_jupyterlab_is_on_the_sheet(request, desk, kept_in_lab):
    """One sheet for all notebooks: made after each of them, it would say the same 30 times."""
    asked_for = desk_actions.asked_for(request.session, "test_every_notebook_runs_and_its_form_is_used")
    if not asked_for:
        pytest.skip("this run asks for no notebook that keeps anything")
    desk_actions.all_on_the_sheet(jobs_in(desk), kept_in_lab, asked_for)


def use(place, name, kept, *, tab=False):
    """By keys, with a bad value, and by mouse: what is shown is kept in a job, and noted in ``kept``."""
    slider = place.locator("input[type=range]").locator("visible=true")
    one_number = f"input:is({NUMBERS}):not([placeholder*='; 5; '])"  # an order of bolts takes any name
    name_of_bolt = place.page.locator(".shop-label", has_text=re.compile(r"^\s*Bolt\b"))  # takes any name too
    fields = place.locator(".shop-desk > .shop-fields .shop-field").filter(has_not=name_of_bolt)
    boxes = fields.locator(one_number).locator("visible=true")
    if slider.count():
        a_slider_by_keys(place.page, slider.first)
    if boxes.count():
        a_bad_value_by_keys_alone(place.page, boxes.first, tab=tab)
    if place.locator(".shop-evidence input").count():
        the_evidence_is_searched(place.page, place.locator(".jupyter-widgets.shop-evidence"), tab=tab)
        a_fold_opens_and_closes(place.page, place.locator(".shop-evidence:not(.jupyter-widgets) details").first)
    if desk_actions.can(name):
        kept[name] = desk_actions.in_a_job(place, name)


def a_bad_value_by_keys_alone(page, box, *, tab):
    """Type nonsense, read why, put back what stood there; on a page of our own by Tab alone."""
    if tab:
        tab_to(page, box)
    else:
        box.focus()  # between the menus and here there are JupyterLab's own stops
    assert box.evaluate("e => getComputedStyle(e).outlineStyle") != "none", "no sign of where the keys go"
    stood = box.input_value()
    page.keyboard.press("Control+A")
    page.keyboard.insert_text("rubbish 1,234.5")
    field = page.locator(".shop-field", has=page.locator(":focus"))
    error = field.locator(".shop-error")
    error.wait_for(timeout=60_000)
    assert error.get_attribute("role") == "alert"
    assert box.input_value() == "rubbish 1,234.5", "what was typed stays"
    page.keyboard.press("Control+A")
    page.keyboard.insert_text(stood) if stood else page.keyboard.press("Delete")
    error.wait_for(state="detached", timeout=60_000) if stood else None
    page.keyboard.press("Tab")
    assert not box.evaluate("e => e === document.activeElement"), "the keys are caught in the box"


def the_evidence_is_searched(page, desk, *, tab):
    """A topic, a standard, and what is nowhere: mark-up and a word without end, shown as they were typed."""
    box, found, none = desk.locator("input"), desk.locator(".shop-stands"), desk.get_by_text("Nothing here contains")

    def search(words):
        page.keyboard.press("Control+A")
        page.keyboard.insert_text(words) if words else page.keyboard.press("Delete")

    tab_to(page, box) if tab else box.focus()
    everything = found.count()
    page.keyboard.type("Flatness")  # key by key: what stands at the end is for the whole word
    expect(found.filter(has_not_text=re.compile("flatness", re.I))).to_have_count(0, timeout=60_000)
    some = found.count()
    assert 0 < some < everything
    said = desk.locator("p", has=page.locator("b")).first
    expect(said).to_have_text(f"{some} formulas")
    a_fold_opens_and_closes(page, found.locator("details").first)

    # a standard: its comparisons open, and too many formulas say so
    box.focus()
    search("VDI 2230")
    source = desk.locator(".widget-html-content > details").first
    source.wait_for(timeout=60_000)
    expect(source.locator("summary")).to_contain_text("VDI 2230")
    a_fold_opens_and_closes(page, source)
    assert desk.locator("tr", has_text="46.4 kN").count(), "the row that the notebook tells the reader to look for"
    expect(said).to_contain_text("or fewer")

    for odd in ("<b>bold</b> <img src=x onerror=alert(1)> & “more”", "h" * 400):
        box.focus()
        search(odd)
        expect(none).to_contain_text(odd, timeout=60_000)
        assert box.input_value() == odd
        assert found.count() == desk.locator("b, img").count() == 0, "what was typed became mark-up"
        assert desk.evaluate("e => e.scrollWidth <= e.clientWidth + 1"), "a long word is wider than the page"
    search("")
    expect(found).to_have_count(everything, timeout=60_000)


def a_fold_opens_and_closes(page, fold):
    """By keys and by mouse."""
    head = fold.locator("summary").first
    inside = fold.locator("table").first
    expect(inside).to_be_hidden()
    head.focus()
    page.keyboard.press("Enter")
    expect(inside).to_be_visible(timeout=60_000)
    head.click()
    expect(inside).to_be_hidden()


def tab_to(page, box):
    page.evaluate("document.activeElement?.blur()")
    box.evaluate("""e => { const all = [...document.querySelectorAll("input, textarea, button, select, a[href], summary, [tabindex='0']")];
      const before = all.filter(o => o.offsetParent && !o.disabled && o.compareDocumentPosition(e) & Node.DOCUMENT_POSITION_FOLLOWING).at(-1);
      if (before) before.focus(); else { document.body.tabIndex = -1; document.body.focus(); } }""")
    for _ in range(3):  # a table or picture that scrolls in its box is a stop on the way
        page.keyboard.press("Tab")
        if box.evaluate("e => e === document.activeElement"):
            return
    pytest.fail("Tab does not reach the box")


def a_slider_by_keys(page, slider):
    """It has a name, shows its position as text, and an arrow moves it; the other arrow moves it back.

    The slider of a guess has no position before it is moved, so the first move cannot be undone.
    """
    assert slider.get_attribute("aria-label")
    assert slider.bounding_box()["height"] >= LEAST
    slider.focus()
    first = a_key_moves(page, slider, "ArrowRight")
    a_key_moves(page, slider, "ArrowRight")
    assert a_key_moves(page, slider, "ArrowLeft") == first


def a_key_moves(page, slider, key):
    """Press the key; the new position as text."""
    was = slider.get_attribute("aria-valuetext")
    page.keyboard.press(key)
    moved = "([e, was]) => e.getAttribute('aria-valuetext') !== was"
    page.wait_for_function(moved, arg=[slider.element_handle(), was])
    return slider.get_attribute("aria-valuetext")


# The first message that brings a text of a form is lost on its way; and what kinds of message the browser sends.
LOSE = """() => { const settings = jupyterapp.serviceManager.serverSettings, Plain = settings.WebSocket;
  const words = data => new TextDecoder("latin1").decode(data);
  window.lost = 0; window.sent = []; window.mend = () => { settings.WebSocket = Plain; };
  settings.WebSocket = class extends Plain {
    set onmessage(heard) { super.onmessage = e => {
      if (!window.lost && ['"comm_open"', '"HTMLModel"'].every(word => words(e.data).includes(word))) window.lost++; else heard(e); }; }
    get onmessage() { return super.onmessage; }
    send(data) { window.sent.push(words(data).match(/"msg_type": ?"(\\w+)"/)?.[1]); super.send(data); }
  }; }"""


def test_a_notebook_that_lost_a_widget_on_its_way_is_shown_whole(desk):
    """It runs once more; and its forms answer in the thread that runs its cells, so that the two cannot cross."""
    desk.evaluate(LOSE)
    panel = bring_and_run(desk, "61-preload-from-torque.ipynb")
    desk.evaluate("mend()")
    assert desk.evaluate("lost") == 1
    panel.locator(".jupyter-widgets.shop").locator(FORM).locator("visible=true").first.wait_for(timeout=60_000)
    assert panel.locator(".jupyter-widgets-error-widget").count() == 0
    kinds = set(desk.evaluate("sent"))
    assert "execute_request" in kinds
    assert "create_subshell_request" not in kinds


def test_forms_in_jupyterlab_are_for_everybody_also_in_the_dark(desk):
    page, panel = desk, bring_and_run(desk, "31-straightedge-and-feeler.ipynb")
    panel.locator(".jupyter-widgets.shop .shop-results").first.wait_for(timeout=60_000)
    assert axe.run(page, within=OURS) == []
    change_theme(page, "JupyterLab Dark")
    page.locator("body[data-jp-theme-light=false]").wait_for(state="attached")
    wrong = axe.run(page, within=OURS, only=("color-contrast",))
    change_theme(page, "JupyterLab Light")
    page.locator("body[data-jp-theme-light=true]").wait_for(state="attached")
    assert wrong == []


def test_a_form_has_its_own_keys(desk):
    """The notebook's own shortcuts (arrows, "d d" to delete a cell) do not reach a list, a slider or a button of ours."""
    page, panel = desk, bring_and_run(desk, "22-fasteners.ipynb")
    choice = panel.locator(".jupyter-widgets.shop select").locator("visible=true").first
    choice.wait_for(timeout=60_000)
    cells = "jupyterapp.shell.currentWidget.content.model.cells.length"
    before = page.evaluate(cells)
    choice.focus()
    for key in ("d", "d", "ArrowDown"):
        page.keyboard.press(key)
    assert page.evaluate(cells) == before, "a cell is gone"
    assert choice.evaluate("e => e === document.activeElement"), "the notebook took the arrow"


def change_theme(page, theme):
    page.evaluate("async theme => { await jupyterapp.commands.execute('apputils:change-theme', { theme }); }", theme)
