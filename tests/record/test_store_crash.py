"""The kill test: a process that writes ticks and drafts is killed at random moments.

After each kill the store opens, every acknowledged tick is there, none stands twice, and the draft is one that was
typed.  The next process first sends again what was not acknowledged, with the same uid, as a guide does on resuming.
"""

import contextlib
import multiprocessing
import os
import random
import signal
import subprocess
import sys
import time

import pytest

from shoplib.record.errors import Refused
from shoplib.record.store import Store, new_id
from tests import ci_part
from tests.record_fixtures import HEADER, KINDS, NUMBER, fresh

KILLS = 200 if ci_part.ALL else 10
PLAN = "plan-0000-0000"


def write_ticks(where, pipe, pending, first):
    """Write ticks for ever; say each uid before it is sent, and again when it is acknowledged."""
    with Store.open(where, wait=60) as store:
        with contextlib.suppress(Refused):
            store.start(**HEADER, uid="job-0000-0000")
        store.note(NUMBER, "programme", {"stages": ["40 N*m"]}, title="plan", who="A", uid=PLAN)
        bolt = first
        while True:
            uid, bolt = pending or (new_id(), bolt + 1)
            pending = None
            pipe.send(("sends", uid, bolt))
            store.save_draft("guide", {"bolt": str(bolt), "rows": ["x" * 50] * 40}, number=NUMBER)
            store.tick(NUMBER, programme=PLAN, stage=1, bolt=str(bolt), value="40 N*m", initials="AL", uid=uid)
            pipe.send(("kept", uid, bolt))


@pytest.mark.parametrize("kind", KINDS)
def test_killed_at_random_moments(kind, tmp_path):
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["tests.record.test_store_crash", "shoplib.record.exchange"])
    moment = random.Random(20261125)
    told = Told()
    with fresh(kind, tmp_path) as where:
        for k in range(KILLS):
            ours, theirs = context.Pipe(duplex=False)
            process = context.Process(target=write_ticks, args=(where, theirs, told.pending, told.last))
            process.start()
            theirs.close()
            acknowledged = len(told.kept)
            if k % 4:  # a quarter of them die while they make or open the store
                while len(told.kept) == acknowledged:
                    told.hear(ours.recv())
            time.sleep(moment.uniform(0, 0.2 if k % 4 else 0.5))
            os.kill(process.pid, signal.SIGKILL)
            process.join(60)
            assert process.exitcode == -signal.SIGKILL  # it did not stop by itself, with an error
            with contextlib.suppress(EOFError):
                while ours.poll():
                    told.hear(ours.recv())
            ours.close()
            look(where, told.kept, told.pending)
    print(f"{kind}: {KILLS} kills, {len(told.kept)} acknowledged ticks, none lost, none twice")
    assert len(told.kept) >= KILLS * 3 // 4  # it was at work when it was killed


class Told:
    """What the writers said: what they sent, and what was acknowledged."""

    def __init__(self):
        self.kept, self.pending, self.last = {}, None, 0

    def hear(self, message):
        said, uid, bolt = message
        self.last = max(self.last, bolt)
        self.pending = (uid, bolt) if said == "sends" else None
        if said == "kept":
            self.kept[uid] = bolt


def look(where, kept, pending):
    with Store.open(where) as store:
        if not store.jobs().found:
            assert not kept
            return
        job = store.job(NUMBER)
        uids = [t.uid for t in job.ticks]
        assert len(uids) == len(set(uids))
        assert len({t.bolt for t in job.ticks}) == len(uids)
        lost = set(kept) - set(uids)
        assert not lost
        extra = set(uids) - set(kept)
        assert extra <= ({pending[0]} if pending else set())  # written, but killed before it could say so
        assert job.damaged == ()
        assert [x.n for x in job.lines] == list(range(1, len(job.lines) + 1))
        draft = store.draft("guide", number=NUMBER)
        newest = max(kept.values(), default=0)
        if kept:
            assert int(draft.inputs["bolt"]) >= newest
        if KILLS <= 20 or len(kept) % 10 == 0:
            assert store.check() == []


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="another system ends its processes otherwise")
def test_a_writer_that_dies_holding_the_lock_lets_go(tmp_path):
    """The lock dies with its process: the next writer does not wait for a ghost."""
    where = tmp_path / "jobs.db"
    with Store.open(where, wait=5) as store:
        store.start(**HEADER)
        dying = (
            "import os, signal, sqlite3, sys\n"
            "other = sqlite3.connect(sys.argv[1], isolation_level=None)\n"
            "other.execute('BEGIN IMMEDIATE')\n"
            "print(other.execute(\"UPDATE job SET engine = 'half'\").rowcount, flush=True)\n"
            "os.kill(os.getpid(), signal.SIGKILL)"
        )
        died = subprocess.run([sys.executable, "-c", dying, where], capture_output=True, text=True, check=False)
        assert (died.returncode, died.stdout) == (-signal.SIGKILL, "1\n"), died.stderr
        store.amend(NUMBER, who="A", complaint="goes on")
        assert store.job(NUMBER).header["engine"] == HEADER["engine"]
        assert store.check() == []
