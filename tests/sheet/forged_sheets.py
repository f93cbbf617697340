"""Forged sheets of a whole job for tests: a value changed, hashes made anew, the record replaced."""

import copy
import io
import json
import re

import pypdf

from shoplib.record.errors import NotAJob
from shoplib.record.job import Line
from shoplib.sheet.verify import NotASheet, verify


def squeezed(text):
    """Without blanks and break marks: how a line is broken is the template's affair."""
    return re.sub(r"[\s\u200b]+", "", text)


def rehashed(whole):
    """An exported job with hashes that fit its lines, as a careful forger would make them."""
    from shoplib.record.job import START, digest_of

    before = START
    for line in whole["lines"]:
        line["digest"] = before = digest_of(Line(**line), whole["job"]["uid"], before)
    return json.dumps(whole).encode()


def attached(writer, suffix):
    """Streams of the attachments whose name ends so."""
    names = writer.root_object["/Names"]["/EmbeddedFiles"]["/Names"]
    return [names[k + 1].get_object()["/EF"]["/F"].get_object() for k in range(0, len(names), 2)
            if str(names[k]).endswith(suffix)]  # fmt: skip


def rewritten(pdf, change):
    """The PDF after ``change(writer)``."""
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(pdf))
    change(writer)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def replace_record(pdf, raw):
    """The same pages and photographs with another record inside."""
    return rewritten(pdf, lambda w: attached(w, "record.json")[0].set_data(raw))


def changed(value):
    """Another value of the same kind."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, int | float):
        return value + 1
    if value is None:
        return "x"
    if re.fullmatch(r"[0-9a-f]{64}", value):
        return value[:-1] + ("0" if value[-1] != "0" else "1")
    return value + "x"


def with_value(record, path, value):
    forged = copy.deepcopy(record)
    at = forged
    for key in path[:-1]:
        at = at[key]
    at[path[-1]] = value
    return forged


def found_out(pdf):
    """Is it refused or called wrong?"""
    try:
        return bool(verify(pdf).problems)
    except (NotASheet, NotAJob):
        return True
