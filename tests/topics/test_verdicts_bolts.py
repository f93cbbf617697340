"""Verdicts on yield: the inputs of the findings, and a slow judge that samples every range."""

import itertools
import random
from dataclasses import replace

import numpy as np
import pytest

from shoplib.core.errors import BadInput
from shoplib.topics import get
from tests.slow_bolt import Bolt, sampled
from tests.slow_judge import CASES, differential

PRELOAD, TORQUE, THREAD = get("preload_from_torque"), get("torque_from_preload"), get("thread")
SOURCE = {"yield_strength_source": "test certificate 7"}
WORSE = ["pass", "undecided", "fail"]


# ------------------------------------------------------------------------------ the findings
def test_torque_from_preload_is_judged_over_its_friction_band():
    typed = {"preload": "47 kN", "thread": "M10x1.5", "property_class": "10.9", "mu_thread": "0.12", "mu_head": "0.12",
             "shank_diameter": "10 mm"}  # fmt: skip
    result = TORQUE(typed, mu_low="0.10", mu_high="0.16")  # finding 4: was 0.974, pass
    assert result.outcome == "fail"
    (check,) = result.checks
    assert check.found.value == pytest.approx(1.031, abs=5e-4)
    assert check.corner["mu_thread"].value == 0.16
    assert "worst case of the ranges typed: Friction in the thread 0.16" in check.as_line()


def test_preload_from_torque_is_judged_at_its_worst_corner():
    typed = {"torque": "104 N*m", "thread": "M10x1.5", "property_class": "10.9", "shank_diameter": "7 mm",
             "bearing_mean": "18 mm", "mu_thread": "0.08–0.30", "mu_head": "0.30"}  # fmt: skip
    result = PRELOAD(typed)  # finding 4: was 0.953, pass, "at the lowest friction"
    assert result.outcome == "fail"
    assert result.checks[0].found.value == pytest.approx(1.077, abs=5e-4)
    assert result.checks[0].corner["mu_thread"].value == 0.30


def test_torsion_that_nobody_typed_does_not_decide():
    typed = {"preload": "47 kN", "thread": "M10x1.5", "property_class": "10.9", "mu_thread": "0.12", "mu_head": "0.12",
             "shank_diameter": "10 mm"}  # fmt: skip
    result = TORQUE(typed)  # finding 15: plastic 0.974, elastic 1.06
    assert result.outcome == "undecided"
    assert "“Torsion at yield”, which was not typed" in result.checks[0].remark
    assert TORQUE(typed, torsion="plastic").outcome == "pass"
    assert TORQUE(typed, torsion="elastic").outcome == "fail"
    assert TORQUE(typed, preload="35 kN").outcome == "pass"


def test_a_head_that_nobody_typed_does_not_decide():
    typed = {"torque": "76 N*m", "thread": "M10x1.5", "property_class": "10.9", "mu_thread": "0.12", "mu_head": "0.12",
             "torsion": "plastic", "shank_diameter": "10 mm"}  # fmt: skip
    result = PRELOAD(typed)
    assert result.outcome == "undecided"
    assert "Mean bearing diameter" in result.checks[0].remark
    assert PRELOAD(typed, bearing_mean="12.8 mm").outcome == "pass"
    assert PRELOAD(typed, torque="40 N*m").outcome == "pass"


def test_a_shank_that_nobody_typed_does_not_decide():
    typed = {"torque": "60 N*m", "thread": "M10x1.5", "property_class": "10.9", "mu_thread": "0.12", "mu_head": "0.12",
             "torsion": "plastic", "bearing_mean": "12.8 mm"}  # fmt: skip
    result = PRELOAD(typed)
    assert result.outcome == "undecided"
    assert "“Shank diameter”, which was not typed" in result.checks[0].remark
    assert PRELOAD(typed, shank_diameter="10 mm").outcome == "pass"
    assert PRELOAD(typed, shank_diameter="7 mm").outcome == "fail"
    assert PRELOAD(typed, torque="20 N*m").outcome == "pass"  # so little that a waisted bolt holds it too
    assert PRELOAD(typed, torque="104 N*m").outcome == "fail"  # so much that no shank holds it


def test_a_torque_that_breaks_every_bolt_of_the_size_is_called_that():
    typed = {"torque": "4000 N*m", "thread": "M10x1.5", "mu_thread": "0.12", "mu_head": "0.12"}  # finding 28
    assert any("would break" in c for c in PRELOAD(typed).cautions)
    assert any("class 10.9" in c for c in PRELOAD(typed, property_class="10.9").cautions)
    assert not any("would break" in c for c in PRELOAD(typed, torque="40 N*m").cautions)
    assert any("would break" in c for c in TORQUE(
        preload="900 kN", thread="M10x1.5", mu_thread="0.12", mu_head="0.12").cautions)  # fmt: skip


def test_the_band_that_is_drawn_is_the_band_that_is_told():
    result = PRELOAD(torque="40 N*m ±4 %", thread="M10x1.5", mu_thread="0.12", mu_head="0.12", mu_low="0.10",
                     mu_high="0.16")  # fmt: skip
    plot_data = result.plot_data  # finding 25: the caption counted the ±4 %, the drawn band did not
    for name in ("low", "high"):
        assert np.interp(40.0, plot_data["torque"], plot_data[name]) == pytest.approx(
            result[f"preload_{name}"], rel=1e-9
        )
    assert "range of the torque" in PRELOAD.alt(result)


