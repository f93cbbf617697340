"""Printed discs and cards: true scale measured in the PDF itself, marks where the programme puts them, one rounding."""

import io
import itertools
import math
import re

import numpy as np
import pypdf
import pytest

from shoplib.core.errors import BadInput
from shoplib.physics.torque_units import printed_pair
from shoplib.sheet.conversion_card import card_pdf
from shoplib.sheet.degree_disc import disc_pdf, page_of
from shoplib.sheet.standalone_page import PAPERS
from shoplib.topics.timing.degree_disc import DEGREE_DISC as DISC
from shoplib.topics.timing.pictures import disc_angle
from shoplib.topics.torque.conversion_card import CONVERSION_CARD as CARD

POINT = 25.4 / 72  # mm
PROGRAMME = "40 N*m; +90 deg; +85–95 deg; loosen 360 deg; 20 N*m; +1/4 turn"


# ------------------------------------------------------------------------------ reading the PDF's own geometry
def strokes(pdf):
    """Every straight stroke of the first page: (x1, y1, x2, y2) in mm, and its width in points; y upwards."""
    page = pypdf.PdfReader(io.BytesIO(pdf)).pages[0]
    stack, ctm, width = [], np.eye(3), 1.0
    path, found = [], []
    for operands, operator in pypdf.generic.ContentStream(page.get_contents(), page.pdf).operations:
        numbers = [float(x) for x in operands] if operator in (b"cm", b"m", b"l", b"w") else []
        if operator == b"q":
            stack.append((ctm, width))
        elif operator == b"Q":
            ctm, width = stack.pop()
        elif operator == b"cm":
            a, b, c, d, e, f = numbers
            ctm = np.array([[a, b, 0], [c, d, 0], [e, f, 1]]) @ ctm
        elif operator == b"w":
            width = numbers[0]
        elif operator in (b"m", b"l"):
            point = (np.array([*numbers, 1]) @ ctm)[:2] * POINT
            path = [point] if operator == b"m" else [*path, point]
        elif operator == b"S":
            found += [(*a, *b, width) for a, b in itertools.pairwise(path)]
            path = []
    return np.array(found)


def lengths(lines):
    return np.hypot(lines[:, 2] - lines[:, 0], lines[:, 3] - lines[:, 1])


def bearing(lines):
    """Degrees clockwise from the top of the paper, from the inner to the outer end."""
    return np.degrees(np.arctan2(lines[:, 2] - lines[:, 0], lines[:, 3] - lines[:, 1])) % 360


def ticks(pdf, R):
    """The scale's own lines, found by their ends on one circle."""
    lines = strokes(pdf)
    short = lines[np.isclose(lengths(lines), 0.10 * R, atol=1e-3) & (lines[:, 4] == 0.5)]
    middle = np.mean(short[:, 2:4], axis=0)  # the ten-degree lines lie evenly round the centre
    on_rim = np.isclose(np.hypot(*(lines[:, 2:4] - middle).T), R, atol=1e-3)
    return lines[on_rim & (lengths(lines) < 0.11 * R)], middle


@pytest.fixture(scope="module")
def a4():
    return disc_pdf({"stages": PROGRAMME, "start_mark": "TDC 1"})


def test_the_check_lines_are_100_mm(a4):
    lines = strokes(a4)
    hundred = lines[np.isclose(lengths(lines), 100.0, atol=1e-3)]
    assert len(hundred) == 2
    across = hundred[np.abs(hundred[:, 3] - hundred[:, 1]) < 1e-6]
    along = hundred[np.abs(hundred[:, 2] - hundred[:, 0]) < 1e-6]
    assert len(across) == len(along) == 1
    assert lengths(hundred) == pytest.approx([100.0, 100.0], abs=2e-4)


@pytest.mark.parametrize(
    ("paper", "diameter"), [("a4", 160), ("a4", 180), ("a4", 50), ("letter", 174), ("letter", 120)]
)
def test_the_scale_is_true(paper, diameter):
    pdf = disc_pdf({"diameter": f"{diameter} mm"}, paper=paper)
    R = diameter / 2
    scale, middle = ticks(pdf, R)
    # zero's own tick lies under the start line, which is drawn over it
    assert len(scale) == 360
    rim = np.hypot(*(scale[:, 2:4] - middle).T)
    assert rim == pytest.approx(np.full(360, R), abs=2e-4)
    at = np.sort(bearing(scale))
    assert np.minimum(at % 1, 1 - at % 1).max() < 0.002  # every line on a whole degree
    assert np.diff(np.round(at) % 360).max() == 1
    width, height = (float(x) * POINT for x in pypdf.PdfReader(io.BytesIO(pdf)).pages[0].mediabox[2:])
    assert (width, height) == pytest.approx(PAPERS[paper], abs=0.01)
    assert middle[0] == pytest.approx(width / 2, abs=0.01)
    # nothing of the disc or the check lines is cut off, and printers get their margin
    drawn = strokes(pdf)
    assert drawn[:, [0, 2]].min() > 7.5
    assert drawn[:, [0, 2]].max() < width - 7.5
    assert drawn[:, [1, 3]].min() > 7.5
    assert drawn[:, [1, 3]].max() < height - 7.5


