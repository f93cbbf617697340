"""The command that opens the notebooks."""

from __future__ import annotations

import argparse
import sys
from typing import Any


def _open(options: argparse.Namespace) -> int:
    from shoplib.desk.server.address import CannotOpen
    from shoplib.desk.server.launcher import open_notebooks

    try:
        return open_notebooks(
            port=options.port,
            browser=not options.no_browser,
            pages=options.forms,
            listen=options.listen,
            new_token=options.new_token,
        )
    except CannotOpen as error:
        print(error, file=sys.stderr)
        return 2


def add(commands: argparse._SubParsersAction[Any]) -> None:
    """Add the command of this module."""
    opening = commands.add_parser(
        "open", help="open your own copy of the notebooks (on this machine only, unless --listen)"
    )
    opening.add_argument("--forms", action="store_true", help="open the pages without code in this computer's browser")
    opening.add_argument(
        "--listen",
        default="127.0.0.1",
        metavar="ADDRESS",
        help="the address of this computer on the workshop network, for example 192.168.1.20: other devices such as a "
        "tablet can then connect; not encrypted, trusted networks only",
    )
    opening.add_argument("--port", type=int, help="use this port instead of the usual one")
    opening.add_argument("--no-browser", action="store_true", help="print the address; do not open a browser")
    opening.add_argument("--new-token", action="store_true", help="make all earlier addresses invalid")
    opening.set_defaults(run=_open)
