"""The command line: shoplib open | work | sheet | print | class | read | verify | jobs | export | import."""

from __future__ import annotations

import argparse
import json
import os
import sys
from pathlib import Path
from typing import Any, NoReturn

from shoplib import __version__
from shoplib.cli import auditing, classes, jobs, signing
from shoplib.core import progress
from shoplib.core.outcome_labels import outcome_label
from shoplib.core.plain_text import visible
from shoplib.sheet.verdict import EXIT_WORDS


def _work(options: argparse.Namespace) -> int:
    from shoplib import topics as workings
    from shoplib.core.errors import BadInput

    if options.name is None:
        for working in workings.all_workings().values():
            print(f"{working.name:26} {working.question}")
        return 0
    try:
        working = workings.get(options.name)
    except KeyError as error:
        print(error.args[0], file=sys.stderr)
        return 2
    if options.schema:
        print(json.dumps(working.schema(), indent=2, ensure_ascii=False))
        return 0
    raw, wrong = _pairs(options.inputs)
    for notice in workings.renames(options.name, raw):
        print(notice, file=sys.stderr)
    try:
        result = working(raw, folder=Path())
    except BadInput as error:
        wrong += map(str, error.problems)
    if wrong:
        print(f"{working.name}: please correct", *wrong, sep="\n  ", file=sys.stderr)
        return 2
    if options.json:
        print(json.dumps(result.to_json(), ensure_ascii=False, allow_nan=False))
    else:
        print(result.as_text())
    return 0


def _pairs(inputs: list[str]) -> tuple[dict[str, str], list[str]]:
    """The name=value pairs, and what is wrong with them."""
    raw: dict[str, str] = {}
    wrong = []
    for item in inputs:
        key, equals, value = item.partition("=")
        if not equals:
            wrong.append(f'"{visible(item[:60])}" does not have the form name=value; type for example torque="40 N*m"')
        elif key in raw:
            wrong.append(f"{visible(key[:60])} is given twice; type it once")
        raw[key.strip()] = value
    return raw, wrong


def _print(options: argparse.Namespace) -> int:
    from shoplib.core.errors import BadInput
    from shoplib.sheet import files, print_alone
    from shoplib.sheet.render import SheetError

    raw, wrong = _pairs(options.inputs)
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


def _class(options: argparse.Namespace) -> int:
    from shoplib.topics import exercises

    if options.topic is None:
        for topic in exercises.topics():
            print(f"{topic:22} {'; '.join(e.title for e in exercises.of_topic(topic))}")
        print(f"{'all':22} every topic\n{'concept_test':22} the concept test, forms A and B, and its key")
        print(f"{'guide':22} the instructor's guide, with the sheets of the bench labs")
        return 0
    wrong = []
    if not 1 <= options.learners <= 200:
        wrong.append("--learners: must be from 1 to 200; type for example --learners 12")
    if not 0 <= options.seed < 2**32:
        wrong.append("--seed: must be 0 or a larger whole number; type for example --seed 7")
    known = (*exercises.topics(), "all", "concept_test", "guide")
    if options.topic not in known:
        wrong.append(f"{options.topic[:60]}: unknown topic; choose one of {', '.join(known)}")
    if wrong:
        print("class: please correct", *wrong, sep="\n  ", file=sys.stderr)
        return 2
    if options.topic == "concept_test":
        return _concept_test(options)
    if options.topic == "guide":
        return _guide(options)
    try:
        secret = _secret(options.secret)
    except ValueError as error:
        print(f"class: --secret: {error}", file=sys.stderr)
        return 2
    topics = exercises.topics() if options.topic == "all" else [options.topic]
    return max([_class_of(topic, options, secret) for topic in topics])


def _secret(name: str | None) -> str:
    """The secret of the class from its file, "" without one; ValueError says what to do."""
    from shoplib.core import files
    from shoplib.teaching.salt import salted_seed

    if name is None:
        return ""
    try:
        secret = files.read_bounded(name, 4096).decode("utf-8").strip()
    except files.NotRead as error:
        raise ValueError(f"{name}: {error}") from error
    except UnicodeDecodeError as error:
        raise ValueError(f"{name}: is not a text file") from error
    salted_seed(secret)  # raises if it is too short
    return secret


