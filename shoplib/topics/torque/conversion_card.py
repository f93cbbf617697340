"""The working ``conversion_card``: what are these values in both units, as a table."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from shoplib.core.checks import Value
from shoplib.core.fields import choice, words
from shoplib.core.inputs import Inputs
from shoplib.core.units import (
    N_m,
    Unit,
    Unreadable,
    bar,
    inch,
    kgf_m,
    kPa,
    lbf_ft,
    lbf_in,
    mm,
    one,
    read,
    uin,
    um,
    unit_of,
)
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics.torque_units import misread_ratio, whole

# ------------------------------------------------------------------------------ cards of unit pairs
ONE_RULE = "Each number is the exact quotient, rounded to the last digit shown (common practice)."


MOST_ROWS = 60


TOLERANCE_OF_ROWS = 1e-6  # rows: typed ends and steps divide only so exactly


MOST_ROUNDING = 0.05  # of the value: a step that rounds more becomes ten times finer (common practice, no source)


@dataclass(frozen=True)
class Column:
    """A unit on a card, and the steps to which it is rounded."""

    unit: Unit
    step: float  # in that unit
    small: float = 0.0  # up to this SI value the step is too coarse
    fine: float | None = None  # and this one is taken; without one the cell stays empty
    trade: bool = False  # the steps of the trade hold; else they become finer until rounding changes little

    def cell(self, value: float, label: str = "") -> Value:
        """The rounded value as it is printed."""
        label = label or self.unit.text
        step = self.step if value > self.small else self.fine
        if step is None:
            return Value("—", None, label)
        number = abs(self.unit.from_si(value))
        while not self.trade and number and step / 2 > MOST_ROUNDING * number:
            step /= 10
        places = max(-round(np.log10(step)), 0)
        printed = f"{whole(self.unit.from_si(value) / step) * step:.{places}f}"
        return Value(self.unit.to_si(float(printed)), self.unit, label, _digits(printed))


def _digits(printed: str) -> int:
    """How many digits a number has when it is written so."""
    return max(len(printed.partition("e")[0].replace(".", "").lstrip("0")), 1)


PSI = Unit("psi", 6894.757293168, "psi")


THOU = Unit("thou", 25.4e-6, "thou")


KINDS: dict[str, tuple[Column, ...]] = {
    # whole lbf·ft and N·m only above 10.5 N·m, as in the printed pair; below that, whole lbf·in and tenths of N·m
    "torque": (
        Column(unit_of(N_m), 1, 10.5, 0.1, trade=True),
        Column(unit_of(lbf_ft), 1, 10.5, trade=True),
        Column(unit_of(lbf_in), 1, trade=True),
        Column(unit_of(kgf_m), 0.01, trade=True),
    ),
    "length": (Column(unit_of(mm), 0.001), Column(unit_of(inch), 0.0001), Column(THOU, 0.1)),
    "roughness": (Column(unit_of(um), 0.01), Column(unit_of(uin), 1)),
    "pressure": (Column(unit_of(bar), 0.01), Column(unit_of(kPa), 1), Column(PSI, 1)),
}


def run(inputs: ConversionCardInputs, worksheet: Worksheet) -> None:
    """The rows of a card: the typed unit first, then the others, and for torque what a misreading would apply."""
    columns = KINDS[inputs.kind]
    ends: dict[str, float] = {}
    units: dict[str, str] = {}
    for name in ("first", "last", "step"):
        try:
            reading = read(inputs[name], columns[0].unit)
            ends[name], units[name] = reading.value, reading.unit
        except Unreadable as error:
            worksheet.refuse(
                name, str(error), {"torque": '"40 N*m"', "length": '"0.05 mm"'}.get(inputs.kind, '"1 bar"')
            )
    worksheet.raise_refusals()
    if len(set(units.values())) > 1:
        worksheet.refuse("step", f"is not in the unit of {worksheet.label('first')} and {worksheet.label('last')}")
    lead = next((c for c in columns if c.unit.name == units["first"] or (c.unit.name, units["first"]) in SAME), None)
    if lead is None:
        carried = ", ".join(c.unit.text for c in columns)
        worksheet.refuse("first", f"is in a unit that this card does not have; it has {carried}")
    if ends["first"] < 0 or (ends["first"] == 0 and inputs.kind == "torque"):
        worksheet.refuse("first", "must be above zero")
    if not ends["last"] > ends["first"]:
        worksheet.refuse("last", f"must be above {worksheet.label('first')}")
    if ends["step"] <= 0:
        worksheet.refuse("step", "must be above zero")
    elif (ends["last"] - ends["first"]) / ends["step"] > MOST_ROWS - 1 + TOLERANCE_OF_ROWS:
        worksheet.refuse("step", f"gives more than {MOST_ROWS} rows; type a larger step")
    worksheet.raise_refusals()
    assert lead is not None
    count = int((ends["last"] - ends["first"]) / ends["step"] + TOLERANCE_OF_ROWS) + 1
    mistaken = unit_of(lbf_ft) if lead.unit.name == "N*m" else unit_of(N_m)
    rows = []
    for k in range(count):
        value = float(f"{ends['first'] + k * ends['step']:.12g}")
        shown = _digits(f"{lead.unit.from_si(value):.6g}")
        row = {"lead": Value(value, lead.unit, lead.unit.text, shown)}
        row |= {c.unit.name: c.cell(value) for c in columns if c is not lead}
        if inputs.kind == "torque":
            applied = lead.unit.from_si(value) * mistaken.si
            row["misread"] = replace(lead, fine=0.1).cell(applied, f"set in {mistaken.text} by mistake")
        rows.append(row)
    worksheet.result("rows", rows, None, f"Card of {inputs.kind}", all_digits=True)
    worksheet.assume(ONE_RULE[0].lower() + ONE_RULE[1:-1])
    if inputs.kind == "torque":
        ratio = worksheet.step("The wrong unit", misread_ratio, M_read=mistaken.si, M_meant=lead.unit.si)
        worksheet.result("misread_ratio", ratio, one, f"{lead.unit.text} read as {mistaken.text}: factor")
        worksheet.caution(
            f"Read the unit twice: {lead.unit.text} read as {mistaken.text} gives {ratio:.3g} times as much torque."
        )
    worksheet.plot_data.update(
        range=f"{_bare(lead, ends['first'])} to {_bare(lead, rows[-1]['lead'].value)} {lead.unit.text}, every "
        f"{_bare(lead, ends['step'])} {lead.unit.text}"
    )


SAME = {("lbf*ft", "foot * pound_force"), ("in", "inch"), ("um", "micrometer"), ("uin", "microinch")}


def _bare(lead: Column, value: float) -> str:
    return f"{lead.unit.from_si(value):.6g}"


class ConversionCardInputs(Inputs):
    """Inputs of ``conversion_card``."""

    kind = choice("kind", "Quantity", tuple(KINDS), default="torque", group="Card")
    first = words(
        "first",
        "From",
        example='"20 N*m"',
        help=("the unit that you type here is in the first column"),
        group="Card",
    )
    last = words("last", "To", example='"120 N*m"', group="Card")
    step = words("step", "In steps of", example='"5 N*m"', group="Card")


CONVERSION_CARD = Working(
    name="conversion_card",
    title="Card of unit pairs, to print",
    question="what are these values in both units, as a table",
    phase="wrench",
    inputs=ConversionCardInputs,
    run=run,
    cautions=(
        GOVERNS,
        "Keep a limit in the unit of its source. Use the card for reading across only.",
    ),
)
