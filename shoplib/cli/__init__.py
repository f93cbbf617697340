"""The command line: shoplib open | work | sheet | print | class | read | verify | jobs | export | import."""

from __future__ import annotations

import argparse
import importlib
import os
import sys
from typing import NoReturn

from shoplib import __version__
from shoplib.core import progress
from shoplib.core.plain_text import visible

MODULES = {  # the first word of each command, by the module that adds it, in the order of the help
    "opening": ("open",),
    "jobs": ("jobs", "export", "import", "store"),
    "sheets": ("sheet", "print", "read", "verify"),
    "signing": ("sign",),
    "calculate": ("work",),
    "auditing": ("audit",),
    "exercise_sets": ("class",),
    "classes": ("class",),
}
FIRST_STEPS = (
    "Start with: shoplib open. It opens the notebooks.\n"
    "The options of one command: shoplib COMMAND --help.\n"
    "A sheet is written to the folder sheets, and an exported job to the folder jobs, in the folder that you are in."
)


class _Parser(argparse.ArgumentParser):
    """Its messages repeat what was typed; a control character in it does not reach the terminal."""

    def error(self, message: str) -> NoReturn:
        super().error(visible(message))


def _parser(first: str) -> _Parser:
    """What each command reads.

    Only the modules of the command with that first word are imported; all of them where no command has it.
    """
    parser = _Parser(prog="shoplib", description="Worked calculations for cylinder-head joints.",
                     epilog=FIRST_STEPS, formatter_class=argparse.RawDescriptionHelpFormatter)  # fmt: skip
    parser.add_argument("--version", action="version", version=f"shoplib {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for module in [m for m, words in MODULES.items() if first in words] or MODULES:
        importlib.import_module(f"{__name__}.{module}").add(commands)
    return parser


def main(arguments: list[str] | None = None) -> int:
    """Run one command; the exit code is 0 on success, 2 on bad input."""
    arguments = sys.argv[1:] if arguments is None else arguments
    if arguments[:1] == ["class"]:
        from shoplib.cli.classes import merged

        arguments = merged(arguments)
    parser = _parser(arguments[0].partition(" ")[0] if arguments else "")
    if not arguments:
        parser.print_help(sys.stderr)
        return 2
    options, more = parser.parse_known_args(arguments)
    if more and options.command in ("work", "print") and not any(x.startswith("-") for x in more):
        options.inputs += more  # argparse stops collecting inputs at an option; --json may be anywhere
    elif more:
        parser.error(f"unrecognised argument: {' '.join(more)}")
    try:
        with progress.on_terminal(sys.stderr):
            code = int(options.run(options))
        sys.stdout.flush()
    except KeyboardInterrupt:
        print(f"{options.command}: stopped before it finished", file=sys.stderr)
        return 130
    except BrokenPipeError:  # the reader closed the pipe, as in "shoplib work | head"
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    return code
