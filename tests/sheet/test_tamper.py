"""The sheet of the invented job, changed in one place at a time: each change is found, or its reason is listed here.

CI draws some places with a seed that it prints; ``SHOPLIB_SLOW=1`` takes all of them (thousands).
"""

import copy
import io
import json
import os
import random
import re

import pikepdf
import pypdf
import pytest

from shoplib.cli import main
from shoplib.record import exchange
from shoplib.record.job import chained
from shoplib.record.job_record import whole_record
from shoplib.record.jobfile_record import canonical
from shoplib.sheet import attachments, typeset
from shoplib.sheet import verify as verifying
from shoplib.sheet.pdf_signature import make_certificate, sign
from shoplib.sheet.verdict import Code, Part, State
from shoplib.sheet.verify import read_record, verify
from tests import ci_part, prints, tamper
from tests.sheet.forged_sheets import changed, found_out, rehashed, replace_record, with_value
from tests.sheet.sheet_parts import every_leaf

TYPESET = verifying._typeset
SEED = int(os.environ.get("SHOPLIB_SEED", "20261128"))
SECRET = "oil and rags"
NOT_COVERED = {
    "program": "another version cannot be told from a forged one; the pages are then compared with their hash",
}
LEAST_STREAM = 60  # bytes with its key words; the middle of a shorter one is its check sum, and it decodes to the same
SHOWS_NOTHING = {  # what verify does not compare, with the reason; a signature covers these bytes too
    rb"^<<[^>]*/(CreationDate|ModDate)\(": "title, author and dates in the properties of the file, not on its pages",
    rb"/Type/Metadata": "the same, as XMP",
    rb"/Type/Filespec": "the name and the description under which a viewer offers an attachment; its content is compared",
    rb"/Type/StructTreeRoot": "the index of the names of cells; the cells themselves are compared",
}


def some(places, count):
    """All of them, or some that the seed draws."""
    places = list(places)
    return places if ci_part.ALL else random.Random(SEED).sample(places, min(count, len(places)))


def some_of_each(places, count):
    """The same, of each kind of object: its type in the file, a stream or a leaf."""
    kinds = {}
    for place in places:
        found = re.search(rb"/(?:Type/StructElem/S|Type|FunctionType|ShadingType|Subtype)/?(\w+)", place[2])
        kinds.setdefault((place[0], found and found[1]), []).append(place)
    return [place for of in kinds.values() for place in some(of, count)]


@pytest.fixture(scope="module")
def demo():
    """The record of the invented job, and its sheet."""
    pdf = prints.of_job("a4")
    return read_record(pdf), pdf


@pytest.fixture(scope="module")
def short():
    """The customer's pages of the same job, which are quicker to look at."""
    return prints.of_job("a4", extent="customer")


@pytest.fixture(autouse=True)
def set_once(monkeypatch):
    """The pages of one record are set once: they are the same bytes each time (test_job_sheet.py)."""
    known = {}
    really = verifying._typeset

    def remembered(record, pictures, attached):
        key = canonical(record)
        if key not in known:
            known[key] = really(record, pictures, attached)
        return known[key]

    monkeypatch.setattr(verifying, "_typeset", remembered)


@pytest.fixture
def carrying(monkeypatch, demo):
    """A function: is the sheet found out with this record in it?  Only the record is exchanged, in memory."""
    whole = attachments.attached(demo[1])
    monkeypatch.setattr(verifying, "_typeset", lambda *_: demo[1])

    def look(record):
        files = whole | {"record.json": canonical(record)}
        with monkeypatch.context() as patched:
            patched.setattr(attachments, "attached_to", lambda _: files)
            return found_out(demo[1])

    assert not look(demo[0])
    return look


