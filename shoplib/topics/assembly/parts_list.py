"""The working ``parts_list``: which parts were fitted, with their numbers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from shoplib.core.checks import Outcome
from shoplib.core.fields import choice, integer, table, words
from shoplib.core.inputs import Inputs
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.topics.assembly.checklist import COMMON

NEW, REUSED = "new", "re-used"
MOST_PARTS = 100
NUMBERS = (("part_number", "part number"), ("batch", "batch number"))


def run(inputs: PartsListInputs, worksheet: Worksheet) -> None:
    """Count the parts; a new part without its numbers leaves the list open, and so does re-use without a reason."""
    if len(inputs.parts) > MOST_PARTS:
        worksheet.refuse("parts", f"has {len(inputs.parts)} rows; at most {MOST_PARTS}")
        worksheet.raise_refusals()
    new = [r for r in inputs.parts if r["use"] == NEW]
    worksheet.result("summary", f"{len(new)} new of {len(inputs.parts)}", None, "Parts")
    for row in inputs.parts:
        _judge(row, worksheet)


def _judge(row: Mapping[str, Any], worksheet: Worksheet) -> None:
    part = row["part"][:60]
    if row["use"] is None:
        worksheet.judge(f"{part}: new or re-used", "not noted", "must be", "noted", None, COMMON, Outcome.UNDECIDED)
    elif row["use"] == REUSED:
        found, outcome = ("noted", Outcome.PASS) if row["note"] else ("not noted", Outcome.UNDECIDED)
        worksheet.judge(f"{part}: reason for re-use", found, "must be", "noted", None, COMMON, outcome)
    else:
        for name, words_ in NUMBERS:
            found, outcome = (row[name][:60], Outcome.PASS) if row[name] else ("not noted", Outcome.UNDECIDED)
            worksheet.judge(f"{part}: {words_}", found, "must be", "noted", None, COMMON, outcome)


class PartsListInputs(Inputs):
    """Inputs of ``parts_list``."""

    parts = table(
        "parts",
        (
            words("part", "Part", example='"head gasket"'),
            words(
                "part_number",
                "Part number",
                required=False,
                example='"HG-3-110"',
                help="as on the packet; if there is none: not marked",
            ),
            words(
                "batch",
                "Batch number",
                required=False,
                example='"2611-07"',
                help="as on the packet; if there is none: not marked",
            ),
            integer("quantity", "Quantity", required=False, at_least=1, example="1"),
            choice("use", "New or re-used", (NEW, REUSED), required=False, example=NEW),
            words("note", "Grade, place, or reason for re-use", required=False, example='"grade 2, three holes"'),
        ),
        "Parts",
        help="gasket, bolts, sealant, filters, fluids: one row per part",
        example='[{"part": "head gasket", "part_number": "HG-3-110", "batch": "2611-07", "use": "new"}]',
        csv=True,
        group="Parts",
    )


PARTS_LIST = Working(
    name="parts_list",
    title="Parts fitted",
    question="which gasket, bolts and sealant were fitted, with part and batch numbers",
    phase="assemble",
    inputs=PartsListInputs,
    run=run,
    cautions=(
        GOVERNS,
        "Compare each new part with the old one before you fit it: thread, pitch, length, holes.",
        "Scrap single-use bolts once they are loosened.",
        "Keep the packets until the repair is proved. The numbers decide a claim later.",
    ),
)
