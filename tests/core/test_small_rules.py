"""Small helpers of core, each rule at both of its sides: progress, corners, CSV files, files, texts, evidence, digits."""

import io
import math
import os

import pytest

from shoplib.core import csv_file, evidence, progress
from shoplib.core.checks import Value
from shoplib.core.corner_lanes import corner_at, lanes
from shoplib.core.errors import BadInput, Problem
from shoplib.core.fields import listing, number, quantity, table, words
from shoplib.core.files import NotRead, inside, read_bounded
from shoplib.core.former import present_text
from shoplib.core.outcome_labels import outcome_heading, outcome_label
from shoplib.core.plain_text import first_hidden, is_hidden, visible
from shoplib.core.progress import (
    Progress,
    Stopped,
    TerminalLine,
    TooMuch,
    allowance,
    listening,
    no_longer_than,
    on_terminal,
    part,
    spend,
    step,
)
from shoplib.core.reading_limits import CSV_FILE, Limit
from shoplib.core.shown_digits import MOST_READINGS, Readings, spread_of, uncertain_place
from shoplib.core.units import Unreadable, bar, degC, kN, mm, one, pct, unit_of
from shoplib.core.units import m as metre
from tests.asked import asked

MM, ONE, DEGC, M, KN, BAR, PCT = (unit_of(u) for u in (mm, one, degC, metre, kN, bar, pct))


# ------------------------------------------------------------------------------ progress
def test_progress_of_a_part_counts_as_a_fraction_of_the_whole():
    heard = []
    step(1, 2)  # nobody listens
    with part(1, 4, "unheard"):
        pass
    with listening(lambda p: heard.append((p.done, p.total, p.what))):
        with part(1, 4, "bolts", size=2):
            step(1, 2, "inside")
        with part(2, 4):
            step(1, 4)
        step(3, 4, "after")
    step(4, 4)
    assert heard == [(1, 4, "bolts"), (2.0, 4, "bolts"), (2, 4, ""), (2.25, 4, ""), (3, 4, "after")]


def test_an_allowance_is_spent_to_its_last():
    spend(10**9)  # outside nothing is counted
    with allowance(5):
        spend(2)
        spend(3)
        spend(0)
        with pytest.raises(TooMuch):
            spend(1)


def test_work_is_stopped_after_its_time(monkeypatch):
    now, heard = [100.0], []
    monkeypatch.setattr(progress.time, "monotonic", lambda: now[0])
    with listening(heard.append), no_longer_than(5):
        step(1, 2)
        now[0] = 105.0
        step(2, 2)
        now[0] = 105.1
        with pytest.raises(Stopped, match="longer than 5 s"):
            step(2, 2)
    assert heard == [Progress(1, 2), Progress(2, 2)]
    with no_longer_than(5):
        step(1, 2)


def test_a_line_on_a_terminal(monkeypatch):
    now, stream = [100.0], io.StringIO()
    monkeypatch.setattr(progress.time, "monotonic", lambda: now[0])
    line = TerminalLine(stream, after=0.5, every=0.1)
    line.clear()
    for now[0], done in ((100.4, 1), (100.5, 2), (100.55, 3), (100.6, 4), (100.69, 5), (100.71, 6)):
        line(Progress(done, 10))
    shown = [f"working … {k} %  (Ctrl-C stops)" for k in (20, 40, 60)]
    assert stream.getvalue() == "".join("\r" + s for s in shown)
    line._write("short")
    line.clear()
    line.clear()
    assert stream.getvalue().endswith("\rshort".ljust(len(shown[0]) + 1) + "\r" + " " * len(shown[0]) + "\r")


@pytest.mark.parametrize("terminal", [True, False])
def test_only_a_terminal_is_written_to(terminal, monkeypatch):
    now, stream = [100.0], io.StringIO()
    stream.isatty = lambda: terminal
    monkeypatch.setattr(progress.time, "monotonic", lambda: now[0])
    with on_terminal(stream):
        now[0] = 101.0
        step(1, 2, "so")
    assert (stream.getvalue() != "") == terminal


