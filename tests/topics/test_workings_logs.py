"""Fastener log and strip-down log.  Trade facts in them are common practice, without a source, and say so."""

import json

import pytest
from matplotlib.figure import Figure

from shoplib.core.checks import Outcome
from shoplib.core.errors import BadInput
from shoplib.desk import Form, LiveFigure
from shoplib.plotting.bolt_map import MOST_BOLTS
from shoplib.record.jobfile_record import make_record
from shoplib.sheet import typeset
from shoplib.topics import get
from shoplib.topics.fasteners.bolt_map_inputs import COMMON
from shoplib.topics.strip_down.strip_log import STEPS
from tests.topics.log_inputs import HEAD, LOCK, PLACES, RULE, SAFE, SOURCE

HOSTILE = "<b>x</b> $y$ #set #eval(1) =1+1 \\n '; DROP TABLE {z} ../../etc"


def log(*rows, **typed):
    bolts = {"bolts": list(rows)} if rows else {}
    return get("fastener_log")({k: v for k, v in (HEAD | bolts | typed).items() if v is not None})


def refused(working, **typed):
    with pytest.raises(BadInput) as error:
        get(working)({k: v for k, v in typed.items() if v is not None})
    return {p.field: str(p) for p in error.value.problems}


def warned(result):
    return {r["what"].value: next(v.value for k, v in r.items() if k != "what") for r in result["warnings"]}


def checks(result, start):
    return [(str(c.outcome), c.label) for c in result.checks if c.label.startswith(start)]


def drawn(result):
    figure = Figure(figsize=result.working.figure_size, layout="constrained")
    result.working.draw(figure)(result)
    figure.draw_without_rendering()
    return {t.get_gid(): t.get_text() for t in figure.findobj(lambda a: hasattr(a, "get_text")) if t.get_gid()}


# ------------------------------------------------------------------------------ the map
def test_rows_and_columns_make_the_map_and_rows_of_the_table_change_it():
    result = log({"name": "3", "length": "120 mm"}, {"name": "7", "x": "221 mm", "y": "99 mm"},
                 {"name": "A", "x": "-40 mm", "y": "50 mm"}, without="8")  # fmt: skip
    at = {r["bolt"].value: (r["x"].value, r["y"].value) for r in result["log"]}
    assert list(at) == ["1", "2", "3", "4", "5", "6", "7", "A"]
    assert at["1"] == (0, 0)
    assert at["4"] == pytest.approx((0.33, 0))
    assert at["6"] == pytest.approx((0.11, 0.1))
    assert at["7"] == pytest.approx((0.221, 0.099))
    lengths = {r["bolt"].value: r["length"].value for r in result["log"]}
    assert lengths["3"] == pytest.approx(0.12)
    assert lengths["2"] == lengths["A"] == pytest.approx(0.11), "what all share"
    assert result.outcome == "pass"
    assert result["summary"] == "8: 8 new"


def test_names_may_be_letters_or_mirrored():
    result = log(names="D; C; B; A; H; G; F; E")
    assert [r["bolt"].value for r in result["log"]] == ["D", "C", "B", "A", "H", "G", "F", "E"]
    assert {p.split("; type")[0] for p in [refused("fastener_log", **HEAD, names="1; 2; 3")["names"]]} == {
        "names: has 3 names for 8 places"
    }
    assert "bolt 1 is listed twice" in refused("fastener_log", **HEAD, names="1; 2; 1; 4; 5; 6; 7; 8")["names"]


def test_the_table_alone_makes_a_map_from_a_csv_file(tmp_path):
    (tmp_path / "bolts.csv").write_text(
        "name;x_mm;y_mm;thread;length_mm;hole;dry\nA;0;0;M8x1.25;40;through;\nB;50;0,5;M8x1.25 LH;40,0;blind;no\n",
        encoding="utf-8",
    )
    result = get("fastener_log")({"bolts": "bolts.csv"}, folder=tmp_path)
    assert result["left_hand"] == ["B"]
    assert [(r["x"].value, r["y"].value) for r in result["log"]] == [(0, 0), (pytest.approx(0.05), pytest.approx(5e-4))]
    assert result.outcome == "fail", "a blind hole that is not dry"


