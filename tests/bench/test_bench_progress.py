"""How quickly a stop is heard, and what telling costs when nobody listens."""

import threading
import time

import pytest

from shoplib import topics as workings
from shoplib.core import progress
from shoplib.teaching.exercise import class_set
from shoplib.topics import exercises
from tests.desk.slow_inputs import SCATTER

LONG = {
    "2 million bolts drawn": lambda: workings.get("preload_scatter")(SCATTER | {"draws": "2000000"}),
    "a class set of 60": lambda: [class_set("preload", exercises.of_topic("preload"), 60, seed) for seed in range(40)],
}


def heard_after(work, after):
    """Seconds from the stop to the end of the work, stopped ``after`` seconds from its start."""
    stop, ended = threading.Event(), []

    def listen(_):
        if stop.is_set():
            raise progress.Stopped

    def body():
        with progress.listening(listen):
            try:
                work()
            except progress.Stopped:
                ended.append(time.perf_counter())

    thread = threading.Thread(target=body)
    thread.start()
    time.sleep(after)
    stop.set()
    asked = time.perf_counter()
    thread.join()
    return ended[0] - asked if ended else None


@pytest.mark.parametrize("what", list(LONG))
def test_a_stop_is_heard(asked, benchmark, what):
    work = LONG[what]
    work_once = heard_after(work, 0.0)
    found = [heard_after(work, 0.3 + 0.25 * k) for k in range(8)]
    heard = sorted(1e3 * t for t in found if t is not None)
    benchmark.extra_info.update(heard_ms=[round(t) for t in heard], before_it_began_ms=round(1e3 * (work_once or 0)))
    benchmark(progress.step, 1, 2)  # what it costs when nobody listens
    print(f"\n{what}: a stop is heard after {heard[len(heard) // 2]:.0f} ms (median), {heard[-1]:.0f} ms at most" if heard
          else f"\n{what}: done before it could be stopped")  # fmt: skip
