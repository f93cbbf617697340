"""Parts, reassembly, oil, run-up, recheck and the gas test.  Their rules are common practice, no source."""

import pytest

from shoplib.core.errors import BadInput
from shoplib.topics import get
from shoplib.topics.assembly import cold_recheck, reassembly_checks, run_up

LISTS = {"reassembly_checks": reassembly_checks.LIST, "run_up": run_up.LIST, "cold_recheck": cold_recheck.LIST}


def ticked(name, **changed):
    """Every check of the list with its good state; ``changed``: check → state."""
    of = LISTS[name]
    return {"checks": [{"check": x, "state": changed.get(x, of.good)} for x in of.items]}


def refused(name, typed):
    with pytest.raises(BadInput) as error:
        get(name)(typed)
    return {p.field for p in error.value.problems}


# ------------------------------------------------------------------------------ the lists of checks
@pytest.mark.parametrize("name", LISTS)
def test_a_list_passes_only_when_every_check_is_good(name):
    of, typed = LISTS[name], ticked(name)
    whole = get(name)(typed)
    assert str(whole.outcome) == "pass"
    assert whole["open_checks"] == []
    for k, item in enumerate(of.items):
        without = get(name)(checks=typed["checks"][:k] + typed["checks"][k + 1 :])
        assert (str(without.outcome), without["open_checks"]) == ("undecided", [item])
        blank = get(name)(checks=[r | {"state": ""} if r["check"] == item else r for r in typed["checks"]])
        assert str(blank.outcome) == "undecided"
        assert str(get(name)(ticked(name, **{item: of.bad})).outcome) == "fail"


@pytest.mark.parametrize("name", LISTS)
def test_not_applicable_needs_its_reason_and_is_no_pass_of_its_own(name):
    of = LISTS[name]
    typed = ticked(name)
    typed["checks"][0]["state"] = "not applicable"
    assert refused(name, typed) == {"checks[1].note"}
    typed["checks"][0]["note"] = "this engine has none"
    result = get(name)(typed)
    assert str(result.outcome) == "pass"
    assert len(result.checks) == len(of.items) - 1


@pytest.mark.parametrize("name", LISTS)
def test_a_check_is_listed_once_and_another_one_says_what_it_is(name):
    typed = ticked(name)
    assert refused(name, {"checks": [*typed["checks"], typed["checks"][0]]}) == {
        f"checks[{len(typed['checks']) + 1}].check"
    }
    more = {"check": "other", "state": LISTS[name].good}
    assert refused(name, {"checks": [more]}) == {"checks[1].note"}
    named = get(name)(checks=[more | {"note": "bracket"}, more | {"note": "heat shield"}])
    assert [c.label for c in named.checks][:2] == ["Bracket", "Heat shield"]


# ------------------------------------------------------------------------------ parts
@pytest.mark.parametrize(
    ("row", "outcome"),
    [
        ({"use": "new", "part_number": "HG-3", "batch": "2611"}, "pass"),
        ({"use": "new", "part_number": "HG-3"}, "undecided"),
        ({"use": "new", "batch": "2611"}, "undecided"),
        ({"part_number": "HG-3", "batch": "2611"}, "undecided"),
        ({"use": "re-used"}, "undecided"),
        ({"use": "re-used", "note": "length within the limit"}, "pass"),
    ],
)
def test_a_part_is_known_by_its_numbers_or_the_reason_for_its_reuse(row, outcome):
    assert str(get("parts_list")(parts=[{"part": "head gasket", **row}]).outcome) == outcome


# ------------------------------------------------------------------------------ oil
OIL = {"drained": "5,0 L", "appearance": "dark", "filter": "yes", "filled": "5.0 L; 0.4 L", "grade": "15W-40",
       "grade_source": "page 12", "level": "between the marks", "capacity": "5.5 L"}  # fmt: skip


def test_the_oil_is_added_up():
    result = get("oil_service")(OIL)
    assert [result[n] for n in ("filled", "drained", "difference", "against_capacity")] == pytest.approx(
        [5.4e-3, 5.0e-3, 0.4e-3, -0.1e-3]
    )
    assert str(result.outcome) == "pass"


def test_oil_that_was_not_measured_is_not_zero():
    result = get("oil_service")({k: v for k, v in OIL.items() if k != "drained"})
    assert result["drained"] is None
    assert result["difference"] is None


@pytest.mark.parametrize(
    ("changed", "outcome"),
    [
        ({"level": "below the lower mark"}, "fail"),
        ({"level": "above the upper mark"}, "fail"),
        ({"level": "not read"}, "undecided"),
        ({"filter": "no"}, "undecided"),
        ({"grade_source": ""}, "no limit given"),
        ({"appearance": "milky"}, "undecided"),
        ({"appearance": "metal in it"}, "undecided"),
        ({"appearance": ""}, "undecided"),
    ],
)
def test_what_is_wrong_with_the_oil_is_never_a_pass(changed, outcome):
    assert str(get("oil_service")(OIL | changed).outcome) == outcome


# ------------------------------------------------------------------------------ gas in the coolant
GAS = {"method": "test fluid", "warm": "yes", "minutes": "5 min", "clean_air": "no reaction", "found": "no gas found",
       "source": "instructions of the tester, page 2"}  # fmt: skip


@pytest.mark.parametrize(
    ("changed", "outcome", "suggests"),
    [
        ({}, "pass", "no combustion gas in the coolant"),
        ({"found": "gas found"}, "fail", "combustion gas in the coolant"),
        ({"found": "unclear"}, "undecided", "nothing"),
        ({"found": "gas found", "clean_air": "reacted"}, "undecided", "nothing"),
        ({"clean_air": "reacted"}, "undecided", "nothing"),
        ({"clean_air": "not done"}, "undecided", "no combustion gas in the coolant"),
        ({"warm": "no"}, "undecided", "no combustion gas in the coolant"),
        ({"minutes": ""}, "undecided", "no combustion gas in the coolant"),
        ({"source": ""}, "no limit given", "no combustion gas in the coolant"),
        ({"found": "gas found", "warm": "no", "minutes": "", "source": ""}, "fail", "combustion gas in the coolant"),
    ],
)
def test_the_gas_test_suggests_and_never_passes_on_a_doubtful_test(changed, outcome, suggests):
    result = get("gas_in_coolant")(GAS | changed)
    assert (str(result.outcome), result["suggests"]) == (outcome, suggests)
