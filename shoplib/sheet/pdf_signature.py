"""The digital signature of a sheet: made with a workshop's certificate, and checked.

A signature is appended to the file; the bytes of the sheet stay as they are.  It needs the extra ``sign`` (pyHanko).
A certificate that a workshop made itself proves that nothing was changed since somebody with its key signed.  Who that
is, it does not prove: compare the fingerprint with the one that the workshop gave you.
"""

from __future__ import annotations

import asyncio
import datetime
import hashlib
import io
import logging
from collections.abc import Iterator
from typing import Any

from shoplib.core.errors import BadInput, Problem, ShoplibError
from shoplib.sheet.verdict import Code, Finding, Part, State, not_covered, not_verified

FIELD = "ShoplibSignature"
YEARS = 5  # that a self-made certificate is valid
EXTRA = 'pip install "shoplib[sign]"'


class CannotSign(ShoplibError):
    """A sheet that cannot be signed; the message says why."""


# ------------------------------------------------------------------------------ sign
def sign(pdf: bytes, certificate: bytes, password: str, *, timestamp_server: str = "") -> bytes:
    """The sheet with a PAdES signature appended.

    ``certificate``: a PKCS 12 file with the key.  ``timestamp_server``: address of an RFC 3161 server, which states
    when it was signed; without it the time is the computer's own.  Raises CannotSign.
    """
    _require_pyhanko()
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
    from pyhanko.sign import fields, signers
    from pyhanko.sign.timestamps import HTTPTimeStamper

    try:
        signer = signers.SimpleSigner.load_pkcs12_data(certificate, (), password.encode("utf-8"))
    except ValueError:
        signer = None
    if signer is None:
        raise CannotSign("the certificate cannot be opened: it is not a PKCS 12 file, or the password is wrong")
    whole = pdf if pdf.endswith(b"\n") else pdf + b"\n"  # PDF/A: an appended part begins on its own line
    stamper = HTTPTimeStamper(timestamp_server) if timestamp_server else None
    about = signers.PdfSignatureMetadata(
        field_name=FIELD, subfilter=fields.SigSeedSubFilter.PADES, md_algorithm="sha256"
    )
    try:
        writer = IncrementalPdfFileWriter(io.BytesIO(whole))
        made = signers.PdfSigner(about, signer, timestamper=stamper).sign_pdf(writer)
    except Exception as error:  # noqa: BLE001 -- pyHanko, its HTTP client and its parser raise many kinds
        raise CannotSign(f"the sheet could not be signed: {type(error).__name__}: {str(error)[:200]}") from None
    return bytes(made.getvalue())


def make_certificate(name: str, password: str, *, now: datetime.datetime | None = None) -> bytes:
    """A certificate that the workshop made itself, with its key, as a PKCS 12 file.  Raises BadInput, CannotSign."""
    _require_pyhanko()
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.hazmat.primitives.serialization import BestAvailableEncryption, pkcs12

    name = " ".join(name.split())
    if not 0 < len(name) <= 64:
        raise BadInput([Problem("name", "must have 1 to 64 characters", '"Teaching workshop, hall 2"')])
    if not password:
        raise BadInput([Problem("password", "is missing; it protects the key in the file")])
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, name)])
    begins = (now or datetime.datetime.now(datetime.UTC)) - datetime.timedelta(minutes=5)
    usage = x509.KeyUsage(digital_signature=True, content_commitment=True, key_encipherment=False,
                          data_encipherment=False, key_agreement=False, key_cert_sign=False, crl_sign=False,
                          encipher_only=False, decipher_only=False)  # fmt: skip
    made = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(begins)
        .not_valid_after(begins + datetime.timedelta(days=365 * YEARS))
        .add_extension(usage, critical=True)
        .sign(key, hashes.SHA256())
    )
    return pkcs12.serialize_key_and_certificates(
        name.encode("utf-8"), key, made, None, BestAvailableEncryption(password.encode("utf-8"))
    )


def _require_pyhanko() -> None:
    try:
        import pyhanko.sign  # noqa: F401 -- only asked for
    except ImportError:
        raise CannotSign(f"signing needs the extra “sign”: {EXTRA}") from None


