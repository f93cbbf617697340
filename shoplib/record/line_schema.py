"""The rules for a line of the record: the same for forms, job files and imported jobs."""

from __future__ import annotations

import functools
import json
import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from shoplib.core import csv_file, trace_file
from shoplib.core.dates import read_date
from shoplib.core.errors import Problem
from shoplib.core.tightening_program import read_stage
from shoplib.core.units import Unreadable
from shoplib.record import header, origins, ticks, validation
from shoplib.record.jobfile_record import CONDITIONS, EXTENTS, PAPERS
from shoplib.topics import find

UID = re.compile(r"[0-9A-Za-z][0-9A-Za-z-]{7,63}")
HEX = re.compile(r"[0-9a-f]{64}")
OFFSET = re.compile(r"[+-][0-9]{2}:[0-9]{2}")  # of the local time of a line from UTC
KINDS = ("header", "entry", "note", "tick", "photo", "strike", "decision", "sign", "issue", "print", "close", "reopen")
# which kinds a line of a kind may refer to; None: it may refer to no line
ABOUT: Mapping[str, tuple[str | None, ...]] = {
    "header": (None,),
    "entry": (None, "entry"),
    "note": (None, "note"),
    "tick": (None, "tick"),
    "photo": ("entry", "note", "tick"),
    "strike": ("entry", "note", "tick", "photo", "decision"),
    "decision": (None, "entry", "note", "tick", "sign"),
    "sign": (None,),
    "issue": (None,),
    "print": ("issue",),
    "close": (None,),
    "reopen": (None,),
}
AFTER_CLOSING = ("reopen", "sign", "issue", "print")
_TEXTS: Mapping[str, Mapping[str, tuple[bool, int]]] = {  # kind → field → (needed, longest)
    "entry": {"title": (False, 400), "phase": (False, 80), "remark": (False, 4000), "when": (False, 80),
              "because": (False, 4000), "condition": (False, 40)},
    "note": {"title": (True, 400), "phase": (False, 80), "remark": (False, 4000), "when": (False, 80),
             "because": (False, 4000)},
    "tick": {"bolt": (True, 40), "value": (True, 200), "initials": (True, 20), "when": (False, 80),
             "deviation": (False, 4000), "reason": (False, 4000), "action": (False, 4000), "remark": (False, 4000),
             "because": (False, 4000), "action_code": (False, 40), "because_code": (False, 40), "judged": (False, 40)},
    "decision": {"point": (True, 200), "decision": (True, 40), "by": (True, 200), "because": (True, 4000),
                 "allowed": (False, 200), "allowed_source": (False, 400), "reopens": (False, 40)},
    "photo": {"caption": (False, 400), "taken": (False, 40)},
    "strike": {"because": (True, 4000)},
    "sign": {"role": (True, 80)},
    "issue": {"letter": (True, 8), "recipient": (False, 400)},
    "print": {"paper": (True, 20), "extent": (True, 20)},
    "close": {"root_cause": (True, 4000), "retorque": (False, 4000), "parts_returned": (False, 4000),
              "remark": (False, 4000)},
    "reopen": {"because": (True, 4000)},
    "header": {"because": (False, 4000)},
}  # fmt: skip
_OTHERS: Mapping[str, tuple[str, ...]] = {
    "entry": ("inputs", "result", "sources", "origins"),
    "note": ("content", "sources"),
    "tick": ("programme", "stage"),
    "photo": ("picture", "thumb", "original", "width", "height"),
    "sign": ("covers",),
    "issue": ("covers", "record", "changes"),
    "print": ("sheet",),
    "header": ("fields",),
}
DECISIONS = ("accepted", "resolved")
# field of a line → its allowed codes; the words are looked up where it is shown
CODES: Mapping[tuple[str, str], tuple[str, ...]] = {
    ("entry", "condition"): CONDITIONS,
    ("print", "paper"): PAPERS,
    ("print", "extent"): EXTENTS,
    ("decision", "decision"): DECISIONS,
    ("decision", "reopens"): ticks.REOPENING,
    ("tick", "action_code"): tuple(ticks.ACTIONS),
    ("tick", "because_code"): tuple(ticks.REPLACED),
    ("tick", "judged"): ticks.CODES,
}


