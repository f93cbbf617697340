"""From a record to the data for the template.  Nothing here decides an outcome; it comes from the record."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from shoplib.core.checks import Check, Outcome, in_words
from shoplib.core.fields import Field
from shoplib.core.formula import Line, name, text
from shoplib.core.outcome_labels import OUTCOME_LABELS, outcome_heading
from shoplib.core.working import GOVERNS, Result
from shoplib.record.header import FIELDS
from shoplib.record.jobfile_record import digest
from shoplib.sheet.formatting import on_paper
from shoplib.sheet.svg import inches_wide, svg_of
from shoplib.sheet.table_layout import as_table, widths
from shoplib.topics import get

MOST_ROWS = 60  # of a typed table that is printed in full
LONGEST_LIST = 200  # characters
WORDS = {code: outcome_heading(code) for code in OUTCOME_LABELS}


def build(record: Mapping[str, Any]) -> dict[str, Any]:
    """The sheet's data: header, open points, then each entry's blocks."""
    results = [get(e["working"])(e["inputs"]) for e in record["entries"]]
    entries = [entry_blocks(n, e, r) for n, (e, r) in enumerate(zip(record["entries"], results, strict=True), 1)]
    job = record["job"]
    titles = list(dict.fromkeys(e["title"] for e in entries))
    return {
        "title": entries[0]["title"] if len(entries) == 1 else f"Job {job['number']}",
        "subtitle": "" if len(entries) == 1 else "; ".join(titles[:3]) + ("; …" if len(titles) > 3 else ""),
        "running": entries[0]["title"] if len(entries) == 1 else job["engine"],
        "paper": "us-letter" if record["paper"] == "letter" else "a4",
        "version": record["program"]["shoplib"],
        "hash": digest(record),
        "author": job["done_by"],
        "number": job["number"],
        "job": header_cells(job),
        "outcome": record["outcome"],
        "word": WORDS.get(record["outcome"] or "", ""),
        "open": _open_points(results, entries),
        "entries": entries,
        "cautions": in_order(results),
        "signatures": ["Done by", "Checked by", "Date"],
    }


def in_order(results: Iterable[Result]) -> list[str]:
    """The cautions of these results, each once: the maker's procedure, then those of the inputs, then the others."""
    made = list(results)
    own = [r.in_labels(c) for r in made for c in r.cautions if c not in r.working.cautions]
    return list(dict.fromkeys([GOVERNS, *own, *(c for r in made for c in r.working.cautions)]))


def header_cells(header: Mapping[str, Any]) -> list[dict[str, str]]:
    """The cells at the head of a sheet; the number stands in its title."""
    return [
        {"field": f"job.{f.name}", "label": f.label, "value": str(header.get(f.name, ""))}
        for f in FIELDS
        if f.name != "number"
    ]


def _open_points(results: list[Result], entries: list[dict[str, Any]]) -> list[dict[str, str]]:
    """Checks that are not a clear pass, worst first."""
    points = [
        {
            "status": str(c.outcome),
            "word": _word(c),
            "entry": str(e["n"]),
            "text": in_words(c.label, *c.told, None),
            "remark": on_paper(r.in_labels(c.remark)),
        }
        for r, e in zip(results, entries, strict=True)
        for c in r.checks
        if c.outcome != "pass"
    ]
    return sorted(
        points,
        key=lambda p: (
            list(WORDS).index("undecided") if p["status"] == "undecided" else (0 if p["status"] == "fail" else 3)
        ),
    )


def entry_blocks(n: int, entry: Mapping[str, Any], result: Result, where: str = "") -> dict[str, Any]:
    """The template data of one calculated entry.  ``entry``: title, who, when, remark; ``n``: its printed number."""
    where = where or f"entry {n}"
    svg = svg_of(result)
    inputs, checks, basis = _inputs(where, result), *_checks(result)
    return {
        "n": n,
        "title": entry.get("title") or result.working.title,
        "question": result.working.title if entry.get("title") else result.working.asked,
        "who": {"field": f"{where}, who", "value": entry.get("who", "")},
        "when": {"field": f"{where}, when", "value": entry.get("when", "")},
        "remark": {"field": f"{where}, remark", "value": entry.get("remark", "")},
        "outcome": None if result.outcome is None else str(result.outcome),
        "word": WORDS.get(str(result.outcome), ""),
        "checks": checks,
        "basis": basis,
        "check_widths": widths(
            ("Check", "Found", "Limit", "Limit source"),
            [[f"{c['label']} {c['remark'][:40]}", c["found"], c["limit"], c["source"]] for c in checks],
            line=92,
        ),
        "short": _short(inputs, checks),
        "inputs": inputs,
        "input_widths": widths(
            ("Quantity", "As typed", "Converted", "Source"),
            [[r["label"], r["typed"], r["value"], r["text"]] for r in inputs],
            line=104,
        ),
        "defaults": [{"label": f.label, "value": f.spoken(f.default)} for f in result.inputs.defaults()],
        "results": [{"label": v.label, "value": v.shown} for v in result.values.values() if not v.is_table],
        "tables": [_table(v.label, v.value) for v in result.values.values() if v.is_table],
        "steps": steps_of(result),
        "assumptions": [on_paper(result.in_labels(a)) for a in result.assumptions],
        "svg": svg,
        "alt": result.working.alt(result) if svg and result.working.alt else result.working.title,
        "caption": result.working.alt(result) if svg and result.working.alt else "",
        "figure_width": inches_wide(svg) if svg else 0.0,
    }


