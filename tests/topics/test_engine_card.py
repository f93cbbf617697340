"""The engine card, and what it and earlier entries offer to the other forms of the job."""

import pytest

from shoplib.core.errors import BadInput
from shoplib.core.units import read
from shoplib.record.errors import Refused
from shoplib.record.origins import SPECIAL, value_at
from shoplib.record.store import Store
from shoplib.record.suggestions import EARLIER, sources_of, suggest
from shoplib.topics import get
from shoplib.topics.engine.card_fields import CARD, declared

PLACES = [{"name": str(k), "x": f"{95 * (k % 3)} mm", "y": f"{110 * (k // 3)} mm"} for k in range(6)]
TYPED = {"engine": "two-cylinder pump engine", "positions": PLACES, "order": "2; 3; 1; 4; 0; 5",
         "order_source": "bench notes, page 4", "coolant_capacity": "6.0 L", "cap_rating": "90 kPa",
         "bolt_length": "105 mm"}  # fmt: skip
HEADER = {"number": "26-1", "engine": "pump engine", "date": "2026-11-28", "done_by": "A. Learner"}


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "jobs.db") as store:
        store.start(**HEADER)
        yield store


def keep(store, form, typed, **more):
    return store.keep("26-1", get(form)(typed), who="A. Learner", **more)


def offered(store, form):
    return {k: s.value for k, s in suggest(store.job("26-1"), get(form)).items()}


# ------------------------------------------------------------------------------ the declaration
@pytest.mark.parametrize("card", [c for c in CARD if c.feeds], ids=lambda c: c.field.name)
def test_a_field_of_the_card_fits_every_input_that_it_feeds(card):
    for place in card.feeds:
        target = declared(place)
        if target.kind == "table":
            wanted = {c.name for c in target.columns}
            assert wanted >= {c.name for c in card.field.columns}
        elif (card.field.kind, target.kind) != ("list", "text"):
            same = {card.field.kind, target.kind} <= {"quantity", "number"} or card.field.kind == target.kind
            assert same, place
        if target.kind == "quantity" and card.field.kind == "quantity":
            read(f"1 {card.field.unit.name}", target.unit)  # raises where the dimensions differ
        assert set(card.field.choices) <= set(target.choices), place


def test_every_place_where_something_is_offered_exists():
    for place, sources in EARLIER.items():
        declared(place)
        for source in sources:
            if source.take.startswith("inputs/"):
                declared(f"{source.form}.{source.take.removeprefix('inputs/')}")
            else:
                assert source.take in SPECIAL or source.take.startswith("results/"), place


def test_no_field_of_the_card_has_a_default():
    assert not [c.field.name for c in CARD if c.field.default is not None]


# ------------------------------------------------------------------------------ the card as an entry of the job
def test_the_card_refuses_an_order_that_does_not_fit_the_map():
    with pytest.raises(BadInput) as error:
        get("engine_card")(TYPED | {"order": "2; 3; 1; 4; 0; 9"})
    assert {p.field for p in error.value.problems} == {"order"}


def test_limits_without_a_source_are_named():
    card = get("engine_card")(engine="x", reuse_limit="106 mm", leakage_limit="20 %", leakage_limit_source="page 3")
    assert card["without_source"] == ["Limit for re-use"]
    assert card.outcome is None


# ------------------------------------------------------------------------------ what is offered
def test_an_empty_job_offers_nothing(store):
    assert not any(offered(store, form) for form in ("tightening_plan", "coolant_fill", "engine_card"))


def test_the_card_is_offered_as_it_was_typed(store):
    keep(store, "engine_card", TYPED)
    plan = suggest(store.job("26-1"), get("tightening_plan"))
    assert plan["positions"].value == PLACES
    assert plan["order"].value == "2; 3; 1; 4; 0; 5"
    assert plan["order"].told == "engine card, line 2"
    assert offered(store, "coolant_fill") == {"capacity": "6.0 L"}
    assert offered(store, "fastener_log")["bolts"] == PLACES
    assert offered(store, "pressure_hold") == {"cap_rating": "90 kPa"}


def test_the_litres_drained_are_offered_only_when_all_of_them_were_measured(store):
    rows = [{"step": "liquid drained", "state": "done", "amount": "3.5 L", "liquid": "coolant"},
            {"step": "liquid drained", "state": "done", "amount": "0,7 L", "liquid": "Coolant"}]  # fmt: skip
    log = keep(store, "strip_log", {"steps": rows})
    assert offered(store, "coolant_fill")["drained"] == "4.2 L"
    assert offered(store, "fluid_ledger")["out"] == "3.5 L; 0,7 L"
    store.strike("26-1", log.uid, who="A. Learner", because="wrong job")
    keep(store, "strip_log", {"steps": [*rows, rows[0] | {"amount": "not measured"}]})
    assert "drained" not in offered(store, "coolant_fill"), "a total that is only a lower bound"
    assert "out" not in offered(store, "fluid_ledger")