def test_the_map_on_input():
    assert refused("fastener_log").keys() == {"bolts"}
    assert refused("fastener_log", rows="2").keys() == {"columns"}
    assert refused("fastener_log", rows="2", columns="3").keys() == {"pitch_along", "pitch_across"}
    assert get("fastener_log")(rows="1", columns="3", pitch_along="50 mm")["summary"] == "3: 3 open"
    said = refused(
        "fastener_log", **HEAD, without="9; 1", bolts=[{"name": "1", "length": "5 mm"}, {"name": "X", "x": "1 mm"}]
    )
    assert "row of its own" in said["without"], "the last of two"
    assert "bolt 9 is not on the map" in refused("fastener_log", **HEAD, without="9")["without"]
    assert said["bolts[2].y"].startswith("bolts[2].y: is needed together with x")
    twice = [{"name": "A", "x": "0 mm", "y": "0 mm"}, {"name": "A", "x": "9 mm", "y": "0 mm"}]
    assert "bolt A is listed twice" in refused("fastener_log", bolts=twice)["bolts[2].name"]
    assert (
        "is at the same place as bolt 1"
        in refused("fastener_log", **HEAD, bolts=[{"name": "Z", "x": "0 mm", "y": "0 mm"}])["bolts"]
    )
    assert (
        "at most 60"
        in refused("fastener_log", rows="10", columns="10", pitch_along="9 mm", pitch_across="9 mm")["rows"]
    )
    assert "longer than 40" in refused("fastener_log", bolts=[{"name": "N" * 41}])["bolts[1].name"]


def test_a_bolt_without_a_place_is_logged_and_named():
    result = log({"name": "cover"})
    assert warned(result)["no place given: the bolt is not on the map"] == "cover"
    assert get("fastener_log")(bolts=[{"name": "1"}])["log"][0]["x"].value is None
    drawn(get("fastener_log")(bolts=[{"name": "1"}]))


# ------------------------------------------------------------------------------ threads
@pytest.mark.parametrize(
    ("thread", "gauged", "name", "pitch_mm", "hand"),
    [
        ("M10x1.25", "", "M10x1.25", 1.25, "right"),
        ("M10x1,5 LH", "", "M10x1.5", 1.5, "left"),  # LH: ISO 965-1, from memory
        ("M8x1.25-LH", "", "M8x1.25", 1.25, "left"),
        ("3/8-16 UNC", "", "3/8-16 UNC", 25.4 / 16, "right"),
        ("3/8-16 UNC lh", "", "3/8-16 UNC", 25.4 / 16, "left"),
        ("M10", "1.25 mm", "M10x1.25", 1.25, "right"),  # a bare diameter takes the gauge's word
        ("10 mm", "1.5 mm", "M10x1.5", 1.5, "right"),
        ("M10", "not gauged", "M10, pitch not gauged", None, "right"),  # never read as coarse
        ("M10", "", "M10, pitch not gauged", None, "right"),
    ],
)
def test_threads_are_read(thread, gauged, name, pitch_mm, hand):
    result = log(thread=thread, pitch_bolt=gauged or None, pitch_hole=None)
    bolt = result.plot_data["bolts"][0]
    assert bolt.kind[0] == name + (", LEFT HAND" if hand == "left" else "")
    assert bolt.pitch == (None if pitch_mm is None else pytest.approx(pitch_mm * 1e-3, rel=1e-9))
    assert bolt.hand == hand
    assert bool(checks(result, "Pitch:")) == (pitch_mm is None)


def test_a_thread_that_is_none_is_refused_where_it_stands():
    assert refused("fastener_log", **HEAD | {"thread": "round"}).keys() == {"thread"}
    assert refused("fastener_log", **HEAD, bolts=[{"name": "2", "thread": "M10x9"}]).keys() == {"bolts[1].thread"}
    assert refused("fastener_log", **HEAD | {"thread": "M10x1.25 LH", "hand": "right"}).keys() == {"hand"}


@pytest.mark.parametrize(
    ("bolt", "hole", "outcome"),
    [
        ("1.25 mm", "1.25 mm", "pass"),
        ("1.25 mm", "1.5 mm", "fail"),
        ("1.5 mm", "1.5 mm", "fail"),  # both alike, but not as the thread is named
        ("1.25 mm", "1.27 mm", "fail"),  # 20 to the inch is not 1.25 mm
        ("1.25 mm", "1/20 in", "fail"),
        ("1.25 mm", "1.2534 mm", "pass"),  # within the last digit of a gauge
        ("1.25 mm", None, "undecided"),
        ("not gauged", "1.25 mm", "undecided"),
        (None, "1.5 mm", "fail"),  # the hole against the name
    ],
)
def test_pitch_of_bolt_hole_and_name(bolt, hole, outcome):
    result = log(pitch_bolt=bolt, pitch_hole=hole)
    assert result.outcome == outcome
    if outcome == "fail":
        assert "stop: gauge the pitch of the bolt, the old bolt and the hole; never force a bolt" in {
            c.remark for c in result.checks
        }


