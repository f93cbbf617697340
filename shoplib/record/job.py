"""One job, built from its lines: what is current, what was corrected or struck out, what is stale, what changed.

Nothing here touches the database; a :class:`Job` is a snapshot that is computed from the lines alone.

Parameters that have one meaning in all functions:

- ``job_uid``: uid of the job
"""

from __future__ import annotations

import functools
import hashlib
import itertools
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any, Concatenate, ParamSpec, TypeVar

from shoplib.core.outcome_labels import outcome_label
from shoplib.record.errors import Stale
from shoplib.record.header import LABELS
from shoplib.record.jobfile_record import canonical
from shoplib.record.staleness import guessed, successors, why_stale
from shoplib.topics import present_name

SUBSTANCE = ("header", "entry", "note", "tick", "photo", "strike", "decision")  # what a signature covers
ISSUED = (*SUBSTANCE, "close", "reopen")  # what makes a new issue of the sheet; a signature is dated by itself
START = hashlib.sha256(b"").hexdigest()  # the hash before the first line of a job
_SHOWN = 80


@dataclass(frozen=True)
class Line:
    """One line of the record, as it was written."""

    n: int  # its number in the job; this gives the order, whatever the clock said
    uid: str
    kind: str  # header, entry, note, tick, photo, strike, decision, sign, issue, print, close, reopen
    about: str | None  # uid of the line that this one corrects, strikes out or illustrates
    form: str  # name of the working or form
    who: str
    at: str  # the machine's clock, UTC
    program: str
    body: Mapping[str, Any]
    digest: str  # of this line and the one before it

    def content(self, job_uid: str, before: str) -> dict[str, Any]:
        """What the digest covers.

        :param before: digest of the line before; empty for the first
        """
        return {
            "job": job_uid, "before": before, "n": self.n, "uid": self.uid, "kind": self.kind, "about": self.about,
            "form": self.form, "who": self.who, "at": self.at, "program": self.program, "body": self.body,
        }  # fmt: skip

    @property
    def title(self) -> str:
        """Its name for people."""
        if self.kind == "tick":
            return f"bolt {self.body.get('bolt')}, stage {self.body.get('stage')}"
        if self.kind == "decision":
            return f"{self.body.get('decision')} by {self.body.get('by')}"
        return str(self.body.get("title") or self.body.get("caption") or self.form or self.kind)

    @property
    def name(self) -> str:
        """Its number and its name for people."""
        return f"line {self.n} ({self.title[:60]})"


@dataclass(frozen=True)
class Entry:
    """An entry, note or tick, and its state."""

    line: Line
    state: str  # stands, corrected, struck
    by: Line | None = None  # the line that corrected it or struck it out
    corrects: Line | None = None  # the line that it corrects itself
    first: int = 0  # number of the first line of its chain of corrections: its place in the job
    stale: tuple[str, ...] = ()  # why its numbers can no longer be relied on
    photos: tuple[Line, ...] = ()

    def __getattr__(self, name: str) -> Any:
        """``entry.title``, ``entry.outcome`` …: a field of the line or of its body."""
        if name == "form":  # a working under the name that it has now
            return present_name(self.line.form)
        if name in ("n", "uid", "kind", "who", "at", "title", "name", "program"):
            return getattr(self.line, name)
        if name in ("inputs", "remark", "when", "phase", "sources", "origins", "because", "content", "programme",
                    "bolt", "stage", "value", "initials", "deviation", "reason", "action", "condition"):  # fmt: skip
            return self.line.body.get(name)
        raise AttributeError(name)

    @property
    def stands(self) -> bool:
        """True when it was neither corrected nor struck out."""
        return self.state == "stands"

    @property
    def result(self) -> Mapping[str, Any]:
        """The result as it was computed when it was saved; empty for a note or a tick, or when it is malformed."""
        return result_of(self.line)

    @property
    def sources_assumed(self) -> bool:
        """True when its sources were not stated: version 0.1 proposed them from equal numbers."""
        before = self.corrects
        kept_on = before is not None and before.body.get("sources") == self.sources and guessed(before)
        return bool(self.sources) and (guessed(self.line) or kept_on)

    @property
    def outcome(self) -> str | None:
        """pass, fail, undecided, no limit given, or None."""
        return self.result.get("outcome")

    def as_line(self) -> str:
        """On one line, as a list shows it."""
        marks = {"corrected": "corrected", "struck": "struck out"}
        state = [f"{marks[self.state]} by line {self.by.n}"] if self.by else []
        state += ["STALE"] if self.stale else []
        tail = f" [{', '.join(state)}]" if state else ""
        outcome = f": {outcome_label(self.outcome)}" if self.outcome else ""
        at = f"{self.line.at[:10]} {self.line.at[11:16]} UTC"
        return f"{self.line.n}. {self.title}{outcome} ({self.line.who}, {at}){tail}"


