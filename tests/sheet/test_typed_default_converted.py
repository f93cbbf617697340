"""Typed, default and converted are three things: each stands where it belongs, on paper, in the form and in words."""

import html
import json
import re

import pytest

from shoplib.core.checks import Check, Outcome, Value, demand, in_words
from shoplib.core.fields import quantity
from shoplib.core.paths import DATA
from shoplib.core.rounding import without_zeros
from shoplib.core.units import N_m, deg, degC, kPa, mm, mm2, pct, unit_of
from shoplib.desk.widgets.form import answer_html
from shoplib.record.jobfile_record import make_record
from shoplib.record.open_points import check_in_words
from shoplib.sheet import typeset
from shoplib.sheet.entry_sheet import entry_blocks
from shoplib.topics import get
from tests.sheet.sheet_parts import words_of

NAMED = {"kPa": kPa, "mm": mm, "mm2": mm2, "N*m": N_m, "deg": deg, "degC": degC}

LINES = [
    {"name": "1", "from": "0; 12 mm", "to": "370; 12 mm", "goes": "24 thou", "no_go": "0.63 mm"},
    {"name": "2", "from": "0; 40 mm", "to": "370; 40 mm", "goes": "0.08 mm", "no_go": "0,10 mm"},
]
FLAT = {"lines": LINES, "limit": "0.08 mm", "limit_source": "sheet 12", "edge_error": "0 mm"}


TYPED = {
    "coolant_fill": {"capacity": "9 L", "drained": "6 L", "target": "50 %"},
    "preload_from_torque": {"torque": "40 N*m", "thread": "M10x1.5", "mu_thread": "0.12", "mu_head": "0.12",
                            "bearing_mean": "13 mm"},
}  # fmt: skip


def blocks(name, **typed):
    return entry_blocks(1, {}, get(name)(typed))


def row(entry, label):
    return next(r for r in entry["inputs"] if r["label"] == label)


def seen(page):
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", page)))


# ------------------------------------------------------------------------------ typed and converted
def test_a_table_keeps_each_reading_as_typed_and_converts_only_what_needs_it():
    table = next(r["rows"] for r in blocks("flatness_lines", **FLAT)["inputs"] if "rows" in r)
    cells = [cell for cells in table["rows"] for cell in cells]
    assert "24 thou (0.6096 mm)" in cells and "0.63 mm" in cells
    assert "0.08 mm" in cells and "0,10 mm" in cells
    assert table["label"] == "Lines, as typed"
    assert not [c for c in cells if "0.08000" in c or "0.1000" in c]


@pytest.mark.parametrize(
    ("typed", "said", "converted"),
    [
        ("2 imperial pt; 4.2 L", "2 imperial pt; 4.2 L", "1.137 L; 4.2 L"),
        ("2.0 L; 4.2 L", "2.0 L; 4.2 L", ""),
    ],
)
def test_a_list_keeps_each_item_as_typed(typed, said, converted):
    found = row(blocks("fluid_ledger", capacity="9 L", out=typed, **{"in": "6 L"}), "Came out")
    assert (found["typed"], found["value"]) == (said, converted)


@pytest.mark.parametrize(
    ("unit", "typed", "said"),
    [
        ("kPa", "11.5 psi", "11.5 psi (79.29 kPa)"), ("kPa", "80 kPa", "80 kPa"), ("mm", "1/2 in", "1/2 in (12.70 mm)"),
        ("mm", "0.05 + 0.03 mm", "0.05 + 0.03 mm (0.08000 mm)"), ("mm2", "400 mm2", "400 mm²"),
        ("N*m", "40±2 N*m", "40±2 N·m (38.00 N·m to 42.00 N·m)"), ("deg", "85–95 deg", "85–95°"),
        ("degC", "68 degF", "68 °F (20.00 °C)"), ("degC", "-20 degC", "-20 °C"), ("mm", "0 mm", "0 mm"),
    ],
)  # fmt: skip
def test_converted_stands_beside_what_was_typed_only_where_it_says_more(unit, typed, said):
    field = quantity("x", NAMED[unit], "X", terms="+" in typed, band=bool(re.search("[±–]", typed)))
    assert field.as_typed(typed, field.read(typed)) == said


def test_what_was_not_measured_is_neither_zero_nor_converted():
    entry = blocks("bolt_reuse", method="max_length", measured="109.3 mm; not measured", bolts="4; 5")
    found = next(r for r in entry["inputs"] if "measured" in r["field"])
    assert (found["typed"], found["value"]) == ("109.3 mm; not measured", "")


