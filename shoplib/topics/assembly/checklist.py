"""A list of checks that a person ticks: what is not listed or has no state is open, never done."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from shoplib.core.checks import Outcome, Value
from shoplib.core.fields import Field, choice, table, words
from shoplib.core.inputs import Inputs
from shoplib.core.worksheet import Worksheet

COMMON = "common practice, no source"
NOT_APPLICABLE = "not applicable"
OTHER = "other"
MOST_ROWS = 100


@dataclass(frozen=True)
class Checklist:
    """What must be looked at, and the words for its state."""

    name: str  # of the table
    label: str
    items: tuple[str, ...]
    good: str
    bad: str
    reading: str  # label of the column with what was read
    example: str  # of a reading

    @property
    def table(self) -> Field:
        """The table: one row per check."""
        return table(
            self.name,
            (
                choice("check", "Check", (*self.items, OTHER), example=self.items[0]),
                choice("state", "State", (self.good, self.bad, NOT_APPLICABLE), required=False, example=self.good),
                words("reading", self.reading, required=False, example=f'"{self.example}"'),
                words("who", "Who", required=False, example='"A. Learner"'),
                words("when", "When", required=False, example='"14:20"'),
                words("note", "Note", required=False, example='"as on page 44 of the manual"'),
            ),
            self.label,
            help="one row per check; an empty state means open",
            example=f'[{{"check": "{self.items[0]}", "state": "{self.good}"}}]',
            csv=True,
            group=self.label,
        )

    def judge(self, inputs: Inputs, worksheet: Worksheet) -> None:
        """Each check of the list: good, bad, not applicable with a reason, or open."""
        rows: Sequence[Mapping[str, Any]] = inputs[self.name]
        self._refuse(rows, worksheet)
        listed = {r["check"] for r in rows}
        for r in rows:
            self._judge_row(r, worksheet)
        for item in self.items:
            if item not in listed:
                worksheet.judge(_cap(item), "not listed", "must be", self.good, None, COMMON, Outcome.UNDECIDED)
        open_ = [r["check"] for r in rows if r["state"] is None] + [x for x in self.items if x not in listed]
        good = sum(r["state"] == self.good for r in rows)
        aside = sum(r["state"] == NOT_APPLICABLE for r in rows)
        told = f"{good} of {len(listed | set(self.items)) - aside} {self.good}"
        told += f"; {aside} not applicable" if aside else ""
        worksheet.result("summary", told, None, "Checks")
        worksheet.result("open_checks", open_, None, "Open checks")
        noted = [_row(r) for r in rows if r["reading"] or r["note"]]
        worksheet.result("noted", noted, None, "Readings and notes")

    def _refuse(self, rows: Sequence[Mapping[str, Any]], worksheet: Worksheet) -> None:
        if len(rows) > MOST_ROWS:
            worksheet.refuse(self.name, f"has {len(rows)} rows; at most {MOST_ROWS}")
        seen: set[str] = set()
        for k, r in enumerate(rows, 1):
            if r["check"] == OTHER and not r["note"]:
                worksheet.refuse(f"{self.name}[{k}].note", "is missing: what was checked", '"exhaust bracket"')
            if r["state"] == NOT_APPLICABLE and not r["note"]:
                worksheet.refuse(
                    f"{self.name}[{k}].note", "is missing: why it is not applicable", '"air-cooled engine"'
                )
            if r["check"] != OTHER and r["check"] in seen:
                worksheet.refuse(f"{self.name}[{k}].check", f"“{r['check']}” is listed twice")
            seen.add(r["check"])
        worksheet.raise_refusals()

    def _judge_row(self, r: Mapping[str, Any], worksheet: Worksheet) -> None:
        label = _cap(r["note"] if r["check"] == OTHER else r["check"])
        match r["state"]:
            case None:
                worksheet.judge(label, "not noted", "must be", self.good, None, COMMON, Outcome.UNDECIDED)
            case self.good:
                worksheet.judge(label, self.good, "must be", self.good, None, COMMON, Outcome.PASS)
            case self.bad:
                worksheet.judge(label, self.bad, "must be", self.good, None, COMMON, Outcome.FAIL, r["note"] or "")


def _cap(text: str) -> str:
    return text[:1].upper() + text[1:]


def _row(r: Mapping[str, Any]) -> dict[str, Value]:
    return {
        "check": Value(r["check"], None, "Check"),
        "reading": Value(r["reading"] or "–", None, "Reading"),
        "note": Value(r["note"] or "–", None, "Note"),
    }
