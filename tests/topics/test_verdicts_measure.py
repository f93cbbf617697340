"""Measurement, unit pairs, re-use, reach, the gap under a bar and roughness: what may be concluded from a reading.

The inputs are those of the audit; limits and sources are invented.
"""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shoplib.core.errors import BadInput
from shoplib.core.units import Unreadable, mm, read, read_any, unit_of
from shoplib.topics import get
from tests.slow_judge import CASES, TINY, around, differential, exact, judged, together

SOURCE = "bench notes of the teaching workshop, sheet 12"
MEASURE, PAIR, REUSE, REACH, GAP, ROUGH = map(
    get, ("measurement", "unit_pair", "bolt_reuse", "bolt_reach", "timing_gap", "surface_roughness")
)
PLACE = {"what": "liner protrusion", "where": "cylinder 2"}
WORSE = ("fail", "undecided", "no limit given", "pass")


def rank(result):
    return WORSE.index(str(result.outcome))


# ------------------------------------------------------------------------------ the audit's inputs
def test_mil_is_asked_about():
    for typed in ("0.2 mil", "3 mils"):
        with pytest.raises(Unreadable, match="thou or mm"):
            read(typed, unit_of(mm))
        with pytest.raises(Unreadable, match="thou or mm"):
            read_any(typed)
    with pytest.raises(BadInput, match="two sizes"):
        MEASURE(PLACE, value="0.2 mil", high="0.05 mm", high_source=SOURCE)


@pytest.mark.parametrize(
    ("first", "second", "outcome"),
    [
        ("1/2 in", "20 mm", "fail"),  # half of a half inch and half a millimetre are less than the 7.3 mm between
        ("1/16 in", "10 mm", "fail"),
        ("1/2 in", "13 mm", "undecided"),  # a half inch may be anything from a quarter to three quarters
        ("1 N*m", "1 lbf*ft", "undecided"),  # 36 % apart, and hidden by the rounding
        ("40 N*m", "30 lbf*ft", "pass"),
        ("40 N*m", "35 lbf*ft", "fail"),
    ],
)
def test_a_fraction_is_rounded_to_its_own_denominator(first, second, outcome):
    assert PAIR(first=first, second=second).outcome == outcome


@pytest.mark.parametrize(("value", "outcome"), [("5e-2 mm", "pass"), ("2E-1mm", "fail"), ("1e9 mm", "fail")])
def test_a_reading_with_an_exponent_is_a_number_and_a_unit(value, outcome):
    result = MEASURE(PLACE, value=value, high="0.1 mm", high_source=SOURCE)
    assert result.outcome == outcome
    assert result.checks[0].shown[0] == value


def test_a_measurement_takes_an_uncertainty_and_names_the_rule():
    (check,) = MEASURE(PLACE, value="0.098 mm", high="0.10 mm", high_source=SOURCE, resolution="0.01 mm").checks
    assert check.outcome == "undecided"
    assert check.to_json()["decision_rule"] == "iso_14253_1"
    assert check.to_json()["uncertainty_origin"] == "resolution"
    assert check.found.value == "0.098 mm", "as typed"
    at_limit = {"value": "0.10 mm", "high": "0.10 mm", "high_source": SOURCE}
    assert MEASURE(PLACE | at_limit).outcome == "undecided"
    simple = PLACE | at_limit | {"decision_rule": "simple_acceptance"}
    assert MEASURE(simple).outcome == "undecided", "nobody said whether the limit itself is allowed"
    assert MEASURE(simple, at_limit="allowed").outcome == "pass"
    assert MEASURE(simple, at_limit="not allowed").outcome == "fail"
    with pytest.raises(BadInput, match="above zero"):
        MEASURE(PLACE | at_limit, resolution="0 mm")


def test_re_use_takes_an_uncertainty():
    typed = {"method": "max_length", "limit": "147.0 mm", "limit_source": SOURCE}
    assert REUSE(typed, measured="147.0 mm").outcome == "undecided"
    assert REUSE(typed, measured="146.9 mm", resolution="0.5 mm").outcome == "undecided"
    assert "measure with less uncertainty" in REUSE(typed, measured="147.0 mm")["text"]
    assert REUSE(typed, measured="146.9 mm").outcome == "pass"