# ------------------------------------------------------------------------------ corners
def test_every_combination_of_the_ends():
    found = lanes(a=(1.0, 2.0), b=(3.0, 3.0), c=(4.0, 5.0))
    assert {k: v.tolist() for k, v in found.items()} == {"a": [1, 1, 2, 2], "b": [3, 3, 3, 3], "c": [4, 5, 4, 5]}
    assert corner_at(found, 1) == {"a": 1.0, "c": 5.0}
    assert lanes({"a": 5}, a=(1.0, 3.0))["a"].tolist() == [1.0, 1.5, 2.0, 2.5, 3.0]
    assert lanes({"b": 5}, a=(1.0, 3.0))["a"].tolist() == [1.0, 3.0]
    assert corner_at({"a": lanes({"a": 3}, a=(-1.0, 1.0))["a"]}, 1) == {"a": 0.0}


# ------------------------------------------------------------------------------ files and texts
def csv(content, tmp_path, names=("x", "z")):
    (tmp_path / "p.csv").write_text(content, encoding="utf-8")
    return csv_file.with_units(csv_file.rows_of("p.csv", tmp_path), names)


def test_rows_of_a_csv_file(tmp_path):
    rows = [{"x": "1 mm", "z": "2"}, {"x": "words", "z": "3"}]
    for separator in ";\t,":
        assert csv("x_mm;z\n1;2\n;\n words ; 3 \n".replace(";", separator), tmp_path) == rows
    assert csv("x_mm\n5\n", tmp_path, ("x",)) == [{"x": "5 mm"}]
    assert csv("x_mm;z\n1;\n", tmp_path) == [{"x": "1 mm"}]
    assert csv("a_b;z\n1;2\n", tmp_path, ("a_b", "z")) == [{"a_b": "1", "z": "2"}]


@pytest.mark.parametrize(
    ("content", "says"),
    [("x_mm;q_mm;r\n1;2;3\n", "column 'q_mm' is not known"), ("x;z\n1;2\n1\n", "line 3 has 1 cells, but the heading has 2"), ("x;z\n", "no rows"), (";".join("x" * 201) + "\n1\n", "more than 200 columns")],
)  # fmt: skip
def test_a_csv_file_that_is_refused(content, says, tmp_path):
    with pytest.raises(Unreadable) as error:
        csv(content, tmp_path)
    assert says in str(error.value)


def test_two_hundred_columns_and_so_many_rows(tmp_path, monkeypatch):
    names = [f"c{k}" for k in range(200)]
    assert len(csv(";".join(names) + "\n" + ";".join("1" * 200) + "\n", tmp_path, names)[0]) == 200
    monkeypatch.setattr(csv_file, "CSV_FILE", Limit("a CSV file", CSV_FILE.size, None, 3, "rows"))
    assert len(csv("x;z\n" + "1;2\n" * 3, tmp_path)) == 3
    with pytest.raises(Unreadable, match="too many rows"):
        csv("x;z\n" + "1;2\n" * 4, tmp_path)
    assert [csv_file.names_a_file(x) for x in (" A.CSV ", "a.txt", 5, None)] == [True, False, False, False]
    with pytest.raises(Unreadable, match="the name of a file"):
        csv_file.rows_of("p.csv", None)


def test_a_file_of_just_that_size(tmp_path, monkeypatch):
    path = tmp_path / "a"
    path.write_bytes(b"12345")
    assert read_bounded(path, 5) == b"12345"
    with pytest.raises(NotRead, match="5 bytes is too large; at most 4"):
        read_bounded(path, 4)
    for name in ("none", "a\x00"):
        with pytest.raises(NotRead, match="cannot be read"):
            read_bounded(tmp_path / name, 5)
    with pytest.raises(NotRead, match="not a regular file"):
        read_bounded(tmp_path, 5)
    looked = os.stat(path)
    path.write_bytes(b"1234567")  # it grows while it is read
    monkeypatch.setattr("shoplib.core.files.os.stat", lambda _: looked)
    monkeypatch.setattr("shoplib.core.files.os.fstat", lambda _: looked)
    with pytest.raises(NotRead, match="6 bytes is too large; at most 5"):
        read_bounded(path, 5)


