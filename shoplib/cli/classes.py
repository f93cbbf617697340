"""The commands for a class: shoplib class new | roster | assign | results | pack | collect | regrade | export …"""

from __future__ import annotations

import argparse
import contextlib
import getpass
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shoplib.cli.jobs import Refusal, in_words
from shoplib.core.plain_text import visible

if TYPE_CHECKING:
    from shoplib.classroom.classes import Class, Classroom

LARGEST_ROSTER = 1_000_000


@contextlib.contextmanager
def _room() -> Iterator[Classroom]:
    from shoplib.classroom.classes import Classroom

    with Classroom.open() as room:
        yield room


def _who(options: argparse.Namespace) -> str:
    from shoplib.classroom.people import me

    return str(options.who or me() or getpass.getuser()).lower()


def _bytes(name: str, size: int) -> bytes:
    from shoplib.core.files import NotRead, read_bounded

    try:
        return read_bounded(name, size)
    except NotRead as error:
        raise Refusal(f"{name}: {error}") from None


def new(options: argparse.Namespace) -> int:
    """A new class."""
    with _room() as room:
        made = room.new_class(options.name, who=_who(options))
    print(f"class {visible(made.name)} created; its instructor is {_who(options)}")
    return 0


def listing(_: argparse.Namespace) -> int:
    """All classes, with their size."""
    with _room() as room:
        for one in room.classes():
            people = room.people(one)
            learners = sum(p.role == "learner" for p in people)
            print(f"{one.name:30} {learners} learners, {len(room.assignments(one))} assignments")
    return 0


def roster(options: argparse.Namespace) -> int:
    """Read a roster from a CSV file, or write it."""
    from shoplib.classroom.people import read_roster, write_roster
    from shoplib.sheet import files

    with _room() as room:
        of = room.class_of(options.name)
        if options.file:
            raw = _bytes(options.file, LARGEST_ROSTER)
            try:
                people = read_roster(raw.decode("utf-8-sig"))
            except UnicodeDecodeError:
                raise Refusal(f"{options.file}: is not UTF-8 text; save it as CSV UTF-8") from None
            added, removed = room.enrol(of, people, who=_who(options), remove=options.remove)
            print(f"{added} added, {removed} removed")
            return 0
        text = write_roster(room.people(of))
    if options.output:
        files.write(Path(options.output), text.encode("utf-8"), force=options.force)
        print(f"roster: {options.output}")
    else:
        print(text, end="")
    return 0


def assign(options: argparse.Namespace) -> int:
    """Assign a topic, a lesson or a form of the concept test."""
    with _room() as room:
        of = room.class_of(options.name)
        made = room.assign(of, options.kind, options.item, who=_who(options), opens=options.opens, due=options.due)
    print(f"assignment {made.n}: {made.title}")
    return 0


def results(options: argparse.Namespace) -> int:
    """Who is where, the ideas behind wrong answers, or one learner's history."""
    from shoplib.classroom import marking, moments
    from shoplib.classroom import results as made

    with _room() as room:
        of = room.class_of(options.name)
        if options.learner:
            numbers = {a.id: a.n for a in room.assignments(of)}
            for x in made.entries(room, of, login=options.learner):
                idea = f"; {marking.idea_in_words(x.idea)}" if x.idea else ""
                print(f"{moments.shown(x.at)}  {numbers[x.assignment]}  {x.item}: {visible(x.answer)}  {x.state}{idea}")
            for said in room.comments(of, options.learner):
                print(f"{moments.shown(said.at)}  {said.who}: {visible(said.text)}")
            return 0
        print(made.as_text(made.overview(room, of)))
        heat = made.heat_map(room, of)
        if heat.ideas:
            print("\nIdeas behind wrong answers (learners, answers):")
        for idea in heat.ideas[:20]:
            print(f"{heat.learners_with(idea):>5} {heat.total(idea):>5}  {marking.idea_in_words(idea)}")
    return 0


