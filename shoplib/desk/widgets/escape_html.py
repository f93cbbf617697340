"""Words on a page: what somebody typed is text there, never markup."""

from __future__ import annotations

import html


def e(value: object) -> str:
    """The value as text in HTML, also inside a quoted attribute."""
    return html.escape(str(value))
