"""The command line: shoplib open | work | sheet | read | verify."""

from __future__ import annotations

import argparse
import json
import sys

from shoplib import __version__


def _work(options: argparse.Namespace) -> int:
    from shoplib import workings
    from shoplib.working import BadInput

    if options.name is None:
        for working in workings.all_workings().values():
            print(f"{working.name:22} {working.question}")
        return 0
    try:
        working = workings.get(options.name)
    except KeyError as error:
        print(error.args[0], file=sys.stderr)
        return 2
    if options.schema:
        print(json.dumps(working.schema(), indent=2, ensure_ascii=False))
        return 0
    raw: dict[str, str] = {}
    wrong = []
    for item in options.inputs:
        key, equals, value = item.partition("=")
        if not equals:
            wrong.append(f'"{item[:60]}" is not name=value; type for example torque="40 N*m"')
        elif key in raw:
            wrong.append(f"{key[:60]}: is given twice")
        raw[key.strip()] = value
    try:
        result = working(raw)
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


def main(arguments: list[str] | None = None) -> int:
    """Run one command; the exit code is 0 when it did what was asked, 2 on bad input."""
    parser = argparse.ArgumentParser(prog="shoplib", description="Worked calculations for cylinder-head joints.")
    parser.add_argument("--version", action="version", version=f"shoplib {__version__}")
    commands = parser.add_subparsers(dest="command", required=True)
    work = commands.add_parser("work", help="work one calculation")
    work.add_argument("name", nargs="?", help="name of the working; without it they are listed")
    work.add_argument("inputs", nargs="*", metavar="name=value")
    work.add_argument("--json", action="store_true", help="print one JSON object")
    work.add_argument("--schema", action="store_true", help="print the JSON Schema of its inputs")
    work.set_defaults(run=_work)
    options = parser.parse_args(arguments)
    return int(options.run(options))


if __name__ == "__main__":
    raise SystemExit(main())
