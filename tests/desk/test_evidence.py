"""The evidence page: its tables are those of this package, and what it says of them is so."""

import csv
import json

import numpy as np
import pytest

from shoplib.core import evidence as core_evidence
from shoplib.desk.widgets.evidence import Checks, Evidence, found_html
from tests import evidence
from tests.published.published import FOLDER, MARKS, Compared, assert_disagrees, assert_printed

FORMULAS, CHECKS = core_evidence.table("formulas"), core_evidence.table("checks")
STALE = f"the evidence is out of date; type  {evidence.COMMAND}"


# ------------------------------------------------------------------------------ what is committed
def test_every_formula_stands_in_the_table_as_it_stands_in_the_code():
    shipped = evidence.formulas()
    assert [f["formula"] for f in FORMULAS] == sorted(shipped), STALE
    for row in FORMULAS:
        described = evidence.described(shipped[row["formula"]])
        assert {k: row[k] for k in described} == described, f"{row['formula']}: {STALE}"


def test_how_a_formula_stands_follows_from_the_comparisons():
    assert evidence.formula_rows(CHECKS) == FORMULAS, STALE


def test_a_changed_constant_is_seen(monkeypatch):
    fn = evidence.formulas()["threads.pitch_diameter"]
    lines = list(evidence.steps(fn))
    symbol, expression, unit = lines[-1]
    changed = evidence.ast.parse(evidence.ast.unparse(expression).replace("0.649519", "0.65"), mode="eval").body
    monkeypatch.setattr(evidence, "steps", lambda f: [(symbol, changed, unit)])
    assert evidence.described(fn)["equation"] not in {f["equation"] for f in FORMULAS}


def read_csv(name):
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_printed_values_are_those_of_the_sources_tables():
    """A value changed in a source's CSV, or a row moved, is seen without running the tests that read it."""
    tables = {c["file"] for c in CHECKS} - {""}
    assert tables <= {p.stem for p in FOLDER.glob("*.csv")}
    read = {name: read_csv(name) for name in tables}
    for c in CHECKS:
        if c["file"]:
            row = read[c["file"]][int(c["line"]) - 2]
            assert (c["source"], c["mark"]) == (row["source"], row["mark"]), f"{c['check']}: {STALE}"
            if c["tolerance"] == "printed digits":
                assert c["printed"] in {part for cell in row.values() for part in cell.split()}, (
                    f"{c['check']}: {STALE}"
                )


def test_nearly_every_row_of_the_sources_is_compared():
    """Rows that are readings, not results, are few and named here."""
    readings = {"moody_1955_readings"}
    compared = {(c["file"], c["line"]) for c in CHECKS}
    left = {
        (path.stem, n)
        for path in FOLDER.glob("*.csv")
        if path.stem not in readings
        for n, row in enumerate(read_csv(path.stem), 2)
        if (path.stem, str(n)) not in compared
    }
    pairs = {("torque_tools", n) for n, row in enumerate(read_csv("torque_tools"), 2) if row["kind"] == "pair"}
    beyond = {("aisc_pretension", 6)}  # for a strength that the formula of the other rows does not use
    assert left <= pairs | beyond, sorted(left - pairs - beyond)


def test_every_comparison_is_content_and_names_its_source():
    assert len({c["check"] for c in CHECKS}) == len(CHECKS)
    for c in CHECKS:
        assert c["source"] and c["what"] and c["mark"] in MARKS and c["agrees"] in ("yes", "stated"), c
        low, high = (float(c[k]) if c[k] else None for k in ("low", "high"))
        width = (high - low) if low is not None and high is not None else 0
        assert low is None or low - 1e-3 * width <= float(c["computed"]) + 1e-9 * abs(low), c
        assert high is None or float(c["computed"]) <= high + 1e-3 * width + 1e-9 * abs(high), c
    assert set(MARKS) == set(core_evidence.MARKS)


def test_what_a_comparison_would_notice_lies_within_reach():
    known = {f["formula"] for f in FORMULAS}
    for c in CHECKS:
        answers = core_evidence.answers_for(c)
        assert answers.keys() <= known, STALE
        assert all(0 <= error <= core_evidence.NOTICED for error in answers.values())


def test_the_tables_are_as_described():
    whole = json.loads((core_evidence.FOLDER / "datapackage.json").read_text(encoding="utf-8"))
    assert (core_evidence.FOLDER / "datapackage.json").read_text(encoding="utf-8") == evidence.package()
    assert {r["path"] for r in whole["resources"]} == {p.name for p in core_evidence.FOLDER.glob("*.csv")}
    for resource in whole["resources"]:
        rows = core_evidence.table(resource["name"])
        fields = resource["schema"]["fields"]
        assert list(rows[0]) == [f["name"] for f in fields]
        for field in fields:
            if field["type"] == "number":
                assert "unit" in field
                for row in rows:
                    float(row[field["name"]] or "0")


