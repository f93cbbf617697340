"""The working ``gasket_grade``: which gasket grade do these piston projections require (diesel)."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from shoplib.core import rounding
from shoplib.core.checks import Outcome
from shoplib.core.fields import choice, listing, quantity, table, words
from shoplib.core.inputs import Inputs, half_digit_in_si
from shoplib.core.units import mm, show
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import skim
from shoplib.topics.skim.skim_inputs import MM

# ------------------------------------------------------------------------------ gasket grade
RULES = {
    "mean_then_max": "highest piston average",
    "max": "highest single reading",
    "mean_of_all": "average of all readings",
}


_SAYS = {
    "one": "",
    "boundary": "lies on a boundary that is printed for both grades",
    "near": "lies so close to a boundary that the uncertainty reaches across it",
    "overlap": "lies in two grades that overlap in the table",
    "gap": "lies in a gap between two grades",
    "below": "is below every grade of the table",
    "above": "is above every grade of the table",
}


def read_grades(inputs: GasketGradeInputs, worksheet: Worksheet) -> list[skim.Grade]:
    """The table of grades; each bad row is named."""
    grades: list[skim.Grade] = []
    for k, row in enumerate(inputs.grades, 1):
        low, high = row["low"], row["high"]
        if low is None and high is None:
            worksheet.refuse(
                f"grades[{k}].low", "is missing, and so is the other end: type one end at least", '"0.60 mm"'
            )
            continue
        if low is not None and high is not None and low > high:
            worksheet.refuse(f"grades[{k}].low", "is above the other end of the grade", '"0.60 mm"')
        if row["name"] in [g.name for g in grades]:
            worksheet.refuse(f"grades[{k}].name", f"{row['name'][:40]} is listed twice")
        grades.append(skim.Grade(row["name"], low, high))
    return grades


MOST_ROCK = 0.1e-3  # m between the two readings of a piston; common practice, no source


def rocking(names: Sequence[str], read: Sequence[Sequence[float]], grades: Sequence[skim.Grade]) -> list[str]:
    """Pistons whose readings are further apart than a grade is wide, or than a piston tilts: a slip, or it rocks."""
    widths = [g.high - g.low for g in grades if g.low is not None and g.high is not None and g.high > g.low]
    most = min([MOST_ROCK, *widths])
    return [
        f"piston {name}: its readings are {show(max(kept) - min(kept), MM, 2)} apart, more than {show(most, MM, 2)}: "
        "make sure that the piston does not tilt, and measure again"
        for name, kept in zip(names, read, strict=True)
        if rounding.below(most, max(kept) - min(kept), max(map(abs, kept)))
    ]


def coarsest(inputs: GasketGradeInputs) -> float:
    """The largest error of a projection from the digits of its readings."""
    cells = [row["readings"] for row in inputs.typed_rows("projections")]
    typed = [str(x) for cell in cells for x in (cell.split(";") if isinstance(cell, str) else cell)]
    return max(half_digit_in_si(x, MM) for x in typed if re.search(r"\d", x))


def run(inputs: GasketGradeInputs, worksheet: Worksheet) -> None:
    """Averages, the governing projection, and the grade or grades that it requires."""
    grades = read_grades(inputs, worksheet)
    worksheet.raise_refusals()
    names = [row["piston"] or str(k) for k, row in enumerate(inputs.projections, 1)]
    read = [[x for x in row["readings"] if x is not None] for row in inputs.projections]
    doubts = []
    for k, (name, row, kept) in enumerate(zip(names, inputs.projections, read, strict=True), 1):
        if not kept:
            worksheet.refuse(
                f"projections[{k}].readings", f"piston {name} has no reading; missing is not zero", '"0.62 mm; 0.66 mm"'
            )
        elif len(kept) < len(row["readings"]):
            doubts.append(f"piston {name}: a reading is missing")
        elif len(kept) == 1 and inputs.rule != "max":
            doubts.append(f"piston {name}: only one reading, so the tilt is not averaged out")
    worksheet.raise_refusals()
    means = [
        worksheet.step(f"Piston {name}", skim.mean_of_two, P_1=kept[0], P_2=kept[1])
        if len(kept) == 2
        else float(np.mean(kept))
        for name, kept in zip(names, read, strict=True)
    ]
    everything = [x for kept in read for x in kept]
    by_rule = {"mean_then_max": max(means), "max": max(everything), "mean_of_all": float(np.mean(everything))}
    governing = by_rule[inputs.rule]
    u = inputs.uncertainty if inputs.given("uncertainty") else coarsest(inputs)
    doubts += rocking(names, read, grades)
    each = [max(kept) for kept in read] if inputs.rule == "max" else means
    highest = [n for n, x in zip(names, each, strict=True) if rounding.at_most(governing, x)]
    called, case = skim.grades_at(governing, grades, u)
    fits = case not in ("below", "above")
    names_called = " or ".join(g.name for g in called)
    worksheet.result("grade", names_called if fits else f"none (nearest: {names_called})", None, "Gasket grade")
    warning = None
    if case != "one":
        warning = f"{worksheet.shown(governing, MM)} {_SAYS[case]}: {names_called}. Check what the source says there."
    worksheet.result("boundary_warning", warning or False, None, "Close to a grade boundary")
    worksheet.result("governing", governing, mm, "Governing projection", 4)
    worksheet.result("averages", means, mm, "Average per piston", 3)
    if inputs.rule != "mean_of_all":
        worksheet.result("highest_piston", ", ".join(highest), None, "Highest piston")
    if not inputs.typed("rule") and len({str(skim.grades_at(x, grades, u)) for x in by_rule.values()}) > 1:
        doubts.append(f"depends on “{worksheet.working.field('rule').label}”, which was not typed")  # type: ignore[union-attr] # declared below
    if not inputs.given("uncertainty") and case == "near":
        doubts.append(f"the digits of the readings allow ±{show(u, MM, 2)}")
    source = inputs.grades_source
    if not fits:
        outcome, remark = Outcome.FAIL, warning or ""
    elif case != "one" or doubts:
        outcome, remark = Outcome.UNDECIDED, "; ".join([*([warning] if warning else []), *doubts])
    elif not source:
        outcome, remark = Outcome.NO_LIMIT, "one grade fits, but the source of the table is missing"
    else:
        outcome, remark = Outcome.PASS, ""
    found = names_called if fits else "no grade"
    worksheet.judge(
        f"Grade for {worksheet.shown(governing, MM)}", found, "one grade fits", None, None, source, outcome, remark
    )
    for doubt in doubts:
        worksheet.caution(f"{doubt[0].upper()}{doubt[1:]}.")
    worksheet.plot_data.update(
        names=names, read=read, means=means, governing=governing, grades=grades, called=called, rule=inputs.rule
    )


READING = quantity("reading", mm, "Reading", may_be_missing=True, example='"0.62 mm"')


GRADE_COLUMNS = (
    words("name", "Grade", example='"2"'),
    quantity("low", mm, "From", required=False, example='"0.60 mm"'),
    quantity("high", mm, "To", required=False, example='"0.70 mm"'),
)


PROJECTION_COLUMNS = (
    words("piston", "Piston", required=False, example='"1"'),
    listing(
        "readings", READING, "Readings", example='"0.62 mm; 0.66 mm"', help="two, one above each end of the gudgeon pin"
    ),
)


class GasketGradeInputs(Inputs):
    """Inputs of ``gasket_grade``."""

    projections = table(
        "projections", PROJECTION_COLUMNS, "Projections, piston by piston", csv=True,
        help="the readings of a piston in one cell, separated by a semicolon; negative if below the deck",
        example='[["0.62 mm", "0.66 mm"], ["0.70 mm", "0.72 mm"]]', group="Pistons",
    )  # fmt: skip
    grades = table("grades", GRADE_COLUMNS, "Grades of the source's table", csv=True,
                   help="both ends as printed; leave an end empty if it is not printed",
                   example='[{"name": "1", "low": "0.55 mm", "high": "0.65 mm"}]', group="Grades")  # fmt: skip
    rule = choice("rule", "Rule", RULES, default="mean_then_max",
                  help="as the source says", group="Grades")  # fmt: skip
    uncertainty = quantity(
        "uncertainty", mm, "Uncertainty of the projection", symbol="u", above=0.0, required=False,
        help="plus or minus; if left empty, half a unit in the last digit", example='"0.01 mm"', group="Pistons",
    )  # fmt: skip
    grades_source = words("grades_source", "Source of the grades", required=False,
                          help="document, edition, page; without a source the result cannot be a pass",
                          example='"workshop manual, 3rd edition, page 41"', group="Grades")  # fmt: skip


GASKET_GRADE = Working(
    name="gasket_grade",
    title="Gasket grade",
    question="which gasket grade do these piston projections require (diesel)",
    phase="skim",
    inputs=GasketGradeInputs,
    run=run,
    cautions=(
        GOVERNS,
        "Measure each piston on its crown, above both ends of the gudgeon pin (wrist pin), at top dead centre. "
        "Make sure that the piston does not tilt while you read.",
        "Use one grade for the whole engine, by the rule of your source.",
    ),


)  # fmt: skip