def test_only_a_file_inside_the_folder(tmp_path):
    assert inside(tmp_path, "sub/a.csv") == tmp_path.resolve() / "sub" / "a.csv"
    for name in ("../a", "/a", "C:a", "\\a", "a/../b"):
        with pytest.raises(NotRead, match="without a path that leads out"):
            inside(tmp_path, name)
    with pytest.raises(NotRead, match="not the name of a file"):
        inside(tmp_path, "a\x00")


def test_characters_that_nobody_sees():
    assert [c for c in "a\n\t\u202f·é" if is_hidden(c)] == []
    assert all(map(is_hidden, "\x00\r\u200b\ud800\ue000\u0378\u00ad"))
    assert (first_hidden("ab"), first_hidden("a\nb"), first_hidden("a\n\x00\u200b")) == ("", "", "\x00")
    assert (visible("ab"), visible("a\nb"), visible("a\x00b\n")) == ("ab", "a\nb", "a·b\n")


def test_words_of_outcomes_and_problems():
    assert [outcome_label(x) for x in (None, "pass", "odd")] == ["", "pass", "odd"]
    assert [outcome_heading(x) for x in (None, "no limit given")] == ["", "No limit given"]
    assert [Problem("x", *p).told for p in (("is bad", "5 mm"), ("is bad",), ("Type 5 mm", "6 mm"), ("type five", "6 mm"), ("is it 5? Type 5 or 6",))] == [
        "is bad; type for example 5 mm", "is bad", "Type 5 mm", "type five; type for example 6 mm", "is it 5? Type 5 or 6",
    ]  # fmt: skip
    assert str(BadInput([Problem("a\x00", "is\u200b bad"), Problem("b", "too")])) == "a·: is· bad\nb: too"


def test_what_stands_now_for_a_text_of_before():
    texts = {"Line {} gap": ("Line “{}”", "Row “{}”"), "Gone": ()}
    assert [present_text(x, texts, here) for x, here in (("Line a gap", ()), ("Line a gap", ("Row “a”",)), ("Line a gap", ("Line a gap",)), ("Gone", ()), ("Other", ()))] == [
        "Line “a”", "Row “a”", "Line a gap", None, "Other",
    ]  # fmt: skip


# ------------------------------------------------------------------------------ evidence
@pytest.mark.parametrize(
    ("printed", "computed", "mark", "shown", "deviation"),
    [
        ("1.25", "1.2534", "read", "1.2534", "+0.3 of the last digit, +0.272 %"), ("1.25", "1.25", "read", "1.2500", "0 of the last digit, 0 %"), ("1.25", "1.2466", "library", "1.2466", "−0.272 %"),
        ("≥ 28", "30", "read", "30", "–"), ("1e-3", "0.001", "read", "0.001", "–"), ("0", "0.2", "read", "0.20", "+0.2 of the last digit"), ("0", "0.2", "library", "0.20", "–"),
        ("0.12345678", "0.12345678", "read", "0.1234567800", "0 of the last digit, 0 %"), ("0.123456789", "0.123456789", "read", "0.12345678900", "0 %"),
        ("0.12345678901", "0.12345678901", "read", "0.123456789010", "0 %"), ("-5", "-5.5", "read", "−5.50", "−0.5 of the last digit, +10.000 %"),
    ],
)  # fmt: skip
def test_one_comparison(printed, computed, mark, shown, deviation):
    check = {"printed": printed, "computed": computed, "mark": mark}
    assert (evidence.computed(check), evidence.deviation(check)) == (shown, deviation)


