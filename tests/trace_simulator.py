"""Torque–angle traces with known truth, from VDI 2230 by integration over the angle.

It shares no line with ``shoplib``: torque from force by VDI 2230-1, (R10): M = F (0.16 P + 0.58 d2 mu_G + D_Km/2 mu_K);
the angle drives the bolt, and the force is integrated step by step (Runge–Kutta of fourth order) with a plastic
elongation that hardens.  The equation and its constants are from memory of VDI 2230-1:2015, 5.4.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, pi

import numpy as np


@dataclass(frozen=True)
class Truth:
    snug: float  # degrees on the gauge: the elastic line back at the running torque
    slope: float  # N·m per degree
    yielded: float | None  # degrees: slope at half of the elastic slope
    threshold: float  # degrees: the torque passes a quarter of the elastic limit
    threshold_torque: float
    running: float
    lost: float  # degrees that the gauge shows without turning


@dataclass(frozen=True)
class Simulated:
    angle: np.ndarray
    torque: np.ndarray
    time: np.ndarray
    truth: Truth
    noise: float  # share of the highest torque
    rate: float


@dataclass(frozen=True)
class Joint:
    pitch: float  # mm
    d2: float
    head: float  # D_Km
    mu_G: float
    mu_K: float
    delta: float  # mm/N, bolt and parts
    settling: float  # mm that closes before the joint is solid
    soft: float  # N over which it closes
    F_yield: float
    hardening: float  # share of the elastic stiffness that is left beyond yield
    knee: float  # width of the transition, share of F_yield
    running: float

    @property
    def per_newton(self) -> float:
        return (0.16 * self.pitch + 0.58 * self.d2 * self.mu_G + self.head / 2 * self.mu_K) / 1000

    def compliance(self, F: float) -> float:
        """mm/N at this force."""
        closing = self.settling / self.soft * exp(-F / self.soft)
        plastic = self.delta * (1 / self.hardening - 1) / (1 + exp(-(F - self.F_yield) / (self.knee * self.F_yield)))
        return self.delta + closing + plastic


def draw(rng: np.random.Generator) -> Joint:
    d = float(rng.choice([8.0, 10.0, 12.0, 14.0]))
    pitch = {8.0: 1.25, 10.0: 1.5, 12.0: 1.75, 14.0: 2.0}[d]
    d2 = d - 0.6495 * pitch
    area = pi / 4 * (d - 0.9382 * pitch) ** 2
    F_yield = area * float(rng.uniform(550, 950))
    length = float(rng.uniform(4, 12)) * d
    delta = length / (205_000 * area) * float(rng.uniform(1.1, 1.6))
    soft = F_yield * float(rng.uniform(0.02, 0.08))
    return Joint(
        pitch, d2, 1.3 * d, float(rng.uniform(0.08, 0.18)), float(rng.uniform(0.08, 0.18)), delta,
        float(rng.uniform(0.005, 0.05)), soft, F_yield, float(rng.uniform(0.05, 0.2)), float(rng.uniform(0.006, 0.02)),
        float(rng.choice([0.0, rng.uniform(0.0, 0.04)])) * F_yield * 0.0018 * d / 10,
    )  # fmt: skip


def forces(joint: Joint, until: float, step: float = 0.1) -> tuple[np.ndarray, np.ndarray]:
    """Force over the angle (degrees) from first contact, by Runge–Kutta steps of the angle."""
    per = joint.pitch / 360
    angles, F = [0.0], [0.0]

    def rate(f: float) -> float:
        return per / joint.compliance(f)

    n = int(until / step)
    for k in range(n):
        f = F[-1]
        k1 = rate(f)
        k2 = rate(f + step / 2 * k1)
        k3 = rate(f + step / 2 * k2)
        k4 = rate(f + step * k3)
        F.append(f + step / 6 * (k1 + 2 * k2 + 2 * k3 + k4))
        angles.append((k + 1) * step)
    return np.array(angles), np.array(F)


def simulate(seed: int, *, noise: float | None = None, rate: float | None = None, samples: int | None = None,
             strokes: int | None = None, beyond: bool | None = None, joint: Joint | None = None) -> Simulated:  # fmt: skip
    rng = np.random.default_rng(seed)
    joint = joint or draw(rng)
    noise = float(rng.choice([0.005, 0.01, 0.02, 0.03])) if noise is None else noise
    rate = float(10 ** rng.uniform(0, 3)) if rate is None else rate
    strokes = int(rng.choice([0, 0, 3, 6])) if strokes is None else strokes
    beyond = bool(rng.random() < 0.7) if beyond is None else beyond
    elastic = joint.F_yield * joint.delta * 360 / joint.pitch + joint.settling * 360 / joint.pitch
    until = elastic * (1.0 if beyond else 0.8) + (float(rng.uniform(25, 60)) if beyond else 0.0)
    a, F = forces(joint, until, max(until / 1500, 0.02))
    rundown = float(rng.uniform(20, 360))
    backlash = float(rng.choice([0.0, 4.0])) if strokes else 0.0
    true_angle = np.concatenate(([-rundown, -1e-9], a))
    true_torque = np.concatenate(([0.0, 0.0], F * joint.per_newton)) + joint.running
    time, angle, torque = _by_hand(rng, true_angle, true_torque, rundown, until, rate, strokes, backlash, samples)
    scale = float(true_torque.max())
    torque = torque + rng.normal(0, noise * scale, len(torque))
    slope = joint.pitch / 360 / joint.delta * joint.per_newton
    snug = joint.settling * 360 / joint.pitch
    local = np.gradient(true_torque[2:], a)
    straight = joint.F_yield * 0.6
    after = np.flatnonzero((straight < F) & (local < slope / 2))
    level = joint.running + joint.F_yield * joint.per_newton / 4
    truth = Truth(
        snug + rundown, slope, float(a[after[0]]) + rundown if len(after) else None,
        float(np.interp(level, true_torque[2:], a)) + rundown, level, joint.running, backlash * strokes,
    )  # fmt: skip
    return Simulated(angle, torque, time, truth, noise, rate)


def _by_hand(rng, x, T, rundown, until, rate, strokes, backlash, samples):
    """Samples at equal times of a hand that turns: 60°/s in the rundown, 15 to 40°/s then, with its strokes."""
    speed = float(rng.uniform(15, 40))
    places = np.sort(rng.uniform(0.25, 0.9, strokes)) * until
    t, path, load = [0.0, rundown / 120], [-rundown, 0.0], [1.0, 1.0]  # time, angle, share of the torque on the wrench
    shown, offset = [0.0, 0.0], 0.0

    def go(seconds, angle, share, more):
        t.append(t[-1] + seconds)
        path.append(angle)
        load.append(share)
        shown.append(more)

    for place in places:
        go((place - path[-1]) / speed, place, 1.0, offset)
        go(0.15, place, 0.02, offset)  # released
        go(0.6, place, 0.02, offset)
        go(0.3, place, 0.02, offset + backlash)  # taken up
        go(0.3, place, 1.0, offset + backlash)
        offset += backlash
    go((until - path[-1]) / speed, until, 1.0, offset)
    n = samples or int(np.clip(t[-1] * rate, 12, 200_000))
    times = np.linspace(0, t[-1], n)
    bolt = np.interp(times, t, path)
    gauge = bolt + np.interp(times, t, shown) + rundown
    return times, gauge, np.interp(bolt, x, T) * np.interp(times, t, load)


def as_csv(found: Simulated, delimiter: str = ";", decimal: str = ".") -> bytes:
    rows = ["angle_deg", "torque_Nm"]
    text = [delimiter.join(rows)]
    text += [
        delimiter.join(f"{v:.5g}".replace(".", decimal) for v in row)
        for row in zip(found.angle, found.torque, strict=True)
    ]
    return ("\n".join(text) + "\n").encode()


SEED = 68  # of the scatter of the friction


def demo() -> list[Simulated]:
    """Six bolts of one invented joint: number 4 has less friction, so it clamps more at less torque."""
    rng = np.random.default_rng(SEED)
    found = []
    for bolt in range(1, 7):
        mu = 0.075 if bolt == 4 else float(rng.normal(0.13, 0.004))
        joint = Joint(1.5, 9.03, 13.0, mu, mu, 3.2e-6, 0.02, 1500.0, 42_000.0, 0.1, 0.01, 0.6)
        found.append(
            simulate(660 + bolt, noise=0.004, samples=260, strokes=3 if bolt == 2 else 0, beyond=True, joint=joint)
        )
    return found


if __name__ == "__main__":  # writes data/demo/trace-1.csv …
    from pathlib import Path

    for number, made in enumerate(demo(), 1):
        place = Path(__file__).parents[1] / "data" / "demo" / f"trace-{number}.csv"
        place.write_bytes(as_csv(made))