def test_ninety_degrees_are_ninety_degrees(a4):
    scale, _ = ticks(a4, 80)
    ways = scale[:, 2:4] - scale[:, 0:2]
    for at in (0, 90, 180, 270):
        here = ways[np.argmin(np.abs((bearing(scale) - at + 180) % 360 - 180))]
        square = ways[np.argmin(np.abs((bearing(scale) - at - 90 + 180) % 360 - 180))]
        cosine = here @ square / np.linalg.norm(here) / np.linalg.norm(square)
        assert math.degrees(math.acos(cosine)) == pytest.approx(90, abs=0.005)


def test_all_on_one_page():
    for typed, paper in (({"stages": PROGRAMME, "diameter": "180 mm"}, "a4"), ({"diameter": "174 mm"}, "letter"),
                         ({"diameter": "174 mm", "stages": PROGRAMME}, "letter")):  # fmt: skip
        assert len(pypdf.PdfReader(io.BytesIO(disc_pdf(typed, paper=paper))).pages) == 1


def test_stages_lie_where_the_programme_puts_them(a4):
    lines, (_, middle) = strokes(a4), ticks(a4, 80)
    ends = lines[np.isclose(np.hypot(*(lines[:, 2:4] - middle).T), 82.5, atol=1e-3)]
    assert sorted(np.round(bearing(ends), 3)) == [90.0, 180.0]
    result = DISC(stages=PROGRAMME)
    marks = {
        r["stage"].value: [round(math.degrees(r[k].value), 9) for k in ("low", "at", "high")] for r in result["marks"]
    }
    assert marks == {2: [90, 90, 90], 3: [175, 180, 185], 6: [90, 90, 90]}


@pytest.mark.parametrize(
    ("direction", "mounted", "clockwise"),
    [
        ("clockwise", "stands still", True),
        ("anticlockwise", "stands still", False),
        ("clockwise", "turns with the shaft", False),
        ("anticlockwise", "turns with the shaft", True),
    ],
)
@pytest.mark.parametrize("start", [0, 37, -90])
def test_any_start_and_direction(direction, mounted, clockwise, start):
    typed = {"direction": direction, "mounted": mounted, "start_at": f"{start} deg", "stages": "+90 deg"}
    result = DISC(typed)
    assert math.degrees(disc_angle(result, math.radians(10))) == pytest.approx(start + (10 if clockwise else -10))
    pdf = disc_pdf(typed)
    lines, (_, middle) = strokes(pdf), ticks(pdf, 80)
    mark = lines[np.isclose(np.hypot(*(lines[:, 2:4] - middle).T), 82.5, atol=1e-3)]
    assert bearing(mark) == pytest.approx([(start + (90 if clockwise else -90)) % 360], abs=0.003)


def test_the_reading_grows_under_the_pointer():
    """Turn the shaft by 20°: whatever is mounted how, the pointer then shows 20."""
    for direction, turn in (("clockwise", 20.0), ("anticlockwise", -20.0)):
        still = DISC(direction=direction, mounted="stands still")
        assert math.degrees(disc_angle(still, math.radians(20))) == pytest.approx(turn)  # the pointer went there
        turning = DISC(direction=direction, mounted="turns with the shaft")
        place = math.degrees(disc_angle(turning, math.radians(20)))
        assert place + turn == pytest.approx(0)  # the disc brought that number to the fixed pointer


def test_numbers_round_and_both_ways():
    for numbering, wanted in (("0 to 360", [10, 180, 190, 350]), ("both ways to 180", [10, 180, 170, 10])):
        page = page_of(DISC(numbering=numbering), "a4")
        numbers = [int(t["text"]) for t in page["texts"] if t["kind"] == "number"]
        assert [numbers[k] for k in (0, 17, 18, 34)] == wanted