Asked = ParamSpec("Asked")
Found = TypeVar("Found")


@dataclass(frozen=True)
class Job:
    """A snapshot of a job.  It never changes, so what was found in it once is kept with it."""

    uid: str
    lines: tuple[Line, ...]
    damaged: tuple[str, ...] = ()  # lines that do not match their hash: altered outside this program
    header: Mapping[str, Any] = field(init=False)

    def __post_init__(self) -> None:
        fields: dict[str, Any] = {}
        for line in self.lines:
            if line.kind == "header":
                fields |= line.body.get("fields", {})
        object.__setattr__(self, "header", MappingProxyType(fields))

    @property
    def number(self) -> str:
        """The job's number."""
        return str(self.header.get("number", ""))

    def line(self, which: int | str) -> Line:
        """The line of that number or uid; KeyError.

        :param which: number or uid
        """
        for line in self.lines:
            if which in (line.n, line.uid):
                return line
        raise KeyError(which)

    @functools.cached_property
    def entries(self) -> tuple[Entry, ...]:
        """Entries and notes in the order of the record, including those corrected or struck out."""
        return tuple(e for e in self._all if e.kind in ("entry", "note"))

    @functools.cached_property
    def ticks(self) -> tuple[Entry, ...]:
        """Ticks of the tightening guide in the order of the record, including those corrected or struck out."""
        return tuple(e for e in self._all if e.kind == "tick")

    @functools.cached_property
    def current_entries(self) -> tuple[Entry, ...]:
        """The current entries and notes; a correction keeps the place of the first."""
        return tuple(sorted((e for e in self.entries if e.stands), key=lambda e: e.first))

    @property
    def stale(self) -> tuple[Entry, ...]:
        """Entries whose numbers can no longer be relied on."""
        return tuple(e for e in self.entries if e.stale)

    @functools.cached_property
    def _all(self) -> tuple[Entry, ...]:
        after, reasons = successors(self.lines), why_stale(self.lines)
        by_uid = {x.uid: x for x in self.lines}
        roots: dict[str, str] = {}
        photos: dict[str, list[Line]] = {}
        for line in self.lines:
            corrects = line.about if line.kind in ("entry", "note", "tick") else None
            roots[line.uid] = roots.get(corrects, corrects) if corrects else line.uid
            if line.kind == "photo" and line.uid not in after and line.about and line.body.get("picture"):
                photos.setdefault(roots.get(line.about, line.about), []).append(line)
        found = []
        for line in self.lines:
            if line.kind not in ("entry", "note", "tick"):
                continue
            by = after.get(line.uid)
            root = roots[line.uid]
            found.append(
                Entry(
                    line=line,
                    state="stands" if by is None else "struck" if by.kind == "strike" else "corrected",
                    by=by,
                    corrects=by_uid.get(line.about) if line.about else None,
                    first=by_uid[root].n if root in by_uid else line.n,
                    stale=reasons.get(line.uid, ()),
                    photos=tuple(photos.get(root, ())),
                )
            )
        return tuple(found)

    def chain(self, which: int | str) -> tuple[Entry, ...]:
        """An entry with all its earlier and later corrections, oldest first.

        :param which: number or uid of any of them
        """
        wanted = self.line(which)
        first = next(e.first for e in self._all if e.uid == wanted.uid)
        return tuple(e for e in self._all if e.first == first)

    def ticks_of(self, programme: str) -> tuple[Entry, ...]:
        """The ticks of a tightening programme and of its corrections, including those struck out.

        :param programme: uid of the plan for tightening or loosening
        """
        uids = {e.uid for e in self.chain(programme)}
        return tuple(t for t in self.ticks if t.programme in uids)

    def ticked(self, programme: str) -> dict[tuple[int, str], Entry]:
        """(stage, bolt) to its current tick, for one programme and its corrections: where to resume.

        :param programme: uid of the plan for tightening or loosening
        """
        return {(t.stage, t.bolt): t for t in self.ticks_of(programme) if t.stands}

    @functools.cached_property
    def closed(self) -> bool:
        """True when the job was closed and not reopened."""
        last = [x.kind for x in self.lines if x.kind in ("close", "reopen")]
        return bool(last) and last[-1] == "close"

    @functools.cached_property
    def decisions(self) -> Mapping[str, Line]:
        """Key of an open point to the last decision about it; a decision that was struck out no longer counts."""
        gone = {x.about for x in self.lines if x.kind == "strike"}
        return {str(x.body.get("point")): x for x in self.lines if x.kind == "decision" and x.uid not in gone}

    @property
    def issues(self) -> tuple[Line, ...]:
        """The issued sheets: A, B, …, each with what it changed."""
        return tuple(x for x in self.lines if x.kind == "issue")

    @property
    def signatures(self) -> tuple[tuple[Line, bool], ...]:
        """Who signed, and whether nothing has changed since."""
        last = max((x.n for x in self.lines if x.kind in SUBSTANCE), default=0)
        return tuple((x, x.body.get("covers", 0) >= last) for x in self.lines if x.kind == "sign")

    @property
    def notes(self) -> tuple[str, ...]:
        """What a reader should know about the record itself."""
        found = [f"{d}: altered outside this program; compare with the last sheet" for d in self.damaged]
        for a, b in itertools.pairwise(self.lines):
            if b.at < a.at:
                found.append(
                    f"line {b.n}: the computer's clock showed {b.at}, which is before line {a.n} ({a.at}); "
                    "the line numbers give the order"
                )
        return tuple(found)

    @property
    def issue(self) -> Line | None:
        """The sheet issued last, if nothing has changed since."""
        last = self.issues[-1] if self.issues else None
        return None if last is None or any(x.n > last.n and x.kind in ISSUED for x in self.lines) else last

    def printed(self, issue: str, paper: str, extent: str) -> str | None:
        """The hash of the bytes that were kept when that issue was printed so; None if it was not.

        :param issue: uid of the line that issued the sheet
        :param paper: A4 or letter
        :param extent: which pages: all of them, or the customer's
        """
        wanted = {"paper": paper, "extent": extent}
        found = (x for x in self.lines if x.kind == "print" and x.about == issue and wanted.items() <= x.body.items())
        return next((str(x.body.get("sheet")) for x in found), None)

    @property
    def closing(self) -> Line | None:
        """The line that closed the job; None while it is open."""
        return next((x for x in reversed(self.lines) if x.kind == "close"), None) if self.closed else None

    def changes(self, since: int) -> list[str]:
        """What changed after that line, each in one sentence.

        :param since: number of a line; 0: from the beginning
        """
        by_uid = {x.uid: x for x in self.lines}
        return [sentence for line in self.lines if line.n > since for sentence in _change(line, self, by_uid)]


