"""Photographs: kept small and bare; what is none is refused."""

import hashlib
import io

import pytest
from PIL import Image

from shoplib.record import photos
from shoplib.record.errors import BadPhoto
from tests.record.store.helpers import WHO, picture, with_secrets
from tests.record_fixtures import NUMBER, protrusion


def test_a_photograph_is_kept_small_upright_and_bare(store):
    entry = store.keep(NUMBER, protrusion(), **WHO)
    raw = with_secrets((3000, 2000))
    store.attach(NUMBER, entry.uid, raw, **WHO, caption="crack at valve seat")
    (line,) = store.job(NUMBER).entries[0].photos
    kept, thumb = store.picture(line.body["picture"]), store.picture(line.body["thumb"])
    for content, side in ((kept, 2048), (thumb, 480)):
        with Image.open(io.BytesIO(content)) as image:
            assert image.format == "JPEG"
            assert max(image.size) == image.height == side  # turned upright
            assert not image.getexif()
            assert set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
        for secret in (b"Exif", b"CameraMaker", b"home address", b"secret profile"):
            assert secret in raw
            assert secret not in content
    assert (line.body["width"], line.body["height"]) == (1365, 2048)
    assert line.body["original"] == hashlib.sha256(raw).hexdigest()
    assert line.body["picture"] == hashlib.sha256(kept).hexdigest()
    assert store.job(NUMBER).changes(2) == ["A photograph was added to line 2 (Measurement): crack at valve seat."]


def test_photographs_follow_a_correction_and_can_be_struck(store):
    entry = store.keep(NUMBER, protrusion(), **WHO)
    photo = store.attach(NUMBER, entry.uid, picture(), **WHO)
    right = store.correct(NUMBER, entry.uid, protrusion(), **WHO, because="x")
    assert [p.uid for p in store.job(NUMBER).current_entries[0].photos] == [photo.uid]
    store.attach(NUMBER, right.uid, picture(), **WHO)  # the same picture again is stored once
    store.strike(NUMBER, photo.uid, **WHO, because="blurred")
    assert len(store.job(NUMBER).current_entries[0].photos) == 1


def bomb():
    """A PNG of 4.9 thousand million pixels in a few bytes."""
    raw = bytearray(picture((8, 8), "PNG"))
    import struct
    import zlib

    raw[16:24] = struct.pack(">II", 70_000, 70_000)
    raw[29:33] = struct.pack(">I", zlib.crc32(raw[12:29]))
    return bytes(raw)


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        (b"", "not a photograph"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "not a photograph"),
        (picture(format="GIF"), "not a photograph"),
        (picture()[:3000], "damaged"),
        (bomb(), "too large|cannot be read"),
        (picture((10_000, 7_000)), "70 ?000 × 7|too large"),
    ],
    ids=["empty", "svg", "gif", "cut off", "bomb", "70 megapixels"],
)
def test_what_is_no_photograph(lite, raw, says):
    entry = lite.keep(NUMBER, protrusion(), **WHO)
    with pytest.raises(BadPhoto, match=says):
        lite.attach(NUMBER, entry.uid, raw, **WHO)
    with pytest.raises(BadPhoto, match="too large"):
        photos.read_photo(b"\xff\xd8" + bytes(photos.LARGEST))
    assert lite.job(NUMBER).entries[0].photos == ()


def test_transparency_lands_on_white():
    out = io.BytesIO()
    Image.new("RGBA", (20, 20), (0, 0, 0, 0)).save(out, "PNG")
    with Image.open(io.BytesIO(photos.read_photo(out.getvalue()).content)) as image:
        assert image.getpixel((10, 10)) == (255, 255, 255)
