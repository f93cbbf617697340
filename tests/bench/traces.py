"""How well traces are evaluated, how fast, and whether a changed file ends in an error.

``python -m tests.bench.traces``            the accuracy over 10 000 traces, by noise and by samples, and the time
``python -m tests.bench.traces mutated``    100 000 changed files
``python -m tests.bench.traces million``    a file of a million samples
"""

import functools
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from math import degrees, pi

import numpy as np

from shoplib.core.trace_file import parse
from shoplib.core.units import Unreadable
from shoplib.physics.traces import evaluate, offset_angle
from tests.trace_simulator import as_csv, simulate

WITHIN = {"snug": 3.0, "slope": 0.02, "yield": 5.0}
ENOUGH = 90  # samples between the snug point and yield: from here on the stated limits hold for noise up to 1 %


def errors_of(seed, **how):
    """(noise, samples per second, samples from snug to yield, errors by name, invented, seconds, held by name).

    An error is None where nothing was found.  Held: the truth lies within twice the stated standard uncertainty.
    """
    made = simulate(seed, **how)
    trace = parse(as_csv(made))
    begun = time.perf_counter()
    found = evaluate(trace.angle, trace.torque)
    spent, truth = time.perf_counter() - begun, made.truth
    wrong = {"snug": None, "slope": None, "yield": None, "threshold": None}
    samples, held = 0, {}
    if found.slope is not None:
        wrong["snug"] = degrees(found.snug.angle) - truth.snug
        wrong["slope"] = found.slope * pi / 180 / truth.slope - 1
        until = found.drop.angle if found.drop else np.inf
        samples = int(((found.angle >= found.snug.angle) & (found.angle <= until)).sum())
        held["snug"] = abs(wrong["snug"]) <= 2 * degrees(found.snug.uncertainty)
        held["slope"] = abs(wrong["slope"]) * truth.slope * 180 / pi <= 2 * found.slope_uncertainty
    if found.drop is not None and truth.yielded is not None:
        wrong["yield"] = degrees(found.drop.angle) - truth.yielded
        held["yield"] = abs(wrong["yield"]) <= 2 * degrees(found.drop.uncertainty)
    point = found.crossing(truth.threshold_torque)
    wrong["threshold"] = degrees(point.angle) - truth.threshold if point else None
    invented = found.drop is not None and truth.yielded is None
    return made.noise, made.rate, samples, wrong, invented, spent, held


def share_within(rows, name):
    values = [abs(r[3][name]) for r in rows if r[3][name] is not None]
    return (sum(v <= WITHIN[name] for v in values) / len(values) if values else float("nan")), len(values)


def share_held(rows, name):
    """The share of the traces whose truth lies within the stated uncertainty (95 % wanted)."""
    values = [r[6][name] for r in rows if name in r[6]]
    return sum(values) / len(values) if values else float("nan")


def mutants(seed, count):
    """How many of these changed files were read and evaluated, and how many refused; anything else raises."""
    rng = np.random.default_rng(seed)
    bases = [as_csv(simulate(s, samples=int(rng.integers(12, 120))), *signs)
             for s, signs in enumerate([(";", "."), (";", ","), (",", "."), ("\t", ",")] * 3)]  # fmt: skip
    read = refused = 0
    for _ in range(count):
        try:
            trace = parse(mutated(bytearray(bases[rng.integers(len(bases))]), rng))
        except Unreadable:
            refused += 1
            continue
        found = evaluate(trace.angle, trace.torque)
        found.crossing(float(found.peak.torque) / 3)
        found.offset(float(offset_angle(e_p=0.002, l_0=0.1, P=0.0015)))
        assert np.isfinite(found.energy)
        read += 1
    return read, refused


ODD = [b";", b",", b"\n", b"\t", b'"', b"\x00", b"\xff\xfe", b"-", b"1e308", b"nan", b"inf", b"N", b"0", b"\r", b"9" * 400,
       "°".encode(), b"angle_deg;torque_Nm\n", b"1,2,3;4\n", b"- - -\n", b"=1+1", b"\xef\xbb\xbf", b"x.csv"]  # fmt: skip


def mutated(raw, rng):
    for _ in range(int(rng.integers(1, 6))):
        at, end = sorted(int(x) for x in rng.integers(0, len(raw) + 1, 2))
        match int(rng.integers(6)):
            case 0:
                raw[at:at] = ODD[int(rng.integers(len(ODD)))]
            case 1:
                del raw[at : min(end, at + 40)]
            case 2 if at < len(raw):
                raw[at] = int(rng.integers(256))
            case 3:
                raw[at:at] = raw[at : min(end, at + 200)]
            case 4:
                lines = bytes(raw).split(b"\n")
                rng.shuffle(lines)
                raw = bytearray(b"\n".join(lines)) if rng.random() < 0.2 else raw
            case _:
                raw = raw[: max(at, 1)] if rng.random() < 0.2 else raw
    return bytes(raw)