def read_header(raw: Mapping[str, Any], problems: list[Problem], *, new: bool = False) -> dict[str, Any]:
    """The header of a job, clean; what is wrong goes to ``problems``.

    ``new``: of a job that a person starts now.  A field that is required since a later version is missing only there,
    or where somebody empties it.

    :param raw: fields as they were typed, by name
    :param problems: what is wrong; new problems are added to it
    :param new: whether the job is started now, so that required fields are asked for
    """
    problems += [
        Problem(str(k)[:60], f"unknown key; allowed: {', '.join(header.NAMES)}") for k in raw if k not in header.NAMES
    ]
    found: dict[str, Any] = {}
    for f in header.FIELDS:
        read = validation.words if f.long else validation.line_of_text
        needed = f.required_always or (f.required and (new or f.name in raw))
        text = read(_iso(raw.get(f.name)), f.name, problems, longest=f.longest, needed=needed, example=f.example)
        found[f.name] = _day(text, f.name, problems) if f.date and text else text
    for table in header.TABLES:
        found[table.name] = rows = _records(raw.get(table.name), table, problems)
        key = table.columns[0].name
        seen = [r.get(key) for r in rows]
        problems += [
            Problem(table.name, f"{key} “{twice}” is listed twice")
            for twice in dict.fromkeys(seen)
            if seen.count(twice) > 1
        ]
        for k, record in enumerate(rows, 1):
            for c in table.columns:
                if c.date and record.get(c.name):
                    record[c.name] = _day(record[c.name], f"{table.name}[{k}].{c.name}", problems)
    return found


def _day(text: str, where: str, problems: list[Problem]) -> str:
    try:
        return read_date(text)[:10]
    except Unreadable as error:
        problems.append(Problem(where, str(error), "2026-11-25"))
        return ""


def _iso(value: Any) -> Any:
    """A date of a job file as text."""
    return value.isoformat() if hasattr(value, "isoformat") else value


def _records(raw: Any, table: header.HeaderTable, problems: list[Problem]) -> list[dict[str, str]]:
    where, columns = table.name, {c.name: c.required for c in table.columns}
    if raw in (None, "", ()):
        return []
    if not isinstance(raw, list | tuple) or len(raw) > 200 or not all(isinstance(r, Mapping) for r in raw):
        problems.append(Problem(where, f"must be a list of at most 200 records with {', '.join(columns)}"))
        return []
    found = []
    for k, record in enumerate(raw, 1):
        problems += [
            Problem(f"{where}[{k}].{str(c)[:60]}", f"unknown key; allowed: {', '.join(columns)}")
            for c in record
            if c not in columns
        ]
        texts = {
            c: validation.line_of_text(
                _iso(record.get(c)),
                f"{where}[{k}].{c}",
                problems,
                longest=200,
                needed=needed,
            )
            for c, needed in columns.items()
        }
        found.append({c: t for c, t in texts.items() if t})
    return found