def comment(options: argparse.Namespace) -> int:
    """Write a comment to a learner."""
    with _room() as room:
        room.comment(room.class_of(options.name), options.login, options.text, who=_who(options))
    print("comment saved")
    return 0


def regrade(options: argparse.Namespace) -> int:
    """Mark all answers again; show what changes; save it only with the code of the preview."""
    from shoplib.classroom import marking
    from shoplib.classroom import results as made

    with _room() as room:
        of = room.class_of(options.name)
        wanted = [room.assignment(of, options.assignment)] if options.assignment else room.assignments(of)
        found = made.preview(room, of, wanted)
        for x in found.changes:
            old, new = (f"{s} {marking.idea_in_words(i)}".strip() for s, i in
                        ((x.entry.state, x.entry.idea), (x.new.state, x.new.idea)))  # fmt: skip
            print(f"{x.entry.login}, {x.entry.item}: {visible(x.entry.answer)}: {old} → {new}")
        for why in found.not_marked:
            print(f"not marked: {visible(why)}", file=sys.stderr)
        print(f"{found.checked} answers marked again; {len(found.changes)} marks change")
        if not found.changes:
            return 0
        if not options.keep:
            print(f"nothing is saved yet. To save exactly these changes: --keep {found.code} --because WHY")
            return 0
        if options.keep != found.code:
            raise Refusal(f"the changes are not those of the preview {options.keep}; look at them again")
        made.keep(room, found, who=_who(options), because=options.because or "")
    print("saved")
    return 0


def export(options: argparse.Namespace) -> int:
    """Write all answers of a class as CSV, or as xAPI statements."""
    from shoplib.classroom import export as made
    from shoplib.record import parts
    from shoplib.sheet import files

    target = Path(options.output)
    files.free(target, options.force)
    with _room() as room:
        of = room.class_of(options.name)
        with parts.whole(target, replace=options.force) as part, part.open("w", encoding="utf-8", newline="") as out:
            if options.statements:
                count = made.write_statements(room, of, out, options.home)
            else:
                count = made.write_csv(room, of, out)
    print(f"{count} answers: {target}")
    return 0


def pack(options: argparse.Namespace) -> int:
    """Write a work file for each learner, or for one."""
    from shoplib.classroom import result_file
    from shoplib.sheet import files

    with _room() as room:
        of = room.class_of(options.name)
        todo = room.assignments(of)
        logins = [options.learner] if options.learner else [p.login for p in room.people(of) if p.role == "learner"]
        for login in logins:
            target = Path(options.output) / f"{login}{result_file.SUFFIX_WORK}"
            files.write(target, result_file.work_file(room, of, login, todo), force=options.force)
            target.chmod(0o600)
    print(f"{len(logins)} work files in {options.output}. Each contains a private key: give it to its learner only.")
    return 0


def join(options: argparse.Namespace) -> int:
    """On the learner's machine: import a work file."""
    from shoplib.classroom import result_file

    with _room() as room:
        of, login = result_file.join(room, _bytes(options.file, result_file.LIMIT.size))
    print(f"joined class {visible(of.name)} as {login}")
    return 0


def result(options: argparse.Namespace) -> int:
    """On the learner's machine: write the signed result file."""
    from shoplib.classroom import result_file
    from shoplib.sheet import files

    with _room() as room:
        of = room.class_of(options.name)
        login = room.login()
        target = Path(options.output or f"{login}{result_file.SUFFIX_RESULT}")
        files.write(target, result_file.result_file(room, of, login), force=options.force)
    print(f"result file: {target}. Take it to your instructor.")
    return 0


