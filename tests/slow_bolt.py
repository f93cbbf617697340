"""A slow, obviously right bolt: plain floats, one bolt at a time, the load found by halving.  Nothing from the package.

The differential tests compare verdicts with it.  Lengths in mm, loads in kN, torques in N·m, angles in degrees.
"""

import itertools
import math
from dataclasses import dataclass


@dataclass
class Bolt:
    """A bolt in its joint."""

    d: float
    P: float
    D_Km: float
    shank: float  # diameter
    shank_length: float
    thread_length: float
    R_p: float
    R_m: float
    uniform_strain: float
    k_p: float  # kN/mm
    torsion: str
    E: float = 205.0  # kN/mm²

    def __post_init__(self):
        self.d_2 = self.d - 0.649519 * self.P
        d_3 = self.d - 1.226869 * self.P
        d_S = (self.d_2 + d_3) / 2
        weak_shank = self.shank < d_S and self.shank_length > 0
        self.d_0 = self.shank if weak_shank else d_S
        self.l_0 = self.shank_length if weak_shank else self.thread_length + 0.5 * self.d
        self.A_0 = math.pi / 4 * self.d_0**2
        self.W_P = math.pi / (12 if self.torsion == "plastic" else 16) * self.d_0**3
        delta_S = self.shank_length / (self.E * math.pi / 4 * self.shank**2)
        delta_S += self.thread_length / (self.E * math.pi / 4 * d_S**2)
        self.delta = delta_S + 1 / self.k_p
        self.u_u = self.uniform_strain * self.l_0

    def moment(self, mu_G, mu_K):
        """N·m for each kN."""
        return 0.16 * self.P + 0.58 * self.d_2 * mu_G + self.D_Km / 2 * mu_K

    def stress(self, F, mu_G):
        """Combined stress, MPa."""
        tangent = math.tan(math.atan(self.P / (math.pi * self.d_2)) + math.atan(mu_G / math.cos(math.pi / 6)))
        twist = F * self.d_2 / 2 * tangent
        return 1e3 * math.sqrt((F / self.A_0) ** 2 + 3 * (twist / self.W_P) ** 2)


def sampled(ends, count):
    """Values of a range, ends included."""
    low, high = ends
    return [low] if low == high else [low + (high - low) * k / (count - 1) for k in range(count)]


def follow(bolt, stages, mu_G, mu_K):
    """(torque the wrench would show at each stage, plastic strain; None and infinite once it has begun to neck)."""
    load_per_stress = 1 / bolt.stress(1.0, mu_G)
    F_y, F_m = bolt.R_p * load_per_stress, bolt.R_m * load_per_stress
    c = bolt.moment(mu_G, mu_K)

    def lengthened(F):
        return 0.0 if F_y >= F else bolt.u_u * (1 - math.sqrt(max(F_m - F, 0.0) / (F_m - F_y)))

    s = u = 0.0
    shown = []
    for kind, value in stages:
        F = max((s - u) / bolt.delta, 0.0)
        if kind == "torque" and value / c > F:
            F = value / c
            if F_m < F:
                return None, math.inf
            u = max(u, lengthened(F))
            s = F * bolt.delta + u
        elif kind == "angle":
            s += bolt.P * value / 360
            if s > F_m * bolt.delta + bolt.u_u:
                return None, math.inf
            low, high = -1e6, F_m
            for _ in range(100):
                middle = (low + high) / 2
                low, high = (middle, high) if middle * bolt.delta + max(u, lengthened(middle)) < s else (low, middle)
            u = max(u, lengthened(low))
        elif kind == "loosen":
            s = u if value is None else s - bolt.P * value / 360
        shown.append(c * max((s - u) / bolt.delta, 0.0))
    return shown, u / bolt.l_0


def every(bolt, stages, band_G, band_K, count=7, inside=3):
    """What :func:`follow` finds for every sampled friction and stage value."""
    values = [[(kind, None)] if ends is None else [(kind, v) for v in sampled(ends, inside)] for kind, ends in stages]
    for mu_G, mu_K in itertools.product(sampled(band_G, count), sampled(band_K, count)):
        for led in itertools.product(*values):
            yield follow(bolt, led, mu_G, mu_K)
