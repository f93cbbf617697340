"""The file that an offline learner carries: work out, results back.  Signed, so that a forged or foreign file is named.

Each class has an Ed25519 key.  ``work_file`` gives a learner the assignments and a key of their own, with a
certificate of the class for that key.  ``result_file`` signs the answers with the learner's key.  ``read_result``
accepts a file whose certificate the class has signed for the learner it names, and whose answers nobody changed.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Mapping, Sequence
from typing import Any

import sqlalchemy as sa
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

from shoplib.classroom.classes import Answer, Assignment, Class, Classroom, Task
from shoplib.classroom.people import LEARNER, LOGIN, Person
from shoplib.core.errors import BadInput, Problem
from shoplib.core.reading_limits import Limit
from shoplib.record import class_tables as tables
from shoplib.record import validation
from shoplib.record.errors import NotAJob, Refused, StoreError
from shoplib.record.jobfile_record import canonical

WORK, RESULT = "shoplib class work 1", "shoplib class result 1"
SUFFIX_WORK, SUFFIX_RESULT = ".work.json", ".result.json"
LIMIT = Limit("a file of a class", size=30_000_000, depth=12, pieces=2_000_000)


class NotAccepted(StoreError):
    """Why a file is not accepted: ``forged``, ``foreign`` or ``unreadable``."""

    def __init__(self, kind: str, why: str) -> None:
        self.kind = kind
        super().__init__(f"{kind}: {why}")


def new_key() -> str:
    """A new private key, as text."""
    return base64.b64encode(Ed25519PrivateKey.generate().private_bytes_raw()).decode("ascii")


def _private(text: str) -> Ed25519PrivateKey:
    return Ed25519PrivateKey.from_private_bytes(base64.b64decode(text))


def public_of(private: str) -> str:
    """The public key that belongs to a private one."""
    return base64.b64encode(_private(private).public_key().public_bytes_raw()).decode("ascii")


def _signed(private: str, content: Mapping[str, Any]) -> str:
    return base64.b64encode(_private(private).sign(canonical(dict(content)))).decode("ascii")


def _stands(public: str, signature: str, content: Mapping[str, Any]) -> bool:
    try:
        key = Ed25519PublicKey.from_public_bytes(base64.b64decode(public, validate=True))
        key.verify(base64.b64decode(signature, validate=True), canonical(dict(content)))
    except (InvalidSignature, ValueError, TypeError):
        return False
    return True


# ------------------------------------------------------------------------------ out
def work_file(room: Classroom, of: Class, login: str, assignments: Sequence[Assignment]) -> bytes:
    """The assignments of one learner for a machine without a network.  It contains the learner's private key."""
    people = {p.login: p for p in room.people(of)}
    if login not in people or people[login].role != LEARNER:
        raise Refused(f"class {of.name} has no learner {login[:40]}")
    own = new_key()
    certificate: dict[str, Any] = {"class": of.uid, "login": login, "key": public_of(own)}
    certificate["signature"] = _signed(room.secret(of, "key"), certificate)
    seeds = {a.id: room.seats(a).get(login) for a in assignments}
    content = {
        "format": WORK,
        "class": {"uid": of.uid, "name": of.name},
        "learner": {"login": login, "name": people[login].name},
        "assignments": [
            {"uid": a.uid, "n": a.n, "kind": a.kind, "item": a.item, "opens": a.opens, "due": a.due,
             "seed": seeds[a.id]}
            for a in assignments
            if seeds[a.id] is not None
        ],
        "certificate": certificate,
        "key": own,
    }  # fmt: skip
    return json.dumps(content, indent=1, ensure_ascii=False).encode("utf-8")


def join(room: Classroom, raw: bytes) -> tuple[Class, str]:
    """Import a work file into the record of this machine; returns the class and the learner's login."""
    found = _parsed(raw, WORK)
    try:
        of, learner = found["class"], found["learner"]
        person = Person(str(learner["login"]), str(learner["name"]))
        texts = ("uid", "kind", "item", "opens", "due")
        todo: list[dict[str, Any]] = [
            {**{k: str(a[k]) for k in texts}, "n": int(a["n"]), "seed": int(a["seed"])} for a in found["assignments"]
        ]
        secrets = {"key": str(found["key"]), "certificate": json.dumps(found["certificate"])}
        public_of(secrets["key"])
    except (KeyError, TypeError, ValueError):
        raise NotAccepted("unreadable", "parts of the file are missing") from None
    if not LOGIN.fullmatch(person.login):
        raise NotAccepted("unreadable", "the login in it is not valid")
    with room._writing() as c:
        return _joined(c, room._now(), of, person, todo, secrets), person.login


