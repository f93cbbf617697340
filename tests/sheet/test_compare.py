"""What differs between a record and what its inputs give today: each rule of the comparison at both of its sides."""

import copy
from types import SimpleNamespace

import pytest

from shoplib.core.former import Former
from shoplib.record.jobfile_record import COMPUTED_BY, versions
from shoplib.sheet import compare
from shoplib.sheet.compare import Difference, clip, findings_of, forget_words, older_than, rules_between, say
from shoplib.sheet.verdict import (
    EXIT_CODES,
    EXIT_NOT_COVERED,
    EXIT_UNREADABLE,
    EXIT_VERIFIED,
    Code,
    Part,
    State,
    Verdict,
    any_wrong,
    not_covered,
    not_verified,
    verified,
)

MINE = versions()


@pytest.fixture(autouse=True)
def versions_of_the_test(monkeypatch):
    """The rules changed in 2.0.0; this is 3.0.0."""
    monkeypatch.setattr(compare, "versions", lambda: MINE | {"shoplib": "3.0.0"})
    monkeypatch.setattr(compare, "RULES_CHANGED_IN", ("2.0.0",))


# ------------------------------------------------------------------------------ versions
@pytest.mark.parametrize(
    ("made", "changed"),
    [("1.9.9", "2.0.0"), ("2.0.0", ""), ("2.0.1", ""), ("3.0.0", ""), ("4.0.0", ""), ("", ""), ("2.0", ""),
     ("1.0.0.0", ""), ("1.0.12345", "")],
)  # fmt: skip
def test_the_rules_changed_after_that_version_and_not_after_this(made, changed):
    assert rules_between(made) == changed


def test_a_newer_program_that_judged_by_newer_rules(monkeypatch):
    monkeypatch.setattr(compare, "versions", lambda: {"shoplib": "1.0.0"})
    assert [rules_between(v) for v in ("2.0.0", "1.9.0", "3.0.0")] == ["2.0.0", "", "2.0.0"]
    monkeypatch.setattr(compare, "versions", lambda: {"shoplib": "unknown"})
    assert rules_between("2.0.0") == ""


def test_versions_are_compared_as_numbers():
    assert older_than("0.9.0", "0.10.0")
    assert not older_than("0.10.0", "0.10.0")
    assert not older_than("x", "0.10.0")
    assert not older_than("0.10.0", "x")


def test_only_what_calculates_decides_whether_a_program_is_the_same():
    mine = compare.versions()
    assert compare.same_calculation(mine)
    assert compare.same_calculation(mine | {"typst": "0"})
    assert not any(compare.same_calculation(mine | {name: "0"}) for name in COMPUTED_BY)
    assert not compare.same_calculation("text")


# ------------------------------------------------------------------------------ differences
def differences(there, here, tolerance=0.0):
    return list(compare._differences(there, here, tolerance))


@pytest.mark.parametrize(
    ("there", "here", "tolerance", "where"),
    [
        (1.0, 1.0, 0.0, None), (1.0, 1.0000001, 0.0, ""), (1.0, 1.0000001, 1e-6, None), (1.0, 1.00001, 1e-6, ""),
        (0.0, -0.0, 0.0, ""), (0.0, 0, 0.0, None), (0.0, -0.0, 1e-6, None), (0.0, 1e-301, 1e-6, None),
        (0.0, 1e-299, 1e-6, ""), (0.0, 1.02e-300, 1e-6, ""), (-0.0, 0.0, 0.0, ""), (-1.0, -1.0, 0.0, None), (1, 2, 1e-6, ""), (1.0, 1, 1e-6, None), (1.0, "1", 1e-6, ""), (1.0, None, 0.0, ""),
        ("a", "a", 0.0, None), ("a", "b", 1e-6, ""), ([1], [1, 2], 0.0, ""), ([1, 2], [1, 3], 0.0, "[2]"),
        ({"a": {"b": 1}}, {"a": {"b": 2}}, 0.0, "a.b"), ({"a": 1}, {}, 0.0, "a"), ({}, {"a": 1}, 0.0, "a"),
        ({"a": 1}, {}, 1e-6, None), ({}, {"a": 1}, 1e-6, None), ({"a": [1]}, {"a": [2]}, 1e-6, "a[1]"), ({}, [], 0.0, ""),
    ],
)  # fmt: skip
def test_where_two_records_differ(there, here, tolerance, where):
    assert [d.where for d in differences(there, here, tolerance)] == ([] if where is None else [where])


