"""The rule of "stop and look" against worked examples, a reference library and a published data set."""

import numpy as np
import pytest

from shoplib import topics as workings
from shoplib.physics import outlier
from tests.published.published import assert_printed, assert_within, cited, rows

PEAK = workings.get("peak_torque")


@pytest.mark.parametrize("row", rows("outlier"), ids=lambda r: f"{r['what']} {r['printed']}")
def test_worked_examples(row):
    values = [float(v) for v in row["readings"].split(";") if v]
    if values:
        assert outlier.median(values) == float(row["median"])
        assert outlier.median_deviation(values) == float(row["mad"])
    if row["what"] == "score":
        found = outlier.modified_z_score(float(row["reading"]), float(row["median"]), float(row["mad"]))
    elif row["what"] == "mad":
        found = outlier.median_deviation(values)
    elif row["what"] == "constant":  # the score of a reading one MAD above the median
        found = outlier.modified_z_score(2.0, 1.0, 1.0)
    else:
        found = outlier.LIMIT
    what = {"score": "modified z score", "mad": "median absolute deviation", "constant": "constant of the score"}
    of = f" of {row['reading']} among {row['readings'] or 'others'}" if row["reading"] else ""
    assert_printed(found, row["printed"], row["tolerance"], what.get(row["what"], "limit of the score") + of)


@cited("SciPy, median absolute deviation scaled to the normal distribution", "library")
def test_median_deviation_and_score_as_scipy_has_them():
    """Reference library: scipy.stats.median_abs_deviation; its scale "normal" is the quantile that 0.6745 rounds."""
    from scipy.stats import median_abs_deviation, norm

    rng, pairs = np.random.default_rng(3), []
    for n in (5, 6, 11, 30):
        x = rng.normal(118, 4, n)
        theirs = float(median_abs_deviation(x))
        assert_within(outlier.median_deviation(x), theirs, 1e-13 * theirs, f"median absolute deviation of {n} readings")
        score = outlier.modified_z_score(x, outlier.median(x), outlier.median_deviation(x))
        reference = (x - np.median(x)) / median_abs_deviation(x, scale="normal")
        far = int(np.argmax(np.abs(reference)))
        what, why = f"modified z score of the farthest of {n} readings", "0.6745 for 0.67449"
        assert_within(score[far], reference[far], 1e-4 * abs(reference[far]), what, why=why)
        pairs.append((score, reference))
    for score, reference in pairs:
        assert score == pytest.approx(reference, rel=1e-4)
    assert round(norm.ppf(0.75), 4) == 0.6745


def test_the_uranium_readings_name_the_same_outlier_as_the_handbook():
    """NIST/SEMATECH e-Handbook 1.3.5.17.1, eight mass-spectrometer readings (from memory): 245.57 is the outlier."""
    readings = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]
    result = PEAK(readings="; ".join(f"{r} N*m" for r in readings))
    assert result["unlike"] == ["8"]


def test_how_often_alike_bolts_are_called_unlike():
    """Derived here, for normal scatter: one joint of ten alike bolts in eight; more with five.  Notebook 64 says so."""
    rng = np.random.default_rng(1)
    share = {}
    for n in (5, 10):
        x = rng.normal(size=(20_000, n))
        middle = np.median(x, axis=1, keepdims=True)
        spread = np.median(np.abs(x - middle), axis=1, keepdims=True)
        share[n] = float((np.abs(outlier.modified_z_score(x, middle, spread)) > outlier.LIMIT).any(axis=1).mean())
    assert 0.11 < share[10] < 0.14
    assert share[5] > share[10]
