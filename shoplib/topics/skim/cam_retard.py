"""The working ``cam_retard``: by how many degrees does the cut put the camshaft out."""

from __future__ import annotations

from typing import NamedTuple

from shoplib.core.carried import Show, carried, only_value
from shoplib.core.conditions import one_of
from shoplib.core.fields import choice, integer, quantity, sourced_limit, yes_no
from shoplib.core.units import deg, mm, one
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import timing, timing_drive
from shoplib.topics.cautions import TWO_TURNS
from shoplib.topics.skim.skim_inputs import (
    BLOCK_SKIM,
    CUT_DEFAULTS,
    DEG,
    GASKET_GAIN,
    HEAD_SKIM,
    RULE_AND_LIMIT,
    SIZES,
    Cuts,
    ask_about_negative,
    net_drop,
)

SPROCKETS = (
    "If the sprockets are free (pin-timed), re-time them: that removes the timing error. Keyed sprockets keep it."
)


DRIVE = (
    quantity(
        "sprocket_diameter",
        mm,
        "Cam sprocket, pitch diameter",
        symbol="D",
        above=0.0,
        required=False,
        help="where the chain pins or the belt cords run, not over the teeth; or type pitch, teeth and drive",
        plausible=SIZES,
        example='"120 mm"',
        group="Timing drive",
    ),
    quantity(
        "pitch", mm, "Pitch of chain or belt", symbol="p", above=0.0, required=False, example='"9.525 mm"',
        plausible=(1e-3, 0.05),
        group="Timing drive",
    ),
    integer(
        "teeth", "Teeth of the cam sprocket", symbol="z", at_least=6, at_most=500, required=False, example="38",
        group="Timing drive",
    ),
    choice("drive", "Drive", ("chain", "belt"), required=False, example="chain", group="Timing drive"),
    quantity(
        "run_angle",
        deg,
        "Angle of the tight run to the cylinder axis",
        symbol="beta",
        default="0 deg",
        at_least=-DEG.si * 80,
        at_most=DEG.si * 80,
        help="parallel to the cylinders; the tight run is the one that pulls the camshaft",
        example='"5 deg"',
        group="Timing drive",
    ),
    yes_no(
        "idler_in_tight_run",
        "Idler, guide wheel or tensioner in the tight run",
        required=False,
        help="anything that bends the tight run; for “yes” this form cannot calculate",
        example="no",
        group="Timing drive",
    ),
    choice(
        "sprockets", "Sprockets", ("free", "keyed"), required=False,
        help="free: turns on its shaft until it is clamped; keyed: held by a key or dowel", example="keyed",
        group="Timing "
                                                                                                          "drive",
    ),
)  # fmt: skip


class DriveInputs(Cuts):
    """The timing drive, and the cuts that shorten it."""

    sprocket_diameter, pitch, teeth, drive, run_angle, idler_in_tight_run, sprockets = DRIVE
    combinations = (one_of("sprocket_diameter", ("pitch", "teeth", "drive"), shared=("teeth",)),)


# ------------------------------------------------------------------------------ cam timing
def check_drive(inputs: DriveInputs, worksheet: Worksheet) -> None:
    """Nothing may lie in the tight run."""
    if inputs.idler_in_tight_run:
        worksheet.refuse(
            "idler_in_tight_run",
            "with an idler in the tight run this calculation does not apply; measure the timing with the "
            "engine's own pins or a degree disc",
            "no",
        )


class Retard(NamedTuple):
    """How late the camshaft runs, SI: of the camshaft and of the crankshaft; and the pitch radius of its sprocket."""

    cam: float
    crank: float
    radius: float


def retard_after(inputs: DriveInputs, drop: float, show: Show) -> Retard:
    """From the slack that a drop of the head leaves in the tight run."""
    if inputs.given("sprocket_diameter"):
        radius = show("Pitch radius", timing_drive.radius_of_diameter)(D=inputs.sprocket_diameter)
    else:
        formula = timing_drive.chain_pitch_radius if inputs.drive == "chain" else timing_drive.belt_pitch_radius
        radius = show(f"Pitch radius, {inputs.drive}", formula)(p=inputs.pitch, z=float(inputs.teeth))
    slack = show("Slack in the tight run", timing_drive.slack_in_tight_run)(Delta_h=drop, beta=inputs.run_angle)
    cam = float(show("Camshaft late by", timing_drive.cam_retard)(Delta_l=slack, r=radius))
    crank = float(show("Crankshaft degrees", timing.crank_from_cam)(phi=cam))
    return Retard(cam, crank, radius)


