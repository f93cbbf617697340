"""Photographs: taken in small, without metadata, under the hash of what is kept."""

from __future__ import annotations

import hashlib
import io
import warnings
from dataclasses import dataclass
from typing import Any

from shoplib.record.trouble import BadPhoto

LARGEST = 30_000_000  # bytes as they come from the camera
MOST_PIXELS = 60_000_000
LONG_SIDE = 2048  # pixels kept
THUMB_SIDE = 480  # pixels for print: 40 mm at 300 dpi
_FORMATS = ("JPEG", "PNG", "WEBP")
_BARE = {"jfif", "jfif_version", "jfif_unit", "jfif_density", "dpi", "progressive", "progression"}


@dataclass(frozen=True)
class Photo:
    """What is kept of a photograph: two JPEGs and their hashes, and the hash of the file as it was handed in."""

    content: bytes
    thumb: bytes
    digest: str
    thumb_digest: str
    original_digest: str
    width: int
    height: int


def take_in(raw: bytes) -> Photo:
    """Decode, turn upright, make small and encode anew: place, time, owner and whatever else was in the file go.

    Raises BadPhoto for what is too large, damaged or no photograph.  Colours are taken as sRGB.
    """
    from PIL import ImageOps

    if len(raw) > LARGEST:
        raise BadPhoto(f"{len(raw)} bytes is too large for a photograph; at most {LARGEST}")
    with _opened(raw) as image:
        try:
            upright = ImageOps.exif_transpose(image)
            rgb = _on_white(upright)
        except (OSError, ValueError, SyntaxError, MemoryError) as error:
            raise BadPhoto(f"the photograph is damaged ({str(error)[:80]})") from None
    content, thumb = _encode(rgb, LONG_SIDE, 85), _encode(rgb, THUMB_SIDE, 80)
    with _opened(content) as kept:
        width, height = kept.size
    return Photo(content, thumb, _sha(content), _sha(thumb), _sha(raw), width, height)


def check(content: bytes, digest: str) -> None:
    """A photograph from an exported job: what its hash says, small, and bare of metadata.  Raises BadPhoto."""
    if _sha(content) != digest:
        raise BadPhoto("a photograph is not the one whose hash is recorded")
    with _opened(content) as image:
        if image.format != "JPEG" or max(image.size) > LONG_SIDE or set(image.info) - _BARE:
            raise BadPhoto("a photograph is not in the form in which this program keeps them")
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
        raise BadPhoto(f"this is not a photograph; {', '.join(_FORMATS)} are taken") from None
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        raise BadPhoto(f"the photograph cannot be read ({str(error)[:80]})") from None
    if image.width * image.height > MOST_PIXELS:  # known from the head, before anything is decoded
        raise BadPhoto(f"{image.width} × {image.height} pixels is too large; at most {MOST_PIXELS // 10**6} million")
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
    small.info = {}  # comments and profiles ride here
    small.thumbnail((side, side))
    out = io.BytesIO()
    small.save(out, "JPEG", quality=quality, optimize=True)
    return out.getvalue()


def _sha(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
