"""Cautions: at most five on a form, each worded once, none twice on a sheet, and none that only sheets may say."""

import itertools
import re
import runpy

import comm
import ipywidgets
import pytest

from shoplib.core.working import GOVERNS, MOST_CAUTIONS
from shoplib.desk.widgets import form
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.fold import Fold
from shoplib.desk.widgets.glossary import GeneralCautions, general_cautions
from shoplib.sheet.entry_sheet import in_order
from shoplib.topics import all_workings, cautions

WORKINGS = all_workings()
ALL = list(dict.fromkeys(c for w in WORKINGS.values() for c in w.cautions))
LITTLE = frozenset(
    [
        "a",
        "an",
        "the",
        "of",
        "or",
        "and",
        "to",
        "in",
        "on",
        "at",
        "it",
        "its",
        "is",
        "are",
        "be",
        "not",
        "if",
        "you",
        "your",
        "with",
        "by",
        "for",
        "from",
        "do",
        "all",
        "as",
    ]
)


def told_words(caution):
    return set(re.findall(r"[a-z]+", caution.lower())) - LITTLE


@pytest.mark.parametrize("name", WORKINGS)
def test_at_most_five_on_a_form(name):
    assert len(WORKINGS[name].cautions) <= MOST_CAUTIONS
    assert GOVERNS in WORKINGS[name].cautions


def test_no_two_cautions_say_the_same():
    """Two thirds of the shorter one's words in the other: two wordings of one caution."""
    alike = [
        (a, b)
        for a, b in itertools.combinations(ALL, 2)
        if len(told_words(a) & told_words(b)) > 2 / 3 * min(len(told_words(a)), len(told_words(b)))
    ]
    assert not alike


def test_a_form_is_not_called_a_sheet():
    assert not [c for c in ALL if re.search(r"\bthis sheet\b", c)]


def test_what_these_inputs_ask_for_comes_first_and_five_are_shown():
    rows = [{"name": "1", "direction": "along", "goes": "0.03 mm", "no_go": "0.05 mm"}]
    result = WORKINGS["flatness_lines"](lines=rows)
    assert len(result.cautions) > MOST_CAUTIONS, "the case has more than are shown"
    assert len(result.labelled_cautions) == MOST_CAUTIONS
    assert any("Lines typed: 1." in c for c in result.labelled_cautions[:3])
    sheet = in_order([result, result, WORKINGS["flatness_lines"](lines=[*rows, rows[0] | {"name": "2"}])])
    assert sheet[0] == GOVERNS and len(sheet) == len(set(sheet))
    assert set(result.cautions) <= set(sheet), "a sheet drops none: those beyond five are its general cautions"


def test_the_page_of_general_cautions_has_every_caution_once():
    told = [c for group in general_cautions().values() for c in group]
    assert len(told) == len(set(told))
    assert set(ALL) | set(cautions.SHARED) == set(told)
    assert "&#39;" in GeneralCautions()._repr_html_() and "<script" not in GeneralCautions()._repr_html_()


def test_a_later_form_of_a_notebook_does_not_repeat_the_cautions_of_the_first(monkeypatch):
    """The first form is open at the top: it shows its cautions even while its boxes are empty."""
    monkeypatch.setattr(form, "_in_a_notebook", lambda: True)
    monkeypatch.setattr(form, "_first", [])
    first = form.Form("compression_test")
    second = form.Form("leak_down", readings="8 %; 9 %", escapes="none heard; none heard")
    shared = set(WORKINGS["compression_test"].cautions) & set(WORKINGS["leak_down"].cautions)
    own = set(WORKINGS["leak_down"].cautions) - shared
    assert GOVERNS in shared and own
    assert all(e(c) in first.notes.value for c in WORKINGS["compression_test"].cautions)
    assert all(e(c) in second.notes.value for c in own)
    assert not any(e(c) in second.notes.value for c in shared)
    assert "first form on this page" in second.notes.value
    again = form.Form("compression_test", readings="12 bar; 11 bar", rule="none", layout="1 2")
    assert all(e(c) in again.notes.value for c in again.result.labelled_cautions), "its cell was run again"
    Fold(again)
    third = form.Form("leak_down", readings="8 %; 9 %", escapes="none heard; none heard")
    assert all(e(c) in third.notes.value for c in third.result.labelled_cautions), "a folded form tells nobody"


def test_the_first_form_of_a_page_tells_its_cautions_in_a_kernel_from_the_reserve(monkeypatch):
    """Such a kernel has built a form already, which nobody saw."""
    monkeypatch.setattr(form, "_in_a_notebook", lambda: True)
    monkeypatch.setattr(form, "_first", [])
    monkeypatch.setattr(ipywidgets.Widget, "close_all", lambda: None)  # other tests have widgets
    opened = []
    monkeypatch.setattr(comm, "create_comm", lambda **named: opened.append(named) or comm.DummyComm(**named))
    runpy.run_module("shoplib.desk.warm_up")
    assert opened == [], (
        "JupyterLab hears of no widget that nobody sees: after a restart it would miss some, and say so"
    )
    first = form.Form("pressure_hold", start="100 kPa", end="97 kPa", minutes="15 min")
    assert GOVERNS in first.result.labelled_cautions
    assert all(e(c) in first.notes.value for c in first.result.labelled_cautions)
    assert "first form on this page" not in first.notes.value
