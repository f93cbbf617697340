"""From the contents page to a usable form, with ten notebooks used before it, and the memory behind them.

    python -m tests.bench.at_the_bench [ROUNDS]

"Usable" means: the form has read the record, and a value that is typed into it gets its answer.  Both are measured from
the tap on the contents page.  Then the memory of the server and of its kernels is printed (PSS), and the heap of the
tab in JupyterLab after each notebook is opened and closed again.  Budgets: 3 s on pages, 6 s in JupyterLab.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from pathlib import Path

import psutil
from playwright.sync_api import Browser, Page, sync_playwright

from tests.bench.test_bench_open import memory
from tests.browser import server
from tests.browser.conftest import ARGUMENTS, CHROMIUM, CLOSE
from tests.browser.test_lab import bring_and_run, field, show
from tests.browser.test_pages import set_out

CONTENTS, FORM = "00-contents.ipynb", "61-preload-from-torque.ipynb"
BEFORE = ("01-engine-card", "11-compression-and-leak-down", "12-pressure-hold", "21-lock-and-strip", "22-fasteners",
          "31-straightedge-and-feeler", "54-parts-and-reassembly", "64-tightening-guide", "71-timing",
          "81-fill-and-correct")  # fmt: skip
KINDS = {"pages": (server.pages, 3.0), "lab": (server.lab, 6.0)}


def answers(place, began: float) -> tuple[float, float]:
    """Seconds until the form has read the record, and until it has answered a value."""
    form = place.locator(".jupyter-widgets.shop", has=place.page.locator(".shop-keep")).first
    form.locator(".shop-keep-read").first.wait_for(state="attached", timeout=120_000)
    read = time.perf_counter() - began
    torque = field(form, "Torque")
    torque.fill("")
    torque.fill("80 Nm")
    form.locator("[data-result=preload]").filter(has_text="48.5").first.wait_for(timeout=120_000)
    return read, time.perf_counter() - began


def on_pages(page: Page, base: str) -> tuple[float, float]:
    """One tap on the contents page."""
    set_out(page, base, CONTENTS)
    link = page.locator(f"a[href*='{FORM}']").locator("visible=true").first
    link.wait_for(timeout=120_000)
    page.evaluate(
        "document.querySelectorAll('a').forEach(a => a.removeAttribute('target'))"
    )  # in this tab, to be watched
    began = time.perf_counter()
    link.click(no_wait_after=True)
    page.wait_for_url(f"**/{FORM}*", wait_until="commit", timeout=120_000)
    return answers(page.locator("body"), began)


def in_lab(page: Page, _: str) -> tuple[float, float]:
    """One click on the contents in JupyterLab."""
    page.evaluate(CLOSE, [FORM])
    show(page, CONTENTS)
    panel = page.locator(".jp-NotebookPanel:not(.lm-mod-hidden)")
    panel.and_(page.locator("[data-ran]")).wait_for(timeout=120_000)
    link = panel.locator(f"a[href*='{FORM}']").locator("visible=true").first
    began = time.perf_counter()
    link.click()
    page.locator(f".jp-NotebookPanel:not(.lm-mod-hidden)[data-shown='{FORM}'], .jp-NotebookPanel:not(.lm-mod-hidden)")
    page.wait_for_function("name => jupyterapp.shell.currentWidget?.context?.path === name", arg=FORM, timeout=120_000)
    return answers(page.locator(".jp-NotebookPanel:not(.lm-mod-hidden)"), began)


def held(pid: int) -> str:
    """The memory of a server and of the kernels below it."""
    below = psutil.Process(pid).children(recursive=True)
    kernels = [memory(one.pid)["Pss"] for one in below if "ipykernel" in " ".join(one.cmdline())]
    said = f"server {memory(pid)['Pss']:.0f} MB, {len(kernels)} kernels {sum(kernels):.0f} MB"
    return f"{said} (one {statistics.median(kernels):.0f} MB; one of them is the reserve)"


def server_below() -> int:
    """The process of the server that this program started."""
    return next(one.pid for one in psutil.Process().children() if any("fast_server" in word for word in one.cmdline()))


def heap(page: Page) -> str:
    """What the tab holds once the garbage is collected."""
    tools = page.context.new_cdp_session(page)
    tools.send("Performance.enable")
    for _ in range(2):
        tools.send("HeapProfiler.collectGarbage")
    said = {one["name"]: one["value"] for one in tools.send("Performance.getMetrics")["metrics"]}
    tools.detach()
    return f"heap {said['JSHeapUsedSize'] / 1e6:.0f} MB, {said['Nodes']:.0f} nodes, {said['JSEventListeners']:.0f} listeners"


def measure(browser: Browser, kind: str, rounds: int) -> None:
    """Use ten notebooks; then go from the contents to a form, several times."""
    serve, budget = KINDS[kind]
    with tempfile.TemporaryDirectory() as own, serve(Path(own) / "notebooks") as base:
        context = browser.new_context(viewport={"width": 1280, "height": 1000})
        page = context.new_page()
        if kind == "lab":
            page.goto(f"{base}/lab?token={server.TOKEN}&reset", wait_until="domcontentloaded")
            page.locator("#jp-main-statusbar").wait_for(timeout=120_000)
            page.evaluate("jupyterapp.commands.execute('docmanager:toggle-autosave')")
        for name in BEFORE:
            bring_and_run(page, f"{name}.ipynb") if kind == "lab" else set_out(page, base, f"{name}.ipynb")
        time.sleep(6)  # the kernel in reserve is made
        print(f"{kind}, ten notebooks used: {held(server_below())}; {heap(page)}")
        laps = []
        for _ in range(rounds):
            laps.append((in_lab if kind == "lab" else on_pages)(page, base))
            time.sleep(6)
        read, answered = (statistics.median(lap) for lap in zip(*laps, strict=True))
        print(
            f"{kind}, one tap on the contents: form {read:.2f} s, typed value answered {answered:.2f} s "
            f"(budget {budget:.0f} s; medians of {rounds}; all: {', '.join(f'{b:.2f}' for _, b in laps)})"
        )
        print(f"{kind}, at the end: {held(server_below())}; {heap(page)}", flush=True)
        if kind == "lab":
            close_each(page)
        context.close()


def close_each(page: Page) -> None:
    """Open and close notebooks in one tab: what is left behind grows with each."""
    page.evaluate(CLOSE, [f"{name}.ipynb" for name in BEFORE] + [FORM])
    print(f"lab, all but the contents closed: {heap(page)}")
    for lap in range(3):
        for name in BEFORE:
            bring_and_run(page, f"{name}.ipynb")
            page.evaluate(CLOSE, [f"{name}.ipynb"])
        print(f"lab, opened and closed {10 * (lap + 1)} notebooks: {heap(page)}", flush=True)


def main() -> None:
    """Pages, then JupyterLab."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, headless=True, args=ARGUMENTS)
        for kind in KINDS:
            measure(browser, kind, rounds)
        browser.close()


if __name__ == "__main__":
    main()