def _joined(
    c: sa.Connection,
    at: str,
    of: Mapping[str, Any],
    person: Person,
    todo: list[dict[str, Any]],
    secrets: dict[str, str],
) -> Class:
    k = tables.classroom.c
    there = c.execute(sa.select(tables.classroom).where(k.uid == str(of["uid"]))).first()
    if there is None:
        values = {"uid": str(of["uid"]), "name": str(of["name"])[:80], "who": person.login, "at": at}
        there_id = int(c.execute(tables.classroom.insert().values(values).returning(k.id)).scalar_one())
        learner = {"class": there_id, "login": person.login, "name": person.name, "role": LEARNER, "present": True,
               "who": person.login, "at": at}  # fmt: skip
        c.execute(tables.roster.insert(), [learner])
        c.execute(
            tables.class_secret.insert(), [{"class": there_id, "what": w, "value": v} for w, v in secrets.items()]
        )
    else:
        there_id = there.id
        s = tables.class_secret.c
        if c.scalar(sa.select(s.value).where(s["class"] == there_id, s.what == "salt")) is not None:
            raise Refused("this record is the record of the class itself; join on the learner's machine")
    a = tables.assignment
    known = set(c.scalars(sa.select(a.c.uid).where(a.c["class"] == there_id)))
    for one in todo:
        if one["uid"] in known:
            continue
        seed = one.pop("seed")
        row = {**one, "class": there_id, "who": "", "at": at}
        made = c.execute(a.insert().values(row).returning(a.c.id)).scalar_one()
        c.execute(tables.seat.insert().values(assignment=made, login=person.login, seed=seed))
    return Class(there_id, str(of["uid"]), str(of["name"])[:80])


# ------------------------------------------------------------------------------ back
def result_file(room: Classroom, of: Class, login: str) -> bytes:
    """All answers of a learner to a class, signed with the learner's key."""
    key, certificate = room.secret(of, "key"), room.secret(of, "certificate")
    if not certificate:
        raise Refused(f"class {of.name} was not joined on this machine: join it with its work file first")
    attempts: list[dict[str, Any]] = []
    for task in room.tasks(login, also_closed=True):
        if task.of.id == of.id:
            attempts += [_attempt(task.assignment, row) for row in room.answers(task)]
    content: dict[str, Any] = {"format": RESULT, "certificate": json.loads(certificate), "attempts": attempts}
    return json.dumps({**content, "signature": _signed(key, content)}, ensure_ascii=False).encode("utf-8")


def _attempt(assignment: Assignment, row: Any) -> dict[str, Any]:
    return {"uid": row.uid, "assignment": assignment.uid, "item": row.item, "typed": row.typed,
            "body": json.loads(row.body) if row.body else {}, "seconds": row.seconds, "at": row.at}  # fmt: skip


def read_result(room: Classroom, raw: bytes) -> tuple[Class, str, list[tuple[Task, Answer]]]:
    """The class, the learner and the answers of a result file.  Raises NotAccepted."""
    found = _parsed(raw, RESULT)
    certificate = found.get("certificate")
    if not isinstance(certificate, dict):
        raise NotAccepted("unreadable", "the certificate is missing")
    of = next((x for x in room.classes() if x.uid == certificate.get("class")), None)
    if of is None:
        raise NotAccepted("foreign", "it belongs to a class that is not in this record")
    claim = {k: certificate.get(k) for k in ("class", "login", "key")}
    if not _stands(public_of(room.secret(of, "key")), str(certificate.get("signature", "")), claim):
        raise NotAccepted("foreign", "this centre did not sign its certificate")
    login = str(certificate["login"])
    signed = {k: found.get(k) for k in ("format", "certificate", "attempts")}
    if not _stands(str(certificate["key"]), str(found.get("signature", "")), signed):
        raise NotAccepted("forged", f"the answers of {login} were changed after they were signed")
    return of, login, _answers(room, of, login, found.get("attempts"))


def _answers(room: Classroom, of: Class, login: str, attempts: Any) -> list[tuple[Task, Answer]]:
    by_uid = {a.uid: a for a in room.assignments(of)}
    seeds = {a.uid: room.seats(a).get(login) for a in by_uid.values()}
    found = []
    try:
        for x in attempts:
            a, seed = by_uid[x["assignment"]], seeds[x["assignment"]]
            if seed is None:
                raise NotAccepted("foreign", f"{login} has no place in assignment {a.n}")
            problems: list[Problem] = []
            body = validation.tree(x["body"], "body", problems)
            if problems or not isinstance(body, dict):
                raise BadInput(problems)
            seconds = None if x["seconds"] is None else int(x["seconds"])
            answer = Answer(str(x["item"]), str(x["typed"]), body, seconds, str(x["uid"])[:64], str(x["at"])[:32])
            found.append((Task(of, a, login, seed), answer))
    except (KeyError, TypeError, ValueError):
        raise NotAccepted("unreadable", f"an answer of {login} cannot be read, or its assignment is unknown") from None
    return found


def _parsed(raw: bytes, wanted: str) -> dict[str, Any]:
    try:
        found = validation.read_json(raw, LIMIT)
    except NotAJob as error:
        raise NotAccepted("unreadable", f"the file {error}") from None
    if not isinstance(found, dict) or found.get("format") != wanted:
        kind = "work file" if wanted == WORK else "result file"
        raise NotAccepted("unreadable", f"this is not a {kind} of a class")
    return found
