"""What the formulas and methods calculate does not change unnoticed: numbers of fixed inputs, held in same_numbers.csv.

They are the program's own numbers: whether they are right is checked with published values elsewhere.  A number that
is changed on purpose needs a raised ``calculation`` of the workings that use it; then run
``python -m tests.physics.test_same_numbers`` to write the file again.
"""

import csv
import dataclasses
import importlib
import inspect
import math
import pkgutil
from pathlib import Path

import numpy as np
import pytest

import shoplib.core
import shoplib.physics
import shoplib.record
from shoplib.core import units
from shoplib.core.errors import ShoplibError
from shoplib.physics import (
    coolant_mix,
    coolant_properties,
    elastic_interaction,
    feeler,
    flatness,
    joint,
    line_survey,
    outlier,
    roughness,
    scatter,
    skim,
    stripping,
    threads,
    tightening,
    torque_units,
    traces,
    valve_motion,
    wrench,
)

FILE = Path(__file__).with_name("same_numbers.csv")
UNITS = {name for name in vars(units) if not name.startswith("_")} - {"Any"}
GOLDEN = (math.sqrt(5) - 1) / 2


# ------------------------------------------------------------------------------ every function of numbers
def of_numbers():
    """The public functions whose arguments are all numbers: name and function."""
    for module in pkgutil.iter_modules(shoplib.physics.__path__):
        loaded = importlib.import_module(f"shoplib.physics.{module.name}")
        for name, function in vars(loaded).items():
            if not inspect.isfunction(function) or function.__module__ != loaded.__name__ or name.startswith("_"):
                continue
            parameters = inspect.signature(function).parameters.values()
            if parameters and all(p.annotation in UNITS or p.annotation == "float" for p in parameters):
                yield f"{module.name}.{name}", function, len(parameters)


def spread(many, at):
    """So many numbers between 0.3 and 0.9, spread evenly; others for each ``at``."""
    return [0.3 + 0.6 * (((k + 1) * GOLDEN + at * 0.3819) % 1.0) for k in range(many)]


def noise(many, size):
    """Pseudo-random numbers between −size and size, without a generator that a library could change."""
    return size * (2 * ((np.sin(np.arange(many) * 12.9898 + 1.0) * 43758.5453) % 1.0) - 1)


# ------------------------------------------------------------------------------ traces
def curve(samples, *, rough=0.0, running=0.0, until=140.0, knee=90.0, tail=0.02, toe=0.0):
    """Angle (rad) and torque (N·m) of a tightening: rundown, a straight part, then a knee."""
    degrees = np.linspace(0.0, until, samples)
    start = 30.0
    beyond = np.maximum(degrees - knee, 0.0)
    turned = np.clip(degrees, start, knee) - start
    torque = running + 1.5 * turned + 1.5 * 12.0 * (1 - np.exp(-beyond / 12.0)) + tail * beyond
    torque += toe * np.log1p(np.exp((degrees - start) / 3.0)) if toe else 0.0
    return np.radians(degrees), torque + noise(samples, rough)


def with_strokes():
    """Three strokes of a wrench: the gauge winds back and forth while the bolt stands."""
    angle, torque, shift = [], [], 0.0
    whole_angle, whole_torque = curve(300, rough=0.2)
    for part in np.array_split(np.arange(300), 3):
        angle += list(whole_angle[part] + shift)
        torque += list(whole_torque[part])
        back = np.radians(np.linspace(0, 25, 12))
        last, level = angle[-1], torque[-1]
        angle += [*(last - back), *(last - back[-1] + back * 1.12)]
        torque += [*np.linspace(level * 0.9, 0, 12), *np.linspace(0, level * 0.97, 12)]
        shift += np.radians(3.0)
    return np.array(angle), np.array(torque)


