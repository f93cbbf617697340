"""Parts of a sheet for tests: a small job, the words of its pages, its record, its attachment replaced."""

import functools
import io

import pypdf

from shoplib.record import jobfile_record as document
from shoplib.record.header import NAMES


def job(**changes):
    """A small job: one entry, one page."""
    header = {"number": "T-1", "engine": "bench engine", "date": "2026-11-20", "done_by": "A. Learner"}
    entry = {"working": "torque_units", "inputs": {"torque": "40 N*m"}}
    header |= {k: v for k, v in changes.items() if k in NAMES}
    entry |= {k: v for k, v in changes.items() if k in document.ENTRY_FIELDS}
    return {"job": header, "entry": [entry]}


def replace_attachment(pdf, raw, name="record.json"):
    """The same pages with another record inside."""
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(pdf))
    names = writer.root_object["/Names"]["/EmbeddedFiles"]["/Names"]
    file = names[names.index(name) + 1].get_object()
    file["/EF"]["/F"].get_object().set_data(raw)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


@functools.lru_cache(100)
def texts_of(pdf):
    """The text of each page, read once for all tests that ask for it."""
    return tuple(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages)


def words_of(pdf):
    return "\n".join(texts_of(pdf))


def every_leaf(value, path=()):
    if isinstance(value, dict):
        for key, item in value.items():
            yield from every_leaf(item, (*path, key))
    elif isinstance(value, list):
        for n, item in enumerate(value):
            yield from every_leaf(item, (*path, n))
    else:
        yield path, value
