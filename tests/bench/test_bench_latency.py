"""Key press to drawn, in the real browser, for every live figure.  Printed as ratios, never judged by the clock.

    .venv/bin/pytest tests/bench/test_bench_latency.py --benchmark-enable --benchmark-only -s
    SHOPLIB_FIGURES="ramp|tank" SHOPLIB_MOVES=60 …          only these, so many moves each

One page holds all that is compared: the live figure in its form or lesson; the same form or lesson with its text alone
and no picture (the floor: the same key, the same working, the same words); a slider that is only answered, with nothing
worked; and for some figures the plain way (matplotlib draws the whole picture again).  They are moved in turns in one
run, so that a busy machine disturbs all alike; what is compared is ratios.  "Drawn" is the end of the frame that
shows the change: layout and paint are inside.
"""

from __future__ import annotations

import json
import os
import re
import statistics

import nbformat
import pytest

from shoplib.topics import lessons
from tests.browser.conftest import browser  # noqa: F401 -- the fixture
from tests.browser.server import TOKEN, lab, pages
from tests.form_variations import changed, inputs_of_forms, variations

pytestmark = pytest.mark.browser
MOVES = int(os.environ.get("SHOPLIB_MOVES", "60"))
ONLY = re.compile(os.environ.get("SHOPLIB_FIGURES", ""))
FRAME = 1000 / 60  # ms; a browser shows nothing between two
WANTED = {"lab": 1.3, "pages": 2.0}
PLAIN = ("explore ramp", "explore two_frictions", "form preload_from_torque")

STAGE = r'''
import io, json, matplotlib as mpl, ipywidgets as W
from matplotlib.figure import Figure
from shoplib.desk import Explore, Form
from shoplib.desk.widgets.live_figure import LiveFigure
from shoplib.plotting.plot_style import SCREEN
from shoplib.topics import all_workings

class Told(LiveFigure):
    """In the place of the picture an empty one: the words alone, in one message with the count that says they came."""
    def __init__(self, draw, state, *, name="", alt="", **options):
        super().__init__(lambda figure: lambda state: None, state, name=f"{name}-told", figsize=(0.1, 0.1), layout=None)
        self._n = 0
    def move(self, state, alt="", say=None):
        self._n += 1
        super().move(state, str(self._n), say)

class Plain(W.HTML):
    """The yardstick: the same picture, the whole of it drawn and sent each time."""
    def __init__(self, draw, state, *, name="", alt="", **options):
        super().__init__()
        self.figure, self._n = Figure(dpi=72, **{"layout": "constrained", **options}), 0
        with mpl.rc_context(SCREEN):
            self._move = draw(self.figure)
        self.add_class("bench-plain"); self.move(state)
    def move(self, state, alt="", say=None):
        say and say()
        self._move(state); self._n += 1
        out = io.StringIO()
        with mpl.rc_context(SCREEN):
            self.figure.savefig(out, format="svg")
        text = out.getvalue()
        self.value = f'<div data-painted="{self._n}">' + text[text.index("<svg"):] + "</div>"

echo, heard = W.FloatSlider(min=0, max=1000, step=1, readout=False), W.HTML()
echo.add_class("bench-echo"); heard.add_class("bench-heard")
echo.observe(lambda c: setattr(heard, "value", f'<b data-painted="{c.new}">heard {c.new}</b>'), "value")
which, stage, now = W.Text(continuous_update=True), W.VBox(), W.HTML()
which.add_class("bench-which"); now.add_class("bench-now"); stage.add_class("bench-stage")
def put(change):
    name, plain, typed = json.loads(change.new)
    kind, _, what = name.partition(" ")
    import shoplib.desk.widgets.lesson_widget, shoplib.desk.widgets.form
    for old in stage.children: old.close()
    made = []
    for picture, box in ((Plain if plain else LiveFigure, "bench-live"), (Told, "bench-text")):
        for module in (shoplib.desk.widgets.lesson_widget, shoplib.desk.widgets.form):
            module.LiveFigure = picture
        made.append({"explore": Explore, "form": Form}[kind](what, **typed))
        made[-1].add_class(box)
    stage.children = made
    now.value = f'<i data-now="{name} {plain}"></i>'
which.observe(put, "value")
W.VBox([which, now, echo, heard, stage])
'''  # fmt: skip

