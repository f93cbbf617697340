"""Every operation that writes, and what must hold when it is disturbed at any point.

Nothing acknowledged is lost, nothing is half done, a message is true and says what to do, and the same call made
again with the same uid is saved once.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PIL import Image

from shoplib.record.errors import StoreError, Uncertain
from shoplib.record.store import Store, new_id
from tests.record_fixtures import HEADER, programme, protrusion

WHO = {"who": "A. Learner"}
ENTRY = {"working": "angle_travel", "inputs": {"angle": "90 deg", "pitch": "1.5 mm"}}


@dataclass
class Made:
    """A job to work on, and a job from elsewhere."""

    number: str
    entry: str
    plan: str
    elsewhere: bytes
    elsewhere_uid: str

    @property
    def new(self) -> str:
        return self.number + "-new"


def make(store: Store, number: str, *, scratch: Path, closed: bool = False) -> Made:
    """A job with an entry and a programme."""
    store.start(**HEADER | {"number": number})
    entry = store.keep(number, protrusion("0,06 mm"), **WHO).uid
    plan = programme(store, number)
    if closed:
        store.close_job(number, root_cause="cracked liner", **WHO)
    uid = new_id()
    with Store.open(scratch / "elsewhere.db") as other:
        other.start(**HEADER | {"number": number + "-e"}, uid=uid)
        other.attach(number + "-e", other.keep(number + "-e", protrusion(), **WHO).uid, photograph(), **WHO)
        raw = other.export(number + "-e")
    return Made(number, entry, plan, raw, uid)


def photograph() -> bytes:
    out = io.BytesIO()
    Image.linear_gradient("L").resize((900, 600)).convert("RGB").save(out, "JPEG")
    return out.getvalue()


def tick(s: Store, m: Made, uid: str) -> Any:
    return s.tick(m.number, programme=m.plan, stage=1, bolt="1", value="40 N*m", initials="AL", uid=uid)


OPERATIONS: dict[str, Callable[[Store, Made, str], Any]] = {
    "start": lambda s, m, uid: s.start(**HEADER | {"number": m.new}, uid=uid),
    "amend": lambda s, m, uid: s.amend(m.number, complaint="loses coolant", because="asked", uid=uid, **WHO),
    "keep": lambda s, m, uid: s.keep(m.number, protrusion(), uid=uid, **WHO),
    "note": lambda s, m, uid: s.note(m.number, "log", {"rows": ["x" * 4000] * 5}, title="log", uid=uid, **WHO),
    "correct": lambda s, m, uid: s.correct(m.number, m.entry, protrusion(), because="misread", uid=uid, **WHO),
    "strike": lambda s, m, uid: s.strike(m.number, m.entry, because="wrong job", uid=uid, **WHO),
    "tick": tick,
    "attach": lambda s, m, uid: s.attach(m.number, m.entry, photograph(), uid=uid, **WHO),
    "sign": lambda s, m, uid: s.sign(m.number, role="done by", uid=uid, **WHO),
    "issue": lambda s, m, uid: s.issue(m.number, uid=uid, **WHO),
    "close": lambda s, m, uid: s.close_job(m.number, root_cause="cracked liner", uid=uid, **WHO),
    "reopen": lambda s, m, uid: s.reopen(m.number, because="it leaks again", uid=uid, **WHO),
    "draft": lambda s, m, uid: s.save_draft("form", {"uid": uid}, number=m.number, desk="bench"),
    "start_from": lambda s, m, uid: s.start_from({"job": HEADER | {"number": m.new}, "entry": [ENTRY] * 3}, uid=uid),
    "import": lambda s, m, uid: s.import_job(m.elsewhere),
}
LINES = {"draft": 0, "start_from": 4, "import": 3}  # that it adds; the others add one


def is_done(name: str, store: Store, made: Made, uid: str) -> bool:
    """Whether all that the operation adds is there; AssertionError when it is half there."""
    if name == "draft":
        draft = store.draft("form", number=made.number, desk="bench")
        return draft is not None and draft.inputs == {"uid": uid}
    if name == "start":
        return store.number_of(uid) == made.new
    if name in ("start_from", "import"):
        number = made.new if name == "start_from" else store.number_of(made.elsewhere_uid)
        if number is None or store.glance(number) is None:
            return False
        job = store.job(number)
        assert len(job.lines) == LINES[name] and not job.damaged, "half of the job is there"
        for line in job.lines:
            if line.kind == "photo":
                store.picture(line.body["picture"])
        return True
    found = [x for x in store.job(made.number).lines if x.uid == uid]
    assert len(found) <= 1
    if found and name == "attach":
        assert store.picture(found[0].body["picture"])
    return bool(found)


def attempt(name: str, store: Store, made: Made, uid: str) -> StoreError | None:
    """Do it; give the error that it raised.  Any other error than one of the store goes through."""
    try:
        OPERATIONS[name](store, made, uid)
    except StoreError as error:
        return error
    return None


def judge(name: str, error: StoreError | None, store: Store, made: Made, uid: str, before: list[str]) -> None:
    """``store``: opened anew, undisturbed.  ``before``: hashes of the lines that were acknowledged before."""
    assert [x.digest for x in store.job(made.number).lines][: len(before)] == before, "something acknowledged is lost"
    done = is_done(name, store, made, uid)
    if error is None:
        assert done, "acknowledged, and not there"
    elif isinstance(error, Uncertain):
        assert "not known whether it was saved" in str(error) and "Nothing was saved" not in str(error)
    else:
        assert not done, f"there, though it was refused: {error}"
        assert "Nothing was saved" in str(error)
    lines = sum(r.lines for r in store.jobs().rows)
    OPERATIONS[name](store, made, uid)  # the person presses the button again
    assert is_done(name, store, made, uid)
    assert sum(r.lines for r in store.jobs().rows) == lines + (0 if done else LINES.get(name, 1)), "saved twice"
