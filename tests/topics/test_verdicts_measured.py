"""Friction from a test, preload from a stretch, and the preload budget: by hand, and against the slow judge."""

import itertools
import math
import random

import numpy as np
import pytest

from shoplib.core.errors import BadInput
from shoplib.topics import get
from tests.slow_judge import CASES, differential, furthest, judged, together

FRICTION, ELONGATION, BUDGET = map(get, ("friction_evaluation", "preload_from_elongation", "preload_budget"))
SOURCE = "bench notes of the teaching workshop, sheet 22"
P, D_2 = 1.5, 10 - 0.649519 * 1.5  # mm, of M10x1.5
TEST = {"torque": "40 N*m", "clamp_force": "25 kN", "thread": "M10x1.5", "bearing_mean": "13 mm"}
LENGTHS = {"length_before": "120.000 mm", "length_tightened": "120.300 mm"}
TIGHTENED = {
    "torque": "30 N*m", "angle": "60 deg", "series_stiffness": "70 kN/mm", "thread": "M10x1.5", "mu_thread": "0.12",
    "mu_head": "0.12", "bearing_mean": "13 mm", "draws": "1000",
}  # fmt: skip
AFTERWARDS = {
    "yield_preload": "60 kN", "embedment": "0.010 mm", "relaxation": "2 %", "relaxation_source": SOURCE,
    "gasket_creep": "5 %", "gasket_creep_source": SOURCE, "heat_change": "1 kN",
}  # fmt: skip


def digits(text):
    """A number and half of its last digit: "25.0 kN" gives 25 and 0.05."""
    number = text.split()[0]
    return float(number), 0.5 * 10.0 ** -len(number.partition(".")[2])


def close(values, bounds):
    """Whether the two ways to calculate may differ about a limit by rounding alone."""
    return any(abs(v - b) < 1e-9 * max(1.0, abs(b)) for v in values for b in bounds)


# ------------------------------------------------------------------------------ friction
def total(torque, force, D=13.0):
    """Total friction, from N·m, kN and mm."""
    return (torque / force - P / (2 * math.pi)) / (D_2 / math.sqrt(3) + D / 2)


def test_friction_by_hand():
    # 40 N·m over 25 kN is 1.6 mm; less 1.5 mm/2π = 0.2387; over 5.211 + 6.5 mm
    found = FRICTION(TEST, thread_torque="21.5 N*m")
    assert found["total_friction"] == pytest.approx(1.3613 / 11.711, rel=1e-4)
    assert found["thread_friction"] == pytest.approx((0.86 - 0.23873) / 5.2110, rel=1e-4)
    assert found["head_friction"] == pytest.approx(0.74 / 6.5, rel=1e-9)
    assert found["nut_factor"] == pytest.approx(0.16)


def test_a_stretch_in_place_of_a_load_cell():
    typed = {k: v for k, v in TEST.items() if k != "clamp_force"}
    found = FRICTION(typed, stretch="0.250 mm", bolt_stiffness="100 kN/mm", stiffness_accuracy="8 %")
    assert found["total_friction"] == pytest.approx(FRICTION(TEST)["total_friction"])
    assert found["total_friction_uncertainty"] > 3 * FRICTION(TEST, force_accuracy="2 %")["total_friction_uncertainty"]


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"torque": "5 N*m"}, "torque"),
        ({"thread_torque": "5 N*m"}, "thread_torque"),
        ({"thread_torque": "41 N*m"}, "thread_torque"),
        ({"stretch": "0.2 mm"}, "stretch"),
        ({"minimum_friction": "0.2", "maximum_friction": "0.1"}, "minimum_friction"),
    ],
)
def test_what_no_friction_explains_is_refused(typed, field):
    with pytest.raises(BadInput) as caught:
        FRICTION({**TEST, **typed})
    assert field in {p.field for p in caught.value.problems}