# ------------------------------------------------------------------------------ the record
def test_every_leaf_of_the_record(demo, carrying, monkeypatch):
    """``SHOPLIB_SLOW=1`` takes all of them, and asks the whole of ``verify`` about some that a part of it found.

    A leaf that decides only how the pages are set ("blank") is found when they are set again.
    """
    leaves = [(path, value) for path, value in every_leaf(demo[0]) if path[0] not in NOT_COVERED]
    assert len(leaves) > 2000
    monkeypatch.setattr(verifying, "_typeset", lambda *_: demo[1])
    quick = tamper.Records(demo[1])
    tried = [(path, with_value(demo[0], path, changed(value))) for path, value in some(leaves, 30)]
    by_pages = [(path, record) for path, record in tried if not quick.found(record, monkeypatch)]
    with monkeypatch.context() as patched:
        patched.setattr(verifying, "_typeset", TYPESET)
        missed = [p for p, record in by_pages if not found_out(replace_record(demo[1], canonical(record)))]
    print(
        f"record: {len(tried)} of {len(leaves)} leaves changed, {len(missed)} not found; by the pages: {len(by_pages)}"
    )
    assert missed == [], f"seed {SEED}"
    set_again = {path for path, _ in by_pages}
    by_parts = [record for path, record in tried if path not in set_again]
    assert all(map(carrying, random.Random(SEED).sample(by_parts, 3)))


def test_minus_zero_is_the_only_other_spelling_that_counts_as_unchanged(demo, carrying):
    """-0.0 equals 0.0, and JSON knows both; the number is the same."""
    zeros = [path for path, value in every_leaf(demo[0]) if value == 0 and isinstance(value, float)]
    assert zeros
    for path in some(zeros, 3):
        assert carrying(with_value(demo[0], path, 1e-9))


def test_lines_dropped_doubled_or_swapped(demo, carrying, monkeypatch):
    """A record without its last line agrees with itself: that is found when the pages are set again."""
    record = demo[0]
    numbers = range(len(record["lines"]))
    for k in some(numbers, 6):
        for change in ("drop", "double", "swap"):
            forged = copy.deepcopy(record)
            lines = forged["lines"]
            if change == "drop":
                del lines[k]
            elif change == "double":
                lines.insert(k, copy.deepcopy(lines[k]))
            else:
                lines[k - 1], lines[k] = lines[k], lines[k - 1]
            if (change, k) == ("drop", len(numbers) - 1):
                with monkeypatch.context() as patched:
                    patched.setattr(verifying, "_typeset", TYPESET)
                    assert found_out(replace_record(demo[1], canonical(forged)))
            else:
                assert carrying(forged), (change, k)


# ------------------------------------------------------------------------------ rebuilt with new hashes
def rebuilt(drop):
    """A whole forged sheet of the job without one line, with new hashes: it agrees with itself."""
    whole = json.loads(prints.whole_job.FILE.read_bytes())
    gone = whole["lines"].pop(drop)["uid"]
    whole["lines"] = [x for x in whole["lines"] if x["kind"] != "print" and x.get("about") != gone]
    for n, line in enumerate(whole["lines"], 1):
        line["n"] = n
        if line["kind"] == "issue":
            line["body"].pop("record", None)
    named = {x["body"].get(k) for x in whole["lines"] if x["kind"] == "photo" for k in ("picture", "thumb")}
    whole["pictures"] = {k: v for k, v in whole["pictures"].items() if k in named}
    job, pictures = exchange.load(rehashed(whole))
    return typeset(whole_record(chained(job.uid, job.lines)), pictures=pictures)


def test_a_rebuilt_record_is_found_with_a_hash_a_signature_or_a_frozen_issue(demo, tmp_path, capsys):
    record, pdf = demo
    droppable = [k for k, x in enumerate(record["lines"]) if x["kind"] in ("tick", "photo", "accept")]
    frozen, forged_file = tmp_path / "issued.pdf", tmp_path / "forged.pdf"
    frozen.write_bytes(pdf)
    for k in some(droppable, 1)[:8]:
        forged = rebuilt(k)
        assert not verify(forged).problems, "it agrees with itself"
        assert verify(forged, holds=record["lines"][-1]["digest"]).problems, "the hash that the customer holds"
        assert verify(forged).state(Part.SIGNATURE) is State.NOT_COVERED, "the signature is gone"
        forged_file.write_bytes(forged)
        assert main(["verify", str(forged_file), "--holds", str(frozen)]) == 3, "the frozen issue"
    assert main(["verify", str(frozen), "--holds", str(frozen)]) == 0
    assert main(["verify", str(frozen), "--holds", str(tmp_path / "absent.pdf")]) == 2
    assert "absent.pdf" in capsys.readouterr().err


