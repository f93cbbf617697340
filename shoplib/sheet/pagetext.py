"""Checks that the pages show what the record contains, from their text, for pages of any version.

Only values from the record are searched for; the words around them may change from version to version.
"""

from __future__ import annotations

import bisect
import hashlib
import json
import re
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from shoplib.core.checks import Outcome
from shoplib.core.outcome_labels import outcome_label
from shoplib.core.typed_text import SIGNS
from shoplib.record.jobfile_record import printed_hash
from shoplib.sheet.pdf_signature import is_signature, only_signatures
from shoplib.topics import find

MOST_CONTENT = 30_000_000  # bytes of decoded page content
_INVISIBLE = dict.fromkeys(map(ord, "\u200b\u200c\u200d\u00ad\u2060\ufeff_"))
_NUMBER = re.compile(r"[-−]?\d[\d\u202f]*(?:\.\d+)?(?:×10[⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+)?")
_POWER = str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹−", "-0123456789-")
_SPELLED = re.compile(r"‹\s*U\s*\+\s*([0-9A-F\s]{4,8})›")
PRINTED_DIGITS = 4  # significant digits that a sheet prints at least
LONGEST_LIST = 200  # characters of a list that is printed in full


class Wanted(NamedTuple):
    """One value in a record: a text, a number or an outcome; and its place."""

    where: str
    value: str | float


def texts_of(reader: Any) -> list[str]:
    """The text layer of each page.  Raises ValueError if there is too much text."""
    contents = [p.get_contents() for p in reader.pages]
    if sum(len(c.get_data()) for c in contents if c is not None) > MOST_CONTENT:
        raise ValueError("the pages contain more text than a sheet can")
    return [p.extract_text() for p in reader.pages]


def pages_without_record(texts: Sequence[str], record: bytes) -> list[int]:
    """Numbers of the pages without the hash of this record or without their page number."""
    hashes = (sha256(record), _hash_of_print(record))
    return [
        n
        for n, text in enumerate(texts, 1)
        if not any(h in (bare := _squeezed(text)) for h in hashes) or f"page{n}of{len(texts)}" not in bare
    ]


def _hash_of_print(raw: bytes) -> str:
    """The hash since 0.2.0: without the paper and the extent of the print."""
    try:
        return printed_hash(json.loads(raw))
    except (ValueError, AttributeError, RecursionError):
        return sha256(raw)


def sha256(raw: bytes) -> str:
    """The hash of a record as every page prints it."""
    return hashlib.sha256(raw).hexdigest()


def foreign(reader: Any) -> list[str]:
    """Page content that no sheet has: another program added it."""
    found = []
    catalog = reader.root_object
    active = [k for k in ("/OpenAction", "/AcroForm", "/OCProperties", "/AA") if k in catalog]
    if "/AcroForm" in active and only_signatures(_inner(catalog, "/AcroForm")):
        active.remove("/AcroForm")
    found += [f"{k[1:]} in the document" for k in active]
    for n, page in enumerate(reader.pages, 1):
        if isinstance(page.get("/Contents"), list):
            found.append(f"page {n}: more than one layer of content")
        notes = [a.get_object() for a in page.get("/Annots") or ()]
        found += [f"page {n}: an annotation" for a in notes if a.get("/Subtype") != "/Link" and not is_signature(a)]
        found += [f"page {n}: a font that is not embedded" for f in _fonts(page) if not _embedded(f)]
    return found


def _fonts(page: Any) -> list[Any]:
    fonts: Any = _inner(_inner(page, "/Resources"), "/Font")
    return [fonts[k].get_object() for k in fonts]


def _inner(value: Any, key: str) -> Any:
    return value[key].get_object() if key in value else {}


def _embedded(font: Any) -> bool:
    if font.get("/Subtype") == "/Type3":
        return True
    inner = [f.get_object() for f in font.get("/DescendantFonts") or (font,)]
    files = ("/FontFile", "/FontFile2", "/FontFile3")
    return all(any(k in _inner(f, "/FontDescriptor") for k in files) for f in inner)


def missing(texts: Sequence[str], record: Mapping[str, Any]) -> list[Wanted]:
    """Values in the record that are missing on the pages."""
    whole = "\n".join(texts)
    bare, numbers = _squeezed(whole), _numbers(whole)
    found = [
        w
        for w in wanted(record)
        if not (_says(w.value, bare) if isinstance(w.value, str) else _shows(w.value, numbers))
    ]
    return found + [Wanted("outcome", o) for o, times in _outcomes(record).items()
                    if max(bare.count(_squeezed(o)), bare.count(_squeezed(outcome_label(o)))) < times]  # fmt: skip


def wanted(record: Mapping[str, Any]) -> Iterator[Wanted]:
    """Everything in the record that every version prints on a sheet."""
    if "lines" in record:
        yield from _of_whole_job(record)
        return
    for name, value in record["job"].items():
        yield Wanted(f"job.{name}", str(value))
    for n, entry in enumerate(record["entries"], 1):
        for name in ("title", "who", "when", "remark"):
            if entry.get(name):
                yield Wanted(f"entry {n}, {name}", str(entry[name]))
        yield from _of_inputs(f"entry {n}", entry["inputs"], entry["result"])
        yield from _of_result(f"entry {n}", entry["result"])


