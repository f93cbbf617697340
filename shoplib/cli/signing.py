"""The command that signs a sheet, or makes the certificate for it."""

from __future__ import annotations

import argparse
import getpass
import os
import sys
from pathlib import Path
from typing import Any

from shoplib.core.errors import BadInput
from shoplib.core.files import NotRead, read_bounded
from shoplib.core.reading_limits import SHEET

PASSWORD = "SHOPLIB_SIGN_PASSWORD"  # noqa: S105 -- the name of a variable, not a password
LARGEST_CERTIFICATE = 1_000_000


def sign(options: argparse.Namespace) -> int:
    """Sign a sheet with a certificate; with --make, make a certificate."""
    from shoplib.sheet import files
    from shoplib.sheet.pdf_signature import CannotSign, make_certificate
    from shoplib.sheet.pdf_signature import sign as signed

    try:
        if options.make:
            target = Path(options.make)
            files.free(target, options.force)
            files.write(target, make_certificate(options.name or "", _password()), force=options.force)
            target.chmod(0o600)
            print(
                f"certificate written: {target}. It is self-made: it proves that nothing was changed after you signed."
            )
            print("Give its SHA-256 to your customers on paper; verify shows it for every sheet that you sign.")
            return 0
        if not (options.sheet and options.certificate):
            raise CannotSign("give a sheet and --certificate FILE.p12, or --make FILE.p12 --name WORKSHOP")
        pdf, certificate = _read(options.sheet, SHEET.size), _read(options.certificate, LARGEST_CERTIFICATE)
        target = Path(options.output) if options.output else Path(options.sheet).with_suffix(".signed.pdf")
        files.free(target, options.force)
        made = signed(pdf, certificate, _password(), timestamp_server=options.timestamp or "")
        files.write(target, made, force=options.force)
    except BadInput as error:
        print("please correct", *map(str, error.problems), sep="\n  ", file=sys.stderr)
        return 2
    except (CannotSign, OSError, ValueError) as error:
        print(error, file=sys.stderr)
        return 2
    print(f"signed: {target}")
    return 0


def _read(name: str, largest: int) -> bytes:
    try:
        return read_bounded(name, largest)
    except NotRead as error:
        raise NotRead(f"{name}: {error}") from None


def _password() -> str:
    """From the environment, or asked for at the terminal."""
    given = os.environ.get(PASSWORD)
    return given if given is not None else getpass.getpass("Password of the certificate: ")


def add(commands: argparse._SubParsersAction[Any]) -> None:
    """Add the command."""
    signing = commands.add_parser("sign", help="sign a sheet digitally, or make a certificate for that")
    signing.add_argument("sheet", nargs="?", metavar="SHEET.pdf")
    signing.add_argument("--certificate", metavar="FILE.p12", help="the workshop's certificate with its key (PKCS 12)")
    signing.add_argument("--timestamp", metavar="URL", help="a server that states the time (RFC 3161)")
    signing.add_argument("-o", "--output", metavar="OUT.pdf", help="where to write (default: SHEET.signed.pdf)")
    signing.add_argument("--make", metavar="FILE.p12", help="make a certificate instead; needs --name")
    signing.add_argument("--name", metavar="WORKSHOP", help="with --make: the name in the certificate")
    signing.add_argument("--force", action="store_true", help="replace an existing file")
    signing.set_defaults(run=sign)
