"""The command that runs one calculation."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

from shoplib.core.plain_text import visible


def _work(options: argparse.Namespace) -> int:
    from shoplib import topics as workings
    from shoplib.core.errors import BadInput

    if options.name is None:
        for working in workings.all_workings().values():
            print(f"{working.name:26} {working.question}")
        return 0
    try:
        working = workings.get(options.name)
    except KeyError as error:
        print(error.args[0], file=sys.stderr)
        return 2
    if options.schema:
        print(json.dumps(working.schema(), indent=2, ensure_ascii=False))
        return 0
    raw, wrong = pairs(options.inputs)
    for notice in workings.renames(options.name, raw):
        print(notice, file=sys.stderr)
    try:
        result = working(raw, folder=Path())
    except BadInput as error:
        wrong += map(str, error.problems)
    if wrong:
        print(f"{working.name}: please correct", *wrong, sep="\n  ", file=sys.stderr)
        return 2
    if options.json:
        print(json.dumps(result.to_json(), ensure_ascii=False, allow_nan=False))
    else:
        print(result.as_text())
    return 0


def pairs(inputs: list[str]) -> tuple[dict[str, str], list[str]]:
    """The name=value pairs, and what is wrong with them."""
    raw: dict[str, str] = {}
    wrong = []
    for item in inputs:
        key, equals, value = item.partition("=")
        if not equals:
            wrong.append(f'"{visible(item[:60])}" does not have the form name=value; type for example torque="40 N*m"')
        elif key in raw:
            wrong.append(f"{visible(key[:60])} is given twice; type it once")
        raw[key.strip()] = value
    return raw, wrong


def add(commands: argparse._SubParsersAction[Any]) -> None:
    """Add the command of this module."""
    work = commands.add_parser("work", help="run one calculation")
    work.add_argument("name", nargs="?", help="name of the calculation; leave it out to list them all")
    work.add_argument(
        "inputs", nargs="*", metavar="name=value", help="an input and its value, for example thread=M10x1.5"
    )
    work.add_argument("--json", action="store_true", help="print the result as JSON")
    work.add_argument("--schema", action="store_true", help="print the JSON Schema of the inputs")
    work.set_defaults(run=_work)