def test_only_the_leaf_that_does_not_go_passes_the_gap_under_a_bar():
    typed = {"lever_length": "100 mm", "limit": "0.30 mm", "limit_source": SOURCE}
    assert GAP(typed, gap="0.20 mm").outcome == "undecided"
    assert GAP(typed, gap="0.20 mm", no_go="0.25 mm").outcome == "pass"
    assert GAP(typed, gap="0.20 mm", no_go="0.30 mm").outcome == "undecided", "the leaf may be thicker than its mark"
    assert GAP(typed, gap="0.20 mm", no_go="0.30 mm", decision_rule="simple_acceptance").outcome == "pass"
    assert GAP(typed, gap="0.35 mm").outcome == "fail"
    assert GAP(typed, gap="0 mm", no_go="0.05 mm").outcome == "pass"


def test_the_parameter_of_a_limit_is_not_a_default():
    typed = {"value": "0.5 um", "parameter": "Ra", "limit": "0.8 um", "limit_source": SOURCE}
    assert ROUGH(typed).outcome == "undecided"
    assert ROUGH(typed, limit_parameter="Ra").outcome == "pass"


def test_a_left_hand_thread_is_read_everywhere():
    assert get("thread")(thread="M10x1.5 LH", property_class="8.8").checks == ()


def test_a_card_keeps_enough_digits():
    first = get("conversion_card")(kind="pressure", first="0.1 bar", last="1 bar", step="0.1 bar")["rows"][0]
    assert first["psi"].shown == "1.5 psi"


@pytest.mark.parametrize(
    ("working", "typed"),
    [
        ("hot_preload", {"alpha_parts": "23 1/K"}),
        ("embedment_loss", {"embedment": "20 mm"}),
        ("cam_retard", {"head_skim": "200 mm", "sprocket_diameter": "120 mm"}),
    ],
)
def test_a_slip_of_the_unit_is_refused_with_a_reason(working, typed):
    field = next(iter(typed))
    with pytest.raises(BadInput) as caught:
        get(working)(typed)
    assert any(p.field == field and "not plausible" in p.why for p in caught.value.problems)


# ------------------------------------------------------------------------------ properties
MICRO = st.integers(1, 200).map(lambda n: f"{n / 1000:.3f} mm")
LIMITS = st.integers(1, 20).map(lambda n: f"{n / 100:.2f} mm")


@settings(max_examples=150, deadline=None)
@given(MICRO, LIMITS, st.integers(1, 30), st.integers(0, 40))
def test_more_uncertainty_never_improves_a_measurement(value, high, small, more):
    typed = PLACE | {"value": value, "high": high, "high_source": SOURCE}
    before = MEASURE(typed, resolution=f"{small / 1000:.3f} mm")
    after = MEASURE(typed, resolution=f"{(small + more) / 1000:.3f} mm")
    assert str(after.outcome) in (str(before.outcome), "undecided")


@settings(max_examples=150, deadline=None)
@given(st.lists(st.integers(1400, 1500), min_size=1, max_size=4), st.integers(1400, 1500), st.integers(1440, 1470))
def test_a_further_bolt_never_improves_the_set(lengths, further, bound):
    typed = {"method": "max_length", "limit": f"{bound / 10:.1f} mm", "limit_source": SOURCE}
    before = REUSE(typed, measured="; ".join(f"{x / 10:.1f} mm" for x in lengths))
    after = REUSE(typed, measured="; ".join(f"{x / 10:.1f} mm" for x in (*lengths, further)))
    assert rank(after) <= rank(before)
    unread = REUSE(typed, measured="; ".join([f"{x / 10:.1f} mm" for x in lengths] + ["not measured"]))
    assert rank(unread) <= rank(before)
    assert str(unread.outcome) != "pass"


# ------------------------------------------------------------------------------ against the slow judge
def _maybe(rng, **typed):
    return {k: rng.choice(v) for k, v in typed.items() if rng.random() < 0.5}


