"""Tightening in stages: what torque, then angle, does to one bolt, and what friction leaves open."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from shoplib.checks import Outcome
from shoplib.look import ACCENT, INK, PALE, SOFT, WARM, frame, settle, step_up
from shoplib.physics import angle as a
from shoplib.physics import joint as j
from shoplib.physics import preload as p
from shoplib.physics import threads as t
from shoplib.physics import tightening as x
from shoplib.stages import EXAMPLE, Stage, read_stages
from shoplib.units import MPa, N_m, kN, mm, one, pct
from shoplib.working import GOVERNS, Inputs, Result, Working, Worksheet, limit, listing, number, quantity, words
from shoplib.workings.angle import SHEAR
from shoplib.workings.bolts import (
    BEARING,
    CLASS,
    FRICTION,
    FRICTION_BAND,
    LUBRICANT,
    SHANK,
    TEACHING,
    THREAD,
    TORSION,
    YIELD,
    Bolt,
    friction_band,
    read_bolt,
)
from shoplib.workings.joint import ENDS, MODULUS, PARTS, ends_of

NECKS = "will neck and break"
POINTS = 500  # of the curve
LANES = ("as typed", "lowest clamp", "highest clamp")  # friction high with stage low, and the other way round

STAGES = (
    listing(
        "stages",
        words("stage", "Stage", example='"+90 deg"'),
        "Stages",
        help="in order, parted by semicolons: 40 N*m; +90 deg; also loosen, repeat, check >= 60 N*m, wait 10 min",
        example=EXAMPLE,
        group="Programme",
    ),
    words(
        "stages_source",
        "Source of the stages",
        required=False,
        help="document, edition, page; without it a minimum torque can fail, never pass",
        example='"workshop manual, 3rd edition, page 41"',
        group="Programme",
    ),
    words(
        "group",
        "Group of this bolt",
        required=False,
        help="if stages name groups: stages of other groups leave this bolt alone",
        example='"long"',
        group="Programme",
    ),
)
BOLT = (
    THREAD,
    replace(SHANK, help="left out: as thick as the thread"),
    quantity("shank_length", mm, "Shank length", symbol="l_T", at_least=0.0, help="plain part between head and thread",
             example='"100 mm"', group="Bolt"),
    quantity("thread_length", mm, "Free thread", symbol="l_G", at_least=0.0,
             help="thread between shank and first engaged turn", example='"20 mm"', group="Bolt"),
)  # fmt: skip
TENSILE = limit("tensile_strength", MPa, "Tensile strength", symbol="R_m", above=0.0,
                help="in place of the property class", example='"1040 MPa"', group="Strength")  # fmt: skip
STRAIN = (
    number("uniform_strain", "Uniform strain", symbol="epsilon_u", above=0.0, at_most=0.5,
           help="plastic strain at the highest load, from a tensile test", example='"6 %"', group="Strength"),
    words("uniform_strain_source", "Source: uniform strain", required=False,
          help="needed: a strain without a source is refused", example='"tensile test, certificate 12"'),
)  # fmt: skip


# ------------------------------------------------------------------------------ reading
@dataclass(frozen=True)
class Joint:
    """What the typed inputs say of bolt, joint and strength, SI."""

    bolt: Bolt
    A_0: float
    d_0: float
    l_0: float  # free length of the weakest section
    weakest: str
    R_p: float
    R_m: float
    delta_S: float
    delta: float
    W_P: float

    def model(self, i: Inputs, mu_G: Any, mu_K: Any, strength: Any = 1.0) -> x.Model:
        """The model for these frictions; ``strength`` scales both strengths."""
        thread = self.bolt.thread
        return x.model(
            P=thread.P, d_2=thread.d_2, D_Km=self.bolt.D_Km, A_0=self.A_0, W_P=self.W_P, delta_S=self.delta_S,
            delta_P=self.delta - self.delta_S, l_0=self.l_0, epsilon_u=i.uniform_strain, R_p=self.R_p * strength,
            R_m=self.R_m * strength, mu_G=mu_G, mu_K=mu_K,
        )  # fmt: skip


def read_programme(i: Inputs, w: Worksheet) -> list[Stage]:
    """The stages; each bad one is refused by its number."""
    stages, wrong = read_stages(i.stages)
    for n, why in wrong:
        w.refuse(f"stages[{n}]", why, '"40 N*m" or "+90 deg"')
    groups = sorted({s.group for s in stages if s.group})
    if len(groups) > 1 and not i.given("group"):
        w.refuse("group", f"is needed: the stages name {', '.join(groups)}", f'"{groups[0]}"')
    elif i.given("group") and i.group not in groups:
        w.refuse("group", "is not named in any stage" + (f"; they name {', '.join(groups)}" if groups else ""))
    if any(s.kind == "wait" for s in stages):
        w.assume("waiting changes nothing here: settling is not computed (working embedment_loss)")
    return stages


def mine(i: Inputs, stage: Stage) -> bool:
    """True when a stage is for this bolt."""
    return not stage.group or not i.given("group") or stage.group == i.group


def read_strength(i: Inputs, w: Worksheet, bolt: Bolt) -> float | None:
    """Tensile strength: typed, or of the property class."""
    R_m = i.tensile_strength
    if R_m is None and i.given("property_class"):
        found = t.property_class(i.property_class, bolt.thread)
        R_m = found.R_m if found else None
    if R_m is None:
        w.refuse("tensile_strength", "is needed" + (" too" if i.given("yield_strength") else ", or property_class"))
        return None
    if bolt.R_p is not None and bolt.R_p >= R_m:
        w.refuse("yield_strength", f"is not below the tensile strength, {R_m / 1e6:g} MPa", '"940 MPa"')
    return float(R_m)


def read_joint(i: Inputs, w: Worksheet) -> Joint | None:
    """Bolt, joint and strength; refuses what does not go together.  Raises nothing: the caller shuts the door."""
    if not i.given("uniform_strain_source"):
        w.refuse("uniform_strain_source", "is missing: a strain without a source is not used",
                 '"tensile test, certificate 12"')  # fmt: skip
    if i.shank_length + i.thread_length <= 0:
        w.refuse("thread_length", "and shank_length are both zero; a bolt needs a free length")
    bolt = read_bolt(i, w, needs_yield=True)
    if bolt is None:
        return None
    R_m = read_strength(i, w, bolt)
    if bolt.R_p is None or R_m is None:
        return None
    thread = bolt.thread
    d_T = i.shank_diameter
    if d_T is None:
        d_T = thread.d
        w.assume(f"shank as thick as the thread, {d_T * 1e3:g} mm")
    shank = d_T < thread.d_S and i.shank_length > 0
    A_0, d_0 = (bolt.A_0, bolt.d_0) if shank else (thread.A_s, thread.d_S)
    l_0 = i.shank_length if shank else i.thread_length + j.ENGAGED * thread.d
    if l_0 <= 0:
        return None
    E = i.bolt_modulus
    delta_T = w.step("Shank", j.segment_resilience, l=i.shank_length, E=E, A=float(t.circle_area(d_T)))
    delta_G = w.step("Free thread, on its stress section", j.segment_resilience, l=i.thread_length, E=E, A=thread.A_s)
    ends = ends_of(i, w, thread)
    delta_S = w.step("Resilience of the bolt", j.bolt_resilience, delta_T=delta_T, delta_G=delta_G, delta_E=ends)
    delta = w.step("Bolt and parts together", j.joint_resilience, delta_S=delta_S, k_p=i.parts_stiffness)
    modulus = p.torsion_modulus_plastic if i.torsion == "plastic" else p.torsion_modulus_elastic
    W_P = w.step(f"Section modulus, torsion {i.torsion}", modulus, d_0=d_0)
    weakest = "shank" if shank else "thread"
    w.assume(f"weakest section: the {weakest}, plastic over {l_0 * 1e3:.4g} mm")
    w.assume("twist of the bolt itself is not counted in the angle")
    return Joint(
        bolt, float(A_0), float(d_0), float(l_0), weakest, bolt.R_p, R_m, float(delta_S), float(delta), float(W_P)
    )


# ------------------------------------------------------------------------------ running
def in_lanes(i: Inputs, stage: Stage) -> tuple[str, Any]:
    """(kind, value in each lane): as typed, lowest clamp, highest clamp."""
    if not mine(i, stage):
        return "wait", None
    if stage.value is None:
        return stage.kind, None
    low, high = (stage.high, stage.low) if stage.kind == "loosen" else (stage.low, stage.high)
    return stage.kind, np.array([stage.value, low, high])


def refuse_loosening(i: Inputs, w: Worksheet, stages: list[Stage], m: x.Model, states: list[x.State]) -> None:
    """Turning back further than the clamp reaches is fine only where a torque stage finds the faces again."""
    before = x.start(3)
    for n, (stage, state) in enumerate(zip(stages, states, strict=True), 1):
        if stage.kind == "loosen" and mine(i, stage):
            held = float(before.s[0] - before.u_p[0])
            if held <= 0:
                w.refuse(f"stages[{n}]", "loosens past zero: the bolt holds no clamp here", '"40 N*m"')
            elif float(state.s[0]) < float(state.u_p[0]) - 1e-12:
                after = next((s.kind for s in stages[n:] if mine(i, s) and s.kind in ("torque", "repeat", "angle")), "")
                if after not in ("torque", "repeat"):
                    gone = np.degrees(float(a.angle_of_travel(held, m.P)))
                    w.refuse(
                        f"stages[{n}]",
                        f"loosens past zero: the clamp is gone after {gone:.1f}°"
                        + (", and the next angle has nothing to count from" if after else ""),
                        '"loosen", or follow it with a torque stage',
                    )
        before = state


def run(i: Inputs, w: Worksheet) -> None:
    """The bolt through its stages, at the friction as typed and at both ends of the band."""
    stages = read_programme(i, w)
    band_G, band_K = friction_band(i, w)
    joint = read_joint(i, w)
    w.door()
    assert joint is not None
    mu_G = np.array([i.mu_thread.value, band_G[1], band_G[0]])
    mu_K = np.array([i.mu_head.value, band_K[1], band_K[0]])
    m = joint.model(i, mu_G, mu_K)
    with np.errstate(invalid="ignore"):
        states = x.run(m, [in_lanes(i, s) for s in stages], 3)
    refuse_loosening(i, w, stages, m, states)
    w.door()
    show_steps(i, w, joint, stages, states, m)
    F = np.array([s.preload(m) for s in states])  # a row for each stage, a column for each lane
    u_p = np.array([s.u_p for s in states])
    broken = np.array([s.broken for s in states])
    T = np.array([m.torque(f) for f in F])
    w.result("preload", _numbers(F[:, 0]), kN, "Preload")
    w.result("stage", [s.shown + (f" ({s.group})" if s.group else "") for s in stages], None, "Stage")
    w.result("preload_low", _numbers(F[:, 1]), kN, "Preload, lowest")
    w.result("preload_high", _numbers(F[:, 2]), kN, "Preload, highest")
    ratio = [highest / lowest if lowest > 0 else np.nan for lowest, highest in F[:, 1:]]
    w.result("spread_ratio", _numbers(ratio), one, "Spread, highest over lowest", 3)
    w.result("torque", _numbers(T[:, 0]), N_m, "Torque the wrench would show")
    stretch = np.where(broken[:, 0], np.nan, a.bolt_elongation(F[:, 0], joint.delta_S, u_p[:, 0]))
    w.result("elongation", _numbers(stretch), mm, "Bolt longer by")
    w.result("plastic_elongation", _numbers(np.where(broken[:, 0], np.nan, u_p[:, 0])), mm, "of that for good", 3)
    w.result("yielded", [bool(u > 0) for u in u_p[:, 0]], None, "Yielded")
    w.result("state", [_state(*row) for row in zip(F[:, 0], u_p[:, 0], broken[:, 0], strict=True)], None, "State")
    w.result("yield_preload", m.F_y[0], kN, "Yields while tightening at")
    w.result("necking_preload", m.F_m[0], kN, "Begins to neck at")
    judge(i, w, stages, u_p, broken, T, joint)
    origin = _origin(i, stages)
    banded = bool(np.ptp(mu_G) or np.ptp(mu_K) or any(stage.is_band for stage in stages))
    w.curve.update(curves(m, F, states, origin, banded), F=F, torque=T, stages=stages, origin_stage=origin)


def _numbers(values: Any) -> list[float | None]:
    return [None if np.isnan(v) else float(v) for v in values]


def _state(F: float, u_p: float, broken: bool) -> str:
    if broken:
        return NECKS
    if F <= 0:
        return "no clamp" + (", lengthened for good" if u_p > 0 else "")
    return "yielded" if u_p > 0 else "elastic"


def show_steps(i: Inputs, w: Worksheet, joint: Joint, stages: list[Stage], states: list[x.State], m: x.Model) -> None:
    """The printed working of the middle lane."""
    thread = joint.bolt.thread
    section: Any = {"A_0": joint.A_0, "W_P": joint.W_P, "P": thread.P, "d_2": thread.d_2, "mu_G": i.mu_thread.value}
    F_y = w.step("Preload at which it yields while tightening", p.assembly_preload, nu=1.0, R_p=joint.R_p, **section)
    F_m = w.step("Preload at the tensile strength", p.assembly_preload, nu=1.0, R_p=joint.R_m, **section)
    u_u = w.step("Plastic elongation at necking", a.uniform_elongation, epsilon_u=i.uniform_strain, l_0=joint.l_0)
    geometry: Any = {"P": thread.P, "d_2": thread.d_2, "D_Km": joint.bolt.D_Km,
                "mu_G": i.mu_thread.value, "mu_K": i.mu_head.value}  # fmt: skip
    s, u_p = 0.0, 0.0
    past: Any = {"delta": joint.delta, "F_y": F_y, "F_m": F_m, "u_u": u_u}
    for n, (stage, state) in enumerate(zip(stages, states, strict=True), 1):
        if not mine(i, stage) or state.broken[0]:
            continue
        head = f"Stage {n}, {stage.shown}: "
        if stage.kind in ("torque", "repeat"):
            F = w.step(head + "preload", p.preload, M_A=float(stage.value or 0.0), **geometry)
            if F_y < F:
                w.step(head + "plastic elongation", a.plastic_elongation, F=F, F_y=F_y, F_m=F_m, u_u=u_u)
        elif stage.kind == "angle":
            turned = w.step(head + "travel", a.travel, theta=float(stage.value or 0.0), P=thread.P)
            s = w.step(head + "travel since contact", a.position_after, s_0=s, Delta_s=turned)
            F = w.step(head + "preload on the elastic line", a.preload_elastic, s=s, delta=joint.delta, u_p=u_p)
            if state.u_p[0] > u_p:
                w.step(head + "past yield, so the preload is", a.preload_past_yield, s=s, **past)
        s, u_p = float(state.s[0]), float(state.u_p[0])
    if not states[-1].broken[0]:
        F_end = float(states[-1].preload(m)[0])
        w.step("Bolt longer by, at the end", a.bolt_elongation, F=F_end, delta_S=joint.delta_S, u_p=u_p)


def judge(i: Inputs, w: Worksheet, stages: list[Stage], u_p: Any, broken: Any, T: Any, joint: Joint) -> None:
    """Minimum torques after the angle, and whether anything necks."""
    for n, stage in enumerate(stages):
        if stage.kind != "check" or not mine(i, stage):
            continue
        shown = T[n][~np.isnan(T[n])]
        span = f"{shown.min():.1f} to {shown.max():.1f} N·m over the friction band" if shown.size else NECKS
        label = f"Stage {n + 1}: torque the wrench would show"
        found = None if np.isnan(T[n, 0]) else float(T[n, 0])
        if found is not None and shown.min() < stage.value <= shown.max():
            w.judge(label, found, "≥", stage.value, N_m, i.stages_source, Outcome.UNDECIDED, span)
        else:
            w.check(label, found, "≥", stage.value, N_m, i.stages_source, remark=span)
    worst = u_p.max() / joint.l_0
    if broken.any():
        n, lane = np.argwhere(broken)[0]
        where = f"stage {n + 1}, {LANES[lane]}" if not broken[:, 0].any() else f"stage {broken[:, 0].argmax() + 1}"
        bound = f"uniform strain {100 * i.uniform_strain:g} %"
        w.judge("Stays below necking", NECKS, "<", bound, None, i.uniform_strain_source, Outcome.FAIL, where)
    else:
        w.check("Plastic strain below the uniform strain", float(worst), "<", i.uniform_strain, pct,
                i.uniform_strain_source, remark="at the lowest friction and the high end of each stage")  # fmt: skip
    if u_p.max() > 0:
        w.caution(
            "These stages take the bolt past yield: it stays longer. Re-use only by a sourced rule; else new bolts."
        )


def _origin(i: Inputs, stages: list[Stage]) -> int:
    """The stage from which the last angles are counted: the torque stage before them, else -1 (contact)."""
    kinds = [s.kind if mine(i, s) else "wait" for s in stages]
    turned = max((n for n, k in enumerate(kinds) if k == "angle"), default=len(kinds))
    return max((n for n in range(turned) if kinds[n] in ("torque", "repeat")), default=-1)


def curves(m: x.Model, F_stage: Any, states: list[x.State], origin: int, banded: bool) -> dict[str, Any]:
    """Everything the picture needs, for the three lanes; angle in degrees counted from the torque stage."""
    since = states[origin] if origin >= 0 else x.start(3)
    F, s = x.curve(m, POINTS, since.u_p)
    zero = since.s
    degrees = 360.0 / m.P
    angle = (s - zero[:, None]) * degrees
    torque = m.torque(F.T).T
    # lowest and highest clamp at the same angle, as far as both have any and neither necks
    both = np.linspace(angle[1:, 0].max(), angle[1:, -1].min(), POINTS)
    band = np.array([np.interp(both, angle[n], F[n]) for n in (1, 2)])
    after = both >= 0
    ratio = np.where(after & (band[0] > 0), band[1] / np.maximum(band[0], 1e-9), np.nan)
    marks = np.array([(state.s - zero) * degrees for state in states])
    with np.errstate(invalid="ignore", divide="ignore"):
        found = np.where(F_stage[:, 1] > 0, F_stage[:, 2] / F_stage[:, 1], np.nan)
    shown = np.arange(len(states)) >= max(origin, 0)
    first, last = found[max(origin, 0)], found[-1]
    if not banded:
        headline = ("no friction band", "type lowest and highest friction")
    elif np.isnan(first) or np.isnan(last):
        headline = ("spread not known", "no clamp, or it necks")
    elif origin < 0 or first == last:
        headline = (f"spread {last:.2f}", "highest over lowest clamp")
    else:
        headline = (f"{first:.2f} → {last:.2f}", "highest over lowest clamp,\nat the torque → at the end")
    path = path_of(m, states, float(zero[0]))
    fan = np.linspace(0, min(F[1, -1], F[2, -1]), 2)
    return {
        "curve_angle": angle, "curve_preload": F, "curve_torque": torque, "mark_angle": marks,
        "yield_angle": (m.F_y * m.delta - zero) * degrees,
        "necking_angle": (a.necking_position(m.F_m, m.delta, m.u_u) - zero) * degrees,
        "set_angle": (states[-1].u_p - zero) * degrees,  # where the clamp is gone when it is let off now
        "F_y": m.F_y, "F_m": m.F_m, "banded": banded, "band_angle": both, "band": band, "ratio": ratio,
        "ratio_marks": (marks[shown, 0], found[shown]), "headline": headline,
        "path_angle": path[0], "path_preload": path[1],
        "fan": fan, "fan_torque": np.array([fan * torque[n, -1] / F[n, -1] for n in (1, 2)]),
    }  # fmt: skip


def path_of(m: x.Model, states: list[x.State], zero: float) -> tuple[Any, Any]:
    """(angle in degrees, preload) along the way that the bolt as typed was led, loosening and all."""
    F_y, F_m = float(m.F_y[0]), float(m.F_m[0])
    ways, s, u_p = [np.zeros(1)], 0.0, 0.0
    loads = [np.zeros(1)]
    for state in states:
        end = min(float(state.s[0]), float(a.necking_position(F_m, m.delta, m.u_u)))
        way = np.linspace(s, end, 40)
        F = a.preload_elastic(way, m.delta, max(u_p, float(state.u_p[0])) if end < s else u_p)
        if end >= s:
            F = np.minimum(F, a.preload_past_yield(way, m.delta, F_y, F_m, m.u_u))
        ways.append(way)
        loads.append(np.maximum(F, 0.0))
        s, u_p = end, float(state.u_p[0])
        if state.broken[0]:
            break
    return (np.concatenate(ways) - zero) * 360.0 / m.P, np.concatenate(loads)


# ------------------------------------------------------------------------------ the picture
MARKS = 10  # stages that get a label


def draw(figure: Any) -> Callable[[Result], None]:
    """Clamp against angle and against torque with the friction band; below, the spread that friction leaves."""
    grid = figure.add_gridspec(2, 2, height_ratios=(3.3, 1), width_ratios=(2.3, 1))
    turned = figure.add_subplot(grid[0, 0])
    pulled = figure.add_subplot(grid[0, 1], sharey=turned)
    spread = figure.add_subplot(grid[1, 0], sharex=turned)
    words_ = figure.add_subplot(grid[1, 1])
    for ax in (turned, pulled, spread):
        ax.spines[["top", "right"]].set_visible(False)
    turned.set(ylabel="clamp, kN", xlim=(-120, 240), ylim=(0, 60))
    turned.tick_params(labelbottom=False)
    pulled.set(xlabel="torque, N·m", xlim=(0, 120))
    pulled.tick_params(labelleft=False)
    spread.set(xlabel="angle counted from the last torque stage, °", ylabel="highest\n/ lowest", ylim=(1, 1.6))
    words_.axis("off")
    words_.set(xlim=(0, 1), ylim=(0, 1))

    zones = [
        turned.axvspan(0, 1, facecolor="none", edgecolor=edge, hatch=hatch, lw=0, alpha=0.6, zorder=0, gid=gid)
        for edge, hatch, gid in ((PALE, "///", "zone_yield"), (WARM, "xxx", "zone_neck"))
    ]
    names = [
        turned.text(
            0,
            0,
            word,
            fontsize=8,
            color=colour,
            va="top",
            gid=gid,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0},
        )
        for word, colour, gid in (("yielding", SOFT, "name_yield"), ("necks and breaks", WARM, "name_neck"))
    ]
    band = turned.fill_between([0, 1], [0, 1], [0, 1], color=ACCENT, alpha=0.15, lw=0, gid="band")
    fan = pulled.fill_betweenx([0, 1], [0, 1], [0, 1], color=ACCENT, alpha=0.15, lw=0, gid="fan")
    dashes = {"low": (0, (4, 2)), "mid": "-", "high": (0, (1, 1.2))}
    lines = {
        (ax, lane): ax.plot(
            [], [], color=SOFT if lane != "mid" else ACCENT, lw=0.9, ls=dashes[lane], gid=f"{lane}_{tag}"
        )[0]
        for ax, tag in ((turned, "angle"), (pulled, "torque"))
        for lane in dashes
    }
    (path,) = turned.plot([], [], color=ACCENT, lw=2.4, solid_joinstyle="round", gid="path")
    (pull,) = pulled.plot([], [], color=ACCENT, lw=2.4, gid="pull")
    (off,) = turned.plot([], [], color=WARM, lw=1.2, ls=(0, (5, 2)), gid="off")
    off_note = turned.text(0, 0, "", fontsize=8, color=WARM, va="bottom", ha="left", gid="off_note")
    (bars,) = turned.plot([], [], color=INK, lw=1.3, marker="_", ms=7, gid="bars")
    (pull_bars,) = pulled.plot([], [], color=INK, lw=0.9, marker=".", ms=5, gid="pull_bars")
    (dots,) = turned.plot([], [], "o", ls="", ms=6, mfc="white", mec=ACCENT, mew=1.6, gid="dots")
    (pull_dots,) = pulled.plot([], [], "o", ls="", ms=6, mfc="white", mec=ACCENT, mew=1.6, gid="pull_dots")
    friction = [
        pulled.text(0, 0, "", fontsize=8, color=SOFT, ha=ha, va=va, gid=gid)
        for ha, va, gid in (("right", "bottom", "friction_low"), ("left", "top", "friction_high"))
    ]
    labels = [
        turned.text(0, 0, "", fontsize=8, color=INK, va="bottom", ha="right", gid=f"mark{n}") for n in range(MARKS)
    ]
    (ratio,) = spread.plot([], [], color=ACCENT, lw=1.8, gid="ratio")
    (ratio_dots,) = spread.plot([], [], "o", ls="", ms=5.5, mfc="white", mec=ACCENT, mew=1.5, gid="ratio_dots")
    spread.axhline(1.0, color=SOFT, lw=0.6)
    big = words_.text(0.5, 0.62, "", ha="center", va="center", fontsize=15, color=ACCENT, gid="big")
    small = words_.text(0.5, 0.22, "", ha="center", va="center", fontsize=8, color=SOFT, gid="small")

    def move(result: Result) -> None:
        c, k = result.curve, 1e-3
        angle, F, T = c["curve_angle"], c["curve_preload"] * k, c["curve_torque"]
        marks, load, torque = c["mark_angle"], c["F"] * k, c["torque"]
        wanted = c.get("limits") or _limits(c)
        limits = (
            *settle(turned, xlim=wanted[0], ylim=wanted[1]),
            settle(pulled, xlim=wanted[2]),
            settle(spread, ylim=wanted[3]),
        )
        (left, right), (_, top) = limits[:2]
        begin, neck = float(c["yield_angle"][0]), float(c["necking_angle"][0])
        for zone, name, start, end in zip(zones, names, (begin, neck), (neck, neck + 1e4), strict=True):
            start, end = min(max(start, left), right), min(end, right)
            zone.set_x(start)
            zone.set_width(max(end - start, 0.0))
            name.set_position((start + 0.01 * (right - left), 0.985 * top))
            name.set_visible(end - start > 0.1 * (right - left))
        frame(band, data=(c["band_angle"], c["band"][0] * k, c["band"][1] * k))
        # the fan up to the lower of the two clamps, beyond that only the high lane goes on
        frame(fan, data=(c["fan"] * k, c["fan_torque"][1], c["fan_torque"][0]))
        for n, lane in enumerate(("mid", "low", "high")):
            lines[turned, lane].set_data(angle[n], F[n])
            lines[pulled, lane].set_data(T[n], F[n])
            for ax in (turned, pulled):
                lines[ax, lane].set_visible(lane == "mid" or bool(c["banded"]))
        for word, name, at, n, side in zip(friction, ("low", "high"), (0.62, 0.4), (2, 1), (-0.03, 0.04), strict=True):
            word.set_text(f"{name}\nfriction" if c["banded"] else "")
            word.set_position((c["curve_torque"][n, -1] * at + side * limits[2][1], F[n, -1] * at))
        path.set_data(c["path_angle"], c["path_preload"] * k)
        highest = float(np.nanmax(load[:, 0], initial=0.0))
        pull.set_data([0, float(np.nanmax(torque[:, 0], initial=0.0))], [0, highest])
        dots.set_data(marks[:, 0], load[:, 0])
        pull_dots.set_data(torque[:, 0], load[:, 0])
        bars.set_data(_apart(marks[:, 1:]), _apart(load[:, 1:]))
        pull_bars.set_data(_apart(torque[:, 1:]), _apart(load[:, 1:]))
        for item in (bars, pull_bars):
            item.set_visible(bool(c["banded"]))
        stages = result["stage"]
        for n, label in enumerate(labels):
            seen = n < len(stages) and np.isfinite(load[n, 0]) and c["stages"][n].kind not in ("wait", "check")
            label.set_text(stages[n] if seen else "")
            if seen:
                label.set_position((marks[n, 0] - 0.012 * (right - left), load[n, 0] + 0.012 * top))
        end_x, end_F = marks[-1, 0], load[-1, 0]
        for_good = result["plastic_elongation"][-1]
        shows = bool(for_good) and end_F > 0
        off.set_data(*(([end_x, c["set_angle"][0]], [end_F, 0]) if shows else ([], [])))
        off_note.set_text(f"let off now: {1e3 * for_good:.2f} mm longer for good" if shows else "")
        off_note.set_position((float(c["set_angle"][0]) + 0.05 * (right - left), 0.025 * top))
        ratio.set_data(c["band_angle"], c["ratio"])
        ratio_dots.set_data(c["ratio_marks"][0], c["ratio_marks"][1])
        big.set_text(c["headline"][0])
        small.set_text(c["headline"][1])

    return move


def _apart(pairs: Any) -> Any:
    """Pairs as one line, broken between them."""
    return np.column_stack([pairs, np.full(len(pairs), np.nan)]).ravel()


def _limits(c: Any) -> tuple[Any, ...]:
    """Axes in whole steps, so that a small move leaves them alone."""
    left = -step_up(float(-c["curve_angle"][:, 0].min()) * 1.02, 30)
    right = step_up(max(float(np.nanmax(c["mark_angle"])) * 1.25, float(c["yield_angle"][0]) * 1.3, 180.0), 60)
    top = step_up(1.12e-3 * float(c["F_m"].max()), 10)
    torque = step_up(1.05 * max(float(np.nanmax(c["torque"], initial=1.0)), float(c["curve_torque"].max()) * 0.75), 20)
    highest = float(np.nanmax(np.append(c["ratio"], c["ratio_marks"][1]), initial=1.05))
    return (left, right), (0, top), (0, torque), (0.98, step_up(highest * 1.05, 0.2))


def alt(result: Result) -> str:
    """The picture in words."""
    parts = []
    rows = zip(result["stage"], result["preload"], result["spread_ratio"], result["state"], strict=True)
    for stage, F, ratio, state in rows:
        clamp = f"{F / 1e3:.1f} kN" if F is not None else state
        parts.append(f"{stage}: {clamp}" + (f", spread {ratio:.2f}" if ratio else "") + f", {state}")
    return "Clamp against angle and against torque. " + "; ".join(parts) + "."


CAUTIONS = (GOVERNS, TEACHING, SHEAR, LUBRICANT)

STAGED = Working(
    name="staged_tightening",
    title="Torque, then angle: one bolt through its stages",
    question="what clamp do these stages give, how far apart does friction spread it, and does the bolt yield",
    phase="tighten",
    fields=(
        *STAGES,
        *BOLT,
        *FRICTION,
        *FRICTION_BAND,
        *BEARING,
        CLASS,
        *YIELD,
        *TENSILE,
        *STRAIN,
        TORSION,
        PARTS,
        MODULUS,
        *ENDS,
    ),
    run=run,
    cautions=CAUTIONS,
    draw=draw,
    alt=alt,
    figure_size=(8.0, 5.0),
)

WORKINGS = [STAGED]
