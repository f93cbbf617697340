"""After the skim: against handbook and textbook values, and the workshop's own worked numbers."""

import math

import numpy as np
import pytest

from shoplib.core.checks import Outcome
from shoplib.physics import engine_geometry, roughness
from shoplib.topics import all_workings
from tests.published.published import assert_disagrees, assert_printed, assert_within, cited, rows

BY_NAME = all_workings()


def label(row):
    return f"{row['working']} {row['inputs']} {row['result']}"


@pytest.mark.parametrize("row", rows("skim"), ids=label)
def test_worked_numbers(row):
    typed = dict(item.split("=", 1) for item in row["inputs"].split(";"))
    shown = BY_NAME[row["working"]](typed).values[row["result"]].to_json()
    assert shown["unit"] == {"cm3": "cm**3"}.get(row["unit"], row["unit"])
    what = f"{row['result'].replace('_', ' ')}: {row['inputs'].replace('=', ' ').replace(';', ', ').replace('_', ' ')}"
    assert_printed(shown["value"], row["printed"], row["tolerance"], what)


@cited("Pulkrabek, Engineering Fundamentals of the Internal Combustion Engine, Example 2-1", "from memory",
       note="bore = stroke from 3.0 L unrounded; the book multiplies its rounded numbers")  # fmt: skip
def test_pulkrabek_example_2_1_and_its_rounding():
    # from memory: 3.0 L V6, ratio 9.5, bore = stroke, rod 16.6 cm, 20 degrees after top centre: the piston is
    # 0.3 cm down, V/Vc 1.32, V 77.9 cm3.  The book multiplies the rounded 1.32 by the rounded 59; unrounded it is 77.7.
    B = (4 * 500e-6 / math.pi) ** (1 / 3)
    a, rod, theta = B / 2, 0.166, math.radians(20)
    down = a + rod - (a * math.cos(theta) + math.sqrt(rod**2 - (a * math.sin(theta)) ** 2))
    V_c = engine_geometry.clearance_volume(engine_geometry.swept_volume(B, B), 9.5)
    V = V_c + engine_geometry.deck_volume(B, down)
    assert_printed(V / V_c, "1.32", "printed digits", "volume over clearance volume at 20°")
    assert_disagrees(1e6 * V, "77.9", "77.7", 0.05, "volume at 20°", unit="cm3")
    assert round(100 * down, 1) == 0.3  # the piston, worked out in this test


def test_head_136_passes_alone_and_fails_together_with_the_block():
    typed = {"new_height": "136.00 mm", "heights": "135.72 mm; 135.72 mm; 135.72 mm; 135.72 mm", "cut": "0.15 mm",
             "minimum_height": "135.50 mm", "minimum_height_source": "bench notes, sheet 7", "block_cut": "0.20 mm",
             "combined_limit": "0.40 mm", "combined_limit_source": "bench notes, sheet 7", }  # fmt: skip
    height, together = BY_NAME["skim_allowance"](typed).checks
    assert (height.outcome, together.outcome) == (Outcome.PASS, Outcome.FAIL)
    assert "135.57" in height.found.shown and "0.63" in together.found.shown


@pytest.mark.parametrize("row", rows("roughness_preferred"), ids=lambda r: r["source"])
def test_preferred_roughness_pairs(row):
    result = BY_NAME["surface_roughness"](value=f"{row['micrometre']} um", parameter="Ra")
    what = f"roughness of {row['micrometre']} µm"
    assert_printed(result["microinch"] / 25.4e-9, row["microinch"], row["tolerance"], what, unit="µin")


@cited("exact for these shapes: square wave Rz = 2 Ra, sine Rz = π Ra", "derived")
def test_one_ra_many_rz():
    # exact for these shapes: square wave Rz = 2 Ra; sine Ra = 2 A/pi and Rz = 2 A, so Rz = pi Ra
    found = {n: roughness.parameters_of(z) for n, (_, z) in roughness.model_profiles("Ra", 0.8e-6).items()}
    ratio = {n: p["Rz"] / p["Ra"] for n, p in found.items()}
    assert_within(ratio["plateaus and grooves"], "2", 2e-9, "Rz over Ra, square wave")
    assert_within(ratio["round waves"], np.pi, 4e-6, "Rz over Ra, sine")
    said = roughness.why_not("Ra", "Rz")
    assert f"{ratio['few deep scratches']:.1f} times" in said and "2 times" in said and "3.1 times" in said