@differential("friction_evaluation")
def test_friction_equals_the_slow_judge():
    rng, seen = random.Random(34), set()
    for _ in range(CASES):
        typed = {"torque": f"{rng.uniform(30, 50):.1f} N*m", "thread": "M10x1.5"}
        boxes = {"torque": digits(typed["torque"])}
        if rng.random() < 0.5:
            typed["torque_accuracy"] = "3 %"
            boxes["torque"] = boxes["torque"][0], max(0.03 * boxes["torque"][0], boxes["torque"][1])
        if rng.random() < 0.5:
            typed["clamp_force"] = f"{rng.uniform(18, 28):.2f} kN"
            boxes["force"] = digits(typed["clamp_force"])
        else:
            typed |= {"stretch": f"{rng.uniform(0.2, 0.3):.3f} mm", "bolt_stiffness": "90.0 kN/mm",
                      "stiffness_accuracy": "5 %"}  # fmt: skip
            boxes |= {"stretch": digits(typed["stretch"]), "stiffness": (90.0, 4.5)}
        if bearing := rng.random() < 0.7:
            typed["bearing_mean"] = "13 mm"
        window = {"minimum_friction": (f"{rng.uniform(0.08, 0.13):.3f}", "≥"),
                  "maximum_friction": (f"{rng.uniform(0.13, 0.20):.3f}", "≤")}  # fmt: skip
        for name, (text, _) in window.items():
            typed[name] = text
            typed |= {f"{name}_source": SOURCE} if rng.random() < 0.8 else {}
        typed |= {"at_limit": "allowed"} if rng.random() < 0.5 else {}
        typed |= {"decision_rule": "simple_acceptance"} if rng.random() < 0.3 else {}

        def at_mean(D, boxes=boxes):
            def mu(torque, force=None, stretch=0.0, stiffness=0.0):
                return total(torque, force or stretch * stiffness, D)

            return furthest(mu, boxes)

        middle, half = at_mean(13.0 if bearing else (14.6 + 11) / 2)
        if "decision_rule" in typed:
            half = 0.0
        expected, ends = [], [middle - half, middle, middle + half]
        for name, (text, sign) in window.items():

            def one(mu, sign=sign, text=text, name=name, half=half, typed=typed):
                return judged(
                    [mu - half, mu, mu + half], sign, float(text), typed.get("at_limit"), f"{name}_source" in typed
                )

            outcome = one(middle)
            if not bearing:  # the size of the face is evidence that is missing; a fail must hold for every face
                fails = {one(at_mean(D)[0]) for D in (11.0, 12.8, 25.0)} == {"fail"}
                outcome = "fail" if fails else "undecided"
            expected.append(outcome)
        if not close(ends, [float(t) for t, _ in window.values()]):
            seen.add(together(expected))
            assert str(FRICTION(typed).outcome) == together(expected), typed
    assert seen == {"fail", "undecided", "no limit given", "pass"}


# ------------------------------------------------------------------------------ elongation
def test_elongation_by_hand():
    # 0.300 mm less 120 mm · 11.5e-6/K · 20 K = 0.0276 mm
    warm = {"temperature_before": "20 degC", "temperature_tightened": "40 degC", "alpha_bolt": "11.5e-6/K"}
    assert ELONGATION(LENGTHS, **warm)["stretch"] == pytest.approx(0.2724e-3)
    # 0.050 mm of it stays: 0.250 mm at 100 kN/mm
    found = ELONGATION(LENGTHS, length_loosened="120.050 mm", bolt_stiffness="100 kN/mm", stiffness_accuracy="5 %")
    assert found["permanent_set"] == pytest.approx(0.05e-3)
    assert found["preload"] == pytest.approx(25e3)


SPRING = {"bolt_stiffness": "100 kN/mm", "stiffness_accuracy": "5 %", "minimum_preload": "20 kN",
          "minimum_preload_source": SOURCE, "temperature_before": "20.0 degC", "temperature_tightened": "20.0 degC",
          "alpha_bolt": "11.5e-6/K", "at_limit": "allowed"}  # fmt: skip