@differential("measurement")
def test_measurement_equals_the_slow_judge():
    rng = random.Random(15)
    for _ in range(CASES):
        decimals = rng.choice((2, 3))
        typed = PLACE | {"value": f"{rng.randint(1, 15 * 10 ** (decimals - 2)) / 10**decimals:.{decimals}f} mm"}
        typed |= _maybe(rng, low=["0.03 mm", "0.05 mm"], high=["0.08 mm", "0.10 mm"], state=["doubtful"],
                        low_source=[SOURCE], high_source=[SOURCE], at_limit=["allowed", "not allowed"],
                        decision_rule=["simple_acceptance", "iso_14253_1"], resolution=["0.01 mm", "0.002 mm"])  # fmt: skip
        x, half = exact(typed["value"])
        if "resolution" in typed:
            half = exact(typed["resolution"])[0] / 2
        if typed.get("decision_rule") == "simple_acceptance":
            half = 0
        outcomes = []
        for name, sign in (("low", "≥"), ("high", "≤")):
            if name in typed:
                bound, _ = exact(typed[name])
                values = around(x, half, bound, bound - TINY, bound + TINY)
                outcomes.append(judged(values, sign, bound, typed.get("at_limit"), f"{name}_source" in typed,
                                       "state" in typed))  # fmt: skip
        assert str(MEASURE(typed).outcome) == (together(outcomes) or "no limit given"), typed


@differential("unit_pair")
def test_a_pair_equals_the_slow_judge():
    rng = random.Random(7)
    for _ in range(CASES):
        size = rng.randint(1, 400)
        first = rng.choice(
            (f"{size} mm", f"{size / 10:.1f} mm", f"{rng.randint(1, 40)}/{rng.choice((2, 4, 8, 16))} in")
        )
        near = exact(first)[0] * rng.choice((1, 1, 1, 3)) / rng.choice((1, 1, 2)) / rng.choice((1, 25))
        second = f"{float(near):.{rng.choice((0, 1, 2, 3))}f} {rng.choice(('mm', 'in'))}"
        (x, a), (y, b) = exact(first), exact(second)
        if not x or not y:
            continue
        meet = max(x - a, y - b) <= min(x + a, y + b)
        expected = "fail" if not meet else "undecided" if (a + b) * 5 > min(x, y) else "pass"
        assert str(PAIR(first=first, second=second).outcome) == expected, (first, second)


@differential("bolt_reuse")
def test_re_use_equals_the_slow_judge():
    rng = random.Random(3)
    for _ in range(CASES):
        method = rng.choice(("max_length", "min_diameter", "necking"))
        bound = {"max_length": "10.00 mm", "min_diameter": "9.90 mm", "necking": "0.10 mm"}[method]
        count = rng.randint(1, 4)
        read = [
            f"{rng.randint(980, 1003) / 100:.2f} mm" if rng.random() < 0.9 else "not measured" for _ in range(count)
        ]
        typed = {"method": method, "measured": "; ".join(read), "limit": bound}
        typed |= _maybe(rng, limit_source=[SOURCE], at_limit=["allowed", "not allowed"],
                        decision_rule=["simple_acceptance"], resolution=["0.01 mm", "0.05 mm"])  # fmt: skip
        if method == "necking":
            typed["reference"] = "10.05 mm"
        sign = "≥" if method == "min_diameter" else "≤"
        outcomes = []
        for one in read:
            if one == "not measured":
                outcomes.append("undecided")
                continue
            x, half = exact(one)
            half = exact(typed["resolution"])[0] / 2 if "resolution" in typed else half
            if method == "necking":
                x, half = exact("10.05 mm")[0] - x, 2 * half
            half = 0 if "decision_rule" in typed else half
            limit, _ = exact(bound)
            values = around(x, half, limit, limit - TINY, limit + TINY)
            outcomes.append(judged(values, sign, limit, typed.get("at_limit"), "limit_source" in typed))
        assert str(REUSE(typed).outcome) == together(outcomes), typed


