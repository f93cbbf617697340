"""Compares the record with what its inputs give today.

With the same version every value must be the same.  Between versions the common numbers and outcomes are compared;
the wording may have been improved.  Each result states the version of its calculation: if that was raised since, a
different number or outcome is reported with its reason.  It is no sign that the record was altered, and no proof that
it was not.  For results that do not state it, the version of the program decides.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from shoplib.core.former import Former, present_text
from shoplib.core.rounding import without_zeros
from shoplib.record.job_record import BETWEEN_VERSIONS, same_number
from shoplib.record.jobfile_record import COMPUTED_BY, versions
from shoplib.sheet.verdict import Code, Finding, Part, not_covered, not_verified, verified
from shoplib.topics import find, present_name

RESULTS = ("entries", "worked")  # the lists of a record whose items hold a result each
NAMED_BY_0_1_0 = ("range on the wrench's own plate", "calibration certificate of the wrench", "ISO 6789:2003")
RULES_CHANGED_IN = ("0.2.0",)  # versions in which a check may have another outcome for the same readings


class Difference(NamedTuple):
    """A place where the record and what was recalculated differ."""

    where: str
    there: Any
    here: Any
    judged: bool  # an outcome, or a result in words
    result: int  # the number of the result in which it is; 0: in none


def same_calculation(program: Any) -> bool:
    """Whether this program and these libraries calculated the record; what drew its pages does not matter here."""
    mine = versions()
    return isinstance(program, Mapping) and all(program.get(k) == mine[k] for k in COMPUTED_BY)


def findings_of(record: dict[str, Any], again: dict[str, Any]) -> list[Finding]:
    """What is different, as findings about the record."""
    program = record.get("program")
    again["program"] = program
    if same_calculation(program):
        found = [_changed(d) for d in _differences(record, again)]
        return found or [verified(Part.RECORD, Code.RECALCULATED)]
    rules, raised = rules_between(_version(program)), _raised(record, again)
    take_present_names(record)
    found = [verified(Part.RECORD, Code.OTHER_VERSION, made=say(program), here=say(versions()))]
    found += [not_covered(Part.RECORD, Code.CHECK_UNKNOWN, label=clip(x)) for x in pair_checks(record, again)]
    forget_words(record, again)
    for d in (*_in_words(record, again), *_differences(record, again, BETWEEN_VERSIONS)):
        about = {"where": d.where, "there": clip(d.there), "here": clip(d.here)}
        stated = raised.get(d.result) if d.result else next((x for x in raised.values() if x and x[0] != x[1]), None)
        if stated and stated[0] != stated[1] and (d.result or d.judged):
            then, now = map(str, stated)
            found.append(not_covered(Part.RECORD, Code.CALCULATION_CHANGED, before=then, now=now, **about))
        elif d.judged and rules and not stated:
            found.append(not_covered(Part.RECORD, Code.RULES_CHANGED, version=rules, **about))
        else:
            found.append(_changed(d))
    return found


def _raised(record: Mapping[str, Any], again: Mapping[str, Any]) -> dict[int, tuple[int, int] | None]:
    """The version of the calculation of each result, there and here; None where one of them does not state it.

    A version that was raised and a program that is not newer contradict each other: then they count as equal.
    """
    made, mine = _version(record.get("program")), versions()["shoplib"]
    found: dict[int, tuple[int, int] | None] = {}
    for n, pair in enumerate(zip(_results(record), _results(again), strict=False), 1):
        there, here = (x.get("calculation") for x in pair)
        if type(there) is not int or type(here) is not int:
            found[n] = None
        elif (there < here and older_than(made, mine)) or (there > here and older_than(mine, made)):
            found[n] = there, here
        else:
            found[n] = here, here
    return found


def _changed(d: Difference) -> Finding:
    return not_verified(Part.RECORD, Code.CHANGED, where=d.where, there=clip(d.there), here=clip(d.here))


def rules_between(made: str) -> str:
    """The version in which the rules of judging changed between that version and this one; "" when they did not."""
    then, now = _numbers(made), _numbers(versions()["shoplib"])
    if then is None or now is None:
        return ""
    low, high = sorted((then, now))
    return next((v for v in RULES_CHANGED_IN if low < (_numbers(v) or ()) <= high), "")


def older_than(made: str, version: str) -> bool:
    """Whether that version came before this one."""
    a, b = _numbers(made), _numbers(version)
    return a is not None and b is not None and a < b


def _version(program: Any) -> str:
    return str(program.get("shoplib")) if isinstance(program, Mapping) else ""


def _numbers(version: str) -> tuple[int, ...] | None:
    found = re.fullmatch(r"(\d{1,4})\.(\d{1,4})\.(\d{1,4})", version, re.ASCII)
    return tuple(map(int, found.groups())) if found else None


# ------------------------------------------------------------------------------ what both versions know
def _results(record: Mapping[str, Any]) -> list[dict[str, Any]]:
    return [e.get("result", {}) for e in record.get("entries", record.get("worked", []))]


def take_present_names(record: Mapping[str, Any]) -> None:
    """Workings, inputs and results of a record of an earlier version under the names that they have now."""
    for entry in record.get("entries", ()):
        entry["working"] = present_name(entry.get("working"))
    for result in _results(record):
        working = find(result.get("working"))
        if working is None:
            continue
        result["working"] = working.name
        results = result.get("results")
        if isinstance(results, dict):
            result["results"] = {working.former.results.get(k, k): v for k, v in results.items()}


def pair_checks(record: Mapping[str, Any], again: Mapping[str, Any]) -> list[str]:
    """Leave the checks that both versions make, told by their labels; a version may make more of them or fewer.

    Checks without a partner are paired in their order where both have equally many of them.  Returns the labels of
    the others in ``record``, except of those that are known to be made no longer.
    """
    unknown = []
    for a, b in zip(_results(record), _results(again), strict=False):
        there, here = _checks(a), _checks(b)
        if there is None or here is None:
            continue
        working = find(b.get("working"))
        former = working.former if working else Former()
        labels = [str(c.get("label")) for c in here]
        now = [present_text(str(c.get("label")), former.labels, labels) for c in there]
        left = dict(zip(_keys(labels), here, strict=True))
        partners = [left.pop(key, None) for key in _keys(now)]
        if partners.count(None) == len(left):
            rest = iter(left.values())
            partners = [next(rest) if p is None else p for p in partners]
        unknown += [str(x) for x, p in zip(now, partners, strict=True) if p is None and x is not None]
        a["checks"] = [c for c, p in zip(there, partners, strict=True) if p is not None]
        b["checks"] = [p for p in partners if p is not None]
        for check, partner in zip(a["checks"], b["checks"], strict=True):
            _take_present_words(check, partner, former)
    return unknown


def _checks(result: Mapping[str, Any]) -> list[dict[str, Any]] | None:
    checks = result.get("checks")
    return checks if isinstance(checks, list) and all(isinstance(c, dict) for c in checks) else None


def _keys(labels: Sequence[str | None]) -> list[tuple[str, int]]:
    """Each label without zeros at the end of its numbers, and how often it came before."""
    bare = [without_zeros(x or "") for x in labels]
    return [(x, bare[:n].count(x)) for n, x in enumerate(bare)]


def _take_present_words(check: dict[str, Any], partner: Mapping[str, Any], former: Former) -> None:
    """A source that an earlier version named by itself, and words that it found, as they are now."""
    source, found, before = check.get("limit_source"), check.get("found"), former.found
    if isinstance(source, str):
        check["limit_source"] = present_text(source, former.sources)
    if before is not None and isinstance(found, dict):
        now = partner.get("found")
        if isinstance(now, dict) and isinstance(now.get("value"), str) and found.get("value") in before(now["value"]):
            found["value"] = now["value"]


def forget_words(*records: dict[str, Any]) -> None:
    """Between versions the numbers count; the wording of a caution or label may have been improved."""
    for record in records:
        record.pop("open", None)  # told in words; it follows from the outcomes, which are compared
        for result in _results(record):
            for key in ("version", "calculation", "cautions", "assumptions"):
                result.pop(key, None)
            for read in result.get("inputs", {}).values():
                read.pop("as_entered", None)  # stands in the entry's inputs; 0.1.0 wrote a default here too
            for check in result.get("checks", []):
                for key in ("label", "remark", "comparison"):
                    check.pop(key, None)


def _differences(
    there: Any, here: Any, tolerance: float = 0.0, where: str = "", result: int = 0
) -> Iterator[Difference]:
    """``where``: the place of both values; ``result``: the number of the result in which they are, from 1."""
    if isinstance(there, dict) and isinstance(here, dict):
        for key in sorted({*there} & {*here} if tolerance else {*there, *here}):  # across versions: what both know
            yield from _differences(there.get(key), here.get(key), tolerance, f"{where}.{key}".lstrip("."), result)
    elif isinstance(there, list) and isinstance(here, list) and len(there) == len(here):
        for n, (a, b) in enumerate(zip(there, here, strict=True), 1):
            number = n if where in RESULTS else result
            yield from _differences(a, b, tolerance, f"{where}[{n}]", number)
    elif isinstance(there, float) and isinstance(here, int | float) and (tolerance or _calculated(where)):
        near = math.isclose(there, here, rel_tol=tolerance, abs_tol=1e-300) or (
            _calculated(where) and same_number(there, here)
        )
        other_zero = there == here and not tolerance and math.copysign(1.0, there) != math.copysign(1.0, here)
        if not near or other_zero:
            judged = bool(tolerance) and ".checks[" in where  # since 0.2.0 at the worst corner
            yield Difference(where, there, here, judged, result)
    elif there != here or (isinstance(there, float) and math.copysign(1.0, there) != math.copysign(1.0, here)):
        yield Difference(where, there, here, _is_judged(where, there, here), result)


def _calculated(where: str) -> bool:
    """Whether the number at this place was calculated; what was typed is read alike everywhere."""
    return ".results." in where or ".checks[" in where


def _is_judged(where: str, there: Any, here: Any) -> bool:
    """An outcome, or a word in a table of results: what the rules of judging decide.

    Also a source that nobody typed: 0.1.0 named some by itself.
    """
    if where.rpartition(".")[2] == "outcome" or (where.endswith(".limit_source") and there in NAMED_BY_0_1_0):
        return True
    return ".results." in where and all(x is None or isinstance(x, str | bool) for x in (there, here))


def _in_words(record: Mapping[str, Any], again: Mapping[str, Any]) -> Iterator[Difference]:
    """Results in words that differ, such as what the readings suggest.  They are taken out of both."""
    for n, (a, b) in enumerate(zip(_results(record), _results(again), strict=False), 1):
        there, here = a.get("results") or {}, b.get("results") or {}
        for name in sorted({*there} & {*here}):
            if _is_words(there[name]) and _is_words(here[name]):
                before, now = there.pop(name), here.pop(name)
                if before != now:
                    yield Difference(f"result {n}, {name}", before["value"], now["value"], judged=True, result=n)


def _is_words(result: Any) -> bool:
    if not isinstance(result, Mapping):
        return False
    value = result.get("value")
    table = isinstance(value, list) and bool(value) and isinstance(value[0], dict)
    return result.get("unit") is None and not isinstance(value, int | float) and not table


def say(program: Any) -> str:
    """The versions in words."""
    if not isinstance(program, Mapping):
        return "nothing said"
    return ", ".join(f"{k} {v}"[:60] for k, v in list(program.items())[:8])


def clip(value: Any) -> str:
    """A value, short enough for a line."""
    text = json.dumps(value, ensure_ascii=True)
    return text if len(text) <= 80 else text[:80] + "…"