def test_a_bolt_that_came_out_of_its_hole_need_not_be_gauged():
    result = log(use="re-used", reason="109 mm, at most 110 mm", pitch_bolt=None, pitch_hole=None)
    assert result.outcome == "pass"


def test_a_gauge_reading_that_all_share_says_nothing_of_another_thread():
    result = log({"name": "3", "thread": "M10x1.5"})
    assert checks(result, "Pitch gauged") == [("undecided", "Pitch gauged on new bolt and hole: 3")]
    assert result.outcome == "undecided", "not measured, and not wrong"


def test_inch_threads_agree_with_a_rounded_gauge():
    assert log(thread="3/8-16 UNC", pitch_bolt="1/16 in", pitch_hole="1.59 mm").outcome == "pass"


def test_two_pitches_of_one_diameter_warn_and_name_the_bolts():
    other = {"thread": "M10x1.5", "pitch_bolt": "1.5 mm", "pitch_hole": "1.5 mm"}
    result = log({"name": "3"} | other, {"name": "6"} | other)
    found = warned(result)["TWO PITCHES at 10 mm diameter: they start in each other's holes"]
    assert found == "1.25 mm: 1, 2, 4, 5, 7, 8; 1.50 mm: 3, 6"
    assert result.outcome == "pass", "a warning is not a failure"
    assert "TWO PITCHES" not in str(warned(log()))
    eight = {"thread": "M8x1", "pitch_bolt": "1 mm", "pitch_hole": "1 mm"}
    assert "TWO PITCHES" not in str(warned(log({"name": "3"} | eight))), "another diameter"


def test_a_left_hand_thread_shouts_first_everywhere():
    result = log({"name": "7", "hand": "left"})
    assert next(iter(result.values)) == "left_hand"
    assert result.values["left_hand"].label.startswith("LEFT-HAND THREAD")
    assert result.cautions[0] == "LEFT-HAND THREAD: bolt 7. It loosens clockwise and tightens anticlockwise."
    assert next(iter(warned(result).items())) == ("LEFT-HAND THREAD: loosens clockwise", "7")
    assert "LEFT HAND: 7." in result.working.alt(result)
    assert "LEFT" in drawn(result).values()
    assert {r["thread"].value: r["loosens"].value for r in result["kinds"]} == {
        "M10x1.25": "anticlockwise", "M10x1.25, LEFT HAND": "clockwise"}  # fmt: skip
    plain = log()
    assert plain["left_hand"] == []
    assert "LEFT" not in drawn(plain).values()
    assert any("right-hand thread where no hand was typed" in a for a in plain.assumptions)
    assert not log(hand="right").assumptions


def test_different_lengths_side_by_side():
    found = warned(log({"name": "2", "length": "120 mm"}))["different lengths side by side: do not swap them"]
    assert found.split("; ") == [
        "1 (110 mm) beside 2 (120 mm)",
        "2 (120 mm) beside 3 (110 mm)",
        "2 (120 mm) beside 6 (110 mm)",
    ]
    small = {"thread": "M8x1.25", "pitch_bolt": "1.25 mm", "pitch_hole": "1.25 mm", "length": "40 mm"}
    assert not [w for w in warned(log({"name": "2"} | small)) if "side by side" in w], "an M8 fits no M10 hole"


# ------------------------------------------------------------------------------ holes
@pytest.mark.parametrize(
    ("hole", "dry", "outcome"),
    [
        ("blind", "yes", "pass"),
        ("blind", "no", "fail"),
        ("blind", "not checked", "undecided"),
        ("blind", None, "undecided"),
        ("through", None, "pass"),
        ("through", "no", "pass"),
        ("wet", None, "pass"),
        (None, "yes", "undecided"),
        (None, None, "undecided"),
        (None, "no", "fail"),
    ],
)
def test_missing_is_not_dry(hole, dry, outcome):
    result = log(hole=hole, dry=dry)
    assert result.outcome == outcome
    if outcome == "fail":
        assert "trapped fluid can crack a casting" in " ".join(c.remark for c in result.checks)
        assert "NOT DRY" in result.working.alt(result)
    assert {c.limit_source for c in result.checks} == {COMMON}


