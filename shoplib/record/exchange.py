"""Export and import of a job: JSON with a published schema, and tables as CSV.  A file is untrusted until parsed."""

from __future__ import annotations

import base64
import binascii
import csv
import functools
import io
import json
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from shoplib import __version__
from shoplib.record import header, photos, validation
from shoplib.record.errors import BadPhoto, NotAJob
from shoplib.record.job import Job, Line

SCHEMA = "shoplib-job/1"
SCHEMA_FILE = Path(__file__).with_name("job.schema.json")


def job_schema() -> dict[str, Any]:
    """The JSON Schema of an exported job."""
    found: dict[str, Any] = json.loads(SCHEMA_FILE.read_text(encoding="utf-8"))
    found["definitions"]["header"] |= header.schema()
    return found


def dump(job: Job, pictures: Mapping[str, bytes]) -> bytes:
    """An exported job: its lines as they were written, and its photographs.

    :param job: the job, read from its lines
    :param pictures: hash of a photograph to its bytes
    """
    return dump_lines(
        {"uid": job.uid, "number": job.number}, [plain_line(x) for x in job.lines], pictures, program=__version__
    )


def plain_line(line: Line) -> dict[str, Any]:
    """A line as plain data, as in an exported job.

    :param line: a line of the record
    """
    names = ("n", "uid", "kind", "about", "form", "who", "at", "program", "body", "digest")
    return {name: getattr(line, name) for name in names}


def dump_lines(job: Any, lines: Any, pictures: Mapping[str, bytes], *, program: str) -> bytes:
    """An exported job made from plain data; :func:`load` validates it.

    :param job: its uid and number, as plain data
    :param lines: as plain data, in order
    :param pictures: hash of a photograph to its bytes
    :param program: name and version of what wrote it
    """
    whole = {
        "schema": SCHEMA,
        "program": program,
        "job": job,
        "lines": lines,
        "pictures": {k: base64.b64encode(v).decode("ascii") for k, v in pictures.items()},
    }
    return json.dumps(whole, ensure_ascii=False, indent=1, allow_nan=False).encode("utf-8")


@functools.cache
def _validator() -> Callable[[Any], Any]:
    import fastjsonschema

    compiled: Callable[[Any], Any] = fastjsonschema.compile(job_schema(), use_default=False)
    return compiled


def load(raw: bytes) -> tuple[Job, dict[str, bytes]]:
    """The lines and photographs of an exported job, validated against the schema.  Raises NotAJob.

    Their hashes and the rules of the record are checked when the lines are appended.

    :param raw: the bytes of the file
    """
    whole = validation.read_json(raw)
    if not isinstance(whole, dict) or whole.get("schema") != SCHEMA:
        raise NotAJob(f"is not an exported job of the kind {SCHEMA}")
    lines = lines_in_form(whole)
    pictures = {}
    for digest, text in whole["pictures"].items():
        try:
            pictures[digest] = base64.b64decode(text, validate=True)
            photos.check(pictures[digest], digest)
        except (binascii.Error, ValueError):
            raise NotAJob("a photograph in it is not base64") from None
        except BadPhoto as error:
            raise NotAJob(str(error)) from None
    if pictures_of(lines) != set(pictures):
        raise NotAJob("its photographs do not match those that its lines name")
    return Job(whole["job"]["uid"], lines), pictures


def lines_in_form(whole: Mapping[str, Any]) -> tuple[Line, ...]:
    """The lines of an exported job that is plain data.  Raises NotAJob when it does not match the schema.

    :param whole: the exported job
    """
    import fastjsonschema

    try:
        _validator()(whole)
    except fastjsonschema.JsonSchemaValueException as error:
        where = ".".join(map(str, error.path[1:])) or "the file"
        raise NotAJob(f"{where[:80]}: {error.message.removeprefix(str(error.name)).strip()[:160]}") from None
    lines = tuple(Line(**x) for x in whole["lines"])
    if [x.n for x in lines] != list(range(1, len(lines) + 1)):
        raise NotAJob("the lines are not numbered 1, 2, 3, …: some are missing or listed twice")
    return lines


def pictures_of(lines: Iterable[Line]) -> set[str]:
    """Hashes of the photographs, large and small, that the lines name.

    :param lines: of the record, in order
    """
    return {str(x.body.get(k)) for x in lines if x.kind == "photo" for k in ("picture", "thumb")}


# ------------------------------------------------------------------------------ tables
_NUMBER = re.compile(r"[-+−]?\d+([.,]\d+)?([eE][-+]?\d+)?")
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠", "|", "%")


def escape_spreadsheet_formula(cell: Any) -> str:
    """A cell that a spreadsheet shows instead of computing it: an apostrophe before what looks like a formula.

    :param cell: text, or a number, which stays as it is
    """
    text = "" if cell is None else "yes" if cell is True else "no" if cell is False else str(cell)
    if text.lstrip(" \u00a0").startswith(_FORMULA) and not _NUMBER.fullmatch(text):
        return "'" + text
    return text


