"""The inputs of a working as JSON Schema."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from shoplib.core.fields import Field
from shoplib.core.typed_text import LONGEST_TEXT


def object_schema(fields: Iterable[Field]) -> dict[str, Any]:
    """JSON Schema of an object with these inputs.

    :param fields: the declared inputs
    """
    fields = tuple(fields)
    return {
        "type": "object",
        "properties": {f.name: field_schema(f) for f in fields},
        "required": [f.name for f in fields if f.required and f.default is None],
        "additionalProperties": False,
    }


def field_schema(field: Field) -> dict[str, Any]:
    """JSON Schema of what may be typed into one input.

    :param field: its declaration
    """
    about = {"title": field.label, "description": field.help or field.label}
    if field.example:
        about["examples"] = [field.example]  # type: ignore[assignment] # a list among strings
    match field.kind:
        case "number" | "integer":
            return {**about, "type": ["string", "number"]}
        case "choice":
            return {**about, "enum": list(field.choices)}
        case "boolean":
            return {**about, "type": ["boolean", "string"]}
        case "list":
            assert field.item is not None
            return {**about, "type": ["string", "array"], "items": field_schema(field.item)}
        case "table":
            return {**about, "type": ["string", "array"], "items": object_schema(field.columns)}
    return {**about, "type": "string"} | ({} if field.kind == "trace" else {"maxLength": LONGEST_TEXT})