def test_holes_are_named_by_their_state():
    result = log({"name": "3", "dry": "no"}, {"name": "5", "dry": "not checked"})
    assert checks(result, "Blind hole dry") == [
        ("fail", "Blind hole dry: 3"), ("undecided", "Blind hole dry: 5"),
        ("pass", "Blind hole dry: 1, 2, 4, 6, 7, 8")]  # fmt: skip
    assert warned(log({"name": "2", "hole": "wet"}))[
        "wet hole, opens into coolant or oil: thread dry, and sealed as the instructions say"] == "2"  # fmt: skip


@pytest.mark.parametrize(
    ("chased", "outcome"), [("yes", "pass"), ("no", "pass"), ("not checked", "undecided"), (None, "undecided")]
)
def test_chased(chased, outcome):
    assert log(chased=chased).outcome == outcome


# ------------------------------------------------------------------------------ what goes in
def test_reuse_needs_its_reason():
    said = refused("fastener_log", **HEAD, bolts=[{"name": "5", "use": "re-used"}])
    assert said.keys() == {"bolts[1].reason"}
    assert "Re-use of bolts" in said["bolts[1].reason"]
    assert refused("fastener_log", **HEAD | {"use": "re-used"}).keys() == {"reason"}
    result = log({"name": "5", "use": "re-used", "reason": "109.3 mm, at most 110 mm"})
    assert result["reused"] == ["5"]
    fitted = {r["bolts"].value: (r["use"].value, r["reason"].value) for r in result["fitting"]}
    assert fitted == {"1, 2, 3, 4, 6, 7, 8": ("new", "–"), "5": ("re-used", "109.3 mm, at most 110 mm")}
    shared = log({"name": "1", "use": "new"}, use="re-used", reason="all measured")
    assert {r["bolts"].value: r["reason"].value for r in shared["fitting"]}["1"] == "–", (
        "no reason goes with a new bolt"
    )


def test_a_lubricant_has_no_default():
    said = refused("fastener_log", **HEAD | {"lubricant": None})
    assert said.keys() == {"lubricant"}
    assert "no default" in said["lubricant"]
    assert refused("fastener_log", **HEAD | {"lubricated": None}).keys() == {"lubricated"}
    assert log(lubricant=f"none (dry), says {SOURCE}", lubricated=None).outcome == "pass"
    assert log(use=None, lubricant=None, lubricated=None).outcome == "undecided", "not decided yet: nothing to put on"
    assert get("fastener_log").field("lubricant").default is None


@pytest.mark.parametrize("word", ["none", "dry", "None (dry)", " - ", "n/a", "nothing", "(dry)", "…"])
def test_dry_needs_somebody_who_says_so(word):
    assert refused("fastener_log", **HEAD | {"lubricant": word}).keys() == {"lubricant"}
    assert refused("fastener_log", **HEAD, bolts=[{"name": "1", "lubricant": word}]).keys() == {"bolts[1].lubricant"}


def test_a_place_without_a_bolt_is_named_and_asks_for_nothing():
    result = log({"name": "8", "use": "no bolt", "hand": "left", "dry": "no"})
    assert result["no_bolt"] == ["8"]
    assert result.outcome == "pass"
    assert result["left_hand"] == []
    assert "place without a bolt: intended, or forgotten?" in warned(result)


def test_counts_by_kind():
    result = log({"name": "1", "length": "120 mm"}, {"name": "2", "length": "120 mm"})
    rows = [(r["thread"].value, r["length"].value, r["count"].value, r["bolts"].value) for r in result["kinds"]]
    assert rows == [
        ("M10x1.25", pytest.approx(0.11), "6", "3, 4, 5, 6, 7, 8"),
        ("M10x1.25", pytest.approx(0.12), "2", "1, 2"),
    ]


def test_nothing_typed_but_places_is_open_everywhere():
    result = get("fastener_log")(rows="1", columns="2", pitch_along="9 mm")
    assert {c.outcome for c in result.checks} == {Outcome.UNDECIDED}
    assert {c.label.partition(":")[0] for c in result.checks} == {
        "Hole dry, kind of hole not noted", "Kind of hole", "Thread", "Length", "New or re-used"}  # fmt: skip


