"""Tightening over the whole range of bolts and joints: closed forms, monotone, units, history."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shoplib.core.tightening_program import read_stage
from shoplib.core.units import Unreadable
from shoplib.physics import angle, preload, scatter, tightening
from shoplib.topics import get
from tests.topics.tightening_inputs import MODEL, STAGED

PATIENT = settings(deadline=None)  # the first call fills the cache of units
frictions = st.floats(0.04, 0.35)
angles = st.floats(0.0, 2 * np.pi)
torques = st.floats(1.0, 150.0)


@st.composite
def bolts(draw, lanes=1):
    """A bolt in its joint, from M6 to about M24, weakest in a shank or a thread."""
    d = draw(st.floats(6e-3, 24e-3))
    P = draw(st.floats(0.08, 0.16)) * d
    A_0 = np.pi / 4 * (draw(st.floats(0.78, 0.9)) * d) ** 2
    l, ratio = draw(st.floats(1.0, 20.0)) * d, draw(st.floats(0.3, 20.0))
    R_p = draw(st.floats(300e6, 1100e6))
    delta_S = l / (205e9 * A_0)
    mu = np.array([draw(frictions) for _ in range(lanes)])
    return tightening.model(
        P=P, d_2=d - 0.65 * P, D_Km=1.3 * d, A_0=A_0, W_P=np.pi / 12 * (4 * A_0 / np.pi) ** 1.5, delta_S=delta_S,
        delta_P=delta_S / ratio, l_0=draw(st.floats(0.6, 10.0)) * d, epsilon_u=draw(st.floats(0.01, 0.2)), R_p=R_p,
        R_m=R_p * draw(st.floats(1.01, 1.6)), mu_G=mu, mu_K=mu,
    )  # fmt: skip


def end(m, stages):
    return tightening.run(m, stages, m.F_y.shape)[-1]


def clamp(m, stages):
    return end(m, stages).preload(m)


# ------------------------------------------------------------------------------ closed forms
@given(bolts(), st.floats(0.01, 0.5), st.floats(0.0, 0.45))
def test_elastic_angle_is_the_closed_form(m, snug, more):
    F_0, F_1 = snug * m.F_y, more * m.F_y
    theta = 2 * np.pi * F_1 * m.delta / m.P
    found = clamp(m, [("torque", m.torque(F_0)), ("angle", theta)])
    assert found == pytest.approx(F_0 + F_1, rel=1e-9)
    assert found == pytest.approx(F_0 + m.P * theta / (2 * np.pi) / m.delta, rel=1e-9)
    assert end(m, [("torque", m.torque(F_0)), ("angle", theta)]).u_p == 0


@given(bolts(), st.floats(0.0, 1.0))
def test_angle_of_preload_and_preload_of_angle_are_inverse(m, part):
    F = m.F_y + part * (m.F_m - m.F_y)
    u_p = angle.plastic_elongation(F, m.F_y, m.F_m, m.u_u)
    s = angle.position(F, m.delta, u_p)
    assert angle.preload_past_yield(s, m.delta, m.F_y, m.F_m, m.u_u) == pytest.approx(F, rel=1e-9)
    state = end(m, [("angle", angle.angle_of_travel(s * (1 - 1e-9), m.P))])
    assert not state.broken and state.preload(m) == pytest.approx(F, rel=1e-6)


@given(bolts(), st.floats(1e-6, 3.0))
def test_the_travel_is_spent_on_give_and_lengthening(m, turns):
    state = end(m, [("angle", 2 * np.pi * turns)])
    F = state.preload(m)
    if not state.broken:
        assert F * m.delta + state.u_p == pytest.approx(m.P * turns, rel=1e-9)
        assert 0 <= F <= m.F_m * (1 + 1e-12) and 0 <= state.u_p <= m.u_u * (1 + 1e-9)
        assert angle.bolt_elongation(F, m.delta_S, state.u_p) <= m.P * turns * (1 + 1e-12)
    else:
        assert np.isnan(F) and m.P * turns > m.F_m * m.delta + m.u_u


def test_at_yield_and_at_necking_it_says_which():
    m = tightening.model(P=1.5e-3, d_2=9.026e-3, D_Km=13e-3, A_0=55.4e-6, W_P=155e-9, delta_S=1 / 95.4e6,
                         delta_P=1 / 286e6, l_0=0.1, epsilon_u=0.05, R_p=940e6, R_m=1040e6, mu_G=np.array([0.12]),
                         mu_K=np.array([0.12]))  # fmt: skip
    at_yield = angle.angle_of_travel(m.F_y * m.delta, m.P)
    at_neck = angle.angle_of_travel(angle.necking_position(m.F_m, m.delta, m.u_u), m.P)
    assert end(m, [("angle", at_yield * (1 - 1e-9))]).u_p == 0 and end(m, [("angle", at_yield * (1 + 1e-6))]).u_p > 0
    assert not end(m, [("angle", at_neck * (1 - 1e-9))]).broken and end(m, [("angle", at_neck * (1 + 1e-9))]).broken
    assert not end(m, [("torque", m.torque(m.F_m) * (1 - 1e-9))]).broken
    assert end(m, [("torque", m.torque(m.F_m) * (1 + 1e-9))]).broken


@given(bolts(lanes=3), st.integers(5, 700))
def test_the_whole_curve_is_what_the_stages_give(m, points):
    F, s = tightening.curve(m, points, np.zeros(3))
    assert F.shape == s.shape == (3, points)
    assert (np.diff(s, axis=1) > 0).all() and (np.diff(F, axis=1) > 0).all()
    k = points // 2
    assert clamp(m, [("angle", angle.angle_of_travel(s[:, k], m.P))]) == pytest.approx(F[:, k], rel=1e-8)


# ------------------------------------------------------------------------------ monotone
@given(bolts(), torques, angles, angles)
def test_preload_never_falls_with_angle(m, T, one, two):
    less, more = sorted((one, two))
    F = [clamp(m, [("torque", T), ("angle", theta)]) for theta in (less, more)]
    assert np.isnan(F[1]) or F[1] >= F[0] * (1 - 1e-12)


@given(bolts(), torques, torques, angles)
def test_preload_rises_with_torque(m, one, two, theta):
    less, more = sorted((one, two))
    for after in ([], [("angle", theta)]):
        F = [clamp(m, [("torque", T), *after]) for T in (less, more)]
        assert np.isnan(F[1]) or F[1] >= F[0] * (1 - 1e-12)


@given(bolts(lanes=2), torques, angles)
def test_preload_falls_with_friction_at_equal_torque(m, T, theta):
    low, high = np.argsort(m.mu_G)
    for stages in ([("torque", T)], [("torque", T), ("angle", theta)]):
        F = clamp(m, stages)
        assert np.isnan(F).any() or F[low] >= F[high] * (1 - 1e-12)


@given(bolts(lanes=2), st.floats(0.05, 0.9), angles)
def test_an_angle_never_spreads_friction_wider(m, snug, theta):
    # per unit: the same travel is added to both, so the ratio can only shrink while elastic
    low, high = np.argsort(m.mu_G)
    T = snug * float(m.torque(m.F_y).min())
    before, after = clamp(m, [("torque", T)]), clamp(m, [("torque", T), ("angle", theta)])
    if (after < m.F_y).all():
        assert after[low] / after[high] <= before[low] / before[high] * (1 + 1e-12)


@given(bolts(), torques)
def test_torque_alone_and_torque_then_no_angle_agree(m, T):
    alone, none = clamp(m, [("torque", T)]), clamp(m, [("torque", T), ("angle", 0.0)])
    if abs(T - m.torque(m.F_m)[0]) > 1e-9 * T:  # on the edge of necking rounding decides
        assert none == pytest.approx(alone, rel=1e-9, nan_ok=True)


# ------------------------------------------------------------------------------ history
@given(bolts(), st.floats(0.0, 0.999), st.floats(0.01, 0.99))
def test_letting_off_leaves_the_set_and_coming_back_finds_the_curve(m, part, back):
    full = float(angle.necking_position(m.F_m, m.delta, m.u_u)[0])
    up = ("angle", angle.angle_of_travel(part * full, m.P))
    state = end(m, [up])
    F, let = state.preload(m), back * angle.angle_of_travel(state.s - state.u_p, m.P)
    off = end(m, [up, ("loosen", let)])
    assert off.u_p == state.u_p
    assert off.preload(m) == pytest.approx((1 - back) * F, rel=1e-9, abs=1e-6)
    again = end(m, [up, ("loosen", let), ("angle", let)])
    assert again.preload(m) == pytest.approx(F, rel=1e-9, abs=1e-6)
    assert again.u_p == pytest.approx(state.u_p, rel=1e-6, abs=1e-9)
    part_way = end(m, [up, ("loosen", let), ("angle", let / 2)])
    assert part_way.u_p == state.u_p  # the set is not forgotten on the way back
    assert part_way.preload(m) == pytest.approx((1 - back / 2) * F, rel=1e-9, abs=1e-6)
    free = end(m, [up, ("loosen", None)])
    assert free.preload(m) == 0 and free.u_p == state.u_p


@given(bolts(), torques, st.floats(0.1, 1.0))
def test_a_repeated_torque_turns_nothing(m, T, part):
    once, twice = clamp(m, [("torque", T)]), clamp(m, [("torque", T), ("repeat", part * T)])
    assert np.array_equal(once, twice, equal_nan=True)


@given(bolts(), st.lists(st.floats(0.0, 1.0), min_size=1, max_size=5))
def test_angles_in_pieces_are_the_angle_in_one(m, pieces):
    whole = clamp(m, [("angle", sum(pieces))])
    assert clamp(m, [("angle", piece) for piece in pieces]) == pytest.approx(whole, rel=1e-9, nan_ok=True)


@given(bolts(lanes=4), torques, angles)
def test_many_at_once_are_each_alone(m, T, theta):
    together = clamp(m, [("torque", T), ("angle", theta)])
    for n in range(4):
        one = tightening.Model(**{**vars(m), **{k: getattr(m, k)[n : n + 1] for k in ("mu_G", "mu_K", "F_y", "F_m")}})
        assert clamp(one, [("torque", T), ("angle", theta)])[0] == pytest.approx(together[n], rel=1e-12, nan_ok=True)


# ------------------------------------------------------------------------------ units and the stage grammar


@PATIENT
@given(st.integers(10, 60), st.integers(0, 150))
def test_the_same_joint_in_inches_is_the_same_joint(T, theta):
    metric = STAGED(MODEL | {"stages": f"{T} N*m; +{theta} deg"})
    inch = MODEL | {
        "stages": f"{T / 1.3558179483314004:.17g} ft-lb; +{theta / 360:.17g} turn",
        "shank_diameter": f"{8.4 / 25.4:.17g} in", "shank_length": f"{100 / 25.4:.17g} in",
        "thread_length": f"{20 / 25.4:.17g} in", "bearing_mean": f"{13 / 25.4:.17g} in",
        "yield_strength": f"{940e6 / 6894757.293168361:.17g} ksi",
        "tensile_strength": f"{1040e6 / 6894757.293168361:.17g} ksi",
        "parts_stiffness": f"{286.1e6 * 0.0254 / 4.4482216152605e6:.17g} Mlbf/in",
        "bolt_modulus": f"{205e9 / 6894757293.168361:.17g} Mpsi",
    }  # fmt: skip
    inch = STAGED(inch)
    for name in (
        "preload",
        "preload_low",
        "preload_high",
        "torque",
        "elongation",
        "plastic_elongation",
        "spread_ratio",
    ):
        assert inch[name] == pytest.approx(metric[name], rel=1e-9, abs=1e-12), name
    assert inch["yielded"] == metric["yielded"]


@PATIENT
@given(st.text(max_size=40))
def test_any_text_is_a_stage_or_says_what_to_type(text):
    try:
        stage = read_stage(text)
    except Unreadable as error:
        assert str(error)
    else:
        assert stage.value is None or (np.isfinite(stage.value) and 0 <= stage.low <= stage.value <= stage.high)


@PATIENT
@given(st.sampled_from(["10 N*m", "30 N*m", "37–43 N*m", "repeat 30 N*m", "+20 deg", "+85–95 deg", "check >= 20 N*m"]),
       st.lists(st.sampled_from(["20 N*m", "+30 deg", "+400 deg", "loosen 5 deg", "wait 1 min"]), max_size=4))  # fmt: skip
def test_the_band_holds_what_is_typed(first, rest):
    result = STAGED(MODEL | {"stages": ["15 N*m", first, *rest, "25 N*m"]})
    for low, mid, high in zip(*(result[n] for n in ("preload_low", "preload", "preload_high")), strict=True):
        if None not in (low, mid, high):
            assert low <= mid * (1 + 1e-12) and mid <= high * (1 + 1e-12)
    assert len({len(v.value) for k, v in result.values.items() if isinstance(v.value, list)}) == 1


# ------------------------------------------------------------------------------ drawing
def test_shares_of_a_sum_are_those_of_its_parts():
    # a sum of independent rectangular draws: each part's share is its variance over the whole, known exactly
    rng = np.random.default_rng(7)
    u = rng.random((3, 300_000))
    weights = np.array([1.0, 2.0, 3.0])
    F = 50 + weights @ u
    u = np.vstack([u, rng.random(300_000)])  # and one that does nothing
    names = ("one", "two", "three", "none")
    label = {name: scatter.classes(row) for name, row in zip(names, u, strict=True)}
    found = scatter.shares(F, label)
    assert [found[n] for n in names[:3]] == pytest.approx(weights**2 / (weights**2).sum(), abs=0.004)
    assert found["none"] == pytest.approx(0, abs=0.001)
    assert set(scatter.shares(np.ones(300_000), label).values()) == {0.0}


@pytest.mark.parametrize("r", [0.0, 0.3, 0.7, 1.0])
def test_friction_is_correlated_as_asked(r):
    u, v = scatter.correlated(np.random.default_rng(3), 200_000, r)
    assert np.corrcoef(u, v)[0, 1] == pytest.approx(r, abs=0.006)
    for draws in (u, v):
        assert np.histogram(draws, 10, (0, 1))[0] / 200_000 == pytest.approx(np.full(10, 0.1), abs=0.004)


def test_drawn_scatter_is_the_exact_one_where_that_is_known():
    # elastic torque alone: F = T / (c + b mu), friction rectangular, so mean and variance are integrals
    typed = MODEL | {"stages": "25 N*m", "torque_percent": "0 %", "angle_error": "0 deg", "yield_percent": "0 %"}
    row = get("preload_scatter")(typed | {"draws": "1000000", "seed": "5"})["torque_only"][0]
    c, b, lo, hi = 0.16 * 1.5e-3, 0.58 * (10e-3 - 0.649519 * 1.5e-3) + 6.5e-3, 0.10, 0.16
    mean = 25 * np.log((c + b * hi) / (c + b * lo)) / (b * (hi - lo))
    square = 25**2 * (1 / (c + b * lo) - 1 / (c + b * hi)) / (b * (hi - lo))
    assert row["mean"].value == pytest.approx(mean, rel=5e-4)
    assert row["sd"].value == pytest.approx(np.sqrt(square - mean**2), rel=2e-3)
    assert row["share_friction"].value == pytest.approx(1, abs=2e-3)
    assert (row["p05"].value, row["p95"].value) == pytest.approx(
        tuple(preload.preload(25, 1.5e-3, 10e-3 - 0.649519 * 1.5e-3, 13e-3, mu, mu) for mu in (0.157, 0.103)), rel=1e-3
    )


def test_both_methods_have_the_same_mean_and_the_seed_decides():
    typed = MODEL | {"torque_percent": "4 %", "angle_error": "5 deg", "yield_percent": "5 %", "draws": "20000"}
    for stages, seed in itertools.product(("40 N*m; +60 deg", "40 N*m; +90 deg; +30 deg", "40 N*m"), ("1", "2")):
        result = get("preload_scatter")(typed | {"stages": stages, "seed": seed})
        one, two = (result[name][0]["mean"].value for name in ("torque_only", "torque_angle"))
        assert one == pytest.approx(two, rel=1e-9)
        again = get("preload_scatter")(typed | {"stages": stages, "seed": seed})
        assert again.to_json() == result.to_json()
    with_torque_only = result["torque_only"][0]["sd"].value, result["torque_angle"][0]["sd"].value
    assert with_torque_only[0] == pytest.approx(with_torque_only[1], rel=1e-12)  # no angle: one and the same method
