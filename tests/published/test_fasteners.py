"""Threads, strength, preload and torque tools against standards, handbooks and worked examples."""

import pytest

from shoplib import topics as workings
from shoplib.core.units import N_m, mm, read, unit_of
from tests.published.published import assert_disagrees, assert_printed, assert_within, cited, rows

THREAD, ASSEMBLY = workings.get("thread"), workings.get("assembly_preload")
WRENCH, UNITS, PRELOAD = (workings.get(n) for n in ("wrench_setting", "torque_units", "preload_from_torque"))


def label(row):
    return " ".join(str(v) for v in list(row.values())[:5])


@pytest.mark.parametrize("row", rows("iso_898_1"), ids=label)
def test_metric_threads_and_loads(row):
    typed = {"thread": row["thread"], **({"property_class": row["property_class"]} if row["property_class"] else {})}
    result = THREAD(typed)
    found = result.values[row["result"]].to_json()["value"]
    if row["property_class"]:  # the standard multiplies the stress area as it prints it, to three digits
        found *= float(f"{result['stress_area']:.3g}") / result["stress_area"]
    what = f"{row['result'].replace('_', ' ')}, {row['thread']} {row['property_class']}".strip()
    assert_printed(found, row["printed"], row["tolerance"], what)


@pytest.mark.parametrize("row", rows("shigley_9e_table_8_2"), ids=label)
def test_inch_stress_areas(row):
    area = THREAD(thread=row["thread"])["stress_area"] / 0.0254**2
    assert_printed(area, row["printed"], row["tolerance"], f"stress area, {row['thread']}")


@pytest.mark.parametrize("row", rows("sae_j429"), ids=label)
def test_inch_grades(row):
    result = THREAD(thread="1/2-13 UNC", property_class=row["property_class"])
    for load, column in (("proof_load", "proof_ksi"), ("yield_load", "yield_ksi"), ("ultimate_load", "tensile_ksi")):
        stress = result[load] / result["stress_area"] / 6894757.293168
        what = f"{load.replace('_load', ' stress')}, {row['property_class']}"
        assert_printed(stress, row[column], row["tolerance"], what, unit="ksi")


@pytest.mark.parametrize("row", rows("vdi_2230_assembly"), ids=label)
def test_assembly_preload_and_torque(row):
    typed = {"thread": row["thread"], "mu_thread": row["mu"], "mu_head": row["mu"], "torsion": row["torsion"]}
    if row["property_class"]:
        typed["property_class"] = row["property_class"]
    else:
        typed["yield_strength"] = f"{row['R_p_MPa']} MPa"
    result = ASSEMBLY(typed)
    bolt = f"{row['thread']} {row['property_class'] or row['R_p_MPa'] + ' MPa'}, μ {row['mu']}"
    assert_printed(result["preload"] / 1e3, row["F_kN"], row["F_tolerance"], f"assembly preload, {bolt}", unit="kN")
    if row["M_tolerance"].startswith("disagrees"):  # the source against its own formula; see the note in the CSV
        right = row["M_tolerance"].split()[-1]
        assert_disagrees(result["torque"], row["M_Nm"], right, 0.05, f"tightening torque, {bolt}", unit="N·m")
    elif row["M_Nm"]:
        assert_printed(result["torque"], row["M_Nm"], row["M_tolerance"], f"tightening torque, {bolt}", unit="N·m")


def test_the_wrong_edition_is_seen():
    # before 2001 torsion counts as elastic; the plastic factor is then 4 to 7 % too high, as the checks say
    typed = {"thread": "M14", "mu_thread": "0.08", "mu_head": "0.08", "yield_strength": "640 MPa"}
    assert 1.035 < ASSEMBLY(typed)["preload"] / 59000 < 1.075


