"""The connection is lost: said at once, nothing can be pressed, no old "saved" stays; and it comes back by itself."""

import re

import psutil
import pytest
from playwright.sync_api import expect

from shoplib.desk import STATIC
from shoplib.desk.widgets.session import session
from tests.browser import desk_actions, server
from tests.browser.conftest import Guarded, new_context
from tests.browser.test_guide import NOTEBOOK, Hand, begun  # noqa: F401 -- a fixture
from tests.browser.test_job import Pages
from tests.browser.test_lab import open_and_run
from tests.browser.test_pages import set_out

FORM = "61-preload-from-torque.ipynb"
WORDS = "NOT SAVED – NO CONNECTION"
FACES = {"lab": (server.lab, open_and_run), "pages": (server.pages, set_out)}


def test_it_is_seen_within_two_seconds():
    """How often is asked, and how long for an answer; a page that waits for both has waited no longer."""
    every, patience = re.search(r"EVERY = (\d+), PATIENCE = (\d+)", (STATIC / "ground.js").read_text()).groups()
    assert int(every) + int(patience) < 2000


@pytest.mark.parametrize("face", FACES)
def test_a_lost_connection_is_said_and_nothing_can_be_pressed(browser, tmp_path, face):
    serve, show = FACES[face]
    guarded = Guarded(new_context(browser))
    page = guarded.page
    with serve(tmp_path / "notebooks") as base:
        show(page, base, FORM)
        form = page.locator(".jupyter-widgets.shop", has=page.locator(".shop-keep")).first
        bar = form.locator(".shop-keep").first
        button = desk_actions.button(bar, "Save this to a job").or_(desk_actions.button(bar, "Save to the job")).first
        expect(button).to_be_enabled(timeout=desk_actions.PATIENCE)
        desk_actions.box(form, "Torque").fill("80 Nm")
        saved = form.locator(".shop-draft", has_text="draft kept")
        expect(saved).to_be_visible(timeout=desk_actions.PATIENCE)
        banner = page.get_by_role("alert").filter(has_text=WORDS)
        expect(banner).to_have_count(0)
        guarded.check()

        guarded.context.set_offline(True)  # the tablet leaves the range of the network
        expect(banner).to_be_visible()
        expect(button).to_be_disabled()
        expect(saved).to_be_hidden()
        assert banner.evaluate("e => e.getBoundingClientRect().top") == 0
        desk_actions.box(form, "Torque").fill("85 Nm")
        guarded.context.set_offline(False)
        expect(banner).to_have_count(0)
        expect(button).to_be_enabled()
        expect(saved).to_be_visible()
        shown = form.locator("[data-result=preload]")
        expect(shown.first).to_contain_text("51.6 kN", timeout=desk_actions.PATIENCE)

        port = base.rpartition(":")[2]
        (ours,) = [
            one for one in psutil.Process().children() if any(word.endswith(f"port={port}") for word in one.cmdline())
        ]
        ours.kill()
        expect(banner).to_be_visible()
        expect(button).to_be_disabled()
        expect(saved).to_be_hidden()
        expect(desk_actions.box(form, "Torque")).to_have_value("85 Nm")  # what was typed stays
    assert guarded.outside == []
    guarded.context.close()


@pytest.mark.parametrize("where", [Pages])
@pytest.mark.usefixtures("begun")
def test_enter_without_a_connection_ticks_no_bolt_later(browser, pages, where):
    guarded = Guarded(new_context(browser))
    page = guarded.page
    hand = Hand(where(page, pages).open(NOTEBOOK))
    hand.sees(1, "1", 4)
    hand.waits()
    guarded.context.set_offline(True)
    expect(page.get_by_role("alert").filter(has_text=WORDS)).to_be_visible()
    expect(hand.done).to_be_disabled()
    hand.box("Or type your reading").focus()
    page.keyboard.insert_text("40 N*m")
    page.keyboard.press("Enter")
    guarded.context.set_offline(False)
    expect(page.get_by_role("alert")).to_have_count(0)
    expect(hand.box("Or type your reading")).to_have_value("40 N*m")
    hand.sees(1, "1", 4)
    assert len(session.store().job(session.number).ticks) == 4
    page.keyboard.press("Enter")  # now it counts
    hand.sees(1, "6", 5)
    assert guarded.outside == []
    guarded.context.close()
