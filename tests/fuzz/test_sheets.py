"""Sheets from anybody: a PDF with bytes changed, or with something in its record changed, to read, verify and import.

Each command answers in words.  No changed record is "verified"; what is imported has no damage.
"""

import copy
import functools
import io
import json
import os
import random
import tempfile
from pathlib import Path

import pypdf
from hypothesis import given
from hypothesis import strategies as st

from shoplib.core.errors import ShoplibError
from shoplib.record.jobfile_record import canonical, make_record
from shoplib.record.store import Store
from shoplib.sheet import job_sheet, typeset
from shoplib.sheet.attachments import ATTACHMENT, attached
from shoplib.sheet.verdict import EXIT_UNREADABLE, EXIT_VERIFIED
from tests.fuzz.places import PLAIN, places
from tests.fuzz.properties import command, speakable
from tests.fuzz.runs import runs
from tests.record_fixtures import HEADER, NUMBER, programme, protrusion

CODES = range(8)


@functools.cache
def sheets():
    """The sheet of a job file and that of a whole job, small ones."""
    entry = {"working": "measurement", "inputs": {"what": "protrusion", "where": "liner 1", "value": "0.12 mm",
                                                  "high": "0.05 mm", "high_source": "bench notes, page 3"}}  # fmt: skip
    one = typeset(make_record({"job": HEADER, "entry": [entry]}))
    with tempfile.TemporaryDirectory() as folder, Store.open(Path(folder) / "jobs.db") as store:
        store.start(**HEADER)
        first = store.keep(NUMBER, protrusion(), who="A. Learner")
        store.keep(NUMBER, protrusion("0,05 mm"), sources=[first.uid], who="A. Learner")
        plan = programme(store)
        store.tick(NUMBER, programme=plan, stage=1, bolt="1", value="40 N*m", initials="AL", uid="tick-0001")
        store.sign(NUMBER, role="did the work", who="A. Learner")
        whole = job_sheet(store, NUMBER, who="A. Learner")
    return one, whole


def record_in(pdf):
    return json.loads(attached(pdf)[ATTACHMENT])


def with_record(pdf, raw):
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(pdf))
    names = writer.root_object["/Names"]["/EmbeddedFiles"]["/Names"]
    names[names.index(ATTACHMENT) + 1].get_object()["/EF"]["/F"].get_object().set_data(raw)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def answered(pdf):
    """The exit code of verify; read and import are asked too."""
    before = os.environ.get("SHOPLIB_STORE")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "sheet.pdf"
        path.write_bytes(pdf)
        os.environ["SHOPLIB_STORE"] = str(Path(folder) / "jobs.db")
        try:
            codes = {}
            for name in ("read", "verify", "import"):
                codes[name], out, err = command([name, str(path)])
                assert codes[name] in CODES, (name, codes[name])
                assert (out + err).strip(), name
                speakable(err)
                if name != "read":  # that one gives the record as it is
                    speakable(out)
            with Store.open(Path(folder) / "jobs.db") as store:
                assert store.check() == []
                if codes["import"] == 0:
                    for row in store.jobs().rows:
                        store.export(row.number)
        finally:
            os.environ.pop("SHOPLIB_STORE") if before is None else os.environ.update(SHOPLIB_STORE=before)
    return codes["verify"]


@runs(12, 0.01)
@given(st.integers(0, 1), st.integers(0, 2**32), st.integers(1, 6))
def test_a_pdf_with_bytes_changed_is_answered_in_words(which, seed, times):
    pdf, moment = bytearray(sheets()[which]), random.Random(seed)
    for _ in range(times):
        k = moment.randrange(len(pdf))
        match moment.randrange(4):
            case 0:
                pdf[k] ^= 1 << moment.randrange(8)
            case 1:
                del pdf[k : k + moment.randrange(1, 400)]
            case 2:
                pdf[k:k] = moment.randbytes(moment.randrange(1, 40))
            case _:
                at = moment.randrange(len(pdf))
                pdf[k:k] = pdf[at : at + moment.randrange(1, 400)]
    answered(bytes(pdf))


@st.composite
def changed_record(draw, record):
    """One value of the record replaced, removed, or taken from another place."""
    tree = copy.deepcopy(record)
    *way, last = draw(st.sampled_from([p for p in places(record) if p]))
    inside = tree
    for k in way:
        inside = inside[k]
    match draw(st.integers(0, 2)):
        case 0:
            del inside[last]
        case 1:
            inside[last] = draw(PLAIN)
        case _:
            other = record
            for k in draw(st.sampled_from([p for p in places(record) if p])):
                other = other[k]
            inside[last] = copy.deepcopy(other)
    return tree


@runs(25, 0.02)
@given(st.data())
def test_a_changed_record_is_answered_in_words_and_never_verified(data):
    pdf = sheets()[data.draw(st.integers(0, 1))]
    record = record_in(pdf)
    tree = data.draw(changed_record(record))
    try:
        raw = canonical(tree)
    except (ShoplibError, ValueError):  # no JSON: NaN, or half of a surrogate pair
        raw = json.dumps(tree).encode("utf-8")
    code = answered(with_record(pdf, raw))
    if canonical(record) != raw:
        assert code != EXIT_VERIFIED
    else:
        assert code != EXIT_UNREADABLE
