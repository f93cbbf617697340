"""Verdicts on a tightening programme: the inputs of the findings, and a slow judge that samples every range."""

import math
import random

import pytest

from shoplib.topics import get
from tests.slow_bolt import Bolt, every
from tests.slow_judge import CASES, differential
from tests.topics.tightening_inputs import MODEL

STAGED = get("staged_tightening")
SOURCE = "workshop manual, page 3"
WORSE = ["pass", "undecided", "fail"]


# ------------------------------------------------------------------------------ the findings
def test_a_minimum_torque_is_judged_over_all_corners():
    result = STAGED(MODEL | {"stages": "40 N*m; +30-90 deg; check >= 55 N*m", "stages_source": SOURCE})
    assert result.outcome == "fail"  # finding 4: was "58.9 to 71.6 N·m", pass
    check = next(c for c in result.checks if "wrench" in c.label)
    assert check.found.value == pytest.approx(52.6, abs=0.05)
    assert "52.6 to 91.8 N·m" in check.remark
    assert check.corner["mu_thread"].value == check.corner["mu_head"].value == 0.10
    assert check.corner["stages"].value == "low end of each range"


def test_a_friction_that_necks_is_found_wherever_it_lies():
    typed = MODEL | {"stages": "5 N*m; +150-265 deg", "uniform_strain": "0.5 %"}
    assert STAGED(typed | {"mu_low": "0.08", "mu_high": "0.20"}).outcome == "fail"  # finding 4: was a pass
    alone = {k: v for k, v in typed.items() if k not in ("mu_low", "mu_high")} | {"bolt_modulus": "205 GPa"}
    assert STAGED(alone | {"mu_thread": "0.20", "mu_head": "0.20", "torsion": "plastic"}).outcome == "fail"
    assert STAGED(alone | {"mu_thread": "0.08", "mu_head": "0.08", "torsion": "plastic"}).outcome == "pass"


def test_the_lowest_and_highest_clamp_are_those_of_all_corners():
    result = STAGED(MODEL | {"stages": "40 N*m; +85-95 deg", "mu_low": "", "mu_high": "", "mu_thread": "0.10-0.16"})
    ends = [
        STAGED(MODEL | {"stages": f"40 N*m; +{angle} deg", "mu_low": "", "mu_high": "", "mu_thread": mu})["preload"]
        for mu in ("0.10", "0.16") for angle in (85, 95)
    ]  # fmt: skip
    assert result["preload_low"] == pytest.approx([min(x) for x in zip(*ends, strict=True)])
    assert result["preload_high"] == pytest.approx([max(x) for x in zip(*ends, strict=True)])


def test_defaults_that_decide_leave_the_strain_undecided():
    typed = MODEL | {"stages": "5 N*m; +150-265 deg", "uniform_strain": "0.5 %", "mu_low": "", "mu_high": "",
                     "mu_thread": "0.20", "mu_head": "0.20"}  # fmt: skip
    open_ = STAGED(typed)  # finding 15: torsion and modulus are defaults
    assert open_.outcome == "undecided"
    assert ": type it" in open_.checks[-1].remark
    assert STAGED(typed, torsion="plastic", bolt_modulus="205 GPa").outcome == "fail"
    assert STAGED(MODEL | {"stages": "40 N*m; +60 deg"}).outcome == "pass"


# ------------------------------------------------------------------------------ a slow judge
def draw(rng):
    """A random bolt, programme and friction; everything is typed."""
    d, P = rng.choice([(8, 1.25), (10, 1.5), (12, 1.25)])
    bolt = Bolt(d, P, round(d * rng.uniform(1.1, 2.0), 2), round(d * rng.uniform(0.7, 1.0), 2), 80, 20,
                rng.randrange(600, 1000), rng.randrange(1050, 1300), rng.choice([0.005, 0.02, 0.06]), 300,
                rng.choice(["plastic", "elastic"]))  # fmt: skip
    snug = 0.04 * d**3

    def widened(value):
        return value, round(value * rng.choice([1, 1, 1.1, 1.4]), 2)

    stages, turned = [("torque", widened(round(snug * rng.uniform(0.2, 1.6), 2)))], False
    for _ in range(rng.randint(0, 3)):
        kind = rng.choice(["torque", "angle", "angle", "loosen", "loosen_all"])
        if kind == "torque":
            stages.append((kind, widened(round(snug * rng.uniform(0.3, 1.6), 2))))
        elif kind == "angle":
            stages.append((kind, widened(rng.randrange(10, 120))))
        elif kind == "loosen" and not turned:
            turned = True
            stages += [("angle", widened(60)), (kind, (10, 12))]
        elif kind == "loosen_all":
            stages += [("loosen", None), ("torque", widened(round(snug * rng.uniform(0.3, 1.2), 2)))]
    bands = [sorted(round(rng.uniform(0.06, 0.3), 3) for _ in range(2)) for _ in range(2)]
    band_G, band_K = (tuple(b) if rng.random() < 0.7 else (b[0], b[0]) for b in bands)
    return bolt, stages, band_G, band_K, round(snug * rng.uniform(0.5, 2.5), 1)


