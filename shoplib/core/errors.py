"""Errors in what was typed: each bad field, what is wrong with it, and what to type."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from shoplib.core.plain_text import visible


# ------------------------------------------------------------------------------ the base of every error
class ShoplibError(Exception):
    """The base of every error of this package.  ``str(error)`` says what is wrong and what to do, in words.

    What it repeats of the input, which may be a file from anybody, has no hidden characters.
    """

    def __str__(self) -> str:
        return visible(super().__str__())


@dataclass(frozen=True)
class Problem:
    """One bad field: what is wrong, and what to type; without hidden characters too."""

    field: str
    why: str
    example: str = ""

    def __post_init__(self) -> None:
        for name in ("field", "why"):
            object.__setattr__(self, name, visible(getattr(self, name)))

    def __str__(self) -> str:
        return f"{self.field}: {self.told}"

    @property
    def told(self) -> str:
        """What is wrong and what to type, without the field; one proposal is enough."""
        proposes = re.search(r"\b[Tt]ype \d", self.why)
        return self.why + (f"; type for example {self.example}" if self.example and not proposes else "")


class BadInput(ShoplibError, ValueError):
    """Every bad field at once."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(map(str, self.problems)))
