"""Rules of core at both of their sides, where nothing else reaches them."""

import datetime

import pytest

from shoplib.core import formula, tightening_program
from shoplib.core.dates import MONTHS, read_date
from shoplib.core.errors import BadInput
from shoplib.core.progress import Progress
from shoplib.core.tightening_program import LONGEST_PROGRAMME, read_stage, read_stages
from shoplib.core.typed_text import LONGEST_TEXT
from shoplib.core.units import Unreadable
from shoplib.topics import get


# ------------------------------------------------------------------------------ dates
@pytest.mark.parametrize(
    ("typed", "iso"),
    [
        ("2026-11-25", "2026-11-25"), ("28 Nov 2026", "2026-11-28"), ("28. November, 2026", "2026-11-28"), ("1 may 2026", "2026-05-01"),
        (datetime.date(2026, 1, 2), "2026-01-02"), (datetime.datetime(2026, 1, 2, 3, 4), "2026-01-02T03:04:00"),
        ("3/4/2026", None), ("25/12/26", None), ("12/25/2026", None), ("30 Feb 2026", None), ("28 No 2026", None), ("28 Novem 2026", None),
        ("32/13/2026", None), ("x", None), (5, None),
    ],
)  # fmt: skip
def test_dates(typed, iso):
    if iso is None:
        with pytest.raises(Unreadable):
            read_date(typed)
    else:
        assert read_date(typed) == iso


def test_possible_dates_are_offered():
    def offered(typed):
        with pytest.raises(Unreadable) as error:
            read_date(typed)
        return str(error.value).partition("Type ")[2]

    assert offered("3/4/2026") == "2026-04-03 or 2026-03-04"
    assert offered("3.3.26") == "2026-03-03"
    assert offered("25-12-2026") == "2026-12-25"
    assert offered("12-25-99") == "2099-12-25"
    assert [read_date(f"1 {m} 2026") for m in MONTHS] == [f"2026-{n:02}-01" for n in range(1, 13)]


# ------------------------------------------------------------------------------ stages
@pytest.mark.parametrize(
    ("typed", "kind", "shown", "band"),
    [
        ("40 N*m", "torque", "40 N·m", False), ("37–43 N*m", "torque", "37–43 N·m", True), ("50 N*m ±4 %", "torque", "48–52 N·m", True),
        ("+90 deg", "angle", "+90°", False), ("90 deg", "angle", "+90°", False), ("+85–95 deg", "angle", "+85–95°", True),
        ("+1/4 turn", "angle", "+90°", False), ("loosen", "loosen", "loosen", False), ("loosen 360 deg", "loosen", "loosen 360°", False),
        ("Loosen by 90 deg", "loosen", "loosen 90°", False), ("repeat 30 N*m", "repeat", "repeat 30 N·m", False),
        ("verify 30 N*m", "repeat", "repeat 30 N·m", False), ("check >= 60 N*m", "check", "check ≥ 60 N·m", False),
        ("check at least 60 N*m", "check", "check ≥ 60 N·m", False), ("check min 60 N*m", "check", "check ≥ 60 N·m", False),
        ("check minimum 60 N*m", "check", "check ≥ 60 N·m", False), ("check 60 N*m", "check", "check ≥ 60 N·m", False),
        ("wait 10 min", "wait", "wait 10 min", False), ("0 deg", "angle", "+0°", False),
    ],
)  # fmt: skip
def test_stages_as_people_read_them(typed, kind, shown, band):
    stage = read_stage(typed)
    assert (stage.kind, stage.shown, stage.is_band) == (kind, shown, band)


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("check <= 60 N*m", "is not a minimum"), ("repeat", "does not give an amount"), ("+40 N*m", "adds a torque"), ("-40 N*m", "is negative"),
        ("-90 deg", "to turn back type loosen 90°"), ("0 N*m", "is zero"), ("0 min", "is a time"), ("wait 0 min", "is zero"),
        ("0–40 N*m", "includes zero"), ("repeat 0–40 N*m", "includes zero"), ("hello", "is not a stage"), ("40", "has no unit"),
        ("loosen 40 N*m", None), ("40 mm", "torque or an angle"), ("", None), (5, None),
    ],
)  # fmt: skip
def test_stages_that_are_refused(typed, words):
    with pytest.raises(Unreadable, match=words):
        read_stage(typed)


def test_groups_orders_and_the_unit_of_the_wrench():
    stage = read_stage("30 lbf*ft group long order 4, 2 1 3")
    assert (stage.group, stage.order, stage.wrench_unit.text) == ("long", ("4", "2", "1", "3"), "lbf·ft")
    assert (read_stage("30 N*m order 1 2").order, read_stage("30 N*m group a b").group) == (("1", "2"), "a b")
    assert read_stage("30 N*m").wrench_unit is tightening_program.TORQUE
    assert read_stage("30 lbf*ft").shown_in(stage.wrench_unit) == "30 lbf·ft"


def test_the_longest_programme():
    stages, wrong = read_stages(["40 N*m"] * LONGEST_PROGRAMME)
    assert (len(stages), wrong) == (LONGEST_PROGRAMME, [])
    assert read_stages(["40 N*m"] * (LONGEST_PROGRAMME + 1))[1][0][0] == LONGEST_PROGRAMME + 1
    assert [n for n, _ in read_stages(["x", "40 N*m", "y"])[1]] == [1, 3]


# ------------------------------------------------------------------------------ progress, formulas, values that give nothing
@pytest.mark.parametrize(
    ("done", "total", "share", "shown"),
    [
        (0, 4, 0.0, "0 %"),
        (1, 4, 0.25, "25 %"),
        (5, 4, 1.0, "100 %"),
        (-1, 4, 0.0, "0 %"),
        (1, 0, 0.0, "0 %"),
        (0.25, 0.5, 0.5, "50 %"),
        (1, 3, 1 / 3, "33 %"),
    ],
)
def test_the_share_that_is_done(done, total, share, shown):
    assert (Progress(done, total).share, str(Progress(done, total))) == (share, shown)
    assert str(Progress(done, total, "bolts drawn")) == f"{shown} bolts drawn"


@pytest.mark.parametrize(
    ("node", "digit"),
    [({"t": "num"}, True), ({"t": "name"}, False), ({"t": "row", "c": []}, False), ({"t": "row", "c": [{"t": "num"}, {"t": "name"}]}, True),
     ({"t": "row", "c": [{"t": "name"}, {"t": "num"}]}, False), ({"t": "att", "a": {"t": "num"}}, True), ({"t": "att", "a": {"t": "name"}}, False)],
)  # fmt: skip
def test_whether_a_part_of_a_formula_starts_with_a_digit(node, digit):
    assert formula._starts_with_digit(node) is digit


def test_a_text_is_at_most_so_long():
    measurement = get("measurement")
    measurement(what="x" * 80, where="b", value="1 mm")
    with pytest.raises(BadInput):
        measurement(what="x" * (LONGEST_TEXT + 1), where="b", value="1 mm")
