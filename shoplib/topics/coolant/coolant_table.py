"""The working ``coolant_table``: how strong is this coolant by the table of its own maker."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from shoplib.core.carried import Show, carried
from shoplib.core.checks import Uncertainty, added
from shoplib.core.fields import choice, judging, number, quantity, sourced_limit, table, words
from shoplib.core.inputs import Inputs
from shoplib.core.units import degC, one, pct_vol, show, unit_of
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import coolant_table, valve_motion
from shoplib.topics.cautions import HOT, POISON
from shoplib.topics.coolant.coolant_inputs import NEVER_MIX

CELSIUS = unit_of(degC)
ITS_OWN, MIXED, UNKNOWN = "only the coolant of this table", "mixed with another", "not known"
DENSITY, INDEX = "relative density (hydrometer)", "refractive index (refractometer)"
NEAR = 1.0  # K, by which a sample may differ from a table of one temperature
COLD, WARM = 233.15, 373.15  # K
_EXAMPLE = (
    '[{"temperature": "20 degC", "strength": "30 %", "value": "1.048", "protects_to": "-16 degC"}, '
    '{"temperature": "20 degC", "strength": "40 %", "value": "1.062", "protects_to": "-25 degC"}, '
    '{"temperature": "20 degC", "strength": "50 %", "value": "1.076", "protects_to": "-37 degC"}]'
)


class CoolantTableInputs(Inputs):
    """Inputs of ``coolant_table``."""

    contents = choice("contents", "In the system", (ITS_OWN, MIXED, UNKNOWN), example=ITS_OWN, group="Coolant")
    instrument = choice("instrument", "Quantity that is read", (DENSITY, INDEX), example=DENSITY, group="Reading")
    reading = number("reading", "Reading", symbol="R", above=0.9, at_most=1.6, example="1.065", group="Reading",
                     help="the number on the scale, never a Brix number")  # fmt: skip
    sample_temperature = quantity("sample_temperature", degC, "Temperature of the sample", symbol="T", at_least=COLD,
                                  at_most=WARM, example='"20 degC"', group="Reading")  # fmt: skip
    rows = table(
        "rows",
        (
            quantity("temperature", degC, "Temperature", at_least=COLD, at_most=WARM, example='"20 degC"'),
            quantity("strength", pct_vol, "Strength", at_least=0.0, at_most=1.0, example='"50 %"'),
            number("value", "Reading there", above=0.9, at_most=1.6, example="1.076"),
            quantity("protects_to", degC, "Protects to", required=False, at_least=180.0, at_most=300.0,
                     example='"-37 degC"'),
        ),
        "Table of this coolant", csv=True, group="Table", example=_EXAMPLE,
        help="what this kind of instrument reads, by temperature and strength",
    )  # fmt: skip
    table_source = words("table_source", "Source of the table", example='"data sheet of the product, page 2"',
                         group="Table", help="product, edition, page")  # fmt: skip
    minimum_strength, minimum_strength_source = sourced_limit(
        "minimum_strength", pct_vol, "Smallest strength", above=0.0, at_most=1.0, example='"40 %"', group="Limits"
    )
    maximum_strength, maximum_strength_source = sourced_limit(
        "maximum_strength", pct_vol, "Largest strength", above=0.0, at_most=1.0, example='"60 %"', group="Limits"
    )
    needed_protection, needed_protection_source = sourced_limit(
        "needed_protection",
        degC,
        "Temperature to protect to",
        at_least=180.0,
        at_most=300.0,
        example='"-25 degC"',
        group="Limits",
    )
    resolution, expanded_uncertainty, coverage_factor, decision_rule, at_limit = judging(one)


@dataclass(frozen=True)
class Column:
    """The rows of one temperature, by rising reading."""

    title: str
    temperature: float
    values: np.ndarray
    strengths: np.ndarray

    def interval(self, reading: float) -> int:
        """The rows between which a reading lies; the first or the last two outside."""
        return int(np.clip(np.searchsorted(self.values, reading) - 1, 0, len(self.values) - 2))

    def strength(self, reading: float, show_step: Show) -> float:
        """Along the straight line between two rows; along the last one outside."""
        k = self.interval(reading)
        return float(
            show_step(self.title, coolant_table.strength_between)(
                R=reading,
                R_1=float(self.values[k]),
                R_2=float(self.values[k + 1]),
                c_1=float(self.strengths[k]),
                c_2=float(self.strengths[k + 1]),
            )
        )

    def doubt(self, reading: float, half_value: float, half_strength: float) -> float:
        """What the digits of the table, and its curvature between two rows, may change."""
        k = self.interval(reading)
        slope = (self.strengths[k + 1] - self.strengths[k]) / (self.values[k + 1] - self.values[k])
        return float(half_value * slope + half_strength + valve_motion.bulge_at(reading, self.values, self.strengths))


MIXTURE = (
    "no table fits a mixture: two glycols differ in density, refractive index and freezing point, so one reading "
    "belongs to many mixtures. Drain, flush and fill with one coolant"
)


def _columns(inputs: CoolantTableInputs, worksheet: Worksheet) -> list[Column]:
    """The table by temperature; refuses one that does not rise."""
    found: list[Column] = []
    for T in sorted({row["temperature"] for row in inputs.rows}):
        rows = sorted((r for r in inputs.rows if r["temperature"] == T), key=lambda r: r["strength"])
        values, strengths = (np.array([row[n] for row in rows], dtype=float) for n in ("value", "strength"))
        at = show(T, CELSIUS, 3)
        if len(rows) < 3:
            worksheet.refuse("rows", f"has too few rows at {at}: at least 3 strengths are needed at each temperature")
        elif not ((np.diff(values) > 0).all() and (np.diff(strengths) > 0).all()):
            worksheet.refuse("rows", f"does not rise at {at}: there one reading would belong to two strengths")
        else:
            found.append(Column(f"Strength at {at}", T, values, strengths))
    return found


def _around(inputs: CoolantTableInputs, worksheet: Worksheet, columns: Sequence[Column]) -> list[Column]:
    """The columns of the temperatures next to that of the sample."""
    T = inputs.sample_temperature
    if len(columns) == 1:
        if abs(columns[0].temperature - T) > NEAR:
            worksheet.refuse("sample_temperature", "is not that of the table (within 1 K): bring the sample to "
                             f"{show(columns[0].temperature, CELSIUS, 3)}, or type the rows of more "
                             "temperatures")  # fmt: skip
        return list(columns)
    if not columns[0].temperature <= T <= columns[-1].temperature:
        worksheet.refuse("sample_temperature", "is outside the temperatures of the table")
        return []
    k = min(int(np.searchsorted([c.temperature for c in columns], T, side="right")) - 1, len(columns) - 2)
    return list(columns[k : k + 2])


def strength_of(inputs: CoolantTableInputs, near: Sequence[Column], show_step: Show) -> float:
    """Strength by one column, or between two."""
    strengths = [column.strength(inputs.reading, show_step) for column in near]
    if len(near) == 1:
        return strengths[0]
    return float(
        show_step("Strength at the temperature of the sample", coolant_table.strength_at_temperature)(
            T=inputs.sample_temperature,
            T_1=near[0].temperature,
            T_2=near[1].temperature,
            c_1=strengths[0],
            c_2=strengths[1],
        )
    )


def run(inputs: CoolantTableInputs, worksheet: Worksheet) -> None:
    """Strength and protection from a reading, its temperature and the table that was typed."""
    if inputs.contents != ITS_OWN:
        worksheet.refuse("contents", MIXTURE if inputs.contents == MIXED else f"is not known: {MIXTURE}", ITS_OWN)
    columns = _columns(inputs, worksheet)
    worksheet.raise_refusals()
    near = _around(inputs, worksheet, columns)
    for column in near:
        if not column.values[0] <= inputs.reading <= column.values[-1]:
            worksheet.refuse("reading", f"is outside the table at {show(column.temperature, CELSIUS, 3)}")
            break
    worksheet.raise_refusals()
    found = strength_of(inputs, near, worksheet.show)
    half = _half_width(inputs, worksheet, near)
    worksheet.result("strength", found, pct_vol, "Strength", 3)
    worksheet.plot_data["near"] = near
    worksheet.result("strength_uncertainty", half.half_width, pct_vol, "Uncertainty of the strength, ±", 2)
    worksheet.assume(f"the table is that of the coolant in the system: {inputs.table_source}")
    if len(near) == 1 and near[0].temperature != inputs.sample_temperature:
        worksheet.assume("the table has one temperature, and the sample is within 1 K of it")
    _judge(inputs, worksheet, found, half)


def _half_width(inputs: CoolantTableInputs, worksheet: Worksheet, near: Sequence[Column]) -> Uncertainty:
    """From the reading, the temperature and the table."""
    halves = {"reading": worksheet.uncertainty("reading").half_width}
    read = carried(
        lambda at, show_step: strength_of(at, near, show_step),
        inputs,
        "reading",
        "sample_temperature",
        halves=halves,
    )
    lines = range(len(inputs.rows))
    digits = [max(inputs.half_digit("rows", k, name) for k in lines) for name in ("value", "strength")]
    return added(read, Uncertainty(max(column.doubt(inputs.reading, *digits) for column in near)))


def _judge(inputs: CoolantTableInputs, worksheet: Worksheet, found: float, half: Uncertainty) -> None:
    """Strength within its limits, and frost protection at the worst strength of the uncertainty."""
    for name, sign, label in (
        ("minimum_strength", "≥", "Strength, smallest"),
        ("maximum_strength", "≤", "Strength, largest"),
    ):
        if inputs.given(name):
            worksheet.check(
                label, found, sign, inputs[name], pct_vol, inputs[f"{name}_source"], uncertainty=half, digits=3
            )
    told = sorted(
        {row["strength"]: row["protects_to"] for row in inputs.rows if row["protects_to"] is not None}.items()
    )
    whole = all(row["protects_to"] is not None for row in inputs.rows)
    protects = None
    if len(told) >= 2 and told[0][0] <= found <= told[-1][0]:
        protects = _protection(told, found)
    worksheet.result("protects_to", protects, degC, "Protects to, by the table", 3, all_digits=True)
    if inputs.given("needed_protection"):
        source = inputs.needed_protection_source
        if protects is None:
            worksheet.check("Frost protection", None, "≤", inputs.needed_protection, degC, source,
                            remark="the table does not say to which temperature this strength protects")  # fmt: skip
            return
        ends = [found - half.half_width, found + half.half_width]
        inside = [c for c, _ in told if ends[0] < c < ends[1]]
        least, most = (f(_protection(told, c) for c in (*ends, *inside, found)) for f in (min, max))
        missing = "" if whole and told[0][0] <= ends[0] and ends[1] <= told[-1][0] else (
            "the table does not say to which temperature every strength protects"
        )  # fmt: skip
        worksheet.check("Frost protection", protects, "≤", inputs.needed_protection, degC, source,
                        uncertainty=Uncertainty(max(most - protects, protects - least)), missing=missing)  # fmt: skip


def _protection(told: Sequence[tuple[float, Any]], strength: float) -> float:
    """Temperature to which a strength protects, between the rows of the table; along its ends outside."""
    strengths, temperatures = zip(*told, strict=True)
    return float(np.interp(strength, strengths, temperatures))


COOLANT_TABLE = Working(
    name="coolant_table",
    title="Strength by the coolant's own table",
    question="how strong is this coolant by the table of its own maker",
    phase="fill",
    inputs=CoolantTableInputs,
    run=run,
    cautions=(GOVERNS, NEVER_MIX, POISON, HOT),
)