def test_a_stretch_that_may_be_past_yield_proves_no_lowest_preload():
    assert str(ELONGATION(LENGTHS, **SPRING).outcome) == "undecided"  # nothing shows that it was elastic
    assert str(ELONGATION(LENGTHS, **SPRING, yield_preload="45 kN").outcome) == "pass"
    assert str(ELONGATION(LENGTHS, **SPRING, yield_preload="30 kN").outcome) == "undecided"
    loose = {"length_loosened": "120.050 mm", "temperature_loosened": "20.0 degC"}
    assert str(ELONGATION(LENGTHS, **SPRING, **loose).outcome) == "pass"
    # even as the most that it can be, it is too little
    assert str(ELONGATION({**LENGTHS, **SPRING, "minimum_preload": "40 kN"}).outcome) == "fail"


def test_without_temperatures_nothing_is_decided():
    told = {"temperature_before", "temperature_tightened", "alpha_bolt"}
    untold = {k: v for k, v in SPRING.items() if k not in told}
    assert str(ELONGATION(LENGTHS, **untold, yield_preload="45 kN").outcome) == "undecided"


def _pull(last, first, alpha=0.0, hot=0.0, cold=0.0, k=1.0):
    """Stretch in mm, or with a stiffness the preload in kN."""
    return k * (last - first - alpha * first * (hot - cold))


@differential("preload_from_elongation")
def test_elongation_equals_the_slow_judge():
    rng, seen = random.Random(35), set()
    for _ in range(CASES):
        lengths = {"length_before": 120.0, "length_tightened": 120 + rng.uniform(0.2, 0.35)}
        if loose := rng.random() < 0.5:
            lengths["length_loosened"] = 120 + rng.uniform(0.0, 0.06)
        typed = {name: f"{x:.3f} mm" for name, x in lengths.items()}
        read = {name: (float(t.split()[0]), 0.0005) for name, t in typed.items()}
        if rng.random() < 0.4:
            typed["resolution"] = "0.004 mm"
            read = {name: (x, 0.002) for name, (x, _) in read.items()}
        told = rng.random() < 0.8
        temperatures = {"length_before": 20.0, "length_tightened": rng.choice((20.0, 26.0)), "length_loosened": 22.0}
        if told:
            typed |= {f"temperature_{n.split('_')[1]}": f"{t:.1f} degC" for n, t in temperatures.items() if n in read}
            typed["alpha_bolt"] = "11.5e-6/K"
        typed |= {"bolt_stiffness": "100.0 kN/mm", "stiffness_accuracy": "4 %"}
        elastic = rng.random() < 0.6
        typed |= {"yield_preload": "60 kN"} if elastic else {}
        limits = {
            "minimum_stretch": ("≥", f"{rng.uniform(0.18, 0.28):.3f} mm"), "maximum_stretch": ("≤", f"{rng.uniform(0.27, 0.4):.3f} mm"),
            "maximum_set": ("≤", f"{rng.uniform(0.01, 0.08):.3f} mm"), "minimum_preload": ("≥", f"{rng.uniform(16, 28):.2f} kN"),
            "maximum_preload": ("≤", f"{rng.uniform(22, 40):.2f} kN"),
        }  # fmt: skip
        limits = {n: x for n, x in limits.items() if rng.random() < 0.4 and (n != "maximum_set" or loose)}
        pairs = [[float(limits[f"{end}_{what}"][1].split()[0]) for end in ("minimum", "maximum") if f"{end}_{what}" in limits]
                 for what in ("stretch", "preload")]  # fmt: skip
        if not limits or any(len(p) == 2 and p[0] > p[1] for p in pairs):
            continue
        for name, (_, text) in limits.items():
            typed[name] = text
            typed |= {f"{name}_source": SOURCE} if rng.random() < 0.85 else {}
        typed |= {"at_limit": "allowed"} if rng.random() < 0.5 else {}
        typed |= {"decision_rule": "simple_acceptance"} if rng.random() < 0.3 else {}

        def reach(last, first, k=None, told=told, temperatures=temperatures, read=read):
            boxes = {"last": read[last], "first": read[first]}
            if told:
                boxes |= {
                    "alpha": (11.5e-6, 0.05e-6),
                    "hot": (temperatures[last], 0.05),
                    "cold": (temperatures[first], 0.05),
                }
            if k:
                boxes["k"] = (100.0, 4.0)

            return furthest(_pull, boxes)

        found = {"stretch": reach("length_tightened", "length_before")}
        found["preload"] = reach("length_tightened", "length_loosened" if loose else "length_before", k=True)
        if loose:
            found["set"] = reach("length_loosened", "length_before")
        expected, ends = [], []
        for name, (sign, text) in limits.items():
            value, half = found[name.split("_")[1]]
            bound = float(text.split()[0])
            half = 0.0 if "decision_rule" in typed else half
            values = [value - half, value, value + half]
            ends += [v - bound for v in values]
            if name.endswith("preload") and not loose and not elastic:
                values = [0.0, value, value + half]
            outcome = judged(values, sign, bound, typed.get("at_limit"), f"{name}_source" in typed)
            expected.append(outcome if told else "undecided")
        if not close(ends, [0.0]):
            seen.add(together(expected))
            assert str(ELONGATION(typed).outcome) == together(expected), typed
    assert seen == {"fail", "undecided", "no limit given", "pass"}


