"""Bolt and clamped parts as springs: resilience of segments, frusta of clamped layers."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from shoplib.core.formula import formula
from shoplib.core.rounding import without_noise
from shoplib.core.units import GPa, kN, kN_per_mm, mm, mm2, mm_per_kN, one

VDI = "VDI 2230-1:2003, section 5.1.1, resilience of the bolt (from memory, not checked)"
FRUSTA = "Shigley, Mechanical Engineering Design, 9th edition, section 8-5, half-apex angle 30°"
HEAD = {"hexagon": 0.5, "socket": 0.4}  # counted length of the head over d; VDI 2230, from memory
ENGAGED = 0.5  # counted length of the engaged thread over d; VDI 2230, from memory
THREADED_PART = {"tapped": 0.33, "nut": 0.4}  # counted length of block or nut over d; VDI 2230, from memory


@formula(symbol="delta_i", source=VDI)
def segment_resilience(l: mm, E: GPa, A: mm2) -> mm_per_kN:
    """How much a cylindrical piece gives per load.  Elastic, uniform section."""
    return l / (E * A)


@formula(symbol="delta_E", source=VDI)
def end_resilience(c_K: one, c_G: one, c_M: one, d: mm, d_3: mm, E: GPa, E_M: GPa) -> mm_per_kN:
    """What head, engaged thread, and tapped hole or nut give; c is each one's counted length over d."""
    A_N: mm2 = np.pi / 4 * d**2
    A_d3: mm2 = np.pi / 4 * d_3**2
    return c_K * d / (E * A_N) + c_G * d / (E * A_d3) + c_M * d / (E_M * A_N)


@formula(symbol="delta_S", source="springs in series")
def bolt_resilience(delta_T: mm_per_kN, delta_G: mm_per_kN, delta_E: mm_per_kN) -> mm_per_kN:
    """Resilience of the bolt: shank (or all typed pieces), free thread and ends."""
    return delta_T + delta_G + delta_E


@formula(symbol="delta_J", source="springs in series")
def joint_resilience(delta_S: mm_per_kN, k_p: kN_per_mm) -> mm_per_kN:
    """Resilience of bolt and clamped parts together."""
    return delta_S + 1 / k_p


@formula(symbol="k_b", source="definition of stiffness, the inverse of resilience")
def stiffness(delta_S: mm_per_kN) -> kN_per_mm:
    """Stiffness of the bolt from its resilience."""
    return 1 / delta_S


@formula(symbol="k_J", source="springs in series")
def series_stiffness(k_b: kN_per_mm, k_p: kN_per_mm) -> kN_per_mm:
    """Stiffness of bolt and clamped parts in series: what turning the bolt works against."""
    return k_b * k_p / (k_b + k_p)


@formula(
    symbol="Phi",
    source="Shigley, 9th edition, section 8-7 (where it is called C); VDI 2230-1, load introduced under the head",
)
def load_factor(k_b: kN_per_mm, k_p: kN_per_mm) -> one:
    """Part of an outside load that the bolt takes, load introduced at the faces under head and nut."""
    return k_b / (k_b + k_p)


@formula(symbol="F_deg", source="travel of one degree times the series stiffness")
def preload_per_degree(k_J: kN_per_mm, P: mm) -> kN:
    """Preload gained by each degree of turning.  Elastic, faces in contact."""
    return k_J * P / 360


@formula(symbol="k_i", source=FRUSTA)
def frustum_stiffness(E: GPa, t: mm, D: mm, d_h: mm) -> kN_per_mm:
    """Stiffness of one conical layer: thickness t, smaller diameter D, hole d_h.  Material all round the cone."""
    top: mm2 = (1.155 * t + D - d_h) * (D + d_h)
    bottom: mm2 = (1.155 * t + D + d_h) * (D - d_h)
    return 0.5774 * np.pi * E * d_h / np.log(top / bottom)


@formula(symbol="D_e", source=FRUSTA)
def cone_diameter(D: mm, t: mm) -> mm:
    """Diameter of the pressure cone a depth t further on."""
    return D + 1.155 * t


SPREAD = 1.155  # by which the cone widens for each unit of depth: twice the tangent of 30°