TRACES = {
    "smooth": curve(400),
    "noisy": curve(600, rough=1.5, running=4.0),
    "few": curve(60, rough=0.2),
    "rundown": curve(900, rough=0.4, running=8.0, toe=0.1),
    "elastic": curve(300, rough=0.3, until=80.0),
    "long": curve(3000, rough=6.0, running=6.0, tail=-0.1),
    "coarse": curve(38, rough=0.0),
    "strokes": with_strokes(),
    "coarse steps": (curve(200)[0], np.round(curve(200)[1])),
    "late": curve(500, rough=0.5, running=3.0, until=200.0, knee=60.0, tail=-0.3),
    "gentle": curve(700, rough=0.3, running=1.0, toe=0.5, knee=120.0),
    "steep end": curve(150, rough=0.1, until=95.0),
    "worn": curve(250, rough=3.0),
    "flat": (np.radians(np.arange(50.0)), np.full(50, 5.0) + noise(50, 0.1)),
    "short": curve(12),
}


def of_trace(angle, torque):
    found = traces.evaluate(angle, torque)
    yield from (getattr(found, f.name) for f in dataclasses.fields(found))
    for share in (*np.linspace(0.02, 1.0, 15), 1.1):
        yield found.crossing(share * found.peak.torque)
    for degrees in (0.0, 0.5, 2.0, 5.0, 10.0, 20.0, 90.0):
        yield found.offset(np.radians(degrees))


# ------------------------------------------------------------------------------ faces
def face(many, shape):
    at = np.arange(many)
    x, y = (at * GOLDEN) % 1.0 * 0.4, (at * 0.7548776662) % 1.0 * 0.2
    z = {"rough": noise(many, 20e-6), "bowl": 1e-3 * (x - 0.2) ** 2 + 5e-4 * y, "tilted": 0.05 * x - 0.02 * y + noise(many, 5e-6),
         "saddle": 1e-3 * (x - 0.2) * (y - 0.1), "plane": 0.001 * x}[shape]  # fmt: skip
    return np.stack([x, y, z], axis=1)


def of_zone(points):
    zone, plane = flatness.minimum_zone(points), flatness.least_squares_plane(points)
    yield from (
        zone.width,
        zone.normal,
        zone.lower,
        zone.upper,
        np.sort(zone.weight),
        zone.slopes,
        zone.heights(points),
    )
    yield from (plane.normal, plane.lower, plane.upper, plane.width, flatness.cut_along(points, [0.1, 0.2, 2.0]))


GRID = np.array([(x, y, z) for x, y, z in [
    (0, 0, 0), (1, 0, 0), (0, 1, 0), (1, 1, 0), (0.5, 0.5, 1e-4), (0.5, 0, 0), (0, 0.5, 0), (1, 0.5, 0), (0.5, 1, 0)]])  # fmt: skip


def level_grids():
    """Heights in whole steps at even places: many points lie alike, and several planes are as good."""
    x, y = (a.ravel() / 10 for a in np.meshgrid(np.arange(6.0), np.arange(4.0)))
    k = np.arange(x.size)
    steps = (
        (k * 7) % 5,
        (k % 2),
        (x > 0.2) * 1.0,
        (x > 0.2) * (y > 0.1),
        np.abs(x - 0.2) * 10,
        (k == 9) * 1.0,
        (x * 10) % 3 + (y * 10) % 2,
    )
    for z in steps:
        yield np.stack([x, y, z * 1e-4], axis=1)
        yield np.stack([x, y, z * 0.05 + 0.2 * x], axis=1)


def no_surfaces():
    """What spans no surface, and a little more that does."""
    line = np.array([(0.1 * k, 0.05 * k, noise(9, 1e-5)[k]) for k in range(9)])
    wide = line + np.array([(0, 1e-8 * (k == 4), 0) for k in range(9)])
    for points in (
        line,
        wide,
        line[:2],
        line[:, :2],
        line[0],
        np.full((4, 3), 0.1),
        np.where(line == 0.1, np.nan, line),
    ):
        yield lambda p=points: flatness.minimum_zone(p).width


BOLT = {"P": 1.5e-3, "d_2": 9.026e-3, "D_Km": 13e-3, "A_0": 58e-6, "W_P": 124e-9, "delta_S": 4e-9, "delta_P": 1e-9, "l_0": 0.05,
        "epsilon_u": 0.05}  # fmt: skip