@differential("bolt_reach")
def test_reach_equals_the_slow_judge():
    rng = random.Random(5)
    for _ in range(CASES):
        typed = {"bolt_length": f"{rng.randint(1180, 1420) / 10:.1f} mm", "thread_length": rng.choice(("40.0 mm", "12.0 mm", "18 mm")),
                 "stack": rng.choice(("2.5 mm; 92.3 mm; 1.2 mm", "96 mm")), "hole": rng.choice(("blind", "through")),
                 "thread_start": rng.choice(("0 mm", "5.0 mm")), "thread_depth": "38.0 mm",
                 "minimum_engagement": f"{rng.randint(110, 200) / 10:.1f} mm", "minimum_engagement_source": SOURCE}  # fmt: skip
        if typed["hole"] == "blind":
            typed["hole_depth"] = "45.0 mm"
        boxes = {k: exact(v) for k, v in typed.items() if v.endswith("mm") and k not in ("stack", "minimum_engagement")}
        boxes = {k: (x, half if x else 0) for k, (x, half) in boxes.items()}
        parts = [exact(p.strip()) for p in typed["stack"].split(";")]
        down, u = boxes["bolt_length"][0] - sum(x for x, _ in parts), boxes["bolt_length"][1] + sum(h for _, h in parts)
        (b, u_b), (t_1, u_1), (t_2, u_2) = (boxes[k] for k in ("thread_length", "thread_start", "thread_depth"))
        held = min(t_2, down) - max(t_1, down - b)
        checks = [(held, u + u_b + u_1 + u_2, ">", 0), (t_1 - down + b, u + u_b + u_1, ">", 0)]
        if typed["hole"] == "blind":
            checks += [
                (boxes["hole_depth"][0] - down, u + boxes["hole_depth"][1], ">", 0),
                (t_2 - down, u + u_2, "≥", 0),
            ]
        outcomes = [judged(around(x, half, 0, -TINY, TINY), sign, 0, "allowed") for x, half, sign, _ in checks]
        bound = exact(typed["minimum_engagement"])[0]
        outcomes.append(judged(around(held, u + u_b + u_1 + u_2, bound, bound - TINY, bound + TINY), "≥", bound))
        assert str(REACH(typed).outcome) == together(outcomes), typed


@differential("timing_gap")
def test_the_gap_under_a_bar_equals_the_slow_judge():
    rng = random.Random(8)
    for _ in range(CASES):
        goes = rng.randint(0, 40)
        typed = {"gap": f"{goes / 100:.2f} mm", "lever_length": "100 mm", "limit": "0.30 mm"}
        if rng.random() < 0.7:
            typed["no_go"] = f"{(goes + rng.randint(1, 15)) / 100:.2f} mm"
        typed |= _maybe(rng, limit_source=[SOURCE], at_limit=["allowed", "not allowed"],
                        decision_rule=["simple_acceptance"], leaf_tolerance=["0.003 mm"])  # fmt: skip
        bound = exact("0.30 mm")[0]
        (low, u), (high, v) = exact(typed["gap"]), exact(typed["no_go"]) if "no_go" in typed else (bound + 9, 0)
        u, v = (exact("0.003 mm")[0],) * 2 if "leaf_tolerance" in typed else (u if low else 0, v)
        u, v = (0, 0) if "decision_rule" in typed else (u, v)
        low, high = max(low - u, 0), high + v
        gaps = [g for g in (low, (low + high) / 2, high - TINY, bound, bound - TINY, bound + TINY) if low <= g < high]
        expected = judged(gaps, "≤", bound, typed.get("at_limit"), "limit_source" in typed)
        assert str(GAP(typed).outcome) == expected, typed


@differential("surface_roughness")
def test_roughness_equals_the_slow_judge():
    rng = random.Random(9)
    for _ in range(CASES):
        typed = {
            "value": f"{rng.randint(20, 100) / 100:.2f} um",
            "parameter": "Ra",
            "limit": "0.8 um",
            "least": "0.4 um",
        }
        typed |= _maybe(rng, limit_source=[SOURCE], least_source=[SOURCE], limit_parameter=["Ra"],
                        at_limit=["allowed", "not allowed"], resolution=["0.02 um", "0.1 um"])  # fmt: skip
        x, half = exact(typed["value"])
        half = exact(typed["resolution"])[0] / 2 if "resolution" in typed else half
        outcomes = []
        for name, sign in (("limit", "≤"), ("least", "≥")):
            bound = exact(typed[name])[0]
            values = around(x, half, bound, bound - TINY, bound + TINY)
            found = judged(values, sign, bound, typed.get("at_limit"), f"{name}_source" in typed)
            outcomes.append(found if "limit_parameter" in typed else "undecided")
        assert str(ROUGH(typed).outcome) == together(outcomes), typed
