"""The parts of the evaluation of a trace: worked by hand, or against the plain definition worked one sample at a time.

Angles are small whole numbers where the unit does not matter.
"""

from math import hypot, inf, isinf, radians, sqrt

import numpy as np
import pytest

from shoplib.physics import traces
from shoplib.physics.traces import Evaluation, Point

near = lambda value, rel=1e-12: pytest.approx(value, rel=rel, abs=1e-12)  # noqa: E731  short, it is used in every line


def uneven(many, seed=0):
    """Rising places at uneven distances."""
    return np.cumsum(np.random.default_rng([seed, many]).uniform(0.2, 1.8, many))


# ------------------------------------------------------------------------------ noise, median, peak, bins
@pytest.mark.parametrize(
    ("torque", "noise"),
    [
        ([0, 1, 0, 1], 0.0),  # too few
        ([0, 1, 0, 1, 0], 2 / 0.6745 / sqrt(6)),
        ([0, 1, 2, 3, 4], 1 / sqrt(12)),  # only the step of the display is left
        ([-4, -3, -2, -1, 0], 1 / sqrt(12)),
        ([7.0] * 6, 0.0),
        ([0.0] * 6, 0.0),
        ([0] * 6 + [1.02e-7, 100], 1.02e-7 / sqrt(12)),
        ([0] * 6 + [-1.02e-7, -100], 1.02e-7 / sqrt(12)),
        ([0] * 6 + [1e-9, 1.0], (1 - 1e-9) / sqrt(12)),  # a step of a thousand-millionth is none
    ],
)
def test_noise(torque, noise):
    assert traces.noise_of(np.array(torque, float)) == near(noise, 1e-9)


@pytest.mark.parametrize("many", [0, 1, 2, 3, 4, 5, 40])
def test_median_of_three(many):
    y = np.random.default_rng(many).integers(0, 9, many).astype(float)
    expected = [sorted(y[k - 1 : k + 2])[1] if 0 < k < many - 1 else y[k] for k in range(many)]
    assert traces._median_of_three(y).tolist() == expected


