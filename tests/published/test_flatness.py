"""Flatness against Moody's plate, standards' formulas and bodies whose width is known."""

import numpy as np
import pytest

from shoplib.physics import flatness, line_survey
from tests.body_width import body_width
from tests.published.flatness_places import PLACES
from tests.published.published import assert_printed, assert_within, cited, rows

PLATE_GRADES = {"0": (4e-6, 250e3), "1": (10e-6, 100e3)}  # grade: constant in metres, divisor of a length
UNIT = 1e-5 * 0.0254  # Moody prints heights in hundred-thousandths of an inch


def moody(lines=None):
    lines = lines or rows("moody_1955_readings")
    stepped = [
        line_survey.SteppedLine(
            r["line"],
            r["start"],
            r["end"],
            tuple(np.radians(float(a) / 3600) for a in r["readings_arcsec"].split()),
        )
        for r in lines
    ]
    return line_survey.survey(stepped, PLACES, 4 * 0.0254)


@pytest.mark.parametrize("row", rows("moody_1955_heights"), ids=lambda r: r["place"])
def test_moody_heights(row):
    survey = moody()
    height = survey.points[:, 2].max() if row["place"] == "highest" else survey.places[row["place"]]
    what = f"height of the plate, {row['place']}"
    assert_printed(height / UNIT, row["printed_1e-5_in"], row["tolerance"], what, unit="1e-5 in")


@cited("Moody, How to Calibrate Surface Plates in the Plant, The Tool Engineer, October 1955", "read")
def test_moody_peak_to_valley_and_how_the_lines_close():
    survey = moody()
    assert_printed(np.ptp(survey.points[:, 2]) / 25.4e-9, "178.4", "printed digits", "peak to valley", unit="µin")
    # Derived here from the readings: the centre as N-S and E-W see it against the diagonals, 1e-5 in.
    closures = {c.line: c.error / UNIT for c in survey.closures}
    assert set(closures) == {"N_S", "E_W"}
    mine = {"source": "derived here from Moody's readings", "mark": "derived", "unit": "1e-5 in"}
    assert_within(closures["N_S"], "0", 1e-4, "closing error, line N to S", **mine)
    assert_within(closures["E_W"], "-1.3575", 5e-5, "closing error, line E to W", **mine)


@cited("126 stations of Moody's plate by a linear program", "derived", unit="µin")
def test_moody_minimum_zone_and_least_squares():
    # Derived by the project and cross-checked with a linear program: 163.67 and 175.37 µin of the 126 stations.
    points = moody().points
    assert len(points) == 126
    assert_printed(flatness.minimum_zone(points).width / 25.4e-9, "163.67", "printed digits", "minimum zone")
    assert_printed(
        flatness.least_squares_plane(points).width / 25.4e-9, "175.37", "printed digits", "least-squares zone"
    )


def test_the_misprints_matter():
    lines = rows("moody_1955_readings")
    worksheet = [dict(r, readings_arcsec=r["readings_arcsec"].replace(" 18.8 18.6", " 18.3 18.6")) for r in lines]
    assert worksheet != lines
    assert np.abs(moody(worksheet).points[:, 2] - moody().points[:, 2]).max() / UNIT > 0.05


BODIES = {
    "tetrahedron": np.array(
        [[0, 0, 0], [1, 0, 0], [0.5, 3**0.5 / 2, 0], [0.5, 3**0.5 / 6, (2 / 3) ** 0.5]]
    ),
    "octahedron": np.concatenate([np.eye(3), -np.eye(3)]),
}  # fmt: skip


WORDS = {"plate": "tolerance of a surface plate, grade and length",
         "straightedge": "tolerance of a straightedge, grade and length",
         "acceptance": "acceptance limit, from limit and standard uncertainty",
         "probability": "probability of being within, from limit, value and uncertainty", "body": "width of a body:",
         "zone": "minimum zone:", }  # fmt: skip
UNITS = {"plate": "µm", "straightedge": "µm"}


def computed(row):
    match row["what"]:
        case "plate" | "straightedge":
            grades = PLATE_GRADES if row["what"] == "plate" else flatness.STRAIGHTEDGE_GRADES
            t_0, q = grades[row["a"]]
            return flatness.edge_tolerance(float(row["b"]) * 1e-3, t_0, q) * 1e6
        case "acceptance":
            return flatness.acceptance_limit(float(row["a"]), float(row["b"]))
        case "probability":
            return flatness.probability_within(float(row["a"]), float(row["b"]), float(row["c"]))
        case "body":
            return body_width(BODIES[row["a"]])[0]
        case "zone" if row["a"] == "tetrahedron":
            return flatness.minimum_zone(BODIES["tetrahedron"]).width
        case "zone":
            h = float(row["b"])
            return flatness.minimum_zone([[0, 0, 0], [400, 0, 0], [400, 150, h], [0, 150, 0]]).width
    raise AssertionError(row)


@pytest.mark.parametrize("row", rows("flatness"), ids=lambda r: f"{r['what']} {r['a']}")
def test_published_values(row):
    what = " ".join(v for v in (WORDS[row["what"]], row["a"], row["b"], row["c"]) if v)
    assert_printed(computed(row), row["printed"], row["tolerance"], what, unit=UNITS.get(row["what"], ""))