def collect(options: argparse.Namespace) -> int:
    """Import every result file of a folder; name each that is forged or foreign."""
    from shoplib.classroom import result_file

    folder = Path(options.folder)
    if not folder.is_dir():
        raise Refusal(f"{folder}: is not a folder")
    bad = 0
    with _room() as room:
        for path in sorted(folder.glob(f"*{result_file.SUFFIX_RESULT}")):
            try:
                raw = _bytes(str(path), result_file.LIMIT.size)
                of, login, answers = result_file.read_result(room, raw)
                added = room.keep_all(answers)
            except (result_file.NotAccepted, ValueError, Refusal) as error:
                bad += 1
                print(f"{visible(path.name)}: not accepted: {visible(str(error))}", file=sys.stderr)
                continue
            print(f"{visible(path.name)}: {login}, class {visible(of.name)}: {len(added)} answers")
    return 1 if bad else 0


def borders(_: argparse.Namespace) -> int:
    """PostgreSQL: install roles and row-level security for classes."""
    from shoplib.classroom import borders as made
    from shoplib.record.config import default_place

    made.make_borders(default_place())
    print("row-level security is on: each person can see and change only their own work")
    return 0


def logins(options: argparse.Namespace) -> int:
    """PostgreSQL: a role for each person of a class."""
    import os

    from shoplib.classroom import borders as made
    from shoplib.record.config import default_place

    with _room() as room:
        people = room.people(room.class_of(options.name))
    for name in made.make_logins(default_place(), people, secret=os.environ.get("SHOPLIB_ROLE_SECRET", "")):
        print(name)
    return 0


def papers(options: argparse.Namespace) -> int:
    """Print an assignment for learners without a screen, with its answer key."""
    from shoplib.sheet import class_set, files

    with _room() as room:
        of = room.class_of(options.name)
        chosen = room.assignment(of, options.assignment)
        made = _set_of(room, of, chosen.item, room.seats(chosen), options)
    folder = Path(options.output)
    targets = folder / f"assignment-{chosen.n}-learners.pdf", folder / f"assignment-{chosen.n}-answer-key.pdf"
    for target in targets:
        files.free(target, options.force)
    pdfs = [make(made, paper=options.paper) for make in (class_set.learners_pdf, class_set.key_pdf)]
    for target, pdf in zip(targets, pdfs, strict=True):
        files.write(target, pdf, force=options.force)
    print(f"class set: {targets[0]}", f"answer key: {targets[1]}", sep="\n")
    return 0


def _set_of(room: Classroom, of: Class, topic: str, seats: dict[str, int], options: argparse.Namespace) -> Any:
    """The sheets of an assignment in the order of the roster: the same numbers as on the screen."""
    from shoplib.teaching.exercise import ClassSet
    from shoplib.topics import exercises

    chosen = room.assignment(of, options.assignment)
    if chosen.kind != "topic":
        raise Refusal(f"assignment {chosen.n} is not a set of exercises; only exercises are printed")
    learners = [p for p in room.people(of) if p.login in seats]
    sheets = tuple(tuple(e.ask(seats[p.login]) for e in exercises.of_topic(topic)) for p in learners)
    if not sheets:
        raise Refusal(f"class {of.name} has no learners yet")
    return ClassSet(topic, chosen.n, sheets, tuple((p.name or p.login, seats[p.login]) for p in learners))


def _parser(commands: argparse._SubParsersAction[Any], verb: str, run: Any, text: str) -> argparse.ArgumentParser:
    found: argparse.ArgumentParser = commands.add_parser(f"class {verb}", help=text)
    found.set_defaults(run=in_words(run))
    found.add_argument("--who", metavar="LOGIN", help="the person who does this (default: the user of the hub)")
    return found


VERBS = (
    "new", "list", "roster", "assign", "results", "comment", "regrade", "export", "pack", "join", "result", "collect",
    "papers", "borders", "logins",
)  # fmt: skip


def merged(arguments: list[str]) -> list[str]:
    """``class`` and the word after it as one command, where that word is one of the commands for a class."""
    if arguments[:1] == ["class"] and arguments[1:2] and arguments[1] in VERBS:
        return [f"class {arguments[1]}", *arguments[2:]]
    return arguments