def crank_retard(inputs: DriveInputs, show: Show) -> float:
    """How late the camshaft runs, in radians of the crankshaft."""
    return retard_after(inputs, net_drop(inputs, show), show).crank


def work_retard(inputs: DriveInputs, worksheet: Worksheet, drop: float) -> float:
    """How late the camshaft runs, in radians of the crankshaft."""
    cam, crank, radius = retard_after(inputs, drop, worksheet.show)
    worksheet.result("cam_angle", cam, deg, "Camshaft late by")
    worksheet.result("crank_angle", crank, deg, "The same in crankshaft degrees")
    worksheet.result(
        "direction", "late" if cam > 0 else "early" if cam < 0 else "unchanged", None, "Direction of the change"
    )
    if not inputs.given("sprocket_diameter"):
        worksheet.result("pitch_diameter", 2 * radius, mm, "Pitch diameter")
    if inputs.given("teeth"):
        tooth = worksheet.step("One tooth", timing.tooth_angle, n=1.0, z=float(inputs.teeth))
        worksheet.result("part_of_a_tooth", cam / tooth, one, "As a fraction of one tooth", 3)
    if inputs.idler_in_tight_run is None:
        worksheet.assume("no idler, guide wheel or tensioner in the tight run")
    return crank


def run(inputs: CamRetardInputs, worksheet: Worksheet) -> None:
    """How late the camshaft runs after the head has come down."""
    ask_about_negative(inputs, worksheet, "head_skim", "block_skim")
    check_drive(inputs, worksheet)
    worksheet.raise_refusals()
    drop = net_drop(inputs, worksheet.show)
    crank = work_retard(inputs, worksheet, drop)
    worksheet.result("net_drop", drop, mm, "Net drop of the head")
    if inputs.given("sprockets"):
        worksheet.result("left_after_retiming", 0.0 if inputs.sprockets == "free" else crank, deg,
                         "Left after re-timing, crankshaft degrees")  # fmt: skip
    if inputs.given("retard_limit"):
        judge_retard(inputs, worksheet, crank)


def judge_retard(inputs: CamRetardInputs, worksheet: Worksheet, crank: float) -> None:
    """The remaining error against the largest allowed; free sprockets still have to be re-timed and checked."""
    label = "Timing error left, crankshaft degrees"
    if inputs.sprockets == "free":
        worksheet.check(
            label, 0.0, "≤", inputs.retard_limit, deg, inputs.retard_limit_source,
            missing="re-time with the locking pins, then check after two turns: a calculation is not a measurement",
        )  # fmt: skip
        return
    names = [n for n in ("head_skim", *CUT_DEFAULTS, "sprocket_diameter", "pitch", "run_angle") if inputs.given(n)]
    worksheet.check(
        label, abs(crank), "≤", inputs.retard_limit, deg, inputs.retard_limit_source,
        uncertainty=carried(crank_retard, inputs, *names),
        otherwise={
            "sprockets": [0.0],
            "idler_in_tight_run": (),
            "run_angle": [abs(crank_retard(inputs.replaced(run_angle=DEG.si * 80), only_value))],
            **dict.fromkeys(CUT_DEFAULTS, ()),
        },
    )  # fmt: skip


class CamRetardInputs(DriveInputs):
    """Inputs of ``cam_retard``."""

    head_skim = HEAD_SKIM
    block_skim = BLOCK_SKIM
    gasket_gain = GASKET_GAIN
    sprocket_diameter, pitch, teeth, drive, run_angle, idler_in_tight_run, sprockets = DRIVE
    retard_limit, retard_limit_source = sourced_limit(
        "retard_limit", deg, "Largest timing error allowed, crank degrees", at_least=0.0, example='"0.5 deg"',
        group="Limits",
    )  # fmt: skip
    decision_rule, at_limit = RULE_AND_LIMIT


CAM_RETARD = Working(
    name="cam_retard",
    title="Camshaft timing after a cut",
    question="by how many degrees does the cut put the camshaft out",
    phase="skim",
    inputs=CamRetardInputs,
    run=run,
    cautions=(
        GOVERNS,
        SPROCKETS,
        "When the camshaft comes nearer to the crankshaft, it always runs late, whichever way the engine turns.",
        "Use this for a camshaft in the head only. With a camshaft in the block, a cut changes the valve lash instead.",
        TWO_TURNS,
    ),
)  # fmt: skip
