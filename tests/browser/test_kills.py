"""Server, kernel or network are lost in the middle of the guide: each tick that was shown as saved is in the record, none
is shown as saved that is not, and the page goes on by itself, without a reload.

All by name only (tests/ci_part.py): ``SHOPLIB_SLOW=1 .venv/bin/pytest tests/browser/test_kills.py``.
"""

import random
import re
import signal
import time
import urllib.request

import psutil
import pytest
from playwright.sync_api import expect

from shoplib.record.receipt import new_id
from shoplib.record.store import Store
from shoplib.record.tightening import progress_of
from shoplib.topics import get
from tests.browser import server
from tests.browser.conftest import Guarded, new_context
from tests.browser.test_pages import set_out
from tests.desk.guide.helpers import PLAN
from tests.record_fixtures import HEADER

NOTEBOOK, NUMBER = "64-tightening-guide.ipynb", "26-kills"
PATIENCE = 60_000  # until a page has recovered, on a busy machine
STAGES = 20  # of six bolts: more ticks than all the moments of a test take
LISTEN = """() => { window.acks = []; window.born = Math.random();
  new MutationObserver(() => { for (const e of document.querySelectorAll(".tg-said[data-state=good]")) window.acks.push(e.textContent); })
    .observe(document.body, { childList: true, subtree: true, characterData: true }); return window.born; }"""
KERNEL = (
    "[...shoplibForms.forms].filter(([el]) => el.isConnected).map(([, it]) => it.manager?.kernel?.id).find(Boolean)"
)


class Bench:
    """A page with the guide, its server, and what the record says."""

    def __init__(self, browser, one, place):
        self.one, self.place = one, place
        with Store.open(place) as store:
            store.start(**{**HEADER, "number": NUMBER})
            stages = "; ".join(f"{10 + k} N*m" for k in range(STAGES))
            self.plan = store.keep(NUMBER, get("tightening_plan")({**PLAN, "stages": stages}), who="A. L.").uid
        self.guarded = Guarded(new_context(browser))
        self.page = self.guarded.page
        self.sockets = []
        self.page.on("websocket", lambda socket: self.sockets.append(socket))
        self.told = []
        self.page.on("console", lambda said: self.told.append(said.text))

    def open(self):
        set_out(self.page, self.one.base, "00-contents.ipynb")  # today's job, as a technician chooses it
        self.page.locator(".shop-jobs button", has_text=NUMBER).click(timeout=PATIENCE)
        self.page.locator(".pr-next a").wait_for(timeout=PATIENCE)
        set_out(self.page, self.one.base, NOTEBOOK)
        self.card = self.page.locator(".tg-card[data-bolt]")
        self.card.wait_for(timeout=PATIENCE)
        self.born = self.page.evaluate(LISTEN)
        self.done = self.page.locator("button.tg-done").locator("visible=true")

    def ready(self):
        """The same at the start of each test, whatever the test before left, and whichever runs first."""
        guide = self.page.locator(".shop.tg")
        for forget in guide.locator(".shop-typed").get_by_role("button", name="Forget it").all():
            forget.click()
        initials = guide.get_by_label("Your initials")
        if initials.input_value() != "AL":
            initials.fill("AL")
        guide.get_by_label("Or type your reading").fill("")
        expect(self.done).not_to_contain_text("41 N*m", timeout=PATIENCE)
        self.page.evaluate("window.acks = []")

    def press(self):
        self.page.wait_for_timeout(850)  # two quick presses count once
        self.done.click(timeout=PATIENCE)

    def kernel(self):
        """The process of the page's kernel."""
        name = self.page.evaluate(KERNEL)
        below = psutil.Process(self.one.process.pid).children(recursive=True)
        return next(one for one in below if any(name in word for word in one.cmdline()))

    def ticked(self):
        with Store.open(self.place) as store:
            job = store.job(NUMBER)
            return progress_of(job, self.plan), {line.n for line in job.lines}

    def recovers(self):
        """By itself, at the bolt that is next in the record; nothing was shown as saved that is not in it."""
        try:
            expect(self.page.locator(".shop-no-connection")).to_have_count(0, timeout=PATIENCE)
        except AssertionError as error:
            raise AssertionError(f"it does not recover; the console says: {self.told[-12:]}") from error
        now, lines = self.ticked()
        stage, bolt = now.next
        expect(self.card).to_have_attribute("data-bolt", bolt, timeout=PATIENCE)
        expect(self.card).to_have_attribute("data-stage", str(stage), timeout=PATIENCE)
        expect(self.page.locator(".tg-progress b")).to_have_text(f"{now.done} of {6 * STAGES}", timeout=PATIENCE)
        shown = self.page.evaluate("window.acks")
        said = {int(n) for text in shown for n in re.findall(r"saved as line (\d+)", text)}
        assert said <= lines, "shown as saved, and not in the record"
        assert self.page.evaluate("window.born") == self.born, "the page was loaded anew"
        assert self.page.get_by_text("Error displaying widget").count() == 0
        expect(self.done).to_be_enabled(timeout=PATIENCE)
        return said

    def is_cut(self):
        """Seen, no old tick is shown as saved, and no button can be pressed.

        After a second loss the banner of the first may still be there: then the page has yet to notice this one.
        """
        expect(self.page.locator(".shop-no-connection")).to_be_visible(timeout=PATIENCE)
        expect(self.page.locator(".tg-said[data-state=good]").locator("visible=true")).to_have_count(0)
        expect(self.page.locator(".shop button:enabled").locator("visible=true")).to_have_count(0)


