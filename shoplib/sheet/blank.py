"""The same job on paper for the bench: what is known stands printed, what is read and ticked is written by hand."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


def build_blank(record: Mapping[str, Any]) -> dict[str, Any]:
    """What the template sets."""
    raise NotImplementedError