# ------------------------------------------------------------------------------ attachments
def with_files(pdf, change):
    """The sheet after ``change(attachments of the opened file)``, saved by another program."""
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        change(opened.attachments)
        out = io.BytesIO()
        opened.save(out)
    return out.getvalue()


def test_attachments_swapped_added_or_dropped(demo, monkeypatch):
    pdf = demo[1]
    monkeypatch.setattr(verifying, "_typeset", lambda *_: pdf)
    names = [n for n in attachments.attached(pdf) if n.endswith(".jpg")]
    assert len(names) >= 2

    def exchange_pictures(files):
        first, second = (files[n].get_file().read_bytes() for n in names[:2])
        files[names[0]], files[names[1]] = second, first

    def put(name, content):
        def change(files):
            files[name] = content

        return change

    other = attachments.attached(prints.of_job("a4", extent="customer"))
    assert found_out(with_files(pdf, exchange_pictures))
    assert found_out(with_files(pdf, put("record.json", other["record.json"])))
    assert found_out(with_files(pdf, put("pages.json", other["pages.json"])))
    assert found_out(with_files(pdf, put("more.txt", b"x")))
    for name in (*names, "pages.json", "record.json"):
        assert found_out(with_files(pdf, lambda files, name=name: files.pop(name))), name


# ------------------------------------------------------------------------------ the pages
def objects_of(pdf):
    """Where each object of the file is: (number, start, end)."""
    for match in re.finditer(rb"(?<=\n)(\d+) 0 obj\n", pdf):
        yield int(match[1]), match.end(), pdf.index(b"endobj", match.end())


def leaves_of_pages(pdf):
    """Every number, name and text in the objects of the file, and one byte in each stream: kind, object, place."""
    for number, start, end in objects_of(pdf):
        stream = pdf.find(b"stream", start, end)
        plain = pdf[start : stream if stream > 0 else end]
        if stream > 0 and end - stream > LEAST_STREAM:
            yield "stream", number, plain, (stream + end) // 2
        for leaf in re.finditer(rb"(?<=[ \[])\d+(?:\.\d+)?(?=[ \]/>])(?! 0 R)(?! R)|\((?:[^()\\]|\\.)+\)", plain):
            if not plain[: leaf.start()].endswith((b"/Length ", b"/Size ")):
                yield (
                    "leaf",
                    number,
                    plain,
                    start + leaf.start() + leaf[0].startswith(b"("),
                )  # the first digit or letter


def test_every_leaf_of_the_pages(demo, monkeypatch):
    """A digit, a letter or a byte of a stream is changed where it is in the file."""
    pdf = demo[1]
    monkeypatch.setattr(verifying, "_typeset", lambda *_: pdf)
    quick = tamper.Pages(pdf)
    places = list(leaves_of_pages(pdf))
    assert len(places) > 8000
    shown = [x for x in places if not any(re.search(of, x[2]) for of in SHOWS_NOTHING)]
    missed, tried = [], []
    for kind, number, plain, at in some_of_each(shown, 1):
        new = pdf[at] ^ 1 if kind == "stream" else ord("3") if pdf[at : at + 1] in b"0124567890" else pdf[at] ^ 1
        forged = pdf[:at] + bytes([new]) + pdf[at + 1 :]
        tried.append(at)
        if not quick.found(number, forged):
            missed.append((kind, number, plain[:120], at))
    print(f"pages: {len(tried)} of {len(shown)} leaves changed, {len(missed)} not found; "
          f"{len(places) - len(shown)} show nothing")  # fmt: skip
    assert missed == [], f"seed {SEED}"