def _class_of(topic: str, options: argparse.Namespace, secret: str) -> int:
    from shoplib.sheet import class_set as classset
    from shoplib.sheet import files
    from shoplib.teaching.exercise import NotEnoughNumbers, class_set
    from shoplib.topics import exercises

    stem, folder = f"{topic}-{options.seed}", Path(options.output)
    targets = folder / f"{stem}-learners.pdf", folder / f"{stem}-answer-key.pdf"
    try:
        for target in targets:
            files.free(target, options.force)
        made = class_set(topic, exercises.of_topic(topic), options.learners, options.seed, secret=secret)
        papers = [make(made, paper=options.paper) for make in (classset.learners_pdf, classset.key_pdf)]
        for target, paper in zip(targets, papers, strict=True):  # both or neither, also after Ctrl-C
            files.write(target, paper, force=options.force)
    except (NotEnoughNumbers, files.NotWritten) as error:
        print(error, file=sys.stderr)
        return 2
    print(f"class set: {targets[0]}", f"answer key: {targets[1]}", sep="\n")
    return 0


def _guide(options: argparse.Namespace) -> int:
    from shoplib.sheet import files
    from shoplib.sheet.instructors_guide import guide_pdf

    target = Path(options.output) / "instructors-guide.pdf"
    try:
        files.free(target, options.force)
        files.write(target, guide_pdf(paper=options.paper), force=options.force)
    except files.NotWritten as error:
        print(error, file=sys.stderr)
        return 2
    print(f"instructor's guide with its bench labs: {target}")
    return 0


def _concept_test(options: argparse.Namespace) -> int:
    from shoplib.sheet import files
    from shoplib.sheet.class_set import concept_pdf
    from shoplib.teaching.concept_test import key
    from shoplib.topics.concept_items import FORMS

    if options.answers:
        return _concept_report(options.answers)
    try:
        for form, items in FORMS.items():
            target = Path(options.output) / f"concept-test-{form}.pdf"
            files.write(target, concept_pdf(form, items, paper=options.paper), force=options.force)
            print(f"form {form}: {target}")
    except files.NotWritten as error:
        print(error, file=sys.stderr)
        return 2
    print("Right answers, question by question:", key(FORMS), sep="\n")
    return 0


def _concept_report(name: str) -> int:
    """Answers on paper, a line per learner: ``A, BACB…`` before the lessons and ``B, …`` after them."""
    from shoplib.core import files
    from shoplib.teaching.concept_test import answers_in, report
    from shoplib.topics.concept_items import FORMS

    try:
        found = answers_in(files.read_bounded(name, 1_000_000).decode("utf-8-sig"), FORMS)
    except (files.NotRead, UnicodeDecodeError, ValueError) as error:
        print(f"{visible(name)}: {error}", file=sys.stderr)
        return 2
    print(report(found["A"], found["B"]))
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


def _open(options: argparse.Namespace) -> int:
    from shoplib.desk.server.address import CannotOpen
    from shoplib.desk.server.launcher import open_notebooks

    try:
        return open_notebooks(
            port=options.port,
            browser=not options.no_browser,
            pages=options.forms,
            listen=options.listen,
            new_token=options.new_token,
        )
    except CannotOpen as error:
        print(error, file=sys.stderr)
        return 2


class _Parser(argparse.ArgumentParser):
    """Its messages repeat what was typed; a control character in it does not reach the terminal."""

    def error(self, message: str) -> NoReturn:
        super().error(visible(message))


def _add_open(commands: argparse._SubParsersAction[Any]) -> None:
    """Add the command ``open``."""
    opening = commands.add_parser(
        "open", help="open your own copy of the notebooks (on this machine only, unless --listen)"
    )
    opening.add_argument("--forms", action="store_true", help="open the pages without code in this computer's browser")
    opening.add_argument(
        "--listen",
        default="127.0.0.1",
        metavar="ADDRESS",
        help="let other devices such as a tablet connect; not encrypted, trusted networks only",
    )
    opening.add_argument("--port", type=int, help="use this port instead of the usual one")
    opening.add_argument("--no-browser", action="store_true", help="print the address; do not open a browser")
    opening.add_argument("--new-token", action="store_true", help="make all earlier addresses invalid")
    opening.set_defaults(run=_open)


