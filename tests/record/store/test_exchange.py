"""Export and import: every change is found, and hostile text refused."""

import hashlib
import io
import json

import jsonschema
import pytest

from shoplib.core.errors import BadInput
from shoplib.record import exchange, validation
from shoplib.record.errors import NotAJob
from shoplib.record.store import Refused, Store
from tests import ci_part
from tests.record.store.helpers import WHO, tick, with_secrets
from tests.record_fixtures import HEADER, KINDS, NUMBER, fresh, programme, protrusion, started


# ------------------------------------------------------------------------------ exchange
@pytest.fixture
def exported(lite):
    entry = lite.keep(NUMBER, protrusion("0,60 mm"), **WHO)
    lite.keep(NUMBER, protrusion(), **WHO, sources=[entry.uid])
    lite.correct(NUMBER, entry.uid, protrusion(), **WHO, because="misread")
    tick(lite, programme(lite))
    lite.attach(NUMBER, entry_uid(lite), with_secrets(), **WHO, caption="seat")
    lite.strike(NUMBER, lite.job(NUMBER).stale[0].uid, **WHO, because="worked on another sheet")
    lite.sign(NUMBER, who="A", role="done by")
    lite.issue(NUMBER, who="A")
    lite.close_job(NUMBER, who="A", root_cause="gasket")
    lite.reopen(NUMBER, who="A", because="more")
    return lite.export(NUMBER)


def entry_uid(store):
    return store.job(NUMBER).current_entries[0].uid


@pytest.mark.parametrize("kind", KINDS)
def test_a_job_travels_whole(exported, tmp_path, kind):
    jsonschema.Draft7Validator.check_schema(exchange.job_schema())
    jsonschema.Draft7Validator(exchange.job_schema()).validate(json.loads(exported))
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    with fresh(kind, elsewhere) as place, Store.open(place) as store:
        assert store.import_job(exported) == (NUMBER, 12)
        assert store.export(NUMBER) == exported  # byte for byte
        assert store.check() == []
        assert store.import_job(exported) == (NUMBER, 0)  # again: nothing new
        assert store.export(NUMBER) == exported
        photo = store.job(NUMBER).current_entries[0].photos[0]
        assert store.picture(photo.body["picture"]).startswith(b"\xff\xd8")


def test_a_job_that_went_on_elsewhere_comes_home(exported, lite, tmp_path):
    with Store.open(tmp_path / "bay2.db") as bay:
        bay.import_job(exported)
        bay.keep(NUMBER, protrusion("0,05 mm"), **WHO)
        longer = bay.export(NUMBER)
    lite.import_job(longer)
    assert lite.export(NUMBER) == longer
    assert lite.import_job(exported) == (NUMBER, 0)  # an older copy adds nothing
    assert lite.export(NUMBER) == longer
    with Store.open(tmp_path / "bay3.db") as bay:
        bay.import_job(exported)
        bay.keep(NUMBER, protrusion("0,04 mm"), **WHO)
        with pytest.raises(Refused, match="differs from line 13"):
            lite.import_job(bay.export(NUMBER))
    assert lite.export(NUMBER) == longer


def test_a_number_that_is_taken_is_given_another(exported, tmp_path):
    with started(tmp_path / "other.db") as store:
        with pytest.raises(Refused, match="already exists"):
            store.import_job(exported)
        assert store.import_job(exported, number="26-014/2", who="B. Instructor").number == "26-014/2"
        assert store.check() == []
        assert store.job("26-014/2").header["number"] == "26-014/2"
        assert "imported as 26-014/2; its own number was 26-014" in store.job("26-014/2").lines[-1].body["because"]
        assert {r.number for r in store.jobs().rows} == {NUMBER, "26-014/2"}


def changed(exported, change):
    whole = json.loads(exported)
    change(whole)
    return json.dumps(whole).encode()


def spoil(*path, value="x"):
    def change(whole):
        for key in path[:-1]:
            whole = whole[key]
        whole[path[-1]] = value

    return change


def every_value(value, path=()):
    if isinstance(value, dict):
        for k, v in value.items():
            yield from every_value(v, (*path, k))
    elif isinstance(value, list):
        for k, v in enumerate(value):
            yield from every_value(v, (*path, k))
    else:
        yield path, value


