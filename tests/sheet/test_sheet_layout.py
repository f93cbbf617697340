"""How the pages of a job are laid out: their number, the grid over a page break, maps without overlaps, no prompts."""

import functools
import io
import itertools
import re

import pypdf
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from shoplib.record.store import Store
from shoplib.sheet import job_sheet
from shoplib.sheet.formatting import on_paper
from shoplib.topics import get
from tests import big_job, prints
from tests.record_fixtures import HEADER, NOTES, NUMBER
from tests.sheet.sheet_parts import texts_of

PAPERS = ("a4", "letter")
MOST_DEMO, MOST_BIG = 10, 12  # pages


@pytest.fixture(scope="module")
def big(tmp_path_factory):
    """The pages of a job of 26 bolts with 40 measurements, by their paper."""
    with Store.open(tmp_path_factory.mktemp("big") / "jobs.db") as store:
        big_job.twenty_six_bolts(store)
        yield functools.cache(lambda paper: texts_of(job_sheet(store, NUMBER, paper=paper)))


@pytest.mark.parametrize("paper", PAPERS)
def test_the_invented_job_has_at_most_ten_pages(paper):
    pages = texts_of(prints.of_job(paper))
    assert len(pages) <= MOST_DEMO
    assert "Accepted: 2" in pages[0] and "Follow the maker" in pages[0], "page 1 is one page"
    assert "DATE" not in pages[0], "a signed record has no empty lines for signatures"
    assert "End of the sheet" in pages[-1]


@pytest.mark.parametrize("paper", PAPERS)
def test_twenty_six_bolts_and_forty_measurements_have_at_most_twelve(big, paper):
    assert len(big(paper)) <= MOST_BIG
    whole = "\n".join(big(paper))
    assert all(f"Deck height, point {n} rear" in whole for n in range(1, 11))


def headings_of(reader, outline=None, level=1):
    """The headings of a file in their order: level, page, distance from the lower edge of the page, words."""
    for x in reader.outline if outline is None else outline:
        if isinstance(x, list):
            yield from headings_of(reader, x, level + 1)
        else:
            yield level, reader.get_destination_page_number(x) + 1, float(x.top), str(x.title)


LEAST = 60  # points; less of an entry, alone on a page, is stranded
FOOT = 46  # points; the lower margin


def stranded(pdf):
    """What is cut off from the entry that it belongs to; each told in words."""
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    headings, found = list(headings_of(reader)), []
    for k, (level, page, top, words) in enumerate(headings):
        after = headings[k + 1] if k + 1 < len(headings) else (1, page, FOOT, "")
        if top < FOOT + 15:
            found.append(f"page {page}: the heading {words!r} ends it")
        if level != 4:
            continue
        whose = max(n for n in range(k) if headings[n][0] == 3)
        pieces = [h for h in headings[whose + 1 : k] if h[0] == 4]
        if words == "Results" and any(h[1] != page for h in pieces):
            found.append(f"page {page}: {words!r} without what was typed")
        alone = headings[whose][1] != page and all(h[1] != page for h in pieces) and after[0] < 4
        if alone and after[1] == page and top - after[2] < LEAST:
            found.append(f"page {page}: {words!r} of {headings[whose][3]!r} alone")
    for n, text in enumerate(texts_of(pdf), 1):
        lines = text.splitlines()
        heads = [(k, line) for k, line in enumerate(lines) if re.match(r"\d+ +\S.* · .* · 20\d\d-", line)]
        found += [f"page {n}: {above!r} above the head of its line" for k, head in heads for above in lines[:k]
                  if re.match(r"\d+ +\S", above) and head.startswith(above)]  # fmt: skip
        rows = re.findall(r"(?:✓|\d°).*(?:✓|\d°).*(?:✓|\d°)", text) if "STAGE 1" in lines[1] else ()
        found += [f"page {n}: one row of the bolts alone"] if len(rows) == 1 else []
    whole = [text.partition("The record, line by line")[0] for text in texts_of(pdf)]
    start = next((n for n, text in enumerate(whole) if "Appendix: workings" in text), len(whole))
    workings = [len(re.findall(r"^1\. ", text.partition("Appendix: workings")[2] or text, re.MULTILINE))
                for text in whole[start:]]  # fmt: skip
    found += [f"page {start + 1 + n}: one working alone" for n, count in enumerate(workings) if n and count == 1]
    return found


@pytest.mark.parametrize("paper", PAPERS)
def test_nothing_is_stranded(paper):
    assert stranded(prints.of_job(paper)) == []


@pytest.mark.parametrize("paper", PAPERS)
def test_the_head_of_a_page_is_cut_at_a_word(paper):
    heads = [page.splitlines()[0] for page in texts_of(prints.of_job(paper))[1:]]
    start, end = "SN 48213 · Diesel pump engine, built by the teaching workshop, type TB-14 … ", "Job 26-027 · issue B"
    assert all(head.startswith(start) and head.endswith(end) for head in heads)
    goes_on = [head.removeprefix(start).removesuffix(end) for head in heads]
    assert goes_on[0] == "", "this page begins with a section"
    assert "Measurements, continued · " in goes_on and all(re.fullmatch(r"(\S.*, continued · )?", x) for x in goes_on)