def test_a_left_hand_thread_is_read_everywhere():
    for typed in ("M10x1.5 LH", "M10x1.5-LH", "M10 x 1.5 left-hand"):  # finding 28
        result = THREAD(thread=typed)
        assert result["pitch"] == pytest.approx(1.5e-3)
        assert any("left-hand" in c for c in result.cautions)
    assert not any("left-hand" in c for c in THREAD(thread="M10x1.5").cautions)


def test_an_inch_minor_diameter_is_not_called_that_of_the_standard():
    result = THREAD(thread="1/2-20 UNF")  # finding 29: 0.4350 in; ASME B1.1 has 0.4405 in for the external thread
    assert "Minor diameter d" not in result.values["minor_diameter"].label
    assert any("0.4405 in" in a for a in result.assumptions)


def test_two_sizes_that_do_not_go_together_are_refused():
    typed = {"torque": "40 N*m", "thread": "M10x1.5", "mu_thread": "0.12", "mu_head": "0.12"}
    with pytest.raises(BadInput, match="bearing_mean"):
        PRELOAD(typed, bearing_mean="13 mm", bearing_outer="16 mm")
    with pytest.raises(BadInput, match="mu_high: is needed"):
        PRELOAD(typed, mu_low="0.1")
    with pytest.raises(BadInput, match="not plausible"):
        PRELOAD(typed, bearing_mean="13 m")


# ------------------------------------------------------------------------------ a slow judge
def draw(rng):
    """Random inputs, all of them typed, and the ranges in them."""
    d, P = rng.choice([(6, 1.0), (8, 1.25), (10, 1.5), (12, 1.25), (14, 1.5)])

    def band():
        a, b = sorted(round(rng.uniform(0.05, 0.35), 3) for _ in range(2))
        return (a, b) if rng.random() < 0.7 else (a, a)

    return {
        "bolt": Bolt(d, P, round(d * rng.uniform(1.1, 2.2), 2), round(d * rng.uniform(0.65, 1.0), 2), 60, 10,
                     rng.randrange(600, 1100), 1300, 0.05, 300, rng.choice(["plastic", "elastic"])),
        "mu_thread": band(), "mu_head": band(),
        "torque": (lambda m: (m, round(m * rng.choice([1, 1.1, 1.4]), 2)))(round(rng.uniform(0.03, 0.12) * d**3, 2)),
        "preload": round(rng.uniform(0.2, 0.7) * d**2, 2),
    }  # fmt: skip


def text(ends, unit=""):
    low, high = ends
    return f"{low} {unit}".strip() if low == high else f"{low}–{high} {unit}".strip()


def common(case):
    b = case["bolt"]
    return {"thread": f"M{b.d}x{b.P}", "mu_thread": text(case["mu_thread"]), "mu_head": text(case["mu_head"]),
            "bearing_mean": f"{b.D_Km} mm", "yield_strength": f"{b.R_p} MPa", "shank_diameter": f"{b.shank} mm",
            "torsion": b.torsion, **SOURCE}  # fmt: skip


def slow_torque(case, count=9):
    b = case["bolt"]
    found = [b.stress(M / b.moment(G, K), G) / b.R_p for M, G, K in itertools.product(
        sampled(case["torque"], 3), sampled(case["mu_thread"], count), sampled(case["mu_head"], count))]  # fmt: skip
    return max(found)


def slow_preload(case, count=41):
    b = case["bolt"]
    return max(b.stress(case["preload"], G) / b.R_p for G in sampled(case["mu_thread"], count))


def with_shank(case, share):
    """The same with a shank of this share of the thread's diameter."""
    return case | {"bolt": replace(case["bolt"], shank=share * case["bolt"].d)}


@differential("preload_from_torque", "torque_from_preload")
@pytest.mark.parametrize(("working", "slow"), [(PRELOAD, slow_torque), (TORQUE, slow_preload)])
def test_the_verdict_is_the_worst_of_a_dense_sampling(working, slow):
    rng = random.Random(4)
    outcomes = set()
    for _ in range(CASES):
        case = draw(rng)
        given = {"torque": text(case["torque"], "N*m")} if working is PRELOAD else {"preload": f"{case['preload']} kN"}
        worst = thin = slow(case)
        typed = common(case) | given
        if rng.random() < 0.3:  # nobody measured the shank
            del typed["shank_diameter"]
            worst, thin = (slow(with_shank(case, share)) for share in (1, 0.6))
        result = working(typed)
        (check,) = result.checks
        assert check.found.value == pytest.approx(worst, rel=1e-9)
        if min(abs(worst - 1), abs(thin - 1)) > 1e-6:
            assert result.outcome == ("fail" if worst > 1 else "undecided" if thin > 1 else "pass"), case
        outcomes.add(result.outcome)
    assert outcomes == {"pass", "undecided", "fail"}


def test_widening_a_range_never_helps():
    rng = random.Random(5)
    for _ in range(CASES):
        case = draw(rng)
        name = rng.choice(["mu_thread", "mu_head", "torque"])
        low, high = case[name]
        wider = case | {name: (round(low * 0.8, 4), round(high * 1.25, 4))}
        before, after = (
            WORSE.index(PRELOAD(common(c) | {"torque": text(c["torque"], "N*m")}).outcome) for c in (case, wider)
        )
        assert after >= before, (case, name)
