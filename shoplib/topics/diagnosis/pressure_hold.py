"""The working ``pressure_hold``: does the cold system hold its pressure."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from shoplib.core.checks import Outcome, Uncertainty, added
from shoplib.core.fields import judging, quantity, sourced_limit, table
from shoplib.core.former import Former
from shoplib.core.inputs import Inputs, half_digit_in_si
from shoplib.core.rounding import at_most, below
from shoplib.core.units import degC, kPa, minute, show
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Heading, Worksheet
from shoplib.physics import pressure
from shoplib.topics.cautions import HOT
from shoplib.topics.diagnosis.cylinders import KPA, MINUTE, SUGGESTS

# ------------------------------------------------------------------------------ pressure hold
REPEAT = "repeat at steady temperature"


Span = tuple[float, float]


def _effect(inputs: PressureHoldInputs, change: Span) -> Span:
    """The smallest and the largest pressure change from a temperature change between two values.

    Warming never lowers the pressure and cooling never raises it.

    :param change: holds zero, so the smallest effect is zero or less: hoses swell
    """
    least, most = (pressure.EXPANSION * _trapped(inputs, Delta_T) for Delta_T in change)
    return least, most


def _trapped(inputs: PressureHoldInputs, Delta_T: float) -> float:
    """The pressure change of trapped air alone."""
    return float(
        pressure.trapped_air_change(
            p_1=inputs.start, p_amb=pressure.ATMOSPHERE, T=inputs.start_temperature, Delta_T=Delta_T
        )
    )


def _changes(inputs: PressureHoldInputs) -> tuple[Span, Span]:
    """The change of temperature from start to end, and between any two readings: each from least to most."""
    doubt = inputs.half_digit("start_temperature") + inputs.half_digit("end_temperature")
    change = inputs.end_temperature - inputs.start_temperature
    return (change - doubt, change + doubt), (min(change, 0.0) - doubt, max(change, 0.0) + doubt)


@dataclass(frozen=True)
class Logged:
    """Pressures in the order of time, each with its half-width."""

    times: list[float]
    pressures: list[float]
    halves: list[float]
    to_the_end: bool = True

    @classmethod
    def of(cls, inputs: PressureHoldInputs, worksheet: Worksheet) -> Logged:
        """Start, log and end."""
        rows = inputs.log or []
        ends = [worksheet.counted(worksheet.uncertainty(n)) for n in ("start", "end")]
        halves = [ends[0]] * len(rows)
        if rows and not (inputs.given("resolution") or inputs.given("expanded_uncertainty")):
            typed = inputs.typed_rows("log")
            halves = [worksheet.counted(Uncertainty(half_digit_in_si(str(r["pressure"]), KPA))) for r in typed]
        return cls(
            [0.0, *(r["time"] for r in rows), inputs.minutes],
            [inputs.start, *(r["pressure"] for r in rows), inputs.end],
            [ends[0], *halves, ends[1]],
        )

    def until(self, time: float) -> Logged:
        """The readings up to a time."""
        n = sum(at_most(t, time) for t in self.times)
        return Logged(self.times[:n], self.pressures[:n], self.halves[:n], n == len(self.times))

    def most_drop(self, sign: float) -> tuple[float, int, int]:
        """The largest drop between two readings, at least one intermediate, and the numbers of these two readings.

        Of equal drops, the first counts.

        Each reading counts as read (sign 0), or with the uncertainty for (1) or against (−1) a drop.
        """
        found, end = (-math.inf, 0, 0), len(self.times) - 1 if self.to_the_end else None
        highest = [(-math.inf, 0), (-math.inf, 0)]  # of all before; of all before but the first
        for k, (p, u) in enumerate(zip(self.pressures, self.halves, strict=True)):
            before, at = highest[1] if k == end else highest[0]
            drop = before - (p - sign * u)
            if k and below(found[0], drop):
                found = drop, at, k
            for which in range(2 if k else 1):
                if highest[which][0] < p + sign * u:
                    highest[which] = p + sign * u, k
        return found

    @property
    def most_rise(self) -> float:
        """The largest rise between two readings that is there whatever the uncertainty."""
        most, lowest = -math.inf, math.inf
        for p, u in zip(self.pressures, self.halves, strict=True):
            most, lowest = max(most, p - u - lowest), min(lowest, p + u)
        return most


def _not_enough(inputs: PressureHoldInputs) -> str:
    """Why a hold cannot pass for its length; "" where it can."""
    if not inputs.given("hold_minutes"):
        return "type the holding time that the source requires, and the source"
    if not inputs.given("hold_minutes_source"):
        return "the source of the holding time is missing"
    if below(inputs.minutes, inputs.hold_minutes):
        return f"held {show(inputs.minutes, MINUTE, 3)}, the source requires {show(inputs.hold_minutes, MINUTE, 3)}"
    return ""


CAP = "rating printed on the cap"


def run(inputs: PressureHoldInputs, worksheet: Worksheet) -> None:
    """The drop as read, and what it can have been at steady temperature: the direction of the change decides."""
    times = [row["time"] for row in inputs.log or []]
    if times != sorted(times) or (times and not at_most(times[-1], inputs.minutes)):
        worksheet.refuse("log", "must be in order of time and lie within the holding time")
    worksheet.raise_refusals()
    drop = worksheet.step("Pressure drop", pressure.pressure_drop, p_1=inputs.start, p_2=inputs.end)
    worksheet.result("drop", drop, kPa, "Pressure drop as read, not corrected for temperature")
    logged = Logged.of(inputs, worksheet)
    worksheet.plot_data.update(t=np.array(logged.times) / 60, p=np.array(logged.pressures) / 1e3, between=None)
    if inputs.given("start_temperature", "end_temperature"):
        _hold_checks(inputs, worksheet, drop, logged)
    else:
        why = f"temperatures missing: {REPEAT}, and write both down"
        worksheet.judge("Pressure drop", drop, "≤", inputs.limit, kPa, inputs.limit_source, Outcome.UNDECIDED, why)
    _pumped(inputs, worksheet)


def _pumped(inputs: PressureHoldInputs, worksheet: Worksheet) -> None:
    """A pressure above the rating of the cap happened, so it is recorded and judged; it is never a pass."""
    if inputs.cap_rating is None:
        worksheet.caution("Read the rating on the cap before pumping; it is not entered here.")
        return
    read = [(inputs.start, worksheet.uncertainty("start"))]
    read += [(row["pressure"], worksheet.uncertainty("log", n, "pressure")) for n, row in enumerate(inputs.log or [])]
    highest, uncertainty = max(read, key=lambda each: each[0])
    if highest > inputs.cap_rating:
        worksheet.check(
            "Highest pressure pumped",
            highest,
            "≤",
            inputs.cap_rating,
            kPa,
            CAP,
            uncertainty=uncertainty,
            geometry=True,
            remark="above the rating: examine the cap, the hoses and the radiator before you go on",
        )
        worksheet.caution("Never pump above the rating of the cap. It was done here: the system may be damaged.")


def _hold_checks(inputs: PressureHoldInputs, worksheet: Worksheet, drop: float, logged: Logged) -> None:
    """From start to end, and between all readings where a log was kept."""
    effect = _trapped(inputs, inputs.end_temperature - inputs.start_temperature)
    worksheet.result("trapped_air_change", effect, kPa, "Effect of the temperature change on trapped air", 2)
    worksheet.assume("air pressure 101.325 kPa")
    worksheet.assume(
        f"the effect of temperature is 0 to {pressure.EXPANSION:g} times that of the gas law: hoses swell, and coolant "
        "expands into the air (shoplib's own estimate, no source)"
    )
    change, within = _changes(inputs)
    part = _effect(inputs, within)
    both = added(worksheet.uncertainty("start"), worksheet.uncertainty("end"))
    between = _possible(inputs, worksheet, drop, worksheet.counted(both), change)
    worksheet.result("drop_least", max(between[0], 0.0), kPa, "Smallest drop possible at steady temperature", 3)
    worksheet.result("drop_most", between[1], kPa, "Largest drop possible at steady temperature", 3)
    worksheet.plot_data["between"] = tuple(max(p, 0.0) / 1e3 for p in between)
    missing = [_not_enough(inputs)]
    if between[1] < 0:
        missing.append(f"the pressure rose more than the temperature explains, so a reading is wrong: {REPEAT}")
    elif below(part[1], logged.most_rise):
        missing.append("between two readings the pressure rose more than the temperature explains")
    why = "; ".join(filter(None, missing))
    said = "at steady temperature, with all uncertainty: {} to {}".format(
        *(worksheet.shown(max(p, 0.0), KPA) for p in between)
    )
    longer = inputs.given("hold_minutes") and below(inputs.hold_minutes, inputs.minutes)
    if longer:  # the source allows the drop for a shorter time: only a reading taken by then can prove a fail
        between = min(between[0], 0.0), between[1]
        said += f"; held longer than the source requires: read it at {worksheet.shown(inputs.hold_minutes, MINUTE)}"
    worksheet.check(
        "Pressure drop", drop, "≤", inputs.limit, kPa, inputs.limit_source,
        uncertainty=both, between=between, missing=why, remark=said,
    )  # fmt: skip
    if inputs.given("log"):
        timely = logged.until(inputs.hold_minutes) if longer else logged
        found, *ends = logged.most_drop(0)
        start, end = (worksheet.shown(logged.times[k], MINUTE) for k in ends)
        least = max(timely.most_drop(-1)[0] + part[0], -inputs.start)
        most = logged.most_drop(1)[0] + part[1]
        worksheet.assume("between start and end the temperature changed in one direction only")
        worksheet.check(
            f"Largest drop between any two other readings (from {start} to {end})",
            found, "≤", inputs.limit, kPa, inputs.limit_source,
            uncertainty=both, between=(least, most), missing=why,
        )  # fmt: skip


def _possible(
    inputs: PressureHoldInputs, worksheet: Worksheet, drop: float, spread: float, change: Span
) -> tuple[float, float]:
    """The smallest and the largest drop at steady temperature that the readings allow; below zero: none."""
    read = {
        "Delta_p": drop,
        "U_p": spread,
        "f": pressure.EXPANSION,
        "p_1": inputs.start,
        "p_amb": pressure.ATMOSPHERE,
        "T": inputs.start_temperature,
    }
    cooled, warmed = ({**read, "Delta_T": x} for x in (min(change[0], 0.0), max(change[1], 0.0)))
    least = float(pressure.smallest_drop(**cooled))
    if least > 0:
        heading = Heading(
            "Smallest drop possible",
            note="ΔT: the lowest change that the rounding of both temperatures allows, or 0 K if that is above zero",
        )
        worksheet.step(heading, pressure.smallest_drop, **cooled)
    heading = Heading(
        "Largest drop possible",
        note="ΔT: the highest change that the rounding of both temperatures allows, or 0 K if that is below zero",
    )
    return least, worksheet.step(heading, pressure.largest_drop, **warmed)


_COLD = {"required": False, "at_least": 233.15, "at_most": 423.15, "group": "Temperature"}


class PressureHoldInputs(Inputs):
    """Inputs of ``pressure_hold``."""

    start = quantity(
        "start",
        kPa,
        "Pressure at the start",
        symbol="p_1",
        above=0.0,
        example='"100 kPa"',
        help="gauge",
        group="Readings",
    )
    end = quantity(
        "end",
        kPa,
        "Pressure at the end",
        symbol="p_2",
        at_least=0.0,
        example='"97 kPa"',
        help="gauge",
        group="Readings",
    )
    minutes = quantity("minutes", minute, "Holding time", above=0.0, example='"15 min"', group="Readings")
    log = table(
        "log",
        (
            quantity("time", minute, "Time", at_least=0.0, example='"5 min"'),
            quantity("pressure", kPa, "Pressure", at_least=0.0, example='"99 kPa"'),
        ),
        "Intermediate readings",
        required=False,
        group="Readings",
        example='[{"time":"5 min","pressure":"99 kPa"}]',
    )
    start_temperature = quantity(
        "start_temperature",
        degC,
        "Coolant temperature at the start",
        example='"18.0 °C"',
        help="to a tenth of a degree, such as 18.0 °C; without both temperatures the outcome is undecided",
        **_COLD,
    )
    end_temperature = quantity(
        "end_temperature",
        degC,
        "Coolant temperature at the end",
        example='"18.0 °C"',
        help="such as 18.2 °C",
        **_COLD,
    )
    cap_rating = quantity(
        "cap_rating",
        kPa,
        "Rating of the pressure cap",
        required=False,
        above=0.0,
        example='"110 kPa"',
        help="never pump above it",
        group="Limit",
    )
    limit, limit_source = sourced_limit(
        "limit", kPa, "Largest drop allowed", at_least=0.0, example='"5 kPa"', group="Limit"
    )
    hold_minutes, hold_minutes_source = sourced_limit(
        "hold_minutes", minute, "Holding time required", above=0.0, example='"15 min"', group="Limit"
    )
    resolution, expanded_uncertainty, coverage_factor, decision_rule, at_limit = judging(kPa)


PRESSURE_HOLD = Working(
    name="pressure_hold",
    title="Pressure hold of the cooling system",
    question="does the cold system hold its pressure",
    phase="prove",
    inputs=PressureHoldInputs,
    run=run,
    former=Former(
        labels={
            "Largest drop to or from an intermediate reading, from {} to {}": (
                "Largest drop between any two other readings (from {} to {})",
            )
        }
    ),
    cautions=(
        "Never pump above the cap's rating.",
        GOVERNS,
        SUGGESTS,
        HOT,
        "Hold the pressure at steady temperature: warming hides a leak, and cooling looks like one.",
    ),
)