def tightened():
    """Every kind of stage, for three frictions; the last angle breaks a bolt."""
    mu = np.array([0.10, 0.14, 0.18])
    model = tightening.model(**BOLT, R_p=np.array([9e8, 9.4e8, 9e8]), R_m=np.full(3, 1.05e9), mu_G=mu, mu_K=mu)
    stages = [("torque", np.full(3, 30.0)), ("angle", np.full(3, 1.2)), ("check", None), ("loosen", np.full(3, 0.4)), ("torque", np.full(3, 45.0)),
              ("loosen", None), ("repeat", np.full(3, 30.0)), ("wait", None), ("angle", np.array([1.0, 6.0, 14.0]))]  # fmt: skip
    yield tightening.run(model, stages, 3)
    yield tightening.curve(model, 9, np.array([0.0, 1e-5, 1e-4]))


FACE = feeler.Face(
    [(0, 0), (0.4, 0), (0.4, 0.2), (0.25, 0.2), (0.25, 0.15), (0, 0.15)],
    [feeler.Round(0.1, 0.07, 0.08), feeler.Round(0.3, 0.1, 0.08)],
    [[(0.18, 0.05), (0.22, 0.05), (0.22, 0.09), (0.18, 0.09)]],
)
LINES = [((0, 0.07), (0.4, 0.07)), ((0, 0), (0.4, 0.2)), ((0.1, -0.1), (0.1, 0.3)), ((0, 0), (0.4, 0)),
         ((0.25, 0), (0.25, 0.2)), ((-0.1, 0.15), (0.5, 0.15)), ((0, 0.11), (0.4, 0.11)), ((0.18, 0), (0.18, 0.15))]  # fmt: skip
POLYGONS = [
    [(0, 0), (1, 0), (1, 1), (0, 1)], [(0, 0), (1, 1), (1, 0), (0, 1)], [(0, 0), (1, 0), (0.5, 0), (0.5, 1)],
    [(0, 0), (0, 0), (1, 0), (1, 1)], [(0, 0), (2, 0), (2, 2), (1, 0), (0, 2)], [(0, 0), (1, 0), (1, 1), (0.5, -0.5)],
]  # fmt: skip
PLACES = {"a": (0.0, 0.0), "b": (0.8, 0.0), "c": (0.8, 0.4), "d": (0.0, 0.4), "m": (0.4, 0.2)}
STEPS = [("a", "c", 8), ("b", "d", 8), ("a", "b", 8), ("b", "c", 4), ("c", "d", 8), ("d", "a", 4)]


def stepped():
    lines = []
    for k, (start, end, steps) in enumerate(STEPS):
        lines.append(line_survey.SteppedLine(f"{start}{end}", start, end, tuple(noise(steps + k, 2e-4)[k:])))
    return lines


def grades():
    rows = [skim.Grade("1", None, 0.5e-3), skim.Grade("2", 0.5e-3, 0.6e-3), skim.Grade("3", 0.65e-3, 0.8e-3),
            skim.Grade("4", 0.75e-3, None)]  # fmt: skip
    for at in (0.3, 0.5, 0.51, 0.55, 0.59, 0.62, 0.645, 0.655, 0.7, 0.75, 0.77, 0.79, 0.9):
        for u in (0.0, 0.02):
            found, case = skim.grades_at(at * 1e-3, rows[: 3 if u else 4], u * 1e-3)
            yield (case, [g.name for g in found])
    yield skim.grades_at(0.9e-3, rows[:3])[1]
    yield skim.grades_at(0.4e-3, rows[1:])[1]


def of_coolant(name, *arguments):
    try:
        return getattr(coolant_properties, name)(*arguments)
    except coolant_properties.OutOfTable:
        return "out of table"


