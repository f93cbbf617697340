"""The working ``scatter_of_readings``: how much do these readings scatter."""

from __future__ import annotations

import numpy as np

from shoplib.core.fields import listing, quantity
from shoplib.core.inputs import Inputs
from shoplib.core.units import kN, one
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Heading, Worksheet
from shoplib.physics import scatter


# ------------------------------------------------------------------------------ readings
def run(inputs: ScatterOfReadingsInputs, worksheet: Worksheet) -> None:
    """Mean, sample standard deviation and the factors derived from them."""
    if len(inputs.readings) < 2:
        worksheet.refuse("readings", "are too few: give two or more", '"23.6 kN; 27.6 kN"')
    worksheet.raise_refusals()
    F = np.array(inputs.readings)
    mean, sd = float(F.mean()), float(F.std(ddof=1))
    worksheet.result("mean", mean, kN, "Mean")
    worksheet.result("sd", sd, kN, "Standard deviation (typical distance from the mean)", 3)
    worksheet.result(
        "cv",
        worksheet.step(Heading("Coefficient of variation", digits=3), scatter.variation, s=sd, F_mean=mean),
        one,
        "Coefficient of variation: standard deviation ÷ mean",
        3,
    )
    ratio = worksheet.step(
        Heading("Spread", digits=3), scatter.spread_ratio, F_max=float(F.max()), F_min=float(F.min())
    )
    worksheet.result("spread_ratio", ratio, one, "Spread of these readings, highest ÷ lowest", 3)
    worksheet.result("count", len(F), one, "Readings", 1)
    if 2 * sd < mean:
        factor = worksheet.step(Heading("Tightening factor", digits=3), scatter.tightening_factor, F_mean=mean, s=sd)
    else:
        factor = None
        worksheet.assume("no tightening factor: the mean less two standard deviations is zero or less")
    worksheet.result(
        "tightening_factor",
        factor,
        one,
        "Tightening factor for many bolts: (mean + 2 deviations) ÷ (mean − 2 deviations)",
        3,
    )
    if len(F) < 10:
        worksheet.caution(f"Take more readings, 20 or more: {len(F)} readings tell you little about scatter.")
    worksheet.plot_data.update(readings=F, mean=mean, sd=sd)


class ScatterOfReadingsInputs(Inputs):
    """Inputs of ``scatter_of_readings``."""

    readings = listing(
        "readings",
        quantity("reading", kN, "Preload", above=0.0, example='"23.6 kN"'),
        "Measured preloads",
        csv=True,
        help="each with its unit, separated by semicolons",
        example='"23.6 kN; 27.6 kN; 28.0 kN"',
    )


SCATTER_OF_READINGS = Working(
    name="scatter_of_readings",
    title="Scatter of measured preloads",
    question="how much do these readings scatter",
    phase="tighten",
    inputs=ScatterOfReadingsInputs,
    run=run,
    cautions=(GOVERNS,),
)
