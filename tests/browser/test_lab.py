"""The notebooks in the real JupyterLab, by keyboard and mouse."""

import re

import pytest

from tests.browser import axe
from tests.browser.server import TOKEN
from tests.notebooks import CONTENTS, FOLDER, names

IDLE = re.compile(r"^(?!No Kernel).*\| Idle$")  # the execution indicator says idle before there is a kernel

FORM = ":is(.shop-results, input, button)"  # what is there to see or press once a form stands


def has_form(name):
    return "shoplib.desk" in (FOLDER / name).read_text(encoding="utf-8")


def open_and_run(page, lab, name):
    page.goto(f"{lab}/lab/tree/{name}?token={TOKEN}&reset", wait_until="domcontentloaded")
    return run_all(page)


def bring_and_run(desk, name):
    """The same in a JupyterLab that stands already."""
    desk.evaluate("async path => { await jupyterapp.commands.execute('docmanager:open', { path }); }", name)
    return run_all(desk)


def run_all(page):
    panel = page.locator(".jp-NotebookPanel:not(.lm-mod-hidden)")
    panel.wait_for(timeout=60_000)
    page.locator("#jp-main-statusbar .jp-StatusBar-TextItem", has_text=IDLE).wait_for(timeout=60_000)
    panel.locator(".jp-Cell").first.wait_for()
    page.get_by_role("menuitem", name="Run", exact=True).click()
    item = page.locator("li.lm-Menu-item[data-command='runmenu:run-all']")
    item.wait_for()
    item.click()
    return panel


def field(panel, label, n=0):
    """The text box under a label."""
    return panel.locator(".shop-field", has=panel.page.locator(".shop-label", has_text=label)).nth(n).locator("input")


def test_typing_a_torque_shows_another_preload(desk):
    panel = bring_and_run(desk, "61-preload-from-torque.ipynb")
    answer = panel.locator(".jupyter-widgets [data-result=preload]")
    answer.filter(has_text="24.27 kN").first.wait_for(timeout=60_000)
    torque = field(panel, "Torque")
    torque.fill("80 Nm")
    answer.filter(has_text="48.54 kN").first.wait_for(timeout=10_000)
    # a bad value: the result goes, the reason stands beside the field, what was typed stays
    torque.fill("80")
    error = panel.locator(".shop-field .shop-error").first
    error.wait_for(timeout=10_000)
    assert "unit" in error.inner_text()
    panel.locator(".shop-stop").first.wait_for(timeout=10_000)
    assert torque.input_value() == "80"
    torque.press_sequentially(" N*m")
    answer.filter(has_text="48.54 kN").first.wait_for(timeout=10_000)
    # the picture is drawn and says in words what it shows
    assert panel.locator(".jupyter-widgets svg").first.bounding_box()["width"] > 300
    assert panel.locator("[role=img]").first.get_attribute("aria-label")


@pytest.mark.parametrize("name", [n for n in names() if n != CONTENTS])
def test_every_notebook_runs_and_shows_its_form(desk, name):
    page, panel = desk, bring_and_run(desk, name)
    if has_form(name):
        panel.locator(".jupyter-widgets.shop").locator(FORM).locator("visible=true").first.wait_for(timeout=60_000)
    page.locator("#jp-main-statusbar .jp-StatusBar-TextItem", has_text=IDLE).wait_for(timeout=60_000)
    assert panel.locator("[data-mime-type='application/vnd.jupyter.stderr']").count() == 0
    for wide in panel.locator(".jupyter-widgets.shop").all():
        assert wide.evaluate("e => e.scrollWidth <= e.clientWidth + 1"), "the form scrolls sideways"


def test_forms_in_jupyterlab_for_everybody_light_and_dark(desk):
    """Only what is ours: the frame around it (menus, tab bars, the cells' own toolbars) is JupyterLab's."""
    page, panel = desk, bring_and_run(desk, "31-straightedge-and-feeler.ipynb")
    panel.locator(".jupyter-widgets.shop .shop-results").first.wait_for(timeout=60_000)
    ours = ".jp-NotebookPanel:not(.lm-mod-hidden) .jupyter-widgets.shop"
    assert axe.run(page, within=ours) == []
    change_theme(page, "JupyterLab Dark")
    page.locator("body[data-jp-theme-light=false]").wait_for(state="attached")
    wrong = axe.run(page, within=ours, only=("color-contrast",))
    change_theme(page, "JupyterLab Light")
    page.locator("body[data-jp-theme-light=true]").wait_for(state="attached")
    assert wrong == []


def change_theme(page, theme):
    page.evaluate("async theme => { await jupyterapp.commands.execute('apputils:change-theme', { theme }); }", theme)