def coolants():
    for glycol in ("ethylene", "propylene"):
        for v in (0.2, 0.4, 0.55):
            for T in (243.15, 275.0, 293.15, 300.0, 350.0, 390.0, 398.15):
                yield (of_coolant("density", glycol, v, T), of_coolant("specific_heat", glycol, v, T))
            yield (of_coolant("freezing_point", glycol, v), of_coolant("as_poured", glycol, v))
            w = float(of_coolant("mass_fraction", glycol, v))
            yield (w, of_coolant("volume_fraction", glycol, w), of_coolant("uninhibited_density", glycol, v))
            yield [of_coolant("boiling_point", glycol, w, p) for p in (0.8e5, 1.013e5, 2.5e5)]
        yield (of_coolant("coldest_freezing", glycol), of_coolant("pure_density", glycol))
        yield of_coolant("strength_from_freezing", glycol, 250.0)
        yield of_coolant("strength_from_density", glycol, 1055.0 if glycol == "ethylene" else 1030.0, 293.15)
        yield of_coolant("strength_from_index", glycol, 1.37)
        yield of_coolant("contraction", glycol, [(1.0, 0.3), (2.0, 0.6)])
        yield of_coolant("contraction", glycol, [])
        yield [of_coolant("strength_from_freezing", glycol, T) for T in (273.15, 272.0, 230.0, 220.0)]
        yield of_coolant("vapour_pressures", glycol, 360.0)


def mixes():
    for target in (0.3, 0.45, 0.5):
        yield coolant_mix.swaps(6e-3, 2e-3, 0.25, target, 0.9, at_most=5)
        yield coolant_mix.fill(6e-3, 4e-3, 0.25, target, 0.9)
    yield coolant_mix.swaps(6e-3, 2e-3, 0.5, 0.3, 0.0, at_most=5)
    yield coolant_mix.swaps(6e-3, 1e-3, 0.25, 0.85, 0.9, at_most=3)
    yield coolant_mix.reach_of_fill(6e-3, 4e-3, 0.25, 0.9)
    for need in (0.4e-3, 1e-3, 2.3e-3, 7.5e-3):
        yield coolant_mix.bottles(need, [1e-3, 1.5e-3, 5e-3])


LAYERS = [joint.Layer(0.010, 70e9, 0.013), joint.Layer(0.0015, None, 0.013, k=2e9), joint.Layer(0.04, 110e9, 0.012)]


def frusta():
    for cones in (1, 2):
        for column in (None, 0.022, 0.03):
            found = joint.frusta(LAYERS, 0.018, 0.02, cones=cones, column=column)
            yield [(f, f.stiffness if f.k is None else f.k, f.widest) for f in found]


def others():
    lifts = np.array([0.0, 2e-3, 5e-3, 9e-3, 8e-3, 1e-3])
    angles = np.array([0.0, 0.2, 0.5, 0.9, 1.4, 1.6])
    theta = np.linspace(-0.2, 1.8, 23)
    yield (valve_motion.lift_at(theta, angles, lifts), valve_motion.bulge_at(theta, angles, lifts))
    yield valve_motion.bulge_at(theta, angles[:2], lifts[:2])
    for parameter in ("Ra", "Rq", "Rz"):
        yield from (z for _, z in roughness.model_profiles(parameter, 2e-6, waves=3, points=400).values())
    u = (noise(4000, 0.5) + 0.5).clip(0, 1)
    F = 40e3 * (1 + 0.2 * (u - 0.5)) * (1 + 0.1 * noise(4000, 1.0)[::-1])
    yield scatter.shares(F, {"u": scatter.classes(u), "v": scatter.classes(u[::-1].copy())})
    yield (scatter.rectangular(u, 0.3), scatter.torque_for_mean(F / 100, F * 1.4, 45e3), scatter.classes(u, 7))
    for typed in (
        "M10",
        "M12x1.25",
        "M8-LH",
        "1/2-13 UNC",
        "7/16-20 UNF",
        "M14 x 1,5",
        "1-8 UNC",
        "1 1/8-7 UNC",
        "1/4-20",
        "M39x4",
    ):
        thread = threads.read_thread(typed)
        yield [getattr(thread, name) for name in dir(thread) if not name.startswith("_")]
        yield [threads.property_class(name, thread) for name in threads.property_classes()]
        yield (threads.strongest(thread), threads.hexagon_bearing(thread.d))
    yield [threads.property_class("8.8", threads.read_thread(t)) for t in ("M16", "M16x1.5", "M18", "M39x4", "M42x4.5")]
    for typed in (
        "M10x3",
        "M10x2.9",
        "M10x0.4",
        "M10x0.41",
        "1-3",
        "1-4",
        "1-24",
        "1-25",
        "1/0-20",
        "1/2-12 UNC",
        "M7.3",
        "M200x6",
        "x",
    ):
        try:
            yield threads.read_thread(typed).P
        except threads.UnknownThread:
            yield f"no thread: {typed}"
    yield [wrench.permissible_deviation(*x) for x in ((10.0,), (10.2,), (5.0, 20.0), (20.0, 10.0), (20.0, 10.4))]
    yield [torque_units.printed_pair(x) for x in (10.4, 10.5, 10.6, 11.0, 40.0)]
    yield [torque_units.whole(x) for x in (0.4, 0.5, 1.5, 2.49, -0.5)]
    yield [outlier.median([3.0, 1.0, 2.0, 9.0]), outlier.median_deviation([3.0, 1.0, 2.0, 9.0, 4.0])]
    for r in (0.0, 0.5, 0.99, 1.0):
        a, b = scatter.correlated(np.random.default_rng(3), 4000, r)
        yield round(float(np.corrcoef(a, b)[0, 1]), 1)
    parts = elastic_interaction.coupling([(0, 0), (0.1, 0), (0.05, 0.08)], 1e9, 0.06)
    yield (parts, elastic_interaction.tighten_in_turn(parts, 4e8, [(0, 3e4), (2, 3e4), (1, 3e4), (0, 4e4)]))