@pytest.mark.parametrize(
    ("path", "there", "here", "judged"),
    [
        ("entries[1].result.outcome", "pass", "fail", True),
        ("entries[1].result.checks[1].limit_source", compare.NAMED_BY_0_1_0[0], "", True),
        ("entries[1].result.checks[1].limit_source", "page 3", "", False),
        ("entries[1].result.results.a.value", "x", "y", True),
        ("entries[1].result.results.a.value", True, None, True),
        ("entries[1].result.results.a.value", "x", 1, False),
        ("entries[1].result.results.a.value", 1, "x", False),
        ("entries[1].inputs.a", "x", "y", False),
    ],
)
def test_what_the_rules_of_judging_decide(path, there, here, judged):
    assert compare._is_judged(path, there, here) is judged


def test_a_number_of_a_check_is_judged_and_has_the_number_of_its_result():
    there = {"entries": [{"a": 0}, {"checks": [{"margin": 1.0}], "results": {"x": 1.0}}], "other": [{"y": 1.0}]}
    here = {"entries": [{"a": 0}, {"checks": [{"margin": 2.0}], "results": {"x": 2.0}}], "other": [{"y": 2.0}]}
    assert differences(there, here, 1e-9) == [
        Difference("entries[2].checks[1].margin", 1.0, 2.0, True, 2), Difference("entries[2].results.x", 1.0, 2.0, False, 2),
        Difference("other[1].y", 1.0, 2.0, False, 0)]  # fmt: skip


# ------------------------------------------------------------------------------ findings
def record(program, **result):
    return {"program": program, "entries": [{"working": "measurement", "result": {"working": "measurement"} | result}]}


def codes(there, here):
    return [f.code for f in findings_of(copy.deepcopy(there), copy.deepcopy(here))]


OLD, NEW = MINE | {"shoplib": "1.0.0"}, MINE | {"shoplib": "2.5.0"}
FAIL, PASS = {"outcome": "fail"}, {"outcome": "pass"}


def test_the_same_program_must_say_the_same():
    same = MINE | {"shoplib": "3.0.0"}
    assert codes(record(same, **PASS), record(same, **PASS)) == [Code.RECALCULATED]
    assert codes(record(same, **PASS), record(same, **FAIL)) == [Code.CHANGED]
    assert codes(record(same, **PASS), record(None, **PASS)) == [Code.RECALCULATED]
    assert codes(record(same, a=1.0), record(same, a=1.0 + 1e-12)) == [Code.CHANGED]
    assert codes(record(same, a=1.0), record(same)) == [Code.CHANGED]


@pytest.mark.parametrize("tolerance", [0.0, 1e-9])
@pytest.mark.parametrize(
    ("there", "here", "same"),
    [
        (1.0, 1.0 + 1e-12, True), (1.0, 1.0 + 1e-8, False), (0.0, 3.2e-14, True), (2.2e-16, 0.0, True), (0.0, 1e-9, False),
        (1e-5, 1.00001e-5, True), (1e-5, 1.0001e-5, False), (-1e-15, 1e-15, True),
    ],
)  # fmt: skip
def test_the_last_digits_of_what_was_calculated_depend_on_the_processor(there, here, same, tolerance):
    told = differences({"result": {"results": {"a": there}}}, {"result": {"results": {"a": here}}}, tolerance)
    assert bool(told) is not same
    assert tolerance or differences({"inputs": {"a": there}}, {"inputs": {"a": here}})


