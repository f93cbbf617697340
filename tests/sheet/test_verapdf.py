"""Every kind of print is PDF/A-3a (ISO 19005-3) and PDF/UA-1 (ISO 14289-1), signed and unsigned, by veraPDF."""

import itertools
import os

import pytest

from shoplib.sheet.pdf_signature import make_certificate, sign
from tests import ci_part, verapdf
from tests.prints import KINDS, PAPERS

SECRET = "oil and rags"
LEAST_CHECKS = {"PDFA_3_A": 1000, "PDFUA_1": 500}  # a file in which nothing was checked proves nothing


@pytest.fixture(scope="module")
def reports(tmp_path_factory):
    """The report of every file; all are validated in one Java process."""
    if why := verapdf.absent():
        (pytest.fail if os.environ.get("SHOPLIB_REQUIRE_VERAPDF") else pytest.skip)(why)
    folder = tmp_path_factory.mktemp("verapdf")
    certificate = make_certificate("Teaching workshop, hall 2", SECRET)
    files = {}
    ways = list(itertools.product(PAPERS, (False, True)))
    for n, (kind, made) in enumerate(KINDS.items()):
        for paper, signed in ways if ci_part.ALL else [ways[n % len(ways)]]:  # CI: the next kind in the next way
            files[kind, paper, signed] = folder / f"{kind}-{paper}-{signed}.pdf"
            files[kind, paper, signed].write_bytes(sign(made(paper), certificate, SECRET) if signed else made(paper))
    broken = folder / "broken.pdf"
    pdf = KINDS["conversion card"]("a4")
    broken.write_bytes(pdf.replace(b"/Marked true", b"/Marked null").replace(b"/Lang", b"/Lxng"))
    found = verapdf.validate([*files.values(), broken])
    return {name: found[path] for name, path in files.items()} | {"broken": found[broken]}


def test_every_kind_of_print_is_valid(reports):
    """One test, so that the reports, which take a minute, are made by one process only."""
    wrong = {
        (name, standard): report["broken"]
        for name, standards in reports.items()
        for standard, report in standards.items()
        if name != "broken" and not report["compliant"]
    }
    assert not wrong
    assert {name[0] for name in reports if name != "broken"} == set(KINDS)
    assert {name[1:] for name in reports if name != "broken"} == set(itertools.product(PAPERS, (False, True)))
    for name, standards in reports.items():
        assert set(standards) == set(LEAST_CHECKS), name
        for standard, report in standards.items():
            assert report["checks"] > LEAST_CHECKS[standard], (name, standard)
    # a broken file is found
    assert not reports["broken"]["PDFA_3_A"]["compliant"] and not reports["broken"]["PDFUA_1"]["compliant"]
    assert reports["broken"]["PDFUA_1"]["broken"]