WATCH = r"""
(() => {   // is a frame being made?  A change made inside one is painted by it, one outside by the next
  const raw = window.requestAnimationFrame.bind(window), channel = new MessageChannel();
  let ends = []; window.__inFrame = false;
  channel.port1.onmessage = () => { window.__inFrame = false; const all = ends; ends = []; all.forEach(f => f(performance.now())); };
  window.requestAnimationFrame = f => raw(t => { if (!window.__inFrame) { window.__inFrame = true; channel.port2.postMessage(0); } f(t); });
  window.__painted = () => new Promise(done => { if (window.__inFrame) ends.push(done); else window.requestAnimationFrame(() => ends.push(done)); });
})();
"""

MOVE = r"""
async ({ what, moves, gap, key }) => {
  const FRAME = 1000 / 60, sleep = ms => new Promise(r => setTimeout(r, ms));
  const roots = { echo: ".bench-heard", live: ".bench-live", text: ".bench-text" };
  const count = () => [...document.querySelectorAll(roots[what] + " [data-painted]")].map(e => e.dataset.painted).join();
  const slider = box => [...document.querySelectorAll(box + " .noUi-handle")].find(h => h.offsetParent);
  const press = () => {
    const range = [...document.querySelectorAll(roots[what] + " input[type=range]")].find(h => h.offsetParent);
    if (what !== "echo" && key.slider && range) {   // the browser's own slider: a made-up key does not move it
      range.focus(); const v = +range.value;
      if (v >= +range.max - 1e-9) range.__down = true;
      if (v <= +range.min + 1e-9) range.__down = false;
      if (range.__down) range.stepDown(); else range.stepUp();
      range.dispatchEvent(new InputEvent("input", { bubbles: true }));
    } else if (what === "echo" || key.slider) {
      const h = slider(what === "echo" ? ".bench-echo" : roots[what]), v = +h.getAttribute("aria-valuenow");
      const s = h.closest(".noUi-target"); h.focus();
      if (v >= +h.getAttribute("aria-valuemax") - 1e-9) s.__down = true;
      if (v <= +h.getAttribute("aria-valuemin") + 1e-9) s.__down = false;
      const k = s.__down ? "ArrowLeft" : "ArrowRight";
      h.dispatchEvent(new KeyboardEvent("keydown", { key: k, code: k, bubbles: true, cancelable: true }));
    } else {
      const box = document.querySelector(roots[what] + " " + key.css), list = key.values;
      box.__at = ((box.__at ?? 0) + 1) % list.length;
      box.focus(); box.value = list[box.__at];
      box.dispatchEvent(new InputEvent("input", { bubbles: true })); box.dispatchEvent(new KeyboardEvent("keyup", { key: "0", bubbles: true }));
    }
  };
  const taken = [], paints = [];
  for (let i = 0; i < moves; i++) {
    const before = count(), start = performance.now();
    let seen = 0;
    const end = await new Promise(done => {
      const look = () => { if (count() !== before) { watch.disconnect(); clearTimeout(late); window.__painted().then(done); } };
      const watch = new MutationObserver(look);
      watch.observe(document.querySelector(roots[what]), { subtree: true, childList: true, attributes: true, characterData: true });
      const late = setTimeout(() => { watch.disconnect(); done(null); }, 8000);
      press(); look();
    });
    window.__turn = (window.__turn ?? 0) + 1;   // the next key comes at another moment of a frame, as under a hand
    const first = count(); await sleep(gap + FRAME * (window.__turn * 0.618034 % 1));
    if (end === null) return { taken, paints, stuck: i };
    taken.push(end - start); paints.push(first === count() ? 1 : 2);
  }
  return { taken, paints, stuck: null };
}
"""


