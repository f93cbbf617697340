"""The evidence of a job on paper: one row per measurement, sources as numbered notes, ways of judging as letters.

Nothing is left out: what was typed, what was calculated, each check with its uncertainty.  Workings are printed in an
appendix, from the same entries.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from shoplib.core.checks import ORIGINS, RULES, Check, Origin, Rule, Value
from shoplib.core.fields import Field
from shoplib.core.rounding import decimals, without_further_zeros
from shoplib.core.typed_text import unit_typed, with_signs
from shoplib.core.units import Unreadable, read_any
from shoplib.core.working import Result
from shoplib.record.instruments import calibrations
from shoplib.record.job import Entry, Job
from shoplib.record.ticks import PLANS
from shoplib.sheet import facts
from shoplib.sheet.entry_sheet import WORDS, listed, steps_of, typed_rows, what_was_typed
from shoplib.sheet.formatting import on_paper, spans, with_point
from shoplib.sheet.small_multiples import Multiples
from shoplib.sheet.svg import inches_wide, svg_of
from shoplib.sheet.table_layout import LABEL, as_table, widths

HALF = 58.0  # characters of a table that fits on half of the line
SHORT = 12  # rows of a table that is never split between two pages
ROW = "measurement"  # the working whose entries are one row each
WORST = ("fail", "undecided", "no limit given", "pass")
IN_THE_ROW = ("what", "where", "value", "state", "low", "high", "instrument")
NEXT = ("advice", "next_bolt", "stacks", "deciding_leaf")  # results that say what to do next: for the screen
FACES = ("flatness_lines", "flatness_grid")
MAPS = ("tightening_plan", "fastener_log", "tightening_order")
PLACES = {"name", "x", "y"}  # a table of these alone is what the map of the bolts shows
AS_TYPED = ", as typed"  # ends the label of a table of inputs
SUGGESTS = "suggests"  # the result of a test: the program says it, not a person
NONE_HEARD = "none; if any, find its cause"  # what is heard is no proof of a fault either
STAGES = "stages"  # the result of a plan that the grid of its ticks shows
NAMES_ROW = r", row \d"  # in the label of a check
NOT_APPLICABLE = "not applicable"  # such a row of a list has no check; its note says why
SAID_OF_ORIGIN: dict[str, str] = {str(code): words for code, words in ORIGINS.items()} | {
    Origin.DIGITS: "± from rounding only: half a unit in the last digit typed, without the error of the instrument",
    Origin.COMBINED: "± calculated from the ± of the readings; where none was typed, from rounding only",
}
_MOST_ROWS = 60


class Notes:
    """Sources, numbered in the order of the sheet; ways of judging, by letters.  Each is printed once."""

    def __init__(self) -> None:
        self._sources: dict[str, str] = {}
        self._typed: set[str] = set()
        self._rules: dict[str, str] = {}

    def source(self, said: str | None, *, typed: bool = True) -> str:
        """The number of a source; "" if none was named.  ``typed``: a person named it, not the program."""
        if not said:
            return ""
        if typed:
            self._typed.add(said)
        return self._sources.setdefault(said, str(len(self._sources) + 1))

    def rule(self, said: str) -> str:
        """The letter of a way of judging."""
        return self._rules.setdefault(said, _letter(len(self._rules))) if said else ""

    def printed(self) -> dict[str, list[dict[str, str]]]:
        """The lists for the template."""
        return {
            "sources": [
                {"n": n, "text": said if said in self._typed else f"{said} *"} for said, n in self._sources.items()
            ],
            "rules": [{"n": n, "text": said} for said, n in self._rules.items()],
        }


def _letter(count: int) -> str:
    return chr(ord("a") + count % 26) * (1 + count // 26)


class Shown(NamedTuple):
    """What the evidence of an entry needs besides its result."""

    job: Job
    notes: Notes
    with_picture: bool
    multiples: Multiples | None = None


def evidence_of(entry: Entry, result: Result, shown: Shown) -> dict[str, Any]:
    """The template's data of one calculated entry."""
    notes, typed = shown.notes, _Typed(result)
    rows = _rows(result, notes, typed)
    alone = entry.form == ROW
    svg = svg_of(result) if shown.with_picture else None
    tables = _tables(result, shown, entry, typed, svg is not None)
    instruments = instruments_of(shown.job, entry)
    words = result.working.alt(result) if svg and result.working.alt else ""
    if shown.multiples is not None and shown.multiples.uid == entry.uid:
        svg, words = shown.multiples.svg, shown.multiples.words
    return {
        "row": _row(entry, result, notes) if alone else None,
        "outcome": None if result.outcome is None else str(result.outcome),
        "word": planned(result, WORDS.get(str(result.outcome), "")),
        "instruments": _beside(entry, instruments) if alone else instruments,
        "checks": rows,
        "inputs": [] if alone else _inputs(result, notes),
        "defaults": [{"label": f.label, "value": f.spoken(f.default)} for f in result.inputs.defaults()],
        "results": [] if alone else _results(result, typed) + [_on_a_line(t) for t in tables if _is_a_line(t)],
        "tables": [t for t in tables if not _is_a_line(t)],
        "steps": steps_of(result),
        "assumptions": [on_paper(result.in_labels(a)) for a in result.assumptions],
        "svg": svg,
        "alt": words or result.working.title,
        "caption": words,
        "figure_width": inches_wide(svg) if svg else 0.0,
    }  # fmt: skip


