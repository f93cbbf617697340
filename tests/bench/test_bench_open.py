"""From ``shoplib open`` to a form that answers, and what one learner's kernel costs.  Printed, never judged by the clock.

    .venv/bin/pytest tests/bench/test_bench_open.py --benchmark-enable --benchmark-only -s

Budgets: kernel start to form shown 2.5 s; memory of a kernel with a form 150 MB.  Both hold for one kernel on an idle machine.
"""

from __future__ import annotations

import os
import re
import statistics
import sys
import time
from pathlib import Path

import pytest

from tests.browser import server
from tests.browser.conftest import browser  # noqa: F401 -- the fixture

NOTEBOOK = "61-preload-from-torque.ipynb"
CODE = """
from shoplib.desk import Form
form = Form("preload_from_torque", torque="40 N*m", thread="M10x1.5", mu_thread="0.12", mu_head="0.12")
form
"""


def spent(pid: int) -> float:
    """Seconds of processor, which a busy machine disturbs less than the clock."""
    after_name = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(after_name[11]) + int(after_name[12])) / os.sysconf("SC_CLK_TCK")


def memory(pid: int) -> dict[str, float]:
    """Of one process in MB: all it touches, its fair share, what it alone holds."""
    text = Path(f"/proc/{pid}/smaps_rollup").read_text()
    kb = {name: int(value) for name, value in re.findall(r"^(\w+):\s+(\d+) kB", text, re.M)}
    return {
        "Rss": kb["Rss"] / 1024,
        "Pss": kb["Pss"] / 1024,
        "alone": (kb["Private_Clean"] + kb["Private_Dirty"]) / 1024,
    }


@pytest.mark.skipif(sys.platform != "linux", reason="reads the memory of a process from /proc")
def test_kernel_start_to_form_shown(asked, benchmark):
    from jupyter_client.manager import start_new_kernel

    sizes, work = [], []

    def start():
        manager, client = start_new_kernel()
        try:
            shown = []
            client.execute_interactive(CODE, timeout=120, output_hook=lambda m: shown.append(m["header"]["msg_type"]))
            assert "execute_result" in shown and "error" not in shown
            work.append(spent(manager.provisioner.pid))
            sizes.append(memory(manager.provisioner.pid))
        finally:
            client.stop_channels()
            manager.shutdown_kernel(now=True)

    benchmark.pedantic(start, rounds=5, warmup_rounds=1)
    if not benchmark.disabled:
        worst = {name: max(s[name] for s in sizes) for name in sizes[0]}
        said = ", ".join(f"{name} {mb:.0f} MB" for name, mb in worst.items())
        print(
            f"\nkernel start to form shown: median {benchmark.stats.stats.median:.2f} s by the clock (budget 2.5 s), "
            f"{statistics.median(work):.2f} s of processor; {said} (budget 150 MB)"
        )


@pytest.mark.browser
@pytest.mark.parametrize("kind", ["lab", "pages"])
def test_open_to_a_form_that_answers(asked, benchmark, request, tmp_path_factory, kind):
    browser = request.getfixturevalue("browser")  # noqa: F811 -- not before it is asked for
    from tests.browser.test_lab import field, open_and_run
    from tests.browser.test_pages import set_out

    laps = []

    def open_it():
        start = time.perf_counter()
        with getattr(server, kind)(tmp_path_factory.mktemp("desk") / "notebooks") as base:
            up = time.perf_counter()
            context = browser.new_context(viewport={"width": 1280, "height": 1000})
            try:
                page = context.new_page()
                if kind == "lab":
                    place = open_and_run(page, base, NOTEBOOK)
                else:
                    set_out(page, base, NOTEBOOK)
                    place = page.locator("body")
                answer = place.locator(".jupyter-widgets [data-result=preload]").first
                answer.wait_for(timeout=120_000)
                shown = time.perf_counter()
                field(place, "Torque").fill("80 Nm")
                answer.filter(has_text="48.5 kN").wait_for(timeout=60_000)
                laps.append((up - start, shown - start, time.perf_counter() - start))
            finally:
                context.close()

    benchmark.pedantic(open_it, rounds=3)
    if not benchmark.disabled:
        up, shown, answers = (sorted(lap)[len(lap) // 2] for lap in zip(*laps, strict=True))
        print(
            f"\nshoplib open, {kind}: server up {up:.1f} s, form shown {shown:.1f} s, form answers {answers:.1f} s (medians of 3)"
        )
