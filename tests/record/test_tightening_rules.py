"""The state of a tightening from invented lines: which ticks count, what opens a bolt again, what the bench is told."""

from types import SimpleNamespace

import pytest

from shoplib.record import tightening
from shoplib.record.tightening import Reopened, bench_warnings, judged_by, logged
from shoplib.topics import get

PLAN = {
    "positions": [{"name": n, "x": f"{x} mm", "y": "0 mm"} for n, x in (("1", 0), ("2", 100), ("3", 200))],
    "stages": "38–42 N*m; +90 deg", "stages_source": "page 3", "order": "2; 1; 3", "lubricant": "engine oil",
    "lubricant_where": "threads",
}  # fmt: skip


def programme(form="tightening_plan", **body):
    body = {"inputs": PLAN} | body
    return SimpleNamespace(form=form, body=body, uid="p", kind="entry", n=2, name="line 2", who="A", about=None)


# ------------------------------------------------------------------------------ a value against a stage of a line
@pytest.mark.parametrize(
    ("stage", "value", "code"),
    [(1, "40 N*m", "pass"), (1, "44 N*m", "fail"), (2, "90 deg", "pass"), (2, "80 deg", "fail"), (0, "40 N*m", ""), (3, "40 N*m", ""), ("1", "40 N*m", ""),
     (1, 40, ""), (1, "as the programme says", "stated")],
)  # fmt: skip
def test_a_value_is_judged_against_its_stage(stage, value, code):
    assert judged_by({}, programme(), stage, value) == code


def test_a_value_is_judged_without_a_plan_that_can_be_read():
    assert judged_by({}, programme(inputs={}), 1, "40 N*m") == ""
    note = programme("programme", content={"stages": ["38–42 N*m"]})
    assert [judged_by({}, note, n, "40 N*m") for n in (0, 1, 2)] == ["", "no limit given", ""]
    assert judged_by({}, programme(inputs=PLAN | {"stages_source": ""}), 1, "40 N*m") == "no limit given"


def test_only_the_instruments_that_the_plan_names_count():
    header = {"instruments": [{"id": "W-1", "deviation": "10 %"}, {"id": "W-2"}]}
    assert [i["id"] for i in tightening._instruments(header, SimpleNamespace(inputs={"tools": "W-1, old"}))] == ["W-1"]
    assert tightening._instruments(header, SimpleNamespace(inputs=None)) == ()
    assert judged_by(header, programme(inputs=PLAN | {"stages": "40 N*m", "tools": "W-1"}), 1, "43 N*m") == "undecided"
    assert judged_by(header, programme(inputs=PLAN | {"stages": "40 N*m", "tools": "W-2"}), 1, "43 N*m") == "fail"


# ------------------------------------------------------------------------------ what opens a bolt again
def tick(n, bolt="1", action="", by=None, uid=None):
    return SimpleNamespace(
        n=n,
        first=n,
        bolt=bolt,
        uid=uid or f"t{n}",
        by=by,
        line=SimpleNamespace(body={"action_code": action, "action": ""}),
    )


def replaced_by(code):
    return SimpleNamespace(body={"because_code": code})


@pytest.mark.parametrize(
    ("ticks", "opened"),
    [
        ([tick(5, action="new_bolt")], {"1": Reopened(5, "new_bolt")}), ([tick(5, action="loosened")], {"1": Reopened(5, "loosened")}),
        ([tick(5, action="stopped")], {}), ([tick(5)], {}), ([tick(5, action="new_bolt", by=replaced_by("plan_corrected"))], {}),
        ([tick(5, action="new_bolt", by=replaced_by("new_bolt"))], {"1": Reopened(5, "new_bolt")}),
        ([tick(7, action="loosened"), tick(5, action="new_bolt")], {"1": Reopened(7, "loosened")}),
        ([tick(5, action="new_bolt"), tick(6, "2", "loosened")], {"1": Reopened(5, "new_bolt"), "2": Reopened(6, "loosened")}),
    ],
)  # fmt: skip
def test_a_new_or_loosened_bolt_opens_its_stages_again(ticks, opened):
    assert tightening._reopened(SimpleNamespace(lines=[], decisions={}), ticks) == opened


@pytest.mark.parametrize(
    ("more", "opened"),
    [
        ({}, True),
        ({"kind": "note"}, False),
        ({"about": "other"}, False),
        ({"reopens": ""}, False),
        ({"last": False}, False),
    ],
)
def test_a_decision_opens_the_stages_of_its_bolt_again(more, opened):
    line = SimpleNamespace(kind=more.get("kind", "decision"), about=more.get("about", "t5"), n=9,
                           body={"reopens": more.get("reopens", "new_bolt"), "point": "tick/t5"})  # fmt: skip
    decisions = {"tick/t5": line if more.get("last", True) else SimpleNamespace()}
    found = tightening._reopened(SimpleNamespace(lines=[line], decisions=decisions), [tick(5)])
    assert found == ({"1": Reopened(9, "new_bolt")} if opened else {})


