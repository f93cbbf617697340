"""An archive looked at as a whole: what does not hold is named, nothing is lost, and chance names no group."""

import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import psutil
import pytest

from shoplib.audit import run as running
from shoplib.audit.compare import ALARM, unusual
from shoplib.audit.examine import items_of
from shoplib.audit.run import CannotAudit, audit
from shoplib.audit.summary import page
from shoplib.cli import main
from shoplib.core.files import NotRead
from shoplib.record.sample_job import invented_job
from tests.trace_simulator import as_csv, simulate

PDF = Path(__file__).parents[1] / "archive" / "0.1.0" / "pdf"


def traces_in(folder, count, samples=400):
    folder.mkdir(exist_ok=True)
    for k in range(count):
        (folder / f"trace-{k:03}.csv").write_bytes(as_csv(simulate(k, samples=samples)))
    return folder


@pytest.fixture
def archive(tmp_path):
    folder = traces_in(tmp_path / "archive", 3)
    sheet = next(PDF.glob("*.pdf"))
    shutil.copy(sheet, folder / "good.pdf")
    with invented_job() as (store, number):
        raw = store.export(number)
    (folder / "job.json").write_bytes(raw)
    (folder / "<b>changed.json").write_bytes(raw.replace(b"N*m", b"N*M", 1))
    (folder / "not a table.csv").write_text("hello", encoding="utf-8")
    (folder / "note.txt").write_text("not looked at", encoding="utf-8")
    return folder


def test_everything_is_examined_and_only_what_changed_is_examined_again(archive, tmp_path, capsys):
    found = audit(str(archive), tmp_path / "out", workers=1)
    states = dict(zip(found.results["place"], found.results["state"], strict=True))
    assert states.pop("good.pdf") in ("holds", "not covered")
    assert states == {"trace-000.csv": "holds", "trace-001.csv": "holds", "trace-002.csv": "holds", "job.json": "holds",
                      "<b>changed.json": "does not hold", "not a table.csv": "other table"}  # fmt: skip
    assert found.examined == 7
    readings = running._parquet().parquet.read_table(tmp_path / "out" / "readings.parquet").to_pandas()
    assert {"slope", "peak_torque"} <= set(readings["measure"])
    assert any(m.startswith("peak torque at") for m in readings["measure"]), "the ticks of the invented job"
    assert {"engine oil"} <= {text[:10] for text in readings["lubricant"]}
    html = page("<i>x</i>", found)
    assert "<b>changed" not in html
    assert "&lt;b&gt;changed" in html
    assert "<i>x" not in html
    (archive / "trace-001.csv").write_bytes(as_csv(simulate(9, samples=300)))
    (archive / "trace-002.csv").unlink()
    assert main(["audit", str(archive), "-o", str(tmp_path / "out"), "--workers", "1"]) == 1
    again = audit(str(archive), tmp_path / "out", workers=1)
    assert again.examined == 0
    assert len(again.results) == 6
    assert (tmp_path / "out" / "summary.html").exists()
    assert "1 does not hold" in capsys.readouterr().out


def test_a_store_is_examined_job_by_job(tmp_path):
    from shoplib.record.store import Store

    place = str(tmp_path / "jobs.db")
    with invented_job() as (store, number):
        raw = store.export(number)
    with Store.open(place) as store:
        store.import_job(raw)
    found = audit(place, tmp_path / "out", workers=1)
    assert list(found.results["state"]) == ["holds"]
    assert list(found.results["kind"]) == ["stored job"]
    with pytest.raises(NotRead):
        items_of(str(tmp_path / "nothing.db"))


# ------------------------------------------------------------------------------ nothing is lost
def in_the_background(folder, output, **how):
    box = {}

    def work():
        try:
            box["found"] = audit(str(folder), output, **how)
        except BaseException as error:  # noqa: BLE001 -- handed to the test
            box["error"] = error

    thread = threading.Thread(target=work)
    thread.start()
    return thread, box


def wait_for(what, seconds=60):
    until = time.monotonic() + seconds
    while not what():
        assert time.monotonic() < until, "nothing happened"
        time.sleep(0.02)


def test_a_worker_that_is_killed_loses_nothing(tmp_path, monkeypatch):
    monkeypatch.setattr(running, "BATCH", 2)
    folder, output = traces_in(tmp_path / "archive", 40, samples=1200), tmp_path / "out"
    before = {c.pid for c in psutil.Process().children(recursive=True)}
    thread, box = in_the_background(folder, output, workers=2)
    wait_for(lambda: len(list((output / "parts").glob("*.parquet"))) >= 2)
    mine = [
        c
        for c in psutil.Process().children(recursive=True)
        if c.pid not in before and "spawn_main" in " ".join(c.cmdline())
    ]
    mine[-1].send_signal(signal.SIGKILL)
    thread.join(120)
    assert "error" not in box, box
    assert len(box["found"].results) == 40
    assert set(box["found"].results["state"]) == {"holds"}


