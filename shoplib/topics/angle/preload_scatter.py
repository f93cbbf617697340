"""The working ``preload_scatter``.

It answers: how much less does the preload scatter when the last stage is an angle, and what causes the rest?
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from shoplib.core import progress, rounding
from shoplib.core.checks import Value
from shoplib.core.fields import integer, number, quantity
from shoplib.core.inputs import Inputs
from shoplib.core.tightening_program import Stage
from shoplib.core.units import N_m, deg, kN, one, pct, unit_of
from shoplib.core.working import Working
from shoplib.core.worksheet import Heading, Worksheet
from shoplib.physics import scatter as scatter_formulas
from shoplib.physics import tightening
from shoplib.topics.angle import programme
from shoplib.topics.angle.staged_tightening import CAUTIONS, NECKS, refuse_loosening
from shoplib.topics.threads.bolt_inputs import friction_band

CHUNK = 1 << 16  # draws at a time: the arrays stay in the processor's cache


STEPS = 60  # of the histograms


DRAWN = "of the simulated bolts"


SOURCES = ("friction", "torque", "angle", "yield")


ENTRIES = {"friction": "friction", "torque": "torque error", "angle": "angle error", "yield": "strength"}


# ------------------------------------------------------------------------------ drawing
@dataclass
class Draws:
    """A preload for each draw, and the class of each input, SI."""

    torque_angle: Any
    per_torque: Any  # torque alone: preload for each N·m asked for
    F_y: Any
    F_m: Any
    yielded: Any
    broken: Any
    label: dict[str, Any]
    turned: bool  # an angle stage is for this bolt


def draw_bolts(inputs: PreloadScatterInputs, joint: programme.Joint, stages: Sequence[Stage], bands: Any) -> Draws:
    """Take ``draws`` bolts through the stages, each with its own friction, wrench, angle and strength."""
    progress.spend(inputs.draws)
    n, rng = inputs.draws, np.random.default_rng(inputs.seed)
    (G_low, G_high), (K_low, K_high) = bands
    together = inputs.friction_correlation >= 1
    angles = [s for s in stages if programme.applies_to_bolt(inputs, s) and s.kind == "angle"]
    side = scatter_formulas.BINS if together else 24
    numbers = {name: np.empty(n) for name in ("torque_angle", "per_torque", "F_y", "F_m")}
    flags = {name: np.empty(n, dtype=bool) for name in ("yielded", "broken")}
    label = {name: np.zeros(n, dtype=np.uint16) for name in SOURCES}
    out = Draws(**numbers, **flags, label=label, turned=bool(angles))
    for first in range(0, n, CHUNK):
        progress.step(first, n)
        here = slice(first, min(first + CHUNK, n))
        size = here.stop - first
        u_G, u_K = scatter_formulas.correlated(rng, size, inputs.friction_correlation)
        u_T, u_y = rng.random(size), rng.random(size)
        u_a = [rng.random(size) for _ in angles]
        m = joint.model(
            inputs, G_low + (G_high - G_low) * u_G, K_low + (K_high - K_low) * u_K,
            1 + scatter_formulas.rectangular(u_y, inputs.yield_percent),
        )  # fmt: skip
        wrench = 1 + scatter_formulas.rectangular(u_T, inputs.torque_percent)
        turns = iter(u_a)
        led: list[tuple[str, Any]] = []
        for stage in stages:
            kind, value = _led(inputs, stage)
            if kind in ("torque", "repeat"):
                value = value * wrench
            elif kind == "angle":
                value = np.maximum(value + scatter_formulas.rectangular(next(turns), inputs.angle_error), 0.0)
            led.append((kind, value))
        state = tightening.run(m, led, size)[-1]
        F = state.preload(m)
        out.torque_angle[here] = np.where(state.broken, m.F_m, F)
        out.broken[here], out.yielded[here] = state.broken, state.u_p > 0
        out.per_torque[here], out.F_y[here], out.F_m[here] = m.preload(wrench), m.F_y, m.F_m
        out.label["friction"][here] = (
            scatter_formulas.classes(u_G, side)
            if together
            else scatter_formulas.classes(u_G, side) * side + scatter_formulas.classes(u_K, side)
        )
        out.label["torque"][here], out.label["yield"][here] = (
            scatter_formulas.classes(u_T),
            scatter_formulas.classes(u_y),
        )
        if u_a:  # several angles: by the sum of their errors
            out.label["angle"][here] = scatter_formulas.classes(sum(u_a) / len(u_a))
    return out


def _led(inputs: PreloadScatterInputs, stage: Stage) -> tuple[str, Any]:
    """Kind and value of a stage; those of other bolts change nothing."""
    return (stage.kind, stage.value) if programme.applies_to_bolt(inputs, stage) else ("wait", None)


# ------------------------------------------------------------------------------ the working
def run(inputs: PreloadScatterInputs, worksheet: Worksheet) -> None:
    """Torque then angle as typed, against torque alone with the same mean preload."""
    stages = programme.read_programme(inputs, worksheet)
    bands = friction_band(inputs, worksheet)
    if bands[0][0] == bands[0][1] and bands[1][0] == bands[1][1]:
        worksheet.refuse(
            "mu_low", f"and {worksheet.label('mu_high')} are needed: without a range of friction there is no scatter"
        )
    joint = programme.read_joint(inputs, worksheet)
    kinds = [s.kind for s in stages if programme.applies_to_bolt(inputs, s)]
    if stages and not {"torque", "repeat", "angle"} & set(kinds):
        worksheet.refuse("stages", "contain no torque and no angle for this bolt", '"40 N*m; +90 deg"')
    worksheet.raise_refusals()
    assert joint is not None
    nominal = joint.model(inputs, np.array([inputs.mu_thread.value]), np.array([inputs.mu_head.value]))
    states = tightening.run(nominal, [_led(inputs, s) for s in stages], nominal.F_y.shape)
    refuse_loosening(inputs, worksheet, stages, nominal, states)
    if not states[-1].broken[0] and states[-1].preload(nominal)[0] <= 0:
        worksheet.refuse("stages", "end without preload; there is nothing to compare", '"40 N*m; +90 deg"')
    worksheet.raise_refusals()
    with progress.part(0, 10, DRAWN, size=5):
        d = draw_bolts(inputs, joint, stages, bands)
    mean = float(d.torque_angle.mean())
    with progress.part(5, 10, DRAWN):
        torque = scatter_formulas.torque_for_mean(d.per_torque, d.F_m, mean)
    alone = torque * d.per_torque
    broken = alone > d.F_m
    clamp = np.minimum(alone, d.F_m)
    with progress.part(6, 10, DRAWN, size=2):
        torque_only = summary(worksheet, "Torque alone", clamp, d, alone > d.F_y, broken)
    worksheet.result("torque_only", [torque_only], None, "Torque alone")
    with progress.part(8, 10, DRAWN, size=2):
        torque_angle = summary(worksheet, "Torque, then angle", d.torque_angle, d, d.yielded, d.broken)
    worksheet.result("torque_angle", [torque_angle], None, "Torque, then angle")
    worksheet.result("equal_torque", torque, N_m, "Torque alone for the same mean preload")
    sds = torque_only["sd"].value, torque_angle["sd"].value
    worksheet.result(
        "sd_ratio", sds[0] / sds[1] if sds[1] else None, one, "Torque alone scatters more by a factor of", 3
    )
    worksheet.assume(
        f"{inputs.draws:,} simulated bolts, random draw {inputs.seed}; every value in a range "
        "equally likely (JCGM 101:2008)".replace(",", "\u202f", 1)
    )
    same = "thread and head of a bolt have the same friction" if inputs.friction_correlation >= 1 else (
        f"correlation of thread and head friction {inputs.friction_correlation:g}"
    )  # fmt: skip
    worksheet.assume(same + "; both strengths vary together; a bolt has the same wrench error at all its torque stages")
    if any(s.is_band for s in stages):
        scatter = f"{worksheet.label('torque_percent')} and {worksheet.label('angle_error')}"
        worksheet.assume(f"the ranges typed in the stages are not used for the scatter; {scatter} are")
    if broken.any() or d.broken.any():
        worksheet.caution(f"Some of the simulated bolts {NECKS}. The mean includes them with their highest load.")
    low, high = (float(f([f(clamp), f(d.torque_angle)])) for f in (np.min, np.max))
    span = (low, high if rounding.below(low, high) else low + 1.0)
    worksheet.plot_data.update(
        edges=np.linspace(*span, STEPS + 1),
        # a bolt that breaks holds nothing: it is counted among the broken, not in a step
        torque_only=np.histogram(clamp[~broken], STEPS, span)[0] / inputs.draws,
        torque_angle=np.histogram(d.torque_angle[~d.broken], STEPS, span)[0] / inputs.draws,
        mean=mean,
    )


def summary(worksheet: Worksheet, title: str, F: Any, d: Draws, yielded: Any, broken: Any) -> dict[str, Value]:
    """One row: mean, scatter, ends, and what causes it."""
    mean = float(F.mean())
    sd = rounding.without_noise(float(F.std(ddof=1)), mean)  # bolts that all break at one preload do not scatter
    cv = worksheet.step(
        Heading(f"{title}: coefficient of variation", digits=3), scatter_formulas.variation, s=sd, F_mean=mean
    )
    p05, p95 = np.percentile(F, (5, 95))
    shares = scatter_formulas.shares(F, d.label) if sd else dict.fromkeys(SOURCES, 0.0)
    if not d.turned or title == "Torque alone":
        shares["angle"] = 0.0
    together = max(0.0, 1 - sum(shares.values())) if sd else 0.0
    kilo, pure, percent = unit_of(kN), unit_of(one), unit_of(pct)
    row = {
        "mean": Value(mean, kilo, "mean"),
        "sd": Value(sd, kilo, "standard deviation", 3),
        "cv": Value(float(cv), pure, "coefficient of variation", 3),
        "p05": Value(float(p05), kilo, "5 % are below"),
        "p95": Value(float(p95), kilo, "5 % are above"),
    }
    row |= {f"share_{name}": Value(v, percent, f"from {ENTRIES[name]}", 2) for name, v in shares.items()}
    row["share_together"] = Value(together, percent, "from several of these together", 2)
    row["yielded"] = Value(float(np.mean(yielded)), percent, "yielded", 3)
    row["breaks"] = Value(float(np.mean(broken)), percent, "broken", 3)
    return row


def _percent(name: str, label: str, **more: Any) -> Any:
    return quantity(name, pct, label, at_least=0.0, at_most=0.5, example='"4 %"', group="Scatter", **more)


class ScatterInputs(Inputs):
    """What scatters, and how many bolts are simulated."""

    torque_percent = _percent(
        "torque_percent",
        "Error of the torque, up to ±",
        help="wrench and reading together; ISO 6789 allows 4 % above 10 N·m",
    )
    angle_error = quantity(
        "angle_error",
        deg,
        "Error of the angle, up to ±",
        at_least=0.0,
        at_most=np.pi / 2,
        example='"5 deg"',
        help="of each angle stage",
        group="Scatter",
    )
    yield_percent = _percent(
        "yield_percent", "Deviation of the strength, up to ±", help="of the yield and tensile strength above"
    )
    friction_correlation = number(
        "friction_correlation",
        "Correlation of thread and head friction",
        default="1",
        at_least=0.0,
        at_most=1.0,
        help="1: both the same; 0: independent",
        example="1",
        group="Scatter",
    )
    draws = integer(
        "draws",
        "Simulated bolts",
        default="100000",
        at_least=1000,
        at_most=2_000_000,
        example="100000",
        group="Scatter",
    )
    seed = integer(
        "seed",
        "Number of the random draw",
        default="1",
        at_least=0,
        help="a whole number; the same number draws the same bolts again",
        example="1",
        group="Scatter",
    )


class PreloadScatterInputs(programme.ProgrammeInputs, ScatterInputs):
    """Inputs of ``preload_scatter``."""


PRELOAD_SCATTER = Working(
    name="preload_scatter",
    title="Scatter of the preload: torque alone, and torque then angle",
    question="how much less does the preload scatter when the last stage is an angle, and what causes the rest",
    phase="tighten",
    inputs=PreloadScatterInputs,
    calculation=2,  # bolts that all break at one preload: rounding was taken for scatter
    run=run,
    cautions=(
        *CAUTIONS,
        "Use this scatter to compare methods only: it comes from assumed ranges, not from your bolts.",
    ),
)
