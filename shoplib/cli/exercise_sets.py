"""The command that prints exercises for a class: shoplib class TOPIC."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from shoplib.core.plain_text import visible


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


def add(commands: argparse._SubParsersAction[Any]) -> None:
    """Add the command of this module."""
    school = commands.add_parser(
        "class", help="print exercises with different numbers for each learner, and the answer key"
    )
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
