"""The working ``strip_log``: is it safe to strip, what was drained and found, and which bolt is loosened next."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from shoplib.core.checks import Outcome, Value
from shoplib.core.fields import choice, integer, quantity, table, words
from shoplib.core.former import Former
from shoplib.core.units import L, unit_of
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.topics.cautions import ASBESTOS, ISOLATE, LIFT, LOCKED
from shoplib.topics.fasteners.tightening_order import (
    NOT_MAKERS,
    POSITIONS,
    TIGHTENING_ORDER,
    TighteningOrderInputs,
    one_by_one,
    order_within,
    typed_order,
)

_L = unit_of(L)


COMMON = "common practice, no source"


DONE, NOT_DONE, NOT_APPLICABLE = "done", "not done", "not applicable"


BATTERY, COLD, PRESSURE = "battery isolated", "engine cold", "pressure released"


DRAINED, LOCK, DRIVE, PART = "liquid drained", "lock in", "drive off", "part off"


BOLTS, LIFTED, GASKET, FIND, OTHER = "head bolts loosened", "head lifted", "gasket kept", "find", "other"


STEPS = {x: x for x in (BATTERY, COLD, PRESSURE, DRAINED, LOCK, DRIVE, PART, BOLTS, LIFTED, GASKET, FIND, OTHER)} | {
    LOCK: "timing lock fitted",
    DRIVE: "timing drive removed",
    PART: "part removed",
    FIND: "finding",
}  # what is stored, and what people read


# What safety asks for, and the work that it must stand before.  Common practice, no source.
SAFETY: Mapping[str, tuple[str, ...]] = {
    BATTERY: (DRAINED, LOCK, DRIVE, PART, BOLTS, LIFTED),
    COLD: (DRAINED, BOLTS, LIFTED),
    PRESSURE: (DRAINED, PART, BOLTS, LIFTED),
    LOCK: (DRIVE, LIFTED),
}


NOT_MEASURED = "not measured"


MOST_PASSES = 4


MOST_STEPS = 200


def run(inputs: StripLogInputs, worksheet: Worksheet) -> None:
    """Log the steps; name what is open, what safety asks for, what was drained, and the next bolt to loosen."""
    _refuse_bad_steps(inputs, worksheet)
    order = _loosening(inputs, worksheet)
    passes = _passes(inputs, order, worksheet)
    worksheet.raise_refusals()
    rows = inputs.steps
    steps = [r for r in rows if r["step"] != FIND]
    open_ = [_as_stored(k, r) for k, r in enumerate(rows, 1) if r["step"] != FIND and r["state"] in (None, NOT_DONE)]
    done = sum(r["state"] == DONE for r in steps)
    worksheet.result("summary", f"{done} of {len(steps)} done", None, "Steps")
    worked = {r["step"] for r in rows if r["state"] == DONE} | ({BOLTS} if _any_tick(passes) else set())
    for need in SAFETY:
        _judge_safety(need, worked, inputs, worksheet)
    _judge_rest(rows, worksheet)
    _judge_passes(inputs, order, passes, worksheet)
    worksheet.result("open_steps", open_, None, "Open steps")
    warnings = _warnings(rows) + _out_of_order(order, passes)
    if worksheet.values["next_bolt"].value not in (None, "none") and BOLTS in {
        r["step"] for r in rows if r["state"] == DONE
    }:
        warnings.append(
            ("the log says head bolts loosened, but some passes are open", worksheet.values["next_bolt"].value)
        )
    worksheet.result("warnings", [_row(("what", "Stop and look", a), ("where", "Where", b)) for a, b in warnings], None,
                     "Warnings")  # fmt: skip
    worksheet.result("drained", _drained(rows), None, "Drained, for the coolant balance")
    finds = [_row(("row", "Row", str(k)), ("what", "Found", r["what"] or "–"), ("note", "Note", r["note"] or "–"))
             for k, r in enumerate(rows, 1) if r["step"] == FIND]  # fmt: skip
    worksheet.result("finds", finds, None, "Findings")
    label = "Loosening order" if order else "Maker's loosening order (none typed)"
    worksheet.result("loosening_order", order or None, None, label)
    worksheet.plot_data.update(order=order, passes=passes)


def _as_stored(k: int, row: Mapping[str, Any]) -> str:
    what = f" ({row['what']})" if row["what"] else ""
    return f"{row['step']}{what}, row {k}"  # the stored word: old records hold it in their results


def _label(k: int, row: Mapping[str, Any]) -> str:
    told = _as_stored(k, row)
    return _cap(STEPS[row["step"]] + told.removeprefix(row["step"]))


def _row(*cells: tuple[str, str, str]) -> dict[str, Value]:
    return {name: Value(value, None, label) for name, label, value in cells}


def _refuse_bad_steps(inputs: StripLogInputs, worksheet: Worksheet) -> None:
    if len(inputs.steps) > MOST_STEPS:
        worksheet.refuse("steps", f"has {len(inputs.steps)} rows; at most {MOST_STEPS}")
    for k, r in enumerate(inputs.steps, 1):
        at = f"steps[{k}]"
        if r["state"] == NOT_APPLICABLE and r["step"] == COLD:
            worksheet.refuse(f"{at}.state", f"“{COLD}” applies to every engine", NOT_DONE)
        if r["step"] == FIND and not (r["what"] or r["note"]):
            worksheet.refuse(f"{at}.what", "is missing: what was found", '"gasket burnt between 2 and 3"')
        if r["step"] == OTHER and not (r["what"] or r["note"]):
            worksheet.refuse(f"{at}.what", "is missing: which step", '"rocker shaft off"')


# ------------------------------------------------------------------------------ loosening
def _loosening(inputs: StripLogInputs, worksheet: Worksheet) -> list[str]:
    """The loosening order by the rule of tightening_order; from names alone where no map was typed."""
    if inputs.given("positions"):
        inner = order_within(inputs, worksheet)
        if inner is None:
            return []
        points = {r["name"].strip(): (r["x"], r["y"]) for r in inputs.positions}
        whose = "the maker's, reversed" if inputs.given("order") else f"reversed, {NOT_MAKERS}"
        worksheet.plot_data.update(points=points, whose="as typed" if inputs.given("loosening") else whose)
        return list(inner.values["loosening_order"].value)
    found: list[str] = []
    for field in ("order", "loosening"):
        if inputs.given(field):
            found = typed_order(field, inputs[field], list(dict.fromkeys(one_by_one(inputs[field]))), worksheet)
            found = found[::-1] if field == "order" else found
    if inputs.given("order") and not inputs.given("loosening"):
        worksheet.assume("loosening order: the reverse of the tightening order; an order from the maker takes priority")
    return found


def _passes(inputs: StripLogInputs, order: Sequence[str], worksheet: Worksheet) -> dict[str, list[str | None]]:
    """The ticks of each bolt, pass by pass."""
    ticks: dict[str, list[str | None]] = {}
    for k, r in enumerate(inputs.passes or (), 1):
        name = r["bolt"].strip()
        if name in ticks:
            worksheet.refuse(f"passes[{k}].bolt", f"bolt {name[:40]} is listed twice")
        if order and name not in order:
            worksheet.refuse(f"passes[{k}].bolt", f"bolt {name[:40]} is not in the loosening order")
        ticks[name] = [r[f"pass_{n}"] for n in range(1, MOST_PASSES + 1)]
    if inputs.given("passes") and not order:
        worksheet.refuse(
            "passes",
            "can only be used with an order: type the places of the bolts, or the maker's order",
            '[{"bolt": "1", "pass_1": "done"}]',
        )
    return ticks


def _judge_passes(
    inputs: StripLogInputs, order: Sequence[str], passes: Mapping[str, Sequence[str | None]], worksheet: Worksheet
) -> None:
    """Every bolt at every pass; the first that is open is the next."""
    asked = inputs.pass_count
    typed = max((n for t in passes.values() for n, x in enumerate(t, 1) if x is not None), default=0)
    open_ = [
        (n, bolt)
        for n in range(1, (asked or typed) + 1)
        for bolt in order
        if passes.get(bolt, [None] * MOST_PASSES)[n - 1] != DONE
    ]
    ticked = order and (asked or typed)
    worksheet.result("next_bolt", f"bolt {open_[0][1]}, pass {open_[0][0]}" if open_ and ticked else "none" if ticked
                     else None, None, "Loosen next")  # fmt: skip
    if not ticked:
        return
    for n in dict.fromkeys(n for n, _ in open_):
        names = ", ".join(b for m, b in open_ if m == n)
        worksheet.judge(f"Loosened, pass {n}: {names}", "open", "must be", DONE, None, inputs.order_source or COMMON,
                        Outcome.UNDECIDED)  # fmt: skip
    if not open_ and asked:
        worksheet.judge(
            f"Loosened in {asked} passes", DONE, "must be", DONE, None, inputs.order_source or COMMON, Outcome.PASS
        )
    elif not open_:
        worksheet.judge(f"Loosened in {typed} passes", DONE, "must be", None, None, None, Outcome.NO_LIMIT,
                        "the number of passes that the source asks for was not typed")  # fmt: skip


def _any_tick(passes: Mapping[str, Sequence[str | None]]) -> bool:
    return any(DONE in ticks for ticks in passes.values())


def _out_of_order(order: Sequence[str], passes: Mapping[str, Sequence[str | None]]) -> list[tuple[str, str]]:
    found = []
    for n in range(MOST_PASSES):
        done = [passes.get(b, [None] * MOST_PASSES)[n] == DONE for b in order]
        last = max((k for k, x in enumerate(done) if x), default=0)
        skipped = [b for b, x in zip(order[:last], done, strict=False) if not x]
        if skipped:
            found.append((f"pass {n + 1} continued with bolt {order[last]} and left out", ", ".join(skipped)))
    return found


# ------------------------------------------------------------------------------ judging the steps
def _judge_safety(need: str, worked: set[str], inputs: StripLogInputs, worksheet: Worksheet) -> None:
    """Each row of a safety step; a step that is not in the log is open too."""
    rows = [(k, r) for k, r in enumerate(inputs.steps, 1) if r["step"] == need]
    after = [work for work in SAFETY[need] if work in worked]
    late = f"stop: done without it: {', '.join(after)}" if after else ""
    if not rows:
        worksheet.judge(
            f"{_cap(STEPS[need])}, not in the log", "not noted", "must be", DONE, None, COMMON, Outcome.UNDECIDED, late
        )
    for k, r in rows:
        label = _label(k, r)
        match r["state"]:
            case "not done":
                worksheet.judge(
                    label, NOT_DONE, "must be", DONE, None, COMMON, Outcome.FAIL, late or "before anything else"
                )
            case None:
                worksheet.judge(label, "not noted", "must be", DONE, None, COMMON, Outcome.UNDECIDED, late)
            case "done" if need == LOCK:
                _judge_lock(label, inputs, worksheet)
            case "done":
                worksheet.judge(label, DONE, "must be", DONE, None, COMMON, Outcome.PASS)


def _judge_lock(label: str, inputs: StripLogInputs, worksheet: Worksheet) -> None:
    """The lock counts when position, tools and the source of the rule are written down."""
    missing = [t for f, t in (("lock_position", "position"), ("lock_tools", "tools")) if not inputs.given(f)]
    if missing:
        outcome, why = Outcome.UNDECIDED, f"not written down: {' and '.join(missing)}"
    elif not inputs.given("lock_position_source"):
        outcome, why = Outcome.NO_LIMIT, "no source shows that this is the engine's own lock"
    else:
        outcome, why = Outcome.PASS, ""
    worksheet.judge(label, DONE, "must be", DONE, None, inputs.lock_position_source, outcome, why)


def _judge_rest(rows: Sequence[Mapping[str, Any]], worksheet: Worksheet) -> None:
    """A state that is not noted leaves the log open; so does a drain that nobody measured."""
    for k, r in enumerate(rows, 1):
        if r["step"] in SAFETY or r["step"] == FIND:
            continue
        if r["state"] is None:
            worksheet.judge(_label(k, r), "not noted", "must be", "done or not", None, COMMON, Outcome.UNDECIDED)
        elif r["step"] == DRAINED and r["state"] == DONE and not isinstance(r["amount"], float):
            worksheet.judge(f"{_label(k, r)}: how much", NOT_MEASURED, "must be", "measured", None, COMMON,
                            Outcome.UNDECIDED, "without it, the amount left inside is unknown")  # fmt: skip


def _cap(text: str) -> str:
    return text[:1].upper() + text[1:]


def _warnings(rows: Sequence[Mapping[str, Any]]) -> list[tuple[str, str]]:
    """Rows in an unlikely order, and a gasket or a head that needs a second look."""
    found = []
    for need, work in SAFETY.items():
        stands = [k for k, r in enumerate(rows, 1) if r["step"] == need and r["state"] == DONE]
        before = [
            k for k, r in enumerate(rows, 1) if r["step"] in work and r["state"] == DONE and stands and k < stands[0]
        ]
        if before:
            found.append((f"work is listed before “{need}”: was it really done in that order?", _rows(before)))
    loosened = next((k for k, r in enumerate(rows, 1) if r["step"] == BOLTS and r["state"] == DONE), None)
    lifted = next((k for k, r in enumerate(rows, 1) if r["step"] == LIFTED and r["state"] == DONE), None)
    if lifted and not (loosened and loosened < lifted):
        found.append(("head lifted before its bolts are logged as loosened", _rows([lifted])))
    if lifted and not any(r["step"] == GASKET and r["state"] == DONE for r in rows):
        found.append(("keep the old gasket: it shows where it failed", _rows([lifted])))
    return found


def _rows(numbers: Iterable[int]) -> str:
    return "row " + ", ".join(map(str, numbers))


def _drained(rows: Sequence[Mapping[str, Any]]) -> list[dict[str, Value]]:
    """Litres of each liquid; a drain that was not measured makes the total a lower bound, never zero."""
    totals: dict[str, tuple[str, list[Any]]] = {}
    for r in rows:
        if r["step"] == DRAINED and r["state"] == DONE and r["liquid"]:
            name = " ".join(r["liquid"].split())
            totals.setdefault(name.casefold(), (name, []))[1].append(r["amount"])
    found = []
    for name, amounts in totals.values():
        known = [a for a in amounts if isinstance(a, float)]
        missing = len(amounts) - len(known)
        told = f"at least: {missing} of {len(amounts)} not measured" if known else NOT_MEASURED
        found.append(
            {
                "liquid": Value(name, None, "Liquid"),
                "amount": Value(math.fsum(known) if known else None, _L, "Amount"),
                "complete": Value(told if missing else "all measured", None, "State"),
            }
        )
    return found


class StripLogInputs(TighteningOrderInputs):
    """Inputs of ``strip_log``."""

    lock_position = words(
        "lock_position", "The engine's own lock position", required=False, group="Lock rule",
        example='"flywheel pin in, cylinder 1 at 60° before top dead centre"', help="not always top dead centre",
    )  # fmt: skip
    lock_tools = words("lock_tools", "Locking tools", required=False, group="Lock rule",
                       example='"flywheel pin, bar across the camshaft"')  # fmt: skip
    lock_position_source = words(
        "lock_position_source", "Source of the lock rule", required=False, group="Lock rule",
        example='"workshop manual, 3rd edition, page 22"', help="document, edition, page",
    )  # fmt: skip
    steps = table(
        "steps",
        (
            choice("step", "Step", STEPS, example=BATTERY),
            words("what", "What", required=False, example='"cover, intake and exhaust manifolds"'),
            choice("state", "State", (DONE, NOT_DONE, NOT_APPLICABLE), required=False, example=DONE),
            quantity(
                "amount",
                L,
                "Amount",
                required=False,
                at_least=0.0,
                states=(NOT_MEASURED,),
                example='"6.4 L"',
                needs=("liquid",),
                only_when=("step", DRAINED),
            ),
            words("liquid", "Liquid", required=False, example='"coolant"', only_when=("step", DRAINED)),
            words("who", "Who", required=False, example='"A. Learner"'),
            words("when", "When", required=False, example='"09:40"'),
            words(
                "note",
                "Note, or reading as read",
                required=False,
                example='"12.6 V before"',
                needed_when=("state", NOT_APPLICABLE),
            ),
        ),
        "Steps",
        help="in the order done; add a row for each finding; an empty state means open, not done",
        example='[{"step": "battery isolated", "state": "done"}]',
        csv=True,
        group="Steps",
    )
    positions = replace(POSITIONS, required=False, group="Loosening")
    order, order_source, loosening = (
        replace(f, group="Loosening")
        for f in TIGHTENING_ORDER.fields
        if f.name in ("order", "order_source", "loosening")
    )
    pass_count = integer(
        "pass_count", "Passes that the source asks for", required=False, at_least=1, at_most=MOST_PASSES,
        example="3", group="Loosening",
    )  # fmt: skip
    passes = table(
        "passes",
        (
            words("bolt", "Bolt", example='"1"'),
            *(
                choice(f"pass_{n}", f"Pass {n}", (DONE, NOT_DONE), required=False, example=DONE)
                for n in range(1, MOST_PASSES + 1)
            ),
        ),
        "Passes done, bolt by bolt",
        required=False,
        help="tick each pass when it is done; empty means open",
        example='[{"bolt": "1", "pass_1": "done"}]',
        csv=True,
        group="Loosening",
    )


STRIP_LOG = Working(
    name="strip_log",
    title="Strip-down log",
    question="is it safe to strip, what was drained and found, and which bolt is loosened next",
    phase="strip",
    inputs=StripLogInputs,
    run=run,
    cautions=(
        GOVERNS,
        ISOLATE,
        LOCKED,
        LIFT,
        ASBESTOS,
    ),
    former=Former(labels={"Lock in, {}": ("Timing lock fitted, {}",)}),
)  # fmt: skip