DRAG = r"""
async moves => {   // a slider pulled across without waiting; then until nothing is painted any more
  const sleep = ms => new Promise(r => setTimeout(r, ms));
  const range = [...document.querySelectorAll(".bench-live input[type=range]")].find(h => h.offsetParent);
  const host = document.querySelector(".bench-live [data-painted]");
  range.value = range.min; range.dispatchEvent(new InputEvent("input", { bubbles: true })); await sleep(1500);
  const before = +host.dataset.painted; let last = 0;
  const watch = new MutationObserver(() => { last = performance.now(); });
  watch.observe(host, { attributes: true });
  for (let i = 0; i < moves; i++) { range.stepUp(); range.dispatchEvent(new InputEvent("input", { bubbles: true })); await sleep(8); }
  const released = performance.now(); last = released;
  do await sleep(200); while (performance.now() - last < 2500);
  watch.disconnect();
  return { at: +range.value, waited: last - released, painted: +host.dataset.painted - before,
           alt: host.shadowRoot.querySelector("svg").getAttribute("aria-label") };
}
"""


def changes(working, inputs):
    """(field, row and column or None, values in turn) of the first thing that changes the picture with each step."""
    from shoplib.desk.widgets.live_figure import LiveFigure

    start = working(inputs)
    live = LiveFigure(working.draw, start, name=working.name, figsize=working.figure_size)
    for name, cell, values in variations(working, inputs):
        seen = []
        try:
            for value in values:
                live.move(working(changed(working, inputs, name, cell, value)))
                seen.append((live.svg, json.dumps(live.parts)))
        except ValueError:
            continue
        if seen and all(a != b for a, b in zip(seen, [*seen[1:], seen[0]], strict=True)):
            return name, cell, values
    return None


def figures():
    """(name, inputs, key): every Explore and Form with a picture."""
    found = [(f"explore {n}", {}, {"slider": True}) for n in lessons.MODULE_OF]
    for name, working, inputs in inputs_of_forms():
        if ONLY.search(f"form {name}"):
            moved = changes(working, inputs)
            if moved:
                index = [f.name for f in working.fields].index(moved[0])
                key = {"field": index, "cell": moved[1], "values": moved[2]}
                if moved[1]:
                    column = working.fields[index].columns[moved[1][1]].name
                    key["now"] = inputs[moved[0]][moved[1][0]][column]
                found.append((f"form {name}", inputs, key))
            else:
                found.append((f"form {name}", inputs, None))
    return [f for f in found if ONLY.search(f[0])]


def ratio(times, floor):
    return statistics.median(times) / statistics.median(floor)


def p95(times):
    return sorted(times)[round(0.95 * (len(times) - 1))]


def put(page, name, plain, inputs):
    page.evaluate(
        """t => { const b = document.querySelector(".bench-which input"); b.value = t;
        b.dispatchEvent(new InputEvent("input", { bubbles: true })); b.dispatchEvent(new KeyboardEvent("keyup", { bubbles: true })); }""",
        json.dumps([name, plain, inputs]),
    )
    page.locator(f'.bench-now [data-now="{name} {plain}"]').wait_for(state="attached", timeout=60_000)
    page.locator(".bench-live [data-painted]").first.wait_for(timeout=30_000)
    page.wait_for_timeout(800)