@pytest.mark.parametrize(
    ("program", "there", "here", "code"),
    [
        (OLD, PASS, PASS, None),
        (OLD, PASS, FAIL, Code.RULES_CHANGED),
        (NEW, PASS, FAIL, Code.CHANGED),
        (OLD, PASS | {"calculation": 1}, FAIL | {"calculation": 1}, Code.CHANGED),
        (OLD, PASS | {"calculation": 1}, FAIL | {"calculation": 2}, Code.CALCULATION_CHANGED),
        (NEW, PASS | {"calculation": 1}, FAIL | {"calculation": 2}, Code.CALCULATION_CHANGED),
        (NEW, PASS | {"calculation": 2}, FAIL | {"calculation": 1}, Code.CHANGED),  # no older program has a newer one
        (MINE | {"shoplib": "4.0.0"}, PASS | {"calculation": 2}, FAIL | {"calculation": 1}, Code.CALCULATION_CHANGED),
        (MINE | {"shoplib": "4.0.0"}, PASS | {"calculation": 1}, FAIL | {"calculation": 2}, Code.CHANGED),
        (OLD, PASS | {"calculation": True}, FAIL | {"calculation": 2}, Code.RULES_CHANGED),
        (OLD, PASS | {"calculation": 1}, FAIL | {"calculation": "2"}, Code.RULES_CHANGED),
        (OLD, {"results": {"a": {"value": 1.0}}}, {"results": {"a": {"value": 2.0}}}, Code.CHANGED),
        (OLD, {"results": {"a": {"value": "x"}}}, {"results": {"a": {"value": "y"}}}, Code.RULES_CHANGED),
        (NEW, {"results": {"a": {"value": "x"}}}, {"results": {"a": {"value": "y"}}}, Code.CHANGED),
        (OLD, {"results": {"a": {"value": "x"}}}, {"results": {"a": {"value": "x"}}}, None),
        (OLD, {"cautions": ["x"], "version": 1}, {"cautions": ["y"], "version": 2}, None),
    ],
)
def test_a_difference_between_versions_is_altered_unless_the_rules_or_the_calculation_changed(
    program, there, here, code
):
    found = codes(record(program, **there), record(program, **here))
    assert found == [Code.OTHER_VERSION] + [code] * (code is not None)


def test_outside_the_results_a_raised_calculation_excuses_an_outcome_only():
    there, here = record(NEW, calculation=1), record(NEW, calculation=2)
    assert codes(there | PASS, here | FAIL) == [Code.OTHER_VERSION, Code.CALCULATION_CHANGED]
    assert codes(there | {"n": 1}, here | {"n": 2}) == [Code.OTHER_VERSION, Code.CHANGED]
    assert codes(there | PASS, record(NEW, calculation=1) | FAIL) == [Code.OTHER_VERSION, Code.CHANGED]
    assert codes(record(NEW) | PASS, record(NEW) | FAIL) == [Code.OTHER_VERSION, Code.CHANGED]


def test_an_entry_that_is_missing_today_leaves_the_others_compared():
    there = {"program": OLD, "entries": [{"result": PASS | {"checks": []}}] * 2, "n": 1}
    here = {"program": OLD, "entries": [{"result": PASS | {"checks": []}}], "n": 2}
    assert codes(there, here)[-1] == Code.CHANGED


def test_names_of_an_earlier_version_are_taken_as_they_are_now(monkeypatch):
    working = SimpleNamespace(name="new name", former=Former(results={"old": "new"}))
    monkeypatch.setattr(compare, "find", lambda name: working if name == "old name" else None)
    monkeypatch.setattr(compare, "present_name", lambda name: {"old name": "new name"}.get(name, name))
    one = {"entries": [{"working": name, "result": {"working": name, "results": {"old": 1, "other": 2}}}
                       for name in ("old name", "no such name")]}  # fmt: skip
    compare.take_present_names(one)
    assert [(e["working"], e["result"]["working"], list(e["result"]["results"])) for e in one["entries"]] == [
        ("new name", "new name", ["new", "other"]), ("no such name", "no such name", ["old", "other"])]  # fmt: skip