# ------------------------------------------------------------------------------ the picture
def test_the_map_tells_kinds_holes_and_states_apart():
    result = log({"name": "2", "length": "120 mm", "use": "re-used", "reason": "r"}, {"name": "3", "hole": "through"},
                 {"name": "4", "hole": "wet"}, {"name": "5", "dry": "not checked"}, {"name": "6", "dry": "no"})  # fmt: skip
    words = drawn(result)
    assert [words[f"h{k}"] for k in range(6)] == ["⊔", "⊔", "‖", "≈", "⊔?", "⊔✕ NOT DRY"]
    assert [words[f"n{k}"] for k in range(8)] == list("12345678")
    assert words["w0"] == "7 × M10x1.25, 110 mm"
    assert words["w1"] == "1 × M10x1.25, 120 mm"
    for sign in ("dashed: re-used", "solid rim: new", "⊔? blind, dry not checked", "✕ NOT DRY", "‖ through", "≈ wet"):
        assert sign in words["signs"]


def test_a_live_map_is_what_a_full_drawing_would_be():
    live = LiveFigure(get("fastener_log").draw, log(), figsize=get("fastener_log").figure_size)
    changed = log({"name": "7", "hand": "left", "dry": "no", "length": "90 mm"})
    live.move(changed)
    fresh = LiveFigure(get("fastener_log").draw, changed, figsize=get("fastener_log").figure_size)
    assert live.parts == fresh.parts
    assert live.svg == fresh.svg