@pytest.mark.parametrize("many", [1, 50, 199, 200, 208, 2500, 2599, 2700])
def test_peak_is_the_highest_short_mean(many):
    x, y = uneven(many), np.random.default_rng(many).normal(0, 1, many)
    width = min(max(many // 100, 1), 25)
    means = [sum(y[k : k + width]) / width for k in range(many - width + 1)]
    k = means.index(max(means))
    part = x[k : k + width]
    found = traces._peak(x, y)
    assert (found.angle, found.uncertainty, found.torque) == near(
        (sum(part) / width, (part[-1] - part[0]) / 2, means[k]), 1e-9
    )


@pytest.mark.parametrize(
    ("x", "most", "bins"),
    [
        ([0, 1, 2, 3, 4, 5, 6, 7, 8], 4, [[0, 1], [2, 3], [4, 5], [6, 7, 8]]),  # a place on an edge lies above it
        ([0, 0.5, 1, 9, 10, 12], 3, [[0, 0.5, 1], [9, 10, 12]]),  # an empty one is left out
        ([0, 0.5, 5, 9, 10, 12], 3, [[0, 0.5], [5], [9, 10, 12]]),
        ([0, 0.1, 0.2, 4], 4, [[0], [0.1], [0.2], [4]]),  # no more samples than bins: as they are
        ([0, 0.1, 0.2, 4, 8], 4, [[0, 0.1, 0.2], [4], [8]]),
    ],
)
def test_bins(x, most, bins):
    x = np.array(x, float)
    bx, by, n = traces._binned(x, x**2, most)
    assert bx.tolist() == near([sum(b) / len(b) for b in bins])
    assert by.tolist() == near([sum(v * v for v in b) / len(b) for b in bins])
    assert n.tolist() == [len(b) for b in bins]


# ------------------------------------------------------------------------------ releases
def released(low, *, shift=0.0, step=0.1, at=100.0, peak=120.0, wound=8):
    """Degrees and torque: up to ``at``, a fall to ``low`` with the gauge at rest, ``at`` again ``shift`` further on, up to ``peak``."""
    up = np.arange(1, 41)
    angle = [*(up * step), *[40 * step] * wound]
    torque = [*np.minimum(up * at / 37, at), *[low] * wound]
    angle += [40 * step + shift, *(40 * step + shift + step * np.arange(1, 9))]
    torque += [at, *(at + (peak - at) * np.arange(1, 9) / 8)]
    return np.radians(angle), np.array(torque)


def strokes(noise=0.0, **how):
    return traces._without_releases(*released(**how), noise)[2]


@pytest.mark.parametrize(
    ("how", "count"),
    [
        ({"low": 59.9}, 1),
        ({"low": 60.0}, 0),  # six tenths are no release
        ({"low": 60.1}, 0),
        ({"low": 53.9, "noise": 2.0}, 1),
        ({"low": 54.0, "noise": 2.0}, 0),
        ({"low": 0.0, "at": 12.01}, 1),  # below a tenth of the peak nothing is a release
        ({"low": 0.0, "at": 11.99}, 0),
        ({"low": 0.0, "at": 12.0}, 0),
        ({"low": 0.0, "at": 15.1, "noise": 1.0}, 1),
        ({"low": 0.0, "at": 14.9, "noise": 1.0}, 0),
        ({"low": 0.0, "wound": 1}, 0),  # one odd sample
    ],
)
def test_what_a_release_is(how, count):
    assert strokes(**how) == count


@pytest.mark.parametrize(
    ("step", "shift", "off"),
    [(0.1, 0.2, 0), (0.1, 0.99, 0), (0.1, 1.01, 1.01), (0.3, 0.99, 0), (0.5, 1.49, 0), (0.5, 1.51, 1.51), (0.1, -1.01, -1.01)],
)  # fmt: skip
def test_what_the_gauge_turns_alone_is_taken_off(step, shift, off):
    angle, torque = released(low=0.0, shift=shift, step=step)
    turned, kept, _, lost = traces._without_releases(angle, torque, 0.0)
    assert lost == near(radians(off), 1e-9)
    assert turned[:48].tolist() == angle[:48].tolist()
    assert turned[48:] == near(angle[48:] - radians(off), 1e-9)
    # of the release nothing is kept, nor what lies within 0.4° of its place
    stood = radians(40 * step)
    for k, keeps in enumerate(kept):
        if k < 40:
            assert keeps == (angle[k] < stood - radians(0.4))
        elif k < 48:
            assert not keeps
        else:
            assert keeps == (turned[k] > stood + radians(0.4))


def test_the_last_release_leaves_nothing_after_it():
    angle, torque = released(low=0.0)
    _, kept, count, lost = traces._without_releases(angle[:48], torque[:48], 0.0)
    assert (count, lost) == (0, 0.0)
    assert kept.tolist() == [True] * 40 + [False] * 8


SLOW_FALL = np.radians([0, 2, 4, 6, 6.2, 6.4, 6.6, 6.8, 7, 7.5, 3, 3, 5, 9.5, 10, 10.1, 11])


def test_a_slow_fall_worked_by_hand():
    """The fall begins at 98 of 100 (6.4°), the wrench stands at 7° where it is a release; 98 is regained at 9.4545°."""
    torque = np.array([20, 60, 100, 100, 98, 98, 80, 70, 59, 30, 0, 0, 0, 99, 99.5, 101, 102.0])
    turned, kept, count, lost = traces._without_releases(SLOW_FALL, torque, 0.0)
    assert (count, lost) == (1, near(radians(5 + 4.5 * 98 / 99 - 7), 1e-9))
    assert turned == near(SLOW_FALL - np.where(np.arange(17) >= 13, lost, 0), 1e-9)
    assert kept.tolist() == [True] * 6 + [False] * 8 + [True] * 3


def test_a_slow_fall_in_noise_worked_by_hand():
    """94.5 is below 98 less three times the noise, so the fall begins at 6°; 99 is 100 less the noise, at 9.5°."""
    torque = np.array([20, 60, 100, 100, 94.5, 94.5, 80, 70, 59, 30, 0, 0, 0, 99, 99.5, 101, 102.0])
    _, kept, count, lost = traces._without_releases(SLOW_FALL, torque, 1.0)
    assert (count, lost) == (1, near(radians(9.5 - 7.5), 1e-9))
    assert kept.tolist() == [True] * 4 + [False] * 10 + [True] * 3


def test_the_level_is_that_of_three_samples():
    angle = np.radians([0, 1, 2, 3, 4, 4, 4, 4, 10, 12, 13])
    torque = np.array([20, 60, 90, 98, 100, 100, 0, 0, 99, 101, 110.0])
    # the fall begins at the sixth sample; 100, the median of 98, 100, 100 there, is regained midway from 10 to 12
    _, _, _, lost = traces._without_releases(angle, torque, 0.0)
    assert lost == near(radians(11 - 4), 1e-9)


def test_two_releases():
    angle, torque = released(low=0.0, shift=2.0)
    again, more = released(low=0.0, shift=3.0, at=120.0, peak=150.0)
    _, _, count, lost = traces._without_releases(
        np.concatenate((angle, again[40:] - again[40] + angle[-1])), np.concatenate((torque, more[40:])), 0.0
    )
    assert (count, lost) == (2, near(radians(5.0), 0.02))


def test_a_release_right_after_the_start():
    angle = np.radians([0.0, 1, 1, 1, 1, 6, 8, 10, 12, 14])
    torque = np.array([98.5, 100, 0, 0, 0, 99, 99.5, 105, 105, 110])
    turned, kept, count, lost = traces._without_releases(angle, torque, 0.0)
    # the fall began at the second sample; 99.25, the median of the two, is regained midway from 99 to 99.5: at 7°
    assert count == 1
    assert lost == near(radians(6.0), 1e-9)
    assert np.degrees(turned[6:]) == near([2, 4, 6, 8], 1e-9)
    assert kept.tolist() == [True, False, False, False, False, False, True, True, True, True] or not kept[2:6].any()


@pytest.mark.parametrize(
    ("level", "low", "high", "at"), [(2.5, 2.0, 3.0, 15.0), (1.0, 2.0, 3.0, 10.0), (1.9, 2.0, 2.0, 20.0), (2.0, 3.0, 2.0, 20.0)]
)  # fmt: skip
def test_where_a_torque_is_regained(level, low, high, at):
    assert traces._reached(level, low, high, 10.0, 20.0) == at


# ------------------------------------------------------------------------------ slopes
def line_of(x, y, w):
    """Weighted straight line and parabola by least squares: slope, curvature, and their errors for a unit error of y."""
    root = np.sqrt(w)
    u = x - np.average(x, weights=w)
    flat, bent = (np.stack([u**k for k in range(n)], axis=1) * root[:, None] for n in (2, 3))
    slope = np.linalg.lstsq(flat, y * root, rcond=None)[0][1]
    bend = np.linalg.lstsq(bent, y * root, rcond=None)[0][2]
    errors = sqrt(np.linalg.inv(flat.T @ flat)[1, 1]), sqrt(np.linalg.inv(bent.T @ bent)[2, 2])
    return slope, bend, *errors


def best_of(x, y, w, noise, rise):
    """The same choice from all pieces of four knots or more, one at a time."""
    error, good = max(noise, 1e-4 * rise), []
    for i in range(len(x)):
        for j in range(i + 3, len(x)):
            part = slice(i, j + 1)
            slope, bend, of_slope, of_bend = line_of(x[part], y[part], w[part])
            long = x[j] - x[i]
            straight = abs(bend) < 3 * error * of_bend or 2 * abs(bend) * long / abs(slope) < 0.02
            if straight and slope > 0 and slope * long > 0.2 * rise:
                good.append((error * of_slope / slope, slope, i, j))
    if not good:
        return None
    limit = max(0.02, 1.5 * min(good)[0])
    steepest = max(slope * (1 - 2 * r) for r, slope, *_ in good if r <= limit)
    return min(g for g in good if g[1] * (1 + 2 * g[0]) >= steepest)[2:]


@pytest.mark.parametrize("seed", range(40))
def test_the_straight_piece_is_the_one_of_the_plain_search(seed):
    rng = np.random.default_rng(seed)
    m = int(rng.integers(4, 13))
    x, w = uneven(m, seed), rng.integers(1, 5, m).astype(float)
    bent = rng.uniform(0, 0.15)
    noise = 10 ** rng.uniform(-5, -1) if seed % 5 else 0.0
    y = (
        x
        - bent * np.maximum(x - x[m // 2], 0) ** 2
        - bent * np.maximum(x[m // 4] - x, 0) ** 2
        + rng.normal(0, noise, m)
    )
    rise = float(np.ptp(y)) * rng.uniform(0.9, 2.5)
    best = best_of(x, y, w, noise, rise)
    assert traces._best_segment(x, y, w, noise, rise) == best
    assert noise < 1e-3 or traces._best_segment(x + 1e4, y, w, noise, rise) == best  # wherever the angle counts from


@pytest.mark.parametrize("size", [1e-3, 1.0, 1e3])
@pytest.mark.parametrize("noise", [0.0, 1e-6])
def test_of_two_slopes_the_steeper_piece_is_chosen(size, noise):
    x = np.arange(10.0)
    y = np.where(x < 5, x, 5 + 1.01 * (x - 5)) * size
    assert traces._best_segment(x, y, np.ones(10), noise * size, 9 * size) == (5, 9)
    assert traces._best_segment(x, y, np.ones(10), 0.1 * size, 9 * size) == (0, 9)  # in noise they are one


def test_fewer_than_four_knots_have_no_straight_piece():
    x = np.arange(4.0)
    assert traces._best_segment(x[:3], x[:3], np.ones(3), 0.1, 1.0) is None
    assert traces._best_segment(x, x, np.ones(4), 0.1, 1.0) == (0, 3)
    assert traces._best_segment(x, -x, np.ones(4), 0.1, 1.0) is None
    assert traces._best_segment(x, x, np.ones(4), 0.01, 14.9) == (0, 3)
    assert traces._best_segment(x, x, np.ones(4), 0.01, 15.1) is None  # a fifth of the torque


@pytest.mark.parametrize("seed", range(6))
def test_local_slopes_are_those_of_the_windows(seed):
    x = np.cumsum(np.random.default_rng(seed).integers(0, 4, 60)) * 0.5
    y = np.random.default_rng(seed).normal(0, 1, 60) + x**1.5
    grid = np.arange(-4, x[-1] + 4, 0.5)
    slopes, count = traces._local_slopes(x, y, grid, 1.5)
    far, _ = traces._local_slopes(x + 2.0**20, y, grid + 2.0**20, 1.5)
    high, _ = traces._local_slopes(x, y + 2.0**30, grid, 1.5)
    assert far == pytest.approx(slopes, rel=1e-9)
    assert high == pytest.approx(slopes, rel=1e-4, abs=1e-6)
    for at, slope, n in zip(grid, slopes, count, strict=True):
        inside = np.abs(x - at) <= 1.5
        if len({*x[inside]}) < 2:
            assert (slope, n) == (inf, 0)
        else:
            assert n == inside.sum()
            assert slope == pytest.approx(np.polyfit(x[inside], y[inside], 1)[0], rel=1e-6, abs=1e-9)


@pytest.mark.parametrize(("apart", "told"), [(1.40e-6, False), (1.43e-6, True)])
def test_two_samples_at_nearly_one_place_tell_no_slope(apart, told):
    x = np.array([0.0, apart])
    slope, n = traces._local_slopes(x, x * 3, np.array([0.0]), 1.0)
    assert n.tolist() == [2 if told else 0]
    assert slope[0] == (near(3.0, 1e-6) if told else inf)


# ------------------------------------------------------------------------------ the straight part
def rising(step=0.5, noise=0.0, *, bend=0.0, until=60.0, knee=45.0, slope=2.0, base=0.0, start=12.0):
    """Degrees and torque: level until ``start``, straight to ``knee``, then level."""
    x = np.arange(0.0, until + step / 2, step)
    run = np.clip(x, start, knee) - start
    return x, base + slope * run + bend * run**2 + noise * np.cos(37.0 * np.arange(len(x)))


@pytest.mark.parametrize(
    ("step", "noise", "bend"), [(0.5, 0.0, 0.0), (0.5, 0.3, 0.0), (0.2, 0.1, 0.002), (0.1, 0.5, 0.0), (1.0, 0.2, 0.001)]
)
def test_the_elastic_line_and_its_uncertainty(step, noise, bend):
    x, y = rising(step, noise, bend=bend, base=3.0)
    line = traces._elastic(x, y, noise)
    part = (x >= line.first) & (x <= line.last)
    px, py = x[part], y[part]
    n, (slope, level) = len(px), np.polyfit(px - px.mean(), py, 1)
    sd = max(noise, sqrt(np.sum((py - level - slope * (px - px.mean())) ** 2) / (n - 2)))
    spread = np.sum((px - px.mean()) ** 2)
    curved = abs(np.polyfit(px - px.mean(), py, 2)[0]) * np.ptp(px)
    chance = hypot(1.6 * (1 + 40 / n) * sd / sqrt(spread), curved / 4)
    assert line.slope == near(slope, 1e-9)
    assert line.uncertainty == near(hypot(chance, 0.0015 * slope), 1e-6)
    assert (line.middle, line.level, line.level_uncertainty) == near((px.mean(), py.mean(), sd / sqrt(n)), 1e-9)
    assert line.slope == near(2.0 + 33 * bend, 0.05)
    assert line.last - line.first > 10


@pytest.mark.parametrize(("rise", "bend"), [([10, 40, 70, 101], False), ([10, 40, 70, 100, 131], True)])
def test_four_samples_tell_no_curvature(rise, bend):
    y = np.array([*[0] * 12, *rise, *[rise[-1]] * 20], float)
    line = traces._elastic(np.arange(float(len(y))), y, 1.0)
    assert (line.first, line.last) == (12, 11 + len(rise))
    at, n = np.arange(12.0, 12 + len(rise)) - 12, len(rise)
    slope, curved = np.polyfit(at, rise, 1)[0], abs(np.polyfit(at, rise, 2)[0]) * (n - 1) * bend
    chance = hypot(1.6 * (1 + 40 / n) / sqrt(np.sum((at - at.mean()) ** 2)), curved / 4)
    assert line.uncertainty == near(hypot(chance, 0.0015 * slope), 1e-9)


@pytest.mark.parametrize(
    ("x", "y", "noise", "why"),
    [
        (np.arange(40.0), np.full(40, 5.0), 0.0, "above its noise"),
        (np.arange(40.0), np.linspace(0, 6, 40), 1.0, "above its noise"),  # six times the noise are not enough
        (np.arange(40.0), np.linspace(0, 6.6, 40), 1.0, None),
        (np.arange(20.0), np.arange(20.0), 0.0, "fewer than 20"),  # one of them lies below the rise
        (np.arange(21.0), np.arange(21.0), 0.0, None),
        (np.full(40, 2.0), np.arange(40.0), 0.0, "fewer than 20"),
        (np.arange(38.0), np.where(np.arange(38) < 20, 0.0, 10.0), 0.0, "fewer than 20"),
        (np.arange(40.0), np.where(np.arange(40) < 20, 0.0, 10.0), 0.0, "no part"),
        (np.arange(40.0), [0, 0, *np.linspace(0.2, 6.0, 38)], 1.0, "above its noise"),
        (np.arange(30.0), [0, *np.linspace(2, 6.5, 29)], 1.0, None),  # the base is the first of 20 samples, or of fewer
        (np.arange(40.0), [0, 2, *np.linspace(2, 6.9, 38)], 1.0, "above its noise"),  # and of 40 the middle of two
        (np.arange(29.0), [*[0] * 10, 7.9, *np.linspace(12, 100, 18)], 0.0, "fewer than 20"),  # the rise begins at 8 %
        (np.arange(29.0), [*[0] * 10, 8.1, *np.linspace(12, 100, 18)], 0.0, None),
    ],
)
def test_why_there_is_no_slope(x, y, noise, why):
    found = traces._elastic(x, np.array(y, float), noise)
    assert why in found if why else not isinstance(found, str)


# ------------------------------------------------------------------------------ before it
def a_line(**given):
    return traces._Line(**({"slope": 2.0, "uncertainty": 0.1, "middle": radians(70), "level": 55.0, "level_uncertainty": 0.2,
                            "first": radians(40), "last": radians(90)} | given))  # fmt: skip


def rundown(until, step=1.0, torque=5.0, climb=100.0):
    """Radians and torque: ``torque`` up to ``until`` degrees, then a steep rise."""
    degrees = np.arange(0.0, 60.0, step)
    return np.radians(degrees), torque + climb * np.maximum(degrees - until, 0)


def test_running_torque():
    x, y = rundown(30)
    found = traces._running(x, y, 0.1, a_line())
    assert (found.angle, found.torque) == near((radians(30), 5.0), 1e-9)
    assert found.uncertainty == near(0.1 / sqrt(31), 1e-9)


def test_a_rundown_of_five_samples_anywhere():
    x, y = rundown(30, step=2.0)
    assert traces._running(x, y, 0.1, a_line(first=radians(8.5))).angle == near(radians(8))
    assert traces._running(x, y, 0.1, a_line(first=radians(7.5))) is None
    x, y = rundown(30)
    later = radians(20)
    assert traces._running(x + later, y, 0.1, a_line(first=radians(60))).angle == near(radians(30), 1e-9)
    x, y = rundown(4)
    assert traces._running(x + later, y, 0.1, a_line(first=radians(60))) is None
    assert traces._running(x - later, y, 0.1, a_line(first=radians(20))) is None


def test_its_level_at_first_is_the_middle_of_the_first_fifth():
    x = np.radians(np.arange(60.0))
    # of twelve samples 5.95; a fiftieth of the way to 55 above it is 6.93
    found = traces._running(x, np.where(np.arange(60) < 6, 5.0, 6.9), 0.0, a_line(first=radians(59.5), slope=200.0))
    assert found.angle == near(radians(59), 1e-9)


@pytest.mark.parametrize(
    ("until", "given", "found"),
    [
        (5, {}, True),
        (4, {}, False),  # five degrees at least
        (30, {"first": radians(3)}, False),  # and five samples
        (30, {"first": radians(4)}, False),
        (30, {"first": radians(5)}, True),
        (0, {}, False),
    ],
)
def test_where_there_is_a_rundown(until, given, found):
    x, y = rundown(until)
    assert (traces._running(x, y, 0.1, a_line(**given)) is not None) is found


@pytest.mark.parametrize(("share", "found"), [(0.099, True), (0.101, False), (-0.099, True), (-0.101, False)])
def test_a_rundown_that_climbs_is_none(share, found):
    x, y = rundown(30)
    tilted = y + share * 2.0 * x
    assert (traces._running(x, tilted, 0.1, a_line()) is not None) is found


@pytest.mark.parametrize(("jump", "noise", "end"), [(0.99, 0.0, 39), (1.01, 0.0, 20), (1.99, 0.5, 39), (2.01, 0.5, 20)])
def test_where_the_rundown_ends(jump, noise, end):
    """It ends where the torque stays above it by a fiftieth of the rise (50 N·m here), or by four times the noise."""
    degrees = np.arange(0.0, 60.0)
    y = np.where(degrees <= 20, 5.0, 5.0 + jump)
    y[40:] = 60.0
    found = traces._running(np.radians(degrees), y, noise, a_line(first=radians(39.5), slope=200.0))
    assert found.angle == near(radians(end), 1e-9)


def bumps(*places):
    degrees = np.arange(0.0, 40.0)
    return np.radians(degrees), np.where(np.isin(degrees, places) | (degrees > 30), 50.0, 5.0)


@pytest.mark.parametrize(
    ("places", "end"),
    [
        ((15,), 30),
        ((15, 18), 30),
        ((15, 16), 14),
        ((15, 17), 14),
        ((12, 15, 16), 14),
        ((3, 6, 9, 12, 15, 18, 21, 24), 30),
    ],
)
def test_one_odd_sample_does_not_end_the_rundown(places, end):
    x, y = bumps(*places)
    found = traces._running(x, y, 1.0, a_line(level=200.0, slope=2e4))
    assert found.angle == near(radians(end), 1e-9)
    assert found.torque == near(np.mean(y[: end + 1]), 1e-9)


@pytest.mark.parametrize(("step_at", "end"), [(10.1, None), (15.1, 12.5), (20.1, 17.5)])
def test_three_bins_of_a_long_rundown(step_at, end):
    degrees = np.linspace(0.0, 300.0, 6001)
    found = traces._running(
        np.radians(degrees), np.where(degrees < step_at, 5.0, 30.0), 0.1, a_line(first=radians(300))
    )
    assert (found and found.angle) == (end and near(radians(end), 0.01))


def test_snug_is_where_the_line_meets_the_running_torque():
    line = a_line(middle=10.0, level=20.0)
    bare = traces._snug(line, None)
    assert (bare.angle, bare.torque) == near((0.0, 0.0))
    assert bare.uncertainty == near(hypot(1.25 * hypot(10 * 0.1 / 2, 0.2 / 2), radians(0.1)))
    run = traces._snug(line, Point(1.0, 0.3, 4.0))
    assert (run.angle, run.torque) == near((2.0, 4.0))
    assert run.uncertainty == near(hypot(1.25 * hypot(8 * 0.1 / 2, hypot(0.2, 0.3) / 2), radians(0.1)))


# ------------------------------------------------------------------------------ past it
def bilinear(step, knee=60.0, after=0.0, until=120.0):
    degrees = np.arange(0.0, until + step / 2, step)
    slope = radians(1.0) * 100.0
    return np.radians(degrees), slope * (np.minimum(degrees, knee) + after * np.maximum(degrees - knee, 0))


STEEP = a_line(slope=100.0, first=radians(10), middle=radians(30), last=radians(50), level=52.0)


@pytest.mark.parametrize(
    ("step", "noise"), [(0.1, 0.0), (0.5, 0.0), (2.0, 0.0), (5.2, 0.0), (0.5, 2.0), (0.5, 4.0), (0.2, 5.0)]
)
def test_half_the_slope_lies_at_the_knee(step, noise):
    x, y = bilinear(step)
    px = x[x >= STEEP.first]
    density = len(px) / (px[-1] - px[0])
    wanted = (1.5 * (noise / (0.05 * 100)) ** 2 / density) ** (1 / 3)
    half = max(wanted, 3 / density, radians(4))
    found, seen = traces._drop(x, y, noise, STEEP)
    assert found.angle == pytest.approx(radians(60), abs=radians(max(0.3, step / 2)))
    scatter = noise / (half * sqrt(2 * half * density / 3)) / 100
    assert found.uncertainty == near(hypot(half * (0.15 + scatter), 1.4 / density), 1e-9)
    assert found.torque == pytest.approx(
        np.mean([t for a, t in zip(x, y, strict=True) if abs(a - found.angle) <= half / 2])
    )
    last = np.arange(STEEP.middle, x[-1] - half, radians(0.5))[-1]
    assert seen == near(last, 1e-9)


def test_a_window_that_would_be_too_wide_tells_nothing():
    assert traces._drop(*bilinear(5.6), 0.0, STEEP)[0] is not None
    assert traces._drop(*bilinear(5.8), 0.0, STEEP) == (None, None)
    assert traces._drop(*bilinear(0.5), 18.0, STEEP) == (None, None)
    assert traces._drop(*bilinear(0.5, until=33.5), 0.0, STEEP) == (None, None)  # ends before a window fits


@pytest.mark.parametrize(("after", "yields"), [(0.49, True), (0.51, False), (1.0, False)])
def test_half_the_slope_is_the_limit(after, yields):
    found, seen = traces._drop(*bilinear(0.5, after=after), 0.0, STEEP)
    assert (found is not None) is yields
    assert seen == near(radians(115.5), 1e-2)


def test_a_dip_that_recovers_is_no_yield_and_the_first_window_may_be_one():
    x, y = bilinear(0.5, knee=200.0)
    dip = y - 100.0 * np.clip(x - radians(60), 0, radians(3.5))  # level over 3.5 degrees, then as steep as before
    assert traces._drop(x, dip, 0.0, STEEP)[0] is None
    found, _ = traces._drop(*bilinear(0.5, knee=20.0), 0.0, STEEP)
    assert found.angle == STEEP.middle


def test_a_yield_in_a_gap_of_the_samples_may_lie_anywhere_in_it():
    x, y = bilinear(0.5)
    for knee in (56.0, 60.0, 65.0):
        x, y = bilinear(0.5, knee=knee)
        there = (np.degrees(x) < 55) | (np.degrees(x) > 66)
        found, seen = traces._drop(x[there], y[there], 0.0, STEEP)
        assert radians(55) < found.angle < radians(66)
        assert abs(found.angle - radians(knee)) < 2.5 * found.uncertainty
        assert seen is not None


def drop_of(x, y, noise, line):
    """The same from the definition: window by window, with polynomials of degree one."""
    px, py = x[x >= line.first], y[x >= line.first]
    density, step = len(px) / (px[-1] - px[0]), radians(0.5)
    half = max((1.5 * (noise / (0.05 * line.slope)) ** 2 / density) ** (1 / 3), 3 / density, radians(4))
    count = max(int(np.ceil((px[-1] - half - line.middle) / step)), 0) if half <= radians(16) else 0
    grid = [line.middle + k * step for k in range(count)]
    windows = [np.abs(px - at) <= half for at in grid]
    slopes = [np.polyfit(px[w] - px[w][0], py[w], 1)[0] if w.sum() >= 4 else None for w in windows]
    told = [at for at, slope in zip(grid, slopes, strict=True) if slope is not None]
    low = [slope is not None and slope < line.slope / 2 for slope in slopes]
    for k in range(len(grid)):
        following = low[k : k + int(half / step)]
        if not low[k] or sum(following) < 0.9 * len(following):
            continue
        at, gap = grid[k], 0.0
        earlier = [j for j in range(k) if slopes[j] is not None]
        if earlier and slopes[j := max(earlier)] > line.slope / 2:
            at -= step * (k - j) * (line.slope / 2 - slopes[k]) / (slopes[j] - slopes[k])
            gap = step * (k - j) if k - j > 1 else 0.0
        near_by = [t for a, t in zip(px, py, strict=True) if abs(a - at) <= half / 2]
        scatter = noise / (half * sqrt(2 * half * density / 3)) / line.slope
        torque = np.mean(near_by) if near_by else np.interp(at, px, py)
        return (at, hypot(half * (0.15 + scatter), 1.4 / density, gap / sqrt(12)), torque), told[-1]
    return None, told[-1] if told else None


@pytest.mark.parametrize("seed", range(60))
def test_departure_from_the_line_is_that_of_the_windows(seed):
    rng = np.random.default_rng(seed)
    steps = rng.uniform(0.2, 0.8, 260) * rng.choice([1, 1, 1, 4], 260) * (1.0 if seed % 4 else 3.0)
    degrees = np.cumsum(steps)
    for gap in rng.uniform(40, 90, seed % 3):
        degrees = degrees[np.abs(degrees - gap) > rng.uniform(1, 5)]
    degrees = degrees[degrees < rng.uniform(80, 130)]
    knee, dip = rng.uniform(35, 90), rng.uniform(30, 60)
    torque = np.minimum(degrees, knee) + rng.uniform(0, 0.7) * np.maximum(degrees - knee, 0)
    torque = torque - rng.uniform(0, 1) * np.clip(degrees - dip, 0, rng.uniform(2, 9))
    noise = rng.choice([0.0, 0.3, 2.0])
    x, y = np.radians(degrees), radians(100) * torque + rng.normal(0, 1, len(degrees)) * noise
    found, seen = traces._drop(x, y, noise, STEEP)
    expected, last = drop_of(x, y, noise, STEEP)
    assert seen == (last and near(last, 1e-9))
    assert (found and (found.angle, found.uncertainty, found.torque)) == (expected and near(expected, 1e-6))


def test_the_torque_of_a_yield_that_lies_between_two_groups_of_samples():
    """No sample lies near it: the torque between its neighbours, not nothing."""
    x, y = bilinear(0.5, knee=56.0)
    there = np.abs(np.degrees(x) - 56) > 2.6
    found, _ = traces._drop(x[there], y[there], 0.0, STEEP)
    assert np.degrees(found.angle) == pytest.approx(56, abs=0.3)
    assert found.torque == pytest.approx(radians(100) * 55, rel=0.03)


# ------------------------------------------------------------------------------ the whole
def test_a_plain_tightening():
    """Nothing to 12°, 2 N·m for each degree to 45°, then level to 60°; some samples are missing."""
    x, y = rising(0.5)
    there = ~np.isin(x, (5.0, 5.5, 30.0))
    found = traces.evaluate(np.radians(x[there]), y[there])
    assert (found.strokes, found.not_turned, found.why) == (0, 0.0, "")
    assert found.slope == near(2 / radians(1), 0.01)
    assert found.snug.angle == near(radians(12), 0.02)
    assert (found.running.angle, found.running.torque) == pytest.approx((radians(12), 0.0), rel=0.05, abs=0.1)
    assert found.drop.angle == near(radians(45), 0.01)
    assert found.peak.torque == near(66)
    assert found.spacing == near(radians(1.0), 1e-6)  # the wider gap lies before the straight part
    assert found.energy == near(radians(33 * 66 / 2 + 15 * 66), 1e-3)
    assert found.straight == near((radians(15), radians(45)), 0.05)


def test_the_first_step_of_the_straight_part_counts_as_a_gap():
    x = np.array([0, 1, 2, 3, *range(6, 41)], float)
    found = traces.evaluate(np.radians(x), 2 * x)
    assert found.straight[0] == near(radians(3))
    assert found.spacing == near(radians(3))


def test_a_trace_without_a_slope_and_one_out_of_order():
    x = np.radians([0.0, 2, 1, 3, 7, 6, 8, 9])
    found = traces.evaluate(x, np.full(8, 5.0))
    assert found.slope is None
    assert found.why
    assert found.angle.tolist() == sorted(x)
    assert found.spacing == near(radians(3))
    assert found.energy == near(radians(9) * 5)
    assert (found.peak.torque, found.slope_uncertainty, found.straight, found.centre) == (
        5,
        0.0,
        (0.0, 0.0),
        (0.0, 0.0),
    )
    assert traces.evaluate(np.array([0.5]), np.array([3.0])).spacing == 0.0


# ------------------------------------------------------------------------------ thresholds and offset
def evaluation(x, y, **given):
    usual = {"angle": np.array(x, float), "torque": np.array(y, float), "noise": 0.0, "strokes": 0, "not_turned": 0.0, "spacing": 1.0,
             "running": None, "slope": 10.0, "slope_uncertainty": 0.2, "straight": (0.0, 0.0), "centre": (3.0, 20.0),
             "snug": Point(1.0, 0.05, 0.0), "drop": None, "drop_seen_to": None, "peak": Point(0.0, 0.0, float(max(y))), "energy": 0.0}  # fmt: skip
    return Evaluation(**(usual | given))


@pytest.mark.parametrize(
    ("y", "torque", "at", "width"),
    [
        ([0, 10, 20, 30, 40], 25, 2.5, 1),
        ([0, 10, 20, 30, 40], 20, 2.0, 1),
        ([0, 10, 20, 30, 40], 40, 4.0, 1),
        ([0, 10, 20, 30, 40], 40.01, None, 1),
        ([0, 10, 20, 30, 40], 0, None, 1),  # it has passed at the start
        ([0, 10, 20, 30, 40], 0.5, 0.05, 1),
        ([30, 10, 20, 30, 40], 25, None, 1),
        ([25, 10, 20, 30, 40], 25, None, 1),
        ([0, 30, 40, 20, 35], 25, 25 / 30, 1),  # what comes after the peak is none of it
        ([0, 10, 26, 24, 30, 40], 25, 2.5 + 2.5 / 5.8, 3),  # worked by hand: a line through 10, 26, 24, 30
        ([0, 0, 26, 0, 0, 0, 0, 25.5, 40], 25, 7, 6),  # the line meets it beyond its ends
        ([0, 24, 60, 60, 60, 60, 24, 61, 61], 25, 1, 6),
        ([0, 24, 60, 60, 24, 24, 24.5, 26, 61], 25, 4, 6),  # the line falls: the middle
    ],
)
def test_where_a_torque_is_passed(y, torque, at, width):
    found = evaluation(range(len(y)), y, noise=0.3).crossing(torque)
    if at is None:
        assert found is None
        return
    assert (found.angle, found.torque) == near((at, torque), 1e-9)
    assert found.uncertainty == near(hypot(width / 3.5, 0.03), 1e-9)


def test_crossings_within_a_small_angle():
    """The line is the same when the angles are a hundredth."""
    found = evaluation(np.arange(6) / 100, [0, 10, 26, 24, 30, 40]).crossing(25)
    assert found.angle == near((2.5 + 2.5 / 5.8) / 100, 1e-9)


def test_crossings_all_at_one_angle():
    found = evaluation([0, 1, 1, 1, 1, 2], [0, 10, 26, 24, 30, 40]).crossing(25)
    assert (found.angle, found.uncertainty) == near((1.0, 0.0))


def test_without_a_slope_the_noise_tells_no_angle():
    found = evaluation(range(5), [0, 10, 20, 30, 40], noise=0.3, slope=None).crossing(25)
    assert found.uncertainty == near(0.3 / 1e-9, 1e-6)
    assert isinf(found.uncertainty) is False


@pytest.mark.parametrize(
    ("many", "noise", "width"), [(149, 1.72, 2), (150, 1.43, 3), (150, 1.41, 2), (200, 1.72, 3), (200, 9.0, 4), (49, 9.0, 1), (99, 1.01, 1), (100, 1.01, 2), (150, 0.5, 1)]
)  # fmt: skip
def test_noise_widens_the_mean_in_which_a_torque_is_passed(many, noise, width):
    """(noise / 1 % of the peak) squared, at most a fiftieth of the samples.  A mean of a straight line is on the line."""
    x = np.arange(float(many))
    y = x + 100 * (x == many - 1)  # only the last mean of samples shows its width
    found = evaluation(x, y, noise=noise, slope=1.0, peak=Point(0, 0, 100.0)).crossing(20.25)
    assert found.angle == near(20.25, 1e-9)
    assert found.uncertainty == near(hypot(1 / 3.5, noise / sqrt(width)), 1e-9)


@pytest.mark.parametrize(("noise", "width"), [(0.4, 1), (0.7, 2), (0.75, 3), (9.0, 3)])
def test_a_torque_is_passed_in_the_means_of_the_samples(noise, width):
    x = np.arange(150.0)
    y = x * x / 150
    found = evaluation(x, y, noise=noise, peak=Point(0, 0, 50.0)).crossing(40.0)
    mean = lambda z: [sum(z[k : k + width]) / width for k in range(151 - width)]  # noqa: E731
    assert found.angle == near(np.interp(40.0, mean(y), mean(x)), 1e-9)


def test_the_uncertainty_of_the_offset_counts_from_the_snug_torque():
    found = evaluation(range(11), BENT, snug=Point(1.5, 0.05, 5.0)).offset(0.5)
    assert found.uncertainty == near(hypot(3.5 * 0.2 / 10, 0.05), 1e-9)


BENT = [0, 0, 10, 20, 30, 40, 40, 40, 40, 40, 40]


@pytest.mark.parametrize(
    ("angle", "at"), [(0.5, 5.5), (2.0, 7.0), (5.0, 10.0), (5.1, None), (0.0, None), (-1.0, None), (0.001, 5.001)]
)
def test_where_the_offset_is_reached(angle, at):
    found = evaluation(range(11), BENT, noise=0.3).offset(angle)
    if at is None:
        assert found is None
        return
    # 40 N·m above the snug point, by the slope and its error; the noise by the slope; the snug point itself
    k = int(np.ceil(at - 1e-9)) - 1
    assert (found.angle, found.torque) == near((at, BENT[k]), 1e-9)
    assert found.uncertainty == near(hypot(4 * 0.2 / 10, 0.03, 0.05), 1e-9)


@pytest.mark.parametrize(
    ("given", "at"),
    [
        ({"centre": (4.0, 30.0)}, 5.5),
        ({"centre": (5.0, 40.0)}, None),  # only what follows the middle of the elastic part
        ({"centre": (10.0, 40.0)}, None),
        ({"slope": None}, None),
        ({"snug": None}, None),
        ({"snug": Point(1.5, 0.05, 5.0)}, 5.5),
        ({"snug": Point(0.5, 0.05, 0.0)}, None),
    ],
)
def test_what_the_offset_starts_from(given, at):
    found = evaluation(range(11), BENT, **given).offset(0.5)
    assert (found and found.angle) == (at and near(at, 1e-9))


@pytest.mark.parametrize("many", [199, 200, 208, 2700])
def test_the_offset_of_short_means(many):
    x = uneven(many)
    y = 10 * np.minimum(x - 1, x[many // 2]) + np.random.default_rng(many).normal(0, 0.5, many)
    made = evaluation(x, y, noise=0.5, centre=(x[many // 4], 0.0))
    found, width = made.offset(5.0), min(max(many // 100, 1), 25)
    rows = [(np.mean(x[k : k + width] - 1 - y[k : k + width] / 10), np.mean(x[k : k + width]), np.mean(y[k : k + width]))
            for k in range(many - width + 1)]  # fmt: skip
    k = max(n for n, row in enumerate(rows) if row[0] < 5)
    (b0, a0, level), (b1, a1, _) = rows[k], rows[k + 1]
    assert found.angle == near(a0 + (5 - b0) / (b1 - b0) * (a1 - a0), 1e-6)
    assert found.torque == near(level, 1e-9)
    assert found.uncertainty == near(hypot(level / 10 * 0.02, 0.05 / sqrt(width), 0.05), 1e-9)
