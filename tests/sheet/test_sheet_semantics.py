"""What a screen reader and a search find in a sheet: headings, tables, pictures, the text itself; and the size of type."""

import io
import itertools
import math
import re

import pypdf
import pytest

from shoplib.record.job_record import whole_record
from shoplib.record.jobfile_record import make_record
from shoplib.sheet import typeset
from shoplib.sheet.job_pages import build_whole
from tests import prints
from tests.sheet.sheet_parts import words_of

ENTRY = {"working": "torque_units", "inputs": {"torque": "4 N*m"}}
LEAST = 7.0  # points; formulas have smaller indices


@pytest.fixture(scope="module")
def made():
    """Every kind of print, on A4."""
    return {name: make("a4") for name, make in prints.KINDS.items()}


@pytest.fixture(scope="module")
def sheets(made):
    """Every kind of print, on A4, read."""
    return {name: pypdf.PdfReader(io.BytesIO(pdf)) for name, pdf in made.items()}


KINDS = tuple(prints.KINDS)
IN_TABLES = {"job", "blank", "customer", "entry", "work order", "conversion card", "degree disc", "answer key"}


def elements(reader):
    """Every element of the structure in reading order: its type and itself."""
    found = []

    def walk(node):
        node = node.get_object()
        if isinstance(node, list):
            for x in node:
                walk(x)
        elif isinstance(node, dict):
            if "/S" in node:
                found.append((str(node["/S"]), node))
            if "/K" in node:
                walk(node["/K"])

    walk(reader.root_object["/StructTreeRoot"])
    return found


def inside(node, kind):
    """The elements of a kind below an element."""
    return [n for k, n in elements_of(node) if k == kind]


def elements_of(node):
    """The elements below an element."""
    found = []
    kids = node.get("/K", [])
    for kid in kids if isinstance(kids, list) else [kids]:
        kid = kid.get_object()
        if isinstance(kid, dict) and "/S" in kid:
            found += [(str(kid["/S"]), kid), *elements_of(kid)]
    return found


@pytest.mark.parametrize("kind", KINDS)
def test_headings_begin_with_the_title_and_skip_no_level(sheets, kind):
    levels = [int(s[2:]) for s, _ in elements(sheets[kind]) if re.fullmatch(r"/H[1-6]", s)]
    assert levels[0] == 1 and len(levels) > (3 if kind in ("job", "blank", "entry") else 0)
    assert levels.count(1) == (2 if kind == "class set" else 1), "one title, or one for each learner"
    assert all(b <= a + 1 for a, b in itertools.pairwise(levels))


def says_something(node):
    """Whether an element or one below it has content on a page."""
    kids = node.get("/K", [])
    return any(
        isinstance(k, int) or says_something(k.get_object()) for k in (kids if isinstance(kids, list) else [kids])
    )


def scope(cell):
    owners = cell.get("/A", [])
    return next((str(a["/Scope"]) for a in (x.get_object() for x in owners) if "/Scope" in a), "")


@pytest.mark.parametrize("kind", KINDS)
def test_tables_have_heads_of_columns_and_rows_and_none_is_empty(sheets, kind):
    tables = [n for s, n in elements(sheets[kind]) if s == "/Table"]
    headed = [t for t in tables if inside(t, "/THead")]
    assert bool(headed) == (kind in IN_TABLES)
    for table in headed:
        heads = inside(table, "/TH")
        assert all(says_something(h) for h in heads), "a head over icons says nothing to a screen reader"
        assert {scope(h) for h in inside(table, "/THead") for _, h in elements_of(h) if scope(h)} == {"/Column"}
        rows = [r for body in inside(table, "/TBody") for r in inside(body, "/TR")]
        firsts = [elements_of(r)[0] for r in rows]
        assert all((s, scope(c)) == ("/TH", "/Row") for s, c in firsts if says_something(c))


@pytest.mark.parametrize("kind", KINDS)
def test_every_picture_has_words(sheets, kind):
    pictures = [n for s, n in elements(sheets[kind]) if s == "/Figure"]
    assert all(str(n.get("/Alt", "")).strip() for n in pictures)
    assert pictures or kind not in ("job", "blank", "entry", "degree disc")


@pytest.mark.parametrize("kind", KINDS)
def test_no_type_is_smaller_than_seven_points(sheets, kind):
    small = set()

    def look(text, cm, tm, font, size):
        if not text.strip() or not font or "Math" in str(font.get("/BaseFont")):
            return
        height = abs(size * math.hypot(tm[2], tm[3]) * math.hypot(cm[2], cm[3]))  # also of turned text
        if 0 < height < LEAST - 0.01:
            small.add((round(height, 1), text.strip()[:30]))

    for page in sheets[kind].pages:
        page.extract_text(visitor_text=look)
    assert not small


def one_line(text):
    return re.sub(r"\s+", " ", text)


def printed(data):
    """The short texts with a number that the template gets for the pages: readings, ranges, limits, dates, settings."""
    not_printed = {"svg", "steps", "attached", "file", "alt", "paper", "field", "uid"}
    if isinstance(data, dict):
        return {x for k, v in data.items() if k not in not_printed for x in printed(v)}
    if isinstance(data, list | tuple):
        return {x for v in data for x in printed(v)}
    return {one_line(data)} if isinstance(data, str) and len(data) <= 30 and re.search(r"\d", data) else set()


def test_every_number_and_range_can_be_searched_as_printed(made):
    wanted = printed(build_whole(whole_record(prints.demo_job()[0])))
    text = one_line(words_of(made["job"]))
    assert len(wanted) > 300 and {"at least 75 %", "24.1 bar; 17.2 bar; 23.6 bar"} <= wanted
    assert not {x for x in wanted | {"85–95°", "0.06 mm", "2026-114"} if x not in text}


@pytest.mark.parametrize("kind", KINDS)
def test_labels_extract_as_words_and_nothing_invisible_is_between_letters(made, kind):
    text = words_of(made[kind])
    assert not re.search("[\u200b\u200c\u200d\u00ad\u2060\ufeff]", text)
    assert "COMPLAINT" in text or kind not in ("job", "customer", "blank", "entry")


def test_a_long_word_can_be_searched_where_its_line_does_not_break():
    long = "Zylinderkopfdichtungssatz-Regal7"  # more than 24 letters: it may break anywhere
    record = make_record(
        {"job": {"number": "1", "engine": long, "done_by": "A", "date": "2026-11-28"}, "entry": [ENTRY]}
    )
    assert long in words_of(typeset(record))


def test_bookmarks_are_readable(sheets):
    def titles(outline):
        for x in outline:
            yield from titles(x) if isinstance(x, list) else [x.title]

    found = list(titles(sheets["job"].outline))
    assert {"2 Compression before the work", "As found", "Notes, people and instruments", "Appendix: workings"} <= {
        one_line(t) for t in found
    }
    assert not [t for t in found if re.match(r"\d+[^\W\d]", t) or len(t) > 80]