@pytest.mark.parametrize("row", rows("torque_tools"), ids=label)
def test_torque_tools(row):
    N_M, torque_of = unit_of(N_m), lambda typed: read(typed, unit_of(N_m)).value
    number, _, unit = row["printed"].partition(" ")
    if row["kind"] == "pair":
        assert f"({row['printed']})" in UNITS(torque=row["a"])["printed_pair"]
        return
    if row["kind"] == "factor":
        assert_printed(torque_of(row["a"]), number, "exact", row["a"], unit="N·m")
        return
    if row["kind"] == "nut_factor":
        torque = (
            float(row["c"])
            * read(row["a"], unit_of(mm).__class__("N")).value
            * THREAD(thread=row["b"])["nominal_diameter"]
        )
        assert_printed(torque / torque_of("1 in lb"), number, "printed digits", "torque from nut factor", unit="lbf·in")
        return
    result = WRENCH(torque=row["a"], wrench_length=row["b"], adapter_length=row["c"])
    name = {"at_bolt": "uncorrected_torque", "setting": "setting"}[row["kind"]]
    what = {"at_bolt": "torque at the bolt", "setting": "wrench setting"}[row["kind"]]
    what += f", {row['b']} wrench, {row['c']} adapter"
    assert_printed(N_M.from_si(result[name]) / torque_of(f"1 {unit}"), number, row["tolerance"], what, unit=unit)


# The model bolt of the workshop: M10x1.5, mean head diameter 13.0, friction 0.12; this project's own arithmetic.
@cited("the workshop's model bolt, this project's own arithmetic", "derived", unit="kN")
@pytest.mark.parametrize(("mu", "kilonewton"), [("0.12", "24.3"), ("0.16", "18.9")])
def test_the_model_bolt(mu, kilonewton):
    result = PRELOAD(torque="40 N*m", thread="M10x1.5", mu_thread=mu, mu_head=mu, bearing_mean="13 mm")
    assert_printed(result["preload"] / 1e3, kilonewton, "printed digits", f"preload at 40 N·m, μ {mu}")


@cited("the workshop's model bolt, this project's own arithmetic", "derived", unit="kN",
       note="28.4 with the unrounded constants; VDI prints 0.16 and 0.58")  # fmt: skip
def test_the_model_bolt_at_low_friction_differs_by_the_rounded_constants():
    # With the unrounded 1/(2 pi) and 1/(2 cos 30 deg) it is 28.4 kN; VDI's printed 0.16 and 0.58 give 28.3.
    result = PRELOAD(torque="40 N*m", thread="M10x1.5", mu_thread="0.10", mu_head="0.10", bearing_mean="13 mm")
    assert_printed(result["preload"] / 1e3, "28.3", "printed digits", "preload at 40 N·m, μ 0.10")


@cited("the workshop's model bolt, this project's own arithmetic", "derived")
def test_where_the_torque_goes():
    result = PRELOAD(
        torque="40 N*m",
        thread="M10x1.5",
        mu_thread="0.12",
        mu_head="0.12",
        bearing_mean="13 mm",
        mu_low="0.10",
        mu_high="0.16",
    )
    shares = [100 * result[f"share_{part}"] for part in ("pitch", "thread", "head")]
    for part, share, printed in zip(("pitch", "thread", "head"), shares, ("15", "38", "47"), strict=True):
        assert_printed(share, printed, "printed digits", f"share of the torque, {part}", unit="%")
    assert_printed(result["spread_ratio"], "1.50", "printed digits", "spread of preload, μ 0.10 to 0.16")
    assert sum(shares) == pytest.approx(100, rel=1e-12)


@cited("statics of the lever, this project's own arithmetic", "derived", unit="N·m")
@pytest.mark.parametrize(("angle", "setting"), [("0 deg", "71.1"), ("90 deg", "80.0"), ("180 deg", "91.4")])
def test_adapter_in_every_direction(angle, setting):
    result = WRENCH(torque="80 N*m", wrench_length="400 mm", adapter_length="50 mm", adapter_angle=angle)
    assert_printed(result["setting"], setting, "printed digits", f"wrench setting, adapter at {angle}")
    if angle == "0 deg":
        assert_printed(result["uncorrected_torque"], "90.0", "printed digits", "torque at the bolt if not corrected")


@cited("ISO 6789:2003, permissible deviation of a setting wrench", "read", unit="%")
@pytest.mark.parametrize(("torque", "percent"), [("10.1 N*m", 4), ("10 N*m", 6), ("5 N*m", 6)])
def test_iso_6789_deviation_at_its_step(torque, percent):
    result = WRENCH(torque=torque, wrench_length="300 mm", adapter_length="0 mm")
    deviation = 100 * (result["torque_high"] / result.inputs.torque - 1)
    assert_within(deviation, str(percent), 1e-9, f"permissible deviation at {torque}", why="exact")
    assert any("ISO 6789" in a for a in result.assumptions)
