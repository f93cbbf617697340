"""The command line for stored jobs: shoplib sheet --job | jobs | export | import."""

from __future__ import annotations

import argparse
import contextlib
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shoplib.core.errors import ShoplibError
from shoplib.sheet.verdict import EXIT_CODES, EXIT_WORDS, Part

if TYPE_CHECKING:
    from shoplib.record.store import Store

LISTED = 50  # rows of the list of jobs
_WIDE = 44  # characters of a column


class Refusal(ShoplibError):
    """The command cannot be carried out; the message says why."""


def sheet(options: argparse.Namespace) -> int:
    """Make the sheet of a stored job, or a blank sheet for the bench; with --issue, issue it."""
    from shoplib.sheet import files, job_sheet
    from shoplib.sheet.render import SheetError

    with _store() as store:
        number = _number(options.job_number)
        kind = "-blank" if options.blank else "-customer" if options.customer else ""
        name = files.name_for(f"{number}{kind}")
        target = Path(options.output) if options.output else Path("sheets") / name
        files.free(target, options.force)  # checked before the issue is recorded
        try:
            pdf = job_sheet(
                store,
                number,
                paper=options.paper,
                blank=options.blank,
                who=options.issue or "",
                recipient=options.recipient or "",
                extent="customer" if options.customer else "whole",
            )
        except SheetError as error:
            raise Refusal(str(error)) from None
        files.write(target, pdf, force=options.force)
        job = store.job(number)
        what = "blank sheet" if options.blank else f"issue {job.issue.body['letter']}" if job.issue else "working copy"
        print(f"{what} of job {number}: {target}")
        if job.stale or job.damaged:
            print("do not sign this sheet: some of its numbers are out of date or damaged", file=sys.stderr)
    return 0


def jobs(options: argparse.Namespace) -> int:
    """List the jobs whose header contains every word, the last changed first."""
    with _store() as store:
        found = store.jobs(" ".join(options.search), limit=LISTED)
        for row in found.rows:
            state = "closed" if row.closed else "open"
            issue = f"issue {row.issue}" if row.issue else "no issue"
            words = (row.number, row.date, state, issue, row.engine, row.customer_ref)
            print("  ".join(_clip(w) for w in words if w))
        rest = found.found - len(found.rows)
        if rest:
            print(f"and {rest} more; add search words to narrow the list")
        if not found.found:
            print("no job found", file=sys.stderr)
    return 0


def export(options: argparse.Namespace) -> int:
    """Write a whole job as JSON, or its tables as CSV."""
    from shoplib.record import exchange
    from shoplib.sheet import files

    with _store() as store:
        number = _number(options.job_number)
        stem = files.name_for(number).removesuffix(".pdf")
        if options.tables:
            folder = Path(options.output) if options.output else Path("jobs") / stem
            tables = exchange.tables(store.job(number))
            for name in tables:
                files.free(folder / name, options.force)
            for name, text in tables.items():  # the byte order mark lets a spreadsheet read UTF-8
                files.write(folder / name, text.encode("utf-8-sig"), force=options.force)
            print(f"{len(tables)} tables of job {number}: {folder}")
        else:
            target = Path(options.output) if options.output else Path("jobs") / f"{stem}.json"
            files.free(target, options.force)
            files.write(target, store.export(number), force=options.force)
            print(f"job {number}: {target}")
    return 0


def import_job(options: argparse.Namespace) -> int:
    """Import an exported job, or the job inside a sheet.  What is NOT verified is not imported."""
    from shoplib.core import files
    from shoplib.core.reading_limits import EXPORTED_JOB
    from shoplib.record.preview import preview_of
    from shoplib.sheet.verify import JOB_RECORD_SCHEMA, NotASheet, job_in, read_record, verify

    path = Path(options.file)
    try:
        raw = files.read_bounded(path, EXPORTED_JOB.size)
    except files.NotRead as error:
        raise Refusal(f"{path}: {error}") from None
    if options.number and not options.who:
        raise Refusal('--number needs --who, the person who changes the number; type for example --who "A. Learner"')
    job_file: dict[str, Any] | None = None
    try:
        if raw.startswith(b"%PDF"):
            verdict = verify(raw)
            print(*verdict.as_lines(), sep="\n")
            if verdict.problems:
                print(f"{path}: {verdict.headline}; nothing was imported", file=sys.stderr)
                return verdict.exit_code
            record = read_record(raw)
            job_file = record if record["schema"] != JOB_RECORD_SCHEMA else None
            raw = raw if job_file is not None else job_in(raw)
        else:
            looked = preview_of(raw)
            if looked.problems:
                print(*looked.problems, sep="\n", file=sys.stderr)
                print(f"{path}: NOT verified: chain; nothing was imported", file=sys.stderr)
                return EXIT_CODES[Part.CHAIN]
            print(*looked.notes, sep="\n")
    except NotASheet as error:
        raise Refusal(f"{path}: {error}") from None
    with _store() as store:
        if job_file is not None:
            if options.number:
                raise Refusal(f"{path}: the number of a job file cannot be changed; leave --number out")
            number = store.start_from(job_file, who=options.who or None)
            added = None
        else:
            number, added = store.import_job(raw, number=options.number, who=options.who or "")
        lines = len(store.job(number).lines)
    print(_import_words(number, lines, lines if added is None else added))
    return 0