def _commands() -> _Parser:
    """All commands, with what each reads."""
    parser = _Parser(prog="shoplib", description="Worked calculations for cylinder-head joints.")
    parser.add_argument("--version", action="version", version=f"shoplib {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    work = commands.add_parser("work", help="run one calculation")
    work.add_argument("name", nargs="?", help="name of the calculation; leave it out to list them all")
    work.add_argument(
        "inputs", nargs="*", metavar="name=value", help="an input and its value, for example thread=M10x1.5"
    )
    work.add_argument("--json", action="store_true", help="print the result as JSON")
    work.add_argument("--schema", action="store_true", help="print the JSON Schema of the inputs")
    work.set_defaults(run=_work)
    sheet = commands.add_parser("sheet", help="make the sheet of a job file or of a stored job")
    sheet.add_argument("job", nargs="?", metavar="JOB.toml", help="a job file")
    sheet.add_argument("--job", dest="job_number", metavar="NUMBER", help="a stored job instead of a job file")
    sheet.add_argument("--blank", action="store_true", help="with --job: a blank sheet to fill in by hand at the bench")
    sheet.add_argument(
        "--issue",
        metavar="WHO",
        help="with --job: issue the sheet: keep this exact copy in the record, under the name of WHO",
    )
    sheet.add_argument("--for", dest="recipient", metavar="WHOM", help="with --issue: the person who gets the sheet")
    sheet.add_argument("--customer", action="store_true", help="with --job: the pages for the customer only")
    sheet.add_argument("-o", "--output", metavar="OUT.pdf", help="where to write (default: sheets/job-NUMBER.pdf)")
    sheet.add_argument("--paper", choices=("a4", "letter"), default="a4", help="size of the paper (default: a4)")
    sheet.add_argument("--force", action="store_true", help="replace an existing file")
    sheet.set_defaults(run=_sheet)
    school = commands.add_parser("class", help="print a set of exercises for a class, and its answer key")
    school.add_argument(
        "topic", nargs="?", help="topic of the exercises, all, concept_test, or guide; leave it out to list them"
    )
    school.add_argument(
        "--learners", type=int, default=12, metavar="N", help="number of sheets; neighbours have different numbers"
    )
    school.add_argument("--seed", type=int, default=1, metavar="N", help="a different seed gives different numbers")
    school.add_argument(
        "--secret", metavar="FILE", help="a text file with the secret of the class: nobody else can then make the key"
    )
    school.add_argument(
        "--answers", metavar="FILE", help="with concept_test: a line per learner, such as A, BACB…; prints the report"
    )
    school.add_argument("-o", "--output", metavar="FOLDER", default="sheets", help="where to write (default: sheets/)")
    school.add_argument("--paper", choices=("a4", "letter"), default="a4", help="size of the paper (default: a4)")
    school.add_argument("--force", action="store_true", help="replace existing files")
    school.set_defaults(run=_class)
    printing = commands.add_parser("print", help="print a degree disc at true scale, or a conversion card")
    printing.add_argument("name", choices=("degree_disc", "conversion_card"))
    printing.add_argument("inputs", nargs="*", metavar="name=value", help="an input and its value")
    printing.add_argument("-o", "--output", metavar="OUT.pdf", help="where to write (default: sheets/NAME.pdf)")
    printing.add_argument("--paper", choices=("a4", "letter"), default="a4", help="size of the paper (default: a4)")
    printing.add_argument("--force", action="store_true", help="replace an existing file")
    printing.set_defaults(run=_print)
    for name, run, what in (
        ("read", _read, "print the record inside a sheet"),
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
                "check that this one contains everything up to it",
            )
        command.set_defaults(run=run)
    classes.add(commands)
    jobs.add(commands)
    signing.add(commands)
    auditing.add(commands)
    _add_open(commands)
    return parser


def main(arguments: list[str] | None = None) -> int:
    """Run one command; the exit code is 0 on success, 2 on bad input."""
    parser = _commands()
    options, more = parser.parse_known_args(classes.merged(sys.argv[1:] if arguments is None else arguments))
    if more and options.command in ("work", "print") and not any(x.startswith("-") for x in more):
        options.inputs += more  # argparse stops collecting inputs at an option; --json may be anywhere
    elif more:
        parser.error(f"unrecognised argument: {' '.join(more)}")
    try:
        with progress.on_terminal(sys.stderr):
            code = int(options.run(options))
        sys.stdout.flush()
    except KeyboardInterrupt:
        print(f"{options.command}: stopped before it finished", file=sys.stderr)
        return 130
    except BrokenPipeError:  # the reader closed the pipe, as in "shoplib work | head"
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    return code
