"""Isolated use of Typst: the root is a folder with the templates alone, and data is never evaluated."""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import re
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import typst

from shoplib.core import progress
from shoplib.core.errors import ShoplibError
from shoplib.record import extra_fonts
from shoplib.record.sanitise import LONGEST, BadText, clean_tree
from shoplib.sheet.attachments import PAGES
from shoplib.sheet.row_headers import mark_row_headers

TEMPLATE = Path(__file__).parent / "template"
LONGEST_PRINTED = 4 * LONGEST  # characters; the printed text joins several texts
PAGES_SCHEMA = "shoplib-pages/1"
LONGEST_HASH = 400  # characters of the attachment about the pages; ours has 205 and the count of the pages
MOST_CODES = 12  # told at the end of a sheet
STANDARDS = ["a-3a", "ua-1"]  # PDF/A or PDF/UA makes a missing glyph an error instead of a blank


class SheetError(ShoplibError, RuntimeError):
    """A sheet that cannot be typeset; the message says which text and why."""


_CAUSES = (
    (r"too wide|ragged", "is too wide for the page"),
    (
        r"disallowed codepoint|contains the codepoint|could not be displayed|notdef|not be displayed",
        f"contains a character that this sheet's fonts cannot print; {extra_fonts.ADVICE}",
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
    files: Mapping[str, bytes] | None = None,
    any_sign: bool = False,
    with_hash: bool = False,
    hash_expected: bytes = b"",
) -> Any:
    """Typeset the sheet.  PDF bytes with the record attached, or PNG bytes (a list when several pages).

    ``files``: pictures that the template reads, under our own names.  ``any_sign``: a character that the fonts lack is
    printed as its code, for records that can no longer be changed.  ``with_hash``: the hash of the pages is attached
    to the PDF beside the record.  ``hash_expected``: the attachment that a sheet already has.  The bytes do not depend
    on it; only where it is not the hash of these pages are they typeset a second time.
    """
    progress.step(0.9, 1, "done; typesetting the pages")  # one step that cannot be stopped
    try:
        sheet = clean_tree(dict(sheet), longest=LONGEST_PRINTED)
    except BadText as error:
        raise SheetError(f"the sheet cannot be typeset: {error}") from None
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
        with _folder(files or {}) as folder:
            about = folder / PAGES  # a file: as another input it would make Typst lay out every page a second time
            about.write_bytes(_only_ours(hash_expected))
            compiler = _compiler(folder, template)
            pages, warnings = compiler.compile_with_warnings(**options)
            if with_hash and format == "pdf" and not warnings:  # the pages are known only after typesetting
                attached = pages_attachment(pages, record)
                if attached != about.read_bytes():
                    about.write_bytes(attached)
                    pages, warnings = compiler.compile_with_warnings(**options)
    except typst.TypstError as error:
        signs = _unprintable(error) if any_sign else {}
        if signs:
            return render(
                _with_codes_told(_spelled(sheet, signs), signs),
                record,
                timestamp=timestamp,
                format=format,
                ppi=ppi,
                template=template,
                files=files,
                with_hash=with_hash,
                hash_expected=hash_expected,
            )
        first = error.message.splitlines()[0][:300]
        cause = next((words for pattern, words in _CAUSES if re.search(pattern, error.message)), None)
        raise SheetError(
            f"{_where(sheet, first)} {cause} ({first})" if cause else f"the sheet cannot be typeset: {first}"
        ) from None
    if warnings:
        raise SheetError("the sheet cannot be typeset: " + "; ".join(w.message for w in warnings)[:300])
    return mark_row_headers(pages) if format == "pdf" else pages


def _only_ours(attached: bytes) -> bytes:
    return attached if attached.isascii() and len(attached) <= LONGEST_HASH else b""


def pages_attachment(pdf: bytes, record: bytes) -> bytes:
    """The attachment about a sheet's pages: their hash, and the hash of the record to which they belong."""
    import pypdf

    from shoplib.sheet.pagehash import page_hash

    reader = pypdf.PdfReader(io.BytesIO(pdf))
    about = {
        "schema": PAGES_SCHEMA,
        "record": hashlib.sha256(record).hexdigest(),
        "count": len(reader.pages),
        "pages": page_hash(reader),
    }
    return json.dumps(about, sort_keys=True, separators=(",", ":")).encode("ascii")


@contextlib.contextmanager
def _folder(files: Mapping[str, bytes]) -> Iterator[Path]:
    """The templates and the files that they read, alone in a folder: Typst reads inside one folder only."""
    with tempfile.TemporaryDirectory(prefix="shoplib-sheet-") as name:
        folder = Path(name)
        for source in TEMPLATE.glob("*.typ"):
            shutil.copy(source, folder)
        for file, content in files.items():
            (folder / file).write_bytes(content)
        yield folder


def _compiler(folder: Path, template: str) -> Any:
    fonts = extra_fonts.typst_fonts(extra_fonts.fonts_hash())
    return typst.Compiler(str(folder / template), root=str(folder), font_paths=fonts, ignore_system_fonts=True)


def _unprintable(error: typst.TypstError) -> dict[str, str]:
    """Every character that the fonts lack, and how it is printed."""
    return {c: extra_fonts.as_code(c) for c in extra_fonts.without_glyph(error.diagnostic)}


def _with_codes_told(sheet: dict[str, Any], signs: Mapping[str, str]) -> dict[str, Any]:
    """The sheet says which characters it prints as codes, beside the remarks about its record."""
    codes = " ".join(list(signs.values())[:MOST_CODES]) + (" …" if len(signs) > MOST_CODES else "")
    said = (
        f"Printed as codes, because the fonts of this sheet lack the characters: {codes}. The attached record has them "
        f"as typed. {extra_fonts.ADVICE}."
    )
    return sheet | {"remarks": [*sheet.get("remarks", ()), said]}


def _spelled(value: Any, signs: Mapping[str, str]) -> Any:
    if isinstance(value, str):
        return value.translate({ord(c): code for c, code in signs.items()})
    if isinstance(value, Mapping):
        return {k: v if k == "svg" else _spelled(v, signs) for k, v in value.items()}
    return [_spelled(v, signs) for v in value] if isinstance(value, list | tuple) else value


def _where(sheet: Mapping[str, Any], message: str) -> str:
    """The place in the sheet of the character in an error message."""
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