@formula(
    symbol="k_i",
    source="bar of uniform section; sleeve outside the cone as in VDI 2230-1:2003 (from memory, not checked)",
)
def sleeve_stiffness(E: GPa, t: mm, D_A: mm, d_h: mm) -> kN_per_mm:
    """Stiffness of a hollow cylinder: where the cone has reached the edge of the material, of diameter D_A."""
    return E * np.pi / 4 * (D_A**2 - d_h**2) / t


@dataclass(frozen=True)
class Frustum:
    """A slice of a layer: a cone, a sleeve as wide as the material, or a spring of given stiffness (N/m)."""

    layer: int
    E: float
    t: float
    D: float  # smaller diameter of a cone; diameter of a sleeve
    d_h: float
    k: float | None = None
    sleeve: bool = False

    @property
    def stiffness(self) -> float:
        """Stiffness in N/m."""
        if self.k is not None:
            return self.k
        return float((sleeve_stiffness if self.sleeve else frustum_stiffness)(self.E, self.t, self.D, self.d_h))

    @property
    def widest(self) -> float:
        """Its larger diameter, m."""
        return self.D if self.sleeve else float(cone_diameter(self.D, self.t))


def in_series(stiffnesses: Sequence[float]) -> float:
    """Stiffness of springs in series.

    :param stiffnesses: stiffness of each spring, above zero; N/m
    :returns: stiffness of all together; N/m
    """
    return 1 / sum(1 / k for k in stiffnesses)


@dataclass(frozen=True)
class Layer:
    """A clamped layer, SI.  ``k`` stands in for modulus and hole; ``D`` starts the cone anew in this layer."""

    t: float
    E: float | None = None
    d_h: float | None = None
    D: float | None = None
    k: float | None = None


def frusta(
    layers: Sequence[Layer], D_first: float, D_last: float, *, cones: int = 2, column: float | None = None
) -> list[Frustum]:
    """Cut a stack into the slices of its pressure cones.  Each slice keeps the number of its layer.

    Two cones widen from both faces and meet at mid-height (bolt and nut).  One widens from the head all the way
    (tapped hole).  ``column``: diameter of the material round the bolt, where the cone ends and a sleeve goes on.

    :param layers: the clamped layers from the head on; Layers in SI
    :param D_first: diameter of the face under the head; m
    :param D_last: diameter of the last face; m
    :param cones: 2 for bolt and nut, 1 for a tapped hole; a whole number
    :param column: diameter of the material around the bolt; m, None where it is wide
    :returns: the slices from the head on; Frustums in SI
    """
    total = sum(layer.t for layer in layers)
    if cones == 1:
        return _side(layers, range(len(layers)), D_first, total, column)
    first = _side(layers, range(len(layers)), D_first, total / 2, column)
    last = _side(layers, range(len(layers) - 1, -1, -1), D_last, total / 2, column)
    return first + last[::-1]


def _side(
    layers: Sequence[Layer], order: Iterable[int], start: float, depth: float, column: float | None
) -> list[Frustum]:
    """One cone, from a face into the stack."""
    edge = math.inf if column is None else column
    left, D = depth, min(start, edge)
    slices: list[Frustum] = []
    for n in order:
        layer = layers[n]
        t = min(layer.t, left)
        if without_noise(t, depth) <= 0:
            break
        if layer.D is not None:
            D = min(layer.D, edge)
        cone = min(t, max((edge - D) / SPREAD, 0.0))  # how deep the cone goes before it reaches the edge
        if layer.k is not None:  # a layer cut by the middle shares its give by thickness
            slices.append(Frustum(n, 0.0, t, D, 0.0, layer.k * layer.t / t))
        else:
            assert layer.E is not None
            assert layer.d_h is not None
            if without_noise(cone, t) > 0:
                slices.append(Frustum(n, layer.E, cone, D, layer.d_h))
            if without_noise(t - cone, t) > 0:
                slices.append(Frustum(n, layer.E, t - cone, edge, layer.d_h, sleeve=True))
        D = min(float(cone_diameter(D, t)), edge)
        left -= t
    return slices
