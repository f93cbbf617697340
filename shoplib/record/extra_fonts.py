"""More fonts for the pages of a sheet: the folder that SHOPLIB_FONTS names, for names in other scripts."""

from __future__ import annotations

import functools
import hashlib
import os
from pathlib import Path

ENVIRONMENT = "SHOPLIB_FONTS"
KINDS = (".ttf", ".otf", ".ttc")
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
def _hash_of(files: tuple[tuple[str, int], ...]) -> str:
    whole = hashlib.sha256()
    for name, _ in files:
        whole.update(hashlib.sha256(Path(name).read_bytes()).digest())
    return whole.hexdigest()[:12] if files else ""