@pytest.mark.parametrize("count", [1, 30, MOST_BOLTS])
def test_maps_of_any_size_draw(count):
    result = log(rows="1" if count == 1 else "2", columns=str(max(count // 2, 1)))
    assert len(result["log"]) == count
    words = drawn(result)
    assert sum(bool(words[f"n{k}"]) for k in range(MOST_BOLTS)) == count


# ------------------------------------------------------------------------------ strip-down


def strip(*rows, **typed):
    return get("strip_log")({k: v for k, v in (RULE | {"steps": [*rows]} | typed).items() if v is not None})


def test_a_safe_strip_down_passes():
    result = strip(*SAFE, LOCK, {"step": "drive off", "state": "done"})
    assert result.outcome == "pass"
    assert result["summary"] == "5 of 5 done"
    assert result["open_steps"] == []
    assert result["warnings"] == []


@pytest.mark.parametrize("need", ["battery isolated", "engine cold", "pressure released", "lock in"])
@pytest.mark.parametrize(("state", "outcome"), [("not done", "fail"), (None, "undecided"), ("absent", "undecided")])
def test_what_safety_asks_for(need, state, outcome):
    rows = [r | {"state": state} if r["step"] == need else r for r in (*SAFE, LOCK)]
    rows = [{k: v for k, v in r.items() if v is not None} for r in rows if r["state"] != "absent"]
    result = strip(*rows)
    assert result.outcome == outcome
    assert [c.label.lower().startswith(STEPS[need]) for c in result.checks if c.outcome != "pass"] == [True]


def test_work_that_was_done_without_it_is_named():
    rows = [r | {"state": "not done"} if r["step"] == "engine cold" else r for r in SAFE]
    result = strip(*rows, LOCK, {"step": "head lifted", "state": "done"})
    assert [c.remark for c in result.checks if c.outcome == "fail"] == ["stop: done without it: head lifted"]
    ticked = strip(*rows, LOCK, positions=PLACES, passes=[{"bolt": "1", "pass_1": "done"}])
    assert "stop: done without it: head bolts loosened" in {c.remark for c in ticked.checks}


def test_the_lock_rule_wants_position_tools_and_source():
    assert strip(*SAFE, LOCK, lock_position_source=None).outcome == "no limit given"
    assert strip(*SAFE, LOCK, lock_tools=None).outcome == "undecided"
    assert strip(*SAFE, LOCK, lock_position=None).outcome == "undecided"
    free = strip(*SAFE, {"step": "lock in", "state": "not applicable", "note": "pushrods: the drive stays on"})
    assert free.outcome == "pass"


def test_steps_on_input():
    assert refused("strip_log").keys() == {"steps"}
    rows = [
        {"step": "engine cold", "state": "not applicable", "note": "x"}, {"step": "lock in", "state": "not applicable"},
        {"step": "liquid drained", "amount": "5 L"}, {"step": "part off", "amount": "5 L"}, {"step": "find"},
        {"step": "other", "state": "done"}, {"step": "dance", "state": "done"},
    ]  # fmt: skip
    assert refused("strip_log", steps=rows).keys() == {"steps[7].step"}, "unreadable first"
    assert refused("strip_log", steps=rows[:-1]).keys() == {
        "steps[1].state", "steps[2].note", "steps[3].liquid", "steps[4].amount", "steps[5].what", "steps[6].what"}  # fmt: skip
    assert "at most 200" in refused("strip_log", steps=[LOCK] * 201)["steps"]


def test_litres_are_added_up_by_liquid_and_missing_is_not_zero():
    def drain(amount, liquid, state="done"):
        return {"step": "liquid drained", "state": state, "amount": amount, "liquid": liquid}

    result = strip(*SAFE, LOCK, drain("5.2 L", "coolant"), drain("1200 mL", " Coolant"), drain("4 L", "oil"),
                   drain("not measured", "oil"), drain("not measured", "fuel"), drain("9 L", "water", "not done"))  # fmt: skip
    rows = [(r["liquid"].value, r["amount"].value, r["complete"].value) for r in result["drained"]]
    assert rows == [
        ("coolant", pytest.approx(6.4e-3), "all measured"),
        ("oil", pytest.approx(4e-3), "at least: 1 of 2 not measured"),
        ("fuel", None, "not measured"),
    ]
    assert [c.outcome for c in result.checks if "how much" in c.label] == [Outcome.UNDECIDED] * 2
    assert result.values["drained"].to_json()["value"][0]["amount"] == {"value": pytest.approx(6.4), "unit": "L"}
    ledger = get("fluid_ledger")({"capacity": "7 L", "out": "6.4 L", "in": "6.4 L"})
    assert ledger["unaccounted"] == pytest.approx(0.0, abs=1e-12), "the total is what the ledger is told"


def test_the_loosening_order_is_that_of_tightening_order():
    order = "1; 4; 2; 3"
    alone = get("tightening_order")(positions=PLACES, order=order, order_source=SOURCE)
    for typed in ({"positions": PLACES}, {"positions": PLACES, "order": order, "order_source": SOURCE},
                  {"positions": PLACES, "order": order, "loosening": "2; 1; 3; 4"}):  # fmt: skip
        assert strip(*SAFE, LOCK, **typed)["loosening_order"] == get("tightening_order")(typed)["loosening_order"]
    assert strip(*SAFE, LOCK, order=order, order_source=SOURCE)["loosening_order"] == alone["loosening_order"], "no map"
    assert strip(*SAFE, LOCK)["loosening_order"] is None
    assert "suggested, not the maker's" in strip(*SAFE, LOCK, positions=PLACES).plot_data["whose"]
    assert refused("strip_log", **RULE, steps=SAFE, positions=PLACES, order="1; 1; 9").keys() == {"order"}
    assert refused("strip_log", **RULE, steps=SAFE, order="1; 1; 9").keys() == {"order"}


def test_the_next_bolt_and_a_bolt_that_was_left_out():
    def ticks(**done):
        return [{"bolt": b[1:], **{f"pass_{n}": "done" for n in range(1, k + 1)}} for b, k in done.items()]

    common = {"positions": PLACES, "order": "1; 4; 2; 3", "order_source": SOURCE, "pass_count": "2"}
    result = strip(*SAFE, LOCK, **common, passes=ticks(b3=2, b2=1, b4=1, b1=1))
    assert result["loosening_order"] == ["3", "2", "4", "1"]
    assert result["next_bolt"] == "bolt 2, pass 2"
    assert checks(result, "Loosened") == [("undecided", "Loosened, pass 2: 2, 4, 1")]
    left_out = strip(*SAFE, LOCK, **common, passes=ticks(b3=2, b2=1, b4=2, b1=1))
    assert warned(left_out) == {"pass 2 continued with bolt 4 and left out": "2"}
    whole = strip(*SAFE, LOCK, **common, passes=ticks(b3=2, b2=2, b4=2, b1=2))
    assert (whole["next_bolt"], whole.outcome) == ("none", "pass")
    assert strip(*SAFE, LOCK, **common)["next_bolt"] == "bolt 3, pass 1"
    unsaid = strip(*SAFE, LOCK, **common | {"pass_count": None}, passes=ticks(b3=1, b2=1, b4=1, b1=1))
    assert unsaid.outcome == "no limit given", "nobody typed how many passes there must be"
    assert refused("strip_log", **RULE, steps=SAFE, **common, passes=ticks(b9=1)).keys() == {"passes[1].bolt"}
    assert refused("strip_log", **RULE, steps=SAFE, passes=ticks(b1=1)).keys() == {"passes"}
    seen = drawn(result)
    assert (seen["n1"], seen["o1"], seen["l1"]) == ("2", "2", "●○")


def test_strange_orders_of_work_are_asked_about():
    result = strip({"step": "head lifted", "state": "done"}, *SAFE, LOCK)
    found = warned(result)
    assert found["work is listed before “engine cold”: was it really done in that order?"] == "row 1"
    assert found["head lifted before its bolts are logged as loosened"] == "row 1"
    assert found["keep the old gasket: it shows where it failed"] == "row 1"
    loosened = {"step": "head bolts loosened", "state": "done"}
    early = strip(*SAFE, LOCK, loosened, positions=PLACES, pass_count="1")
    assert warned(early)["the log says head bolts loosened, but some passes are open"] == early["next_bolt"]
    assert early["next_bolt"] == f"bolt {early['loosening_order'][0]}, pass 1"


def test_it_never_tells_anyone_to_turn_anything():
    text = strip(*SAFE, LOCK).as_text()
    assert "never turn the crankshaft or a camshaft by itself" in text


def test_without_a_map_there_is_no_picture():
    result = strip(*SAFE, LOCK)
    assert not result.working.pictures(result)
    form = Form("strip_log", **RULE, steps=[*SAFE, LOCK])
    assert form.result is not None
    assert form.figure is None
    assert result.working.pictures(strip(*SAFE, LOCK, positions=PLACES))


# ------------------------------------------------------------------------------ hostile text in every cell
@pytest.mark.parametrize("name", ["fastener_log", "strip_log"])
def test_hostile_text_in_every_cell_is_text_everywhere(name):
    short = HOSTILE[:30]
    if name == "fastener_log":
        typed = HEAD | {"lubricant": HOSTILE, "lubricated": HOSTILE, "bolts": [
            {"name": short, "x": "5 mm", "y": "7 mm", "use": "re-used", "reason": HOSTILE, "lubricant": HOSTILE}]}  # fmt: skip
    else:
        cells = dict.fromkeys(("what", "who", "when", "note", "liquid"), HOSTILE)
        typed = {"lock_position": HOSTILE, "lock_tools": HOSTILE, "lock_position_source": HOSTILE,
                 "order_source": HOSTILE, "steps": [*SAFE, LOCK, {"step": "liquid drained", "state": "done",
                                                                  "amount": "1 L"} | cells, {"step": "find",
                                                                                             "what": HOSTILE}],
                 "positions": [{"name": short, "x": "0 mm", "y": "0 mm"}, {"name": "2", "x": "9 mm", "y": "0 mm"}],
                 "order": [short, "2"], "passes": [{"bolt": short, "pass_1": "done"}]}  # fmt: skip
    result = get(name)(typed)
    assert json.loads(json.dumps(result.to_json(), allow_nan=False))
    assert short in result.as_text()
    form = Form(name, **typed)
    assert form.result is not None
    assert "<b>x" not in form.answer.value + form.notes.value + form.static_html()
    job = {"job": {"number": "26-1", "engine": "diesel", "complaint": "none", "date": "2026-11-20", "done_by": "A. L."},
           "entry": [{"working": name, "inputs": typed}]}  # fmt: skip
    assert typeset(make_record(job)).startswith(b"%PDF")
    job["entry"][0]["inputs"] = json.loads(json.dumps(typed).replace("DROP", "\\u202e"))
    with pytest.raises(BadInput, match="invisible or control character"):
        make_record(job)


def test_each_cell_is_bad_by_itself():
    columns = get("fastener_log").field("bolts").columns
    for column in columns:
        bad = {"text": "x" * 5000, "choice": "perhaps", "quantity": "seven"}[column.kind]
        said = refused("fastener_log", **HEAD, bolts=[{"name": "1"} | {column.name: bad}])
        assert said.keys() == {f"bolts[1].{column.name}"}, column.name