def test_shares_and_standings():
    assert [evidence.percent(x) for x in (0, 1e-6, 0.99e-6, "0.0013", 5)] == [
        "less than 0.000001 %", "0.000001 %", "less than 0.000001 %", "0.0013 %", "5 %",
    ]  # fmt: skip
    assert [
        evidence.standing(x)
        for x in (["derived", "read"], ["library"], ["from memory", "derived"], ["common practice"], [])
    ] == ["published", "library", "memory", "own", "none"]


def test_the_tables_of_evidence(monkeypatch):
    checks = [
        {"check": "c", "mark": "derived", "source": "B", "answers_for": "f 2; g 3"}, {"check": "b", "mark": "read", "source": "C", "answers_for": "f 4"}, {"check": "a", "mark": "read", "source": "A", "answers_for": "f 4"},
        {"check": "d", "mark": "read", "source": "A", "answers_for": "f 1"}, {"check": "e", "mark": "read", "source": "A", "answers_for": ""},
    ]  # fmt: skip
    formulas = [{"formula": "f", "standing": "published"}, {"formula": "g", "standing": "own"}]
    monkeypatch.setattr(evidence, "table", {"checks": checks, "formulas": formulas}.get)
    find = evidence.checks_of.__wrapped__
    assert [(error, c["check"]) for error, c in find("f")] == [(1.0, "d"), (4.0, "a"), (4.0, "b"), (2.0, "c")]
    assert [(error, c["check"]) for error, c in find("g")] == [(3.0, "c")]
    assert [f["formula"] for f in evidence.by_standing("own", "none")] == ["g"]
    assert [(source, [c["check"] for c in of]) for source, of in evidence.sources().items()] == [
        ("A", ["a", "d", "e"]),
        ("C", ["b"]),
        ("B", ["c"]),
    ]


TOLD = {
    "checks": [
        {"check": "1", "mark": "read", "source": "Book", "agrees": "yes", "answers_for": "a.first_one 0.5"},
        {"check": "2", "mark": "read", "source": "Book", "agrees": "stated", "answers_for": "", "what": "Slope", "printed": "1.2",
         "computed": "1.25", "unit": "N", "tolerance": "printed digits", "note": "a misprint"},
        {"check": "3", "mark": "derived", "source": "here", "agrees": "yes", "answers_for": "b.two 1"},
        {"check": "4", "mark": "from memory", "source": "Norm", "agrees": "stated", "answers_for": "", "what": "Lead", "printed": "2",
         "computed": "2", "unit": "", "tolerance": "none", "note": ""},
    ],
    "formulas": [
        {"formula": "a.first_one", "standing": "published", "operations": "3", "equation": "y = x", "source": "Book, 1", "checks": "2", "notices_percent": "0.5", "about": "force"},
        {"formula": "b.two", "standing": "own", "operations": "2", "equation": "y = 2", "source": "here", "checks": "1", "notices_percent": "1", "about": ""},
        {"formula": "b.none", "standing": "none", "operations": "1", "equation": "y = 3", "source": "here", "checks": "0", "notices_percent": "", "about": ""},
        {"formula": "c.norm", "standing": "memory", "operations": "1", "equation": "y = 4", "source": "Norm, 2", "checks": "1", "notices_percent": "2", "about": ""},
    ],
}  # fmt: skip


@pytest.fixture
def told(monkeypatch):
    monkeypatch.setattr(evidence, "table", TOLD.get)


def test_how_the_formulas_stand_in_words(told):
    lines = evidence.summary().splitlines()
    assert lines[0] == "4 formulas, 4 comparisons with 3 sources"
    assert [line[:4] for line in lines[2:7]] == ["   1", "   0", "   1", "   1", "   1"]
    assert lines[8] == "Comparisons by the mark of their source"
    assert [int(line[:4]) for line in lines[9:]] == [2, 0, 0, 1, 0, 1, 2]
    assert lines[-1] == "   2 of them do not agree with what is printed; each says why"