def planned(result: Result, word: str, *, of_check: bool = False) -> str:
    """The outcome of a plan, or of a cut that is still to be made, is not that of a thing done.

    The checks of a plan of stages judge the plan as it is.
    """
    ahead = result.is_forecast or (not of_check and result.working.name in PLANS)
    return f"Plan: {word}" if ahead and word else word


def pictured(entries: Sequence[Entry], results: Mapping[str, Result | str]) -> set[str]:
    """uids of the entries whose picture is printed: faces that do not pass, and one map of the bolts.

    These show places.  A chart repeats the numbers beside it, and the form draws it again at any time.
    """
    worked = [(e, r) for e in entries if isinstance(r := results.get(e.uid), Result)]
    found = {e.uid for e, r in worked if e.form in FACES and str(r.outcome) in ("fail", "undecided")}
    maps = [e.uid for form in MAPS for e, _ in worked if e.form == form]
    return found | set(maps[:1])


# ------------------------------------------------------------------------------ checks
def _rows(result: Result, notes: Notes, typed: _Typed) -> list[dict[str, Any]]:
    """The checks; two limits of one reading are one row."""
    rows: list[dict[str, Any]] = []
    for check in result.checks:
        row = _check(check, result, notes, typed)
        last = rows[-1] if rows else None
        same = ("label", "found", "uncertainty", "rule", "remark")
        if last is not None and all(last[k] == row[k] for k in same) and check.limit is not None:
            last["limits"] += row["limits"]
            last["note"] = ", ".join(dict.fromkeys(x for x in (*last["note"].split(", "), row["note"]) if x))
            last["converted"] = last["converted"] or row["converted"]
            last["status"] = min(last["status"], row["status"], key=WORST.index)
            last["word"] = planned(result, WORDS[last["status"]], of_check=True)
        else:
            rows.append(row)
    return rows


def on_face(label: str) -> str:
    """A line of the straightedge is not a line of the record."""
    return re.sub(r"^Line(?=s? )", "Straightedge line", label)


def _how_judged(check: Check) -> str:
    """Where the uncertainty comes from, and the decision rule."""
    origin = SAID_OF_ORIGIN[check.uncertainty_origin] if check.uncertainty_origin else ""
    rule = RULES[check.rule]
    if check.rule is Rule.GUARD_BANDS:
        rule = "Judged with this ± only: pass or fail when it leaves no doubt (ISO 14253-1)"
    return ". ".join(x for x in (origin, rule) if x)


def _check(check: Check, result: Result, notes: Notes, typed: _Typed) -> dict[str, Any]:
    found, limit = check.told[0], check.told[1].removeprefix("must be ")
    limit = NONE_HEARD if check.comparison == "never pass" else limit
    found = typed.no_finer(found) if isinstance(check.found.value, str) else found
    corner = ", ".join(f"{v.label} {v.shown}" for v in check.corner.values())
    remark = on_paper(result.in_labels(check.remark))
    label, bound = facts.of_a_gap(check)
    return {
        "status": str(check.outcome),
        "word": planned(result, WORDS[str(check.outcome)], of_check=True),
        "label": on_face(label) if result.working.name in FACES else label,
        "found": bound.format(found),
        "calculated": not isinstance(check.found.value, str) and not typed.says(found),
        "converted": converted(found, limit),
        "limits": [limit] if limit else [],
        "uncertainty": f"{'leaf ' * (label != check.label)}{check.spread}" if check.uncertainty_origin else "",
        "rule": notes.rule(_how_judged(check)),
        "note": notes.source(check.limit_source, typed=typed.contains(check.limit_source)),
        "remark": "; ".join(x for x in (remark, f"worst at {corner}" if corner else "") if x),
    }


