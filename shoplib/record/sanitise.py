"""Text sanitising: what a person typed stays text, without invisible characters."""

from __future__ import annotations

import unicodedata
from typing import Any

from shoplib.core.errors import ShoplibError
from shoplib.core.plain_text import first_hidden

LONGEST = 4000


class BadText(ShoplibError, ValueError):
    """Text that cannot go into a record; the message starts with the field."""


def clean(value: str, where: str, longest: int = LONGEST) -> str:
    """The text in composed form; raises BadText for control, bidi and invisible characters.

    :param value: as it was typed
    :param where: the name of the input in messages
    :param longest: characters at most
    """
    if value.isascii() and value.isprintable() and len(value) <= longest:  # nothing below changes or refuses these
        return value
    try:
        value.encode("utf-8")
    except UnicodeEncodeError:
        raise BadText(f"{where}: contains half of a surrogate pair") from None
    value = unicodedata.normalize("NFC", value)
    if len(value) > longest:
        raise BadText(f"{where}: {len(value)} characters is too long; at most {longest}")
    if hidden := first_hidden(value):
        raise BadText(f"{where}: contains an invisible or control character, U+{ord(hidden):04X}; type it again")
    return value


def fold(text: str) -> str:
    """The text for searching: case-folded, in one form.

    :param text: as it was typed
    """
    return unicodedata.normalize("NFKC", text).casefold()


def clean_tree(value: Any, where: str = "sheet", skip: tuple[str, ...] = ("svg",), longest: int = LONGEST) -> Any:
    """Clean every text in a tree of plain data; our own SVG is left as it is.

    :param value: dicts, lists and texts, as JSON holds them
    :param where: the name of the input in messages
    :param skip: keys whose values are left as they are
    :param longest: characters at most
    :raises BadText: a value that is not plain data
    """
    if isinstance(value, str):
        return clean(value, where, longest)
    if isinstance(value, dict):
        return {
            clean(k, where): v if k in skip else clean_tree(v, f"{where}.{k}", skip, longest) for k, v in value.items()
        }
    if isinstance(value, list | tuple):
        return [clean_tree(v, f"{where}[{i}]", skip, longest) for i, v in enumerate(value, 1)]
    if value is None or isinstance(value, bool | int | float):
        return value
    raise BadText(f"{where}: {type(value).__name__} is not plain data")