def cases():
    """Name, and a function that gives the results."""
    for name, function, many in of_numbers():
        yield name, lambda f=function, n=many: [f(*spread(n, at)) for at in range(3)]
    for name, (angle, torque) in TRACES.items():
        yield f"trace {name}", lambda a=angle, t=torque: list(of_trace(a, t))
    for many in (3, 4, 17, 200, 2500):
        for shape in ("rough", "bowl", "tilted", "saddle"):
            yield f"zone {shape} {many}", lambda m=many, s=shape: list(of_zone(face(m, s)))
        yield f"zone plane {many}", lambda m=many: flatness.minimum_zone(face(m, "plane")).width < 1e-15
    yield "zone grid", lambda: flatness.minimum_zone(GRID).width
    for k, width in enumerate(no_surfaces()):
        yield f"zone none {k}", width
    yield "tightened", lambda: list(tightened())
    yield (
        "bending",
        lambda: [
            f(x)
            for f in (stripping.bolt_bending_factor, stripping.tapped_bending_factor)
            for x in (0.4, 0.5, 1.0, 1.1, 2.2, 2.3)
        ],
    )
    yield "bottles", lambda: [coolant_mix.bottles(x, [1e-3]) for x in (0.0, -1.0, 3e-3, 3.2e-3)]
    for need in (1.0, 150.0, 300.0):
        yield f"bottles {need}", lambda n=need: coolant_mix.bottles(n, [5e-3, 1e-3])
    for k, grid in enumerate(level_grids()):
        yield (
            f"zone level {k}",
            lambda g=grid: (flatness.minimum_zone(g).width, np.abs(flatness.minimum_zone(g).normal)),
        )
    for k, (start, end) in enumerate(LINES):
        yield f"spans {k}", lambda a=start, b=end: feeler.spans(a, b, FACE)
    yield "self crossing", lambda: [feeler.self_crossing(p) for p in POLYGONS]
    yield "holds", lambda: [FACE.holds(x / 40, y / 40) for x in range(-1, 18) for y in range(-1, 10)]
    t = np.linspace(0, 0.5, 41)
    for k, z in enumerate(
        (noise(41, 1e-5), 1e-4 * (t - 0.2) ** 2, -1e-4 * (t - 0.2) ** 2, 0 * t, 1e-6 * np.sin(9 * t))
    ):
        yield f"laid on {k}", lambda z=z: feeler.laid_on(t, z)
    gaps = [feeler.Bracket(a, b) for a, b in ((0.0, 1e-4), (5e-5, 1e-4), (2e-5, math.inf), (0.0, math.inf))]
    yield "balanced", lambda: [feeler.balanced(a, b) for a in gaps for b in gaps]
    yield "survey", lambda: line_survey.survey(stepped(), PLACES, 0.1)
    yield from {"grades": lambda: list(grades()), "coolants": lambda: list(coolants()), "mixes": lambda: list(mixes()),
                "frusta": lambda: list(frusta()), "others": lambda: list(others())}.items()  # fmt: skip


