"""Text on a page: typed text is never markup."""

from __future__ import annotations

import html


def e(value: object) -> str:
    """The value as text in HTML, also safe inside a quoted attribute."""
    return html.escape(str(value))
