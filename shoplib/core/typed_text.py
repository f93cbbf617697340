"""One typed text, before it is read as the value of a field."""

from __future__ import annotations

import json
import re
from typing import Any

from shoplib.core.plain_text import first_hidden
from shoplib.core.units import Unreadable, as_text, tidy

LONGEST_TEXT = 4000


def text_or_number(raw: Any) -> Any:
    """What may be read as one value: a text or a number.

    :param raw: as it was typed: a text or a number
    :raises Unreadable: a list, a table, or yes and no
    """
    if isinstance(raw, bool) or not isinstance(raw, str | int | float):
        raise Unreadable("enter one value")
    return raw


def plain_text(raw: Any) -> str:
    """A text as it was typed; a number is a name here, such as the property class 8.8.

    :param raw: as it was typed: a text or a number
    :raises Unreadable: no text, an empty or too long one, or one with hidden characters
    """
    if isinstance(raw, int | float) and not isinstance(raw, bool):
        raw = as_text(raw)  # property_class = 8.8 in a job file is a name, not a measure
    if not isinstance(raw, str):
        raise Unreadable("enter text")
    if len(raw) > LONGEST_TEXT:
        raise Unreadable(f"{len(raw)} characters is too long; at most {LONGEST_TEXT}")
    if hidden := first_hidden(raw):
        raise Unreadable(f"contains an invisible or control character, U+{ord(hidden):04X}; type it again")
    if not raw.strip():
        raise Unreadable("is empty")
    return raw


def json_list(raw: str) -> Any:
    """What a text in JSON holds.

    :param raw: a text in JSON
    :raises Unreadable: too long, or no JSON
    """
    if len(raw) > 5_000_000:
        raise Unreadable("is too long")
    try:
        return json.loads(raw)
    except (ValueError, RecursionError):
        raise Unreadable("is not a list; separate the items with semicolons") from None


def unit_typed(typed: object) -> str:
    """The unit behind a single typed value: "mm" of "5e-2 mm".

    :param typed: as it was typed
    """
    return re.sub(r"^[\d.,/ +\-]+([eE][+\-]?\d+)?\s*", "", tidy(typed))


_UNIT = re.compile(  # after a number: a unit that print writes with signs which a keyboard lacks
    r"(?<=\d) ?(deg[CF]?|(?:[kM]?N|kgf|kp|lbf?|ft|in)\*(?:[cm]?m|ft|in|lbf?)"
    r"|(?:(?:[kM]?N|kgf?|lbf?|g)/)?(?:[cdm]?m|ft|in)(?:\*\*)?[23])(?![A-Za-z0-9*/])"
)
SIGNS = {"degC": "°C", "degF": "°F", "deg": "°", "**": "", "*": "·", "2": "²", "3": "³"}  # typed, and as printed


def with_signs(text: str) -> str:
    """A text with its units as print writes them: 88 degC is 88 °C, 104 deg is 104°, 20 N*m is 20 N·m.

    :param text: as it was typed; only what follows a number is taken as a unit
    """
    return _UNIT.sub(_in_print, text)


def _in_print(found: re.Match[str]) -> str:
    unit = found[1]
    for typed, sign in SIGNS.items():
        unit = unit.replace(typed, sign)
    return unit if unit == "°" else f" {unit}"
