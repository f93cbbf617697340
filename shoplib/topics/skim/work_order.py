"""The working ``work_order``: what is the machine shop asked to do and to measure, and what was returned."""

from __future__ import annotations

from dataclasses import replace

from shoplib.core.checks import Outcome
from shoplib.core.errors import BadInput
from shoplib.core.fields import choice, date, integer, table, words
from shoplib.core.inputs import Inputs
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.topics.cautions import CAM_BORE, MISSING
from shoplib.topics.flatness.measurement import MEASUREMENT, NOT_MEASURED, STATES

_BACK = {"what": "work", "low_source": "source", "high_source": "source", "state_source": "source"}


COLUMNS = (
    words("work", "Work or measurement", example='"Skim the face, just enough to clean it up"'),
    words("where", "Where", example='"whole face"'),
    words("low", "Lowest allowed", required=False, example='"135.50 mm"'),
    words("high", "Highest allowed", required=False, example='"0.05 mm"'),
    words("value", "Result as read", required=False, example='"135.57 mm"', help="leave empty until it is returned"),
    choice("state", "State", STATES, required=False, example="good", help="when there is no number"),
    words(
        "source",
        "Source of the limits",
        required=False,
        help="document, edition, page; without a source the result cannot be a pass",
    ),
    words("instrument", "Instrument", required=False),
)


def as_measurement(row: dict[str, str | None]) -> dict[str, str]:
    """The row as inputs of the working ``measurement``; a result that is not there yet is not measured."""
    given = {k: v for k, v in row.items() if v is not None and k not in ("work", "source")}
    given["what"] = str(row["work"])
    if row["source"] is not None:
        given |= {name: str(row["source"]) for name in ("low_source", "high_source", "state_source")}
    if row["value"] is None and row["state"] is None:
        given["state"] = NOT_MEASURED
    return given


def allowed(row: dict[str, str | None]) -> str:
    """The limits of a row in words, as typed."""
    low, high = row["low"], row["high"]
    if low and high:
        return f"{low} to {high}"
    if low or high:
        return f"at least {low}" if low else f"at most {high}"
    return "good or bad, by the source" if row["source"] else "no limit given"


def run(inputs: WorkOrderInputs, worksheet: Worksheet) -> None:
    """Each row is judged as a measurement; what is outstanding stays undecided."""
    still_out = []
    for k, row in enumerate(inputs.items, 1):
        try:
            judged = MEASUREMENT(as_measurement(row))
        except BadInput as error:
            for p in error.problems:
                worksheet.refuse(f"items[{k}].{_BACK.get(p.field, p.field)}", p.why, p.example)
            continue
        if row["value"] is None and row["state"] is None:
            still_out.append(f"{row['work']}, {row['where']}")
            worksheet.checks.append(
                replace(judged.checks[0], remark="outstanding")
            )  # once, also where it has two limits
        else:
            worksheet.checks += judged.checks
    worksheet.raise_refusals()
    worksheet.result("still_out", still_out, None, "Outstanding")
    worksheet.result("came_back", str(len(inputs.items) - len(still_out)), None, "Returned")
    worksheet.result("asked", str(len(inputs.items)), None, "Ordered")
    if any(c.outcome is Outcome.FAIL for c in worksheet.checks):
        worksheet.caution("An item has failed. Settle it with the shop, in writing, before you fit the head.")


class WorkOrderInputs(Inputs):
    """Inputs of ``work_order``."""

    part = words("part", "What is sent", example='"Cylinder head, stamped with the job number"', group="Order")
    shop = words("shop", "To", required=False, example='"the machine shop"', group="Order")
    wanted_by = date("wanted_by", "Wanted by", required=False, group="Order")
    height_points = integer(
        "height_points",
        "Number of points for the head height",
        required=False,
        at_least=4,
        at_most=12,
        example="6",
        help="printed as blanks, before and after the cut",
        group="Order",
    )
    items = table(
        "items",
        COLUMNS,
        "Items",
        csv=True,
        group="Items",
        help="one row per item; leave the results empty until they are returned",
        example='[{"work": "Crack test", "where": "between the valve seats", "source": "manual, page 9"}]',
    )


WORK_ORDER = Working(
    name="work_order",
    title="Work order to the machine shop",
    question="what is the machine shop asked to do and to measure, and what was returned",
    phase="skim",
    inputs=WorkOrderInputs,
    run=run,
    cautions=(
        GOVERNS,
        CAM_BORE,
        "Before you pay for the cut, have the head checked for cracks and, after overheating, for hardness.",
        MISSING,
    ),
)