def converted(found: str, limit: str) -> str:
    """A reading in the unit of its limit, where that is another unit of the same kind; else ""."""
    bound = re.search(r"[-−+]?\d.*", limit)
    if bound is None:
        return ""
    try:
        value, kind, _ = read_any(found)
        _, its_kind, per = read_any(bound[0])
    except Unreadable:
        return ""
    units = [unit_typed(x) for x in (found, bound[0])]
    if kind != its_kind or units[0] == units[1] or "°" in "".join(units) or "deg" in "".join(units):
        return ""
    return f"= {value / per:.4g} {units[1]}"


class _Typed:
    """The numbers that were typed into an entry: a value that equals one of them was read, not calculated."""

    _NUMBER = re.compile(r"(?<![\w.,])[-−+]?\d+(?:[.,]\d+)?(?![\w.,]*\d)")

    def __init__(self, result: Result) -> None:
        self._texts: list[str] = []
        self._gather(dict(result.inputs.as_entered))
        read = [self._read(text) for text in self._texts]
        self._numbers = {number for numbers in read for number in numbers}
        self._units = [{unit for _, unit in numbers} for numbers in read]  # of each text
        self._decimals = list(map(decimals, self._texts))

    def says(self, shown: str) -> bool:
        """Whether everything that is shown was typed; words that contain no number count as not calculated."""
        numbers = self._read(shown)
        return all(n in self._numbers for n in numbers) or shown in self._texts

    def contains(self, said: str | None) -> bool:
        """Whether this text was typed."""
        return said in self._texts

    def no_finer(self, shown: str) -> str:
        """A result without zeros at its end that no typed number of its unit has."""
        units = {u for _, u in self._read(shown)}
        same = [typed for typed, its in zip(self._decimals, self._units, strict=True) if its & units]
        return without_further_zeros(shown, max(same or self._decimals, default=0))

    def _gather(self, value: Any) -> None:
        if isinstance(value, Mapping):
            value = list(value.values())
        if isinstance(value, list | tuple):
            for x in value:
                self._gather(x)
        else:
            self._texts.append(str(value))

    def _read(self, text: str) -> list[tuple[float, str]]:
        found = []
        for part in re.split(r"[;/]| to ", with_signs(text)):
            for match in self._NUMBER.finditer(part):
                unit = re.sub(r"[\s*·]", "", part[match.end() :])[:4]
                found.append((float(match[0].replace(",", ".").replace("−", "-")), unit))
        return found


# ------------------------------------------------------------------------------ one row per measurement
def _row(entry: Entry, result: Result, notes: Notes) -> dict[str, Any]:
    """A single measurement, whole: as read, converted, limit, uncertainty, instrument, source, outcome."""
    typed = result.inputs.as_entered
    read = str(typed.get("value") or typed.get("state") or "")
    limits = [f"{word} {typed[k]}" for k, word in (("low", "at least"), ("high", "at most")) if typed.get(k)]
    sources = [notes.source(str(typed[k])) for k in typed if k.endswith("_source") and typed[k]]
    more = [
        f"{f.label}: {f.spoken(typed[f.name])}"
        for f in result.working.fields
        if typed.get(f.name) not in (None, "") and f.name not in IN_THE_ROW and not f.name.endswith("_source")
    ]
    state = typed.get("state") if typed.get("value") else None
    uncertain = next((c for c in result.checks if c.uncertainty is not None and c.uncertainty_origin), None)
    what = f"{typed.get('what', '')}, {typed.get('where', '')}"
    said_already = entry.title == result.working.title or what.casefold().startswith(entry.title.casefold())
    more += [f"typed as {read}"] if typed.get("value") and with_point(read) != read else []
    remarks = dict.fromkeys(on_paper(result.in_labels(c.remark)) for c in result.checks if c.remark not in ("", read))
    return {
        "what": what,
        "title": "" if said_already else entry.title,
        "read": with_signs(with_point(read)) if typed.get("value") else read,
        "converted": next((x for limit in limits if (x := converted(read, limit))), ""),
        "limits": limits,
        "uncertainty": uncertain.spread if uncertain else "",
        "rule": notes.rule(_how_judged(uncertain) if uncertain else ""),
        "instrument": str(typed.get("instrument") or ""),
        "note": ", ".join(dict.fromkeys(sources)),
        "more": "; ".join([*(f"State: {state}" for _ in (state,) if state), *more, *remarks]),
    }  # fmt: skip