@pytest.mark.parametrize(
    ("there", "here", "taken"),
    [("was", "is", True), ("other", "is", False), ("was", "other", False), ("was", None, False), (None, "is", False)],
)
def test_words_that_a_check_found_are_taken_as_they_are_now(there, here, taken):
    former = Former(sources={"old source": ("new source",)}, found=lambda now: {"is": ("was",)}.get(now, ()))
    check, partner = {"limit_source": "old source", "found": {"value": there}}, {"found": {"value": here}}
    compare._take_present_words(check, partner, former)
    assert check == {"limit_source": "new source", "found": {"value": here if taken else there}}
    for other in ({"limit_source": None, "found": None}, {"limit_source": 5, "found": {"value": "was"}}):
        as_before = copy.deepcopy(other)
        compare._take_present_words(other, {"found": "no table"}, former)
        compare._take_present_words(other, partner, Former())
        assert other == as_before


def test_results_in_words_are_compared_once_and_taken_out():
    def results(value, unit=None):
        return {"entries": [{"result": {}}, {"result": {"results": {"a": {"value": value, "unit": unit}}}}]}

    for there, here, taken in [
        ("x", "y", True), (["x"], ["y"], True), ([], ["y"], True), (1, "y", False), (1.5, 2.5, False),
        ([{"b": 1}], [{"b": 2}], False), (None, "y", True),
    ]:  # fmt: skip
        a, b = results(there), results(here)
        found = list(compare._in_words(a, b))
        assert found == ([Difference("result 2, a", there, here, True, 2)] if taken else [])
        assert bool(a["entries"][1]["result"]["results"]) is not taken
    assert list(compare._in_words(results("x", "mm"), results("y", "mm"))) == []
    assert list(compare._in_words(results("x"), results("x"))) == []
    bare = {"entries": [{"result": {"results": {"a": 5}}}]}
    assert list(compare._in_words(bare, copy.deepcopy(bare) | {"entries": [*bare["entries"], {}]})) == []


def test_words_are_forgotten_and_numbers_are_not():
    one = record(OLD, version=1, calculation=1, cautions=[], assumptions=[], outcome="pass",
                 inputs={"a": {"as_entered": "1", "si": 1.0}}, checks=[{"label": "x", "remark": "r", "comparison": "≤", "outcome": "pass"}])  # fmt: skip
    one["open"] = ["x"]
    forget_words(one)
    assert one == record(OLD, outcome="pass", inputs={"a": {"si": 1.0}}, checks=[{"outcome": "pass"}])


# ------------------------------------------------------------------------------ checks
def paired(there, here):
    a, b = ({"entries": [{"result": {"checks": [{"label": x} for x in labels]}}]} for labels in (there, here))
    unknown = compare.pair_checks(a, b)
    left = [[c["label"] for c in r["entries"][0]["result"]["checks"]] for r in (a, b)]
    return unknown, *left


@pytest.mark.parametrize(
    ("there", "here", "found"),
    [
        ("ab", "ba", ([], ["a", "b"], ["a", "b"])),
        ("ab", "ac", ([], ["a", "b"], ["a", "c"])),  # equally many without a partner: in their order
        ("abc", "a", (["b", "c"], ["a"], ["a"])),
        ("a", "bac", ([], ["a"], ["a"])),
        ("aab", "aa", (["b"], ["a", "a"], ["a", "a"])),
        (["line 0.10"], ["line 0.1"], ([], ["line 0.10"], ["line 0.1"])),
    ],
)
def test_checks_are_paired_by_their_labels(there, here, found):
    assert paired(there, here) == found


