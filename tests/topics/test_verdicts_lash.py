"""Valve lash after a cut: numbers worked by hand, the rules of its inputs, and verdicts against the slow judge."""

import math
import random

import pytest

from shoplib.core.errors import BadInput
from shoplib.topics import get
from tests.slow_judge import CASES, differential, exact, furthest, judged, together

LASH = get("valve_lash")
SOURCE = "bench notes of the teaching workshop, sheet 21"
BLOCK = {
    "lash": "0.40 mm",
    "tip_rise": "0 mm",
    "camshaft": "in the block",
    "net_drop": "0.20 mm",
    "rocker_ratio": "1.5",
}


def test_a_pushrod_engine_loses_the_drop_times_the_ratio():
    # by hand: 0.40 − 1.5 · 0.20 = 0.10 mm; the shim for 0.40 mm is 0.30 mm thinner
    found = LASH(BLOCK, wanted_lash="0.40 mm", shim="2.50 mm")
    assert found["lash_after"] == pytest.approx(0.10e-3)
    assert found["difference"] == pytest.approx(-0.30e-3)
    assert found["new_shim"] == pytest.approx(2.20e-3)
    # pushrods at 60°: half of the drop lies along them
    assert LASH(BLOCK, pushrod_angle="60 deg")["lash_after"] == pytest.approx(0.25e-3)


def test_with_the_camshaft_in_the_head_only_work_on_seats_and_valves_counts():
    typed = {"lash": "0.25 mm", "tip_rise": "0.10 mm", "camshaft": "in the head"}
    assert LASH(typed)["lash_after"] == LASH(typed, net_drop="0.50 mm")["lash_after"] == pytest.approx(0.15e-3)


def test_a_valve_that_is_held_open_fails_without_any_limit():
    assert str(LASH(BLOCK, net_drop="0.30 mm", pushrod_angle="0 deg").outcome) == "fail"


def test_an_angle_that_nobody_typed_decides_nothing():
    # upright pushrods: 0.40 − 1.5 · 0.30 = −0.05 mm; at 60° half of the drop counts: 0.175 mm
    assert str(LASH(BLOCK, net_drop="0.30 mm").outcome) == "undecided"


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"net_drop": ""}, "net_drop"),
        ({"rocker_ratio": ""}, "rocker_ratio"),
        ({"camshaft": "in the head"}, "rocker_ratio"),
        ({"shim": "2.5 mm"}, "wanted_lash"),
    ],
)
def test_inputs_that_do_not_go_together_are_named(typed, field):
    with pytest.raises(BadInput) as caught:
        LASH({**BLOCK, **typed})
    assert [p.field for p in caught.value.problems] == [field]


@differential("valve_lash")
def test_a_lash_equals_the_slow_judge():
    rng = random.Random(33)
    seen = set()
    for _ in range(CASES):
        typed = {"lash": f"{rng.randint(20, 60) / 100:.2f} mm", "tip_rise": rng.choice(("0 mm", "0.10 mm")),
                 "camshaft": "in the block", "net_drop": f"{rng.randint(-10, 30) / 100:.2f} mm",
                 "rocker_ratio": rng.choice(("1.4", "1.50")), "minimum_lash": "0.10 mm", "maximum_lash": "0.50 mm"}  # fmt: skip
        more = {"minimum_lash_source": SOURCE, "maximum_lash_source": SOURCE, "at_limit": "allowed",
                "decision_rule": "simple_acceptance", "pushrod_angle": rng.choice(("0 deg", "30.0 deg"))}  # fmt: skip
        typed |= {k: v for k, v in more.items() if rng.random() < 0.7}

        def lash(lash, tip_rise, net_drop, rocker_ratio, pushrod_angle):
            return lash - tip_rise - rocker_ratio * net_drop * math.cos(math.radians(pushrod_angle))

        boxes = {}
        for name in ("lash", "tip_rise", "net_drop", "rocker_ratio", "pushrod_angle"):
            x, half = (
                exact(typed[name])
                if " mm" in typed.get(name, "0 deg")
                else exact(typed.get(name, "0 deg").removesuffix(" deg") + " one")
            )
            boxes[name] = (float(x), float(half) if x else 0.0)
        middle, half = furthest(lash, boxes)
        steep = lash(*(60.0 if n == "pushrod_angle" else x for n, (x, _) in boxes.items()))
        expected, close = [], False
        for bound, sign, limit in ((0.0, ">", None), (0.1, "≥", "minimum_lash"), (0.5, "≤", "maximum_lash")):
            spread = half if limit is None or "decision_rule" not in typed else 0.0
            source = limit is None or f"{limit}_source" in typed
            at_limit = typed.get("at_limit") if limit else "not allowed"
            ends = [[x - spread, x, x + spread] for x in (middle, steep)]
            close |= any(abs(v - bound) < 1e-9 for values in ends for v in values)
            one, other = (judged(values, sign, bound, at_limit, source) for values in ends)
            decides = "pushrod_angle" not in typed and one != "undecided" and (one == "fail") != (other == "fail")
            expected.append("undecided" if decides or (other == "undecided" and "pushrod_angle" not in typed) else one)
        if not close:
            seen.add(together(expected))
            assert str(LASH(typed).outcome) == together(expected), typed
    assert seen == {"fail", "undecided", "no limit given", "pass"}