def kept_with_job(find: Callable[Concatenate[Job, Asked], Found]) -> Callable[Concatenate[Job, Asked], Found]:
    """A function of a job that is computed once for each job; what it raises is not kept.

    :param find: the function; what it returns must not be changed
    """

    @functools.wraps(find)
    def kept(job: Job, /, *asked: Asked.args, **more: Asked.kwargs) -> Found:
        results, key = job.__dict__.setdefault("_kept", {}), (find, asked, *more.items())
        if key not in results:
            results[key] = find(job, *asked, **more)
        found: Found = results[key]
        return found

    return kept


def result_of(line: Line) -> Mapping[str, Any]:
    """The result in a line; empty when it is malformed, in a job from elsewhere.

    :param line: a line of the record
    """
    found = line.body.get("result")
    if not isinstance(found, Mapping) or not isinstance(found.get("outcome"), str | None):
        return {}
    checks, results = found.get("checks") or [], found.get("results") or {}
    if not isinstance(checks, list | tuple) or not isinstance(results, Mapping):
        return {}
    if not all(isinstance(c, Mapping) for c in checks):
        return {}
    values: list[Any] = [c.get(k) for c in checks for k in ("found", "limit")]
    return found if all(v is None or isinstance(v, Mapping) for v in [*values, *results.values()]) else {}


def digest_of(line: Line, job_uid: str, before: str, body: str | None = None) -> str:
    """Hash of a line and, through ``before``, of all lines before it; "" for what cannot be written as JSON.

    ``body``: the text in which the body is stored.  It is hashed as it is, so that any change to it is found.

    :param line: a line of the record
    :param before: digest of the line before; empty for the first
    :param body: as it is stored, in JSON; None: written from the line
    """
    whole = line.content(job_uid, before)
    try:
        if body is None:
            return hashlib.sha256(canonical(whole)).hexdigest()
        first = canonical({k: v for k, v in whole.items() if k < "body"})[:-1]
        rest = canonical({k: v for k, v in whole.items() if k > "body"})[1:]
        return hashlib.sha256(first + b',"body":' + body.encode("utf-8") + b"," + rest).hexdigest()
    except (ValueError, TypeError, RecursionError):
        return ""


