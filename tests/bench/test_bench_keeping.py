"""What drafts and the bar cost under the hand.  Reported, never timed in a test.

    .venv/bin/pytest tests/bench/test_bench_keeping.py --benchmark-enable --benchmark-only -s

Key press to answer: the same form with a draft and without, turn about in one run as under key repeat, so that a busy
machine disturbs both alike.  Start: a fresh process from nothing to the form in
processor seconds, which a busy machine does not stretch, and the memory it then holds.
"""

import asyncio
import json
import os
import statistics
import subprocess
import sys
import time

import pytest

from shoplib.desk import Form, JobList
from shoplib.desk.widgets.session import session
from shoplib.record import schema
from shoplib.record.checking import row_of_header
from shoplib.record.store import Store
from tests.record_fixtures import HEADER, NUMBER

BOLT = {"torque": "40 N*m", "thread": "M10x1.5", "mu_thread": "0.12", "mu_head": "0.12", "bearing_mean": "13 mm"}
KEYS = int(os.environ.get("SHOPLIB_MOVES", "120"))
REPEAT = 1 / 30  # seconds between two keys of a key that is held down


def ms(times):
    low, *_, high = statistics.quantiles(times, n=20)
    return f"median {1e3 * statistics.median(times):6.2f}  5 % {1e3 * low:6.2f}  95 % {1e3 * high:6.2f} ms"


@pytest.mark.parametrize("in_a_job", [False, True], ids=["no job", "in a job"])
def test_key_press_to_answer(asked, benchmark, in_a_job):
    if in_a_job:
        session.store().start(**HEADER)
        session.number, session.who = NUMBER, "A. Learner"
    times = {"with draft": [], "without": []}

    async def type_on():
        forms = {
            "with draft": Form("preload_from_torque", **BOLT),
            "without": Form("preload_from_torque", keeping=False, **BOLT),
        }
        await asyncio.sleep(0.5)
        assert forms["with draft"].keeping.awake
        for key in range(KEYS):
            for name, form in forms.items():
                begun = time.perf_counter()
                form.entries["torque"].box.value = f"{40 + key % 50} N*m"
                times[name].append(time.perf_counter() - begun)
                await asyncio.sleep(REPEAT)
        while forms["with draft"].keeping._writing:
            await asyncio.sleep(0.01)
        assert "saved" in forms["with draft"].keeping.saved.value

    benchmark.pedantic(lambda: asyncio.run(type_on()), rounds=1)
    print()
    for name, taken in times.items():
        print(f"key press to answer, {name:10}: {ms(taken)}")


START = """
import json, sys, time
begun = time.process_time()
from shoplib.desk import Form
form = Form("preload_from_torque", {more} torque="40 N*m", thread="M10x1.5", mu_thread="0.12", mu_head="0.12", bearing_mean="13 mm")
shown = time.process_time()
if form.keeping: form.keeping.activate()
woken = time.process_time()
resident = next(int(x.split()[1]) / 1024 for x in open("/proc/self/status") if x.startswith("VmRSS"))
print(json.dumps([shown - begun, woken - shown, resident, "sqlalchemy" in sys.modules]))
"""


@pytest.mark.skipif(not os.path.exists("/proc/self/status"), reason="memory is read as Linux tells it")
def test_from_nothing_to_the_form(asked, benchmark):
    ran = {"without": [], "with the bar": [], "with a job to recall": []}

    def once(more=""):
        out = subprocess.run(
            [sys.executable, "-c", START.replace("{more}", more)], capture_output=True, text=True, check=True
        )
        return json.loads(out.stdout)

    def rounds():
        for _ in range(3):
            ran["without"].append(once("keeping=False,"))
            ran["with the bar"].append(once())
        session.store().start(**HEADER)
        session.number = NUMBER
        ran["with a job to recall"] += [once() for _ in range(3)]

    benchmark.pedantic(rounds, rounds=1)
    print()
    for name, found in ran.items():
        shown, woken, memory, loaded = (statistics.median(x) for x in zip(*found, strict=True))
        print(
            f"{name:21}: form after {shown:5.2f} s, record read {woken:5.2f} s later, {memory:5.1f} MB, database {'' if loaded else 'not '}loaded"
        )


def test_the_list_of_ten_thousand_jobs(benchmark):
    with Store.open() as store, store._writing() as c:
        rows = []
        for k in range(10_000):
            place = {"uid": f"job-{k:08d}", "closed": k % 3 == 0, "issue": "A", "lines": 1, "head": "0" * 64,
                     "last": k, "changed_at": "2026-11-25T10:00:00.000Z"}  # fmt: skip
            header = HEADER | {"number": f"{k % 100:02d}-{k:05d}", "complaint": "loses coolant"}
            rows.append(row_of_header(header) | place)
        c.execute(schema.job.insert(), rows)
    listed = JobList()
    benchmark(listed.look)
    assert len(listed.chooser.table.rows) == 20
    begun = time.perf_counter()
    listed.chooser.search.value = "coolant 07777"
    print(f"\na search among 10 000 jobs: {1e3 * (time.perf_counter() - begun):.1f} ms")
    assert [r[0] for r in listed.chooser.table.rows] == ["77-07777"]
