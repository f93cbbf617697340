"""Everything that a released version wrote stays readable: its sheets, job files, exports and databases.

``tests/archive/VERSION`` holds what that version wrote; it is never edited.  Where an outcome of today differs from the
archived one because the old one was wrong, ``tests/archive/outcome_changes.csv`` names it with the reason.
"""

import csv
import gzip
import json
import math
import shutil

import pytest

from shoplib.core.errors import BadInput
from shoplib.core.former import present_text
from shoplib.record.jobfile import read_job_file
from shoplib.record.jobfile_record import make_record
from shoplib.record.store import Store
from shoplib.sheet import compare
from shoplib.sheet.verdict import Code, Part, State
from shoplib.sheet.verify import read_record, verify
from shoplib.topics import all_workings, find, get
from tests.record.archive import ARCHIVE, OLD

ROWS = json.loads(gzip.decompress((OLD / "workings.json.gz").read_bytes()))
with (ARCHIVE / "outcome_changes.csv").open(encoding="utf-8", newline="") as file:
    CHANGES = {(r["working"], int(r["row"])): r for r in csv.DictReader(file)}


def numbers(results):
    """Every plain number of the results, by its name."""
    return {k: (v["value"], v["unit"]) for k, v in results.items() if isinstance(v["value"], int | float)}


@pytest.mark.parametrize("row", range(len(ROWS)), ids=[f"{n}-{r['working']}" for n, r in enumerate(ROWS)])
def test_workings_give_the_numbers_and_outcomes_of_the_archive(row):
    old = ROWS[row]
    change = CHANGES.get((old["working"], row))
    working = get(old["working"])
    if change and change["after"] == "refused":
        with pytest.raises(BadInput):
            working(old["inputs"])
        return
    new = json.loads(json.dumps(working(old["inputs"]).to_json()))
    assert new["outcome"] == (change["after"] or None if change else old["result"]["outcome"])
    then, now = numbers(old["result"]["results"]), numbers(new["results"])
    then = {working.former.results.get(name, name): value for name, value in then.items()}
    gone = set(change["results"].split()) if change else set()
    assert set(then) - gone <= set(now)
    for name in set(then) - gone:
        assert now[name][1] == then[name][1], name
        assert math.isclose(now[name][0], then[name][0], rel_tol=1e-9, abs_tol=1e-12), name


def test_every_check_of_the_archive_is_compared_with_one_of_today():
    """By its label; only the checks of a tested range are made no longer."""
    lone = set()
    for row, old in enumerate(ROWS):
        if CHANGES.get((old["working"], row), {}).get("after") == "refused":
            continue
        working = get(old["working"])
        labels = [c.label for c in working(old["inputs"]).checks]
        for check in old["result"]["checks"]:
            now = present_text(check["label"], working.former.labels, labels)
            if now is None or compare._keys([now])[0] not in compare._keys(labels):
                lone.add((working.name, check["label"]))
    assert lone == {
        ("tightening_plan", "Settings in the tested part of the range"),
        ("wrench_setting", "Setting in the tested part of the range"),
    }


def test_every_named_change_is_one():
    for (working, row), change in CHANGES.items():
        assert ROWS[row]["working"] == working
        assert change["before"] == (ROWS[row]["result"]["outcome"] or "")
        assert change["after"] != change["before"] or change["results"]
        assert change["reason"]


@pytest.mark.parametrize("name", ["job", "every_working"])
def test_job_files_are_read(name):
    path = OLD / "job_files" / f"{name}.toml"
    record = make_record(read_job_file(path), folder=path.parent)
    assert record["entries"]


@pytest.mark.parametrize("name", sorted(p.name for p in (OLD / "pdf").glob("*.pdf")))
def test_sheets_are_read_and_verify(name):
    pdf = (OLD / "pdf" / name).read_bytes()
    assert read_record(pdf)["program"]["shoplib"] == "0.1.0"
    verdict = verify(pdf)
    assert not verdict.problems, verdict.problems
    assert verdict.state(Part.ATTACHMENTS) is State.VERIFIED
    assert [f.code for f in verdict.of(Part.PAGES)] == [Code.TEXT_ONLY]  # 0.1.0 attached no hash of its pages
    assert {f.code for f in verdict.of(Part.RECORD)} <= {Code.OTHER_VERSION, Code.RULES_CHANGED, Code.MORE}


@pytest.mark.parametrize("name", ["whole_job", "open_job"])
def test_exports_are_imported(name, tmp_path):
    raw = (OLD / "exports" / f"{name}.json").read_bytes()
    with Store.open(tmp_path / "jobs.db") as store:
        number = store.import_job(raw).number
        job = store.job(number)
        assert not job.damaged
        assert [x.digest for x in job.lines] == [x["digest"] for x in json.loads(raw)["lines"]]


def test_the_database_is_read_and_written_on(tmp_path):
    shutil.copy(OLD / "databases" / "jobs.db", tmp_path / "jobs.db")
    with Store.open(tmp_path / "jobs.db") as store:
        found = {row.number for row in store.jobs().rows}
        assert found == {"26-027", "26-030"}
        for number in found:
            job = store.job(number)
            assert not job.damaged
            assert job.current_entries
        kept = store.keep("26-030", all_workings()["angle_travel"](angle="90 deg", pitch="1.5 mm"), who="A. Learner")
        assert store.job("26-030").line(kept.n).program


@pytest.mark.parametrize("name", sorted(p.name for p in (OLD / "pdf").glob("*.pdf")))
def test_verify_says_that_the_rules_changed_and_shows_both_outcomes(name):
    pdf = (OLD / "pdf" / name).read_bytes()
    record = read_record(pdf)
    kept = "entries" if "entries" in record else "worked"
    changed = {}
    for k, result in enumerate((e.get("result") for e in record[kept]), 1):
        typed = {n: v["as_entered"] for n, v in result["inputs"].items()} if result else {}
        now = find(result["working"])(typed).outcome if result else None
        if result and (now is None or str(now) != result["outcome"]) and (now or result["outcome"]):
            changed[f"{kept}[{k}].result.outcome"] = (result["outcome"], str(now))
    told = {f.about["where"]: (f.about["there"], f.about["here"]) for f in verify(pdf).of(Part.RECORD)
            if f.code is Code.RULES_CHANGED and f.about["where"].endswith("result.outcome")}  # fmt: skip
    assert told == {where: (f'"{then}"', f'"{now}"') for where, (then, now) in changed.items()}
    assert changed or name not in ("job_file.pdf", "whole_job.pdf")
    for finding in verify(pdf).of(Part.RECORD):
        assert finding.code is not Code.RULES_CHANGED or "the rules of judging changed in 0.2.0" in finding.words