def chained(job_uid: str, lines: Sequence[Line], bodies: Sequence[str] | None = None, *, sound: int = 0) -> Job:
    """The job of these lines.  A line whose number or hash differs from what was written is named as damaged; of it
    only the well-formed parts are shown.  ``bodies``: the stored texts of the bodies.  ``sound``: how many of the
    first lines were found undamaged before, and are the same.

    :param lines: of the record, in order
    :param bodies: of the lines as they are stored, in JSON; None: written from the lines
    :param sound: how many of the first lines were checked before
    """
    from shoplib.record.line_schema import in_form

    damaged, before, shown = [], lines[sound - 1].digest if sound else START, list(lines)
    for k, line in enumerate(lines[sound:], sound + 1):
        body = None if bodies is None else bodies[k - 1]
        if line.n != k or digest_of(line, job_uid, before, body) != line.digest:
            damaged.append(f"line {line.n}")
            shown[k - 1] = replace(line, body=in_form(line.kind, line.form, line.about, line.body))
        before = line.digest
    return Job(job_uid, tuple(shown), tuple(damaged))


def _change(line: Line, job: Job, by_uid: Mapping[str, Line]) -> Iterable[str]:
    old = by_uid.get(line.about) if line.about else None
    because = f" Reason: {line.body['because']}" if line.body.get("because") else ""
    match line.kind:
        case "header":
            before: dict[str, Any] = {}
            for x in job.lines:
                if x.kind == "header" and x.n < line.n:
                    before |= x.body.get("fields", {})
            for name, value in line.body.get("fields", {}).items():
                if before.get(name) != value:
                    label = LABELS.get(name, name.capitalize())
                    yield f"{label}: {_quoted(before.get(name))} became {_quoted(value)}.{because}"
        case "entry" | "note" | "tick" if old is None:
            yield f"{line.name} was added."
        case "entry" | "note" | "tick":
            assert old is not None
            yield f"{old.name} was corrected by line {line.n}: {differences(old, line)}.{because}"
        case "strike":
            yield f"{old.name if old else 'a line'} was struck out.{because}"
        case "decision":
            yield f"{old.name if old else 'An open point'} was {line.title}.{because}"
        case "photo":
            caption = line.body.get("caption") or "untitled"
            yield f"A photograph was added to {old.name if old else 'the job'}: {caption}."
        case "close":
            yield f"The job was closed. Root cause: {line.body.get('root_cause')}"
        case "reopen":
            yield f"The job was reopened.{because}"


def parts_changed(old: Line, new: Line) -> list[tuple[str, Any, Any]]:
    """The differences between an entry and its correction, as typed: where, old value, new value.

    :param old: the entry before
    :param new: its correction
    """
    told: list[tuple[str, Any, Any]] = []
    for part in ("inputs", "content"):
        told += _differences_at(old.body.get(part) or {}, new.body.get(part) or {}, "")
    for part in ("title", "value", "initials", "remark", "when", "condition", "deviation", "reason", "action"):
        if (old.body.get(part) or "") != (new.body.get(part) or ""):
            told.append((part, old.body.get(part), new.body.get(part)))
    a, b = ((x.body.get("result") or {}).get("outcome") for x in (old, new))
    return [*told, ("outcome", a, b)] if a != b else told


def differences(old: Line, new: Line) -> str:
    """The differences between an entry and its correction, in words.

    :param old: the entry before
    :param new: its correction
    """
    told = [f"{where} {_quoted(a)} became {_quoted(b)}" for where, a, b in parts_changed(old, new)]
    return "; ".join(told) or "nothing that was typed"


def _differences_at(old: Any, new: Any, where: str) -> Iterator[tuple[str, Any, Any]]:
    """Where two trees differ, as deep as they have the same shape."""
    if isinstance(old, Mapping) and isinstance(new, Mapping):
        for key in {**old, **new}:
            yield from _differences_at(old.get(key), new.get(key), f"{where}.{key}".lstrip("."))
    elif isinstance(old, list) and isinstance(new, list) and len(old) == len(new):
        for k, (a, b) in enumerate(zip(old, new, strict=True), 1):
            yield from _differences_at(a, b, f"{where}[{k}]")
    elif old != new:
        yield where, old, new


def _quoted(value: Any) -> str:
    if value in (None, "", [], {}):
        return "nothing"
    text = value if isinstance(value, str) else canonical({"": value}).decode("utf-8")[4:-1]
    return f"“{text[:_SHOWN]}{'…' if len(text) > _SHOWN else ''}”"


def refuse_stale(job: Job, what: str) -> None:
    """Raise Stale: a stale number is never signed, nor is a line that was altered outside this program.

    :param job: the job, read from its lines
    :param what: is refused, in words, such as "Signing"
    """
    reasons = [f"{e.name}: {e.stale[0]}" for e in job.stale] + [
        f"{d} was altered outside this program" for d in job.damaged
    ]
    if reasons:
        raise Stale(f"{what}: first recalculate these, or strike them out:\n  " + "\n  ".join(reasons))