def read_body(kind: str, form: str, about: str | None, raw: Mapping[str, Any], problems: list[Problem]) -> Any:
    """The body of a line, clean and with only the fields of its kind.

    :param kind: of the line, such as entry or tick
    :param form: name of the working, or of the kind of line
    :param about: uid of the line that it is about; None for most kinds
    :param raw: fields as they were given, by name
    :param problems: what is wrong; new problems are added to it
    """
    texts, others = _TEXTS[kind], (*_OTHERS.get(kind, ()), "offset")
    problems += [Problem(str(k)[:60], f"unknown key in a line of the kind {kind}") for k in raw if k not in
                 (*texts, *others)]  # fmt: skip
    body: dict[str, Any] = {"offset": raw.get("offset", "")}
    if body["offset"] and not (isinstance(body["offset"], str) and OFFSET.fullmatch(body["offset"])):
        problems.append(Problem("offset", "is not the offset of a local time", '"+01:00"'))
    for name, (needed, longest) in texts.items():
        body[name] = validation.words(raw.get(name), name, problems, longest=longest, needed=needed)
    problems += [
        Problem(name, f"must be one of {', '.join(codes)}")
        for (of, name), codes in CODES.items()
        if of == kind and body[name] and body[name] not in codes
    ]
    if about is not None and kind in ("entry", "note", "tick") and not body["because"]:
        problems.append(Problem("because", "a correction needs a reason", '"misread: 0.60 for 0.06"'))
    if about is None and kind in ("entry", "note", "tick") and body["because"]:
        problems.append(Problem("because", "belongs to a correction; say which line it corrects"))
    match kind:
        case "entry":
            body["inputs"] = _table(raw.get("inputs"), "inputs", problems)
            body["result"] = _table(validation.finite(raw.get("result")), "result", problems)
            _result(body["result"], problems)
            body["sources"] = _uids(raw.get("sources"), problems)
            body["origins"] = _origins(raw.get("origins"), problems)
            _no_file_names(form, body["inputs"], problems)
        case "note":
            body["content"] = _table(raw.get("content"), "content", problems)
            body["sources"] = _uids(raw.get("sources"), problems)
        case "tick":
            _tick(raw, body, problems)
        case "photo":
            for name in ("picture", "thumb", "original"):
                body[name] = raw.get(name)
                if not isinstance(body[name], str) or not HEX.fullmatch(body[name]):
                    problems.append(Problem(name, "is not a hash"))
            for name in ("width", "height"):
                body[name] = _whole(raw.get(name), name, 1, problems)
        case "sign":
            body["covers"] = _whole(raw.get("covers"), "covers", 0, problems)
        case "issue":
            body["covers"] = _whole(raw.get("covers"), "covers", 0, problems)
            body["record"] = validation.line_of_text(raw.get("record"), "record", problems, needed=False)
            changes = raw.get("changes")
            body["changes"] = [
                validation.words(c, "changes", problems, longest=100_000)
                for c in (changes if isinstance(changes, list) else [])
            ]
        case "print":
            body["sheet"] = raw.get("sheet")
            if not isinstance(body["sheet"], str) or not HEX.fullmatch(body["sheet"]):
                problems.append(Problem("sheet", "is not a hash"))
        case "decision":
            _decision(body, problems)
        case "header":
            body["fields"] = raw.get("fields")  # read by read_header, together with the fields before
    return body


def in_form(kind: str, form: str, about: str | None, body: Any) -> dict[str, Any]:
    """The usable part of the body of a damaged line: all of it when it is well formed.

    :param kind: of the line, such as entry or tick
    :param form: name of the working, or of the kind of line
    :param about: uid of the line that it is about; None for most kinds
    :param body: the fields of the line
    """
    if kind not in KINDS or not isinstance(body, Mapping):
        return {}
    if kind == "header":
        return {"fields": _header_in_form(body.get("fields"))}
    problems: list[Problem] = []
    found = read_body(kind, form, about, body, problems)
    if not problems:
        return {k: v for k, v in found.items() if v not in ("", [], {}, None)}
    return {"letter": "?", "covers": 0} if kind == "issue" else {}


def _header_in_form(fields: Any) -> dict[str, Any]:
    if not isinstance(fields, Mapping):
        return {}
    plain = [f.name for f in header.FIELDS]
    found: dict[str, Any] = {k: v for k, v in fields.items() if k in plain and isinstance(v, str)}
    for table in header.TABLES:
        problems: list[Problem] = []
        rows = _records(fields.get(table.name), table, problems)
        if rows and not problems:
            found[table.name] = rows
    return found