def measure(page, name, inputs, key, plain=False, moves=MOVES):
    """Milliseconds of (nothing worked, text alone, figure), taken in turns of ten, and how often it was painted twice."""
    put(page, name, plain, inputs)
    if "field" in key:
        where = [key["field"], key["cell"] and [*key["cell"], key["now"]]]
        page.evaluate("([n, cell]) => { for (const box of document.querySelectorAll('.bench-live, .bench-text')) {"
                      "const all = at => [...box.querySelectorAll(at)];"
                      "const found = cell ? all(`[data-r='${cell[0]}'][data-c='${cell[1]}']`).find(b => b.value === cell[2])"
                      ": all('.shop-field')[n].querySelector('input'); found.classList.add('bench-key'); } }", where)  # fmt: skip
        key = {"css": ".bench-key", "values": key["values"], "slider": False}
    taken = {"echo": [], "text": [], "live": []}
    for w in taken:
        said = {"what": w, "moves": 4, "gap": 250, "key": key}
        assert page.evaluate(MOVE, said)["stuck"] is None, (name, w)
    paints = 0
    for _ in range(max(1, moves // 10)):
        for w in taken:
            got = page.evaluate(MOVE, {"what": w, "moves": min(10, moves), "gap": 60, "key": key})
            assert got["stuck"] is None, (name, w, got)
            taken[w] += got["taken"]
            paints += sum(p - 1 for p in got["paints"]) if w == "live" else 0
    return *taken.values(), paints


def drag(page, name, moves=40):
    """Pull a lesson's slider across: the last position is the one shown, and nothing piles up behind it."""
    put(page, f"explore {name}", False, {})
    got = page.evaluate(DRAG, moves)
    lesson = lessons.get(name)
    control = lesson.controls[0]
    assert got["alt"] == lesson.alt(lesson.at(**{control.name: got["at"]})), "the last position is not the one shown"
    print(f"pulled across {name}: {moves} positions 8 ms apart, {got['painted']} painted, the last one "
          f"{got['waited']:.0f} ms after letting go", flush=True)  # fmt: skip


def open_page(browser, base, kind):  # noqa: F811 -- the fixture's name
    page = browser.new_context(viewport={"width": 1280, "height": 1000}).new_page()
    page.add_init_script(WATCH)
    if kind == "lab":
        from tests.browser.test_lab import open_and_run

        open_and_run(page, base, "bench.ipynb")
    else:
        page.goto(f"{base}/voila/render/bench.ipynb?token={TOKEN}", wait_until="domcontentloaded")
    page.locator(".bench-echo .noUi-handle").wait_for(timeout=90_000)
    return page


@pytest.mark.parametrize("kind", ["lab", "pages"])
def test_key_press_to_drawn(asked, benchmark, request, kind, tmp_path):
    browser = request.getfixturevalue("browser")  # noqa: F811 -- not before it is asked for
    folder = tmp_path / "notebooks"
    folder.mkdir()
    notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(STAGE)])
    notebook.metadata["kernelspec"] = {"name": "python3", "display_name": "Python 3", "language": "python"}
    nbformat.write(notebook, folder / "bench.ipynb")
    rows, times = [], []
    with {"lab": lab, "pages": pages}[kind](folder) as base:
        page = open_page(browser, base, kind)
        print(f"\n{kind}: median ms with nothing worked, of the text alone and of the figure; figure ÷ text "
              f"(wanted ≤ {WANTED[kind]}) and figure ÷ nothing; p95 ÷ median of the figure (wanted ≤ 1.5) and of the "
              "text; p95 − median of the figure in frames of the screen; repaints; then text alone, plain redraw and their ratio")  # fmt: skip
        for name, inputs, key in figures():
            if key is None:
                print(f"{name:34} no single number moves it", flush=True)
                continue
            none, text, live, paints = measure(page, name, inputs, key)
            line = f"{name:34} " + " ".join(f"{statistics.median(x):6.1f}" for x in (none, text, live))
            line += f" {ratio(live, text):6.2f} {ratio(live, none):5.2f}"
            line += f" {p95(live) / statistics.median(live):6.2f} {p95(text) / statistics.median(text):5.2f}"
            line += f" {(p95(live) - statistics.median(live)) / FRAME:5.2f} {paints:4}"
            if name in PLAIN:
                _, words, plain, _ = measure(page, name, inputs, key, plain=True, moves=20)
                line += f"   {statistics.median(words):6.1f} {statistics.median(plain):6.1f} {ratio(plain, words):6.2f}"
            print(line, flush=True)
            rows.append(ratio(live, text))
            times += live
        for name in ("ramp", "two_frictions"):
            drag(page, name)
        page.context.close()
    benchmark.extra_info["ratio"] = rows
    benchmark.pedantic(lambda: None, rounds=1)
    assert len(rows) == len([f for f in figures() if f[2]])
