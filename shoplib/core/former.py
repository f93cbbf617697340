"""What earlier versions called the parts of a result: so a text can be reworded, and old records stay comparable."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field

Texts = Mapping[str, tuple[str, ...]]  # a text of an earlier version → what stands in its place now; (): nothing


@dataclass(frozen=True)
class Former:
    """Names and texts of earlier versions, with what stands in their place now.

    In a text, ``{}`` stands for any words, such as the name of a line.  Of several texts of now, the one that the
    result has is taken.
    """

    results: Mapping[str, str] = field(default_factory=dict)  # names
    labels: Texts = field(default_factory=dict)  # of checks
    sources: Texts = field(default_factory=dict)  # that a check named by itself
    found: Callable[[str], Collection[str]] | None = None  # words that a check finds now → what they were before


def present_text(said: str, texts: Texts, here: Collection[str] = ()) -> str | None:
    """What stands now for a text of an earlier version: one of ``here``, if possible.  None if it is no longer there.

    :param said: the text of the earlier version
    :param texts: of that version, with what stands in their place now
    :param here: the texts of the present result

    >>> labels = {"Line {}, gap at least": ("Line “{}”, smallest possible gap",), "Clamp": ("Clamp load",), "Tools": ()}
    >>> present_text("Line left, gap at least", labels)
    'Line “left”, smallest possible gap'
    >>> present_text("Tools", labels) is None, present_text("Height", labels)
    (True, 'Height')
    """
    if said in here:
        return said
    for before, now in texts.items():
        words = re.fullmatch("(.+)".join(map(re.escape, before.split("{}"))), said)
        if words is not None:
            filled = [text.format(*words.groups()) for text in now]
            return next((text for text in filled if text in here), filled[0] if filled else None)
    return said
