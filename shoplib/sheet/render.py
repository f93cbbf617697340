"""Typst at arm's length: a fixed template folder as root, data only through sys_inputs, never evaluated."""

from __future__ import annotations

import functools
import json
import re
import threading
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import typst

from shoplib.record.text import clean_tree

TEMPLATE = Path(__file__).parent / "template"
STANDARDS = ["a-3a", "ua-1"]  # PDF/A or PDF/UA makes a missing glyph an error instead of a blank


class SheetError(RuntimeError):
    """A sheet that cannot be set; the message says which text and why."""


@functools.cache
def _fonts() -> Any:
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=True)


_local = threading.local()


def _compiler(template: str) -> Any:
    """One compiler per thread and template: a shared one is not thread-safe."""
    kept = vars(_local).setdefault("compilers", {})
    if template not in kept:
        kept[template] = typst.Compiler(
            str(TEMPLATE / template), root=str(TEMPLATE), font_paths=_fonts(), ignore_system_fonts=True
        )
    return kept[template]


_CAUSES = (
    (r"too wide|ragged", "is too wide for the page"),
    (
        r"disallowed codepoint|contains the codepoint|could not be displayed|notdef|not be displayed",
        "holds a sign that this sheet's fonts cannot print",
    ),
)


def render(
    sheet: Mapping[str, Any],
    record: bytes,
    *,
    timestamp: int,
    format: str = "pdf",
    ppi: float | None = None,
    template: str = "sheet.typ",
) -> Any:
    """Set the sheet.  PDF bytes with the record attached, or PNG bytes (a list when several pages)."""
    sheet = clean_tree(dict(sheet))
    options: dict[str, Any] = {
        "format": format,
        "timestamp": timestamp,
        "sys_inputs": {
            "sheet": json.dumps(sheet, ensure_ascii=False, allow_nan=False),
            "record": record.decode("utf-8"),
        },
    }
    if format == "pdf":
        options["pdf_standards"] = STANDARDS
    if ppi:
        options["ppi"] = ppi
    try:
        pages, warnings = _compiler(template).compile_with_warnings(**options)
    except typst.TypstError as error:
        first = error.message.splitlines()[0][:300]
        cause = next((words for pattern, words in _CAUSES if re.search(pattern, error.message)), None)
        raise SheetError(
            f"{_where(sheet, first)} {cause} ({first})" if cause else f"the sheet cannot be set: {first}"
        ) from None
    if warnings:
        raise SheetError("the sheet cannot be set: " + "; ".join(w.message for w in warnings)[:300])
    return pages


def _where(sheet: Mapping[str, Any], message: str) -> str:
    """The place in the sheet that holds the sign a message complains of."""
    signs = {chr(int(code, 16)) for code in re.findall(r"U\+([0-9A-Fa-f]{4,6})", message)} | set(
        re.findall(r"['`\"“‘]([^\x00-\x7f])['`\"”’]", message)
    )
    found = [name for name, text in _texts(sheet) if signs & set(text)]
    return ", ".join(found[:3]) or "a text"


def _texts(value: Any, where: str = "") -> list[tuple[str, str]]:
    if isinstance(value, str):
        return [(where, value)]
    if isinstance(value, Mapping):
        here = str(value.get("field") or where)
        return [
            x
            for k, v in value.items()
            if k != "svg"
            for x in _texts(
                v, here if k in ("value", "typed", "text") and value.get("field") else f"{where}.{k}".lstrip(".")
            )
        ]
    if isinstance(value, list):
        return [x for v in value for x in _texts(v, where)]
    return []
