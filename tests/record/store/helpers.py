"""What the tests of the store share: a person, ticks, photographs, changed exports."""

import io

from PIL import Image

from shoplib.record.store import new_id
from tests.record_fixtures import NUMBER

WHO = {"who": "A. Learner"}


def fields_of(error):
    return {p.field for p in error.value.problems}


# ------------------------------------------------------------------------------ ticks
def tick(store, plan, **more):
    said = {"stage": 1, "bolt": "1", "value": "40 N*m", "initials": "AL", "uid": new_id()} | more
    return store.tick(NUMBER, programme=plan, **said)


# ------------------------------------------------------------------------------ photographs
def picture(size=(900, 600), format="JPEG", **save):
    out = io.BytesIO()
    Image.linear_gradient("L").resize(size).convert("RGB").save(out, format, **save)
    return out.getvalue()


def with_secrets(size=(900, 600)):
    exif = Image.Exif()
    exif[0x0112] = 6  # lies on its side
    exif[0x010F] = "CameraMaker"
    exif.get_ifd(0x8825)[1] = "N"  # where it was taken
    return picture(size, exif=exif, comment=b"home address", icc_profile=b"secret profile")
