"""Formulas called by themselves: worked examples of textbooks and handbooks, and what other methods give."""

import numpy as np
import pytest

from shoplib import topics as workings
from shoplib.core.formula import units_of
from shoplib.core.units import read
from shoplib.physics import angle, friction, joint, loads, preload, timing_drive
from tests.evidence import formulas
from tests.published.published import assert_printed, assert_within, cited, rows

THREAD, ASSEMBLY = workings.get("thread"), workings.get("assembly_preload")


def called(row):
    """The formula with the inputs of a row, in SI, and its unit."""
    fn = formulas()[row["formula"]]
    units = units_of(fn)
    typed = dict(part.strip().split("=", 1) for part in row["inputs"].split(";"))
    return float(fn(**{k: read(v, units[k]).value for k, v in typed.items()})), units["return"]


@pytest.mark.parametrize("row", rows("worked_examples"), ids=lambda r: f"{r['formula']} {r['printed']}")
def test_worked_example(row):
    found, unit = called(row)
    if row["unit"]:
        found /= read(f"1 {row['unit']}", unit).value
    what = f"{row['formula'].partition('.')[2].replace('_', ' ')}: {row['inputs'].replace('=', ' ').replace(';', ',')}"
    assert_printed(found, row["printed"], row["tolerance"], what)


# ------------------------------------------------------------------------------ the bolt under torque
TABLE = [r for r in rows("vdi_2230_assembly") if r["torsion"] == "plastic" and r["mark"] in ("read", "from memory")]


@pytest.mark.parametrize("row", TABLE, ids=lambda r: f"{r['thread']} {r['property_class']} {r['mu']}")
def test_the_printed_preload_uses_nine_tenths_of_the_yield_strength(row):
    """The table the other way round: the printed preload at the printed friction loads the bolt to 0.90 of yield."""
    typed = {"property_class": row["property_class"]} if row["property_class"] else {}
    made = THREAD(thread=row["thread"], **typed)
    F, mu = float(row["F_kN"]) * 1e3, float(row["mu"])
    P, d_2 = made["pitch"], made["pitch_diameter"]
    d_0 = (d_2 + made["minor_diameter"]) / 2
    R_p = float(row["R_p_MPa"]) * 1e6 if row["R_p_MPa"] else made["yield_load"] / made["stress_area"]
    M_G = preload.thread_torque(F, P, d_2, mu)
    sigma = preload.combined_stress(F, M_G, np.pi / 4 * d_0**2, preload.torsion_modulus_plastic(d_0))
    percent = 0.9 * float(row["F_tolerance"].rstrip(" %")) / 100
    rounded = 0.9 * 0.5 * 10 ** -len(row["F_kN"].partition(".")[2]) / float(row["F_kN"])
    what = f"use of the yield strength at the printed preload, {row['thread']} {row['property_class']}, μ {mu:g}"
    assert_within(preload.utilisation(sigma, R_p), "0.9", max(percent, rounded), what, why="as the preload", unit="")


@pytest.mark.parametrize("row", [r for r in TABLE if r["M_Nm"] and not r["M_tolerance"].startswith("disagrees")],
                         ids=lambda r: f"{r['thread']} {r['property_class']} {r['mu']}")  # fmt: skip
def test_the_printed_torque_and_preload_give_back_the_friction(row):
    """The table as if it were a test: its torque and its preload show the friction that it was calculated for."""
    typed = {"thread": row["thread"], "mu_thread": row["mu"], "mu_head": row["mu"], "property_class": "8.8"}
    made = THREAD(thread=row["thread"])
    step = next(s for s in ASSEMBLY(typed).steps if s.fn is preload.mean_bearing_diameter)
    D, F, M, mu = step.fn(**step.arguments), float(row["F_kN"]) * 1e3, float(row["M_Nm"]), float(row["mu"])
    percent = sum(float(row[name].rstrip(" %")) / 100 for name in ("F_tolerance", "M_tolerance"))
    printed = sum(0.5 * 10 ** -len(row[name].partition(".")[2]) / float(row[name]) for name in ("F_kN", "M_Nm"))
    # beside it: the table counts with 0.16 P and 0.58 d2, the standard with P/2π and 0.577 d2
    levers = made["pitch_diameter"] / np.sqrt(3) + D / 2
    rounded = 0.0009 * made["pitch"] / levers + 0.0027 * mu * made["pitch_diameter"] / levers
    allowed = max(percent, printed) * M / F / levers + rounded
    what = f"total friction from the printed torque and preload, {row['thread']} {row['property_class']}"
    found = friction.total_friction(M, F, made["pitch"], made["pitch_diameter"], D)
    assert_within(found, row["mu"], allowed, what, why="as torque and preload", unit="")