# ------------------------------------------------------------------------------ limits and other constants
def constants():
    """The numbers of the constants of core and physics, and of those of record that are one number."""
    for package in (shoplib.core, shoplib.physics, shoplib.record):
        for module in pkgutil.iter_modules(package.__path__):
            loaded = importlib.import_module(f"{package.__name__}.{module.name}")
            for name, value in vars(loaded).items():
                plain = isinstance(value, int | float) or package is not shoplib.record
                if (
                    plain
                    and name.strip("_").isupper()
                    and (numbers := [x for x in flat(value) if isinstance(x, float)])
                ):
                    yield f"constant {module.name}.{name}", numbers
    for name, value in vars(units).items():
        if metadata := getattr(value, "__metadata__", None):
            yield f"unit {name}", [metadata[0].si, metadata[0].offset]
    yield from defaults()


def defaults():
    """The numbers, and yes or no, that parameters and attributes of core have where nobody gives them."""
    for module in pkgutil.iter_modules(shoplib.core.__path__):
        loaded = importlib.import_module(f"shoplib.core.{module.name}")
        for thing in vars(loaded).values():
            if getattr(thing, "__module__", None) != loaded.__name__:
                continue
            for function in map(inspect.unwrap, vars(thing).values() if inspect.isclass(thing) else [thing]):
                for p in inspect.signature(function).parameters.values() if inspect.isfunction(function) else ():
                    if isinstance(p.default, int | float):
                        yield f"default {module.name}.{function.__qualname__}.{p.name}", [float(p.default)]


# ------------------------------------------------------------------------------ as text
def flat(value):
    """The numbers and words of a result, one after the other; a long array by four sums of it."""
    if isinstance(value, str | bool | np.bool_) or value is None:
        yield str(value)
    elif isinstance(value, int | float | np.number):
        yield float(value)
    elif isinstance(value, np.ndarray):
        if value.size <= 6:
            yield from map(float, value.ravel())
        else:
            of, k = value.ravel().astype(float), np.arange(value.size)
            yield from (
                float(value.size),
                float(of.sum()),
                float(np.abs(of).sum()),
                float(of @ np.sin(k)),
                float(of[-1]),
            )
    elif dataclasses.is_dataclass(value):
        for f in dataclasses.fields(value):
            yield from flat(getattr(value, f.name))
    elif isinstance(value, dict):
        for key, one in value.items():
            yield from (str(key), *flat(one))
    elif isinstance(value, list | tuple):
        for one in value:
            yield from flat(one)
    else:
        yield type(value).__name__


def found(calculate):
    try:
        with np.errstate(all="ignore"):
            return list(flat(calculate()))
    except (ArithmeticError, ShoplibError, ValueError) as error:
        return [type(error).__name__]


def written(value):
    return f"{value:.10g}" if isinstance(value, float) else value


KEPT = {row[0]: row[1:] for row in csv.reader(FILE.read_text(encoding="utf-8").splitlines())} if FILE.exists() else {}


CASES = {
    name: calculate for name, calculate in cases() if name in KEPT
}  # a new one is taken in when the file is written


@pytest.mark.parametrize("name", CASES)
def test_the_numbers_are_those_of_before(name):
    now, before = found(CASES[name]), KEPT[name]
    assert len(now) == len(before)
    for k, (a, b) in enumerate(zip(now, before, strict=True)):
        if isinstance(a, float):
            assert a == pytest.approx(float(b), rel=1e-7, abs=1e-14, nan_ok=True), k
        else:
            assert a == b, k


def test_limits_and_constants_are_those_of_before():
    """One that is new or gone is none of its business."""
    now = dict(constants())
    changed = {name for name, before in KEPT.items() if name in now and before != [*map(written, now[name])]}
    assert not changed
    assert sum(name in KEPT for name in now) > 100


def test_most_of_what_is_calculated_is_in_the_file():
    assert len(CASES) > 0.95 * len(list(cases()))


if __name__ == "__main__":
    kept = [[n, *map(written, found(c))] for n, c in cases()] + [[n, *map(written, c)] for n, c in constants()]
    with FILE.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(kept)