def add(commands: argparse._SubParsersAction[Any]) -> None:
    """Add the commands of this module."""
    one = _parser(commands, "new", new, "create a class")
    one.add_argument("name")
    _parser(commands, "list", listing, "list the classes")
    one = _parser(commands, "roster", roster, "read the roster of a class from CSV, or write it")
    one.add_argument("name")
    one.add_argument("file", nargs="?", metavar="ROSTER.csv", help="columns login, name and, if you like, role")
    one.add_argument("--remove", action="store_true", help="learners who are not in the file leave the class")
    one.add_argument("-o", "--output", metavar="OUT.csv", help="write the roster to a file")
    one.add_argument("--force", action="store_true", help="replace an existing file")
    one = _parser(commands, "assign", assign, "assign exercises, a lesson or a concept test to a class")
    one.add_argument("name")
    one.add_argument("kind", choices=("topic", "lesson", "test"))
    one.add_argument("item", help="the topic, the lesson, or the form of the test")
    one.add_argument("--opens", default="", metavar="TIME", help="for example 2026-12-01 08:00 (default: at once)")
    one.add_argument("--due", default="", metavar="TIME", help="for example 2026-12-04 16:00 (default: never)")
    one = _parser(
        commands, "results", results, "show each learner's progress, and the likely mistakes behind wrong answers"
    )
    one.add_argument("name")
    one.add_argument("--learner", metavar="LOGIN", help="the history of one learner")
    one = _parser(commands, "comment", comment, "write a comment to a learner")
    for name in ("name", "login", "text"):
        one.add_argument(name)
    one = _parser(commands, "regrade", regrade, "mark all answers again; show what changes before it is saved")
    one.add_argument("name")
    one.add_argument("--assignment", type=int, metavar="N", help="only this assignment")
    one.add_argument("--keep", metavar="CODE", help="save exactly the changes that the preview showed")
    one.add_argument("--because", metavar="WHY", help="with --keep: the reason")
    one = _parser(commands, "export", export, "write all answers as CSV, or as xAPI statements")
    one.add_argument("name")
    one.add_argument("-o", "--output", metavar="OUT", required=True)
    one.add_argument("--statements", action="store_true", help="xAPI 1.0.3 statements in one JSON array")
    one.add_argument("--home", default="https://centre.example/", metavar="URL", help="address of your centre")
    one.add_argument("--force", action="store_true", help="replace an existing file")
    one = _parser(commands, "pack", pack, "write a work file for each learner who has no network")
    one.add_argument("name")
    one.add_argument("--learner", metavar="LOGIN", help="only for this learner")
    one.add_argument("-o", "--output", metavar="FOLDER", default="work")
    one.add_argument("--force", action="store_true", help="replace existing files")
    one = _parser(commands, "join", join, "on the learner's machine: open the work file that 'class pack' wrote")
    one.add_argument("file", metavar="WORK.json")
    one = _parser(commands, "result", result, "on the learner's machine: write the signed result file")
    one.add_argument("name")
    one.add_argument("-o", "--output", metavar="OUT.json")
    one.add_argument("--force", action="store_true", help="replace an existing file")
    one = _parser(commands, "collect", collect, "read the result files in a folder")
    one.add_argument("folder")
    one = _parser(commands, "papers", papers, "print an assignment of a class, and its answer key")
    one.add_argument("name")
    one.add_argument("assignment", type=int, metavar="N")
    one.add_argument("-o", "--output", metavar="FOLDER", default="sheets")
    one.add_argument("--paper", choices=("a4", "letter"), default="a4", help="size of the paper (default: a4)")
    one.add_argument("--force", action="store_true", help="replace existing files")
    _parser(
        commands,
        "borders",
        borders,
        "PostgreSQL: set up access, so that each person can see and change only their own work",
    )
    one = _parser(commands, "logins", logins, "PostgreSQL: create a database login for each person of a class")
    one.add_argument("name")
