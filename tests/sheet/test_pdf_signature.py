"""The digital signature of a sheet: what it proves, and what is found after it."""

import datetime
import http.server
import io
import socket
import threading

import pypdf
import pytest
from asn1crypto import keys as asn1_keys
from asn1crypto import tsp
from asn1crypto import x509 as asn1_x509
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from pyhanko.sign.timestamps import DummyTimeStamper

from shoplib.cli import main
from shoplib.core.errors import BadInput
from shoplib.sheet import job_sheet
from shoplib.sheet.pdf_signature import CannotSign, make_certificate, sign
from shoplib.sheet.verdict import Code, Part, State
from shoplib.sheet.verify import read_record, verify
from tests import verapdf
from tests.record_fixtures import NUMBER, clock, protrusion, started

SECRET = "oil and rags"


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A sheet, a certificate, and the signed sheet."""
    folder = tmp_path_factory.mktemp("signed")
    with started(folder / "jobs.db", clock=clock("2026-11-25T09:00:00")) as store:
        store.keep(NUMBER, protrusion(), who="A. Learner")
        pdf = job_sheet(store, NUMBER, who="A. Learner")
    certificate = make_certificate("Teaching workshop, hall 2", SECRET)
    return pdf, certificate, sign(pdf, certificate, SECRET)


def codes(pdf, part):
    return [f.code for f in verify(pdf).of(part)]


def test_a_signed_sheet_keeps_its_bytes_and_verifies(made):
    pdf, _, signed = made
    assert signed.startswith(pdf) and read_record(signed) == read_record(pdf)
    verdict = verify(signed)
    assert verdict.verified and verdict.state(Part.SIGNATURE) is State.VERIFIED
    assert codes(signed, Part.PAGES) == [Code.ONLY_SIGNED] and codes(signed, Part.SIGNATURE) == [Code.SELF_MADE]
    told = "\n".join(verdict.as_lines())
    assert "Teaching workshop, hall 2" in told and "self-made" in told and "only claimed" in told
    assert b"\n%%EOF\n" in signed[: len(pdf) + 1], "what is appended begins on its own line, as PDF/A asks"


def test_a_sheet_of_another_renderer_verifies_with_its_signature(made, monkeypatch):
    monkeypatch.setattr("shoplib.sheet.verify.versions", lambda: {"shoplib": "9.9", "typst": "9", "pages": "x"})
    monkeypatch.setattr("shoplib.sheet.verify.DRAWN_BY", ("shoplib", "typst", "pages"))
    verdict = verify(made[2])
    assert not verdict.problems and [f.code for f in verdict.of(Part.PAGES)] == [Code.SAME_PAGES]


def later(signed, change):
    """The signed sheet with one more part appended, as another program would append it."""
    writer = pypdf.PdfWriter(io.BytesIO(signed), incremental=True)
    change(writer)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def note(writer):
    from pypdf.annotations import FreeText

    writer.add_annotation(0, FreeText(text="Pass", rect=(50, 550, 200, 650)))


def test_what_is_appended_after_the_signature_is_found(made):
    verdict = verify(later(made[2], note))
    assert verdict.state(Part.SIGNATURE) is State.NOT_VERIFIED and verdict.state(Part.PAGES) is State.NOT_VERIFIED


def test_what_was_changed_before_it_was_signed_is_found_in_the_pages(made):
    changed = later(made[0], note)
    signed = sign(changed, made[1], SECRET)
    verdict = verify(signed)
    assert verdict.state(Part.SIGNATURE) is State.VERIFIED and verdict.state(Part.PAGES) is State.NOT_VERIFIED


def test_a_changed_byte_of_the_signed_part_is_found(made):
    at = made[2].index(b"/Author")  # metadata shows nothing on the pages: only the signature covers it
    changed = made[2][: at + 9] + b"Z" + made[2][at + 10 :]
    assert verify(changed).state(Part.SIGNATURE) is State.NOT_VERIFIED


def test_a_field_that_shows_something_is_no_signature(made):
    signed = made[2]
    wide = signed.replace(b"/Rect [ 0 0 0 0 ]", b"/Rect [ 0 0 9 9 ]").replace(b"/Rect [0 0 0 0]", b"/Rect [0 0 9 9]")
    assert wide != signed
    verdict = verify(wide)
    assert verdict.state(Part.PAGES) is State.NOT_VERIFIED


def test_without_the_extra_the_signature_is_not_covered(made, monkeypatch):
    def absent():
        raise CannotSign("absent")

    monkeypatch.setattr("shoplib.sheet.pdf_signature._require_pyhanko", absent)
    verdict = verify(made[2])
    assert [f.code for f in verdict.of(Part.SIGNATURE)] == [Code.NEEDS_EXTRA] and verdict.exit_code == 7


def test_a_wrong_password_and_a_certificate_without_a_name_are_refused(made):
    with pytest.raises(CannotSign, match="password"):
        sign(made[0], made[1], "wrong")
    with pytest.raises(BadInput, match="name"):
        make_certificate(" ", SECRET)
    with pytest.raises(BadInput, match="password"):
        make_certificate("Workshop", "")


def test_an_expired_certificate_still_says_what_was_signed(made):
    old = make_certificate("Workshop", SECRET, now=datetime.datetime(2015, 1, 1, tzinfo=datetime.UTC))
    verdict = verify(sign(made[0], old, SECRET))
    assert verdict.state(Part.SIGNATURE) is State.VERIFIED


def test_the_command_line_makes_a_certificate_and_signs(made, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("SHOPLIB_SIGN_PASSWORD", SECRET)
    sheet, certificate = tmp_path / "sheet.pdf", tmp_path / "workshop.p12"
    sheet.write_bytes(made[0])
    assert main(["sign", "--make", str(certificate), "--name", "Hall 2"]) == 0
    assert certificate.stat().st_mode & 0o077 == 0
    assert main(["sign", str(sheet), "--certificate", str(certificate)]) == 0
    assert main(["verify", str(tmp_path / "sheet.signed.pdf")]) == 0
    assert "signed by Hall 2" in capsys.readouterr().out
    assert main(["sign", str(sheet)]) == 2 and "--certificate" in capsys.readouterr().err
    assert main(["sign", str(sheet), "--certificate", str(sheet)]) == 2


# ------------------------------------------------------------------------------ time stated by a server
@pytest.fixture
def timestamp_server():
    """A timestamp authority (RFC 3161) of this test on 127.0.0.1; its address, and what it was asked."""
    authority = timestamp_authority("Test clock")
    asked = []

    class Answer(http.server.BaseHTTPRequestHandler):
        def do_POST(self):
            request = tsp.TimeStampReq.load(self.rfile.read(int(self.headers["Content-Length"])))
            asked.append(request["message_imprint"]["hash_algorithm"]["algorithm"].native)
            body = authority.request_tsa_response(request).dump()
            self.send_response(200)
            self.send_header("Content-Type", "application/timestamp-reply")
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_):
            pass

    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), Answer) as server:
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}/", asked
        server.shutdown()
        thread.join()


def timestamp_authority(name):
    """A key and a certificate for time stamps alone, as RFC 3161 (2.3) asks."""
    key = rsa.generate_private_key(public_exponent=65537, key_size=2048)
    subject = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, name)])
    certificate = (
        x509.CertificateBuilder().subject_name(subject).issuer_name(subject).public_key(key.public_key())
        .serial_number(1).not_valid_before(datetime.datetime(2026, 1, 1)).not_valid_after(datetime.datetime(2036, 1, 1))
        .add_extension(x509.ExtendedKeyUsage([x509.ExtendedKeyUsageOID.TIME_STAMPING]), critical=True)
        .sign(key, hashes.SHA256())
    )  # fmt: skip
    plain = (Encoding.DER, PrivateFormat.PKCS8, NoEncryption())
    return DummyTimeStamper(
        asn1_x509.Certificate.load(certificate.public_bytes(Encoding.DER)),
        asn1_keys.PrivateKeyInfo.load(key.private_bytes(*plain)),
        fixed_dt=datetime.datetime(2026, 11, 28, 12, 0, tzinfo=datetime.UTC),
    )


def test_a_server_states_the_time_of_the_signature(made, timestamp_server, tmp_path):
    pdf, certificate, _ = made
    address, asked = timestamp_server
    signed = sign(pdf, certificate, SECRET, timestamp_server=address)
    assert asked and set(asked) == {"sha256"}
    verdict = verify(signed)
    assert verdict.verified and codes(signed, Part.SIGNATURE) == [Code.SELF_MADE]
    told = "\n".join(verdict.as_lines())
    assert "2026-11-28T12:00+00:00" in told and "timestamp server" in told and "Test clock" in told
    if not verapdf.absent():
        (tmp_path / "stamped.pdf").write_bytes(signed)
        (report,) = verapdf.validate([tmp_path / "stamped.pdf"]).values()
        assert all(standard["compliant"] for standard in report.values()), report


def test_a_timestamp_server_that_does_not_answer_is_told(made):
    with socket.socket() as closed:
        closed.bind(("127.0.0.1", 0))
        address = f"http://127.0.0.1:{closed.getsockname()[1]}/"
    with pytest.raises(CannotSign, match="could not be signed"):
        sign(made[0], made[1], SECRET, timestamp_server=address)
