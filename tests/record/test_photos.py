"""Photographs that are damaged, cut short or not what they claim, and how large they may be."""

import io
import struct

import numpy as np
import pytest
from PIL import Image

from shoplib.record import photos
from shoplib.record.errors import BadPhoto
from tests.hostile.corpus import picture


def pattern(width=640, height=480):
    """A picture in which every block differs."""
    noise = np.random.default_rng(1).integers(0, 255, (height, width, 3), dtype="uint8")
    return Image.fromarray(noise)


def jpeg(image, **options):
    out = io.BytesIO()
    image.save(out, "JPEG", quality=85, **options)
    return out.getvalue()


@pytest.mark.parametrize("progressive", [False, True])
def test_a_jpeg_that_was_cut_short_is_refused_also_when_its_end_mark_was_put_back(progressive):
    raw = jpeg(pattern(), progressive=progressive)
    assert photos.read_photo(raw).width == 640
    assert photos.read_photo(raw + b"and what a phone appends").width == 640
    for share in (0.2, 0.5, 0.9, 0.99):
        for end in (b"", b"\xff\xd9"):
            with pytest.raises(BadPhoto, match=r"damaged"):
                photos.read_photo(raw[: int(len(raw) * share)] + end)


def test_a_jpeg_that_claims_more_pixels_than_its_bytes_can_hold_is_refused():
    raw = bytearray(jpeg(Image.new("RGB", (64, 64))))
    at = raw.index(b"\xff\xc0")
    raw[at + 5 : at + 9] = struct.pack(">HH", 7700, 7700)
    with pytest.raises(BadPhoto, match=r"cannot hold 7700 × 7700 pixels"):
        photos.read_photo(bytes(raw))


def test_a_picture_of_one_colour_is_no_liar():
    for size in ((64, 64), (4000, 3000)):
        assert photos.read_photo(jpeg(Image.new("RGB", size, "navy"), optimize=True)).width == min(size[0], 2048)


def test_what_must_be_decoded_whole_has_fewer_pixels():
    with pytest.raises(BadPhoto, match=r"at most 16 million"):
        photos.read_photo(picture(4100, 4100))
    with pytest.raises(BadPhoto, match=r"at most 16 million"):
        photos.read_photo(jpeg(Image.new("RGB", (4100, 4100)), progressive=True))
    assert photos.read_photo(jpeg(Image.new("RGB", (4100, 4100)))).width == photos.LONG_SIDE


def test_a_large_jpeg_is_decoded_in_small(monkeypatch):
    asked = []
    from PIL import JpegImagePlugin

    real = JpegImagePlugin.JpegImageFile.draft
    monkeypatch.setattr(JpegImagePlugin.JpegImageFile, "draft", lambda *a: asked.append(real(*a)))
    photos.read_photo(jpeg(Image.new("RGB", (6000, 4500))))
    assert asked
    assert asked[0][1][2:] != (6000, 4500)


def with_exif(taken, offset=None):
    """A JPEG as a camera writes it, with the time at which it was taken."""
    from PIL import Image

    exif = Image.Exif()
    part = exif.get_ifd(0x8769)
    part[0x9003] = taken
    if offset:
        part[0x9011] = offset
    out = io.BytesIO()
    Image.new("RGB", (64, 48), "gray").save(out, "JPEG", exif=exif)
    return out.getvalue()


@pytest.mark.parametrize(
    ("taken", "offset", "kept"),
    [
        ("2026:11:23 11:30:02", None, "2026-11-23 11:30:02"),
        ("2026:11:23 11:30:02", "+01:00", "2026-11-23 11:30:02 +01:00"),
        ("2026:11:23 11:30:02", "somewhere", "2026-11-23 11:30:02"),
        ("yesterday", None, ""),
    ],
)
def test_the_time_at_which_the_camera_took_it_is_kept_beside_it(taken, offset, kept):
    photo = photos.read_photo(with_exif(taken, offset))
    assert photo.taken == kept
    with Image.open(io.BytesIO(photo.content)) as image:
        assert not image.getexif(), "the stored picture has no metadata"
