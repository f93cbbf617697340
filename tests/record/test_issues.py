"""Issues are frozen: the exact bytes are kept, the papers share one record, and a held hash finds a rebuilt record."""

import datetime
import hashlib
import json

import pytest
import sqlalchemy as sa

from shoplib.cli import main
from shoplib.core.errors import BadInput
from shoplib.record import exchange
from shoplib.record.job import chained
from shoplib.record.job_record import whole_record
from shoplib.record.store import Store
from shoplib.sheet import job_sheet, typeset
from shoplib.sheet.verdict import Code, Part
from shoplib.sheet.verify import read_record, verify
from tests.record_fixtures import NUMBER, clock, protrusion, started
from tests.sheet.forged_sheets import rehashed
from tests.sheet.sheet_parts import words_of

WHO = {"who": "A. Learner"}


@pytest.fixture
def store(tmp_path):
    with started(tmp_path / "jobs.db", clock=clock("2026-11-25T09:00:00")) as opened:
        opened.keep(NUMBER, protrusion(), title="Protrusion", condition="as_left", **WHO)
        yield opened


def test_the_exact_bytes_of_an_issue_are_kept_for_each_paper(store):
    first = job_sheet(store, NUMBER, recipient="C. Owner", **WHO)
    line = store.job(NUMBER).lines[-1]
    assert (line.kind, line.who, line.body["paper"], line.body["extent"]) == ("print", "A. Learner", "a4", "whole")
    assert line.body["sheet"] == hashlib.sha256(first).hexdigest()
    lines = len(store.job(NUMBER).lines)
    assert job_sheet(store, NUMBER, who="B. Instructor") == job_sheet(store, NUMBER) == first
    assert len(store.job(NUMBER).lines) == lines, "issued again without a change: nothing is recorded"
    letter = job_sheet(store, NUMBER, paper="letter", **WHO)
    assert len(store.job(NUMBER).lines) == lines + 1 and letter != first
    assert "for C. Owner" in words_of(first)
    assert store.check() == []


def test_what_is_kept_is_given_again_even_if_it_would_now_be_made_otherwise(store, monkeypatch):
    first = job_sheet(store, NUMBER, **WHO)
    monkeypatch.setattr("shoplib.sheet.typeset", lambda *a, **k: b"other bytes of a later version")
    assert job_sheet(store, NUMBER) == first
    assert job_sheet(store, NUMBER, paper="letter") != first


def test_a4_letter_and_the_pages_of_the_customer_carry_one_hash_of_one_record(store):
    sheets = [
        job_sheet(store, NUMBER, **WHO),
        job_sheet(store, NUMBER, paper="letter", **WHO),
        job_sheet(store, NUMBER, extent="customer", **WHO),
    ]
    hashes = [words_of(s).split("RECORD sha256")[1].split()[0] for s in sheets]
    assert len(set(hashes)) == 1 and len(hashes[0]) == 64
    assert len({json.dumps(read_record(s)["lines"]) for s in sheets}) == 1
    assert all(verify(s).verified for s in sheets)
    assert "AS READ" in words_of(sheets[0]) and "AS READ" not in words_of(sheets[2])
    assert "End of the pages for the customer" in words_of(sheets[2])
    with pytest.raises(BadInput, match="extent"):
        job_sheet(store, NUMBER, extent="half")


def test_a_change_makes_a_new_issue_and_the_first_stays(store):
    first = job_sheet(store, NUMBER, **WHO)
    digest = store.job(NUMBER).lines[-1].body["sheet"]
    store.keep(NUMBER, protrusion("0,07 mm"), title="Again", **WHO)
    assert "replaces issue A" in words_of(job_sheet(store, NUMBER, **WHO))
    assert store.kept_sheet(digest) == first


def test_a_kept_sheet_that_was_altered_is_found(store, tmp_path):
    job_sheet(store, NUMBER, **WHO)
    digest = store.job(NUMBER).lines[-1].body["sheet"]
    engine = sa.create_engine(f"sqlite:///{tmp_path / 'jobs.db'}")
    with engine.begin() as c:
        c.exec_driver_sql("DROP TRIGGER picture_no_update")
        c.exec_driver_sql("UPDATE picture SET content = X'00' WHERE digest = ?", (digest,))
    engine.dispose()
    assert any("its sheet" in found for found in store.check())


def test_an_export_without_the_kept_bytes_is_imported_and_printed_again(store, tmp_path):
    first = job_sheet(store, NUMBER, **WHO)
    with Store.open(tmp_path / "other.db") as other:
        other.import_job(store.export(NUMBER))
        assert other.check() == []
        assert job_sheet(other, NUMBER) == first


# ------------------------------------------------------------------------------ the hash that somebody holds
def test_a_later_sheet_contains_the_line_that_somebody_holds(store):
    held = read_record(job_sheet(store, NUMBER, **WHO))["lines"][-1]["digest"]
    store.keep(NUMBER, protrusion("0,07 mm"), title="Again", **WHO)
    later = verify(job_sheet(store, NUMBER, **WHO), holds=f" {held.upper()} ")
    assert later.verified and Code.HOLDS in [f.code for f in later.of(Part.CHAIN)]


def test_a_record_that_was_rebuilt_with_new_hashes_is_found_by_the_hash_that_somebody_holds(store):
    held = read_record(job_sheet(store, NUMBER, **WHO))["lines"][-1]["digest"]
    whole = json.loads(store.export(NUMBER))
    whole["lines"] = [x for x in whole["lines"] if x["kind"] in ("header", "entry")]
    whole["lines"][-1]["body"]["title"] = "Nothing of the kind"
    job = exchange.load(rehashed(whole))[0]
    forged = typeset(whole_record(chained(job.uid, job.lines)))
    assert verify(forged).verified, "a whole forged record agrees with itself"
    assert verify(forged, holds=held).problems and verify(forged, holds=held).exit_code == 3


def test_the_command_line_takes_the_hash(store, tmp_path, capsys):
    pdf = job_sheet(store, NUMBER, **WHO)
    path = tmp_path / "sheet.pdf"
    path.write_bytes(pdf)
    held = read_record(pdf)["lines"][0]["digest"]
    assert main(["verify", str(path), "--holds", held]) == 0
    assert "everything up to the line you hold, line 1" in capsys.readouterr().out
    assert main(["verify", str(path), "--holds", "0" * 64]) == 3
    assert main(["verify", str(path), "--holds", "12ab"]) == 3
    assert "12ab" in capsys.readouterr().out


# ------------------------------------------------------------------------------ local time
def test_the_offset_of_local_time_is_recorded_and_printed_beside_utc(tmp_path):
    zone = datetime.timezone(datetime.timedelta(hours=-3, minutes=-30))
    now = datetime.datetime(2026, 11, 26, 1, 15, tzinfo=datetime.UTC)
    with started(tmp_path / "jobs.db", clock=lambda: now.astimezone(zone)) as store:
        store.keep(NUMBER, protrusion(), **WHO)
        line = store.job(NUMBER).lines[-1]
        assert (line.at[:16], line.body["offset"]) == ("2026-11-26T01:15", "-03:30")
        pdf = job_sheet(store, NUMBER, **WHO)
        assert "2026-11-25 21:45 -03:30 (01:15 UTC)" in " ".join(words_of(pdf).split())
        with Store.open(tmp_path / "other.db") as other:
            other.import_job(store.export(NUMBER))
            assert other.job(NUMBER).lines[1].body["offset"] == "-03:30"


def test_no_offset_is_recorded_where_local_time_is_utc(store):
    assert all("offset" not in x.body for x in store.job(NUMBER).lines)
