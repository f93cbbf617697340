"""Photographs: stored at reduced size, without metadata, under the hash of the stored picture."""

from __future__ import annotations

import hashlib
import io
import re
import warnings
from dataclasses import dataclass
from typing import Any

from shoplib.core.reading_limits import PHOTOGRAPH
from shoplib.record.errors import BadPhoto

LARGEST = PHOTOGRAPH.size  # bytes, as the camera wrote it
MOST_PIXELS = PHOTOGRAPH.pieces or 0  # of a JPEG, which is decoded at reduced size
MOST_PIXELS_WHOLE = (
    16_000_000  # of formats that must be decoded at full size first: four bytes per pixel, some of it twice
)
PIXELS_PER_BYTE = 512  # of a JPEG, at most: two bits for each block of 8 × 8, if it were all one colour
LONG_SIDE = 2048  # pixels stored
THUMB_SIDE = 480  # pixels for print: 40 mm at 300 dpi
_FORMATS = ("JPEG", "PNG", "WEBP")
_BARE = {"jfif", "jfif_version", "jfif_unit", "jfif_density", "dpi", "progressive", "progression"}


@dataclass(frozen=True)
class Photo:
    """What is stored of a photograph: two JPEGs and their hashes, and the hash of the original file."""

    content: bytes
    thumb: bytes
    digest: str
    thumb_digest: str
    original_digest: str
    width: int
    height: int
    taken: str = ""  # when, as the camera wrote it into the original; "" if it did not


def read_photo(raw: bytes) -> Photo:
    """Decode, turn upright, reduce and encode again: this removes place, owner and all other metadata.

    The time at which it was taken is kept beside it (``taken``).

    Raises BadPhoto for a file that is too large, damaged or not a photograph.  Colours are treated as sRGB.

    :param raw: the bytes of the file
    """
    if len(raw) > LARGEST:
        raise BadPhoto(f"{len(raw)} bytes is too large for a photograph; at most {LARGEST}")
    rgb = _decoded(raw)
    if (end := _end_of_jpeg(raw)) and _decoded(raw[:end] + _NO_PICTURE + raw[end:]).tobytes() != rgb.tobytes():
        raise BadPhoto("the photograph is damaged (its file was cut short)")
    content, thumb = _encode(rgb, LONG_SIDE, 85), _encode(rgb, THUMB_SIDE, 80)
    with _opened(content) as kept:
        width, height = kept.size
    return Photo(content, thumb, _sha(content), _sha(thumb), _sha(raw), width, height, taken_at(raw))


_EXIF, _TAKEN, _OFFSET = 0x8769, 0x9003, 0x9011  # tags of Exif: its part, DateTimeOriginal, OffsetTimeOriginal


def taken_at(raw: bytes) -> str:
    """When the camera says that the photograph was taken, as 2026-11-23 11:30:02 +01:00; "" if it does not say.

    :param raw: the bytes of the file
    """
    try:
        with _opened(raw) as image:
            part = image.getexif().get_ifd(_EXIF)
    except (BadPhoto, OSError, ValueError, SyntaxError, KeyError, TypeError):
        return ""
    time = re.fullmatch(r"(\d{4}):(\d\d):(\d\d) (\d\d:\d\d:\d\d)", str(part.get(_TAKEN, "")).strip("\0 "))
    if not time:
        return ""
    offset = str(part.get(_OFFSET, "")).strip("\0 ")
    zone = f" {offset}" if re.fullmatch(r"[+-]\d\d:\d\d", offset) else ""
    return f"{time[1]}-{time[2]}-{time[3]} {time[4]}{zone}"


def _decoded(raw: bytes) -> Any:
    """The photograph upright, in RGB, at the stored size; never decoded larger than necessary."""
    from PIL import ImageOps

    with _opened(raw) as image:
        try:
            image.draft("RGB", (LONG_SIDE, LONG_SIDE))  # a JPEG is decoded at half, a quarter or an eighth
            image.load()
            image.thumbnail((2 * LONG_SIDE, 2 * LONG_SIDE))
            upright = ImageOps.exif_transpose(image)
            rgb = _on_white(upright)
        except (OSError, ValueError, SyntaxError, MemoryError) as error:
            raise BadPhoto(f"the photograph is damaged ({str(error)[:80]})") from None
    rgb.thumbnail((LONG_SIDE, LONG_SIDE))
    return rgb


# A decoder fills in the missing part of a JPEG without an error.  Bytes before the end mark are decoded only if the
# picture is not complete by then, so bytes inserted there change the picture only if it was cut short.
_NO_PICTURE = bytes((37 * k * k + 11 * k) % 251 for k in range(4096))


def _end_of_jpeg(raw: bytes) -> int | None:
    """The position of the end mark of a JPEG, or None if this is not a JPEG or has no end mark."""
    if not raw.startswith(b"\xff\xd8"):
        return None
    at = 2
    while (at := raw.find(b"\xff", at)) >= 0 and at + 1 < len(raw):
        mark = raw[at + 1]
        if mark == 0xD9:
            return at
        if mark in (0x00, 0xFF) or 0xD0 <= mark <= 0xD7:  # inside the picture's data
            at += 1 if mark == 0xFF else 2
        else:
            at += 2 + int.from_bytes(raw[at + 2 : at + 4], "big")
    return None


def check(content: bytes, digest: str) -> None:
    """Check a photograph from an exported job: its hash, its size, no metadata.  Raises BadPhoto.

    :param content: the JPEG
    :param digest: SHA-256, in hexadecimal
    """
    if _sha(content) != digest:
        raise BadPhoto("a photograph is not the one whose hash is recorded")
    with _opened(content) as image:
        if image.format != "JPEG" or max(image.size) > LONG_SIDE or set(image.info) - _BARE:
            raise BadPhoto("a photograph is not in the form in which this program stores photographs")
        try:
            image.load()
        except (OSError, ValueError, SyntaxError) as error:
            raise BadPhoto(f"a photograph is damaged ({str(error)[:80]})") from None


def _opened(raw: bytes) -> Any:
    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # our own limit is lower, see below
            image = Image.open(io.BytesIO(raw), formats=_FORMATS)
    except UnidentifiedImageError:
        raise BadPhoto(f"this is not a photograph; allowed: {', '.join(_FORMATS)}") from None
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        raise BadPhoto(f"the photograph cannot be read ({str(error)[:80]})") from None
    pixels, decoded_small = image.width * image.height, image.format == "JPEG" and not image.info.get("progressive")
    most = MOST_PIXELS if decoded_small else MOST_PIXELS_WHOLE
    if pixels > most:  # known from the file header, before anything is decoded
        raise BadPhoto(f"{image.width} × {image.height} pixels is too large; at most {most // 10**6} million")
    if image.format == "JPEG" and pixels > PIXELS_PER_BYTE * len(raw):
        raise BadPhoto(
            f"the photograph is damaged ({len(raw)} bytes cannot hold {image.width} × {image.height} pixels)"
        )
    return image


def _on_white(image: Any) -> Any:
    from PIL import Image

    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        layer = image.convert("RGBA")
        ground = Image.new("RGB", layer.size, "white")
        ground.paste(layer, mask=layer.getchannel("A"))
        return ground
    return image.convert("RGB")


def _encode(image: Any, side: int, quality: int) -> bytes:
    small = image.copy()
    small.info = {}  # comments and profiles are stored here
    small.thumbnail((side, side))
    out = io.BytesIO()
    small.save(out, "JPEG", quality=quality, optimize=True)
    return out.getvalue()


def _sha(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