def test_a_tick_after_the_reopening_counts_and_one_before_does_not():
    def again(first, *corrections):
        chain = [SimpleNamespace(n=n, line=SimpleNamespace(body={"because_code": code})) for n, code in corrections]
        one = SimpleNamespace(first=first, uid="t")
        return tightening._done_again(SimpleNamespace(chain=lambda uid: chain), one, Reopened(5, "new_bolt"))

    assert [again(n) for n in (4, 5, 6)] == [False, False, True]
    assert [again(4, (n, "new_bolt")) for n in (5, 6)] == [False, True]
    assert again(4, (6, "plan_corrected")) is False
    assert again(4, (6, "plan_corrected"), (7, "loosened")) is True


# ------------------------------------------------------------------------------ the same stage
@pytest.mark.parametrize(
    ("then", "number", "same"),
    [({}, 1, True), ({}, 2, True), ({}, 3, False), ({}, 0, False), ({"stages": "38–43 N*m; +90 deg"}, 1, False), ({"stages": "37–42 N*m; +90 deg"}, 1, False),
     ({"stages": "38–43 N*m; +90 deg"}, 2, True), ({"stages": "38–42 N*m"}, 2, False), ({"stages": "repeat 38–42 N*m; +90 deg"}, 1, False),
     ({"order": "1; 2; 3"}, 1, True), (None, 1, False)],
)  # fmt: skip
def test_a_tick_counts_as_long_as_its_stage_is_the_same(then, number, same):
    def version(uid, inputs):
        return SimpleNamespace(uid=uid, form="tightening_plan", inputs=inputs, name="line")

    now = version("now", PLAN)
    assert tightening._same_stage(version("then", {} if then is None else PLAN | then), now, number) is same
    assert tightening._same_stage(now, now, 99)


# ------------------------------------------------------------------------------ peaks and logs
@pytest.mark.parametrize(
    ("typed", "torque"),
    [("40 N*m", True), ("0 N*m", False), ("-1 N*m", False), ("much", False), ("", False), ("40 mm", False)],
)
def test_only_a_torque_is_a_peak(typed, torque):
    assert tightening._a_torque(typed) is torque


def test_peaks_of_a_stage_are_compared_from_the_first_reading():
    plan = get("tightening_plan")(PLAN)
    stage = plan.plot_data["stages"][1]

    def peaks(**values):
        return tightening._peaks(plan, stage, {(2, bolt): SimpleNamespace(value=v) for bolt, v in values.items()})

    assert peaks() is None
    assert peaks(**{"1": "90 deg", "2": "90 deg; peak much"}) is None
    found = peaks(**{"1": "90 deg; peak 60 N*m", "3": "90 deg; peak 61 N*m", "2": "90 deg"})
    assert found.inputs.as_entered["bolts"] == ["1", "3"]
    assert found.inputs.as_entered["readings"] == ["60 N*m", "61 N*m"]


def log(*rows, form="fastener_log", **result):
    value = [{k: {"value": v, "unit": u} for k, (v, u) in row.items()} for row in rows]
    return SimpleNamespace(form=form, result=result.get("result", {"results": {"log": {"value": value}}}))


def test_the_log_says_what_is_known_of_a_bolt():
    row = {
        "bolt": ("1", None),
        "length": (120.123456, "mm"),
        "count": (3, None),
        "dry": ("no", None),
        "use": (None, None),
        "left": (True, None),
    }
    job = SimpleNamespace(
        current_entries=[
            log(row),
            log({"bolt": ("2", None)}, form="other"),
            log(result={}),
            log({"bolt": ("1", None)}, result={"results": {}}),
        ]
    )
    assert logged(job) == {"1": {"length": "120.123 mm", "count": "3", "dry": "no", "use": "", "left": "True"}}


@pytest.mark.parametrize(
    ("said", "kind", "words"),
    [
        ({}, "torque", []), ({"thread": "M10 LEFT"}, "torque", ["TIGHTENS ANTICLOCKWISE"]), ({"thread": "M10 LEFT"}, "loosen", ["LOOSENS CLOCKWISE"]),
        ({"thread": "LEFT M10"}, "torque", []), ({"dry": "no"}, "torque", ["HOLE NOT DRY"]), ({"dry": "yes"}, "torque", []),
        ({"use": "no bolt"}, "torque", ["no bolt belongs"]), ({"use": "again"}, "torque", []),
    ],
)  # fmt: skip
def test_what_must_be_seen_before_a_bolt_is_touched(said, kind, words):
    found = bench_warnings(said, kind)
    assert len(found) == len(words)
    assert all(w in f for w, f in zip(words, found, strict=True))
