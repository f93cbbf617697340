"""What a screen reader and a search find in a sheet: headings, tables, pictures, the text itself; and the size of type."""

import io
import itertools
import re

import pypdf
import pytest

from shoplib.record import exchange
from shoplib.record.job_record import whole_record
from shoplib.sheet import typeset
from tests import whole_job

LEAST = 7.0  # points; formulas have smaller indices


@pytest.fixture(scope="module")
def sheets():
    """The invented job: the whole sheet, the customer's pages, and the blank sheet."""
    job, pictures = exchange.load(whole_job.FILE.read_bytes())
    records = {
        "whole": whole_record(job),
        "customer": whole_record(job, extent="customer"),
        "blank": whole_record(job, blank=True),
    }
    return {name: pypdf.PdfReader(io.BytesIO(typeset(record, pictures=pictures))) for name, record in records.items()}


KINDS = ("whole", "customer", "blank")


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
    assert levels[0] == 1 and levels.count(1) == 1 and len(levels) > 3
    assert all(b <= a + 1 for a, b in itertools.pairwise(levels))


@pytest.mark.parametrize("kind", KINDS)
def test_every_table_has_headings_and_none_is_empty(sheets, kind):
    tables = [n for s, n in elements(sheets[kind]) if s == "/Table"]
    assert tables or kind == "customer"
    for table in tables:
        heads = inside(table, "/TH")
        cells = inside(table, "/TD")
        assert cells
        if heads:
            assert all(h.get("/K") for h in heads), "a heading over icons says nothing to a screen reader"


@pytest.mark.parametrize("kind", KINDS)
def test_every_picture_has_words(sheets, kind):
    pictures = [n for s, n in elements(sheets[kind]) if s == "/Figure"]
    assert all(str(n.get("/Alt", "")).strip() for n in pictures)
    assert pictures or kind == "customer"


@pytest.mark.parametrize("kind", KINDS)
def test_no_type_is_smaller_than_seven_points(sheets, kind):
    small = set()

    def look(text, cm, tm, font, size):
        if not text.strip() or not font or "Math" in str(font.get("/BaseFont")):
            return
        height = abs(size * tm[3] * cm[3])
        if 0 < height < LEAST - 0.01:
            small.add((round(height, 1), text.strip()[:30]))

    for page in sheets[kind].pages:
        page.extract_text(visitor_text=look)
    assert not small


def test_ranges_and_labels_can_be_searched_as_printed(sheets):
    text = "\n".join(p.extract_text() for p in sheets["whole"].pages)
    for words in ("85–95°", "COMPLAINT", "104°", "0,06 mm", "24.1 bar; 17.2 bar; 23.6 bar", "2026-114"):
        assert words in text, words


def test_bookmarks_have_a_space_after_the_number_of_the_line(sheets):
    def titles(outline):
        for x in outline:
            yield from titles(x) if isinstance(x, list) else [x.title]

    found = list(titles(sheets["whole"].outline))
    assert any(re.match(r"2\s+Compression before the work", t) for t in found), found[:12]