def test_every_single_value_that_was_changed_is_found(exported, tmp_path):
    whole = json.loads(exported)
    paths = [(p, v) for p, v in every_value(whole) if p != ("program",)]
    assert len(paths) > 250
    with Store.open(tmp_path / "new.db") as store:
        for path, value in ci_part.a_part(paths, 3):
            other = value + 1 if isinstance(value, int | float) and not isinstance(value, bool) else f"{value}x"
            if path == ("job", "number"):
                continue  # not under the hash: the header's own lines give the number
            with pytest.raises((NotAJob, Refused, BadInput)):
                store.import_job(changed(exported, spoil(*path, value=other)))
        assert store.jobs().found == 0
        store.import_job(exported)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda w: w["lines"].pop(3), "not numbered"),
        (lambda w: w["lines"].pop(), None),
        (lambda w: w["lines"].reverse(), "not numbered"),
        (lambda w: w.update(extra=1), "must not contain"),
        (lambda w: w["lines"][0].update(extra=1), "must not contain"),
        (lambda w: w["lines"][1]["body"].update(colour="red"), "must not contain"),
        (lambda w: w["pictures"].clear(), "photographs"),
        (lambda w: w["pictures"].update({"0" * 64: "AAAA"}), "hash"),
        (spoil("lines", 1, "kind", value="sign"), "role|covers|must not contain"),
        (spoil("lines", 1, "at", value="yesterday"), "pattern"),
        (spoil("job", "uid", value="../../etc"), "pattern"),
        (spoil("schema", value="shoplib-job/2"), "not an exported job"),
    ],
)
def test_a_file_out_of_form(exported, tmp_path, change, says):
    with Store.open(tmp_path / "new.db") as store:
        raw = changed(exported, change)
        if says is None:  # the last line left out is a shorter job, and says so by its lines
            store.import_job(raw)
            return
        with pytest.raises(NotAJob, match=says):
            store.import_job(raw)
        assert store.jobs().found == 0


def forged(exported, change):
    """A file whose hashes were made anew after the change: only the rules stand in its way."""
    from shoplib.record.job import Line, digest_of

    whole = json.loads(exported)
    change(whole["lines"])
    before = hashlib.sha256(b"").hexdigest()
    for line in whole["lines"]:
        line["digest"] = before = digest_of(Line(**line), whole["job"]["uid"], before)
    return json.dumps(whole).encode()


def deep(levels):
    value = "x"
    for _ in range(levels):
        value = [value]
    return value


@pytest.mark.parametrize(
    "change",
    [
        lambda lines: lines[1]["body"]["inputs"].update(value="0,06\u202emm"),
        lambda lines: lines[1]["body"]["inputs"].update(value="\x07"),
        lambda lines: lines[1]["body"]["inputs"].update({"a\u200b": "x"}),
        lambda lines: lines[1]["body"]["inputs"].update(value="x" * 50_000_000),
        lambda lines: lines[1]["body"]["inputs"].update(value=deep(40)),
        lambda lines: lines[1]["body"]["inputs"].update(value=10**60),
        lambda lines: lines[1]["body"]["inputs"].update(bore="../../../etc/passwd.csv"),
        lambda lines: lines[1].update(who="A\nB"),
        lambda lines: lines[1].update(who=""),
        lambda lines: lines[2]["body"].update(sources=[lines[3]["uid"]]),
        lambda lines: lines[3].update(about=None),
        lambda lines: lines[3]["body"].pop("because"),
        lambda lines: lines[3].update(about=lines[0]["uid"]),
        lambda lines: lines[3].update(uid=lines[2]["uid"]),
        lambda lines: lines[9]["body"].update(letter="Z"),
        lambda lines: lines[0]["body"]["fields"].update(engine=""),
        lambda lines: lines[0]["body"]["fields"].update(colour="red"),
    ],
)
def test_a_forged_file_still_meets_the_rules(exported, tmp_path, change):
    with Store.open(tmp_path / "new.db") as store:
        assert store.import_job(forged(exported, lambda lines: None))  # the forger's tool works
    with Store.open(tmp_path / "newer.db") as store:
        with pytest.raises((NotAJob, Refused, BadInput)) as error:
            store.import_job(forged(exported, change))
        assert "hash" not in str(error.value)
        assert len(str(error.value)) < 600
        assert store.jobs().found == 0


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        (b"[" * 200_000, "nested too deeply|not JSON"),
        (b"[" + b"[]," * 3_000_000 + b"[]]", "values"),
        (b"{}", "not an exported job"),
        (b"\xff\xfe\x00", "UTF-8"),
        (b'{"a": 1, "a": 2}', "duplicate key"),
        (b'{"schema": ' + b"9" * 100_000 + b"}", "not JSON"),
        (b"", "not JSON"),
    ],
)
def test_json_bombs(lite, raw, says):
    with pytest.raises(NotAJob, match=says):
        lite.import_job(raw)
    assert lite.jobs().found == 1