def _beside(entry: Entry, instruments: str) -> str:
    """The instruments of a row, without the name of one that the row gives as typed."""
    typed = str((entry.inputs or {}).get("instrument") or "")
    parts = [(said.partition(" (")[0], said) for said in instruments.split("; ")]
    return "; ".join(
        said.removeprefix(f"{name} (").removesuffix(")") if name in typed else said for name, said in parts
    )


# ------------------------------------------------------------------------------ results
def _results(result: Result, typed: _Typed) -> list[dict[str, Any]]:
    """Each single result; what only repeats an input under the same label is printed as the input alone."""
    inputs = {(f.label, f.spoken(said)) for f, said, _ in what_was_typed(result)}
    alike = {"worst_line": facts.largest_gaps(result)} if result.working.name == "flatness_lines" else {}
    shown = [
        (f"{v.label} (by the program)" if k == SUGGESTS else v.label, alike.get(k) or typed.no_finer(v.shown))
        for k, v in result.values.items()
        if not v.is_table and k not in NEXT
    ]
    return [
        {"label": label, "value": said, "calculated": not typed.says(said)}
        for label, said in shown
        if (label, said) not in inputs
    ]


# ------------------------------------------------------------------------------ inputs and tables
def _inputs(result: Result, notes: Notes) -> list[dict[str, str]]:
    """What was typed, and nothing else; tables are printed separately."""
    rows = []
    for f, typed, source in what_was_typed(result):
        note = notes.source(source)
        if f.kind in ("table", "list", "trace"):
            said, more = listed(result, f)
            if f.kind == "table" and len(result.inputs[f.name]) <= _MOST_ROWS:
                if note:
                    rows.append({"label": f.label, "value": "in the table below", "more": "", "note": note})
                continue
        else:
            said, more = f.spoken(typed), f.converted(typed, result.inputs[f.name])
        label = f.label.removesuffix(" …").replace(" your ", " the ")
        rows.append({"label": label, "value": said, "more": more, "note": note})
    return rows


def _tables(result: Result, shown: Shown, entry: Entry, read: _Typed, pictured: bool) -> list[dict[str, Any]]:
    """The tables that were typed, then those that were calculated; what is printed elsewhere is not repeated."""
    calculated = {k: v for k, v in result.values.items() if v.is_table and not _repeats_checks(v.value, result)}
    lists = [tuple(next(iter(row.values())).shown for row in v.value) for v in calculated.values()]
    told = _told_elsewhere(result, calculated.values())
    found, printed = [], []
    for f in result.working.fields:
        typed = result.inputs.as_entered.get(f.name)
        if f.kind != "table" or typed is None or not 0 < len(result.inputs[f.name]) <= _MOST_ROWS:
            continue
        head, rows = typed_rows(result, f)
        places = {c.name for c in f.columns} <= PLACES
        new = [k for k in range(len(head)) if not all(_is_told(row[k], row[0], told) for row in rows)]
        if (places and pictured) or not new or tuple(row[0] for row in rows) in lists:
            continue
        kept = [0, *(k for k in new if k)] if _is_told(rows[0][0], rows[0][0], told) else range(len(head))
        head, rows = [head[k] for k in kept], [[row[k] for k in kept] for row in rows]
        printed += [set(row) for row in rows]
        if any(re.search(NAMES_ROW, c.label) for c in result.checks):
            head, rows = ["Row", *head], [[str(n), *row] for n, row in enumerate(rows, 1)]
        found.append(_table(f"{f.label}{AS_TYPED}", head, rows, _sources(f), shown.notes))
    for name, v in calculated.items():
        if (name == STAGES and _in_the_grid(result, shown.job, entry)) or _repeats_lists(v.value, result, read):
            continue
        names = list(dict.fromkeys(name for r in v.value for name in r))
        labels = {name: x.label for r in reversed(v.value) for name, x in r.items()}
        cells = [[read.no_finer(r[name].shown) if name in r else "" for name in names] for r in v.value]
        if all(any({*row[1:]} - {"", "–"} <= typed for typed in printed) for row in cells):
            continue  # each row, after its number, is in a table that was typed
        found.append(_table(v.label, [labels[n].capitalize() for n in names], cells, (), shown.notes))
    return found