def _import_words(number: str, lines: int, added: int) -> str:
    if not added:
        return f"nothing to import: job {number} is already in the record, with all these lines"
    more = f", {added} of them new" if added < lines else ""
    return f"imported: job {number}, {lines} lines{more}"


def check_store(options: argparse.Namespace) -> int:
    """Check the whole record for damage."""
    del options
    with _store() as store:
        wrong = store.check()
    for found in wrong:
        print(found, file=sys.stderr)
    if not wrong:
        print("no damage found; checked: file, lines, photographs, jobs and drafts")
        print(f"lines: {store.seen.n}; last hash: {store.seen.chain}")
    return 1 if wrong else 0


def copy_store(options: argparse.Namespace) -> int:
    """Copy a record that is one file, while others go on writing."""
    with _store() as store:
        store.copy_to(options.file)
    print(f"copy of the record: {options.file}")
    return 0


def make_roles(options: argparse.Namespace) -> int:
    """Create the two roles of a record in PostgreSQL."""
    from shoplib.record import roles
    from shoplib.record.config import default_place

    roles.make_roles(default_place(), owner=options.owner, writer=options.writer)
    print(f"{options.owner} owns the tables; {options.writer} adds lines and cannot change or remove them")
    print(
        f"give {options.writer} a way to log in, then set SHOPLIB_STORE to postgresql://{options.writer}@HOST/DATABASE"
    )
    return 0


# ------------------------------------------------------------------------------ shared helpers
@contextlib.contextmanager
def _store() -> Iterator[Store]:
    from shoplib.record.database import READ_ONLY
    from shoplib.record.store import Store

    with Store.open() as store:
        for said in (store.caution, store.read_only and f"{store.place}: {READ_ONLY}."):
            if said:
                print(said, file=sys.stderr)
        yield store


def _number(typed: str) -> str:
    if not typed.strip():
        raise Refusal("the job number is missing; the command shoplib jobs lists the numbers")
    return typed.strip()


def _clip(text: str) -> str:
    return text if len(text) <= _WIDE else text[: _WIDE - 1] + "…"


def in_words(command: Callable[[argparse.Namespace], int]) -> Callable[[argparse.Namespace], int]:
    """Wrap a command: print each error as a message and return exit code 2."""

    def run(options: argparse.Namespace) -> int:
        from shoplib.core.errors import BadInput
        from shoplib.record.database import ON_SCREEN
        from shoplib.record.errors import StoreError
        from shoplib.sheet.files import NotWritten

        try:
            return command(options)
        except BadInput as error:
            print("please correct", *map(str, error.problems), sep="\n  ", file=sys.stderr)
        except (Refusal, StoreError, NotWritten) as error:
            print(str(error).replace(f" {ON_SCREEN}", ""), file=sys.stderr)  # no form is on a screen
        return 2

    return run


def add(commands: argparse._SubParsersAction[Any]) -> None:
    """Add the commands of this module."""
    listing = commands.add_parser("jobs", help="list the stored jobs")
    listing.add_argument("search", nargs="*", metavar="WORD", help="words to find in the job's header")
    listing.set_defaults(run=in_words(jobs))
    out = commands.add_parser("export", help="write a stored job as JSON, or its tables as CSV")
    out.add_argument("job_number", metavar="NUMBER", help="number of the job")
    out.add_argument("-o", "--output", metavar="OUT", help="file, or folder with --tables (default: in jobs/)")
    out.add_argument("--tables", action="store_true", help="write CSV tables for a spreadsheet, without photographs")
    out.add_argument("--force", action="store_true", help="replace existing files")
    out.set_defaults(run=in_words(export))
    taking = commands.add_parser(
        "import",
        help="import an exported job, or the job inside a sheet",
        epilog=f"The file is verified before it is imported.\n\n{EXIT_WORDS}",
        formatter_class=argparse.RawDescriptionHelpFormatter,  # one exit code per line
    )
    taking.add_argument("file", metavar="FILE.json|SHEET.pdf", help="an exported job, or a sheet")
    taking.add_argument("--number", metavar="N", help="a different number, if the job's own number is already used")
    taking.add_argument("--who", metavar="WHO", help="the person who imports the job")
    taking.set_defaults(run=in_words(import_job))
    keeping = commands.add_parser("store", help="check, copy or set up the job record").add_subparsers(
        required=True, metavar="COMMAND"
    )
    looking = keeping.add_parser("check", help="check all jobs for damage; print the number of lines and the last hash")
    looking.set_defaults(run=in_words(check_store))
    copying = keeping.add_parser("copy", help="write a copy of a record that is one file, for a backup")
    copying.add_argument("file", metavar="COPY.db")
    copying.set_defaults(run=in_words(copy_store))
    making = keeping.add_parser(
        "roles", help="PostgreSQL only: create one role that owns the tables and one that only adds lines"
    )
    making.add_argument("--owner", default="shoplib_owner", metavar="ROLE")
    making.add_argument("--writer", default="shoplib_writer", metavar="ROLE")
    making.set_defaults(run=in_words(make_roles))
