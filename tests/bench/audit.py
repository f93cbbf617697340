"""What an audit costs: ``python -m tests.bench.audit [SHEETS] [TRACES]``, with 1 and 2 workers of a local Dask cluster.

Each sheet is made from a job file of its own, so that no two are alike; it is verified as ``shoplib verify`` does.
"""

import sys
import tempfile
import time
from pathlib import Path

from shoplib.audit.run import audit
from shoplib.record.jobfile_record import make_record
from shoplib.sheet import typeset
from tests.trace_simulator import as_csv, simulate


def archive(folder, sheets, traces):
    for k in range(sheets):
        inputs = {"torque": f"{30 + k % 40}.{k % 10} N*m", "thread": "M10x1.5",
                 "mu_thread": "0.12", "mu_head": "0.12", "bearing_outer": "15 mm", "bearing_hole": "11 mm"}  # fmt: skip
        entry = {"working": "preload_from_torque", "inputs": inputs}
        job = {"number": f"bench-{k}", "engine": "invented", "done_by": "A. Learner", "date": "2026-11-28"}
        (folder / f"sheet-{k:05}.pdf").write_bytes(typeset(make_record({"job": job, "entry": [entry]})))
    for k in range(traces):
        (folder / f"trace-{k:05}.csv").write_bytes(as_csv(simulate(k, samples=1000)))


def main(sheets=200, traces=200):
    from distributed import LocalCluster

    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "archive"
        folder.mkdir()
        archive(folder, int(sheets), int(traces))
        spent = {}
        for workers in (1, 2):
            with LocalCluster(n_workers=workers, threads_per_worker=1, dashboard_address=None) as cluster:
                output = Path(place) / f"out-{workers}"
                cluster.get_client().submit(warm, pure=False).result()
                begun = time.perf_counter()
                found = audit(str(folder), output, scheduler=cluster.scheduler_address)
                spent[workers] = time.perf_counter() - begun
            cost = found.results.groupby("kind")["seconds"].mean()
            print(
                f"{workers} workers: {len(found.results)} items in {spent[workers]:.1f} s; seconds each:",
                dict(cost.round(3)),
            )
            print(dict(found.results["state"].value_counts()))
        print(f"2 workers took {spent[2] / spent[1]:.0%} of the time of 1")


def warm():
    import shoplib.sheet.verify  # noqa: F401


if __name__ == "__main__":
    main(*sys.argv[1:])
