"""What an audit costs: ``python -m tests.bench.audit [SHEETS] [TRACES] [ROUNDS] [FOLDER]``, with 1 and 2 local Dask workers.

Each sheet is made from a job file of its own, with a picture of its own, so that no two are alike; it is verified as
``shoplib verify`` does.  FOLDER keeps the archive for another run.
"""

import os
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from shoplib.audit.run import audit
from shoplib.record.jobfile_record import make_record
from shoplib.sheet import typeset
from tests.trace_simulator import as_csv, simulate


def archive(folder, sheets, traces):
    for k in range(sheets):
        _sheet(folder, k)
    for k in range(traces):
        _trace(folder, k)


def _sheet(folder, k):
    inputs = {"torque": f"{30 + k / 1000:.3f} N*m", "thread": "M10x1.5",
             "mu_thread": "0.12", "mu_head": "0.12", "bearing_outer": "15 mm", "bearing_hole": "11 mm"}  # fmt: skip
    entry = {"working": "preload_from_torque", "inputs": inputs}
    job = {"number": f"bench-{k}", "engine": "invented", "done_by": "A. Learner", "date": "2026-11-28"}
    (folder / f"sheet-{k:05}.pdf").write_bytes(typeset(make_record({"job": job, "entry": [entry]})))


def _trace(folder, k):
    (folder / f"trace-{k:05}.csv").write_bytes(as_csv(simulate(k, samples=1000)))


def _made(folder, sheets, traces):
    """The archive, made by two processes; what is there already stays."""
    folder.mkdir(parents=True, exist_ok=True)
    there = {path.name for path in folder.iterdir()}
    with ProcessPoolExecutor(2) as pool:
        for make, count, name in ((_sheet, sheets, "sheet-{:05}.pdf"), (_trace, traces, "trace-{:05}.csv")):
            left = [k for k in range(count) if name.format(k) not in there]
            list(pool.map(make, [folder] * len(left), left, chunksize=20))


def main(sheets=200, traces=200, rounds=1, kept=""):
    """In turns: 1 worker, 2 workers, and what the machine itself gains from two processes (a loop in plain Python)."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(kept or place) / "archive"
        begun = time.perf_counter()
        _made(folder, int(sheets), int(traces))
        print(f"{sheets} sheets and {traces} traces made in {time.perf_counter() - begun:.0f} s", flush=True)
        ratios = []
        client_warm()
        for turn in range(int(rounds)):
            order = (2, 1) if turn % 2 else (1, 2)
            spent = {workers: _audited(folder, Path(place) / f"out-{turn}-{workers}", workers) for workers in order}
            loops = {workers: _loops(workers) for workers in (1, 2)}
            ratios.append((spent[2] / spent[1], loops[2] / loops[1]))
            print(f"2 workers took {ratios[-1][0]:.0%} of the time of 1; the plain loop took {ratios[-1][1]:.0%}; "
                  f"load {os.getloadavg()[0]:.0f}", flush=True)  # fmt: skip
        medians = [sorted(r[k] for r in ratios)[len(ratios) // 2] for k in (0, 1)]
        print(f"medians of {rounds} rounds: audit {medians[0]:.0%}, plain loop {medians[1]:.0%}")


def _audited(folder, output, workers):
    """Seconds of one audit with so many workers; prints the processor time of each item."""
    from distributed import LocalCluster

    with LocalCluster(n_workers=workers, threads_per_worker=1, dashboard_address=None) as cluster:
        client = cluster.get_client()
        client.run(warm)
        before = sum(client.run(time.process_time).values())
        begun, here = time.perf_counter(), time.process_time()
        found = audit(str(folder), output, scheduler=cluster.scheduler_address)
        spent, here = time.perf_counter() - begun, time.process_time() - here
        used = sum(client.run(time.process_time).values()) - before
    cost = found.results.groupby("kind")["seconds"].mean()
    print(f"{workers} workers: {len(found.results)} items in {spent:.1f} s, processor time {used:.1f} s, "
          f"of the scheduler and this process {here:.1f} s; "
          f"seconds each: {({k: round(float(v), 3) for k, v in cost.items()})}; "
          f"{({k: int(n) for k, n in found.results['state'].value_counts().items()})}", flush=True)  # fmt: skip
    return spent


def _loops(workers, parts=40):
    """Seconds for the same work in plain Python, shared by so many processes."""
    with ProcessPoolExecutor(workers) as pool:
        list(pool.map(_loop, range(workers)))
        begun = time.perf_counter()
        list(pool.map(_loop, range(parts)))
        return time.perf_counter() - begun


def _loop(_):
    return sum(k * k for k in range(1_000_000))


def client_warm():
    import pandas  # noqa: F401
    import pyarrow.parquet  # noqa: F401


def warm():
    import shoplib.sheet.verify  # noqa: F401


if __name__ == "__main__":
    main(*sys.argv[1:])
