"""The version of each calculation is raised when its results change: recorded runs say so (tests/calculations.py)."""

import pytest

from shoplib.record.job import result_of
from shoplib.record.job_record import changed_since_kept, whole_record
from shoplib.topics import all_workings, get
from tests import calculations
from tests.record.store.helpers import WHO
from tests.record_fixtures import NUMBER, started

RUNS = calculations.recorded()
WORKINGS = all_workings()


@pytest.mark.parametrize("name", WORKINGS)
def test_a_calculation_that_gives_something_else_has_a_new_version(name):
    assert calculations.checked(WORKINGS[name], RUNS) == []


def test_changed_numbers_and_outcomes_and_a_raised_version_without_runs_are_noticed():
    working = get("angle_travel")
    run = next(r for r in RUNS if r["working"] == working.name)
    number = next(k for k in run["gave"] if k != "outcome")
    for place, said in ((number, 0.5), ("outcome", "fail")):
        forged = run | {"gave": run["gave"] | {place: said}}
        (told,) = calculations.checked(working, [forged])
        assert place in told and "raise its calculation to 2" in told
    assert "no run of calculation 1" in calculations.checked(working, [run | {"calculation": 2}])[0]
    assert calculations.checked(working, [run | {"gave": run["gave"] | {"gone": 1.0}}]) == []


def test_a_line_states_the_version_of_its_calculation_and_an_old_one_does_not(tmp_path):
    with started(tmp_path / "jobs.db") as store:
        kept = store.keep(NUMBER, get("angle_travel")(angle="90 deg", pitch="1.5 mm"), **WHO)
        job = store.job(NUMBER)
    line = job.line(kept.n)
    assert result_of(line)["calculation"] == 1
    worked = whole_record(job)["worked"]
    assert worked[0]["result"]["calculation"] == 1

    was = {k: v for k, v in line.body["result"].items() if k != "calculation"}

    def told(program, **saved):
        body = line.body | {"result": was | saved}
        object.__setattr__(job.line(kept.n), "body", body)
        object.__setattr__(job.line(kept.n), "program", program)
        return [x["what"] for x in changed_since_kept(job, worked)]

    assert told("0.1.0") == told("0.1.5", calculation=1) == []
    assert told("0.1.0", outcome="fail")[0].startswith("version ")
    assert told("0.1.5", outcome="fail", calculation=2)[0].startswith("calculation 1 of version ")
    assert "does not follow" in told("0.1.5", outcome="fail", calculation=1)[0]
    travel = was["results"]["travel"]
    near, far = ({"travel": travel | {"value": travel["value"] * (1 + x)}} for x in (1e-12, 1e-6))
    assert told("0.1.5", calculation=1, results=near) == []
    assert "does not follow" in told("0.1.5", calculation=1, results=far)[0]
    assert told("0.1.5", calculation=2, results=far) == [], "another calculation may give another number"
