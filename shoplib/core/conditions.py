"""Conditions between inputs: what needs what, what cannot be combined, and of which groups one is typed.

A field declares its own by ``needs``, ``excludes``, ``needed_when`` and ``only_when``; the columns of a table do so for
each row.  A class of inputs declares its groups in ``combinations``, by :func:`one_of`.  The working refuses what does
not hold, the form shows it beside the field, and the JSON Schema says the same.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from shoplib.core.errors import Problem
from shoplib.core.fields import Field


@dataclass(frozen=True)
class OneOf:
    """Groups of inputs of which one is typed, whole.  One group alone: all of it, or nothing where not required."""

    groups: tuple[tuple[str, ...], ...]
    required: bool = True
    shared: tuple[str, ...] = ()  # may be typed beside another group


def one_of(*groups: str | Sequence[str], required: bool = True, shared: Sequence[str] = ()) -> OneOf:
    """Exactly one of these groups is typed, or none where ``required`` is false.  A name alone is a group of one.

    :param groups: each the name of an input, or the names of several that belong together
    :param required: False: none of them may be typed
    :param shared: inputs that belong to several groups, and alone choose none of them
    """
    return OneOf(tuple((g,) if isinstance(g, str) else tuple(g) for g in groups), required, tuple(shared))


def problems(
    fields: Iterable[Field], conditions: Iterable[OneOf], typed: Mapping[str, Any], values: Mapping[str, Any]
) -> list[Problem]:
    """What is wrong with the inputs taken together.  ``typed``: None where nothing was; ``values``: with defaults.

    :param fields: the declared inputs
    :param conditions: of which groups one must be typed
    :param typed: each input as it was typed; None where nothing was
    :param values: each input in SI, with defaults
    """
    declared = {f.name: f for f in fields}
    found: list[Problem] = []
    for f in declared.values():
        if _has_conditions(f):
            found += _of_field(f, declared, typed, values)
    for condition in conditions:
        found += _of_groups(condition, declared, typed)
    for f in declared.values():
        if f.kind == "table" and any(map(_has_conditions, f.columns)):
            for k, row in enumerate(values.get(f.name) or (), 1):
                wrong = problems(f.columns, (), row, row)
                found += [replace(p, field=f"{f.name}[{k}].{p.field}") for p in wrong]
    return list({p.field: p for p in reversed(found)}.values())[::-1]  # the first of each field


def _has_conditions(f: Field) -> bool:
    return bool(f.needs or f.excludes or f.needed_when or f.only_when)


def _of_field(
    f: Field, declared: Mapping[str, Field], typed: Mapping[str, Any], values: Mapping[str, Any]
) -> list[Problem]:
    found = []
    if typed.get(f.name) is None:
        if f.needed_when and values.get(f.needed_when[0]) in f.needed_when[1:]:
            other = declared[f.needed_when[0]]
            why = f"is needed where {other.name} is “{other.spoken(values[other.name])}”"
            found.append(Problem(f.name, why, f.to_type))
        return found
    if f.only_when and values.get(f.only_when[0]) not in f.only_when[1:]:
        other = declared[f.only_when[0]]
        words = " or ".join(f"“{other.spoken(word)}”" for word in f.only_when[1:])
        return [Problem(f.name, f"is only for {other.name} {words}; leave it empty")]
    for name in f.needs:
        if typed.get(name) is None:
            found.append(Problem(name, f"is needed together with {f.name}", declared[name].to_type))
    for name in f.excludes:
        if typed.get(name) is not None:
            found.append(Problem(f.name, f"cannot be combined with {name}; give one of the two"))
    return found


def _of_groups(c: OneOf, declared: Mapping[str, Field], typed: Mapping[str, Any]) -> list[Problem]:
    def some(names: Iterable[str]) -> list[str]:
        return [n for n in names if typed.get(n) is not None]

    begun = [g for g in c.groups if some(n for n in g if n not in c.shared)]
    if c.required and not begun:
        begun = [g for g in c.groups if some(g)]
    if not begun:
        if not c.required:
            return []
        (first, *rest), *others = c.groups
        alone = f" with {_and(rest)}" if rest else ""
        instead = f"; or give {', or '.join(map(_and, others))}" if others else ""
        return [Problem(first, f"is needed{alone}{instead}", declared[first].to_type)]
    group, *more = begun
    if more:
        return [
            Problem(n, f"cannot be combined with {_and(some(group))}; give one or the other")
            for g in more
            for n in some(g)
            if n not in c.shared
        ]
    return [
        Problem(n, f"is needed together with {_and(some(group))}", declared[n].to_type) for n in group if not some([n])
    ]


def _and(names: Sequence[str]) -> str:
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))


# ------------------------------------------------------------------------------ as JSON Schema
def as_schema(fields: Iterable[Field], conditions: Iterable[OneOf] = ()) -> dict[str, Any]:
    """The conditions as keywords of JSON Schema; {} where there are none.

    :param fields: the declared inputs
    :param conditions: of which groups one must be typed
    """
    declared = {f.name: f for f in fields}
    needs = {f.name: list(f.needs) for f in declared.values() if f.needs}
    rules: list[dict[str, Any]] = []
    for f in declared.values():
        rules += [_not_both(f.name, other) for other in f.excludes]
        if f.needed_when:
            rules.append({"if": _is(declared[f.needed_when[0]], f.needed_when[1:]), "then": {"required": [f.name]}})
        if f.only_when:
            rules.append({"if": {"required": [f.name]}, "then": _is(declared[f.only_when[0]], f.only_when[1:])})
    for c in conditions:
        if c.required:
            rules.append({"anyOf": [{"required": list(g)} for g in c.groups]})
        for g, other in itertools.combinations(c.groups, 2):
            rules += [_not_both(a, b) for a in g for b in other if a not in c.shared and b not in c.shared]
        for g in c.groups:
            for n in g:
                if n not in c.shared and len(g) > 1:
                    needs[n] = [*needs.get(n, ()), *(x for x in g if x != n)]
    return {**({"dependentRequired": needs} if needs else {}), **({"allOf": rules} if rules else {})}


def _not_both(a: str, b: str) -> dict[str, Any]:
    return {"not": {"required": [a, b]}}


def _is(other: Field, words: Sequence[str]) -> dict[str, Any]:
    """The other input has one of these words; its default counts where it is not typed."""
    rule: dict[str, Any] = {"properties": {other.name: {"enum": list(words)}}}
    return rule if other.default in words else {**rule, "required": [other.name]}