def test_a_file_too_large_is_refused_before_it_is_read(lite, monkeypatch):
    monkeypatch.setattr(validation, "LARGEST_FILE", 1000)
    with pytest.raises(NotAJob, match="too large"):
        lite.import_job(b" " * 1001)


@pytest.mark.parametrize("bad", ["a\u202eb", "a\x00b", "a\x1b[31mb", "a\u200bb", "a\ud800b", "\U000f0000", "x" * 4001])
def test_hostile_text_is_refused_at_every_input(store, bad):
    entry = store.keep(NUMBER, protrusion(), **WHO).uid
    for call in (
        lambda: store.keep(NUMBER, protrusion(), **WHO, remark=bad),
        lambda: store.keep(NUMBER, protrusion(), who=bad),
        lambda: store.note(NUMBER, "log", {"a": [{"b": bad}]}, title="t", **WHO),
        lambda: store.amend(NUMBER, **WHO, engine=bad),
        lambda: store.start(**HEADER | {"number": bad}),
        lambda: store.strike(NUMBER, entry, **WHO, because=bad),
    ):
        with pytest.raises(BadInput) as error:
            call()
        assert len(str(error.value)) < 300
    assert len(store.job(NUMBER).lines) == 2
    assert store.check() == []


def test_a_cell_of_fifty_megabytes(lite):
    with pytest.raises(BadInput, match=r"content: 5\d{7} characters is too large"):
        lite.note(NUMBER, "log", {"cell": "x" * 50_000_000}, title="t", **WHO)
    with pytest.raises(BadInput, match="too large"):
        lite.note(NUMBER, "log", {"cells": ["x" * 4000] * 6000}, title="t", **WHO)


@pytest.mark.parametrize(
    ("cell", "safe"),
    [
        ("=1+1", "'=1+1"), ("@SUM(A1)", "'@SUM(A1)"), ("+cmd|' /C calc'!A0", "'+cmd|' /C calc'!A0"), ("-2+3", "'-2+3"),
        (" =1", "' =1"), ("\t=1", "'\t=1"), ("＝1", "'＝1"), ("-0.05", "-0.05"), ("−0,05", "−0,05"), ("+3e-2", "+3e-2"),
        ("-0.05 mm", "'-0.05 mm"), ("40 N*m", "40 N*m"), (None, ""), (True, "yes"), (0.25, "0.25"), (-3, "-3"),
    ],
)  # fmt: skip
def test_a_cell_is_shown_not_computed(cell, safe):
    assert exchange.escape_spreadsheet_formula(cell) == safe


def test_tables_hold_every_value(exported, lite):
    import csv

    made = {k: list(csv.reader(io.StringIO(v))) for k, v in exchange.tables(lite.job(NUMBER)).items()}
    assert all(len({len(r) for r in rows}) == 1 for rows in made.values())
    assert [r[9] for r in made["entries.csv"]] == ["state", "corrected", "struck", "stands", "stands"]
    assert ["2", "input", "value", "", "0,60 mm", ""] in made["values.csv"]
    assert ["5", "content", "stages", "2", "'+90 deg", ""] in made["values.csv"]
    assert made["ticks.csv"][1][:6] == ["6", "5", "1", "1", "40 N*m", "AL"]
    assert made["photographs.csv"][1][1:3] == ["4", "seat"]
    assert made["checks.csv"][1][-2] == "fail"
