"""The hostile corpus: every file is made here; nothing large lies in git.

    .venv/bin/python -m tests.hostile.corpus FOLDER

Each maker gives the bytes of one file.  ``test_hostile.py`` hands every file to ``read``, ``verify``, ``import`` and
``sheet`` with limits on processor time and memory.
"""

from __future__ import annotations

import copy
import functools
import hashlib
import io
import json
import struct
import sys
import zlib
from collections.abc import Callable
from pathlib import Path

import pypdf

from shoplib.core.paths import DATA
from shoplib.record.jobfile_record import canonical, make_record
from shoplib.sheet import typeset

MAKERS: dict[str, Callable[[], bytes]] = {}


def file(name: str) -> Callable[[Callable[[], bytes]], Callable[[], bytes]]:
    def keep(make: Callable[[], bytes]) -> Callable[[], bytes]:
        MAKERS[name] = make
        return make

    return keep


# ------------------------------------------------------------------------------ a sheet to alter
SCATTER = {
    "stages": "40 N*m; +90 deg", "stages_source": "bench notes", "thread": "M10x1.5", "shank_length": "50 mm",
    "thread_length": "20 mm", "mu_thread": "0.12", "mu_head": "0.12", "mu_low": "0.10", "mu_high": "0.16",
    "bearing_outer": "16 mm", "bearing_hole": "11 mm", "property_class": "10.9", "uniform_strain": "5 %", "uniform_strain_source": "bench notes",
    "parts_stiffness": "2000 N/um", "torque_percent": "5 %", "angle_error": "3 deg", "yield_percent": "5 %",
}  # fmt: skip


@functools.cache
def small() -> tuple[str, bytes]:
    header = {"number": "H-1", "engine": "bench engine", "date": "2026-11-20", "done_by": "A. Learner"}
    entry = {"working": "torque_units", "inputs": {"torque": "40 N*m"}}
    record = make_record({"job": header, "entry": [entry]})
    return json.dumps(record), typeset(record)


def with_record(raw: bytes, pdf: bytes | None = None) -> bytes:
    """The small sheet with another record inside."""
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(pdf or small()[1]))
    names = writer.root_object["/Names"]["/EmbeddedFiles"]["/Names"]  # type: ignore[index] # of our own sheet
    names[names.index("record.json") + 1].get_object()["/EF"]["/F"].get_object().set_data(raw)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def entries(*several: dict[str, object], program: dict[str, str] | None = None) -> bytes:
    """A sheet whose record has these entries, with the result of the small one."""
    record = json.loads(small()[0])
    result = record["entries"][0]["result"]
    record["entries"] = [{**e, "result": copy.deepcopy(result)} for e in several]
    record["program"] |= program or {}
    return with_record(canonical(record))


# ------------------------------------------------------------------------------ sheets
file("many_draws.pdf")(
    lambda: entries(*[{"working": "preload_scatter", "inputs": {**SCATTER, "draws": "2000000"}}] * 150)
)
file("default_draws.pdf")(lambda: entries(*[{"working": "preload_scatter", "inputs": SCATTER}] * 200))
file("many_lines.pdf")(
    lambda: entries(
        {
            "working": "flatness_lines",
            "inputs": {"lines": [{"name": "a", "goes": "0.05 mm", "no_go": "0.06 mm"}] * 5000},
        }
    )
)
file("long_layout.pdf")(
    lambda: entries({"working": "compression_test", "inputs": {
        "readings": ["10 bar"] * 80_000, "layout": ["1"] * 80_000, "conditions": "x", "rule": "lowest/highest"}})
)  # fmt: skip
# Stand-ins for two sheets of 2.5 and 4.5 kB that were not verified within 100 s: the same quadratic work, larger.
file("stall_lines.pdf")(
    lambda: entries({"working": "flatness_lines", "inputs": {
        "lines": [{"name": "a", "goes": "0.05 mm", "no_go": "0.06 mm"}] * 16_000}})
)  # fmt: skip
file("stall_layout.pdf")(
    lambda: entries({"working": "compression_test", "inputs": {
        "readings": ["10 bar"] * 120_000, "layout": [str(k) for k in range(120_000)],
        "conditions": "x", "rule": "lowest/highest"}})
)  # fmt: skip
file("nested_inputs.pdf")(
    lambda: entries({"working": "torque_units", "inputs": {"torque": json.loads("[" * 35 + "]" * 35)}})
)
file("deep_record.pdf")(lambda: with_record(b'{"schema":"shoplib-record/1","a":' + b"[" * 900 + b"]" * 900 + b"}"))
file("very_deep_record.pdf")(lambda: with_record(b"[" * 200_000))
file("many_values.pdf")(lambda: with_record(b'{"schema":"shoplib-record/1","a":[' + b"[]," * 700_000 + b"[]]}"))
file("nan_record.pdf")(lambda: with_record(small()[0].replace("40.0", "NaN", 1).encode()))
file("long_number.pdf")(lambda: with_record(b'{"schema":"shoplib-record/1","a":' + b"9" * 4200 + b"}"))
file("huge_exponent.pdf")(lambda: entries({"working": "torque_units", "inputs": {"torque": "1e999999999 N*m"}}))
file("surrogate.pdf")(lambda: with_record(small()[0].replace("bench engine", "\\ud800").encode()))
file("names_a_file.pdf")(lambda: entries({"working": "tightening_order", "inputs": {"positions": "/dev/zero.csv"}}))
file("program_text.pdf")(lambda: with_record(json.dumps({**json.loads(small()[0]), "program": "x" * 100_000}).encode()))
file("other_version.pdf")(
    lambda: entries({"working": "torque_units", "inputs": {"torque": "40 N*m"}}, program={"shoplib": "0.1.0"})
)