def test_what_is_no_list_of_checks_is_left_alone():
    for checks in (None, "text", [1], [{}, 1]):
        a, b = {"worked": [{"result": {"checks": checks}}]}, {"worked": [{"result": {"checks": [{"label": "x"}]}}]}
        assert compare.pair_checks(copy.deepcopy(a), copy.deepcopy(b)) == compare.pair_checks(b, a) == []


# ------------------------------------------------------------------------------ words
def test_values_are_short_enough_for_a_line():
    assert clip("x" * 78) == '"' + "x" * 78 + '"'
    assert clip("x" * 79) == '"' + "x" * 79 + "…"
    assert clip("é") == '"\\u00e9"'
    assert say("text") == "nothing said"
    assert say({str(k): "x" * 70 for k in range(9)}) == ", ".join(f"{k} " + "x" * 58 for k in range(8))


# ------------------------------------------------------------------------------ the verdict
FULL = tuple(verified(p, Code.RECALCULATED) for p in Part)


def test_a_part_is_as_bad_as_its_worst_finding():
    for part in Part:
        rest = tuple(f for f in FULL if f.part is not part)
        assert Verdict(FULL).state(part) is State.VERIFIED
        assert Verdict((*FULL, not_covered(part, Code.TEXT_ONLY))).state(part) is State.NOT_COVERED
        wrong = Verdict((*FULL, not_covered(part, Code.TEXT_ONLY), not_verified(part, Code.NOT_HELD)))
        assert wrong.state(part) is State.NOT_VERIFIED
        assert (wrong.verified, wrong.exit_code) == (False, EXIT_CODES[part])
        assert any_wrong(wrong.findings)
        assert wrong.problems == (not_verified(part, Code.NOT_HELD).words,)
        assert part in wrong.headline
        for missing in (Verdict(rest), Verdict((*rest, not_covered(part, Code.TEXT_ONLY, made="1")))):
            assert (missing.state(part), missing.verified) == (State.NOT_COVERED, False)
            assert (missing.exit_code, any_wrong(missing.findings)) == (EXIT_NOT_COVERED, False)
            assert missing.headline == f"nothing wrong was found, but not covered: {part}"
        there_is_none = Verdict((*rest, not_covered(part, Code.NO_SIGNATURE)))
        assert (there_is_none.verified, there_is_none.exit_code) == (True, EXIT_VERIFIED)
    assert Verdict(FULL).headline == "verified"


def test_the_exit_code_is_that_of_the_first_part_that_is_wrong():
    wrong = [not_verified(p, Code.NOT_HELD) for p in reversed(Part)]
    assert Verdict(tuple(wrong)).exit_code == EXIT_CODES[Part.RECORD]
    assert sorted({EXIT_VERIFIED, EXIT_UNREADABLE, *EXIT_CODES.values(), EXIT_NOT_COVERED}) == list(range(8))


def test_what_decided_comes_first_and_only_that_when_it_is_wrong():
    found = (*FULL, verified(Part.CHAIN, Code.HOLDS, line="3"), not_covered(Part.CHAIN, Code.NOT_LOOKED_AT),
             verified(Part.PAGES, Code.SAME_BYTES), not_verified(Part.PAGES, Code.OTHER_PAGES))  # fmt: skip
    lines = Verdict(found).as_lines()
    words = {
        c: not_covered(Part.CHAIN, c, line="3").words
        for c in (Code.RECALCULATED, Code.HOLDS, Code.NOT_LOOKED_AT, Code.OTHER_PAGES)
    }
    at = lines.index(f"chain: not covered, {words[Code.NOT_LOOKED_AT]}")
    assert lines[at + 1 : at + 3] == [f"    {words[Code.RECALCULATED]}", f"    {words[Code.HOLDS]}"]
    at = lines.index(f"pages: NOT verified, {words[Code.OTHER_PAGES]}")
    assert not lines[at + 1].startswith(" ")
    assert lines[-1] == Verdict(found).headline == "NOT verified: pages"
    assert len(Verdict(found).notes) == len(found) - 1