def _of_whole_job(record: Mapping[str, Any]) -> Iterator[Wanted]:
    header: dict[str, Any] = {}
    for line in record["lines"]:
        if line["kind"] == "header":
            header |= line["body"].get("fields", {})
    printed = {k: v for k, v in header.items() if isinstance(v, str) and not (record["blank"] and k == "checked_by")}
    yield from (Wanted(f"job.{k}", v) for k, v in printed.items())
    if record["blank"]:
        return
    lines = {line["n"]: line for line in record["lines"]}
    yield Wanted("last hash", str(record["lines"][-1]["digest"]))
    if record.get("extent") == "customer":
        return
    for worked in record["worked"]:
        where, line = f"line {worked['line']}", lines.get(worked["line"], {"body": {}})
        yield Wanted(f"{where}, who", str(line.get("who", "")))
        yield from _of_inputs(where, line["body"].get("inputs") or {}, worked.get("result") or {})
        yield from _of_result(where, worked.get("result") or {})


def _of_inputs(where: str, inputs: Mapping[str, Any], result: Mapping[str, Any]) -> Iterator[Wanted]:
    """What is printed as it was typed.

    Not so a choice, which is printed by its label, nor a table or a trace.
    """
    working = find(result.get("working"))
    for name, typed in inputs.items():
        declared = working.field(name) if working else None
        if declared and (declared.choice_labels or declared.kind == "table"):
            continue
        if isinstance(typed, list):
            texts = [str(x) for x in typed if isinstance(x, str | int | float)]
            typed = "; ".join(texts) if len(texts) == len(typed) else ""
            if len(typed) > LONGEST_LIST:
                continue
        if isinstance(typed, str) and "\n" in typed:  # a trace: the pages show its size, its results and its picture
            continue
        if declared and declared.kind == "list" and isinstance(typed, str) and typed.lstrip().startswith("["):
            continue  # typed as JSON, and printed as a list
        if isinstance(typed, str | int | float) and not isinstance(typed, bool):
            yield Wanted(f"{where}, {name}", str(typed))


def _of_result(where: str, result: Mapping[str, Any]) -> Iterator[Wanted]:
    for name, value in (result.get("results") or {}).items():
        yield from _of_value(f"{where}, {name}", value)
    for check in result.get("checks") or ():
        for part in ("found", "limit"):
            yield from _of_value(f"{where}, {part} of a check", check.get(part))


def _of_value(where: str, value: Any) -> Iterator[Wanted]:
    number = value.get("value") if isinstance(value, Mapping) else None
    if isinstance(number, int | float) and not isinstance(number, bool):
        yield Wanted(where, float(number))


def _outcomes(record: Mapping[str, Any]) -> dict[str, int]:
    """The least number of times that each outcome is on the pages."""
    if record.get("blank") or record.get("extent") == "customer":
        return {}
    results = [e.get("result") or {} for e in record.get("entries", record.get("worked", []))]
    found = [o for r in results for o in _rows_of(r.get("checks") or ())]
    return {str(o): found.count(o) for o in dict.fromkeys(found) if o}


def _rows_of(checks: Sequence[Mapping[str, Any]]) -> list[str]:
    """One outcome per row: two limits of one reading may be one row, with the worse outcome."""
    order = [str(o) for o in Outcome]
    rows: dict[tuple[str, str], str] = {}
    for check in checks:
        row = (str(check.get("label")), str((check.get("found") or {}).get("value")))
        outcomes = [o for o in (rows.get(row), str(check.get("outcome"))) if o in order]
        if outcomes:
            rows[row] = min(outcomes, key=order.index)
    return list(rows.values())


# ------------------------------------------------------------------------------ text against text
def _squeezed(text: str) -> str:
    """Without the spaces and line breaks that the pages add, and with equal letters unified."""
    spelled = _SPELLED.sub(lambda m: chr(min(int("".join(m[1].split()), 16), 0x10FFFF)), text)
    whole = "".join(_unified(spelled).translate(_INVISIBLE).split())
    for typed, printed in SIGNS.items():
        whole = whole.replace(_unified(typed), _unified(printed))
    return whole


def _unified(text: str) -> str:
    return unicodedata.normalize("NFKC", text).casefold()


def _says(value: str, bare: str) -> bool:
    if _squeezed(value) in bare:
        return True
    return all(_squeezed(word) in bare for word in value.split())  # a text that continues on the next page


def _numbers(text: str) -> list[tuple[float, float]]:
    """Every number on the pages, with half its last digit, sorted."""
    found = set()
    for token in _NUMBER.findall(text):
        mantissa, _, power = token.replace("\u202f", "").translate(_POWER).partition("×10")
        scale = 10.0 ** max(-300, min(300, int(power))) if power.lstrip("-").isdigit() else 1.0
        whole, _, decimals = mantissa.lstrip("-").partition(".")
        zeros = len(whole) - len(whole.rstrip("0"))  # 1070 may be rounded to tens, as the readings support
        last = -len(decimals) if decimals else max(zeros, len(whole) - PRINTED_DIGITS)  # 50 790 is rounded to tens
        found.add((float(mantissa) * scale, 0.5 * 10.0**last * scale))
    return sorted(found)


def _shows(value: float, numbers: list[tuple[float, float]]) -> bool:
    """Whether one of the numbers is this value rounded to the digits that are printed."""
    room = max(abs(value) * 0.05, 1e-300)  # a number of two digits is off by no more
    at = bisect.bisect_left(numbers, (value - room, 0.0))
    while at < len(numbers) and numbers[at][0] <= value + room:
        if abs(numbers[at][0] - value) <= numbers[at][1] * 1.001:
            return True
        at += 1
    return False