@pytest.mark.parametrize("paper", PAPERS)
def test_no_piece_of_an_entry_is_stranded(paper):
    """The short tables of the invented job are whole; what continues on another page has the number of its line."""
    pages = texts_of(prints.of_job(paper))
    for first, last in (
        ("battery isolated", "finding"),
        ("Litres missing", "Bleed: thermostat housing"),
        ("Deviation", "Peak"),
    ):
        assert sum(first in page and last in page for page in pages) == 1, (first, last)
    (steps,) = (page for page in pages if "Steps, as typed" in page)
    assert "Lock and strip" in steps or re.search(r"^5 +\S", steps, re.MULTILINE)
    (photograph,) = (page for page in pages if "the gasket burnt through here" in page and "SHA-256" in page)
    assert "Line 7, photograph for line 6" in photograph and re.search(r"6\s*Head face, as it came off", photograph)


@pytest.mark.parametrize("paper", PAPERS)
def test_a_grid_over_two_pages_repeats_its_head_and_splits_no_row(big, paper):
    pages = [page for page in big(paper) if page.count("to specification") >= 4]  # four stages in each row
    assert sum(page.count("to specification") for page in pages) >= 26 * 4 - 2
    assert all(page.count("to specification") % 4 in (0, 2, 3) for page in pages), "two cells show a deviation"
    assert pages and all("STAGE 1" in page and "STAGE 4" in page for page in pages)


@pytest.mark.parametrize("paper", PAPERS)
def test_no_prompt_of_the_screen_is_on_paper(big, paper):
    for page in [*big(paper), *texts_of(prints.of_job(paper))]:
        assert not re.search(r"[:;] (type|look up|choose) ", " ".join(page.split()))


def test_a_remark_loses_its_prompt_and_nothing_else():
    assert on_paper("the due date is not known: type it") == "the due date is not known"
    assert on_paper("a; type it, or each leaf; b") == "a; b"
    assert on_paper("the type of gasket: copper") == "the type of gasket: copper"


LAYOUTS = {
    "two rows of 15, close": [(x * 100, y * 110) for x, y in itertools.product(range(15), range(2))],
    "two rows of 13": [(x, y) for _, x, y in big_job.BOLTS],
    "three rows of 10": [(x * 70, y * 60) for x, y in itertools.product(range(10), range(3))],
    "two rows of 5": [(x * 90, y * 120) for x, y in itertools.product(range(5), range(2))],
    "zigzag of 30": [(x * 45, 60 * (x % 2)) for x in range(30)],
}


@pytest.mark.parametrize("layout", LAYOUTS)
def test_maps_have_no_overlaps_up_to_thirty_bolts(layout):
    """A name stands inside its ring; no badge lies on another badge or on the name of another bolt."""
    places = [{"name": str(k), "x": f"{x} mm", "y": f"{y} mm"} for k, (x, y) in enumerate(LAYOUTS[layout], 1)]
    result = get("tightening_order")(positions=places)
    figure = Figure(figsize=result.working.figure_size, layout="constrained")
    canvas = FigureCanvasAgg(figure)
    result.working.draw(figure)(result)
    canvas.draw()
    (ax,) = figure.axes

    def shown(kind):
        return [t for t in ax.texts if str(t.get_gid()).startswith(kind) and t.get_text()]

    names, badges = shown("n"), shown("o")
    assert [t.get_text() for t in names] == list(result.plot_data["order"])
    assert [t.get_text() for t in badges] == [str(k) for k in range(1, len(places) + 1)]
    (bolts,) = (line for line in ax.lines if line.get_gid() == "bolts")
    radius = bolts.get_markersize() / 2 * figure.dpi / 72
    middles = ax.transData.transform(bolts.get_xydata())
    for (x, y), name in zip(middles, names, strict=True):
        box = name.get_window_extent()
        assert max(x - box.x0, box.x1 - x, y - box.y0, box.y1 - y) < radius
    boxes = [t.get_bbox_patch().get_window_extent() for t in badges]
    inside = [t.get_window_extent() for t in names]
    assert not [(a, b) for a, b in itertools.combinations(boxes, 2) if a.overlaps(b)]
    assert not [(k, n) for k, a in enumerate(boxes) for n, b in enumerate(inside) if k != n and a.overlaps(b)]


def test_the_blank_sheet_is_as_long_as_the_engine_card_says(tmp_path):
    card = {"engine": "V8", "cylinders": "8", "stages": "20 N*m; 60 N*m; +90 deg", "stages_source": NOTES,
            "positions": [{"name": f"B{n}", "x": f"{x} mm", "y": f"{y} mm"} for n, x, y in big_job.BOLTS[:20]],
            "required_lines": "left; right; front; rear; one; two; three; four; five; six", "cap_rating": "110 kPa",
            "flatness_limit": "0.08 mm", "flatness_limit_source": NOTES}  # fmt: skip
    with Store.open(tmp_path / "jobs.db") as store:
        store.start(**HEADER)
        empty = "\n".join(texts_of(job_sheet(store, NUMBER, blank=True)))
        store.keep(NUMBER, get("engine_card")(card), **big_job.WHO)
        text = "\n".join(texts_of(job_sheet(store, NUMBER, blank=True)))
    assert "CYL. 8" in text and "CYL. 9" not in text and "STAGE 3" in text and "STAGE 4" not in text
    assert all(len(re.findall(rf"^B{n}\b", text, re.MULTILINE)) == 2 for n in range(1, 21)), "log, then tightening"
    assert "three" in text and "six" in text and "110 kPa" in text and "0.08 mm" in text
    parts = (
        "Lock and strip",
        "Findings",
        "Bolts, holes and threads",
        "Re-time",
        "Pressure hold",
        "ROOT CAUSE",
        "RE-TORQUE",
    )
    assert all(part in text and part in empty for part in parts)
    assert "STAGE 5" in empty and "CYL. 8" in empty