@file("bomb.pdf")
def bomb() -> bytes:
    """A record of a gigabyte in a megabyte."""
    packer = zlib.compressobj(9, strategy=zlib.Z_RLE)  # as small, in less than half the time
    packed = b"".join(packer.compress(bytes(10_000_000)) for _ in range(100)) + packer.flush()
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(small()[1]))
    names = writer.root_object["/Names"]["/EmbeddedFiles"]["/Names"]  # type: ignore[index] # of our own sheet
    stream = names[names.index("record.json") + 1].get_object()["/EF"]["/F"].get_object()
    stream._data = packed
    stream[pypdf.generic.NameObject("/Filter")] = pypdf.generic.NameObject("/FlateDecode")
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def page_bomb(program: dict[str, str]) -> bytes:
    """Pages of 200 MB each in a few kilobytes."""
    record = json.loads(small()[0])
    record["program"] |= program
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(with_record(canonical(record))))
    stream = pypdf.generic.StreamObject()
    stream._data = zlib.compress(b"BT (x) Tj ET\n" * 5_000_000, 9)
    stream[pypdf.generic.NameObject("/Filter")] = pypdf.generic.NameObject("/FlateDecode")
    for page in writer.pages:
        page[pypdf.generic.NameObject("/Contents")] = writer._add_object(stream)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


file("page_bomb.pdf")(lambda: page_bomb({}))
file("page_bomb_of_another_version.pdf")(lambda: page_bomb({"typst": "0"}))


@file("many_pages.pdf")
def many_pages() -> bytes:
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(small()[1]))
    for _ in range(10_000):
        writer.add_blank_page(10, 10)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


@file("many_attachments.pdf")
def many_attachments() -> bytes:
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(small()[1]))
    for k in range(2_100):
        writer.add_attachment(f"{k:064}.jpg", b"x")
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


@file("cyclic.pdf")
def cyclic() -> bytes:
    """A page tree that holds itself."""
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(small()[1]))
    tree = writer.root_object["/Pages"]
    tree["/Kids"].append(writer.root_object.raw_get("/Pages"))  # type: ignore[index] # of our own sheet
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