@pytest.mark.parametrize("row", [r for r in TABLE if r["M_Nm"] and not r["M_tolerance"].startswith("disagrees")],
                         ids=lambda r: f"{r['thread']} {r['property_class']} {r['mu']}")  # fmt: skip
def test_the_printed_torque_gives_the_printed_preload(row):
    typed = {"thread": row["thread"], "mu_thread": row["mu"], "mu_head": row["mu"]}
    bolt = f"{row['thread']} {row['property_class']}, μ {row['mu']}"
    F, M, mu = float(row["F_kN"]) * 1e3, float(row["M_Nm"]), float(row["mu"])
    found = workings.get("preload_from_torque")(torque=f"{row['M_Nm']} N*m", **typed)
    allowed = float(row["M_tolerance"].rstrip(" %")) / 100 + float(row["F_tolerance"].rstrip(" %")) / 100
    half = 0.5 * 10 ** -len(row["M_Nm"].partition(".")[2]) / M
    allowed = max(allowed, half + float(row["F_tolerance"].rstrip(" %")) / 100)
    why = "tolerances of torque and preload together"
    assert_within(
        found["preload"] / 1e3, row["F_kN"], allowed * F / 1e3, f"preload from torque, {bolt}", why=why, unit="kN"
    )
    # the three parts of the torque together, at the printed preload
    step = next(s for s in ASSEMBLY(typed | {"property_class": "8.8"}).steps if s.fn is preload.mean_bearing_diameter)
    made, D = THREAD(thread=row["thread"]), step.fn(**step.arguments)
    parts = (
        preload.pitch_torque(F, made["pitch"]),
        preload.thread_friction_torque(F, made["pitch_diameter"], mu),
        preload.head_friction_torque(F, D, mu),
    )
    assert_within(sum(parts), row["M_Nm"], allowed * M, f"parts of the torque added, {bolt}", why=why, unit="N·m")
    assert_within(sum(preload.share(part, sum(parts)) for part in parts), "1", 1e-12, "shares of the torque added",
                  source="the whole of the torque", mark="derived", unit="")  # fmt: skip


# ------------------------------------------------------------------------------ bolt and sleeve as springs
TUBE = "strength of materials, companion program of a textbook, example 8.23: nut on a bolt in a tube, quarter turn"


@cited(TUBE, "quoted", unit="N/mm2", note="the program was read and worked out; it prints two decimals")
def test_a_nut_turned_a_quarter_on_a_bolt_in_a_tube():
    """Steel bolt 20 mm in a copper tube 28/40 mm, both 600 mm long; the nut comes 0.5 mm nearer (pitch 2 mm)."""
    A_s, A_c = np.pi / 4 * 0.020**2, np.pi / 4 * (0.040**2 - 0.028**2)
    delta_s, delta_c = joint.segment_resilience(0.6, 200e9, A_s), joint.segment_resilience(0.6, 120e9, A_c)
    k_s, k_c = joint.stiffness(delta_s), joint.stiffness(delta_c)
    s, k_J, delta_J = (
        angle.travel(np.pi / 2, 0.002),
        joint.series_stiffness(k_s, k_c),
        joint.joint_resilience(delta_s, k_c),
    )
    forces = {
        "from the gain per travel": angle.elastic_gain(k_J, s),
        "from the closure of travel": angle.preload_elastic(s, delta_J, 0.0),
        "from a misfit of 0.5 mm": loads.preload_of_misfit(0.0005, k_s, k_c),
        "from settling by 0.5 mm": loads.embedment_loss(0.0005, k_s, k_c),
        "from the gain per degree": 90 * joint.preload_per_degree(k_J, 0.002),
    }
    for way, F in forces.items():
        assert_printed(F / A_s / 1e6, "91.73", "printed digits", f"stress in the bolt, {way}")
        assert_printed(F / A_c / 1e6, "44.96", "printed digits", f"stress in the tube, {way}")
    F = 91.73e6 * A_s
    assert_within(angle.position(F, delta_J, 0.0) * 1e3, "0.5", 5e-5, "travel of the nut at that stress", unit="mm")
    together = angle.bolt_elongation(F, delta_s, 0.0) + F * delta_c
    assert_within(together * 1e3, "0.5", 5e-5, "stretch of the bolt and give of the tube", unit="mm")


