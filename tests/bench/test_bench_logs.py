"""How fast the logs answer a key (aim: table to answer in 30 ms, with the map in 100 ms) for 30 bolts and 14 steps.

.venv/bin/pytest tests/bench/test_bench_logs.py --benchmark-enable --benchmark-only -s
"""

import itertools

from shoplib.desk import Form, LiveFigure
from shoplib.topics import get
from tests.topics.log_inputs import HEAD, LOCK, PLACES, RULE, SAFE

LOG, STRIP = get("fastener_log"), get("strip_log")
LENGTHS = itertools.cycle(range(100, 120))


def rows(length):
    """Thirty rows with every cell filled."""
    shared = {k: v for k, v in HEAD.items() if k not in ("rows", "columns", "pitch_along", "pitch_across")}
    full = shared | {"hand": "right", "reason": "within the limit"}
    thirty = [{"name": str(k), "x": f"{40 * (k % 15)} mm", "y": f"{80 * (k // 15)} mm"} | full for k in range(30)]
    thirty[7] |= {"length": f"{length} mm"}
    return thirty


def test_thirty_rows_answer(benchmark):
    assert benchmark(lambda: LOG(bolts=rows(next(LENGTHS))))["summary"] == "30: 30 new"


def test_map_of_thirty_follows(benchmark):
    live = LiveFigure(LOG.draw, LOG(bolts=rows(110)), figsize=LOG.figure_size)
    results = itertools.cycle([LOG(bolts=rows(n)) for n in (100, 105, 111)])
    base = live.svg
    benchmark(lambda: live.move(next(results)))
    assert live.svg == base, "only what moved is drawn again"


def test_a_key_in_the_form_of_thirty_rows(benchmark):
    """From the text of the grid to words and picture in the form."""
    form = Form("fastener_log", bolts=rows(110))
    grid = form.entries["bolts"].box
    states = itertools.cycle([[[*r[:6], str(n), *r[7:]] if r[0] == "7" else r for r in grid.value] for n in (101, 102)])

    def key():
        grid.value = next(states)

    benchmark(key)
    assert form.result is not None


def test_strip_log_answers(benchmark):
    steps = [*SAFE, LOCK, *[{"step": "part off", "what": f"cover {k}", "state": "done"} for k in range(10)]]
    assert benchmark(lambda: STRIP(RULE | {"steps": steps, "positions": PLACES})).outcome == "pass"
