"""The working ``cam_retard``: by how many degrees does the cut put the camshaft out."""

from __future__ import annotations

from shoplib.core.conditions import one_of
from shoplib.core.fields import choice, integer, quantity, sourced_limit, yes_no
from shoplib.core.units import deg, mm, one
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import skim as s
from shoplib.physics import timing
from shoplib.physics import timing_drive as t
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
)

SPROCKETS = "Re-time free, pin-timed sprockets: that removes the timing error. Keyed sprockets keep it."


DRIVE = (
    quantity(
        "sprocket_diameter",
        mm,
        "Cam sprocket, pitch diameter",
        symbol="D",
        above=0.0,
        required=False,
        help="or give pitch, teeth and drive",
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
        "Tight run to cylinder axis",
        symbol="beta",
        default="0 deg",
        at_least=-DEG.si * 80,
        at_most=DEG.si * 80,
        help="angle between the tight run (it pulls the camshaft) and the cylinder",
        example='"5 deg"',
        group="Timing drive",
    ),
    yes_no(
        "idler_in_tight_run",
        "Idler, guide wheel or tensioner in the tight run",
        required=False,
        example="no",
        group="Timing drive",
    ),
    choice(
        "sprockets", "Sprockets", ("free", "keyed"), required=False,
        help="free: locked by a pin, then clamped; keyed: held by a key or dowel", example="keyed", group="Timing "
                                                                                                          "drive",
    ),
)  # fmt: skip


class DriveInputs(Cuts):
    """The timing drive, and the cuts that shorten it."""

    sprocket_diameter, pitch, teeth, drive, run_angle, idler_in_tight_run, sprockets = DRIVE
    combinations = (one_of("sprocket_diameter", ("pitch", "teeth", "drive"), shared=("teeth",)),)


# ------------------------------------------------------------------------------ cam timing
def check_drive(i: DriveInputs, w: Worksheet) -> None:
    """Nothing may lie in the tight run."""
    if i.idler_in_tight_run:
        w.refuse(
            "idler_in_tight_run",
            "with an idler in the tight run this calculation does not apply; measure the timing with the "
            "engine's own pins or a degree disc",
            "no",
        )


def pitch_radius(i: DriveInputs, **other: float) -> float:
    """Pitch radius of the cam sprocket, from its diameter or from pitch and teeth."""
    if i.given("sprocket_diameter"):
        return float(t.radius_of_diameter(other.get("sprocket_diameter", i.sprocket_diameter)))
    radius = t.chain_pitch_radius if i.drive == "chain" else t.belt_pitch_radius
    return float(radius(other.get("pitch", i.pitch), float(i.teeth)))


def crank_retard(i: DriveInputs, **other: float) -> float:
    """How late the camshaft runs, in radians of the crankshaft, with some inputs replaced."""
    x = {n: other.get(n, i[n]) for n in ("head_skim", *CUT_DEFAULTS, "run_angle")}
    drop = s.net_drop(x["head_skim"], x["block_skim"], x["gasket_gain"])
    cam = t.cam_retard(t.slack_in_tight_run(drop, x["run_angle"]), pitch_radius(i, **other))
    return float(timing.crank_from_cam(cam))


def work_retard(i: DriveInputs, w: Worksheet, drop: float) -> float:
    """How late the camshaft runs, in radians of the crankshaft."""
    if i.given("sprocket_diameter"):
        radius = w.step("Pitch radius", t.radius_of_diameter, D=i.sprocket_diameter)
    else:
        formula = t.chain_pitch_radius if i.drive == "chain" else t.belt_pitch_radius
        radius = w.step(f"Pitch radius, {i.drive}", formula, p=i.pitch, z=float(i.teeth))
    slack = w.step("Slack in the tight run", t.slack_in_tight_run, Delta_h=drop, beta=i.run_angle)
    cam = float(w.step("Camshaft late by", t.cam_retard, Delta_l=slack, r=radius))
    crank = float(w.step("Crankshaft degrees", timing.crank_from_cam, phi=cam))
    w.result("cam_angle", cam, deg, "Camshaft late by")
    w.result("crank_angle", crank, deg, "The same in crankshaft degrees")
    w.result("direction", "late" if cam > 0 else "early" if cam < 0 else "unchanged", None, "The camshaft now runs")
    if not i.given("sprocket_diameter"):
        w.result("pitch_diameter", 2 * radius, mm, "Pitch diameter")
    if i.given("teeth"):
        tooth = w.step("One tooth", timing.tooth_angle, n=1.0, z=float(i.teeth))
        w.result("part_of_a_tooth", cam / tooth, one, "As a fraction of one tooth", 3)
    if i.idler_in_tight_run is None:
        w.assume("no idler, guide wheel or tensioner in the tight run")
    return crank


def run(i: CamRetardInputs, w: Worksheet) -> None:
    """How late the camshaft runs after the head has come down."""
    ask_about_negative(i, w, "head_skim", "block_skim")
    check_drive(i, w)
    w.door()
    drop = w.step("Net drop of the head", s.net_drop, c_H=i.head_skim, c_B=i.block_skim, g=i.gasket_gain)
    crank = work_retard(i, w, float(drop))
    w.result("net_drop", drop, mm, "Net drop of the head")
    if i.given("sprockets"):
        w.result("left_after_retiming", 0.0 if i.sprockets == "free" else crank, deg,
                 "Left after re-timing, crankshaft degrees")  # fmt: skip
    if i.given("retard_limit"):
        judge_retard(i, w, crank)


def judge_retard(i: CamRetardInputs, w: Worksheet, crank: float) -> None:
    """The remaining error against the largest allowed; free sprockets still have to be re-timed and checked."""
    label = "Timing error left, crankshaft degrees"
    if i.sprockets == "free":
        w.check(
            label, 0.0, "≤", i.retard_limit, deg, i.retard_limit_source,
            missing="re-time with the locking pins, then check after two turns: a calculation is not a measurement",
        )  # fmt: skip
        return
    names = [n for n in ("head_skim", *CUT_DEFAULTS, "sprocket_diameter", "pitch", "run_angle") if i.given(n)]
    w.check(
        label, abs(crank), "≤", i.retard_limit, deg, i.retard_limit_source,
        uncertainty=w.carried(lambda **x: crank_retard(i, **x), *names),
        otherwise={
            "sprockets": [0.0],
            "idler_in_tight_run": (),
            "run_angle": [abs(crank_retard(i, run_angle=DEG.si * 80))],
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
        "A shorter drive always makes the camshaft late, in whichever direction the engine turns.",
        "Use this for a camshaft in the head only. With a camshaft in the block, a cut shifts the rockers instead.",
        TWO_TURNS,
    ),
)  # fmt: skip
