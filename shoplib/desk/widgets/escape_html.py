"""Text on a page: typed text is never markup."""

from __future__ import annotations

from markupsafe import escape


def e(value: object) -> str:
    """The value as text in HTML, also safe inside a quoted attribute; escaped as in every template."""
    return str(escape(str(value)))