def _some(job):
    kind, seed, count = job
    if kind == "mutated":
        return mutants(seed, count)
    return [errors_of(seed + k) for k in range(count)]


def _printed(rows):
    print("noise  samples from snug to yield   traces   snug ±3°   slope ±2 %   yield ±5°   not found   "
          "within twice the stated uncertainty: snug, slope, yield")  # fmt: skip
    for noise in (0.005, 0.01, 0.02, 0.03):
        for low, high in ((0, 30), (30, ENOUGH), (ENOUGH, 300), (300, 10**6)):
            part = [r for r in rows if r[0] == noise and low <= r[2] < high]
            if part:
                shares = [share_within(part, name)[0] for name in WITHIN]
                none = sum(r[3]["slope"] is None for r in part) / len(part)
                print(
                    f"{noise:.1%}   {low:4} to {high:<22} {len(part):6} "
                    + "".join(f"{s:11.1%}" for s in shares)
                    + f"{none:11.1%}      "
                    + "".join(f"{share_held(part, name):9.1%}" for name in WITHIN)
                )
    good = [r for r in rows if r[0] <= 0.01 and r[2] >= ENOUGH]
    print(
        f"noise up to 1 %, {ENOUGH} samples and more: "
        + ", ".join(f"{n} {share_within(good, n)[0]:.1%}" for n in WITHIN)
    )
    for low, high in ((0, ENOUGH), (ENOUGH, 10**6)):
        part = [r for r in rows if low <= r[2] < high]
        print(f"{low} samples and more, below {high}: within twice the stated uncertainty: "
              + ", ".join(f"{n} {share_held(part, n):.1%}" for n in WITHIN))  # fmt: skip
    print(f"yield reported where there is none: {sum(r[4] for r in rows)} of {len(rows)}")
    print(f"evaluation alone: {1e3 * sum(r[5] for r in rows) / len(rows):.1f} ms per trace")


@functools.cache
def _of_a_thousand():
    return [as_csv(simulate(seed, samples=1000)) for seed in range(10)]


def _hundred(_):
    """Reading and evaluating 100 traces of 1000 samples: seconds of the clock, and of the processor."""
    raw = _of_a_thousand()
    begun, used = time.perf_counter(), time.process_time()
    for k in range(100):
        trace = parse(raw[k % 10])
        evaluate(trace.angle, trace.torque)
    return time.perf_counter() - begun, time.process_time() - used


def main(what="accuracy", count=None):
    begun = time.perf_counter()
    if what == "million":
        for signs in ((";", "."), (";", ","), ("\t", ",")):
            raw = as_csv(simulate(5, samples=1_000_000, noise=0.01), *signs)
            parse(raw[:20_000])
            begun = time.perf_counter()
            trace = parse(raw)
            evaluate(trace.angle, trace.torque)
            print(
                f"{signs}: {len(raw) / 1e6:.1f} MB, {trace.rows} samples read and evaluated in {time.perf_counter() - begun:.2f} s"
            )
        return
    with ProcessPoolExecutor(2) as pool:
        if what == "mutated":
            parts = list(pool.map(_some, [("mutated", s, 1000) for s in range(int(count or 100_000) // 1000)]))
            print(f"{sum(r for r, _ in parts)} read and evaluated, {sum(r for _, r in parts)} refused, none failed, "
                  f"{time.perf_counter() - begun:.0f} s")  # fmt: skip
            return
        n = int(count or 10_000)
        rows = [r for part in pool.map(_some, [("errors", s, 250) for s in range(0, n, 250)]) for r in part]
        _printed(rows)
        print(f"{n} traces made, read and evaluated in {time.perf_counter() - begun:.0f} s on 2 processes")
        list(pool.map(_hundred, range(2)))  # the ten files are made
        begun = time.perf_counter()
        spent = list(pool.map(_hundred, range(100)))
        print(f"10 000 traces of 1000 samples read and evaluated in {time.perf_counter() - begun:.0f} s on 2 processes; "
              f"{sum(used for _, used in spent):.0f} s of processor time")  # fmt: skip


if __name__ == "__main__":
    main(*sys.argv[1:])
