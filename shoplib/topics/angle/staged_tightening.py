"""The working ``staged_tightening``.

It answers: what preload do these stages give, how far does friction spread it, and does the bolt yield?
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from shoplib.core.checks import Outcome, Rule, Value
from shoplib.core.corner_lanes import Range, corner_at, lanes
from shoplib.core.rounding import below
from shoplib.core.tightening_program import Stage
from shoplib.core.units import N_m, kN, mm, one, pct
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import angle as angle_formulas
from shoplib.physics import preload, tightening
from shoplib.topics.angle.programme import (
    Joint,
    ProgrammeInputs,
    applies_to_bolt,
    friction_cases,
    read_joint,
    read_programme,
    without_defaults,
)
from shoplib.topics.cautions import SHEAR
from shoplib.topics.threads.bolt_inputs import (
    LUBRICANT,
    TEACHING,
    friction_band,
)

NECKS = "will neck and break"


POINTS = 500  # of the curve


AFTER_LOOSENING = 17  # values of each friction where its ends do not suffice


# ------------------------------------------------------------------------------ running
def refuse_loosening(
    inputs: ProgrammeInputs,
    worksheet: Worksheet,
    stages: list[Stage],
    m: tightening.Model,
    states: list[tightening.State],
) -> None:
    """Loosening past zero preload is allowed only if a torque stage then closes the joint again."""
    before = tightening.start(3)
    for n, (stage, state) in enumerate(zip(stages, states, strict=True), 1):
        if stage.kind == "loosen" and applies_to_bolt(inputs, stage):
            held = float(before.s[0] - before.u_p[0])
            if held <= 0:
                worksheet.refuse(f"stages[{n}]", "loosens past zero: the bolt has no preload here", '"40 N*m"')
            elif below(float(state.s[0]), float(state.u_p[0])):
                to_come = (s.kind for s in stages[n:] if applies_to_bolt(inputs, s))
                after = next((kind for kind in to_come if kind in ("torque", "repeat", "angle")), "")
                if after not in ("torque", "repeat"):
                    gone = np.degrees(float(angle_formulas.angle_of_travel(held, m.P)))
                    worksheet.refuse(
                        f"stages[{n}]",
                        f"loosens past zero: the preload is gone after {gone:.1f}°"
                        + (", and the next angle has no starting point" if after else ""),
                        '"loosen", or follow it with a torque stage',
                    )
        before = state


def run(inputs: ProgrammeInputs, worksheet: Worksheet) -> None:
    """The bolt through its stages, at the friction as typed and at both ends of the band."""
    stages = read_programme(inputs, worksheet)
    band_G, band_K = friction_band(inputs, worksheet)
    joint = read_joint(inputs, worksheet)
    worksheet.raise_refusals()
    assert joint is not None
    mu_G = np.array([inputs.mu_thread.value, band_G[1], band_G[0]])
    mu_K = np.array([inputs.mu_head.value, band_K[1], band_K[0]])
    m = joint.model(inputs, mu_G, mu_K)
    with np.errstate(invalid="ignore"):
        states = tightening.run(m, [friction_cases(inputs, s) for s in stages], 3)
    refuse_loosening(inputs, worksheet, stages, m, states)
    worksheet.raise_refusals()
    show_steps(inputs, worksheet, joint, stages, states, m)
    F = np.array([s.preload(m) for s in states])  # a row for each stage, a column for each lane
    u_p = np.array([s.u_p for s in states])
    broken = np.array([s.broken for s in states])
    T = np.array([m.torque(f) for f in F])
    worst = follow(inputs, joint, stages, band_G, band_K)
    F[:, 1], F[:, 2] = _least(worst.typed.F), worst.typed.F.max(axis=1)  # a maximum of numbers and nan is nan
    worksheet.result("preload", _numbers(F[:, 0]), kN, "Preload")
    worksheet.result("stage", [s.shown + (f" ({s.group})" if s.group else "") for s in stages], None, "Stage")
    worksheet.result("preload_low", _numbers(F[:, 1]), kN, "Preload, lowest")
    worksheet.result("preload_high", _numbers(F[:, 2]), kN, "Preload, highest")
    ratio = [highest / lowest if lowest > 0 else np.nan for lowest, highest in F[:, 1:]]
    worksheet.result("spread_ratio", _numbers(ratio), one, "Spread, highest ÷ lowest", 3)
    worksheet.result("torque", _numbers(T[:, 0]), N_m, "Torque the wrench would show")
    stretch = angle_formulas.bolt_elongation(F[:, 0], joint.delta_S, u_p[:, 0])  # nan where it necks
    worksheet.result("elongation", _numbers(stretch), mm, "Stretch of the bolt", 3, all_digits=True)
    worksheet.result(
        "plastic_elongation", _numbers(np.where(broken[:, 0], np.nan, u_p[:, 0])), mm, "of that, permanent", 3
    )
    worksheet.result("yielded", [bool(u > 0) for u in u_p[:, 0]], None, "Yielded")
    worksheet.result(
        "state", [_state(*row) for row in zip(F[:, 0], u_p[:, 0], broken[:, 0], strict=True)], None, "State"
    )
    worksheet.result("yield_preload", m.F_y[0], kN, "Preload at which it yields during tightening")
    worksheet.result("necking_preload", m.F_m[0], kN, "Preload at which it begins to neck")
    judge(inputs, worksheet, stages, worst)
    origin = _origin(inputs, stages)
    banded = bool(np.ptp(mu_G) or np.ptp(mu_K) or any(stage.is_band for stage in stages))
    worksheet.plot_data.update(curves(m, F, states, origin, banded), F=F, torque=T, stages=stages, origin_stage=origin)


# ------------------------------------------------------------------------------ the worst corner
@dataclass(frozen=True)
class Led:
    """Bolts taken through the stages.  The arrays have a row for each stage and a lane for each corner.

    With several cases (a default taken otherwise) there is a case between the two.
    """

    at: dict[str, Any]  # the inputs in each lane
    F: Any  # preload; nan where the bolt has begun to neck
    torque: Any
    strain: Any
    broken: Any


@dataclass(frozen=True)
class Worst:
    """Every corner of the ranges typed; and the same with other values for each input left at its default."""

    typed: Led
    defaults: list[str]
    otherwise: Led | None


def follow(inputs: ProgrammeInputs, joint: Joint, stages: list[Stage], band_G: Range, band_K: Range) -> Worst:
    """Take all corners through the stages at once.

    Each stage keeps the order of two bolts: the one that was further turned, longer and higher loaded stays so.  So of
    all stage ranges the two cases "every low end" and "every high end" suffice; a range to loosen by counts backwards.
    Preload and plastic strain have their extremes at the ends of the frictions.  The torque that a wrench shows has
    too, except after loosening by an angle: there values in between are followed as well.
    The property tests confirm all of this by dense sampling.
    """
    own = [s for s in stages if applies_to_bolt(inputs, s)]
    kinds = [s.kind for s in own if s.kind != "loosen" or s.value is not None]
    inner = "loosen" in kinds and "check" in kinds[kinds.index("loosen") :]
    ranges: dict[str, Range] = {
        "mu_thread": band_G, "mu_head": band_K, "stages": (0.0, 1.0 if any(s.is_band for s in own) else 0.0),
    }  # fmt: skip
    ends = lanes(**ranges)
    at = lanes({"mu_thread": AFTER_LOOSENING, "mu_head": AFTER_LOOSENING}, **ranges) if inner else ends
    changes = without_defaults(inputs, joint)
    otherwise = _lead(inputs, joint, stages, ends, [change for _, change in changes]) if changes else None
    return Worst(_lead(inputs, joint, stages, at, None), [name for name, _ in changes], otherwise)


def _lead(
    inputs: ProgrammeInputs,
    joint: Joint,
    stages: list[Stage],
    at: dict[str, Any],
    changes: list[dict[str, float]] | None,
) -> Led:
    base = {"D_Km": joint.bolt.D_Km, "W_P": joint.W_P, "delta_S": joint.delta_S}
    other = {name: np.array([[c.get(name, value)] for c in changes]) for name, value in base.items()} if changes else {}
    m = joint.model(inputs, at["mu_thread"], at["mu_head"], **other)
    led: list[tuple[str, Any]] = []
    for stage in stages:
        kind, ends = friction_cases(inputs, stage)
        led.append((kind, None if ends is None else ends[1] + (ends[2] - ends[1]) * at["stages"]))
    size = at["mu_thread"].size
    with np.errstate(invalid="ignore"):
        states = tightening.run(m, led, (len(changes), size) if changes else (size,))
        F = np.array([s.preload(m) for s in states])
    u_p = np.array([s.u_p for s in states])
    return Led(at, F, m.torque(F), u_p / joint.l_0, np.array([s.broken for s in states]))


def _numbers(values: Any) -> list[float | None]:
    return [None if np.isnan(v) else float(v) for v in values]


def _state(F: float, u_p: float, broken: bool) -> str:
    if broken:
        return NECKS
    if F <= 0:
        return "no clamp" + (", lengthened for good" if u_p > 0 else "")
    return "yielded" if u_p > 0 else "elastic"


def show_steps(
    inputs: ProgrammeInputs,
    worksheet: Worksheet,
    joint: Joint,
    stages: list[Stage],
    states: list[tightening.State],
    m: tightening.Model,
) -> None:
    """The printed steps of the middle lane."""
    thread = joint.bolt.thread
    section: Any = {
        "A_0": joint.A_0,
        "W_P": joint.W_P,
        "P": thread.P,
        "d_2": thread.d_2,
        "mu_G": inputs.mu_thread.value,
    }
    F_y = worksheet.step(
        "Preload at which it yields while tightening", preload.assembly_preload, nu=1.0, R_p=joint.R_p, **section
    )
    F_m = worksheet.step(
        "Preload at which it begins to neck", preload.assembly_preload, nu=1.0, R_p=joint.R_m, **section
    )
    u_u = worksheet.step(
        "Plastic elongation at necking",
        angle_formulas.uniform_elongation,
        epsilon_u=inputs.uniform_strain,
        l_0=joint.l_0,
    )
    geometry: Any = {"P": thread.P, "d_2": thread.d_2, "D_Km": joint.bolt.D_Km,
                "mu_G": inputs.mu_thread.value, "mu_K": inputs.mu_head.value}  # fmt: skip
    s, u_p = 0.0, 0.0
    past: Any = {"delta": joint.delta, "F_y": F_y, "F_m": F_m, "u_u": u_u}
    for n, (stage, state) in enumerate(zip(stages, states, strict=True), 1):
        if not applies_to_bolt(inputs, stage) or state.broken[0]:
            continue
        head = f"Stage {n}, {stage.shown}: "
        if stage.kind in ("torque", "repeat"):
            F = worksheet.step(head + "preload", preload.preload, M_A=float(stage.value or 0.0), **geometry)
            if F_y < F:
                worksheet.step(
                    head + "plastic elongation", angle_formulas.plastic_elongation, F=F, F_y=F_y, F_m=F_m, u_u=u_u
                )
        elif stage.kind == "angle":
            turned = worksheet.step(head + "travel", angle_formulas.travel, theta=float(stage.value or 0.0), P=thread.P)
            s = worksheet.step(head + "travel since contact", angle_formulas.position_after, s_0=s, Delta_s=turned)
            F = worksheet.step(
                head + "preload on the elastic line", angle_formulas.preload_elastic, s=s, delta=joint.delta, u_p=u_p
            )
            if state.u_p[0] > u_p:
                worksheet.step(head + "past yield, so the preload is", angle_formulas.preload_past_yield, s=s, **past)
        s, u_p = float(state.s[0]), float(state.u_p[0])
    if not states[-1].broken[0]:
        F_end = float(states[-1].preload(m)[0])
        worksheet.step(
            "Stretch of the bolt, at the end", angle_formulas.bolt_elongation, F=F_end, delta_S=joint.delta_S, u_p=u_p
        )


def judge(inputs: ProgrammeInputs, worksheet: Worksheet, stages: list[Stage], worst: Worst) -> None:
    """Minimum torques after the angle, and whether a bolt necks: each at its worst corner."""
    led = worst.typed
    for n, stage in enumerate(stages):
        if stage.kind == "check" and applies_to_bolt(inputs, stage):
            _judge_torque(inputs, worksheet, n, stage, worst)
    otherwise = _by_default(worst, lambda o: np.where(o.broken, np.inf, o.strain).max(axis=(0, 2)))
    if led.broken.any():
        n = int(led.broken.any(axis=1).argmax())
        lane = int(led.broken[n].argmax())
        deciding = [name for name, most in otherwise.items() if min(most) < inputs.uniform_strain]
        said = [f"stage {n + 1}"] + [f"depends on {worksheet.label(name)}: type it" for name in deciding]
        worksheet.judge("Stays below necking", NECKS, "<", f"uniform strain {100 * inputs.uniform_strain:g} %", None,
                        inputs.uniform_strain_source, Outcome.UNDECIDED if deciding else Outcome.FAIL, "; ".join(said),
                        rule=Rule.WORST_CASE, corner=_corner(led, lane))  # fmt: skip
    else:
        strain = led.strain.max(axis=0)
        lane = int(strain.argmax())
        worksheet.check("Plastic strain below the uniform strain", float(strain[lane]), "<", inputs.uniform_strain, pct,
                        inputs.uniform_strain_source, corner=_corner(led, lane), otherwise=otherwise)  # fmt: skip
    if led.strain.max() > 0:
        worksheet.caution(
            "Fit new bolts, unless a rule with a source allows re-use: these stages take the bolt past yield, and it "
            "is permanently longer."
        )


def _judge_torque(inputs: ProgrammeInputs, worksheet: Worksheet, n: int, stage: Stage, worst: Worst) -> None:
    """A minimum torque, at the corner where the wrench shows least."""
    T = worst.typed.torque[n]
    necks = np.isnan(T)
    label = f"Stage {n + 1}: torque the wrench would show"
    if necks.all():
        worksheet.check(label, None, "≥", stage.value, N_m, inputs.stages_source, remark=NECKS)
        return
    lane = int(np.nanargmin(T))
    remark = f"{np.nanmin(T):.1f} to {np.nanmax(T):.1f} N·m over the ranges typed" if T.size > 1 else ""
    # a bolt that necks shows no torque at all
    otherwise = _by_default(worst, lambda o: np.nan_to_num(o.torque[n], nan=0.0).min(axis=1))
    worksheet.check(label, float(T[lane]), "≥", stage.value, N_m, inputs.stages_source, remark=remark,
                    missing=f"in another case it {NECKS}" if necks.any() else "",
                    corner=_corner(worst.typed, lane), otherwise=otherwise)  # fmt: skip


def _by_default(worst: Worst, of: Callable[[Led], Any]) -> dict[str, list[float]]:
    """For each input at its default: the worst values that its other settings give."""
    found: dict[str, list[float]] = {}
    if worst.otherwise is not None:
        for name, value in zip(worst.defaults, of(worst.otherwise), strict=True):
            found.setdefault(name, []).append(float(value))
    return found


def _corner(led: Led, lane: int) -> dict[str, float | Value]:
    """The ranges that were typed, at a lane."""
    at: dict[str, float | Value] = {**corner_at(led.at, lane)}
    if "stages" in at:
        at["stages"] = Value(f"{'high' if at['stages'] else 'low'} end of each range", None, "stages")
    return at


def _least(F: Any) -> Any:
    """The lowest preload at each stage among the bolts that do not neck; nan where all do."""
    least = np.where(np.isnan(F), np.inf, F).min(axis=1)
    return np.where(np.isinf(least), np.nan, least)


def _origin(inputs: ProgrammeInputs, stages: list[Stage]) -> int:
    """The stage from which the last angles are counted: the torque stage before them, else -1 (contact)."""
    kinds = [s.kind if applies_to_bolt(inputs, s) else "wait" for s in stages]
    turned = max((n for n, k in enumerate(kinds) if k == "angle"), default=len(kinds))
    return max((n for n in range(turned) if kinds[n] in ("torque", "repeat")), default=-1)


def curves(
    m: tightening.Model, F_stage: Any, states: list[tightening.State], origin: int, banded: bool
) -> dict[str, Any]:
    """Everything the picture needs, for the three lanes; angle in degrees counted from the torque stage."""
    since = states[origin] if origin >= 0 else tightening.start(3)
    F, s = tightening.curve(m, POINTS, since.u_p)
    zero = since.s
    degrees = 360.0 / m.P
    angle = (s - zero[:, None]) * degrees
    torque = m.torque(F.T).T
    # lowest and highest clamp at the same angle, as far as both have any and neither necks
    both = np.linspace(angle[1:, 0].max(), angle[1:, -1].min(), POINTS)
    band = np.array([np.interp(both, angle[n], F[n]) for n in (1, 2)])
    after = both >= 0
    ratio = np.divide(band[1], band[0], out=np.full(POINTS, np.nan), where=after & (band[0] > 0))
    marks = np.array([(state.s - zero) * degrees for state in states])
    with np.errstate(invalid="ignore", divide="ignore"):
        found = np.where(F_stage[:, 1] > 0, F_stage[:, 2] / F_stage[:, 1], np.nan)
    shown = np.arange(len(states)) >= max(origin, 0)
    first, last = found[max(origin, 0)], found[-1]
    if not banded:
        headline = ("no range of friction", "type lowest and highest friction")
    elif np.isnan(first) or np.isnan(last):
        headline = ("spread not known", "no preload, or it necks")
    elif origin < 0 or first == last:
        headline = (f"spread {last:.2f}", "highest ÷ lowest preload")
    else:
        headline = (f"{first:.2f} → {last:.2f}", "highest ÷ lowest preload,\nat the torque → at the end")
    path = path_of(m, states, float(zero[0]))
    fan = np.linspace(0, min(F[1, -1], F[2, -1]), 2)
    return {
        "curve_angle": angle, "curve_preload": F, "curve_torque": torque, "mark_angle": marks,
        "yield_angle": (m.F_y * m.delta - zero) * degrees,
        "necking_angle": (angle_formulas.necking_position(m.F_m, m.delta, m.u_u) - zero) * degrees,
        "set_angle": (states[-1].u_p - zero) * degrees,  # where the preload is gone when the bolt is loosened now
        "F_y": m.F_y, "F_m": m.F_m, "banded": banded, "band_angle": both, "band": band, "ratio": ratio,
        "ratio_marks": (marks[shown, 0], found[shown]), "headline": headline,
        "path_angle": path[0], "path_preload": path[1],
        "fan": fan, "fan_torque": np.array([fan * torque[n, -1] / F[n, -1] for n in (1, 2)]),
    }  # fmt: skip


def path_of(m: tightening.Model, states: list[tightening.State], zero: float) -> tuple[Any, Any]:
    """(angle in degrees, preload) along the path of the bolt as typed, loosening included."""
    F_y, F_m = float(m.F_y[0]), float(m.F_m[0])
    ways, s, u_p = [np.zeros(1)], 0.0, 0.0
    loads = [np.zeros(1)]
    for state in states:
        end = min(float(state.s[0]), float(angle_formulas.necking_position(F_m, m.delta, m.u_u)))
        way = np.linspace(s, end, 40)
        F = angle_formulas.preload_elastic(way, m.delta, u_p)
        if end >= s:
            F = np.minimum(F, angle_formulas.preload_past_yield(way, m.delta, F_y, F_m, m.u_u))
        ways.append(way)
        loads.append(np.maximum(F, 0.0))
        s, u_p = end, float(state.u_p[0])
        if state.broken[0]:
            break
    return (np.concatenate(ways) - zero) * 360.0 / m.P, np.concatenate(loads)


CAUTIONS = (GOVERNS, TEACHING, SHEAR, LUBRICANT)


STAGED_TIGHTENING = Working(
    name="staged_tightening",
    title="Torque, then angle: one bolt through its stages",
    question="what preload do these stages give, how far does friction spread it, and does the bolt yield",
    phase="tighten",
    inputs=ProgrammeInputs,
    run=run,
    cautions=CAUTIONS,
)
