"""Where the tables and notebooks lie: at the top of a checkout, inside the package when installed."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).parents[1]


def _folder(name: str) -> Path:
    inside = _PACKAGE / f"_{name}"
    return inside if inside.is_dir() else _PACKAGE.parent / name


DATA = _folder("data")
NOTEBOOKS = _folder("notebooks")
