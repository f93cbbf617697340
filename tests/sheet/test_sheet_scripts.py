"""Names in scripts that the fonts of a sheet lack: printed with added fonts, else as codes, and said."""

import os
import shutil
import subprocess
from pathlib import Path
from types import SimpleNamespace

import matplotlib
import pytest
from fontTools.ttLib import TTFont

from shoplib.desk.widgets.header_form import HeaderForm
from shoplib.record import extra_fonts
from shoplib.record.jobfile_record import versions
from shoplib.sheet import job_sheet
from shoplib.sheet.svg import printed
from shoplib.sheet.verdict import Code, Part, State
from shoplib.sheet.verify import verify
from tests.record_fixtures import NUMBER, clock, started
from tests.sheet.sheet_parts import words_of

NAME = "発動機"
INSIDE = {  # the fonts inside Typst have these
    "engine": "محرك الديزل", "complaint": "מנוע דיזל", "customer_ref": "इंजन", "workshop": "Κινητήρας",
    "checked_by": "Дизельный двигатель",
}  # fmt: skip
BY_NOTO = {  # engine: the font that Debian's fonts-noto-core and fonts-noto-cjk have for it
    "محرك الديزل": "NotoSansArabic-Regular.ttf", "מנוע דיזל": "NotoSansHebrew-Regular.ttf",
    "डीज़ल क्षत्रिय": "NotoSansDevanagari-Regular.ttf", "เครื่องยนต์ดีเซล": "NotoSansThai-Regular.ttf",
    "柴油发动机": "NotoSansCJK-Regular.ttc", "ディーゼル発動機": "NotoSansCJK-Regular.ttc", "디젤 엔진": "NotoSansCJK-Regular.ttc",
}  # fmt: skip
FONTS = Path(os.environ.get("SHOPLIB_TEST_FONTS", "/usr/share/fonts"))


@pytest.fixture
def fonts(tmp_path, monkeypatch):
    """A folder with a font that shows each character of NAME as another sign."""
    made = TTFont(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf")
    for table in made["cmap"].tables:
        table.cmap |= dict(zip(map(ord, NAME), "ABC", strict=True)) if table.isUnicode() else {}
    for named in made["name"].names:
        made["name"].setName(str(named).replace("DejaVu", "Other"), *(
            named.nameID, named.platformID, named.platEncID, named.langID))  # fmt: skip
    folder = tmp_path / "fonts"
    folder.mkdir()
    made.save(folder / "other.ttf")
    monkeypatch.setenv(extra_fonts.ENVIRONMENT, str(folder))
    return folder


@pytest.fixture
def latin(tmp_path):
    """A record without names in other scripts."""
    with started(tmp_path / "jobs.db", clock=clock("2026-11-25T09:00:00")) as opened:
        yield opened


@pytest.fixture
def store(tmp_path):
    with started(tmp_path / "jobs.db", clock=clock("2026-11-25T09:00:00")) as opened:
        opened.amend(NUMBER, engine=NAME, who="A. Learner")
        yield opened


def test_without_a_font_the_sheet_prints_codes_and_says_so(store):
    text = words_of(job_sheet(store, NUMBER))
    assert "‹U+767A›" in text and NAME not in text
    assert "Printed as codes" in text and extra_fonts.ENVIRONMENT in text
    assert "fonts" not in versions()


def test_an_added_font_prints_and_extracts_the_name(store, fonts, monkeypatch):
    pdf = job_sheet(store, NUMBER)
    text = words_of(pdf)
    assert NAME in text and "U+" not in text and "Printed as codes" not in text
    assert verify(pdf).verified
    assert verify(pdf).of(Part.PAGES)[0].code is Code.SAME_BYTES
    monkeypatch.delenv(extra_fonts.ENVIRONMENT)
    elsewhere = verify(pdf)
    assert elsewhere.state(Part.PAGES) is State.VERIFIED, "by its hash, not as an altered sheet"
    assert elsewhere.of(Part.PAGES)[0].code is Code.SAME_PAGES and not elsewhere.problems


def test_a_picture_shows_codes_in_place_of_boxes():
    """Both as text and as the label of a tick."""

    def picture(name):
        def paint(figure):
            ax = figure.subplots()
            ax.text(0.5, 0.5, name)
            ax.set_yticks([0.0, 1.0], [name, "left"])

        return printed((3.0, 2.0), paint)

    assert picture("王") == picture("‹U+738B›") != picture("‹U+738C›")


def test_scripts_of_the_fonts_inside_print_without_more_fonts(latin):
    latin.amend(NUMBER, who="A. Learner", **INSIDE)
    text = words_of(job_sheet(latin, NUMBER))
    assert "U+" not in text and "Printed as codes" not in text
    assert [name for name in INSIDE.values() if name.split()[0] not in text] == []


@pytest.mark.parametrize("name", BY_NOTO)
def test_a_shaped_script_prints_and_extracts_with_a_font_of_its_own(name, latin, tmp_path, monkeypatch):
    """Right-to-left, joined, stacked and wide scripts; the text is read by another program (Poppler)."""
    font = next(FONTS.rglob(BY_NOTO[name]), None)
    if font is None or shutil.which("pdftotext") is None:
        pytest.skip(
            f"{BY_NOTO[name]} or pdftotext is not here: apt-get install fonts-noto-core fonts-noto-cjk poppler-utils"
        )
    (tmp_path / "fonts").mkdir()
    (tmp_path / "fonts" / font.name).symlink_to(font)
    monkeypatch.setenv(extra_fonts.ENVIRONMENT, str(tmp_path / "fonts"))
    latin.amend(NUMBER, engine=name, who="A. Learner")
    sheet = tmp_path / "sheet.pdf"
    sheet.write_bytes(job_sheet(latin, NUMBER))
    command = ["pdftotext", "-enc", "UTF-8", "-l", "1", str(sheet), "-"]
    text = subprocess.run(command, capture_output=True, check=True).stdout.decode()
    assert name in text and "U+" not in text
    assert verify(sheet.read_bytes()).verified


def test_a_character_without_a_font_is_told_at_entry_with_its_field(fonts, monkeypatch):
    assert extra_fonts.warnings_of({"Engine": NAME, "Customer": "Grüße, Кузня"}) == [], "the added font has them"
    monkeypatch.delenv(extra_fonts.ENVIRONMENT)
    (told,) = extra_fonts.warnings_of({"Engine": NAME, "Customer": "Grüße, Кузня", "Remark": None, **INSIDE})
    assert told.startswith("Engine: ") and "‹U+767A›" in told and extra_fonts.ENVIRONMENT in told


def test_the_header_on_screen_tells_it(store):
    form = HeaderForm(SimpleNamespace(who="A. Learner", job=None))
    form.show(store.job(NUMBER))
    assert "Engine: no font here" in form.calibration.value and "‹U+767A›" in form.calibration.value