@pytest.fixture(scope="module")
def bench(browser, tmp_path_factory):
    folder = tmp_path_factory.mktemp("kills") / "notebooks"
    with server.pages_to_kill(folder) as one:
        it = Bench(browser, one, server.record(folder))
        it.open()
        yield it
        assert it.guarded.outside == []  # its console tells of lost connections
        it.guarded.context.close()


@pytest.fixture(autouse=True)
def known_state(bench):
    bench.ready()


def test_the_server_is_killed_at_random_moments(bench):
    moments = random.Random(17)
    bench.press()
    expect(bench.page.locator(".tg-said[data-state=good]")).to_contain_text("saved as line", timeout=PATIENCE)
    for _ in range(50):
        before = bench.ticked()[0].done
        bench.press()
        time.sleep(moments.uniform(0, 0.6))
        bench.one.kill()
        bench.is_cut()
        bench.one.start()
        bench.recovers()
        assert bench.ticked()[0].done - before in (0, 1)
    assert bench.recovers(), "no tick was ever shown as saved"


def test_the_kernel_is_killed_at_every_message_of_a_tick(bench):
    """At the first, the second, the third … message between page and kernel, until a tick is through."""
    for nth in range(1, 60):
        seen, victim, before = [], bench.kernel(), bench.ticked()[0].done

        def count(_, seen=seen, victim=victim, nth=nth):
            seen.append(time.monotonic())
            if len(seen) == nth:
                victim.send_signal(signal.SIGKILL)

        sockets = [one for one in bench.sockets if not one.is_closed()]
        for one in sockets:
            one.on("framesent", count)
            one.on("framereceived", count)
        bench.press()
        bench.page.wait_for_timeout(1500)
        for one in sockets:
            one.remove_listener("framesent", count)
            one.remove_listener("framereceived", count)
        if len(seen) < nth:
            assert nth > 4, "a tick takes more messages than that"
            break
        bench.is_cut()
        bench.recovers()
        assert bench.ticked()[0].done - before in (0, 1)


def test_a_tablet_that_slept_until_its_kernel_was_ended(bench):
    """Ten minutes are not waited for: the page is without a network while its kernel is ended, as the server does after
    five minutes for a kernel that nobody has open."""
    name = bench.page.evaluate(KERNEL)
    bench.guarded.context.set_offline(True)
    bench.is_cut()
    ask = urllib.request.Request(f"{bench.one.base}/api/kernels/{name}?token={server.TOKEN}", method="DELETE")
    with urllib.request.urlopen(ask) as answer:
        assert answer.status == 204
    bench.guarded.context.set_offline(False)
    bench.page.wait_for_function(f"n => {{ const k = {KERNEL}; return k && k !== n; }}", arg=name, timeout=PATIENCE)
    bench.recovers()


def lose_the_kernel(bench):
    bench.kernel().send_signal(signal.SIGKILL)
    bench.is_cut()


@pytest.mark.parametrize("losses", [1, 2, 3])
def test_what_was_typed_is_offered_when_the_form_is_shown_again(bench, losses):
    """However often the form is lost before its question is answered: the second kernel ends when it has hardly begun."""
    guide = bench.page.locator(".shop.tg")
    guide.get_by_label("Or type your reading").fill("41 N*m")
    expect(bench.done).to_contain_text("41 N*m", timeout=PATIENCE)
    for _ in range(losses):
        lose_the_kernel(bench)
        bench.card.wait_for(timeout=PATIENCE)
        expect(bench.page.locator(".shop-no-connection")).to_have_count(0, timeout=PATIENCE)
    bench.recovers()
    offered, reading = guide.locator(".shop-typed"), guide.get_by_label("Or type your reading")
    expect(offered).to_contain_text("“41 N*m”", timeout=PATIENCE)
    offered.get_by_role("button", name="Put it back").click()
    expect(guide.get_by_label("Your initials")).to_have_value("AL")
    expect(reading).to_have_value("41 N*m")
    expect(bench.done).to_contain_text("41 N*m", timeout=PATIENCE)
    guide.get_by_label("Or type your reading").fill("")


def test_what_was_typed_for_a_bolt_that_is_ticked_is_not_put_to_the_next(bench):
    """The tick is saved, but the page does not hear of it."""
    guide = bench.page.locator(".shop.tg")
    stage, bolt = bench.ticked()[0].next
    reading = f"{10 + stage - 1}.0 N*m"
    guide.get_by_label("Or type your reading").fill(reading)
    expect(bench.done).to_contain_text(reading, timeout=PATIENCE)
    victim = bench.kernel()
    victim.suspend()
    with Store.open(bench.place) as store:
        store.tick(NUMBER, programme=bench.plan, stage=stage, bolt=bolt, value=reading, initials="AL", uid=new_id())
    victim.send_signal(signal.SIGKILL)
    bench.is_cut()
    bench.recovers()
    offered = guide.locator(".shop-typed")
    expect(offered).to_contain_text("The guide has moved on", timeout=PATIENCE)
    assert offered.get_by_role("button", name="Put it back").count() == 0
    offered.get_by_role("button", name="Forget it").click()
    expect(guide.get_by_label("Or type your reading")).to_have_value("")


def test_a_press_that_waits_says_so(bench):
    victim = bench.kernel()
    victim.suspend()  # busy with something else
    try:
        bench.page.wait_for_timeout(900)
        bench.done.click()
        expect(bench.page.locator("button.tg-done.shop-waits")).to_have_attribute("aria-busy", "true", timeout=1000)
    finally:
        victim.resume()
    expect(bench.page.locator(".shop-waits")).to_have_count(0, timeout=PATIENCE)
    expect(bench.page.locator(".tg-said[data-state=good]")).to_contain_text("saved as line", timeout=PATIENCE)
    bench.recovers()
