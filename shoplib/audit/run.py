"""The audit of an archive: batches in other processes, here or on a cluster; results as Parquet; it can be resumed."""

from __future__ import annotations

import concurrent.futures
import itertools
import json
import multiprocessing
import os
import time
import uuid
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from shoplib.audit.compare import FACTORS, Unusual, unusual
from shoplib.audit.examine import NOT_READ, Item, examine_all, items_of, row_of
from shoplib.core.errors import ShoplibError

BATCH = 16  # items; a batch that is lost is examined again
AT_ONCE = 256  # batches that wait in a cluster; enough for a hundred processes
ATTEMPTS = 3  # of a batch whose process ended; then each of its items is tried alone
ANSWER, WAIT = 10.0, 120.0  # seconds for one answer of the scheduler, and for one that was restarted


class CannotAudit(ShoplibError):
    """The audit cannot run; the message says why."""


class Audited(NamedTuple):
    """What an audit found."""

    results: Any  # a DataFrame, one row for each item
    unusual: list[Unusual]
    examined: int  # in this run; the others were examined before
    seconds: float


def audit(
    target: str, output: Path, *, scheduler: str = "", workers: int = 0, told: Callable[[int, int], None] | None = None
) -> Audited:
    """Examine everything in the folder or store that was not examined before, and write results and summary."""
    parquet = _parquet()
    begun = time.monotonic()
    parts = output / "parts"
    parts.mkdir(parents=True, exist_ok=True)
    items = [i for i in items_of(target) if not _within(i, output)]
    done = _done(parts, parquet)
    wanted = {item.key for item in items}
    left = [item for item in items if item.key not in done]
    batches = [left[k : k + BATCH] for k in range(0, len(left), BATCH)]
    finished = len(items) - len(left)
    for rows in _examined(batches, scheduler, workers):
        _write(parquet, rows, parts / f"{uuid.uuid4().hex}.parquet")
        finished += len(rows)
        if told:
            told(finished, len(items))
    results = _results(parts, parquet, wanted)
    readings = [r for text in results["readings"] for r in json.loads(text)]
    _write(parquet, results.drop(columns="readings").to_dict("list"), output / "results.parquet")
    columns = ("job", "measure", "value", *FACTORS)
    _write(parquet, {c: [r[c] for r in readings] for c in columns}, output / "readings.parquet")
    return Audited(results, unusual(readings), len(left), time.monotonic() - begun)


def _parquet() -> Any:
    try:
        import pyarrow
        import pyarrow.parquet
    except ModuleNotFoundError:
        raise CannotAudit('the results are Parquet files; type  pip install "shoplib[cluster]"  first') from None
    return pyarrow


def _within(item: Item, output: Path) -> bool:
    return item.kind != "stored job" and (Path(item.root) / item.place).is_relative_to(output)


# ------------------------------------------------------------------------------ results on disk
def _write(parquet: Any, rows: Any, path: Path) -> None:
    """A table, complete or not at all: a part that was being written when the audit ended is not read."""
    table = parquet.table(rows) if isinstance(rows, dict) else parquet.Table.from_pylist(rows)
    unfinished = path.with_suffix(".unfinished")
    parquet.parquet.write_table(table, unfinished)
    os.replace(unfinished, path)


def _done(parts: Path, parquet: Any) -> set[str]:
    found: set[str] = set()
    for part in parts.glob("*.parquet"):
        found.update(parquet.parquet.read_table(part, columns=["key"])["key"].to_pylist())
    return found


def _results(parts: Path, parquet: Any, wanted: set[str]) -> Any:
    import pandas

    tables = [parquet.parquet.read_table(p) for p in sorted(parts.glob("*.parquet"))]
    names = ["key", "place", "kind", "state", "outcome", "findings", "readings", "program", "seconds"]
    whole = parquet.concat_tables(tables).to_pandas() if tables else pandas.DataFrame(columns=names)
    whole = whole[whole["key"].isin(wanted)].drop_duplicates("key")
    return whole.sort_values("place", kind="stable").reset_index(drop=True)


# ------------------------------------------------------------------------------ processes
def _examined(batches: Sequence[Sequence[Item]], scheduler: str, workers: int) -> Iterator[list[dict[str, Any]]]:
    """The rows of each batch as it is finished.  A batch whose process ended is examined again."""
    left = dict(enumerate(batches))
    attempts = dict.fromkeys(left, 0)
    suspects: list[Item] = []
    most = AT_ONCE if scheduler else 4 * (workers or os.cpu_count() or 1)
    while left:
        pool, lost = _pool(scheduler, workers)
        futures: dict[Any, int] = {}
        try:
            for k, rows in _submitted(pool, left, futures, most):
                yield rows
                del left[k]
        except lost:
            for future, k in futures.items():
                if k in left and future.done() and not future.cancelled() and future.exception() is None:
                    yield future.result()
                    del left[k]
                elif k in left:
                    attempts[k] += 1
        finally:
            _close(pool)
        for k in [k for k in left if attempts[k] >= ATTEMPTS]:
            suspects += left.pop(k)
    for item in suspects:
        yield [_alone(item, scheduler)]


def _submitted(
    pool: Any, left: dict[int, Sequence[Item]], futures: dict[Any, int], most: int
) -> Iterator[tuple[int, list[dict[str, Any]]]]:
    """The batches in the order in which they end; only so many wait in the pool at once."""
    waiting = iter(list(left.items()))
    running: set[Any] = set()
    while True:
        for k, batch in itertools.islice(waiting, most - len(running)):
            future = pool.submit(examine_all, list(batch))
            futures[future] = k
            running.add(future)
        if not running:
            return
        ended, running = concurrent.futures.wait(running, return_when=concurrent.futures.FIRST_COMPLETED)
        for future in ended:
            rows = future.result()  # raises what was lost
            yield futures.pop(future), rows


def _alone(item: Item, scheduler: str) -> dict[str, Any]:
    """An item of a batch that ended its process again and again, in a process of its own."""
    pool, lost = _pool(scheduler, 1)
    try:
        row: dict[str, Any] = pool.submit(examine_all, [item]).result()[0]
        return row
    except lost:
        return row_of(item, NOT_READ, ["the process that examined it ended"])
    finally:
        _close(pool)


def _pool(scheduler: str, workers: int) -> tuple[Any, tuple[type[BaseException], ...]]:
    """An executor, and the errors with which it says that a process or the scheduler was lost."""
    if not scheduler:
        context = multiprocessing.get_context("spawn")
        pool = concurrent.futures.ProcessPoolExecutor(workers or os.cpu_count() or 1, mp_context=context)
        return pool, (concurrent.futures.process.BrokenProcessPool,)
    try:
        from distributed import Client, KilledWorker
        from distributed.comm.core import CommClosedError
    except ModuleNotFoundError:
        raise CannotAudit('a cluster needs Dask; type  pip install "shoplib[cluster]"  first') from None
    until = time.monotonic() + WAIT
    while True:
        try:
            client = Client(scheduler, timeout=ANSWER, set_as_default=False)
            break
        except (OSError, TimeoutError) as error:
            if time.monotonic() > until:
                raise CannotAudit(f"the scheduler {scheduler} does not answer: {error}") from None
            time.sleep(1.0)
    pool = client.get_executor(pure=False, retries=2)
    lost = (KilledWorker, CommClosedError, concurrent.futures.CancelledError, OSError, TimeoutError)
    return pool, lost


def _close(pool: Any) -> None:
    client = getattr(pool, "_client", None)
    if client is None:
        pool.shutdown(wait=True, cancel_futures=True)
    else:
        client.close(timeout=5)
