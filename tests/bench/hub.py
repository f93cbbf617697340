"""What one learner costs a training centre's hub: memory and start time of kernels, and the record under many writers.

    .venv/bin/python -m tests.bench.hub                 all of it, by hand; prints tables
    .venv/bin/python -m tests.bench.hub lab pages store  or only some
    SHOPLIB_TEST_POSTGRES=postgresql://postgres@127.0.0.1:PORT/postgres …   the server for ``store``

Memory is the proportional set size (PSS) that Linux gives for each process: a page shared by ten kernels counts a tenth
in each, so the sums are what the machine must have.  Every kernel holds notebook 61 as a learner has it, run to its end.
"""

from __future__ import annotations

import json
import multiprocessing
import os
import statistics
import sys
import tempfile
import time
import urllib.request
import uuid
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import nbformat

from shoplib.core.paths import NOTEBOOKS
from tests.browser.server import TOKEN, lab, pages

NOTEBOOK = "61-preload-from-torque.ipynb"
COUNTS = (1, 5, 10)
ENTRIES = 40
CONNECTIONS = "SELECT count(*) FROM pg_stat_activity WHERE backend_type = 'client backend' AND pid <> pg_backend_pid()"


def pss(pid: int) -> float:
    """Megabytes of a process."""
    for line in Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines():
        if line.startswith("Pss:"):
            return int(line.split()[1]) / 1024
    raise ValueError(pid)


def worked(pid: int) -> float:
    """Processor seconds of a process so far: what a busy machine does not change."""
    after_name = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(after_name[11]) + int(after_name[12])) / os.sysconf("SC_CLK_TCK")


def below(pid: int) -> list[int]:
    """The processes that a process started."""
    tasks = Path(f"/proc/{pid}/task").glob("*/children")
    own = [int(child) for task in tasks for child in task.read_text().split()]
    return [*own, *(g for child in own for g in below(child))]


def kernels(server: int) -> list[int]:
    """The kernels of a server."""
    return [p for p in below(server) if b"ipykernel" in Path(f"/proc/{p}/cmdline").read_bytes()]


def listener(port: int) -> int:
    """The process of ours that serves a port."""
    for pid in below(os.getpid()):
        words = Path(f"/proc/{pid}/cmdline").read_text().split("\0")
        if any(word.endswith(f".port={port}") for word in words):
            return pid
    raise ProcessLookupError(port)


def ask(url: str, data: dict | None = None) -> bytes:
    body = None if data is None else json.dumps(data).encode()
    request = urllib.request.Request(url, data=body, headers={"Authorization": f"token {TOKEN}"})
    with urllib.request.urlopen(request, timeout=300) as answer:
        return answer.read()


def in_lab(base: str) -> float:
    """Seconds from asking for a kernel to its notebook run to the end."""
    import websocket  # comes with the notebook server

    start = time.perf_counter()
    kernel = json.loads(ask(f"{base}/api/kernels", {"name": "python3"}))["id"]
    address = f"{base.replace('http', 'ws', 1)}/api/kernels/{kernel}/channels?token={TOKEN}"
    line = websocket.create_connection(address, timeout=300)
    try:
        for cell in nbformat.read(NOTEBOOKS / NOTEBOOK, as_version=4).cells:
            if cell.cell_type != "code":
                continue
            mine = uuid.uuid4().hex
            header = {
                "msg_id": mine,
                "username": "bench",
                "session": mine,
                "msg_type": "execute_request",
                "version": "5.3",
            }
            content = {"code": cell.source, "silent": False, "store_history": True, "user_expressions": {},
                       "allow_stdin": False, "stop_on_error": True}  # fmt: skip
            line.send(json.dumps({"channel": "shell", "header": header, "parent_header": {}, "metadata": {},
                                  "content": content, "buffers": []}))  # fmt: skip
            while True:
                frame = line.recv()
                if not isinstance(frame, str):
                    continue
                said = json.loads(frame)
                if said["parent_header"].get("msg_id") == mine and said["msg_type"] == "execute_reply":
                    if said["content"]["status"] != "ok":
                        raise RuntimeError(said["content"])
                    break
    finally:
        line.close()
    return time.perf_counter() - start