# ------------------------------------------------------------------------------ how it is found out
def test_a_formula_is_made_wrong_by_one_per_cent_and_right_again():
    for fn in list(evidence.formulas().values())[::9]:
        names = list(fn.__code__.co_varnames[: fn.__code__.co_argcount])
        numbers = {k: 1.3 + 0.17 * n for n, k in enumerate(names)}
        with np.errstate(invalid="ignore"):
            right = fn(**numbers)
        if not np.isfinite(right):
            continue  # outside its range
        with evidence.made_wrong(fn):
            assert fn(**numbers) == pytest.approx(1.01 * right, rel=1e-12)
        assert fn(**numbers) == right


def compared(value, low, high, **more):
    about = {"tolerance": "printed digits", "what": "x", "unit": "", "source": "s", "mark": "read", "note": ""}
    return Compared(value, "20.1", low=low, high=high, file="", line=0, agrees=True, **about, **more)


def test_what_is_noticed_is_the_error_either_way():
    c = compared(20.12, 20.05, 20.15)
    # one per cent moves it by 0.2012; down it is 0.07 to the edge, up 0.03: the farther edge counts
    assert evidence.notices(c, 20.12 * 1.01) == pytest.approx(100 * 0.07 / 20.12)
    assert evidence.notices(c, 20.12) == evidence.math.inf  # does not move: says nothing of that formula
    assert evidence.notices(compared(30.0, 28.0, None), 30.3) == evidence.math.inf  # a requirement cannot


def test_part_of_the_tests_compares_part_of_the_table():
    one = next(c for c in CHECKS if c["test"] == "test_fasteners.test_inch_stress_areas")
    again = Compared(
        float(one["computed"]), one["printed"], one["tolerance"], float(one["low"]), float(one["high"]), one["what"],
        one["unit"], one["source"], one["mark"], one["note"], one["file"], int(one["line"]), True,
    )  # fmt: skip
    test = one["check"].rpartition(".")[0]
    assert evidence.differences({test: [again]}, whole=False) == []
    gone = evidence.differences({test: [again]}, whole=True)
    assert len(gone) == len(CHECKS) - 1 and all(g.endswith("is no longer compared") for g in gone)
    other = Compared(**{**vars(again), "value": again.value * 1.00001})
    assert evidence.differences({test: [other]}, whole=False)
    other = Compared(**{**vars(again), "printed": ".0319"})
    assert evidence.differences({test: [other]}, whole=False)


def test_a_stated_disagreement_must_disagree():
    with pytest.raises(AssertionError, match="agrees; say so"):
        assert_disagrees(39.1, "39", "39.9", 0.5)
    with pytest.raises(AssertionError, match=r"computed 39\.2"):
        assert_printed(39.2, "39.0")


# ------------------------------------------------------------------------------ the page
def test_formulas_without_an_independent_check_are_told_first():
    alone = {f["formula"] for f in FORMULAS if f["standing"] in ("none", "own")}
    said = core_evidence.unchecked()
    assert all(core_evidence.titled(f) in said for f in alone)
    order = [f["standing"] for f in core_evidence.found("")[0]]
    assert order == sorted(order, key=list(core_evidence.STANDINGS)[::-1].index)
    assert len(order) == len(FORMULAS)
    assert not alone & {f["formula"] for f in core_evidence.by_standing(*core_evidence.INDEPENDENT)}


def test_deviation_in_units_of_the_last_digit():
    check = {"printed": "20.1", "computed": "20.1234", "mark": "read"}
    assert core_evidence.computed(check) == "20.123"
    assert core_evidence.deviation(check) == "+0.2 of the last digit, +0.116 %"
    assert core_evidence.deviation({**check, "computed": "20.1000"}) == "0 of the last digit, 0 %"
    assert core_evidence.deviation({**check, "printed": "≥ 28"}) == "–"
    assert core_evidence.percent("0.00015") == "0.00015 %" and core_evidence.percent(3) == "3 %"


def test_disagreements_are_told_with_what_is_right():
    said = core_evidence.disagreements()
    for c in CHECKS:
        if c["agrees"] == "stated":
            assert c["what"] in said and c["source"] in said


def test_the_search_box():
    box = Evidence()
    assert f"{len(FORMULAS)} formulas" in box.shown.value
    box.box.value = "VDI tightening"
    assert "Tightening torque" in box.shown.value and "would notice" in box.shown.value
    box.box.value = "<script>alert(1)</script>"
    assert "<script" not in box.shown.value and "Nothing here contains" in box.shown.value
    assert "Moody" in found_html("moody")
    assert core_evidence.summary() in box._repr_mimebundle_()["text/plain"]


def test_every_comparison_is_on_the_page():
    page = Checks()._repr_html_()
    assert page.count("<tr><td>") == len(CHECKS)
    assert repr(Checks()).count("\n") + 1 == len(core_evidence.sources()) == page.count("<details>")
