"""What is stale, and why: lines by hand, each rule alone."""

from types import SimpleNamespace

import pytest

from shoplib.record.staleness import guessed, why_stale


def line(n, kind="entry", about=None, program="0.2.0", **body):
    return SimpleNamespace(uid=f"u{n}", n=n, kind=kind, about=about, name=f"line {n}", program=program, body=body)


def reasons(*lines):
    return {uid: list(why) for uid, why in why_stale(lines).items()}


def test_a_source_that_was_corrected_or_struck_out():
    first, second = line(1), line(2, sources=["u1"])
    assert reasons(first, second) == {}
    (corrected,) = reasons(first, second, line(3, about="u1"))["u2"]
    assert corrected.startswith("line 1, ") and corrected.endswith("was corrected by line 3")
    assert "assumed" not in corrected
    (struck,) = reasons(first, second, line(3, kind="strike", about="u1"))["u2"]
    assert struck.startswith("line 1, ") and struck.endswith("was struck out by line 3")
    assert reasons(first, second, line(3, kind="photo", about="u1")) == {}, "a photograph corrects nothing"


def test_a_source_that_is_stale_itself_or_missing():
    found = reasons(line(1), line(2, sources=["u1"]), line(3, sources=["u2"]), line(4, about="u1"))
    (stale,) = found["u3"]
    assert stale.startswith("line 2, ") and stale.endswith("is itself stale")
    (missing,) = reasons(line(2, sources=["u1"]))["u2"]
    assert missing.endswith("is missing")


@pytest.mark.parametrize("kind", ["tick", "photo", "strike"])
def test_a_fact_is_never_stale(kind):
    assert reasons(line(1), line(2, kind=kind, sources=["u1"]), line(3, about="u1")) == {}


def test_a_note_may_be_stale_and_what_was_corrected_is_not_asked_about():
    assert "u2" in reasons(line(1), line(2, kind="note", sources=["u1"]), line(3, about="u1"))
    assert reasons(line(1), line(2, sources=["u1"]), line(3, about="u1"), line(4, about="u2")) == {}


def test_a_version_that_guessed_its_sources_says_assumed():
    old = line(2, program="0.1.0", sources=["u1"])
    assert guessed(old) and not guessed(line(2, program="0.2.0")) and not guessed(line(2, program="0.10.0"))
    (why,) = reasons(line(1), old, line(3, about="u1"))["u2"]
    assert "assumed" in why


# ------------------------------------------------------------------------------ values that a person took over
def took(uid="u1", take="inputs/torque"):
    return {"torque": {"uid": uid, "take": take}}


def entry(n, torque, angle="90 deg", **more):
    return line(n, inputs={"torque": torque, "angle": angle}, **more)


def test_a_value_that_was_taken_is_stale_only_when_it_itself_is_corrected():
    source, user = entry(1, "40 N*m"), line(2, origins=took())
    assert reasons(source, user) == {}
    assert reasons(source, user, entry(3, "40 N*m", "95 deg", about="u1")) == {}, "another value was corrected"
    changed = reasons(source, user, entry(3, "42 N*m", about="u1"))
    assert changed == {"u2": ["line 1, from which torque was taken, was corrected by line 3"]}


def test_a_correction_of_a_correction_is_followed_to_its_end():
    source, user = entry(1, "40 N*m"), line(2, origins=took())
    back = reasons(source, user, entry(3, "42 N*m", about="u1"), entry(4, "40 N*m", about="u3"))
    assert back == {}, "it reads again what was taken"
    further = reasons(source, user, entry(3, "40 N*m", about="u1"), entry(4, "44 N*m", about="u3"))
    assert further == {"u2": ["line 1, from which torque was taken, was corrected by line 4"]}


def test_a_value_whose_source_was_struck_out_or_is_missing():
    source, user = entry(1, "40 N*m"), line(2, origins=took())
    struck = reasons(source, user, line(3, kind="strike", about="u1"))
    assert struck == {"u2": ["line 1, from which torque was taken, was struck out by line 3"]}
    twice = reasons(source, user, line(3, kind="strike", about="u1"), line(4, kind="strike", about="u3"))
    assert twice == struck, "a strike stands"
    assert reasons(user) == {"u2": ["the entry from which torque was taken is missing"]}