# ------------------------------------------------------------------------------ defaults
@pytest.mark.parametrize("name", ["preload_from_torque", "coolant_fill"])
def test_a_default_is_listed_as_one_and_never_as_typed(name):
    typed = TYPED[name]
    entry = blocks(name, **typed)
    labels = {f.name: f.label for f in get(name).fields if f.default is not None and f.name not in typed}
    assert labels and {d["label"] for d in entry["defaults"]} == set(labels.values())
    assert not {r["label"] for r in entry["inputs"]} & set(labels.values())
    typed = {**typed, **{n: get(name).field(n).default for n in labels}}
    assert blocks(name, **typed)["defaults"] == [], "typed, it is no default"


def test_defaults_have_a_heading_of_their_own_on_paper():
    header = {"number": "T-1", "engine": "e", "date": "2026-11-20", "done_by": "A. Learner"}
    inputs = TYPED["coolant_fill"]
    text = words_of(typeset(make_record({"job": header, "entry": [{"working": "coolant_fill", "inputs": inputs}]})))
    typed, _, after = text.partition("Defaults, not typed")
    assert "Strength of the product: 100 %" in after.replace("\n", " ").replace("\u200b", "")
    assert "Strength of the product" not in typed


# ------------------------------------------------------------------------------ a check in words
def check(found, limit, sign="≥", unit=pct, outcome=Outcome.FAIL):
    u = unit_of(unit)
    return Check("Lowest ÷ highest", Value(found, u, ""), Value(limit, u, ""), sign, "page 8", outcome)


@pytest.mark.parametrize(
    ("found", "limit", "sign", "unit", "said"),
    [
        (0.657, 0.80, "≥", pct, "65.7 %, must be at least 80 %"),
        (0.749999, 0.75, "≥", pct, "74.9999 %, must be at least 75 %"),
        (0.1355001, 0.1355002, "≥", mm, "135.5001 mm, must be at least 135.5002 mm"),
        (0.00008, 0.00008, "<", mm, "0.08 mm, must be below 0.08 mm"),
    ],
)
def test_one_wording_on_form_sheet_and_open_points(found, limit, sign, unit, said):
    c = check(found, limit, sign, unit)
    sentence = f"Lowest ÷ highest: {said} [page 8]"
    assert c.sentence == sentence
    assert check_in_words(c.to_json()) == sentence


def test_form_and_sheet_say_it_so_and_how_it_was_judged_once():
    result = get("compression_test")(
        readings="12.4 bar; 12.1 bar; 9.1 bar; 9.3 bar",
        layout="1 2 3 4",
        rule="lowest/highest",
        limit="80 %",
        limit_source="page 8",
    )
    said = result.checks[0].sentence
    assert ", must be at least 80 %" in said
    assert said in seen(answer_html(result))
    (printed,) = entry_blocks(1, {}, result)["checks"]
    assert printed["limit"] == "at least 80 %" and printed["found"] in said
    for c in result.checks:
        for told in filter(None, (result.in_labels(c.remark), c.basis)):
            assert seen(answer_html(result)).count(told) == 1


def test_what_a_check_asks_for_in_words():
    assert demand("agree", "") == "must agree"
    assert demand("in line", "") == "must be in line"
    assert demand("≤", "") == demand("state", "") == demand("", "") == ""
    assert (
        in_words("Height", "not measured", demand("≥", "3 mm"), None) == "Height: not measured, must be at least 3 mm"
    )


@pytest.mark.parametrize(
    ("shown", "said"),
    [("0.08000 mm", "0.08 mm"), ("80.00 %", "80 %"), ("90.00°", "90°"), ("100 mm", "100 mm"), ("1.200×10⁵ N", "1.2×10⁵ N"),
     ("0.1000 mm to 0.2050 mm", "0.1 mm to 0.205 mm"), ("1 020.0 mm", "1 020 mm")],
)  # fmt: skip
def test_zeros_that_nobody_measured_are_not_printed(shown, said):
    assert without_zeros(shown) == said


# ------------------------------------------------------------------------------ sources
OF_THE_RULE = (  # said of the rule itself; no document of an engine is claimed
    "common practice", "ISO ", "VDI ", "NIST", "JCGM", "geometry", "rounding of the printed digits", "counted from",
    "as seen", "marks on the tank",
)  # fmt: skip


def texts(value):
    if isinstance(value, dict):
        return [t for v in value.values() for t in texts(v)]
    return [t for v in value for t in texts(v)] if isinstance(value, list) else [str(value)]


def test_no_check_of_the_invented_job_cites_a_document_that_nobody_typed():
    lines = json.loads((DATA / "demo" / "whole_job.json").read_text(encoding="utf-8"))["lines"]
    entries = [x for x in lines if x["kind"] == "entry" and "inputs" in x["body"]]
    assert len(entries) > 10
    for line in entries:
        typed = texts(line["body"]["inputs"])
        for c in get(line["form"])(get(line["form"]).current(line["body"]["inputs"])).checks:
            source = c.limit_source or ""
            assert not source or any(source in t for t in typed) or source.startswith(OF_THE_RULE), (c.label, source)
