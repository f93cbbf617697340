"""The command that looks at an archive as a whole."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any


def audit(options: argparse.Namespace) -> int:
    """Verify everything in a folder or a store, and report what does not hold and what is unusual."""
    from shoplib.audit.examine import NOT_READ, WRONG
    from shoplib.audit.run import CannotAudit
    from shoplib.audit.run import audit as run
    from shoplib.audit.summary import page
    from shoplib.core.files import NotRead
    from shoplib.record.config import default_place
    from shoplib.record.errors import StoreError

    target, output = options.target or default_place(), Path(options.output)
    try:
        found = run(target, output, scheduler=options.scheduler, workers=options.workers, told=_show_progress)
    except (CannotAudit, NotRead, StoreError) as error:
        print(error, file=sys.stderr)
        return 2
    (output / "summary.html").write_text(page(target, found), encoding="utf-8")
    counts = found.results["state"].value_counts()
    print(", ".join(f"{n} {state}" for state, n in counts.items()) or "nothing to examine")
    for group in found.unusual:
        print(f"unusual: {group.factor} {group.group}, {group.what} of {group.measure.replace('_', ' ')}")
    print(f"summary: {output / 'summary.html'}")
    return 1 if counts.get(WRONG, 0) or counts.get(NOT_READ, 0) else 0


def _show_progress(done: int, of: int) -> None:
    print(f"\r{done} of {of}", end="" if done < of else "\n", file=sys.stderr, flush=True)


def add(commands: argparse._SubParsersAction[Any]) -> None:
    """Add the command."""
    command = commands.add_parser(
        "audit",
        help="verify all sheets, jobs and wrench recordings (traces) in a folder or a job record, and report what is "
        "unusual",
        epilog="After an interruption, run it again: it continues where it stopped. Exit code 1: something is NOT "
        "verified or cannot be read.",
    )
    command.add_argument(
        "target", nargs="?", metavar="FOLDER_OR_STORE", help="a folder, or a job record (default: your own)"
    )
    command.add_argument("-o", "--output", default="audit", metavar="FOLDER", help="where to write (default: audit/)")
    command.add_argument("--workers", type=int, default=0, metavar="N", help="local processes (default: one per core)")
    command.add_argument(
        "--scheduler", default="", metavar="ADDRESS", help="a Dask scheduler, for example tcp://192.0.2.7:8786"
    )
    command.set_defaults(run=audit)