def test_what_it_says_of_itself(a4):
    text = " ".join(pypdf.PdfReader(io.BytesIO(a4)).pages[0].extract_text().split())
    for said in (
        "0.72°",
        "1.396 mm",
        "Print at 100 %",
        "each 100 mm",
        "maker's procedure",
        "If you feel any resistance other than compression, stop",
    ):
        assert said.replace("'", "’") in text or said in text, said
    # 1 mm off centre on a radius of 80 mm, by hand
    assert math.degrees(math.asin(1 / 80)) == pytest.approx(0.716, abs=5e-4)
    found = DISC(off_centre="1 mm", line_across="101 mm", line_along="100 mm")
    assert math.degrees(found["off_centre_error"]) == pytest.approx(0.7162, abs=5e-5)
    assert math.degrees(found["scale_error"]) == pytest.approx(math.degrees(math.asin(1 / 201)))
    assert any("print again" in c.lower() for c in found.cautions)


def test_the_same_disc_gives_the_same_bytes(a4):
    assert disc_pdf({"stages": PROGRAMME, "start_mark": "TDC 1"}) == a4


@pytest.mark.parametrize("mark", ["#panic()", "$x$", "<b>", "@ref", 'sys.inputs "\\'])
def test_a_typed_mark_is_never_markup(mark):
    text = pypdf.PdfReader(io.BytesIO(disc_pdf({"start_mark": mark}))).pages[0].extract_text()
    assert re.sub(r"\s", "", mark)[:3] in re.sub(r"\s", "", text)


def test_a_long_programme_stays_readable():
    result = DISC(stages="; ".join(["20 N*m; +90 deg"] * 12))
    page = page_of(result, "a4")
    (_, label) = (t for t in page["texts"] if t["kind"] == "name")
    assert label["text"].endswith("…") or len(label["text"]) < 60
    assert label["size"] >= 5
    assert len(page["stages"]) == 12
    assert disc_pdf(result)


def test_the_second_turn_is_named():
    result = DISC(stages="30 N*m; +270 deg; +180 deg")
    assert "turn 2" in DISC.alt(result) or any("turn 2" in t["text"] for t in page_of(result, "a4")["texts"])


def refused(make, typed, **options):
    with pytest.raises(BadInput) as caught:
        make(typed, **options)
    return {p.field for p in caught.value.problems}


@pytest.mark.parametrize(
    ("typed", "paper", "fields"),
    [
        ({"diameter": "190 mm"}, "a4", {"diameter"}),
        ({"diameter": "175 mm"}, "letter", {"diameter"}),
        ({}, "a5", {"paper"}),
        ({"hole": "150 mm"}, "a4", {"hole"}),
        ({"stages": "40 N*m; ninety"}, "a4", {"stages[2]"}),
        ({"start_mark": "the very position at which the lock pin goes in"}, "a4", {"start_mark"}),
        ({"off_centre": "60 mm"}, "a4", {"off_centre"}),
        ({"line_across": "100 mm"}, "a4", {"line_along"}),
        ({"diameter": "160", "hole": "20"}, "a4", {"diameter", "hole"}),
    ],
)
def test_disc_refuses(typed, paper, fields):
    assert refused(disc_pdf, typed, paper=paper) == fields


# ------------------------------------------------------------------------------ cards
def cells(result, name):
    return [r[name].value if r[name].unit is None else r[name].unit.from_si(r[name].value) for r in result["rows"]]


def test_each_pair_follows_the_one_rule():
    result = CARD(first="6 N*m", last="120 N*m", step="2 N*m")
    for row in result["rows"]:
        torque = row["lead"].value
        pair = re.search(r"\((\d+) (lbf·\w+)\)", printed_pair(torque))
        cell = row["lbf*ft"] if pair[2] == "lbf·ft" else row["lbf*in"]
        assert cell.unit.text == pair[2]
        assert round(cell.unit.from_si(cell.value)) == int(pair[1])
    # common practice, no source: 40 N·m is printed as 30 lbf·ft
    assert cells(CARD(first="40 N*m", last="41 N*m", step="1 N*m"), "lbf*ft")[0] == pytest.approx(30)
    assert cells(result, "lbf*ft")[:2] == ["—", "—"]  # 6 and 8 N·m: whole lbf·ft would be too coarse


def test_rounded_factors_are_not_used():
    # 8.85 lbf·in per N·m gives 88 for 10 N·m; the exact quotient gives 89
    assert cells(CARD(first="10 N*m", last="20 N*m", step="10 N*m"), "lbf*in")[0] == pytest.approx(89)


@pytest.mark.parametrize(("first", "last", "step", "ratio"), [("20 N*m", "40 N*m", "10 N*m", 1.3558179483314004),
                                                              ("20 lbf*ft", "40 lbf*ft", "10 lbf*ft", 0.7375621492772656),
                                                              ("60 in lb", "90 in lb", "10 in lb", 8.850745791327185)])  # fmt: skip