def test_an_item_that_ends_its_process_is_written_down_and_the_others_are_examined(tmp_path, monkeypatch):
    folder = traces_in(tmp_path / "archive", 3)
    real = running.examine_all
    monkeypatch.setattr(running, "_pool", lambda scheduler, workers: (OneAtATime(real), (ConnectionError,)))
    found = audit(str(folder), tmp_path / "out")
    states = dict(zip(found.results["place"], found.results["state"], strict=True))
    assert states == {"trace-000.csv": "holds", "trace-001.csv": "not read", "trace-002.csv": "holds"}


class OneAtATime:
    """A pool whose process ends whenever it examines trace-001."""

    def __init__(self, examine_all):
        self.examine_all = examine_all

    def submit(self, function, items):
        import concurrent.futures

        future = concurrent.futures.Future()
        if any("001" in item.place for item in items):
            future.set_exception(ConnectionError("ended"))
        else:
            future.set_result(self.examine_all(items))
        return future

    def shutdown(self, **how):
        pass


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


def started(*command):
    environment = {**os.environ, "DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "3"}
    return subprocess.Popen([sys.executable, "-m", "dask", *command], env=environment, stdout=subprocess.DEVNULL,
                            stderr=subprocess.DEVNULL)  # fmt: skip


def test_a_cluster_loses_a_worker_and_its_scheduler_and_nothing_else(tmp_path, monkeypatch):
    monkeypatch.setattr(running, "BATCH", 2)
    folder, output = traces_in(tmp_path / "archive", 80, samples=1500), tmp_path / "out"
    port = free_port()
    address = f"tcp://127.0.0.1:{port}"
    scheduler = ("scheduler", "--host", "127.0.0.1", "--port", str(port), "--no-dashboard")
    worker = ("worker", address, "--nthreads", "1", "--no-nanny", "--no-dashboard", "--local-directory", str(tmp_path))
    processes = [started(*scheduler), started(*worker), started(*worker)]
    parts = output / "parts"
    try:
        thread, box = in_the_background(folder, output, scheduler=address)
        wait_for(lambda: len(list(parts.glob("*.parquet"))) >= 3)
        processes[1].kill()
        wait_for(lambda: len(list(parts.glob("*.parquet"))) >= 8)
        processes[0].kill()
        processes[0].wait()
        there = len(list(parts.glob("*.parquet")))
        processes += [started(*scheduler), started(*worker)]
        thread.join(120)
        assert not thread.is_alive()
        assert "error" not in box, box
        assert there < 40, "it was over before the scheduler ended"
        assert len(box["found"].results) == 80
        assert set(box["found"].results["state"]) == {"holds"}
    finally:
        for process in processes:
            process.kill()
            process.wait()


def test_a_scheduler_that_does_not_answer_is_named(tmp_path, monkeypatch):
    monkeypatch.setattr(running, "WAIT", 0.0)
    monkeypatch.setattr(running, "ANSWER", 1.0)
    with pytest.raises(CannotAudit, match="does not answer"):
        audit(str(traces_in(tmp_path / "archive", 1)), tmp_path / "out", scheduler=f"tcp://127.0.0.1:{free_port()}")


# ------------------------------------------------------------------------------ what is unusual
def readings_of(rng, jobs, shift=0.0, wider=1.0):
    rows = []
    for job in range(jobs):
        group = f"oil {job % 4}"
        odd = job % 4 == 0
        values = rng.normal(90 + (shift if odd else 0), 3 * (wider if odd else 1), 10)
        about = {"lubricant": group, "wrench": f"w{job % 3}", "bolts": ""}
        rows += [{**about, "job": str(job), "measure": "torque at +90°", "value": float(v)} for v in values]
    return rows


def test_a_group_that_differs_is_named_with_what_differs():
    rng = np.random.default_rng(21)
    moved = unusual(readings_of(rng, 80, shift=6.0))
    assert next((u.factor, u.group, u.what) for u in moved) == ("lubricant", "oil 0", "median")
    wide = unusual(readings_of(rng, 80, wider=4.0))
    assert ("lubricant", "oil 0", "spread") in [(u.factor, u.group, u.what) for u in wide]
    assert unusual([]) == []
    assert unusual(readings_of(rng, 8, shift=30.0)) == [], "two jobs are no group"


def test_chance_names_a_group_as_seldom_as_stated():
    rng = np.random.default_rng(22)
    alarms = sum(bool(unusual(readings_of(rng, 60))) for _ in range(60))
    assert alarms <= 60 * ALARM + 3 * (60 * ALARM) ** 0.5


def test_the_rows_are_plain_data(archive, tmp_path):
    audit(str(archive), tmp_path / "out", workers=1)
    rows = running._parquet().parquet.read_table(tmp_path / "out" / "results.parquet").to_pylist()
    assert json.loads(json.dumps(rows))
    assert not list((tmp_path / "out").rglob("*.unfinished"))
