"""More fonts for the pages of a sheet: the folder that SHOPLIB_FONTS names, for names in other scripts."""

from __future__ import annotations

import functools
import hashlib
import os
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

ENVIRONMENT = "SHOPLIB_FONTS"
KINDS = (".ttf", ".otf", ".ttc")
MOST_NAMED = 3  # characters in one warning
ADVICE = f"{ENVIRONMENT}=FOLDER adds the fonts of a folder, such as a Noto font of the script"


def folder() -> Path | None:
    """The folder of fonts, or None."""
    named = os.environ.get(ENVIRONMENT, "").strip()
    return Path(named).expanduser() if named else None


def fonts_hash() -> str:
    """Hash of the added fonts, part of the versions that drew a page; "" where there are none."""
    where = folder()
    if where is None or not where.is_dir():
        return ""
    return _hash_of(tuple((str(p), p.stat().st_mtime_ns) for p in sorted(where.rglob("*")) if p.suffix in KINDS))


@functools.lru_cache(maxsize=4)
def typst_fonts(more: str) -> Any:
    """The fonts inside Typst; with the hash of added fonts, also those.

    :param more: as ``fonts_hash`` gives it
    """
    import typst  # only for pages and warnings about them

    where = [str(folder())] if more else []
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=True, font_paths=where)


_NO_GLYPH = re.compile(r'the text `"((?:[^"\\]|\\.)*)"` could not be displayed')


def without_glyph(diagnostic: str) -> list[str]:
    """The characters that no font has.

    :param diagnostic: of a Typst error
    """
    found = "".join(_NO_GLYPH.findall(diagnostic))
    found = re.sub(r"\\u\{([0-9a-fA-F]+)\}", lambda m: chr(int(m[1], 16)), found)
    return sorted({c for c in found if ord(c) > 127})


def as_code(sign: str) -> str:
    """How a sheet prints a character that no font has: ‹U+6280›.

    :param sign: one character
    """
    return f"‹U+{ord(sign):04X}›"


@functools.lru_cache(maxsize=256)
def _unprinted(text: str, more: str) -> tuple[str, ...]:
    import typst

    page = b'#set text(font: "Libertinus Serif")\n#sys.inputs.text'
    try:
        compiler = typst.Compiler(page, font_paths=typst_fonts(more), ignore_system_fonts=True)
        compiler.compile(format="pdf", pdf_standards=["a-2u"], sys_inputs={"text": text})
    except typst.TypstError as error:
        return tuple(without_glyph(error.diagnostic))
    return ()


def warnings_of(texts: Mapping[str, object]) -> list[str]:
    """A sentence for each text with characters that a sheet can only print as codes.

    :param texts: what was typed, by the label of its field
    """
    found = []
    for label, typed in texts.items():
        text = "" if typed is None else str(typed)
        signs = () if text.isascii() else _unprinted(text, fonts_hash())
        if signs:
            codes = ", ".join(f"{c} as {as_code(c)}" for c in signs[:MOST_NAMED]) + (" …" if signs[MOST_NAMED:] else "")
            found.append(f"{label}: no font here has some characters; a sheet prints {codes}. {ADVICE}.")
    return found


@functools.lru_cache(maxsize=4)
def _hash_of(files: tuple[tuple[str, int], ...]) -> str:
    whole = hashlib.sha256()
    for name, _ in files:
        whole.update(hashlib.sha256(Path(name).read_bytes()).digest())
    return whole.hexdigest()[:12] if files else ""