def test_formulas_as_text(told):
    own = "○ Two (b)\n    y = 2\n    Source: here\n    1 value; the sharpest would notice an error of 1 %"
    none = "✕ None (b)\n    y = 3\n    Source: here\n    No check."
    assert evidence.unchecked() == (
        f"2 of 4 formulas have no independent check.\n\nMore than one operation (1)\n\n{own}\n\n"
        f"One operation: a sum, difference, product or quotient of two numbers (1)\n\n{none}"
    )
    assert evidence.checked() == (
        "1 formulas are checked against publications or reference libraries.\n\n"
        "✓ First one (a)\n    y = x\n    Source: Book, 1\n    2 values; the sharpest would notice an error of 0.5 %"
    )
    assert evidence.from_memory() == (
        "1 formulas are checked only against values from memory.\n\n"
        "◆ Norm (c)\n    y = 4\n    Source: Norm, 2\n    1 value; the sharpest would notice an error of 2 %"
    )


def test_disagreements_and_sources_as_text(told):
    assert evidence.disagreements().splitlines()[2:] == [
        "Slope: printed 1.2 N, computed 1.250 N", "    printed digits", "    Book", "    a misprint",
        "Lead: printed 2, computed 2.00", "    none", "    Norm",
    ]  # fmt: skip
    assert evidence.by_source().splitlines() == [
        "P Book: 2 values, 1 stated disagreement", "M Norm: 1 value, 1 stated disagreement", "D here: 1 value",
    ]  # fmt: skip


def test_formulas_and_sources_are_found_by_all_words(told):
    def found(words):
        formulas, named = evidence.found(words)
        return [f["formula"] for f in formulas], named

    assert found("") == (["b.none", "b.two", "c.norm", "a.first_one"], [])
    assert found("BOOK first") == (["a.first_one"], [])
    assert found("book") == (["a.first_one"], ["Book"])
    assert found("force") == (["a.first_one"], [])
    assert found("here") == (["b.none", "b.two"], ["here"])
    assert found("arithmetic two") == (["b.two"], [])


# ------------------------------------------------------------------------------ digits that are shown
READ = asked(
    quantity("height", mm, "Height", required=False, band=True),
    quantity("warm", degC, "Warm", required=False),
    number("share", "Share", required=False),
    listing("pressures", quantity("p", bar, "p", may_be_missing=True), "Pressures", required=False),
    table("rows", [quantity("x", mm, "x", required=False), words("w", "w", required=False)], "Rows", required=False),
    quantity("usual", mm, "Usual", default="1.2345 mm"),
)


def readings(**typed):
    values = {f.name: None if (raw := typed.get(f.name, f.default)) is None else f.read(raw) for f in READ.declared}
    return Readings(READ(values, typed))


