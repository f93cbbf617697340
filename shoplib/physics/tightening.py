"""A bolt taken through its stages.  Every value may be an array: one lane for each friction, or a million draws."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from shoplib.physics import angle, preload

Array = Any  # float or numpy array, SI


@dataclass(frozen=True)
class Model:
    """Bolt and joint for given frictions and strengths, SI.  Strengths F_y, F_m are preloads while tightening."""

    P: float
    d_2: float
    D_Km: float
    delta_S: float  # bolt, m/N
    delta: float  # bolt and parts, m/N
    u_u: float  # plastic elongation at which it necks, m
    mu_G: Array
    mu_K: Array
    F_y: Array
    F_m: Array

    def torque(self, F: Array) -> Array:
        """Torque that a wrench shows at a preload, while tightening."""
        return preload.tightening_torque(F, P=self.P, d_2=self.d_2, D_Km=self.D_Km, mu_G=self.mu_G, mu_K=self.mu_K)

    def preload(self, M_A: Array) -> Array:
        """Preload at which the bolt stops under a torque."""
        return preload.preload(M_A, P=self.P, d_2=self.d_2, D_Km=self.D_Km, mu_G=self.mu_G, mu_K=self.mu_K)


def model(
    *, P: float, d_2: float, D_Km: float, A_0: float, W_P: float, delta_S: float, delta_P: float, l_0: float,
    epsilon_u: float, R_p: Array, R_m: Array, mu_G: Array, mu_K: Array,
) -> Model:  # fmt: skip
    """Work out the yield and necking preloads, and keep the rest.

    :param P: pitch of the thread; m
    :param d_2: pitch diameter of the thread; m
    :param D_Km: mean diameter of the face under the head; m
    :param A_0: area of the weakest section; m²
    :param W_P: section modulus against torsion; m³
    :param delta_S: resilience of the bolt; m/N
    :param delta_P: resilience of the parts; m/N
    :param l_0: length that yields; m
    :param epsilon_u: uniform strain; a pure number
    :param R_p: yield strength; Pa, array of shape (lanes,) or one number
    :param R_m: tensile strength; Pa, likewise
    :param mu_G: friction in the thread; a pure number, likewise
    :param mu_K: friction under the head; a pure number, likewise
    :returns: the bolt and its friction
    """
    twisted = preload.assembly_preload(1.0, R_p=1.0, A_0=A_0, W_P=W_P, P=P, d_2=d_2, mu_G=mu_G)  # preload for each Pa
    u_u = float(angle.uniform_elongation(epsilon_u, l_0))
    return Model(P, d_2, D_Km, delta_S, delta_S + delta_P, u_u, mu_G, mu_K, R_p * twisted, R_m * twisted)


@dataclass(frozen=True)
class State:
    """The state of a bolt: travel s, plastic elongation u_p, and whether it has begun to neck."""

    s: Array
    u_p: Array
    broken: Array

    def preload(self, m: Model) -> Array:
        """Preload; zero when slack, nan when the bolt has begun to neck."""
        F = np.maximum(angle.preload_elastic(self.s, m.delta, self.u_p), 0.0)
        return np.where(self.broken, np.nan, F)


def start(shape: Any = ()) -> State:
    """Faces touching, no load.

    :param shape: shape of the lanes; a tuple, or a whole number
    :returns: the state of each lane
    """
    return State(np.zeros(shape), np.zeros(shape), np.zeros(shape, dtype=bool))


def to_torque(m: Model, state: State, M_A: Array) -> State:
    """Turn until the wrench shows a torque.  A bolt that already holds more does not turn.

    :param m: the bolt and its friction; a Model, its lanes broadcast
    :param state: where the bolt stands; a State of the lanes of the model
    :param M_A: torque shown by the wrench; N·m, one for each lane or one for all
    :returns: the state afterwards
    """
    F = m.preload(M_A)
    turns = angle.preload_elastic(state.s, m.delta, state.u_p) < F
    broken = state.broken | (turns & (m.F_m < F))
    F = np.minimum(F, m.F_m)
    u_p = np.maximum(state.u_p, angle.plastic_elongation(F, m.F_y, m.F_m, m.u_u))
    return State(np.where(turns, angle.position(F, m.delta, u_p), state.s), np.where(turns, u_p, state.u_p), broken)


def by_angle(m: Model, state: State, theta: Array) -> State:
    """Turn a further angle.

    :param m: the bolt and its friction; a Model, its lanes broadcast
    :param state: where the bolt stands; a State of the lanes of the model
    :param theta: angle turned; rad, one for each lane or one for all
    :returns: the state afterwards
    """
    s = state.s + angle.travel(theta, m.P)
    broken = state.broken | (s > angle.necking_position(m.F_m, m.delta, m.u_u))
    # beyond yield the curve is the lower one; what the elastic line has too much is new plastic elongation
    u_p = np.maximum(state.u_p, s - m.delta * angle.preload_past_yield(s, m.delta, m.F_y, m.F_m, m.u_u))
    return State(s, u_p, broken)


def loosen(m: Model, state: State, theta: Array | None) -> State:
    """Turn back by an angle, or (None) until the clamp is just gone.  Parallel to the elastic line: the set stays.

    :param m: the bolt and its friction; a Model, its lanes broadcast
    :param state: where the bolt stands; a State of the lanes of the model
    :param theta: angle turned back; rad, None: until the clamp is gone
    :returns: the state afterwards
    """
    s = state.u_p if theta is None else state.s - angle.travel(theta, m.P)
    return replace(state, s=s)


def curve(m: Model, points: int, u_p: Array) -> tuple[Array, Array]:
    """Travel as an explicit function of preload, from no clamp to necking, for bolts already lengthened by u_p.

    (preload, travel), a row for each lane.

    :param m: the bolt and its friction; a Model, its lanes broadcast
    :param points: points of each curve; a whole number
    :param u_p: plastic elongation before; m, array of shape (lanes,)
    :returns: preload in N and travel in m; arrays of shape (lanes, points)
    """
    F_y, F_m = np.reshape(m.F_y, (-1, 1)), np.reshape(m.F_m, (-1, 1))
    F = np.linspace(0.0, 1.0, points) * F_m
    longer = np.maximum(angle.plastic_elongation(F, F_y, F_m, m.u_u), np.reshape(u_p, (-1, 1)))
    return F, angle.position(F, m.delta, longer)


def run(m: Model, stages: Sequence[tuple[str, Array]], shape: Any) -> list[State]:
    """Take the bolt through (kind, value) stages; check and wait leave it as it is.

    :param m: the bolt and its friction; a Model, its lanes broadcast
    :param stages: kind and value of each stage; N·m for a torque, rad for an angle
    :param shape: shape of the lanes; a tuple, or a whole number
    :returns: the state after each stage
    """
    state, states = start(shape), []
    for kind, value in stages:
        if kind in ("torque", "repeat"):
            state = to_torque(m, state, value)
        elif kind == "angle":
            state = by_angle(m, state, value)
        elif kind == "loosen":
            state = loosen(m, state, value)
        states.append(state)
    return states
