"""From a record to what the template sets.  Nothing here decides an outcome; the record holds it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from shoplib.checks import Check
from shoplib.formula import Line, name, text
from shoplib.record.document import JOB_FIELDS, digest
from shoplib.sheet.columns import as_table, widths
from shoplib.sheet.picture import svg_of
from shoplib.working import Result
from shoplib.workings import get

WORDS = {"pass": "Pass", "fail": "Fail", "undecided": "Undecided", "no limit given": "No limit given"}


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
        "job": [
            {"field": f"job.{k}", "label": JOB_FIELDS[k][0], "value": job.get(k, "")}
            for k in JOB_FIELDS
            if k != "number"
        ],
        "outcome": record["outcome"],
        "word": WORDS.get(record["outcome"] or "", ""),
        "open": _open_points(results, entries),
        "entries": entries,
        "cautions": list(dict.fromkeys(c for r in results for c in r.told_cautions)),
        "signatures": ["Done by", "Checked by", "Date"],
    }


def _open_points(results: list[Result], entries: list[dict[str, Any]]) -> list[dict[str, str]]:
    """What is not a clear pass, worst first."""
    points = [
        {
            "status": str(c.outcome),
            "word": WORDS[str(c.outcome)],
            "entry": str(e["n"]),
            "text": c.label,
            "remark": r.in_labels(c.remark),
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
    """What the template sets of one worked entry.  ``entry``: title, who, when, remark; ``n``: its number in print."""
    where = where or f"entry {n}"
    svg = svg_of(result)
    inputs, checks = _inputs(where, result), [_check(c, result) for c in result.checks]
    return {
        "n": n,
        "title": entry.get("title") or result.working.title,
        "question": result.working.title if entry.get("title") else result.working.question,
        "who": {"field": f"{where}, who", "value": entry.get("who", "")},
        "when": {"field": f"{where}, when", "value": entry.get("when", "")},
        "remark": {"field": f"{where}, remark", "value": entry.get("remark", "")},
        "outcome": None if result.outcome is None else str(result.outcome),
        "word": WORDS.get(str(result.outcome), ""),
        "checks": checks,
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
        "results": [{"label": v.label, "value": v.shown} for v in result.values.values() if not v.is_table],
        "tables": [_table(v.label, v.value) for v in result.values.values() if v.is_table],
        "steps": [_step(k, s) for k, s in enumerate(result.steps, 1)],
        "assumptions": [result.in_labels(a) for a in result.assumptions],
        "svg": svg,
        "alt": result.working.alt(result) if svg and result.working.alt else result.working.title,
        "caption": result.working.alt(result) if svg and result.working.alt else "",
        "figure_width": result.working.figure_size[0],
    }


def _short(inputs: list[dict[str, Any]], checks: list[dict[str, str]]) -> dict[str, bool]:
    """Tables so small that they are never torn between two pages."""
    size = sum(len(c["label"]) + len(c["remark"]) + len(c["source"]) for c in checks)
    typed = sum(len(r["label"]) + len(r["typed"]) + len(r["value"]) + len(r["text"]) for r in inputs)
    return {"checks": len(checks) <= 8 and size < 1200, "inputs": len(inputs) <= 9 and typed < 1200}


def _table(label: str, rows: list[dict[str, Any]]) -> dict[str, Any]:
    names = list(dict.fromkeys(name for r in rows for name in r))  # a row may lack what another has
    labels = {name: v.label for r in reversed(rows) for name, v in r.items()}
    cells = [[r[name].shown if name in r else "" for name in names] for r in rows]
    return as_table(label, [labels[name] for name in names], cells)


def _check(check: Check, result: Result) -> dict[str, str]:
    return {
        "status": str(check.outcome),
        "word": WORDS[str(check.outcome)],
        "label": check.label,
        "found": check.found.shown,
        "limit": f"{check.comparison} {check.limit.shown}"
        if check.limit
        else check.comparison
        if check.comparison == "agree"
        else "none",
        "source": check.limit_source or "none given",
        "remark": result.in_labels(check.remark),
    }


def _inputs(where: str, result: Result) -> list[dict[str, Any]]:
    rows = []
    for f in result.working.fields:
        typed = result.inputs.as_entered.get(f.name)
        if typed is None or f.name.endswith("_source"):
            continue
        source = result.inputs.as_entered.get(f"{f.name}_source")
        many = f.kind in ("table", "list") and not isinstance(typed, str)
        shown = result.inputs.shown(f.name)
        rows.append(
            {
                "field": f"{where}, {f.name}",
                "symbol": name(f.symbol) if f.symbol else None,
                "alt": text(name(f.symbol)) if f.symbol else "",
                "label": f.label,
                "typed": _listed(typed) if many else f.spoken(typed),
                "value": shown.removeprefix(f"{typed} (").removesuffix(")")
                if f.kind == "quantity"
                else shown
                if many and f.item is not None and f.item.kind in ("quantity", "number")
                else "",
                "text": source or "",
            }
        )
        if f.kind == "table" and len(result.inputs._values[f.name]) <= 60:
            rows[-1]["rows"] = _typed_rows(result, f.name)
    return rows


def _listed(typed: Any) -> str:
    """A list as it would be typed on one line; a long one, or a table, is counted."""
    plain = isinstance(typed, list | tuple) and all(isinstance(x, str | int | float) for x in typed)
    said = "; ".join(map(str, typed)) if plain else ""
    return said if 0 < len(said) <= 200 else f"{len(typed)} given"


def _typed_rows(result: Result, field_name: str) -> dict[str, Any]:
    f = result.inputs.field(field_name)
    plain = result.inputs.to_json()[field_name]["value"]
    used = [c for c in f.columns if any(c.name in r for r in plain)]
    from shoplib.units import show_number

    def cell(x: Any) -> str:
        if x is None:
            return ""
        value, unit = x["value"], x["unit"]
        if isinstance(value, bool):
            return "yes" if value else "no"
        if isinstance(value, int | float):
            return f"{show_number(float(value))} {unit or ''}".strip()
        if isinstance(value, list):
            return "; ".join("not measured" if v is None else cell({"value": v, "unit": unit}) for v in value)
        return str(value)

    return as_table(f.label, [c.label for c in used], [[cell(r.get(c.name)) for c in used] for r in plain])


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
