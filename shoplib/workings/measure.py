"""A measurement of anything against the limits that the user names."""

from __future__ import annotations

from typing import Any

from shoplib.checks import Outcome
from shoplib.units import Unreadable, read_any
from shoplib.working import GOVERNS, Inputs, Working, Worksheet, choice, words

NOT_MEASURED, NOT_APPLICABLE, UNREADABLE = "not measured", "not applicable", "unreadable"
STATES = ("good", "bad", "doubtful", NOT_MEASURED, NOT_APPLICABLE, UNREADABLE)


def _quantities(i: Inputs, w: Worksheet) -> dict[str, tuple[float, str]]:
    """Value and limits in SI with their base units; all of one dimension."""
    found: dict[str, tuple[float, str]] = {}
    for name in ("value", "low", "high"):
        if i.given(name):
            try:
                x, unit, _ = read_any(getattr(i, name))
                found[name] = (x, unit)
            except Unreadable as error:
                w.refuse(name, str(error), '"0.04 mm"')
    units = {unit for _, unit in found.values()}
    if len(units) > 1:
        odd = next(n for n in ("high", "low", "value") if n in found and found[n][1] != found.get("value", ("", ""))[1])
        w.refuse(odd, "is not the same kind of quantity as the value", '"0.05 mm"')
    elif "low" in found and "high" in found and found["low"][0] > found["high"][0]:
        w.refuse("low", "is above high")
    return found


def run(i: Inputs, w: Worksheet) -> None:
    """Judge a value or a state; missing is never taken for zero."""
    if not i.given("value") and not i.given("state"):
        w.refuse("value", 'or state is needed; a reading that is missing is state "not measured"', '"0.04 mm"')
    if i.given("value") and i.given("state") and i.state not in ("good", "bad", "doubtful"):
        w.refuse("state", f'"{i.state}" does not go with a value', "doubtful")
    found = _quantities(i, w)
    w.door()
    label = f"{i.what}, {i.where}"
    w.result("found", i.value if i.given("value") else i.state, None, "Found")
    missing = {NOT_MEASURED: "not measured", UNREADABLE: "cannot be read: stop, it is not zero"}
    if i.state in missing:
        for sign, bound, source in (("≥", i.low, i.low_source), ("≤", i.high, i.high_source)):
            if bound is not None:
                w.judge(label, i.state, sign, bound, None, source, Outcome.UNDECIDED, missing[i.state])
        if not (i.given("low") or i.given("high")):
            w.judge(label, i.state, "measured", None, None, None, Outcome.UNDECIDED, missing[i.state])
        return
    if i.state == NOT_APPLICABLE:
        return
    if not i.given("value"):
        word = {"good": Outcome.PASS, "bad": Outcome.FAIL, "doubtful": Outcome.UNDECIDED}[i.state]
        source = i.state_source
        if word is Outcome.PASS and not source:
            word = Outcome.NO_LIMIT
        remark = "" if source else "nothing says what is good: type state_source" if word is Outcome.NO_LIMIT else ""
        w.judge(label, i.state, "state", None, None, source, word, remark)
        return
    _against_limits(i, w, label, found)


def _against_limits(i: Inputs, w: Worksheet, label: str, found: dict[str, tuple[float, str]]) -> None:
    value = found["value"][0]
    ends: list[tuple[str, Any, bool]] = [
        (name, getattr(i, f"{name}_source"), value >= found[name][0] - abs(found[name][0]) * 1e-12 if name == "low"
         else value <= found[name][0] + abs(found[name][0]) * 1e-12)
        for name in ("low", "high") if name in found
    ]  # fmt: skip
    if not ends:
        w.judge(label, i.value, "≤", None, None, None, Outcome.NO_LIMIT, "no limit was given")
    for name, source, holds in ends:
        remark = ""
        if not holds:
            outcome = Outcome.FAIL
            remark = "" if source else "source missing"
        elif i.state == "doubtful":
            outcome, remark = Outcome.UNDECIDED, "the reading is doubtful: measure again"
        elif not source:
            outcome, remark = Outcome.NO_LIMIT, "within the limit, but its source is missing"
        else:
            outcome = Outcome.PASS
        w.judge(label, i.value, "≥" if name == "low" else "≤", getattr(i, name), None, source, outcome, remark)
    if i.state == "bad":
        w.judge(f"{label}: seen", "bad", "state", None, None, i.state_source, Outcome.FAIL, "judged bad on sight")


WORKINGS = [
    Working(
        name="measurement",
        title="Measurement",
        question="is this reading within the limits that the source gives",
        phase="measure",
        fields=(
            words("what", "What was measured", example='"cam bore straightness"', group="Reading"),
            words("where", "Where", example='"bearing 2 to 4"', help="map reference", group="Reading"),
            words(
                "value",
                "Value as read",
                required=False,
                example='"0.04 mm"',
                help="with its unit, as it stood on the instrument",
                group="Reading",
            ),
            choice(
                "state",
                "State",
                STATES,
                required=False,
                example="not measured",
                help="when there is no number, or the number is doubtful",
                group="Reading",
            ),
            words("state_source", "What says that this state is good or bad", required=False, group="Reading"),
            words("low", "Lowest allowed", required=False, example='"0.02 mm"', group="Limits"),
            words("low_source", "Source of the lowest", required=False, help="document, edition, page", group="Limits"),
            words("high", "Highest allowed", required=False, example='"0.05 mm"', group="Limits"),
            words(
                "high_source", "Source of the highest", required=False, help="document, edition, page", group="Limits"
            ),
            words(
                "instrument",
                "Instrument",
                required=False,
                help="its number, resolution, calibration due",
                group="Reading",
            ),
        ),
        run=run,
        cautions=(GOVERNS, "A missing or unreadable value means stop, not zero."),
    )
]
