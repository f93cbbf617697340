"""Many writers to one job, and what one saved entry costs against the disk.  Reported, never timed in a test.

    .venv/bin/pytest tests/bench/test_bench_writers.py --benchmark-enable --benchmark-only -s

SHOPLIB_SLOW=1: 8 × 1000 entries instead of 8 × 100.  The limit of the disk is measured beside: 4 kB appended to a file
and forced to the disk, by one process.
"""

import multiprocessing
import os
import statistics
import time

import pytest

from shoplib.record.store import Store
from tests import ci_part
from tests.record_fixtures import HEADER, KINDS, NUMBER, fresh, protrusion

WRITERS = 8
EACH = 1000 if ci_part.ALL else 100


def times_of(where, gate, told, writer, each):
    """Save entries as fast as the record takes them; tell how long each took, or how it was refused."""
    with Store.open(where) as store:
        result, took = protrusion(), []
        gate.wait(60)
        for _ in range(each):
            begun = time.perf_counter()
            try:
                store.keep(NUMBER, result, who=f"writer {writer}")
            except Exception as error:  # noqa: BLE001 -- every refusal is counted
                told.put((writer, str(error)))
            took.append(time.perf_counter() - begun)
        told.put((writer, took))


def together(where, writers, each):
    """What each of the writers told, and the seconds that all took."""
    context = multiprocessing.get_context("spawn")
    gate, told = context.Barrier(writers + 1), context.Queue()
    processes = [context.Process(target=times_of, args=(where, gate, told, w, each)) for w in range(writers)]
    for process in processes:
        process.start()
    gate.wait(120)
    begun, heard, refused = time.perf_counter(), {}, []
    while len(heard) < writers:
        writer, said = told.get(timeout=600)
        if isinstance(said, str):
            refused.append(said)
        else:
            heard[writer] = said
    seconds = time.perf_counter() - begun
    for process in processes:
        process.join(60)
    return heard, refused, seconds


def forced(folder, count=100):
    """Times of the disk alone."""
    took = []
    with open(folder / "disk", "wb") as file:
        for _ in range(count):
            begun = time.perf_counter()
            file.write(os.urandom(4096))
            file.flush()
            os.fsync(file.fileno())
            took.append(time.perf_counter() - begun)
    return took


@pytest.mark.parametrize("writers", [1, WRITERS])
@pytest.mark.parametrize("kind", KINDS)
def test_writers_to_one_job(asked, benchmark, tmp_path, kind, writers):
    with fresh(kind, tmp_path) as where:
        with Store.open(where) as store:
            store.start(**HEADER)
        before = forced(tmp_path)
        heard, refused, seconds = benchmark.pedantic(together, (where, writers, EACH), rounds=1)
        disk = statistics.median([*before, *forced(tmp_path)])
        with Store.open(where) as store:
            assert store.glance(NUMBER).lines == 1 + writers * EACH - len(refused)
        entry = seconds / (writers * EACH)
        print(f"\n{kind}, {writers} writers × {EACH}: {len(refused)} refused, {1 / entry:.0f} entries/s")
        print(f"one entry {1e3 * entry:.1f} ms, the disk alone {1e3 * disk:.1f} ms: {entry / disk:.2f} ×")
        medians = [statistics.median(took) for took in heard.values()]
        print("median of each writer, ms:", *(f"{1e3 * m:.0f}" for m in medians))
        print(
            f"slowest entry ÷ median of its writer: {max(max(t) / statistics.median(t) for t in heard.values()):.1f};",
            f"slowest writer ÷ median of the writers: {max(medians) / statistics.median(medians):.2f};",
            f"their time in all: {max(map(sum, heard.values())) / min(map(sum, heard.values())):.2f}",
        )
