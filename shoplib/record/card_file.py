"""An engine card as a file of its own, for the next engine of the same kind: JSON, untrusted until it is read.

raw = to_file(entry.inputs)
typed = from_file(raw)      # raises NotAJob, or BadInput naming every bad field
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from shoplib import __version__
from shoplib.core.errors import BadInput
from shoplib.core.reading_limits import JOB_FILE
from shoplib.record import validation
from shoplib.record.errors import NotAJob
from shoplib.topics import get

SCHEMA = "shoplib-engine-card/1"
FORM = "engine_card"


def to_file(typed: Mapping[str, Any]) -> bytes:
    """The card as typed; empty fields are left out.

    :param typed: field of the card to what was typed
    """
    card = {k: v for k, v in typed.items() if v not in (None, "", [])}
    whole = {"schema": SCHEMA, "program": __version__, "card": card}
    return (json.dumps(whole, ensure_ascii=False, indent=1) + "\n").encode("utf-8")


def from_file(raw: bytes) -> dict[str, Any]:
    """What was typed into the card.  Raises NotAJob for another file, BadInput for a bad value.

    :param raw: the bytes of the file
    """
    found = validation.read_json(raw, JOB_FILE)
    if not isinstance(found, Mapping) or found.get("schema") != SCHEMA or not isinstance(found.get("card"), Mapping):
        raise NotAJob("is not an engine card; choose a file that was saved under “Save the card as a file”")
    problems: list[Any] = []
    card = validation.tree(found["card"], "card", problems)
    if problems or not isinstance(card, dict):
        raise BadInput(problems)
    get(FORM)(card)  # every value can be read
    return card
