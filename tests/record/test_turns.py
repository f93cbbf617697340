"""Writers to one SQLite file take turns in the order in which they came."""

import os
import subprocess
import sys
import time

import pytest

from shoplib.record import turns
from shoplib.record.store import Store
from shoplib.record.turns import COUNTER, FIRST, Turns
from tests.record_fixtures import HEADER, NUMBER, protrusion
from tests.servers import until

pytestmark = pytest.mark.skipif(turns.fcntl is None, reason="this system has no locks on bytes; writers ask at random")

# A writer: says its name into the log when it is its turn; between two turns it does not pause.
WRITER = """
import sys, time
from pathlib import Path
from shoplib.record.turns import Turns
name, record, times = sys.argv[1], Path(sys.argv[2]), int(sys.argv[3])
mine = Turns(record)
for _ in range(times):
    with mine.turn(time.monotonic() + 60):
        with open(record, "a") as log:
            log.write(name)
"""


def writer(name, record, times=1):
    return subprocess.Popen([sys.executable, "-c", WRITER, name, str(record), str(times)])


def drawn_as_seen_by(mine):
    """How many tickets have been drawn, without another opening: closing it would end the locks of this process."""
    return int.from_bytes(os.pread(mine._file, COUNTER, 0), "little")


def drawn(record):
    """How many tickets have been drawn."""
    queue = record.with_name(record.name + "-queue")
    return int.from_bytes(queue.read_bytes()[:COUNTER], "little") if queue.exists() else 0


@pytest.fixture
def record(tmp_path):
    path = tmp_path / "jobs.db"
    path.write_text("")
    return path


def test_they_are_served_in_the_order_in_which_they_came(record):
    mine, processes = Turns(record), []
    with mine.turn(time.monotonic() + 60):
        for k, name in enumerate("ABCDEF", 2):
            processes.append(writer(name, record))
            until(lambda k=k: drawn_as_seen_by(mine) == k, f"{name} is in the queue")
        assert record.read_text() == ""  # all of them wait
    assert [p.wait(60) for p in processes] == [0] * 6
    assert record.read_text() == "ABCDEF"


class Watching(Turns):
    """Notes how much was written when its ticket was drawn."""

    then = 0

    def _draw(self, until):
        ticket = super()._draw(until)
        self.then = len(self.path.with_name("jobs.db").read_text())
        return ticket


def test_one_that_writes_without_a_pause_lets_the_others_in_between(record):
    busy = writer("B", record, 100_000)
    until(lambda: len(record.read_text()) > 20, "the busy one writes")
    try:
        mine, waited = Watching(record), []
        for _ in range(40):
            with mine.turn(time.monotonic() + 60):
                waited.append(len(record.read_text()) - mine.then)
        assert busy.poll() is None
    finally:
        busy.kill()
        busy.wait()
    assert max(waited) <= 1, waited  # one turn of it at most, the one that it had drawn before


def test_one_that_is_killed_in_the_queue_holds_nobody_up(record):
    mine = Turns(record)
    with mine.turn(time.monotonic() + 60):
        killed, last = writer("K", record), None
        until(lambda: drawn_as_seen_by(mine) == 2, "it is in the queue")
        last = writer("L", record)
        until(lambda: drawn_as_seen_by(mine) == 3, "the next one is in the queue")
        killed.kill()
        killed.wait()
    assert last.wait(60) == 0
    assert record.read_text() == "L"


def test_one_that_is_killed_in_its_turn_holds_nobody_up(record):
    held = subprocess.Popen(
        [sys.executable, "-c", WRITER.replace('log.write(name)', 'log.write(name); log.flush(); time.sleep(600)'),
         "H", str(record), "1"],
    )  # fmt: skip
    until(lambda: record.read_text() == "H", "it has its turn")
    held.kill()
    held.wait()
    with Turns(record).turn(time.monotonic() + 60):
        assert record.read_text() == "H"


def test_whoever_waited_long_enough_goes_on(record):
    held = subprocess.Popen(
        [sys.executable, "-c", WRITER.replace('log.write(name)', 'log.write(name); log.flush(); time.sleep(600)'),
         "H", str(record), "1"],
    )  # fmt: skip
    try:
        until(lambda: record.read_text() == "H", "it has its turn")
        begun = time.monotonic()
        with Turns(record).turn(begun + 0.2):
            assert time.monotonic() >= begun + 0.2
    finally:
        held.kill()
        held.wait()


@pytest.mark.parametrize("content", [b"", b"x", b"\xff" * 8, b"a queue that somebody else wrote\n"])
def test_a_damaged_queue_is_used_again(record, content):
    record.with_name("jobs.db-queue").write_bytes(content)
    for _ in range(3):
        with Turns(record).turn(time.monotonic() + 5):
            pass
    assert 1 <= drawn(record) < 2**63 - FIRST


def test_without_the_queue_a_record_is_written_all_the_same(tmp_path, monkeypatch):
    (tmp_path / "jobs.db-queue").mkdir()  # nobody can open that
    with Store.open(tmp_path / "jobs.db") as store:
        store.start(**HEADER)
        monkeypatch.setattr(turns, "fcntl", None)
        assert store.keep(NUMBER, protrusion(), who="A. Learner").n == 2


def test_the_record_uses_it_and_only_its_owner_reads_it(tmp_path):
    record = tmp_path / "jobs.db"
    with Store.open(record) as store:
        store.start(**HEADER)
        before = drawn(record)
        store.keep(NUMBER, protrusion(), who="A. Learner")
        assert drawn(record) == before + 1
        store.job(NUMBER)
        assert drawn(record) == before + 1  # a reader waits for nobody
    assert os.stat(record.with_name("jobs.db-queue")).st_mode & 0o777 == 0o600
