"""Whether a changed sheet is found out, thousands of times: what did not change is calculated once.

Each part of ``verify`` stands alone, so a problem that one part finds is a problem of the sheet.  The parts that are
likely to find it are asked first.  A sheet in which they find nothing goes through the whole of ``verify``; only its
answer counts as "not found".
"""

import copy
import io

from pypdf import generic

from shoplib.record.errors import NotAJob
from shoplib.record.jobfile_record import canonical
from shoplib.sheet import attachments
from shoplib.sheet import verify as verifying
from shoplib.sheet.pagehash import _BACK, _Hash
from shoplib.sheet.verdict import State
from shoplib.sheet.verify import NotASheet, verify

CALCULATED_FROM = ("lines", "job", "paper", "blank", "extent", "program", "schema")


def found_out(pdf):
    """Is it refused or called wrong?"""
    try:
        return bool(verify(pdf).problems)
    except (NotASheet, NotAJob):
        return True


def _wrong(findings):
    return any(f.state is State.NOT_VERIFIED for f in findings)


class Records:
    """A sheet of a stored job in which only the record is exchanged."""

    def __init__(self, pdf):
        self.pdf, self.reader = pdf, attachments.opened(pdf)
        self.files = attachments.attached_to(self.reader)
        self._again = {}

    def _whole_again(self, record):
        """What the lines give, calculated once for the same lines."""
        key = canonical({k: record[k] for k in CALCULATED_FROM if k in record})
        if key not in self._again:
            self._again.clear()
            self._again[key] = self.really(record)
        return copy.deepcopy(self._again[key])

    def found(self, record, monkeypatch):
        raw = canonical(record)
        files = self.files | {attachments.ATTACHMENT: raw}
        try:
            sheet = verifying._Sheet(self.pdf, self.reader, files, raw, attachments.parsed(raw))
            if _wrong(verifying._chain(sheet)):
                return True
            with monkeypatch.context() as patched:
                self.really = verifying._whole_again
                patched.setattr(verifying, "_whole_again", self._whole_again)
                if _wrong(verifying._record(sheet)):
                    return True
        except (NotASheet, NotAJob):
            return True
        with monkeypatch.context() as patched:
            patched.setattr(attachments, "attached_to", lambda _: files)
            return found_out(self.pdf)


class Pages:
    """A sheet in which one byte of one object is changed; ``verify`` compares the pages with those of the sheet.

    The hash of the pages is made of the hashes of the objects.  So a changed object changes it if its own hash changes,
    and if another hash at its place changes the whole; the second is calculated once for each object.
    """

    def __init__(self, pdf):
        self.pdf, self.reader = pdf, attachments.opened(pdf)
        whole = _Hash(self.reader, structure=True)
        whole.of_document()
        self.whole, self.known = whole, whole.known
        self._own, self._counted = {}, {}
        self.pages = set(whole.numbers)
        self.used_by = {}
        for number in self.reader.xref[0]:
            for used in self._uses(self.reader.get_object(number)):
                self.used_by.setdefault(used, set()).add(number)

    def _uses(self, value):
        """The objects to which an object refers."""
        if isinstance(value, generic.IndirectObject):
            yield value.idnum
        elif isinstance(value, dict):
            for key in value:
                if key not in _BACK:
                    yield from self._uses(value.raw_get(key))
        elif isinstance(value, list):
            for x in list.__iter__(value):
                yield from self._uses(x)

    def _touched(self, number):
        """The object, and everything that refers to it."""
        found, waiting = set(), [number]
        while waiting:
            at = waiting.pop()
            if at not in found:
                found.add(at)
                waiting += self.used_by.get(at, ())
        return found

    def _read_as(self, pdf):
        """The file, opened with the table of objects that is known: their places are the same."""
        reader = copy.copy(self.reader)
        reader.stream = io.BytesIO(pdf)
        reader.resolved_objects, reader.flattened_pages, reader._validated_root = {}, None, None
        reader.trailer = generic.DictionaryObject(
            {k: generic.IndirectObject(v.idnum, v.generation, reader) if isinstance(v, generic.IndirectObject) else v
             for k, v in ((k, self.reader.trailer.raw_get(k)) for k in self.reader.trailer)}
        )  # fmt: skip
        return reader

    def _hash_of_object(self, pdf, number):
        """The object alone; what it refers to is unchanged."""
        made = copy.copy(self.whole)
        made.known = self.known.copy()
        del made.known[number]
        return made._of(generic.IndirectObject(number, 0, self._read_as(pdf)))

    def _counts(self, number):
        """Whether another hash of this object changes the hash of the pages."""
        if number not in self._counted:
            touched = self._touched(number)
            known = {k: v for k, v in self.known.items() if k not in touched}
            hashes = set()
            for own in (self.known[number], b"other"):
                made = copy.copy(self.whole)
                made.known = known | {number: own}
                hashes.add(made.of_document())
            self._own[number] = self._hash_of_object(self.pdf, number)
            self._counted[number] = len(hashes) == 2
        return self._counted[number]

    def found(self, number, forged):
        """``number``: of the object that is changed."""
        try:
            if (number in self.known and self._counts(number)
                    and self._hash_of_object(forged, number) != self._own[number]):  # fmt: skip
                return True
        except Exception:  # noqa: BLE001 -- pypdf raises many kinds; verify says what it makes of them
            pass
        return found_out(forged)
