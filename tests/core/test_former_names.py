"""What was written under the former name of a working, an input or a result stays readable, and is told once."""

import dataclasses
import json

import pytest

from shoplib.cli import main
from shoplib.record.jobfile_record import former_names, make_record
from shoplib.record.store import Store
from shoplib.sheet.compare import take_present_names
from shoplib.topics import FORMER_NAMES, all_workings, find, get, renames

TYPED = {"clearance": "1.60 mm", "net_drop": "0.25 mm", "valve_angle": "20 deg"}
CHAIN = {"head_skim": "0.2 mm", "bore": "80 mm", "stroke": "90 mm", "ratio": "18", "measured_height": "135.72 mm",
         "valve_clearance": "1.2 mm", "valve_angle": "20 deg", "chamber_opening_area": "0 mm²",
         "sprocket_diameter": "120 mm"}  # fmt: skip
JOB = {"number": "26-014", "engine": "bench 4", "date": "2026-11-25", "done_by": "A. Learner"}
NOTICE = "valve_clearance is now called valve_to_piston_clearance"


@pytest.mark.parametrize(("old", "new"), FORMER_NAMES.items())
def test_a_former_name_gives_the_working_and_is_not_listed(old, new):
    assert get(old) is get(new) is find(old)
    assert old not in all_workings()


def test_nothing_is_found_under_a_name_that_no_version_had():
    assert find("valve_gap") is None is find(7)
    assert renames("valve_gap", {}) == renames("valve_to_piston_clearance", TYPED) == []


def test_the_command_reads_the_former_name_and_says_the_present_one(capsys):
    pairs = [f"{k}={v}" for k, v in TYPED.items()]
    assert main(["work", "valve_clearance", *pairs, "--json"]) == 0
    old = capsys.readouterr()
    assert main(["work", "valve_to_piston_clearance", *pairs, "--json"]) == 0
    new = capsys.readouterr()
    assert (old.out, old.err, new.err) == (new.out, f"{NOTICE}\n", "")
    assert json.loads(new.out)["working"] == "valve_to_piston_clearance"


def test_a_job_file_with_former_names_is_read_and_told_once():
    entries = [{"working": "valve_clearance", "inputs": TYPED}, {"working": "valve_clearance", "inputs": TYPED},
               {"working": "skim_chain", "inputs": CHAIN}]  # fmt: skip
    job = {"job": JOB, "entry": entries}
    assert former_names(job) == [NOTICE]
    record = make_record(job)
    assert [e["working"] for e in record["entries"]] == ["valve_to_piston_clearance"] * 2 + ["skim_chain"]
    assert record["entries"][2]["result"]["results"]["valve_to_piston_clearance_after"]["value"] < 1.2


def test_the_command_says_so_for_a_job_file(capsys, tmp_path):
    lines = [f"{k} = {json.dumps(v)}" for k, v in JOB.items()]
    typed = [f"{k} = {json.dumps(v)}" for k, v in TYPED.items()]
    text = ["[job]", *lines, "[[entry]]", 'working = "valve_clearance"', "[entry.inputs]", *typed]
    (tmp_path / "job.toml").write_text("\n".join(text), encoding="utf-8")
    assert main(["sheet", str(tmp_path / "job.toml"), "-o", str(tmp_path / "sheet.pdf")]) == 0
    assert capsys.readouterr().err == f"job.toml: {NOTICE}\n"


def test_an_entry_of_an_earlier_version_is_corrected_under_the_present_name(tmp_path):
    now = get("valve_to_piston_clearance")
    with Store.open(tmp_path / "jobs.db") as store:
        store.start(who="A. Learner", **JOB)
        before = dataclasses.replace(now, name="valve_clearance")(TYPED)
        kept = store.keep("26-014", before, who="A. Learner")
        assert store.job("26-014").line(kept.n).form == "valve_clearance"
        assert [e.form for e in store.job("26-014").current_entries] == ["valve_to_piston_clearance"]
        store.correct("26-014", kept.uid, now({**TYPED, "net_drop": "0.35 mm"}), who="A. Learner", because="misread")
        job = store.job("26-014")
    assert [(e.form, e.state) for e in job.entries] == [
        ("valve_to_piston_clearance", "corrected"),
        ("valve_to_piston_clearance", "stands"),
    ]


def test_verify_compares_a_record_of_an_earlier_version_under_the_present_names():
    result = {"working": "skim_chain", "results": {"valve_clearance_after": {"value": 1.0}}}
    record = {"entries": [{"working": "skim_chain", "result": result},
                          {"working": "valve_clearance", "result": {"working": "valve_clearance"}}]}  # fmt: skip
    take_present_names(record)
    assert list(record["entries"][0]["result"]["results"]) == ["valve_to_piston_clearance_after"]
    assert record["entries"][1] == {
        "working": "valve_to_piston_clearance",
        "result": {"working": "valve_to_piston_clearance"},
    }