# ------------------------------------------------------------------------------ budget
def preloads(torque, angle, k, f_y, mu_G, mu_K, embed, r, c, heat):
    """(after tightening, left) in kN, one bolt."""
    snug = torque / (0.16 * P + 0.58 * D_2 * mu_G + 6.5 * mu_K)
    tight = min(snug + k * P * angle / 360, f_y)
    return tight, tight * (1 - r - c) - k * embed + heat


def test_a_budget_by_hand():
    # snug 30 / (0.24 + 0.6282 + 0.78) = 18.20 kN; 60° of 1.5 mm at 70 kN/mm: 17.5 kN; together 35.70 kN
    found = BUDGET(TIGHTENED, **AFTERWARDS)
    snug = 30 / (0.24 + 0.58 * D_2 * 0.12 + 0.78)
    assert found["preload_highest"] == pytest.approx(1e3 * (snug + 17.5))
    assert found["preload_lowest"] == pytest.approx(1e3 * ((snug + 17.5) * 0.93 - 0.7 + 1))
    assert found["preload_lowest"] == found["preload_middle"] == pytest.approx(found["preload_mean"])


@pytest.mark.parametrize("name", ["yield_preload", "embedment", "relaxation", "gasket_creep", "heat_change"])
def test_a_loss_that_is_not_typed_is_not_zero(name):
    limit = {"minimum_preload": "10 kN", "minimum_preload_source": SOURCE}
    assert str(BUDGET(TIGHTENED, **AFTERWARDS, **limit).outcome) == "pass"
    rest = {k: v for k, v in AFTERWARDS.items() if not k.startswith(name)}
    assert str(BUDGET(TIGHTENED, **rest, **limit).outcome) == "undecided"


def test_the_draws_agree_with_an_exact_sum():
    """Heat alone, rectangular from 0 to 4 kN: mean 2, 95 % from 0.1 to 3.9 kN more than without."""
    found = BUDGET({**TIGHTENED, **AFTERWARDS, "heat_change": "0–4 kN", "draws": "200000"})
    without = BUDGET({**TIGHTENED, **AFTERWARDS, "heat_change": "0 kN"})["preload_mean"]
    for name, more in (("preload_mean", 2.0), ("preload_p025", 0.1), ("preload_p975", 3.9)):
        assert found[name] - without == pytest.approx(1e3 * more, abs=15)
    assert found["contributions"][0]["share"].value == pytest.approx(1.0, abs=1e-3)


def test_shares_follow_the_law_of_propagation():
    """Torque ±10 % and angle ±5° on a straight line: the shares are the squares of the half-widths (JCGM 101)."""
    found = BUDGET({**TIGHTENED, **AFTERWARDS, "torque": "30 N*m ± 10 %", "angle": "60 deg ± 5 deg", "draws": "400000"})
    snug = 30 / (0.24 + 0.58 * D_2 * 0.12 + 0.78)
    parts = np.array([0.1 * snug, 70 * P * 5 / 360]) ** 2
    rows = {row["cause"].value: row["share"].value for row in found["contributions"]}
    assert rows["Torque"] == pytest.approx(parts[0] / parts.sum(), abs=5e-3)