# ------------------------------------------------------------------------------ check
def is_signature(annotation: Any) -> bool:
    """Whether an annotation is the field of a signature that shows nothing on the page."""
    if annotation.get("/Subtype") != "/Widget" or annotation.get("/FT") != "/Sig":
        return False
    sides = [float(x) for x in annotation.get("/Rect", ())]
    return "/AP" not in annotation and len(sides) == 4 and sides[0] == sides[2] and sides[1] == sides[3]


def only_signatures(form: Any) -> bool:
    """Whether a form of a PDF has no other field than such signatures."""
    return all(is_signature(f.get_object()) for f in form.get("/Fields", ()))


def findings_of(pdf: bytes, reader: Any) -> list[Finding]:
    """What the signatures of an opened sheet prove."""
    if "/AcroForm" not in reader.root_object:
        return [not_covered(Part.SIGNATURE, Code.NO_SIGNATURE)]
    try:
        _require_pyhanko()
    except CannotSign:
        return [not_covered(Part.SIGNATURE, Code.NEEDS_EXTRA, install=EXTRA)]
    logging.getLogger("pyhanko").setLevel(logging.CRITICAL)  # it logs what is reported here
    logging.getLogger("pyhanko_certvalidator").setLevel(logging.CRITICAL)
    try:
        found = list(_checked(pdf))
    except Exception as error:  # noqa: BLE001 -- pyHanko raises many kinds on a signature that is none
        return [not_verified(Part.SIGNATURE, Code.SIGNATURE_UNREADABLE, why=type(error).__name__)]
    return found or [not_verified(Part.SIGNATURE, Code.SIGNATURE_UNREADABLE, why="no signature in its field")]


def _checked(pdf: bytes) -> Iterator[Finding]:
    from pyhanko.pdf_utils.reader import PdfFileReader
    from pyhanko.sign.validation import async_validate_pdf_signature
    from pyhanko.sign.validation.status import SignatureCoverageLevel
    from pyhanko_certvalidator import ValidationContext

    signatures = PdfFileReader(io.BytesIO(pdf), strict=False).embedded_regular_signatures
    for k, signature in enumerate(signatures, 1):
        certificate = signature.signer_cert
        context = ValidationContext(trust_roots=[certificate], allow_fetching=False)  # trust is for people to decide
        status = asyncio.run(
            async_validate_pdf_signature(signature, signer_validation_context=context, skip_diff=True)
        ) if not _loop() else _in_thread(signature, context)  # fmt: skip
        whole = status.coverage == SignatureCoverageLevel.ENTIRE_FILE or k < len(signatures)
        name = _name_of(certificate)
        if not (status.intact and status.valid and whole):
            yield not_verified(Part.SIGNATURE, Code.SIGNATURE_BROKEN, name=name)
            continue
        stamped = status.timestamp_validity
        if stamped is not None and not (stamped.intact and stamped.valid):
            yield not_verified(Part.SIGNATURE, Code.TIMESTAMP_BROKEN, name=name)
            continue
        when = stamped.timestamp if stamped is not None else status.signer_reported_dt
        code = Code.SELF_MADE if certificate.self_issued else Code.SIGNED
        yield Finding(Part.SIGNATURE, State.VERIFIED, code, {
            "name": name,
            "when": when.isoformat(timespec="minutes") if when else "unknown",
            "clock": f"by the timestamp server {_name_of(stamped.signing_cert)}, whose certificate was not checked"
            if stamped is not None else "by the signer's own clock",
            "fingerprint": hashlib.sha256(certificate.dump()).hexdigest(),
        })  # fmt: skip


def _name_of(certificate: Any) -> str:
    """The name in a certificate, on one line."""
    named = certificate.subject.native
    return " ".join(str(named.get("common_name") or certificate.subject.human_friendly).split())[:120]


def _loop() -> bool:
    try:
        asyncio.get_running_loop()
    except RuntimeError:
        return False
    return True


def _in_thread(signature: Any, context: Any) -> Any:
    """The check inside a kernel, where an event loop is running already."""
    from concurrent.futures import ThreadPoolExecutor

    from pyhanko.sign.validation import async_validate_pdf_signature

    def work() -> Any:
        return asyncio.run(async_validate_pdf_signature(signature, signer_validation_context=context, skip_diff=True))

    with ThreadPoolExecutor(1) as pool:
        return pool.submit(work).result()