def as_page(base: str) -> float:
    """Seconds until a page without code is there; its kernel stays until it is culled."""
    start = time.perf_counter()
    text = ask(f"{base}/voila/render/{NOTEBOOK}?token={TOKEN}")
    if b"widget-view+json" not in text:  # the kernel died, or did not start in time
        raise RuntimeError("the page shows no form")
    return time.perf_counter() - start


def desks(kind: str) -> None:
    """Memory and start time at 1, 5 and 10 kernels, one after another; then ten at once."""
    serve, start = {"lab": (lab, in_lab), "pages": (pages, as_page)}[kind]
    print(f"\n{kind}: notebook {NOTEBOOK} run to its end")
    print("kernels   s to start (median)   CPU s a kernel   MB a kernel (PSS, mean)   MB all kernels   MB server")
    for together in (False, True):
        with tempfile.TemporaryDirectory(prefix="shoplib-hub-") as folder, serve(Path(folder) / "notebooks") as base:
            server = listener(int(base.rpartition(":")[2]))
            times: list[float] = []
            for count in COUNTS if not together else COUNTS[-1:]:
                more = count - len(times)
                if together:
                    with ThreadPoolExecutor(more) as pool:
                        times += pool.map(start, [base] * more)
                else:
                    times += [start(base) for _ in range(more)]
                time.sleep(2)
                running = kernels(server)
                sizes, cpu = [pss(p) for p in running], statistics.median(map(worked, running))
                if len(sizes) < count:
                    raise RuntimeError(f"{len(sizes)} kernels of {count}")
                note = " at once" if together else ""
                print(
                    f"{count:7}{note:8}{statistics.median(times):15.1f}{cpu:17.1f}{statistics.mean(sizes):26.0f}"
                    f"{sum(sizes):17.0f}{pss(server):12.0f}",
                    flush=True,
                )


def write(where: str, number: str, entries: int, begin: float) -> list[float]:
    """One learner: a job of their own, and entries kept one after another; seconds of each."""
    from shoplib.record.store import Store
    from tests.record_fixtures import HEADER, protrusion

    result = protrusion()
    taken = []
    with Store.open(where, wait=60) as store:
        store.start(**HEADER | {"number": number})
        time.sleep(max(0.0, begin - time.time()))
        for _ in range(entries):
            start = time.perf_counter()
            store.keep(number, result, who="A. Learner")
            taken.append(time.perf_counter() - start)
    return taken


def record() -> None:
    """Entries kept by many processes at once, in PostgreSQL."""
    import psycopg

    from tests.record_fixtures import fresh

    url = os.environ.get("SHOPLIB_TEST_POSTGRES")
    if not url:
        print("\nstore: set SHOPLIB_TEST_POSTGRES to a PostgreSQL on loopback (.ci/run shows how one is started)")
        return
    print(f"\nstore: PostgreSQL, {ENTRIES} entries a writer, each writer a process with a job of its own")
    print("writers   entries/s   ms to keep one (median)   p95   connections")
    for writers in (1, 4, 8, 16):
        with tempfile.TemporaryDirectory() as folder, fresh("postgres", Path(folder)) as where:
            from shoplib.record.store import Store

            Store.open(where).close()
            begin = time.time() + 3 + 2.5 * writers
            with multiprocessing.get_context("spawn").Pool(writers) as pool:
                jobs = [pool.apply_async(write, (where, f"26-{n:03}", ENTRIES, begin)) for n in range(writers)]
                open_ = 0
                with psycopg.connect(url, autocommit=True) as admin:
                    while not all(job.ready() for job in jobs):
                        (now,) = admin.execute(CONNECTIONS).fetchone() or (0,)
                        open_ = max(open_, now)
                        time.sleep(0.2)
                taken = [t for job in jobs for t in job.get()]
                longest = max(sum(job.get()) for job in jobs)
            ordered = sorted(taken)
            print(
                f"{writers:7}{len(taken) / longest:12.0f}{1e3 * statistics.median(taken):26.1f}"
                f"{1e3 * ordered[round(0.95 * (len(ordered) - 1))]:6.0f}{open_:14}",
                flush=True,
            )


def main(wanted: list[str]) -> None:
    print(f"{os.cpu_count()} processors, load before the start {os.getloadavg()[0]:.1f}")
    for what in wanted or ["lab", "pages", "store"]:
        record() if what == "store" else desks(what)


if __name__ == "__main__":
    main(sys.argv[1:])