def _tick(raw: Mapping[str, Any], body: dict[str, Any], problems: list[Problem]) -> None:
    programme = raw.get("programme")
    if not isinstance(programme, str) or not UID.fullmatch(programme):
        problems.append(Problem("programme", "must be the entry with the tightening programme"))
    body["programme"] = programme
    body["stage"] = _whole(raw.get("stage"), "stage", 1, problems)
    for name in ("bolt", "initials", "value"):
        if "\n" in body[name]:
            problems.append(Problem(name, "must be on one line"))
    if body["deviation"]:
        for name, what in (("reason", "the reason of the deviation"), ("action", "what was done about it")):
            if not body[name]:
                problems.append(Problem(name, f"{what} is missing"))


def _decision(body: Mapping[str, Any], problems: list[Problem]) -> None:
    """A person accepts or resolves an open point; an allowed range needs its source."""
    for name, other in (("allowed", "allowed_source"), ("allowed_source", "allowed")):
        if body[name] and not body[other]:
            problems.append(Problem(other, f"must be given with {name}"))
    if body["allowed"]:
        try:
            read_stage(body["allowed"])
        except Unreadable as error:
            problems.append(Problem("allowed", str(error), '"+85–110 deg"'))


def _whole(value: Any, where: str, least: int, problems: list[Problem]) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value < 2**31:
        problems.append(Problem(where, f"must be a whole number, at least {least}"))
        return least
    return value


def _table(value: Any, where: str, problems: list[Problem]) -> dict[str, Any]:
    if value is None:
        return {}
    if not isinstance(value, Mapping):
        problems.append(Problem(where, "must be a table of name = value"))
        return {}
    found: dict[str, Any] = validation.tree(value, where, problems) or {}
    return found


def _uids(value: Any, problems: list[Problem]) -> list[str]:
    if value is None:
        return []
    if not isinstance(value, list | tuple) or len(value) > 200:
        problems.append(Problem("sources", "must be a list of the entries that it was calculated from"))
        return []
    bad = [str(v)[:40] for v in value if not isinstance(v, str) or not UID.fullmatch(v)]
    problems += [Problem("sources", f"{b!r} is not an entry of this job") for b in bad]
    return [] if bad else list(dict.fromkeys(value))


def _origins(value: Any, problems: list[Problem]) -> dict[str, dict[str, str]]:
    if value in (None, {}):
        return {}
    if not origins.in_form(value) or not all(UID.fullmatch(v["uid"]) for v in value.values()):
        problems.append(Problem("origins", "must name an entry of this job and a value in it for each input"))
        return {}
    return {k: dict(v) for k, v in value.items()}


SCHEMA_FILE = Path(__file__).with_name("job.schema.json")


@functools.cache
def _result_validator() -> Callable[[Any], Any]:
    import fastjsonschema

    definitions = json.loads(SCHEMA_FILE.read_text(encoding="utf-8"))["definitions"]
    one = {"$schema": "http://json-schema.org/draft-07/schema#", "$ref": "#/definitions/result"}
    compiled: Callable[[Any], Any] = fastjsonschema.compile(one | {"definitions": definitions}, use_default=False)
    return compiled


def _result(result: Mapping[str, Any], problems: list[Problem]) -> None:
    """A saved result must be fit to be shown, printed and exported: job.schema.json defines its form."""
    import fastjsonschema

    try:
        _result_validator()(result)
    except fastjsonschema.JsonSchemaValueException as error:
        where = ".".join(map(str, ["result", *error.path[1:]]))
        problems.append(Problem(where[:80], error.message.removeprefix(str(error.name)).strip()[:160]))


def _no_file_names(form: str, inputs: Mapping[str, Any], problems: list[Problem]) -> None:
    """A saved entry contains its readings.  A file name in it would make another computer open a file of that name."""
    working = find(form)
    for name, typed in inputs.items():
        field = working.field(name) if working else None
        if (field is None or field.csv) and (csv_file.names_a_file(typed) or trace_file.names_a_trace_file(typed)):
            problems.append(Problem(name, "is the name of a file; a saved entry must contain the readings themselves"))
