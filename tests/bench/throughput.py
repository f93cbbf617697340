"""Entries saved per second by 1, 8 and 30 writers, against what the disk alone allows, measured beside it.

    .venv/bin/python -m tests.bench.throughput [SECONDS]       each writer is a process with a job of its own
    .venv/bin/python -m tests.bench.throughput [SECONDS] MS [KIND]    on a disk that takes MS longer for a forced write

A virtual disk that answers in 0.2 ms leaves the processor as the limit; with MS (2: a solid-state disk, 8: a turning
one; common practice, no source) the disk is the limit, and the program must come near it.  With MS the bench starts a
PostgreSQL of its own, whose forced writes are slow (`slow_disk.c`, needs a C compiler); without, SHOPLIB_TEST_POSTGRES
names one.  TMPDIR=/dev/shm takes the real disk, which others may be using, out of the figures.

Run it from another checkout as well (PYTHONPATH) to compare before and after, in turns: the machine is rarely idle.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import shutil
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from shoplib.record.store import Store
from tests.record_fixtures import HEADER, KINDS, fresh, protrusion


def slow_disk(more):
    """Every forced write of this process takes so many seconds longer."""
    real = os.fdatasync

    def forced(file):
        real(file)
        time.sleep(more)

    if more:
        os.fdatasync = forced


@contextlib.contextmanager
def slow_server(more):
    """A PostgreSQL on loopback whose every forced write takes so many seconds longer, for :func:`fresh`."""
    programs = sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda p: int(p.parent.name))[-1]
    with tempfile.TemporaryDirectory() as name, socket.socket() as s:
        folder, library = Path(name), Path(name) / "slow_disk.so"
        source = Path(__file__).with_name("slow_disk.c")
        subprocess.run(["cc", "-shared", "-fPIC", "-O2", "-o", library, source, "-ldl"], check=True)
        as_user = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
        if as_user:
            shutil.chown(folder, "postgres")
        s.bind(("127.0.0.1", 0))
        port = s.getsockname()[1]
        s.close()

        def run(program, *arguments, **more_of):
            subprocess.run([*as_user, programs / program, "-D", folder / "data", *arguments], check=True, cwd="/",
                           stdout=subprocess.DEVNULL, env={**os.environ, **more_of})  # fmt: skip

        run("initdb", "-U", "postgres", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8", "--no-sync")
        options = f"-p {port} -c listen_addresses=127.0.0.1 -c unix_socket_directories={folder}"
        slow = {"LD_PRELOAD": str(library), "SLOW_DISK_US": str(round(1e6 * more))}
        run("pg_ctl", "-l", folder / "server.log", "-w", "-o", options, "start", **slow)
        os.environ["SHOPLIB_TEST_POSTGRES"] = f"postgresql://postgres@127.0.0.1:{port}/postgres"
        try:
            yield
        finally:
            run("pg_ctl", "-m", "immediate", "stop")


def write(where, gate, told, writer, seconds, more):
    slow_disk(more)
    with Store.open(where) as store:
        number = f"job {writer}"
        store.start(**{**HEADER, "number": number})
        result, took = protrusion(), []
        gate.wait(120)
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            begun = time.perf_counter()
            store.keep(number, result, who=f"writer {writer}")
            took.append(time.perf_counter() - begun)
    told.put(took)


def disk(folder, more, seconds=1.0):
    """Forced writes of 4 kB per second, appended to one file."""
    count, until = 0, time.monotonic() + seconds
    with open(folder / "disk", "ab") as file:
        while time.monotonic() < until:
            file.write(os.urandom(4096))
            file.flush()
            os.fdatasync(file.fileno())
            time.sleep(more)
            count += 1
    return count / seconds


def measure(kind, writers, seconds, more=0.0):
    with tempfile.TemporaryDirectory() as name, fresh(kind, Path(name)) as where:
        Store.open(where).close()
        context = multiprocessing.get_context("spawn")
        gate, told = context.Barrier(writers + 1), context.Queue()
        processes = [context.Process(target=write, args=(where, gate, told, w, seconds, more)) for w in range(writers)]
        for process in processes:
            process.start()
        gate.wait(120)
        heard = [told.get(timeout=300) for _ in processes]
        for process in processes:
            process.join(60)
        limit = disk(Path(name), more)
        rate = sum(map(len, heard)) / seconds
        medians = sorted(statistics.median(t) for t in heard if t)
        print(
            f"{kind:9} {writers:2} writers: {rate:5.0f} entries/s; the disk alone {limit:5.0f}/s; disk ÷ entries {limit / rate:.2f}; "
            f"median {1e3 * statistics.median(medians):.0f} ms; slowest writer {medians[-1] / statistics.median(medians):.2f} × the median; "
            f"load {os.getloadavg()[0]:.0f}", flush=True,
        )  # fmt: skip


if __name__ == "__main__":
    lasting = float(sys.argv[1]) if len(sys.argv) > 1 else 10.0
    longer = float(sys.argv[2]) / 1e3 if len(sys.argv) > 2 else 0.0
    with slow_server(longer) if longer else contextlib.nullcontext():
        for kind in sys.argv[3:] or KINDS:
            for writers in (1, 8, 30):
                measure(kind, writers, lasting, longer)