file("junk.pdf")(lambda: b"%PDF-1.7\n" + hashlib.shake_256(b"junk").digest(1_000_000) * 48)
file("junk_with_end.pdf")(lambda: b"%PDF-1.7\n" + b"1 0 obj <<" * 4_000_000 + b"\nstartxref\n9\n%%EOF")
file("cut_short.pdf")(lambda: small()[1][: len(small()[1]) // 2])
file("empty.pdf")(lambda: b"")


# ------------------------------------------------------------------------------ job files
JOB = b'[job]\nnumber = "1"\nengine = "e"\ndate = 2026-11-20\ndone_by = "A"\n[[entry]]\nworking = "torque_units"\n'
file("arrays.toml")(lambda: b"x = " + b"[" * 200_000)
file("tables.toml")(lambda: b"x = " + b"{a = " * 40_000)
file("dotted.toml")(lambda: b"[" + b"a." * 100_000 + b"a]")
file("dotted_key.toml")(lambda: JOB + b"a." * 100_000 + b"a = 1")
file("headings.toml")(lambda: b"".join(b"[a%d.b.c.d.e.f]\n" % k for k in range(150_000)))
file("keys.toml")(lambda: b"".join(b"k%d=1\n" % k for k in range(300_000)))
file("quotes.toml")(lambda: b'x = """' + b'\\"""' * 1_200_000)
file("long_number.toml")(lambda: JOB + b"[entry.inputs]\ntorque = " + b"9" * 1_000_000)
file("hexadecimal.toml")(lambda: JOB + b"[entry.inputs]\ntorque = 0x" + b"f" * 1_000_000)
file("whole_number.toml")(lambda: JOB + b"[entry.inputs]\ntorque = 99999999999999999999")
file("draws.toml")(
    lambda: (
        JOB.partition(b"[[entry]]")[0]
        + b"".join(
            b'[[entry]]\nworking = "preload_scatter"\n[entry.inputs]\ndraws = 2000000\n'
            + b"".join(f"{k} = {json.dumps(v)}\n".encode() for k, v in SCATTER.items())
            for _ in range(150)
        )
    )
)
file("device.toml")(
    lambda: JOB.replace(b"torque_units", b"tightening_order") + b'[entry.inputs]\npositions = "/dev/zero.csv"'
)
file("long_text.toml")(lambda: JOB + b'title = "' + b"W" * 4_900_000 + b'"')
file("latin.toml")(lambda: JOB + b'title = "\xff\xfe"')


# ------------------------------------------------------------------------------ exported jobs
@functools.cache
def exported() -> str:
    return (DATA / "demo" / "whole_job.json").read_text(encoding="utf-8")


def forged(change: Callable[[list[dict[str, object]]], object]) -> bytes:
    """The invented job with other lines, all hashes made anew."""
    from shoplib.record.job import Line, digest_of

    whole = json.loads(exported())
    change(whole["lines"])
    before = hashlib.sha256(b"").hexdigest()
    for line in whole["lines"]:
        line["digest"] = before = digest_of(Line(**line), whole["job"]["uid"], before)
    return json.dumps(whole).encode()


def first_entry(lines: list[dict[str, object]]) -> dict[str, object]:
    return next(x["body"] for x in lines if x["kind"] == "entry")  # type: ignore[return-value] # of our own job


file("deep.json")(lambda: b"[" * 900 + b"]" * 900)
file("very_deep.json")(lambda: b"[" * 1_000_000)
file("values.json")(lambda: b"[" + b"[]," * 4_000_000 + b"[]]")
file("long_number.json")(lambda: b'{"schema": ' + b"9" * 1_000_000 + b"}")
file("nan.json")(lambda: exported().replace("1", "NaN", 1).encode())
file("no_checks.json")(lambda: forged(lambda lines: first_entry(lines)["result"].update(checks=None)))  # type: ignore[attr-defined] # a dict
file("long_label.json")(
    lambda: forged(lambda lines: first_entry(lines)["result"]["checks"][0].update(label="W" * 4000))  # type: ignore[index] # a dict
)
file("deep_body.json")(
    lambda: forged(lambda lines: first_entry(lines).update(inputs={"a": json.loads("[" * 30 + "]" * 30)}))
)


def picture(width: int, height: int) -> bytes:
    """A PNG of one colour, small as a file and large in memory."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    packer = zlib.compressobj(9)
    body = b"".join(packer.compress(bytes(1 + 3 * width)) for _ in range(height)) + packer.flush()
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


file("large.png")(lambda: picture(7740, 7740))
file("largest_allowed.png")(lambda: picture(4000, 4000))
file("not_a_picture.png")(lambda: bytes(1_000_000))


def write(folder: Path) -> list[Path]:
    """Write every file of the corpus into a folder."""
    for name, make in MAKERS.items():
        (folder / name).write_bytes(make())
    return [folder / name for name in MAKERS]


if __name__ == "__main__":
    print(*write(Path(sys.argv[1])), sep="\n")
