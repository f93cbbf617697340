"""Which characters may stand in text: all that people can see, and the ends of lines.  Everything else is hidden."""

from __future__ import annotations

import unicodedata

_KEEP = {"\n", "\t"}
_HIDDEN = set("\u200b\u200c\u200d\u2028\u2029\u202a\u202b\u202c\u202d\u202e\u2060\u2066\u2067\u2068\u2069\ufeff\u00ad")


def is_hidden(c: str) -> bool:
    """Whether a character is a control, bidi or invisible one, half of a surrogate pair, or none at all.

    :param c: one character
    """
    return c in _HIDDEN or (c not in _KEEP and unicodedata.category(c) in ("Cc", "Cs", "Co", "Cn"))


def first_hidden(text: str) -> str:
    """The first hidden character of a text, or "".

    :param text: any text
    """
    if text.isprintable():  # quick for long texts
        return ""
    return next((c for c in text if is_hidden(c)), "")


def visible(text: str) -> str:
    """The text for a message: a middle dot in place of each hidden character.

    :param text: any text
    """
    return "".join("·" if is_hidden(c) else c for c in text) if first_hidden(text) else text
