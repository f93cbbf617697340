"""The working ``friction_evaluation``: what friction did this test show, in the thread and under the bolt head."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from shoplib.core.carried import Show, carried, only_value
from shoplib.core.checks import Uncertainty
from shoplib.core.conditions import one_of
from shoplib.core.fields import Field, judging, quantity, sourced_limit
from shoplib.core.units import N_m, kN, kN_per_mm, mm, one, pct
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Heading, Worksheet
from shoplib.physics import elongation, friction, threads
from shoplib.physics import preload as torque_equation
from shoplib.topics.preload.measured_inputs import STIFFNESS_ACCURACY
from shoplib.topics.threads.bolt_inputs import BEARING, THREAD, HeadedBolt, read_bolt

STRETCH = (0.0, 5e-3)  # m; a larger stretch is a wrong unit


def _accuracy(name: str, label: str, **more: Any) -> Field[Any]:
    return quantity(
        name, pct, label, required=False, above=0.0, at_most=0.5, example='"2 %"', group="Test",
        help="of the reading, from the certificate; without it, half a unit in the last digit counts", **more,
    )  # fmt: skip


class FrictionEvaluationInputs(HeadedBolt):
    """Inputs of ``friction_evaluation``."""

    combinations = (one_of("clamp_force", "stretch"),)
    torque = quantity("torque", N_m, "Torque on the head", symbol="T", above=0.0, example='"40 N*m"', group="Test",
                      help="read while the bolt turns")  # fmt: skip
    thread_torque = quantity(
        "thread_torque", N_m, "Torque in the thread", symbol="T_th", above=0.0, required=False, example='"21.5 N*m"',
        group="Test", help="from a rig that measures it; without it only the total friction is known",
    )  # fmt: skip
    torque_accuracy = _accuracy("torque_accuracy", "Accuracy of the torques, ±")
    clamp_force = quantity("clamp_force", kN, "Clamp force", symbol="F", above=0.0, required=False, example='"25 kN"',
                           group="Test", help="from a load cell under the head")  # fmt: skip
    force_accuracy = _accuracy("force_accuracy", "Accuracy of the clamp force, ±", needs=("clamp_force",))
    stretch = quantity("stretch", mm, "Elastic stretch of the bolt", above=0.0, required=False, plausible=STRETCH,
                       example='"0.262 mm"', group="Test", needs=("bolt_stiffness", "stiffness_accuracy"),
                       help="instead of a load cell; from “Preload from elongation”")  # fmt: skip
    bolt_stiffness = quantity("bolt_stiffness", kN_per_mm, "Stiffness of the bolt", symbol="k_b", above=0.0,
                              required=False, example='"95.4 kN/mm"', group="Test", needs=("stretch",),
                              help="from “Stiffness of bolt and clamped parts”")  # fmt: skip
    stiffness_accuracy = STIFFNESS_ACCURACY
    thread = THREAD
    bearing_outer, bearing_hole, bearing_mean = BEARING
    minimum_friction, minimum_friction_source = sourced_limit(
        "minimum_friction", one, "Lowest total friction", above=0.0, at_most=1.0, example="0.09", group="Limits"
    )
    maximum_friction, maximum_friction_source = sourced_limit(
        "maximum_friction", one, "Highest total friction", above=0.0, at_most=1.0, example="0.15", group="Limits"
    )
    decision_rule, at_limit = (f for f in judging(one) if f.name in ("decision_rule", "at_limit"))


def half_widths(inputs: FrictionEvaluationInputs) -> dict[str, float]:
    """By how much each reading may be wrong, SI, where an accuracy was typed."""
    accuracies = {"torque": "torque_accuracy", "thread_torque": "torque_accuracy", "clamp_force": "force_accuracy",
                  "bolt_stiffness": "stiffness_accuracy"}  # fmt: skip
    return {
        name: max(inputs[name] * inputs[accuracy], inputs.half_digit(name))
        for name, accuracy in accuracies.items()
        if inputs.given(name, accuracy)
    }


def force_of(inputs: FrictionEvaluationInputs, show: Show) -> float:
    """Clamp force from the load cell, or from the stretch."""
    if inputs.given("clamp_force"):
        return float(inputs.clamp_force)
    return float(
        show("Clamp force from the stretch", elongation.preload_of_stretch)(
            Delta_l_e=inputs.stretch, k_b=inputs.bolt_stiffness
        )
    )


NUT_FACTOR, TOTAL = Heading("Nut factor", digits=3), Heading("Total friction", digits=3)
IN_THREAD, AT_HEAD = Heading("Friction in the thread", digits=3), Heading("Friction under the bolt head", digits=3)


def nut_factor(torque: float, F: float, thread: threads.Thread, show: Show) -> float:
    """Torque over preload and thread diameter."""
    return float(show(NUT_FACTOR, torque_equation.nut_factor)(M_A=torque, F_M=F, d=thread.d))


def total_friction(torque: float, F: float, thread: threads.Thread, D: float, show: Show) -> float:
    """One friction for thread and head."""
    return float(show(TOTAL, friction.total_friction)(T=torque, F=F, P=thread.P, d_2=thread.d_2, D_b=D))


def friction_in_thread(thread_torque: float, F: float, thread: threads.Thread, show: Show) -> float:
    """From the torque in the thread."""
    return float(show(IN_THREAD, friction.thread_friction)(T_th=thread_torque, F=F, P=thread.P, d_2=thread.d_2))


def friction_at_head(torque: float, thread_torque: float, F: float, D: float, show: Show) -> float:
    """From what of the torque is not in the thread."""
    T_b = show("Friction torque under the head", friction.head_torque)(T=torque, T_th=thread_torque)
    return float(show(AT_HEAD, friction.head_friction)(T_b=T_b, F=F, D_b=D))


def run(inputs: FrictionEvaluationInputs, worksheet: Worksheet) -> None:
    """Friction in thread and head from one test, and whether it lies in the window."""
    bolt = read_bolt(inputs, worksheet)
    worksheet.raise_refusals()
    assert bolt is not None
    sources = ("clamp_force",) if inputs.given("clamp_force") else ("stretch", "bolt_stiffness")
    F = force_of(inputs, worksheet.show)
    if not inputs.given("clamp_force"):
        worksheet.assume("the stretch is elastic: the bolt returns to its length when it is loosened")
    _refuse_impossible(inputs, worksheet, bolt.thread, F)
    worksheet.raise_refusals()
    halves = half_widths(inputs)

    def spread(function: Callable[[FrictionEvaluationInputs, Show], float], *names: str) -> Uncertainty:
        return carried(function, inputs, *names, *sources, halves=halves)

    worksheet.result("clamp_force", F, kN, "Clamp force")
    thread, T = bolt.thread, float(inputs.torque)
    K = nut_factor(T, F, thread, worksheet.show)
    worksheet.result("nut_factor", K, one, "Nut factor K, torque ÷ (preload × thread diameter)", 3)
    worksheet.result(
        "nut_factor_uncertainty",
        spread(lambda at, show: nut_factor(at.torque, force_of(at, show), thread, show), "torque").half_width,
        one,
        "Uncertainty of the nut factor, ±",
        2,
    )
    mu = total_friction(T, F, thread, bolt.D_Km, worksheet.show)
    worksheet.result("total_friction", mu, one, "Total friction", 3)
    half = spread(lambda at, show: total_friction(at.torque, force_of(at, show), thread, bolt.D_Km, show), "torque")
    worksheet.result("total_friction_uncertainty", half.half_width, one, "Uncertainty of the total friction, ±", 2)
    at_sizes = {
        name: [total_friction(T, F, thread, D, only_value) for D in ends] for name, ends in bolt.bearings.items()
    }
    _judge_window(inputs, worksheet, mu, half, at_sizes)
    rows = [("total", mu, half.half_width)]
    if inputs.given("thread_torque"):
        rows += _parts(inputs, worksheet, spread, thread, bolt.D_Km, F)
    worksheet.plot_data["rows"] = rows


def _parts(
    inputs: FrictionEvaluationInputs, worksheet: Worksheet, spread: Callable[..., Uncertainty], thread: threads.Thread,
    D: float, F: float,
) -> list[tuple[str, float, float]]:  # fmt: skip
    """Friction in the thread and under the bolt head, where the torque in the thread was measured."""
    T_th = float(inputs.thread_torque)
    in_thread = friction_in_thread(T_th, F, thread, worksheet.show)
    at_head = friction_at_head(inputs.torque, T_th, F, D, worksheet.show)
    halves = (
        spread(
            lambda at, show: friction_in_thread(at.thread_torque, force_of(at, show), thread, show), "thread_torque"
        ).half_width,
        spread(
            lambda at, show: friction_at_head(at.torque, at.thread_torque, force_of(at, show), D, show),
            "torque",
            "thread_torque",
        ).half_width,
    )
    found = []
    for name, label, value, half in (
        ("thread", "Friction in the thread", in_thread, halves[0]),
        ("head", "Friction under the bolt head", at_head, halves[1]),
    ):
        worksheet.result(f"{name}_friction", value, one, label, 3)
        worksheet.result(f"{name}_friction_uncertainty", half, one, f"{label}: uncertainty, ±", 2)
        found.append((name, value, half))
    return found


def _refuse_impossible(
    inputs: FrictionEvaluationInputs, worksheet: Worksheet, thread: threads.Thread, F: float
) -> None:
    """Torques that no friction can explain."""
    least = float(torque_equation.thread_torque(F, thread.P, thread.d_2, 0.0))
    if inputs.torque <= least:
        worksheet.refuse("torque", f"is too small: without any friction this clamp force needs {least:.3g} N·m already")
    elif inputs.given("thread_torque"):
        if inputs.thread_torque <= least:
            worksheet.refuse(
                "thread_torque", f"is too small: without any friction this clamp force needs {least:.3g} N·m already"
            )
        if inputs.thread_torque >= inputs.torque:
            worksheet.refuse("thread_torque", f"must be below {worksheet.label('torque')}")


def _judge_window(
    inputs: FrictionEvaluationInputs, worksheet: Worksheet, mu: float, half: Uncertainty,
    at_sizes: Mapping[str, Sequence[float]],
) -> None:  # fmt: skip
    """The total friction within the window that was typed."""
    missing = "the size of the face under the head was not typed" if at_sizes else ""
    window = (("minimum_friction", "≥", "Friction not too low"), ("maximum_friction", "≤", "Friction not too high"))
    if inputs.given("minimum_friction", "maximum_friction") and inputs.minimum_friction > inputs.maximum_friction:
        worksheet.refuse("minimum_friction", f"is above {worksheet.label('maximum_friction')}")
    for name, sign, label in window:
        if inputs.given(name):
            worksheet.check(label, mu, sign, inputs[name], one, inputs[f"{name}_source"], uncertainty=half, digits=3,
                            otherwise=at_sizes, missing=missing)  # fmt: skip


FRICTION_EVALUATION = Working(
    name="friction_evaluation",
    title="Friction from a test",
    question="what friction did this test show, in the thread and under the bolt head",
    phase="tighten",
    inputs=FrictionEvaluationInputs,
    run=run,
    cautions=(
        GOVERNS,
        "Compare friction only at the same clamp force, speed and lubricant: each of them changes it.",
        "One test is one bolt. Test several of the same batch before you rely on the value.",
    ),
)
