"""A torque–angle trace evaluated: snug point, elastic slope, departure from the line, energy.  SI in, SI out.

The methods are those of regression; their limits are measured by the simulator of the tests.  A value that the trace
does not contain is None, never zero.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from shoplib.core.formula import formula
from shoplib.core.units import N_m, deg, kN, mm, mm_per_kN, one

Array = np.ndarray[Any, Any]

DROP = 0.5  # of the elastic slope: the bolt yields where the slope stays below it (usual share; common practice)
OFFSET = 0.002  # of the free length: permanent elongation at the offset point (as R_p0.2 of a tensile test)
KNOTS = 60  # of the search for the straight part
FEWEST = 20  # samples on the rising part; with fewer the straight part cannot be told from the curved one
CHOSEN = 1.6  # more than the regression's own error: the straight part was itself chosen (by the simulator)
SPACINGS = 1.4  # of the samples: by so much more is the angle of half the slope uncertain (by the simulator)
NOT_STRAIGHT = 0.0015  # standard uncertainty, share of the slope: no straight part is quite straight (by the simulator)
SNUG_CHOSEN, SNUG_LEAST = 1.25, np.radians(0.1)  # the same for the snug point: a factor, and its least uncertainty
LEAST_RISE = 0.2  # share of the torque that the straight part must rise
STRAIGHT = 3.0  # standard errors of the curvature that still count as straight
SLOPE_SCATTER = 0.05  # share of the slope that the local slope may scatter
NARROWEST, WIDEST = np.radians(4.0), np.radians(16.0)  # half-width of the window of the local slope
AT_REST = np.radians(0.4)  # turning that cannot be told from rest at a release
FALLEN = 0.6  # share of the highest torque so far: below it the wrench was released


# ------------------------------------------------------------------------------ formulas
@formula(symbol="theta_0", source="straight line through the centre of the elastic part, back to the running torque")
def back_extrapolated(theta_m: deg, T_m: N_m, T_0: N_m, k: N_m) -> deg:
    """Angle at which the elastic line meets the running torque; ``k`` is the slope per radian."""
    return theta_m - (T_m - T_0) / k


@formula(
    symbol="theta_off",
    source="pitch of a helix; 0.2 % permanent elongation as in ISO 898-1, R_p0.2 (from memory, not checked)",
)
def offset_angle(e_p: one, l_0: mm, P: mm) -> deg:
    """Angle beyond the elastic line at which the bolt has kept the elongation e_p of its free length."""
    theta: deg = 2 * np.pi * e_p * l_0 / P
    return theta


@formula(symbol="k_M", source="travel of the thread divided by the resilience, multiplied by torque per force")
def model_slope(M_A: N_m, F_M: kN, P: mm, delta: mm_per_kN) -> N_m:
    """Elastic slope that the model expects, per radian; torque and preload are those of one point of its line."""
    return M_A / F_M * P / (2 * np.pi * delta)


# ------------------------------------------------------------------------------ what was found
@dataclass(frozen=True)
class Point:
    """An angle with its standard uncertainty, and the torque there."""

    angle: float
    uncertainty: float
    torque: float


@dataclass(frozen=True, eq=False)
class Evaluation:
    """What a trace shows.  Angles are those of the gauge, without the strokes that did not turn the bolt."""

    angle: Array  # of the bolt, in rising order
    torque: Array
    noise: float  # standard deviation of the torque
    strokes: int  # releases of the wrench in the trace
    not_turned: float  # angle that the gauge showed while the bolt did not turn
    spacing: float  # widest step between samples in the part that was evaluated
    running: Point | None  # prevailing torque: angle is that of the rundown
    slope: float | None  # N·m/rad
    slope_uncertainty: float
    straight: tuple[float, float]  # angles of the elastic part
    centre: tuple[float, float]  # angle and torque in its middle
    snug: Point | None  # back-extrapolated
    drop: Point | None  # where the slope falls below DROP of the elastic slope
    drop_seen_to: float | None  # last angle at which the slope could be told; None: it could not
    peak: Point
    energy: float  # from the snug point, or from the first sample, to the last one
    why: str = ""  # there is no slope

    def crossing(self, torque: float) -> Point | None:
        """Where the torque passes this threshold for good; None where it does not, or has passed at the start."""
        return _crossing(self, torque)

    def offset(self, angle: float) -> Point | None:
        """Where the trace lies this angle beyond the elastic line; None where it does not reach that."""
        return _offset(self, angle)


def evaluate(angle: Array, torque: Array) -> Evaluation:
    """Evaluate the samples of one tightening, in their order.

    :param angle: angle of each sample; rad, array of shape (N,)
    :param torque: torque of each sample; N·m, array of shape (N,)
    :returns: what the trace shows, in SI
    """
    noise = noise_of(torque)
    turned, kept, strokes, lost = _without_releases(np.asarray(angle, float), np.asarray(torque, float), noise)
    x, y = turned[kept], np.asarray(torque, float)[kept]
    order = np.argsort(x, kind="stable")
    x, y = x[order], y[order]
    peak = _peak(x, y)
    found: dict[str, Any] = {
        "angle": x, "torque": y, "noise": noise, "strokes": strokes, "not_turned": lost, "peak": peak,
        "running": None, "slope": None, "slope_uncertainty": 0.0, "straight": (0.0, 0.0), "centre": (0.0, 0.0),
        "snug": None, "drop": None, "drop_seen_to": None,
        "spacing": float(np.diff(x).max(initial=0.0)), "energy": float(np.trapezoid(y, x)),
    }  # fmt: skip
    line = _elastic(x, y, noise)
    if isinstance(line, str):
        return Evaluation(**found, why=line)
    found |= {
        "slope": line.slope, "slope_uncertainty": line.uncertainty, "straight": (line.first, line.last),
        "centre": (line.middle, line.level), "running": (running := _running(x, y, noise, line)),
    }  # fmt: skip
    found["snug"] = snug = _snug(line, running)
    inside = x >= snug.angle
    found["spacing"] = float(np.diff(x[x >= line.first]).max(initial=0.0))
    found["energy"] = float(np.trapezoid(y[inside], x[inside]))
    found["drop"], found["drop_seen_to"] = _drop(x, y, noise, line)
    return Evaluation(**found)


def noise_of(torque: Array) -> float:
    """Standard deviation of the torque, from its second differences; at least that of its smallest step.

    :param torque: torque of each sample; N·m, array of shape (N,)
    :returns: standard deviation; N·m, zero for fewer than five samples
    """
    if len(torque) < 5:
        return 0.0
    second = np.diff(torque, 2)
    steps = np.diff(np.unique(torque))
    steps = steps[steps > 1e-9 * float(np.abs(torque).max())]
    resolution = float(steps.min()) / np.sqrt(12.0) if len(steps) else 0.0
    return max(float(np.median(np.abs(second)) / 0.6745 / np.sqrt(6.0)), resolution)


# ------------------------------------------------------------------------------ strokes of the wrench
def _without_releases(angle: Array, torque: Array, noise: float) -> tuple[Array, Array, int, float]:
    """The angle of the bolt, the samples at which it turned, how often the wrench was released, and the angle lost.

    Between a release and the moment at which the torque is regained the bolt does not turn: what the gauge shows
    there is backlash or wind-up of the wrench, and is taken off.
    """
    smooth = _median_of_three(torque)
    top = np.maximum.accumulate(smooth)
    peak = float(top[-1])
    low = (smooth < FALLEN * top - 3 * noise) & (top > 0.1 * peak + 3 * noise)
    kept, turned, strokes, lost = np.ones(len(torque), bool), angle.copy(), 0, 0.0
    step = float(np.median(np.abs(np.diff(angle)))) if len(angle) > 1 else 0.0
    starts = [int(k) for k in np.flatnonzero(low & ~np.concatenate(([False], low[:-1])))]
    done = 0
    for start in starts:
        if start < done:
            continue
        high = np.flatnonzero(smooth[:start] >= 0.98 * top[start] - 3 * noise)
        before = int(high[-1])  # where the fall began
        level = float(np.median(torque[max(before - 2, 0) : before + 1]))
        again = np.flatnonzero(smooth[start:] >= level - noise)
        if not len(again):
            kept[before + 1 :] = False  # the last release: nothing follows
            return turned, kept, strokes, lost
        after = start + int(again[0])
        regained = _reached(level, smooth[after - 1], smooth[after], angle[after - 1], angle[after])
        stalled = float(angle[before : start + 1].max())
        shift = regained - stalled
        if abs(shift) > max(np.radians(1.0), 3 * step):
            turned[after:] -= shift
            lost += shift
        else:
            shift = 0.0
        back = int(np.argmax(angle[before::-1] < stalled - AT_REST))
        kept[before - back + 1 : after] = False
        moving = angle[after:] - shift > stalled + AT_REST
        kept[after : after + int(np.argmax(moving))] = False
        strokes, done = strokes + 1, after
    return turned, kept, strokes, lost


def _reached(level: float, low: float, high: float, at_low: float, at_high: float) -> float:
    """Angle at which the torque has this level between two samples; without a rise that of the second."""
    return float(np.interp(level, [low, high], [at_low, at_high])) if high > low else float(at_high)


def _median_of_three(y: Array) -> Array:
    if len(y) < 3:
        return y
    inner = np.maximum(np.minimum(y[:-2], y[1:-1]), np.minimum(np.maximum(y[:-2], y[1:-1]), y[2:]))
    return np.concatenate((y[:1], inner, y[-1:]))


def _peak(x: Array, y: Array) -> Point:
    """The highest torque of a short mean, so that one odd sample does not make it."""
    width = int(np.clip(len(y) // 100, 1, 25))
    mean = np.convolve(y, np.ones(width) / width, "valid")
    at = int(np.argmax(mean))
    return Point(float(x[at : at + width].mean()), float(np.ptp(x[at : at + width]) / 2), float(mean[at]))


# ------------------------------------------------------------------------------ the straight part
@dataclass(frozen=True)
class _Line:
    slope: float
    uncertainty: float
    middle: float
    level: float
    level_uncertainty: float
    first: float
    last: float


def _binned(x: Array, y: Array, most: int) -> tuple[Array, Array, Array]:
    """Means in bins of equal angle, and how many samples each holds."""
    if len(x) <= most:
        return x, y, np.ones(len(x))
    edges = np.linspace(x[0], x[-1], most + 1)[1:-1]
    place = np.searchsorted(edges, x, side="right")
    n = np.bincount(place, minlength=most)
    there = n > 0
    return (
        np.bincount(place, x, most)[there] / n[there],
        np.bincount(place, y, most)[there] / n[there],
        n[there].astype(float),
    )


def _elastic(x: Array, y: Array, noise: float) -> _Line | str:
    """The steepest straight part: the longest piece without curvature that is as steep as any other."""
    bx, by, _ = _binned(x, y, 240)
    base = float(np.median(by[: max(len(by) // 20, 1)]))
    rise = float(by.max()) - base
    if rise <= 6 * noise:
        return "the torque does not rise above its noise"
    below = np.flatnonzero(by < base + 0.08 * rise)
    at_top = int(np.argmax(by))
    below = below[below < at_top]
    start = x[0] if not len(below) else bx[below[-1]]
    inside = x >= start
    if inside.sum() < FEWEST or np.ptp(x[inside]) <= 0:
        return f"fewer than {FEWEST} samples lie on the rising part"
    sx, sy, w = _binned(x[inside], y[inside], KNOTS)
    best = _best_segment(sx, sy, w, noise, rise)
    if best is None:
        return "no part of the trace is straight over a fifth of its torque"
    i, j = best
    part = inside & (x >= sx[i]) & (x <= sx[j])
    px, py = x[part], y[part]
    middle, level = float(px.mean()), float(py.mean())
    dx = px - middle
    spread = float(dx @ dx)
    slope = float(dx @ py) / spread
    residual = py - level - slope * dx
    sd = max(noise, float(np.sqrt(residual @ residual / (len(px) - 2))))
    square = dx * dx - spread / len(px) - dx * (float(dx @ (dx * dx)) / spread)
    size = float(square @ square)
    bend = abs(float(square @ py)) / size * np.ptp(px) if size > 0 and len(px) > 4 else 0.0
    chosen = CHOSEN * (1 + 40 / len(px))
    by_chance = float(np.hypot(chosen * sd / np.sqrt(spread), bend / 4))
    uncertainty = float(np.hypot(by_chance, NOT_STRAIGHT * slope))
    return _Line(slope, uncertainty, middle, level, sd / float(np.sqrt(len(px))), float(px[0]), float(px[-1]))


def _best_segment(x: Array, y: Array, w: Array, noise: float, rise: float) -> tuple[int, int] | None:
    m = len(x)
    if m < 4:
        return None
    u = x - x.mean()
    sums = [np.concatenate(([0.0], np.cumsum(w * t))) for t in (u**0, u, u**2, u**3, u**4, y, u * y, u * u * y)]
    i, j = np.triu_indices(m, 3)
    s0, s1, s2, s3, s4, t0, t1, t2 = (s[j + 1] - s[i] for s in sums)
    mean = s1 / s0
    # moments about the mean of each segment
    c2 = s2 - s1 * mean
    c3 = s3 - 3 * mean * s2 + 3 * mean**2 * s1 - mean**3 * s0
    c4 = s4 - 4 * mean * s3 + 6 * mean**2 * s2 - 4 * mean**3 * s1 + mean**4 * s0
    y1 = t1 - mean * t0
    y2 = t2 - 2 * mean * t1 + mean**2 * t0
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = y1 / c2
        q = c4 - c2**2 / s0 - c3**2 / c2
        bend = (y2 - c2 * t0 / s0 - c3 * slope) / q
        error = max(noise, 1e-4 * rise)
        of_slope, of_bend = error / np.sqrt(c2), error / np.sqrt(q)
        change = 2 * np.abs(bend) * (u[j] - u[i]) / np.abs(slope)
        straight = (np.abs(bend) < STRAIGHT * of_bend) | (change < 0.02)
        good = straight & (slope * (u[j] - u[i]) > LEAST_RISE * rise) & np.isfinite(bend)
        relative = np.where(good, of_slope / slope, np.inf)
    if not good.any():
        return None
    sure = relative <= max(0.02, 1.5 * float(relative.min()))
    steepest = float((slope[sure] * (1 - 2 * relative[sure])).max())  # for certain: one of many is steep by chance
    good[good] = slope[good] * (1 + 2 * relative[good]) >= steepest
    best = int(np.argmin(np.where(good, relative, np.inf)))
    return int(i[best]), int(j[best])


# ------------------------------------------------------------------------------ before and after it
def _running(x: Array, y: Array, noise: float, line: _Line) -> Point | None:
    """The torque of the rundown, where the trace has at least 5° and 5 samples of it."""
    bx, by, n = _binned(x[x <= line.first], y[x <= line.first], 60)
    if len(bx) < 5:
        return None
    first = by[: max(len(by) // 5, 3)]
    level = float(np.median(first))
    for _ in range(3):
        limit = level + max(4 * noise / float(np.sqrt(np.median(n))), 0.02 * (line.level - level))
        above = np.flatnonzero(by > limit)
        persists = [k for k in above if np.mean(by[k : k + 3] > limit) > 0.6]
        end = persists[0] if persists else len(by)
        if end < 3:
            return None
        level = float(np.average(by[:end], weights=n[:end]))
    until = float(bx[end - 1])
    inside = x <= until
    if inside.sum() < 5 or until - x[0] < np.radians(5.0):
        return None
    if abs(float(np.polyfit(x[inside], y[inside], 1)[0])) > 0.1 * line.slope:
        return None
    return Point(until - float(x[0]), noise / float(np.sqrt(inside.sum())), float(np.mean(y[inside])))


def _snug(line: _Line, running: Point | None) -> Point:
    level = running.torque if running else 0.0
    angle = float(back_extrapolated(line.middle, line.level, level, line.slope))
    lever = (line.level - level) / line.slope * line.uncertainty / line.slope
    off = np.hypot(line.level_uncertainty, running.uncertainty if running else 0.0) / line.slope
    return Point(angle, float(np.hypot(SNUG_CHOSEN * np.hypot(lever, off), SNUG_LEAST)), level)


def _drop(x: Array, y: Array, noise: float, line: _Line) -> tuple[Point | None, float | None]:
    """Where the local slope falls below its share of the elastic one and stays there."""
    rest = x >= line.first
    px, py = x[rest], y[rest]
    density = len(px) / float(np.ptp(px))
    # error of a slope over a half-width h with n = 2 h density samples: noise / (h sqrt(n / 3))
    wanted = (1.5 * (noise / (SLOPE_SCATTER * line.slope)) ** 2 / density) ** (1 / 3)
    half = float(np.clip(max(wanted, 3.0 / density), NARROWEST, None))
    if half > WIDEST:
        return None, None
    grid = np.arange(line.middle, px[-1] - half, np.radians(0.5))
    if not len(grid):
        return None, None
    slope, count = _local_slopes(px, py, grid, half)
    told = count >= 4
    if not told.any():
        return None, None
    limit = DROP * line.slope
    low = told & (slope < limit)
    ahead = int(half / np.radians(0.5))
    last = float(grid[told][-1])
    for k in np.flatnonzero(low):
        following = low[k : k + ahead]
        if following.mean() < 0.9:
            continue
        at, gap = float(grid[k]), 0.0
        before = np.flatnonzero(told[:k])
        if len(before) and slope[j := before[-1]] > limit:
            at = float(np.interp(-limit, [-slope[j], -slope[k]], [grid[j], grid[k]]))
            gap = grid[k] - grid[j] if j < k - 1 else 0.0  # no samples: anywhere in it
        scatter = noise / (half * np.sqrt(2 * half * density / 3)) / line.slope
        uncertainty = half * (0.15 + float(scatter))
        near = np.abs(px - at) <= half / 2
        torque = float(np.mean(py[near]) if near.any() else np.interp(at, px, py))
        return Point(at, float(np.hypot(np.hypot(uncertainty, SPACINGS / density), gap / np.sqrt(12.0))), torque), last
    return None, last


def _local_slopes(x: Array, y: Array, grid: Array, half: float) -> tuple[Array, Array]:
    u, v = x - x[0], y - y[0]
    sums = [np.concatenate(([0.0], np.cumsum(t))) for t in (np.ones_like(u), u, u * u, v, u * v)]
    i, j = np.searchsorted(x, grid - half), np.searchsorted(x, grid + half, side="right")
    n, s1, s2, t0, t1 = (s[j] - s[i] for s in sums)
    with np.errstate(divide="ignore", invalid="ignore"):
        spread = s2 - s1 * s1 / n
        slope = (t1 - s1 * t0 / n) / spread
    n = np.where((spread > 1e-12) & np.isfinite(slope), n, 0)
    return np.where(n > 0, slope, np.inf), n


def _crossing(found: Evaluation, torque: float) -> Point | None:
    x, y = found.angle, found.torque
    width = int(np.clip(np.ceil((found.noise / (0.01 * max(found.peak.torque, 1e-9))) ** 2), 1, max(len(y) // 50, 1)))
    if width > 1:
        kernel = np.ones(width) / width
        x, y = np.convolve(x, kernel, "valid"), np.convolve(y, kernel, "valid")
    if y.max() < torque or y[0] >= torque:
        return None
    first = int(np.argmax(y >= torque))
    last = int(np.flatnonzero(y[: np.argmax(y)] < torque)[-1])
    rise = slice(first - 1, last + 2)
    near = y[rise]
    if first - 1 == last:
        at = float(np.interp(torque, y[last : last + 2], x[last : last + 2]))
    else:  # noise crosses several times: a line through the crossings
        k = np.polyfit(x[rise], near, 1) if np.ptp(x[rise]) > 0 else (0.0, 0.0)
        at = float((torque - k[1]) / k[0]) if k[0] > 0 else float(np.mean(x[rise]))
        at = float(np.clip(at, x[rise][0], x[rise][-1]))
    steep = max(found.slope or 0.0, 1e-9)
    uncertainty = np.hypot((x[last + 1] - x[first - 1]) / 3.5, found.noise / np.sqrt(width) / steep)
    return Point(at, float(uncertainty), torque)


def _offset(found: Evaluation, angle: float) -> Point | None:
    if found.slope is None or found.snug is None:
        return None
    x, y = found.angle, found.torque
    beyond = x - found.snug.angle - (y - found.snug.torque) / found.slope
    width = int(np.clip(len(x) // 100, 1, 25))
    kernel = np.ones(width) / width
    mean, at = np.convolve(beyond, kernel, "valid"), np.convolve(x, kernel, "valid")
    level = np.convolve(y, kernel, "valid")
    after = at > found.centre[0]
    mean, at, level = mean[after], at[after], level[after]
    below = np.flatnonzero(mean < angle)
    if not len(mean) or mean[-1] < angle or not len(below):
        return None
    k = int(below[-1])
    share = (angle - mean[k]) / (mean[k + 1] - mean[k])
    lever = (level[k] - found.snug.torque) / found.slope * found.slope_uncertainty / found.slope
    noise = found.noise / np.sqrt(width) / found.slope
    where = float(at[k] + share * (at[k + 1] - at[k]))
    return Point(where, float(np.hypot(np.hypot(lever, noise), found.snug.uncertainty)), float(level[k]))
