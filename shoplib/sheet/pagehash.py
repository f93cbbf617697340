"""One hash over everything that a PDF shows: its pages with their fonts and pictures, and its outline.

It is computed from the decoded content, not from the bytes of the file.  A program that only saves the file again
(other compression, other object numbers) does not change it; text added to a page does.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from typing import Any

from shoplib.sheet.pdf_signature import is_signature, only_signatures

_OF_THE_FILE = {"/Type", "/Pages", "/Metadata", "/AF", "/Version", "/Extensions", "/PieceInfo"}  # shows nothing
_BACK = {"/Parent", "/P", "/Prev", "/Last", "/ParentTree", "/ParentTreeNextKey", "/IDTree"}  # follows from the parent
_PACKING = {"/Length", "/Filter", "/DecodeParms", "/DL"}


def page_hash(reader: Any, *, structure: bool = False) -> str:
    """SHA-256, in hexadecimal, of what an opened PDF shows, without attachments and metadata.

    ``structure``: include the text for screen readers, which takes ten times as long.
    """
    return _Hash(reader, structure).of_document()


class _Hash:
    def __init__(self, reader: Any, structure: bool) -> None:
        self.left_out = _OF_THE_FILE if structure else _OF_THE_FILE | {"/StructTreeRoot"}
        self.pages = list(reader.pages)
        self.catalog = reader.root_object
        self.numbers = {p.indirect_reference.idnum: n for n, p in enumerate(self.pages) if p.indirect_reference}
        self.known: dict[int, bytes] = {}

    def of_document(self) -> str:
        whole = hashlib.sha256()
        count = self.catalog["/Pages"].get_object().get("/Count")
        if count != len(self.pages):  # a viewer may believe it, and show pages that do not exist
            whole.update(b"count" + str(count).encode())
        for page in self.pages:
            whole.update(self._of_page(page))
        for key in sorted(k for k in self.catalog if k not in self.left_out):
            value = self.catalog.raw_get(key)
            if key == "/AcroForm" and only_signatures(value.get_object()):
                continue
            if key == "/Names":
                names = value.get_object()
                value = {k: names.raw_get(k) for k in names if k != "/EmbeddedFiles"}
                if not value:
                    continue
            whole.update(key.encode() + self._of(value))
        return whole.hexdigest()

    def _of_page(self, page: Any) -> bytes:
        own = {k: page.raw_get(k) for k in page if k != "/Contents"}
        if "/Annots" in own:  # a signature that shows nothing does not change the page
            notes = [a for a in own["/Annots"].get_object() if not is_signature(a.get_object())]
            own = {k: v for k, v in own.items() if k != "/Annots"} | ({"/Annots": notes} if notes else {})
        for key in ("/MediaBox", "/CropBox", "/Rotate", "/Resources"):  # may be inherited
            above = page
            while key not in own and "/Parent" in above:
                above = above["/Parent"].get_object()
                if key in above:
                    own[key] = above.raw_get(key)
        if own.get("/Rotate") == 0:
            del own["/Rotate"]
        contents = page.get_contents()
        return self._of(own) + _sha(b"" if contents is None else contents.get_data())

    def _of(self, value: Any) -> bytes:
        from pypdf import generic as g

        if isinstance(value, g.IndirectObject):
            if value.idnum in self.numbers:
                return _sha(b"page %d" % self.numbers[value.idnum])
            if value.idnum not in self.known:
                self.known[value.idnum] = b"round"  # a placeholder: it may contain itself
                self.known[value.idnum] = self._of(value.get_object())
            return self.known[value.idnum]
        if isinstance(value, dict):
            stream: Any = value if isinstance(value, g.StreamObject) else None
            skipped = _BACK if stream is None else _BACK | _PACKING
            raw = getattr(value, "raw_get", value.get)
            parts = b"".join(k.encode() + self._of(raw(k)) for k in sorted(map(str, value)) if k not in skipped)
            return _sha(b"{" + parts + (b"" if stream is None else _sha(stream.get_data())))
        if isinstance(value, list):
            return _sha(b"[" + b"".join(self._of(x) for x in value))
        return _sha(b"".join(_plain(value)))


def _plain(value: Any) -> Iterator[bytes]:
    from pypdf import generic as g

    if isinstance(value, g.BooleanObject):
        yield b"b" + repr(value.value).encode()  # the object itself is always true
    elif isinstance(value, int | float):
        yield b"n" + f"{float(value):.4f}".encode()
    elif isinstance(value, g.NameObject):
        yield b"/" + str(value).encode("utf-8", "surrogateescape")
    elif isinstance(value, g.TextStringObject | g.ByteStringObject):
        yield b"t" + value.original_bytes
    else:
        yield b"x" + str(value).encode("utf-8", "surrogateescape")


def _sha(raw: bytes) -> bytes:
    return hashlib.sha256(raw).digest()