def test_the_misreading_is_on_the_card(first, last, step, ratio):
    result = CARD(first=first, last=last, step=step)
    assert result["misread_ratio"] == pytest.approx(ratio, rel=1e-12)
    for row in result["rows"]:
        meant = row["lead"].unit.from_si(row["lead"].value)
        assert row["misread"].unit.from_si(row["misread"].value) == pytest.approx(meant * ratio, abs=0.5)
    assert any("Read the unit twice" in c for c in result.cautions)


@pytest.mark.parametrize(
    ("typed", "column", "values"),
    [
        (
            {"kind": "length", "first": "0.0015 in", "last": "0.0025 in", "step": "0.0005 in"},
            "mm",
            [0.038, 0.051, 0.064],
        ),
        ({"kind": "length", "first": "0,05 mm", "last": "0,10 mm", "step": "0,05 mm"}, "thou", [2.0, 3.9]),
        ({"kind": "pressure", "first": "15 psi", "last": "16 psi", "step": "1 psi"}, "kPa", [103, 110]),
        ({"kind": "roughness", "first": "0.8 µm", "last": "1.6 µm", "step": "0.8 µm"}, "uin", [31, 63]),
    ],
)
def test_other_kinds(typed, column, values):
    assert cells(CARD(typed), column) == pytest.approx(values)


def test_the_card_prints_on_both_papers():
    typed = {"first": "20 N*m", "last": "120 N*m", "step": "2 N*m"}
    for paper, size in (("a4", PAPERS["a4"]), ("letter", PAPERS["letter"])):
        pages = pypdf.PdfReader(io.BytesIO(card_pdf(typed, paper=paper))).pages
        assert len(pages) == 1
        assert [float(x) * POINT for x in pages[0].mediabox[2:]] == pytest.approx(size, abs=0.01)
        text = pages[0].extract_text()
        assert "set in lbf·ft by mistake" in " ".join(text.split())
        assert "rounded to the last digit shown" in " ".join(text.split())
        for number in ("89", "163", "12.24"):
            assert number in text
    assert card_pdf(typed) == card_pdf(typed)


@pytest.mark.parametrize(
    ("typed", "fields"),
    [
        ({"first": "20", "last": "40 mm", "step": "5 N*m"}, {"first", "last"}),
        ({"first": "40 N*m", "last": "20 N*m", "step": "5 N*m"}, {"last"}),
        ({"first": "20 N*m", "last": "40 lbf*ft", "step": "5 N*m"}, {"step"}),
        ({"first": "20 N*m", "last": "40 N*m", "step": "0 N*m"}, {"step"}),
        ({"first": "20 N*m", "last": "400 N*m", "step": "1 N*m"}, {"step"}),
        ({"first": "0 N*m", "last": "40 N*m", "step": "5 N*m"}, {"first"}),
        ({"first": "2 kgf*cm", "last": "4 kgf*cm", "step": "1 kgf*cm"}, {"first"}),
        ({"kind": "speed", "first": "1 bar", "last": "2 bar", "step": "1 bar"}, {"kind"}),
    ],
)
def test_card_refuses(typed, fields):
    assert refused(card_pdf, typed) == fields
    assert refused(card_pdf, {"first": "20 N*m", "last": "40 N*m", "step": "5 N*m"}, paper="a5") == {"paper"}


# ------------------------------------------------------------------------------ the button in the notebook
def test_the_page_is_made_from_what_the_form_shows():
    import base64

    from shoplib.desk.widgets.form import Form
    from shoplib.desk.widgets.printing import PrintPage

    form = Form("degree_disc", start_mark="TDC 1", diameter="177 mm")
    printing = PrintPage(form, disc_pdf, "degree-disc.pdf")
    printing.button.click()
    code = re.search(r"base64,([A-Za-z0-9+/=]+)", printing.said.value)[1]
    assert base64.b64decode(code) == disc_pdf({"start_mark": "TDC 1", "diameter": "177 mm"})
    printing.paper.value = "Letter"
    assert printing.said.value == ""  # an old page beside new values would be believed
    printing.button.click()
    assert "does not fit letter; at most 174 mm" in printing.said.value
    form.entries["diameter"].box.value = "170"
    printing.button.click()
    assert "Correct the marked fields" in printing.said.value
    bundle = printing._repr_mimebundle_()
    assert "text/html" in (bundle[0] if isinstance(bundle, tuple) else bundle)