@pytest.mark.parametrize(
    ("typed", "value", "unit", "more", "place"),
    [
        # nothing typed: as declared
        ({}, 12.3456e-3, MM, (4,), (-2, -2)), ({}, 12e-3, MM, (4,), (-2, 0)), ({}, 12e-3, MM, (2,), (0, 0)), ({}, (0.7 - 0.6) * 1e-3, MM, (4,), (-4, 0)), ({}, 0.0, MM, (4,), (0, 0)), ({}, math.inf, MM, (4,), (0, 0)),
        # one that equals a reading
        ({"height": "0.10 mm"}, 0.1e-3, MM, (4,), (-2, -2)), ({"height": "0.10 mm"}, 0.1e-3, M, (4,), (-5, -5)), ({"height": "2 in"}, 50.8e-3, MM, (4,), (-1, -1)), ({"height": "1/16 in"}, 1.5875e-3, MM, (4,), (-2, -2)),
        ({"warm": "20.0 °C"}, 293.15, DEGC, (4,), (-1, -1)), ({"warm": "0 °C"}, 273.15, DEGC, (4,), (0, 0)), ({"share": "0.5"}, 0.5, ONE, (4,), (-1, -1)), ({"height": "1.0–2.0 mm"}, 2e-3, MM, (4,), (-1, -1)),
        ({"rows": [{"x": "1.00 mm"}, {"x": "1.0 mm"}]}, 1e-3, MM, (4,), (-2, -2)), ({"height": "100 mm ± 5 %"}, 95e-3, MM, (4,), (0, 0)), ({"height": "100 mm ± 0.1 %"}, 99.9e-3, MM, (4,), (-1, -1)),
        # with an uncertainty
        ({}, 12.3456e-3, MM, (4, 0.2e-3), (-1, -1)), ({}, 12.3456e-3, MM, (4, 0.21e-3), (-2, -2)), ({"height": "0.10 mm"}, 12.3456e-3, MM, (4, 0.5e-3), (-1, -1)),
        # of its own kind
        ({"height": "12.34 mm"}, 23.4567e-3, MM, (4,), (-2, -2)), ({"height": "12.34 mm"}, 23.455e-3, MM, (4,), (-3, -2)), ({"height": "5 mm"}, 23.4567e-3, MM, (4,), (0, 0)), ({"height": "5 mm"}, 3.4567e-3, MM, (4,), (-1, 0)),
        ({"height": "5 mm"}, 23.5e-3, MM, (4,), (-1, 0)), ({"height": "2.0 mm"}, 20.04e-3, MM, (4,), (-1, -1)), ({"height": "2.0 mm"}, 20e-3, MM, (4,), (-2, -1)), ({"height": "1.900 mm"}, 20.044e-3, MM, (4,), (-1, -1)),
        ({"rows": [{"x": "10 mm"}, {"x": "9.00 mm"}]}, 23.4567e-3, MM, (4,), (-2, -2)), ({"pressures": "12.4 bar; -; 9.12 bar"}, 5.4321e5, BAR, (4,), (-2, -2)),
        # of no kind of its own: three digits at most
        ({"height": "12.34 mm"}, 5.4321e3, KN, (4,), (-2, -2)), ({"height": "12.34 mm"}, 5.4321e3, KN, (2,), (-1, -1)), ({"height": "12.34 mm"}, 5.4e3, KN, (4,), (-2, 0)), ({"height": "12.34 mm"}, 0.54321, PCT, (4,), (-1, -1)),
        ({"share": "0.54"}, 0.123456, PCT, (4,), (-1, -1)), ({"height": "12.34 mm"}, 1.2e-9, M, (4,), (-10, -5)),
        ({"height": "10.00000000000000 mm"}, 12.3456e-3, MM, (4,), (-12, -11)),
    ],
)  # fmt: skip
def test_where_a_value_ends(typed, value, unit, more, place):
    assert tuple(readings(**typed).place(value, unit, *more)) == place


def test_a_long_list_is_looked_at_up_to_its_two_hundredth_reading():
    def place(many):
        listed = ["10 bar"] * many + ["10.00 bar"]
        return [readings(pressures=listed).place(x * 1e5, BAR, 4).last for x in (10.0, 23.4567)]

    assert place(MOST_READINGS - 1) == [-2, -2]
    assert place(MOST_READINGS) == [0, 0]
    rows = [{"x": "10 mm"}] * MOST_READINGS + [{"x": "10.00 mm"}]
    assert readings(rows=rows).place(10e-3, MM, 4).last == 0


@pytest.mark.parametrize(
    ("half_width", "place", "shown"),
    [(3.54, -1, "3.5 mm"), (3.55, 0, "4 mm"), (3.56, 0, "4 mm"), (0.1, -1, "0.1 mm"), (0.11, -2, "0.11 mm"), (0.2, -1, "0.2 mm"), (1.96, 0, "2 mm"), (0.97, 0, "1 mm"), (35.6, 1, "40 mm"), (0.0124, -3, "0.012 mm"), (9.6, 1, "10 mm")],
)  # fmt: skip
def test_the_last_digit_of_an_uncertainty(half_width, place, shown):
    assert uncertain_place(half_width) == place
    assert spread_of(half_width * 1e-3, MM).shown == shown


@pytest.mark.parametrize("half_width", [0.0, -1.0, math.inf])
def test_an_uncertainty_that_has_no_digits(half_width):
    assert spread_of(half_width, MM) == Value(half_width, MM, "U", 1)