def _short(inputs: list[dict[str, Any]], checks: list[dict[str, str]]) -> dict[str, bool]:
    """Which tables are so small that they are never split between two pages."""
    size = sum(len(c["label"]) + len(c["remark"]) + len(c["source"]) for c in checks)
    typed = sum(len(r["label"]) + len(r["typed"]) + len(r["value"]) + len(r["text"]) for r in inputs)
    return {"checks": len(checks) <= 8 and size < 1200, "inputs": len(inputs) <= 9 and typed < 1200}


def _table(label: str, rows: list[dict[str, Any]]) -> dict[str, Any]:
    names = list(dict.fromkeys(name for r in rows for name in r))  # a row may lack what another has
    labels = {name: v.label for r in reversed(rows) for name, v in r.items()}
    cells = [[r[name].shown if name in r else "" for name in names] for r in rows]
    return as_table(label, [labels[name] for name in names], cells)


def _checks(result: Result) -> tuple[list[dict[str, str]], str]:
    """The checks, and how they were judged, stated once if it is the same for all."""
    checks = [_check(c, result) for c in result.checks]
    told = {c["basis"] for c in checks}
    if len(checks) > 1 and len(told) == 1 and told != {""}:
        (basis,) = told
        return [{**c, "basis": ""} for c in checks], basis
    return checks, ""


def _word(check: Check) -> str:
    """The outcome; where a limit was typed without its source, also why it does not count."""
    unsourced = check.outcome is Outcome.NO_LIMIT and check.limit is not None
    return WORDS[str(check.outcome)] + (" (no source)" if unsourced else "")


def _check(check: Check, result: Result) -> dict[str, str]:
    return {
        "status": str(check.outcome),
        "word": _word(check),
        "label": check.label,
        "found": check.told[0],
        "limit": check.told[1].removeprefix("must be ") or "none",
        "source": check.limit_source or "none given",
        "remark": on_paper(result.in_labels(check.remark)),
        "basis": check.basis,
    }


def _inputs(where: str, result: Result) -> list[dict[str, Any]]:
    """What was typed, and nothing else; defaults are in a separate list."""
    rows = []
    for f, typed, source in what_was_typed(result):
        row: dict[str, Any] = {
            "field": f"{where}, {f.name}",
            "symbol": name(f.symbol) if f.symbol else None,
            "alt": text(name(f.symbol)) if f.symbol else "",
            "label": f.label,
            "typed": f.spoken(typed),
            "value": f.converted(typed, result.inputs[f.name]),
            "text": source or "",
        }
        if f.kind in ("table", "list", "trace"):
            row["typed"], row["value"] = listed(result, f)
        if f.kind == "table" and len(result.inputs[f.name]) <= MOST_ROWS:
            row["rows"] = as_table(f"{f.label}, as typed", *typed_rows(result, f))
        rows.append(row)
    return rows


def what_was_typed(result: Result) -> Iterator[tuple[Field, Any, Any]]:
    """Each input that was typed, what was typed, and its source; sources are no rows of their own."""
    entered = result.inputs.as_entered
    for f in result.working.fields:
        if entered.get(f.name) is not None and not f.name.endswith("_source"):
            yield f, entered[f.name], entered.get(f"{f.name}_source")


def listed(result: Result, f: Field) -> tuple[str, str]:
    """A list as typed on one line, and converted; for a long list or a table, only the count."""
    values = result.inputs[f.name]
    if f.kind == "trace":
        return values.shown, ""
    if f.kind == "table" or f.item is None:
        return f"{len(values)} given", ""
    typed = result.inputs.typed_items(f.name)
    said = "; ".join(
        "not measured" if v is None else f.item.spoken(t).strip() for t, v in zip(typed, values, strict=True)
    )
    if not 0 < len(said) <= LONGEST_LIST:
        return f"{len(values)} given", ""
    pairs = [(f.item.as_typed(t, v), f.item.converted(t, v)) for t, v in zip(typed, values, strict=True)]
    return said, "; ".join(more or as_typed for as_typed, more in pairs) if any(more for _, more in pairs) else ""


def typed_rows(result: Result, f: Field) -> tuple[list[str], list[list[str]]]:
    """Headings and rows of a typed table, each reading as typed, with the converted value if that adds something."""
    typed, values = result.inputs.typed_rows(f.name), result.inputs[f.name]
    used = [c for c in f.columns if any(row.get(c.name) not in (None, "") for row in typed)]
    cells = [
        ["" if t.get(c.name) in (None, "") else c.as_typed(t[c.name], v[c.name]) for c in used]
        for t, v in zip(typed, values, strict=True)
    ]
    return [c.label for c in used], cells


def steps_of(result: Result) -> list[dict[str, Any]]:
    """The steps of a working, each with its lines of formula, numbers and result."""
    return [_step(k, s) for k, s in enumerate(result.steps, 1)]


def _step(k: int, step: Any) -> dict[str, Any]:
    lines = step.lines()
    return {
        "n": k,
        "title": step.title,
        "source": step.fn.source,
        "note": step.note,
        "lines": [_line(x) for x in lines],
    }


def _line(line: Line) -> dict[str, Any]:
    chain = line.chain
    rows = [{"m": m} for m in chain[:-1]] + [{"m": chain[-1], "strong": True}]
    return {"lhs": line.symbol, "rows": rows, "alt": " = ".join(map(text, [line.symbol, *chain]))}