def _csv(heading: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(heading)
    writer.writerows([escape_spreadsheet_formula(c) for c in row] for row in rows)
    return out.getvalue()


def _table_csv(table: header.HeaderTable, rows: Iterable[Mapping[str, Any]]) -> str:
    names = [c.name for c in table.columns]
    return _csv(names, ([row.get(name, "") for name in names] for row in rows))


def tables(job: Job) -> dict[str, str]:
    """File name to CSV text: header, entries, values, checks, ticks, instruments, photographs.

    :param job: the job, read from its lines
    """
    every = (*job.entries, *job.ticks)
    numbers = {e.uid: e.n for e in every}
    line_numbers = {x.uid: x.n for x in job.lines}
    kept_apart = [table.name for table in header.TABLES]
    made = {
        "header.csv": _csv(
            ("field", "value"), ((k, v) for k, v in job.header.items() if k not in kept_apart)
        ),
        **{f"{table.name}.csv": _table_csv(table, job.header.get(table.name, ())) for table in header.TABLES},
        "entries.csv": _csv(
            ("line", "form", "title", "phase", "outcome", "who", "when", "kept_at", "remark", "state", "by_line",
             "reason", "corrects_line", "computed_from_lines", "stale", "program", "condition"),
            ([e.n, e.form, e.title, e.phase, e.outcome, e.who, e.when, e.at, e.remark, e.state,
              e.by.n if e.by else "", e.by.body.get("because", "") if e.by else "", e.corrects.n if e.corrects else "",
              " ".join(str(numbers.get(s, "?")) for s in e.sources or ()), "; ".join(e.stale), e.program,
              e.condition]
             for e in job.entries),
        ),
        "values.csv": _csv(
            ("line", "part", "name", "row", "value", "unit"), (row for e in job.entries for row in _values(e))
        ),
        "checks.csv": _csv(
            ("line", "label", "found", "unit", "comparison", "limit", "limit_unit", "limit_source", "outcome",
             "remark"),
            (_check(e.n, c) for e in job.entries for c in _listed(e.result.get("checks")) if isinstance(c, Mapping)),
        ),
        "ticks.csv": _csv(
            ("line", "programme_line", "stage", "bolt", "value", "initials", "when", "kept_at", "deviation", "reason",
             "action", "remark", "state", "by_line", "why", "judged"),
            ([t.n, numbers.get(t.programme, "?"), t.stage, t.bolt, t.value, t.initials, t.when, t.at, t.deviation,
              t.reason, t.action, t.remark, t.state, t.by.n if t.by else "",
              t.by.body.get("because", "") if t.by else "", t.line.body.get("judged", "")]
             for t in job.ticks),
        ),
        "decisions.csv": _csv(
            ("line", "of_line", "point", "decision", "by", "because", "allowed", "allowed_source", "who", "kept_at"),
            ([x.n, line_numbers.get(x.about or "", ""),
              *(x.body.get(k, "") for k in ("point", "decision", "by", "because", "allowed", "allowed_source")),
              x.who, x.at]
             for x in job.lines if x.kind == "decision"),
        ),
        "photographs.csv": _csv(
            ("line", "of_line", "caption", "width", "height", "sha256", "sha256_of_the_original", "who", "kept_at"),
            ([x.n, numbers.get(x.about or "", "?"), x.body.get("caption"), x.body.get("width"), x.body.get("height"),
              x.body.get("picture"), x.body.get("original"), x.who, x.at]
             for x in job.lines if x.kind == "photo"),
        ),
    }  # fmt: skip
    return made


def _values(entry: Any) -> Iterable[Sequence[Any]]:
    for part, found in (("input", entry.inputs or {}), ("content", entry.content or {})):
        for name, value in found.items():
            yield from _spread(entry.n, part, name, value, "")
    results = entry.result.get("results")
    for name, value in results.items() if isinstance(results, Mapping) else ():
        if isinstance(value, Mapping):
            yield from _spread(entry.n, "result", name, value.get("value"), value.get("unit"))


def _spread(n: int, part: str, name: str, value: Any, unit: Any) -> Iterable[Sequence[Any]]:
    """One row per value; a list or table has one row per member."""
    if isinstance(value, list):
        for k, member in enumerate(value, 1):
            if isinstance(member, Mapping):
                for key, x in member.items():
                    plain = x.get("value") if isinstance(x, Mapping) and "value" in x else x
                    own = x.get("unit") if isinstance(x, Mapping) else ""
                    yield (n, part, f"{name}.{key}", k, _flat(plain), own)
            else:
                yield (n, part, name, k, _flat(member), unit)
    else:
        yield (n, part, name, "", _flat(value), unit)


def _listed(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []


def _flat(value: Any) -> Any:
    return json.dumps(value, ensure_ascii=False) if isinstance(value, dict | list) else value


def _check(n: int, check: Mapping[str, Any]) -> Sequence[Any]:
    found, limit = ({} if not isinstance(x, Mapping) else x for x in (check.get("found"), check.get("limit")))
    return (
        n, check.get("label"), _flat(found.get("value")), found.get("unit"), check.get("comparison"),
        _flat(limit.get("value")), limit.get("unit"), check.get("limit_source"), check.get("outcome"),
        check.get("remark"),
    )  # fmt: skip