def test_the_readings_before_the_repair_are_those_as_found(store):
    test = {"readings": "12.1 bar; 9.0 bar", "rule": "lowest/highest", "layout": "1 2"}
    keep(store, "compression_test", test, condition="as_found")
    keep(store, "compression_test", test | {"readings": "12.4 bar; 12.2 bar"}, condition="as_left")
    assert offered(store, "compression_test")["before"] == "12.1 bar; 9.0 bar"


def test_a_stale_entry_offers_nothing(store):
    first = keep(store, "measurement", {"what": "a", "where": "b", "value": "1 mm"})
    keep(store, "skim_allowance", {"measured_height": "135.7 mm", "cut": "0.1 mm"}, sources=[first.uid])
    assert offered(store, "skim_chain")["head_skim"] == "0.1 mm"
    store.correct("26-1", first.uid, get("measurement")(what="a", where="b", value="2 mm"), who="A", because="misread")
    assert "head_skim" not in offered(store, "skim_chain")


# ------------------------------------------------------------------------------ the origin in the record
def filled(store):
    """A card, and an entry whose capacity was taken from it."""
    card = keep(store, "engine_card", TYPED)
    taken = suggest(store.job("26-1"), get("coolant_fill"))["capacity"]
    typed = {"capacity": taken.value, "drained": "5 L", "target": "50 %"}
    return card, keep(store, "coolant_fill", typed, origins={"capacity": taken.origin})


def stale(store):
    return {e.uid for e in store.job("26-1").stale}


def test_a_corrected_value_makes_stale_what_was_taken_from_it_and_nothing_else(store):
    card, fill = filled(store)
    other = store.correct("26-1", card.uid, get("engine_card")(TYPED | {"cap_rating": "100 kPa"}), who="A",
                          because="cap read again")  # fmt: skip
    assert stale(store) == set()
    store.correct("26-1", other.uid, get("engine_card")(TYPED | {"coolant_capacity": "6.5 L"}), who="A",
                  because="misread")  # fmt: skip
    assert stale(store) == {fill.uid}


def test_a_struck_card_makes_stale_what_was_taken_from_it(store):
    card, fill = filled(store)
    store.strike("26-1", card.uid, who="A", because="another engine")
    assert stale(store) == {fill.uid}


def test_a_correction_keeps_the_origin_of_what_was_typed_as_before(store):
    _, fill = filled(store)
    again = get("coolant_fill")(capacity="6.0 L", drained="4 L", target="50 %")
    store.correct("26-1", fill.uid, again, who="A", because="misread")
    changed = get("coolant_fill")(capacity="7.0 L", drained="4 L", target="50 %")
    entry = store.job("26-1").entries[-1]
    assert set(entry.origins) == {"capacity"}
    store.correct("26-1", entry.uid, changed, who="A", because="other radiator")
    assert not store.job("26-1").entries[-1].origins


@pytest.mark.parametrize("origins", [{"capacity": {"uid": "nobody-0001", "take": "inputs/x"}},
                                     {"capacity": {"uid": "x"}}, {"capacity": "card"}, {"capacity": None}])  # fmt: skip
def test_an_origin_that_is_no_entry_of_the_job_is_refused(store, origins):
    before = len(store.job("26-1").lines)
    with pytest.raises((BadInput, Refused)):
        keep(store, "coolant_fill", {"capacity": "6 L", "drained": "5 L", "target": "50 %"}, origins=origins)
    assert len(store.job("26-1").lines) == before


def test_origins_survive_export_and_import(store, tmp_path):
    filled(store)
    raw = store.export("26-1")
    with Store.open(tmp_path / "other.db") as other:
        other.import_job(raw)
        assert other.job("26-1").entries[-1].origins == store.job("26-1").entries[-1].origins


def test_a_value_is_named_only_by_what_the_program_knows():
    assert value_at({"inputs": {"a": "1"}}, "inputs/a") == "1"
    assert [value_at({"inputs": {"a": "1"}}, take) for take in ("result/a", "inputs", "a", "")] == [""] * 4
    body = {"result": {"results": {"a": {"value": 1.23456, "unit": "mm"}, "b": {"value": None, "unit": "mm"},
                                   "c": {"value": "late", "unit": None}}}}  # fmt: skip
    assert [value_at(body, f"results/{n}") for n in "abcd"] == ["1.235 mm", "", "", ""]
    assert sources_of("thread.thread")[0].form == "engine_card"