@differential("preload_budget")
def test_a_budget_equals_the_slow_judge():
    rng, seen = random.Random(36), set()
    names = ("torque", "angle", "series_stiffness", "yield_preload", "mu_thread", "mu_head", "embedment", "relaxation",
             "gasket_creep", "heat_change")  # fmt: skip
    middles = (30, 70, 70, 40, 0.12, 0.13, 0.01, 2, 6, 1.5)
    units = ("N*m", "deg", "kN/mm", "kN", "", "", "mm", "%", "%", "kN")
    for _ in range(CASES):
        typed, ranges = {"thread": "M10x1.5", "bearing_mean": "13 mm", "draws": "1000"}, {}
        wide = set(rng.sample(names, 4))
        for name, middle, unit in zip(names, middles, units, strict=True):
            low, high = middle * rng.uniform(0.7, 1.0), middle * rng.uniform(1.0, 1.3)
            ends = (f"{low:.4g}", f"{high:.4g}") if name in wide else (f"{low:.4g}",)
            typed[name] = f"{'–'.join(ends)} {unit}".strip()
            ranges[name] = tuple(float(x) / (100 if unit == "%" else 1) for x in ends)
        typed |= {"relaxation_source": SOURCE, "gasket_creep_source": SOURCE}
        if rng.random() < 0.15:
            gone = rng.choice(("yield_preload", "embedment", "relaxation", "gasket_creep", "heat_change"))
            typed = {k: v for k, v in typed.items() if not k.startswith(gone)}
            ranges[gone] = (1e9,) if gone == "yield_preload" else (0.0,)
        else:
            gone = ""
        lowest, highest = math.inf, -math.inf
        ks = ranges.pop("series_stiffness")
        for mix in itertools.product(*ranges.values()):
            at = dict(zip(ranges, mix, strict=True))
            snug = preloads(at["torque"], 0, 0, 1e9, at["mu_thread"], at["mu_head"], 0, 0, 0, 0)[0]
            peak = (at["yield_preload"] - snug) / (P * at["angle"] / 360)
            for k in {*np.linspace(ks[0], ks[-1], 9), min(max(peak, ks[0]), ks[-1])}:
                tight, left = preloads(at["torque"], at["angle"], k, at["yield_preload"], at["mu_thread"], at["mu_head"],
                                       at["embedment"], at["relaxation"], at["gasket_creep"], at["heat_change"])  # fmt: skip
                lowest, highest = min(lowest, left), max(highest, tight, left)
        expected = []
        for name, sign, found, lost in (("minimum_preload", "≥", lowest, bool(gone)),
                                        ("maximum_preload", "≤", highest, gone == "heat_change")):  # fmt: skip
            bound = f"{found + rng.uniform(-3, 3):.3f}"
            source = rng.random() < 0.85
            typed |= {name: f"{bound} kN"} | ({f"{name}_source": SOURCE} if source else {})
            outcome = judged([found], sign, float(bound), "allowed", source)
            expected.append("undecided" if lost and outcome != "fail" else outcome)
        if float(typed["minimum_preload"].split()[0]) > float(typed["maximum_preload"].split()[0]):
            continue
        seen.add(together(expected))
        assert str(BUDGET(typed).outcome) == together(expected), typed
    assert seen == {"fail", "undecided", "no limit given", "pass"}


def test_the_highest_preload_may_lie_inside_a_range():
    """The stiffness at which the bolt just yields: 18.20 kN + k · 0.25 mm = 40 kN.  Stiffer, the parts settle off more."""
    snug = 30 / (0.24 + 0.58 * D_2 * 0.12 + 0.78)
    typed = {**TIGHTENED, **AFTERWARDS, "yield_preload": "40 kN", "relaxation": "0 %", "gasket_creep": "0 %",
             "embedment": "0.020 mm", "heat_change": "5 kN", "series_stiffness": "60–120 kN/mm"}  # fmt: skip
    peak = (40 - snug) / 0.25
    assert 60 < peak < 120
    assert BUDGET(typed)["preload_highest"] == pytest.approx(1e3 * (40 - 0.020 * peak + 5))
