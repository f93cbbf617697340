"""HTML from the templates in ``shoplib/desk/templates``: whatever is put in is text, unless it is markup already.

``render("entry", "detail", …)`` renders the macro ``detail`` of ``entry.html``.  The lines of a template are joined
without their indentation; a space that must stay is written as ``{{ " " }}``.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from shoplib.core.evidence import count
from shoplib.core.outcome_labels import outcome_label
from shoplib.desk import TEMPLATES
from shoplib.desk.widgets.display_text import SIGNS, as_words, local, plain, with_sign
from shoplib.record.history import findings

if TYPE_CHECKING:
    from jinja2 import Environment


def render(template: str, macro: str, *values: Any, **named: Any) -> str:
    """A macro of a template with these values, as HTML."""
    return str(getattr(_macros(template), macro)(*values, **named))


@functools.cache
def _macros(template: str) -> Any:
    return _environment().get_template(f"{template}.html").module


def are_records(value: Any) -> bool:
    """Whether the value is a list of records: a table."""
    return isinstance(value, list) and bool(value) and all(isinstance(r, Mapping) for r in value)


def keys_of(records: Any) -> list[str]:
    """The columns of a list of records, in order."""
    return list(dict.fromkeys(str(k) for record in records for k in record))


@functools.cache
def _environment() -> Environment:
    from jinja2 import Environment, FunctionLoader, StrictUndefined

    made = Environment(loader=FunctionLoader(_joined), autoescape=True, undefined=StrictUndefined, auto_reload=False)
    made.globals |= {"local": local, "as_words": as_words, "plain": plain, "SIGNS": SIGNS, "findings": findings,
                     "keys_of": keys_of, "count": count, "outcome_label": outcome_label,
                     "with_sign": with_sign}  # fmt: skip
    made.tests |= {"records": are_records, "listing": lambda value: isinstance(value, list | tuple)}
    return made


def _joined(name: str) -> str:
    source = (TEMPLATES / name).read_text(encoding="utf-8")
    return "".join(line.strip() for line in source.splitlines())