def _is_a_line(table: Mapping[str, Any]) -> bool:
    """Whether a table was calculated and has one row."""
    return len(table["rows"]) == 1 and not table["label"].endswith(AS_TYPED)


def _on_a_line(table: Mapping[str, Any]) -> dict[str, Any]:
    """A table of one row as a result: each value after the name of its column."""
    cells = [(h, c) for h, c in zip(table["head"], table["rows"][0], strict=True) if c not in ("", "–")]
    cells += [(s["label"], s["value"]) for s in table["same"]]
    said = "; ".join(f"{h[:1].lower()}{h[1:]}: {_in_spans(c)}" for h, c in cells)
    return {"label": table["label"], "value": said, "calculated": False}


def _in_spans(cell: str) -> str:
    """Whole numbers in a row as a span, "1 to 10"; anything else as it is."""
    names = cell.split(", ")
    return spans([int(x) for x in names]) if len(names) > 2 and all(x.isdecimal() for x in names) else cell


def _told_elsewhere(result: Result, tables: Iterable[Value]) -> list[str]:
    """The text of each check and of each row of the calculated tables."""
    checks = [f"{c.label}; {c.told[0]}; {c.told[1]}; {c.remark}; {c.limit_source}" for c in result.checks]
    rows = ["; ".join([*(x.shown for x in row.values()), NOT_APPLICABLE]) for v in tables for row in v.value]
    return [x.casefold() for x in (*checks, *rows)]


def _is_told(cell: str, of: str, told: Sequence[str]) -> bool:
    """Whether a cell of the row that begins with ``of`` is in the check or row that begins with the same, or empty."""
    return not cell or any(of.casefold() in text and re.search(rf"(?<!\w){re.escape(cell.casefold())}(?!\w)", text)
                           for text in told)  # fmt: skip


def _repeats_lists(rows: Sequence[Mapping[str, Value]], result: Result, read: _Typed) -> bool:
    """Whether a table only pairs the items of the lists that were typed, after the number of each."""
    items = {
        str(x).strip()
        for f in result.working.fields
        if f.kind == "list" and result.inputs.as_entered.get(f.name)
        for x in result.inputs.typed_items(f.name)
    }
    return all(len(row) > 1 and read.no_finer(x.shown) in items for row in rows for x in list(row.values())[1:])


def _in_the_grid(result: Result, job: Job, entry: Entry) -> bool:
    """Whether the grid of the ticks shows the stages and their one order."""
    orders = {stage.bolts for stage in result.plot_data.get("stages", ())}
    return len(orders) == 1 and bool(job.ticks_of(entry.uid))


def _repeats_checks(rows: Sequence[Mapping[str, Any]], result: Result) -> bool:
    return "outcome" in rows[0] and len(result.checks) >= len(rows)


def _sources(f: Field) -> tuple[str, ...]:
    return tuple(c.label for c in f.columns if c.name.endswith("source"))


def _table(
    label: str, head: Sequence[str], rows: Sequence[Sequence[str]], sources: Sequence[str], notes: Notes
) -> dict[str, Any]:
    """A table; a column of sources holds the numbers of the notes.  ``half``: it needs half of the line."""
    at = [k for k, title in enumerate(head) if title in sources]
    head = ["Note" if k in at else title for k, title in enumerate(head)]
    rows = [[notes.source(cell) if k in at else cell for k, cell in enumerate(row)] for row in rows]
    natural = sum(max([len(t) * LABEL, *(len(r[k]) for r in rows)]) + 2.4 for k, t in enumerate(head))
    if natural <= HALF and len(rows) <= 12:
        size = widths(head, rows, line=HALF)
        return {"label": label, "head": head, "rows": rows, "widths": size, "same": [], "small": True, "half": True,
                "short": True}  # fmt: skip
    return as_table(label, head, rows) | {"half": False, "short": len(rows) <= SHORT}


# ------------------------------------------------------------------------------ instruments
def instruments_of(job: Job, entry: Entry) -> str:
    """The instruments that an entry names, each with its certificate number."""
    known = {str(i.get("id", "")): i for i in job.header.get("instruments", ())}
    told = []
    for c in calibrations(job):
        if uses := [u for u in c.uses if u.uid == entry.uid]:
            number = known[c.id].get("certificate")
            said = [f"certificate\u00a0{number}" if number else "certificate not given"]
            said += [f"overdue since {c.due}"] if any(u.overdue for u in uses) else []
            said += ["calibration date not given"] if not c.due else []
            told.append(f"{c.id} ({', '.join(said)})")
    return "; ".join(told)
