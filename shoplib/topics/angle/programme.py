"""The inputs of a tightening programme: the stages, and the bolt in its joint."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from shoplib.core.carried import Show, only_value
from shoplib.core.conditions import one_of
from shoplib.core.fields import listing, number, quantity, sourced_limit, words
from shoplib.core.tightening_program import EXAMPLE, Stage, read_stage, read_stages
from shoplib.core.units import MPa, mm
from shoplib.core.worksheet import Worksheet
from shoplib.physics import joint as joint_formulas
from shoplib.physics import threads, tightening
from shoplib.topics.angle.joint_stiffness import ENDS, MODULUS, PARTS, EndsInputs, assume_of_ends, resilience_of_ends
from shoplib.topics.threads.bolt_inputs import (
    BEARING,
    CLASS,
    FRICTION,
    FRICTION_BAND,
    SHANK,
    THREAD,
    TORSION,
    TORSION_MODULUS,
    YIELD,
    Bolt,
    BoltInputs,
    read_bolt,
)

STAGES = (
    listing(
        "stages",
        words("stage", "Stage", example='"40 N*m" or "+90 deg"', grammar=read_stage),
        "Stages",
        help=(
            "in order, separated by semicolons: 40 Nm; +90°. Also possible: loosen 360°; repeat 40 Nm; "
            "check >= 60 Nm; wait 10 min"
        ),
        example=EXAMPLE,
        group="Programme",
    ),
    words(
        "stages_source",
        "Source of the stages",
        required=False,
        help="document, edition, page; without a source, a stage such as check >= 60 Nm can fail but not pass",
        example='"workshop manual, 3rd edition, page 41"',
        group="Programme",
    ),
    words(
        "group",
        "Group of this bolt",
        required=False,
        help="only if stages name groups: this bolt skips the stages of other groups",
        example='"long"',
        group="Programme",
    ),
)
BOLT = (
    THREAD,
    replace(SHANK, help="if left empty, the same as the thread"),
    quantity("shank_length", mm, "Shank length", symbol="l_T", at_least=0.0, help="plain part between head and thread",
             example='"100 mm"', group="Bolt"),
    quantity("thread_length", mm, "Free thread", symbol="l_G", at_least=0.0,
             help="thread between shank and first engaged turn", example='"20 mm"', group="Bolt"),
)  # fmt: skip
TENSILE = sourced_limit("tensile_strength", MPa, "Tensile strength", symbol="R_m", above=0.0,
                help="instead of the property class", example='"1040 MPa"', group="Strength")  # fmt: skip
STRAIN = (
    number("uniform_strain", "Uniform strain", symbol="epsilon_u", above=0.0, at_most=0.5,
           needs=("uniform_strain_source",), help="stretch where the steel begins to neck (tensile test); such as 2 %",
           example='"6 %"', group="Strength"),
    words("uniform_strain_source", "Source of the uniform strain", required=False, group="Strength",
          help="required: a strain without a source is not accepted", example='"tensile test, certificate 12"'),
)  # fmt: skip


class JointInputs(BoltInputs, EndsInputs):
    """A bolt in its joint: sizes, friction, strength, stiffness."""

    combinations = (one_of("property_class", ("yield_strength", "tensile_strength"), shared=("tensile_strength",)),)
    thread, shank_diameter, shank_length, thread_length = BOLT
    mu_thread, mu_head = FRICTION
    mu_low, mu_high = FRICTION_BAND
    bearing_outer, bearing_hole, bearing_mean = BEARING
    property_class = CLASS
    yield_strength, yield_strength_source = YIELD
    tensile_strength, tensile_strength_source = TENSILE
    uniform_strain, uniform_strain_source = STRAIN
    torsion = TORSION
    parts_stiffness = PARTS
    bolt_modulus = MODULUS
    ends, head_shape, engaged, block_modulus = ENDS


class ProgrammeInputs(JointInputs):
    """A tightening programme, and the bolt in its joint."""

    stages, stages_source, group = STAGES


# ------------------------------------------------------------------------------ reading
@dataclass(frozen=True)
class Joint:
    """Bolt, joint and strength as read from the inputs, SI."""

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

    def model(self, inputs: JointInputs, mu_G: Any, mu_K: Any, strength: Any = 1.0, **other: Any) -> tightening.Model:
        """The model for these frictions; ``strength`` scales both strengths.

        ``other``: D_Km, W_P or delta_S in each lane, in place of those of this joint.
        """
        thread = self.bolt.thread
        mine: Any = {"D_Km": self.bolt.D_Km, "W_P": self.W_P, "delta_S": self.delta_S} | other
        return tightening.model(P=thread.P, d_2=thread.d_2, A_0=self.A_0, delta_P=self.delta - self.delta_S,
                                l_0=self.l_0, epsilon_u=inputs.uniform_strain, R_p=self.R_p * strength,
                                R_m=self.R_m * strength, mu_G=mu_G, mu_K=mu_K, **mine, )  # fmt: skip


def read_programme(inputs: ProgrammeInputs, worksheet: Worksheet) -> list[Stage]:
    """The stages; too many are refused."""
    stages, wrong = read_stages(inputs.stages)
    for n, why in wrong:
        worksheet.refuse(f"stages[{n}]", why, '"40 N*m" or "+90 deg"')
    groups = sorted({s.group for s in stages if s.group})
    if len(groups) > 1 and not inputs.given("group"):
        worksheet.refuse("group", f"is needed: the stages name {', '.join(groups)}", f'"{groups[0]}"')
    elif inputs.given("group") and inputs.group not in groups:
        worksheet.refuse("group", "is not named in any stage" + (f"; they name {', '.join(groups)}" if groups else ""))
    if any(s.kind == "wait" for s in stages):
        worksheet.assume("a wait changes nothing here: settling is not calculated")
    return stages


def applies_to_bolt(inputs: ProgrammeInputs, stage: Stage) -> bool:
    """True when a stage is for this bolt."""
    return not stage.group or not inputs.given("group") or stage.group == inputs.group


def read_strength(inputs: JointInputs, worksheet: Worksheet, bolt: Bolt) -> float | None:
    """Tensile strength: typed, or of the property class."""
    found = threads.property_class(inputs.property_class, bolt.thread) if inputs.given("property_class") else None
    R_m = found.R_m if found and inputs.tensile_strength is None else inputs.tensile_strength
    if R_m is None and found is not None:
        worksheet.refuse(
            "tensile_strength", f"is missing: the table of {worksheet.label('property_class')} does not give it"
        )
    if R_m is None:
        return None
    if bolt.R_p is not None and bolt.R_p >= R_m:
        worksheet.refuse("yield_strength", f"is not below the tensile strength, {R_m / 1e6:g} MPa", '"940 MPa"')
    return float(R_m)


def read_joint(inputs: JointInputs, worksheet: Worksheet) -> Joint | None:
    """Bolt, joint and strength; refuses inputs that contradict each other.  Raises nothing: the caller does."""
    if inputs.shank_length + inputs.thread_length <= 0:
        worksheet.refuse(
            "thread_length", f"and {worksheet.label('shank_length')} are both zero; a bolt needs a free length"
        )
    bolt = read_bolt(inputs, worksheet)
    if bolt is None:
        return None
    R_m = read_strength(inputs, worksheet, bolt)
    if bolt.R_p is None or R_m is None:
        return None
    thread = bolt.thread
    d_T = inputs.shank_diameter or thread.d
    shank = d_T < thread.d_S and inputs.shank_length > 0
    A_0, d_0 = (bolt.A_0, bolt.d_0) if shank else (thread.A_s, thread.d_S)
    l_0 = inputs.shank_length if shank else inputs.thread_length + joint_formulas.ENGAGED * thread.d
    assume_of_ends(inputs, worksheet)
    delta_S = resilience(inputs, thread, worksheet.show)
    delta = worksheet.step(
        "Bolt and parts together", joint_formulas.joint_resilience, delta_S=delta_S, k_p=inputs.parts_stiffness
    )
    W_P = worksheet.step(f"Torsional section modulus, {inputs.torsion}", TORSION_MODULUS[inputs.torsion], d_0=d_0)
    weakest = "shank" if shank else "thread"
    worksheet.assume(f"weakest section: the {weakest}; it yields along its length of {l_0 * 1e3:.4g} mm")
    worksheet.assume("the twist of the bolt itself is not counted in the angle")
    return Joint(
        bolt, float(A_0), float(d_0), float(l_0), weakest, bolt.R_p, R_m, float(delta_S), float(delta), float(W_P)
    )


STEELS = (200e9, 210e9)  # elastic modulus of bolt steels, Pa (common practice, no source)
BLOCKS = (65e9, 210e9)  # of the metals that are tapped: aluminium, cast iron, steel, Pa (common practice, no source)


def without_defaults(inputs: JointInputs, joint: Joint) -> list[tuple[str, dict[str, float]]]:
    """What the model could be where an input was left at its default: (input, what changes in the model)."""
    found: list[tuple[str, dict[str, float]]] = []
    if not inputs.typed("torsion"):
        word = "elastic" if inputs.torsion == "plastic" else "plastic"
        found.append(("torsion", {"W_P": float(TORSION_MODULUS[word](joint.d_0))}))
    found += [(name, {"D_Km": d}) for name, ends in joint.bolt.bearings.items() for d in ends]
    softer: list[tuple[str, dict[str, Any]]] = [("bolt_modulus", {"bolt_modulus": E}) for E in STEELS]
    softer.append(("ends", {"ends": "none"}))
    if inputs.ends == "vdi":
        softer.append(("head_shape", {"head_shape": "socket"}))
        softer.append(("engaged", {"engaged": "nut"}))
        softer += [("block_modulus", {"block_modulus": E}) for E in BLOCKS]
    softer.append(("shank_diameter", {"shank_diameter": joint.bolt.thread.d_2}))  # a shank rolled down to d2
    for name, change in softer:
        if not inputs.typed(name):
            delta_S = resilience(inputs.replaced(**change), joint.bolt.thread, only_value)
            found.append((name, {"delta_S": delta_S}))
    return found


def resilience(inputs: JointInputs, thread: threads.Thread, show: Show) -> float:
    """Resilience of the bolt."""
    E = inputs.bolt_modulus
    A = float(threads.circle_area(inputs.shank_diameter or thread.d))
    delta_T = show("Shank", joint_formulas.segment_resilience)(l=inputs.shank_length, E=E, A=A)
    delta_G = show("Free thread, on its stress section", joint_formulas.segment_resilience)(
        l=inputs.thread_length, E=E, A=thread.A_s
    )
    ends = resilience_of_ends(inputs, thread, show)
    return float(
        show("Resilience of the bolt: shank, free thread, ends", joint_formulas.bolt_resilience)(
            delta_T=delta_T, delta_G=delta_G, delta_E=ends
        )
    )


def friction_cases(inputs: ProgrammeInputs, stage: Stage) -> tuple[str, Any]:
    """(kind, value in each lane): as typed, lowest clamp, highest clamp."""
    if not applies_to_bolt(inputs, stage):
        return "wait", None
    if stage.value is None:
        return stage.kind, None
    low, high = (stage.high, stage.low) if stage.kind == "loosen" else (stage.low, stage.high)
    return stage.kind, np.array([stage.value, low, high])