@cited("Shigley, 8th edition, example 8-3: stiffness 6.50 and 13.8, preload 25 kip, load 6 kip", "read", unit="kip")
def test_what_the_bolt_gains_and_the_parts_lose_is_the_load():
    # the printed stress in the bolt under load, 72.17 ksi on 0.373 in², less the load of 6 kip, is what clamps
    left = 72.17 * 0.373 - 6
    found = loads.residual_clamp(25.0, joint.load_factor(6.50, 13.8), 6.0)
    assert_within(found, left, 0.003, "clamp left between the parts", why="the book's load factor is rounded")
    assert_within(loads.preload_after(found, 6.0), 72.17 * 0.373, 0.003, "force in the bolt under load", why="the same")


# ------------------------------------------------------------------------------ past yield, by other methods
@cited("the same travel found by SciPy's root finder on the plastic elongation", "derived", unit="kN")
@pytest.mark.parametrize("part", [0.05, 0.3, 0.7, 0.95])
def test_past_yield_the_two_directions_meet(part):
    from scipy.optimize import brentq

    F_y, F_m, u_u, delta = 48e3, 56e3, 4.2e-3, 1 / 71.5e6
    s = F_y * delta + part * (F_m * delta + u_u - F_y * delta)
    other = brentq(
        lambda F: angle.position(F, delta, angle.plastic_elongation(F, F_y, F_m, u_u)) - s, F_y, F_m, xtol=1e-9
    )
    found = angle.preload_past_yield(s, delta, F_y, F_m, u_u)
    what = f"preload at {part:g} of the travel from yield to necking"
    assert_within(found / 1e3, other / 1e3, 1e-6, what)
    beyond = angle.plastic_elongation(other, F_y, F_m, u_u)
    assert_within(beyond * 1e3, (s - other * delta) * 1e3, 1e-6, f"plastic elongation there, {what}", unit="mm")
    lower = angle.preload_lower(angle.preload_elastic(s, delta, 0.0), found)
    assert_within(lower / 1e3, other / 1e3, 1e-6, f"the lower of line and curve, {what}")
    reached = angle.position_after(0.0, s) / angle.necking_position(F_m, delta, u_u)
    expected = (F_y * delta + part * (F_m * delta + u_u - F_y * delta)) / (F_m * delta + u_u)
    assert_within(reached, expected, 1e-12, "part of the travel to necking", unit="")


@cited("head, engaged thread and tapped hole as bars of their own, added", "derived", unit="nm/N")
def test_the_ends_of_a_bolt_as_bars():
    d, d_3 = 0.010, 0.00816
    A_N, A_3 = np.pi / 4 * d**2, np.pi / 4 * d_3**2
    bars = sum(l / (E * A) for l, E, A in ((0.4 * d, 205e9, A_N), (0.5 * d, 205e9, A_3), (0.33 * d, 70e9, A_N)))
    found = joint.end_resilience(0.4, 0.5, 0.33, d, d_3, 205e9, 70e9)
    assert_within(found * 1e9, bars * 1e9, 1e-9, "head, engaged thread and tapped hole")
    whole = joint.bolt_resilience(1e-9, 2e-9, found)
    assert_within(whole * 1e9, bars * 1e9 + 3, 1e-9, "with shank and free thread of 1 and 2")


# ------------------------------------------------------------------------------ the drive of the camshaft
@cited("two wheels and their outer tangent, exact", "derived", unit="deg")
@pytest.mark.parametrize("drop", [0.05e-3, 0.25e-3])
def test_a_shorter_drive_against_the_exact_tangent(drop):
    """The tight run keeps its length when the cam comes nearer: the cam turns back until it is taut again."""
    r_1, r_2, height = 0.030, 0.060, 0.350

    def run(c):  # tangent between the wheels, and its angle with the line of centres
        return np.sqrt(c**2 - (r_2 - r_1) ** 2), np.arcsin((r_2 - r_1) / c)

    (before, lean), (after, steeper) = run(height), run(height - drop)
    slack = before - after - (r_2 - r_1) * (steeper - lean)  # the larger wheel takes up what the smaller one gives
    exact = np.degrees(slack / r_2)
    found = np.degrees(timing_drive.cam_retard(timing_drive.slack_in_tight_run(drop, lean), r_2))
    what = f"lag of the cam, {drop * 1e3:g} mm off"
    assert_within(found, exact, 0.001 * exact, what, why="first order in the drop")