def text(ends, unit=""):
    low, high = ends
    return f"{low} {unit}".strip() if low == high else f"{low}–{high} {unit}".strip()


def typed(bolt, stages, band_G, band_K, least):
    words = {"torque": lambda e: text(e, "N*m"), "angle": lambda e: "+" + text(e, "deg"),
             "loosen": lambda e: "loosen" if e is None else "loosen " + text(e, "deg")}  # fmt: skip
    programme = [words[kind](ends) for kind, ends in stages] + [f"check >= {least} N*m"]
    return {
        "stages": "; ".join(programme), "stages_source": SOURCE, "thread": f"M{bolt.d}x{bolt.P}",
        "shank_diameter": f"{bolt.shank} mm", "shank_length": f"{bolt.shank_length} mm",
        "thread_length": f"{bolt.thread_length} mm", "mu_thread": text(band_G), "mu_head": text(band_K),
        "bearing_mean": f"{bolt.D_Km} mm", "yield_strength": f"{bolt.R_p} MPa", "yield_strength_source": SOURCE,
        "tensile_strength": f"{bolt.R_m} MPa", "tensile_strength_source": SOURCE,
        "uniform_strain": str(bolt.uniform_strain), "uniform_strain_source": SOURCE, "torsion": bolt.torsion,
        "parts_stiffness": f"{bolt.k_p} kN/mm", "bolt_modulus": "205 GPa", "ends": "none",
    }  # fmt: skip


def slow_judge(bolt, stages, band_G, band_K, least):
    """(least torque shown at the end, most plastic strain) of every sampled bolt; a bolt that necks shows none."""
    partly = any(kind == "loosen" and ends is not None for kind, ends in stages)  # there values in between count
    found = list(every(bolt, stages, band_G, band_K, *((17, 2) if partly else (7, 3))))
    shown = [torques[-1] for torques, _ in found if torques is not None]
    return min(shown, default=None), max(strain for _, strain in found)


@differential("staged_tightening")
def test_the_verdicts_are_those_of_a_dense_sampling():
    rng = random.Random(44)
    seen = set()
    for _ in range(CASES):
        case = draw(rng)
        bolt, least = case[0], case[-1]
        torque, strain = slow_judge(*case)
        result = STAGED(typed(*case))
        last = result.checks[-1]
        if strain == math.inf:
            assert last.outcome == "fail", case
            assert "neck" in last.label
        else:
            assert last.found.value == pytest.approx(strain, rel=1e-6, abs=1e-9), case
            assert last.outcome == "pass"
            first = result.checks[0]
            assert first.found.value == pytest.approx(torque, rel=2e-3), case
            assert first.found.value <= torque * (1 + 1e-6)
            if abs(torque - least) > 2e-3 * least:
                assert first.outcome == ("fail" if torque < least else "pass"), case
        seen.add((strain == math.inf, result.outcome))
        assert bolt.u_u > 0
    assert seen >= {(True, "fail"), (False, "fail"), (False, "pass")}


def test_after_loosening_by_an_angle_a_friction_in_between_is_the_worst():
    bolt = Bolt(10, 1.5, 20.17, 10, 100, 20, 940, 1040, 0.05, 286, "elastic")
    stages = [("angle", (11.1, 63.1)), ("torque", (15.7, 23.55)), ("loosen", (6.6, 7.92))]
    case = bolt, stages, (0.2097, 0.3897), (0.18374, 0.2536), 10.0
    (check,) = (c for c in STAGED(typed(*case)).checks if "wrench" in c.label)
    corners = min(torques[-1] for torques, _ in every(*case[:4], count=2, inside=2))
    dense = min(torques[-1] for torques, _ in every(*case[:4], count=41, inside=2))
    assert check.found.value < 0.995 * corners
    assert check.found.value == pytest.approx(dense, rel=5e-3)


def test_widening_any_range_never_helps():
    rng = random.Random(45)
    for _ in range(CASES):
        bolt, stages, band_G, band_K, least = draw(rng)
        wider = [(kind, ends if ends is None else (ends[0] * 0.9, ends[1] * 1.1)) for kind, ends in stages]
        more = (band_G[0] * 0.9, band_G[1] * 1.1), (band_K[0] * 0.9, band_K[1] * 1.1)
        before, after = (STAGED(typed(*x)).outcome for x in (
            (bolt, stages, band_G, band_K, least), (bolt, wider, *more, least)))  # fmt: skip
        assert WORSE.index(after) >= WORSE.index(before)