def test_the_quick_way_finds_what_verify_finds(demo, monkeypatch):
    """Its answer is that of the whole of ``verify``, found or not."""
    pdf = demo[1]
    monkeypatch.setattr(verifying, "_typeset", lambda *_: pdf)
    quick = tamper.Pages(pdf)
    places = [x for x in leaves_of_pages(pdf) if x[0] == "leaf"]
    for _, number, _, at in random.Random(SEED).sample(places, 1):
        forged = pdf[:at] + (b"3" if pdf[at : at + 1] != b"3" else b"4") + pdf[at + 1 :]
        assert quick.found(number, forged) == found_out(forged)
        assert not quick.found(number, pdf), "an unchanged file is never found out"


def test_numbers_of_the_pages_are_compared_to_four_decimals(short, monkeypatch):
    """A ten-thousandth of a point cannot be seen; another program may round it when it saves."""
    monkeypatch.setattr(verifying, "_typeset", lambda *_: short)
    at = re.search(rb"/BBox\[\d+\.\d{5,}", short)
    assert at is not None
    last = short[at.end() - 1 : at.end()]
    other = b"1" if last != b"1" else b"2"
    assert not found_out(short[: at.end() - 1] + other + short[at.end() :])


# ------------------------------------------------------------------------------ saved again, and appended
def test_saved_again_by_another_program(short, monkeypatch):
    """Other packing shows the same: it is verified, and said; a signature does not survive it."""
    pdf = short
    monkeypatch.setattr(verifying, "_typeset", lambda *_: pdf)
    signed = sign(pdf, make_certificate("Hall 2", SECRET), SECRET)
    for packing in ({}, {"linearize": True}, {"object_stream_mode": pikepdf.ObjectStreamMode.generate},
                    {"compress_streams": False, "stream_decode_level": pikepdf.StreamDecodeLevel.all}):  # fmt: skip
        for before in (pdf, signed):
            with pikepdf.open(io.BytesIO(before)) as opened:
                out = io.BytesIO()
                opened.save(out, **packing)
            verdict = verify(out.getvalue())
            assert verdict.state(Part.PAGES) is State.VERIFIED, packing
            assert [f.code for f in verdict.of(Part.PAGES)] == [Code.SAVED_AGAIN]
            assert before is pdf or verdict.state(Part.SIGNATURE) is State.NOT_VERIFIED


def appended(pdf, change):
    writer = pypdf.PdfWriter(io.BytesIO(pdf), incremental=True)
    change(writer)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def test_appended_parts(short, monkeypatch):
    """Incremental updates: a note, other content, another size of page, another record, a page less."""
    pdf = short
    record = read_record(pdf)
    monkeypatch.setattr(verifying, "_typeset", lambda *_: pdf)

    def note(writer):
        from pypdf.annotations import FreeText

        writer.add_annotation(0, FreeText(text="Pass", rect=(50, 550, 200, 650)))

    def content(writer):
        page = writer.pages[0]
        stream = pypdf.generic.DecodedStreamObject()
        stream.set_data(page.get_contents().get_data() + b"\nq 1 1 1 rg 0 0 600 400 re f Q\n")
        page[pypdf.generic.NameObject("/Contents")] = writer._add_object(stream)

    def crop(writer):
        writer.pages[0].cropbox = pypdf.generic.RectangleObject((0, 400, 595, 842))

    def alternative(writer):
        writer.root_object[pypdf.generic.NameObject("/OpenAction")] = pypdf.generic.DictionaryObject()

    for change in (note, content, crop, alternative):
        assert found_out(appended(pdf, change)), change.__name__
    lines = copy.deepcopy(record)
    del lines["lines"][-1]
    assert found_out(replace_record(pdf, canonical(lines)))
