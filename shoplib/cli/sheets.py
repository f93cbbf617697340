"""The commands for sheets: shoplib sheet | print | read | verify."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

from shoplib.cli import jobs
from shoplib.cli.calculate import pairs
from shoplib.core.outcome_labels import outcome_label
from shoplib.sheet.verdict import EXIT_WORDS


def _print(options: argparse.Namespace) -> int:
    from shoplib.core.errors import BadInput
    from shoplib.sheet import files, print_alone
    from shoplib.sheet.render import SheetError

    raw, wrong = pairs(options.inputs)
    target = Path(options.output) if options.output else Path("sheets") / f"{options.name}.pdf"
    try:
        if wrong:
            raise BadInput([])
        files.free(target, options.force)  # an early message; checked again when writing
        files.write(target, print_alone(options.name, raw, paper=options.paper), force=options.force)
    except BadInput as error:
        wrong += map(str, error.problems)
        print(f"{options.name}: please correct", *wrong, sep="\n  ", file=sys.stderr)
        return 2
    except (SheetError, files.NotWritten) as error:
        print(error, file=sys.stderr)
        return 2
    scale = "; measure its check line before you rely on its scale" if options.name == "degree_disc" else ""
    print(f"printed: {target}{scale}")
    return 0


def _sheet(options: argparse.Namespace) -> int:
    from shoplib.core.errors import BadInput
    from shoplib.record.jobfile import BadFile, read_job_file
    from shoplib.record.jobfile_record import former_names, make_record
    from shoplib.record.sanitise import BadText
    from shoplib.sheet import files, typeset
    from shoplib.sheet.render import SheetError

    if bool(options.job) == bool(options.job_number):
        print("sheet: give either a job file, or a stored job with --job NUMBER", file=sys.stderr)
        return 2
    if options.job_number:
        return jobs.in_words(jobs.sheet)(options)
    if options.blank or options.issue:
        print("sheet: --blank and --issue need --job NUMBER", file=sys.stderr)
        return 2
    source = Path(options.job)
    try:
        job = read_job_file(source)
        for notice in former_names(job):
            print(f"{source.name}: {notice}", file=sys.stderr)
        record = make_record(job, paper=options.paper, folder=source.parent)
        target = Path(options.output) if options.output else Path("sheets") / files.name_for(record["job"]["number"])
        files.free(target, options.force)  # an early message; checked again when writing
        files.write(target, typeset(record), force=options.force)
    except BadInput as error:
        print(f"{source.name}: please correct", *map(str, error.problems), sep="\n  ", file=sys.stderr)
        return 2
    except (BadFile, BadText, SheetError, files.NotWritten) as error:
        print(error, file=sys.stderr)
        return 2
    outcome = f"; outcome: {outcome_label(record['outcome'])}" if record["outcome"] else ""
    print(f"worked sheet: {target}{outcome}")
    return 0


def _pdf(name: str) -> bytes | None:
    from shoplib.core import files
    from shoplib.core.reading_limits import SHEET

    try:
        return files.read_bounded(name, SHEET.size)
    except files.NotRead as error:
        print(f"{name}: {error}", file=sys.stderr)
        return None


def _read(options: argparse.Namespace) -> int:
    from shoplib.sheet.verify import NotASheet, read_record

    pdf = _pdf(options.sheet)
    if pdf is None:
        return 2
    try:
        record = read_record(pdf)
    except NotASheet as error:
        print(f"{options.sheet}: {error}", file=sys.stderr)
        return 2
    print(json.dumps(record, ensure_ascii=False, indent=2))
    return 0


def _held(named: str) -> str:
    """The hash that somebody holds: as typed, or the last hash of an earlier sheet.  Raises NotRead, NotASheet."""
    from shoplib.core import files
    from shoplib.core.reading_limits import SHEET
    from shoplib.sheet.verify import last_hash

    return last_hash(files.read_bounded(named, SHEET.size)) if named.lower().endswith(".pdf") else named


def _verify(options: argparse.Namespace) -> int:
    from shoplib.core import files
    from shoplib.sheet.verify import NotASheet, verify

    pdf = _pdf(options.sheet)
    if pdf is None:
        return 2
    try:
        verdict = verify(pdf, holds=_held(options.holds or ""))
    except files.NotRead as error:
        print(f"{options.holds}: {error}", file=sys.stderr)
        return 2
    except NotASheet as error:
        print(f"{options.sheet}: {error}", file=sys.stderr)
        return 2
    print(*verdict.as_lines(), sep="\n")
    return verdict.exit_code


def add(commands: argparse._SubParsersAction[Any]) -> None:
    """Add the commands of this module."""
    sheet = commands.add_parser("sheet", help="make the sheet of a job file or of a stored job")
    sheet.add_argument("job", nargs="?", metavar="JOB.toml", help="a job file: a text file of inputs that you write")
    sheet.add_argument("--job", dest="job_number", metavar="NUMBER", help="a stored job instead of a job file")
    sheet.add_argument("--blank", action="store_true", help="with --job: a blank sheet to fill in by hand at the bench")
    sheet.add_argument(
        "--issue",
        metavar="WHO",
        help="with --job: issue the sheet in the name of WHO, and keep this exact copy in the record",
    )
    sheet.add_argument("--for", dest="recipient", metavar="WHOM", help="with --issue: the person who gets the sheet")
    sheet.add_argument("--customer", action="store_true", help="with --job: only the pages for the customer")
    sheet.add_argument("-o", "--output", metavar="OUT.pdf", help="where to write (default: sheets/job-NUMBER.pdf)")
    sheet.add_argument("--paper", choices=("a4", "letter"), default="a4", help="size of the paper (default: a4)")
    sheet.add_argument("--force", action="store_true", help="replace an existing file")
    sheet.set_defaults(run=_sheet)
    printing = commands.add_parser("print", help="print a degree disc at true scale, or a conversion card")
    printing.add_argument("name", choices=("degree_disc", "conversion_card"))
    printing.add_argument("inputs", nargs="*", metavar="name=value", help="an input and its value")
    printing.add_argument("-o", "--output", metavar="OUT.pdf", help="where to write (default: sheets/NAME.pdf)")
    printing.add_argument("--paper", choices=("a4", "letter"), default="a4", help="size of the paper (default: a4)")
    printing.add_argument("--force", action="store_true", help="replace an existing file")
    printing.set_defaults(run=_print)
    for name, run, what in (
        ("read", _read, "show the record inside a sheet"),
        ("verify", _verify, "recalculate a sheet and compare each part of it"),
    ):
        command = commands.add_parser(
            name,
            help=what,
            epilog=EXIT_WORDS if name == "verify" else None,
            formatter_class=argparse.RawDescriptionHelpFormatter,  # one exit code per line
        )
        command.add_argument("sheet", metavar="SHEET.pdf", help="a sheet that shoplib made")
        if name == "verify":
            command.add_argument(
                "--holds",
                metavar="HASH",
                help="the last hash of an earlier sheet, or that sheet (EARLIER.pdf): "
                "check that SHEET.pdf still contains every line of that sheet",
            )
        command.set_defaults(run=run)
