"""The sheet of a job with 30 bolts and 5 stages: how long until the PDF is there."""

import itertools

import pytest

from shoplib.record.store import Store
from shoplib.sheet import job_sheet
from shoplib.sheet import svg as picture
from shoplib.topics import get
from tests import whole_job
from tests.record_fixtures import HEADER, NOTES, NUMBER, protrusion

BOLTS = [(str(n), x, y) for n, (x, y) in enumerate(itertools.product(range(0, 1500, 100), (0, 110)), 1)]
STAGES = "20 N*m; 40 N*m; 60 N*m; +90 deg; +85–95 deg"


def thirty_by_five(store):
    """A job of a big engine: log, programme, 150 ticks, two tests, readings and a photograph."""
    store.start(**HEADER, people=[{"name": "A. Learner", "initials": "AL", "role": "did the work"}],
                instruments=[{"id": "TW-2", "what": "torque wrench", "calibration_due": "2027-03-01"}])  # fmt: skip
    who = {"who": "A. Learner"}
    proof = {"layout": "1 2 3 4 5 6", "rule": "lowest/highest", "limit": "75 %", "limit_source": NOTES}
    store.keep(
        NUMBER, get("compression_test")(proof | {"readings": "24 bar; 17 bar; 23 bar; 24 bar; 24 bar; 23 bar"}), **who
    )
    for k in range(1, 7):
        value = get("measurement")(what="Liner protrusion", where=f"cylinder {k}", value=f"0.0{k + 2} mm",
                                   low="0.03 mm", low_source=NOTES, high="0.10 mm", high_source=NOTES)  # fmt: skip
        kept = store.keep(NUMBER, value, title=f"Liner protrusion, cylinder {k}", **who)
    store.attach(NUMBER, kept.uid, whole_job.photograph(), caption="cylinder 6", **who)
    store.keep(NUMBER, protrusion(), **who)
    places = [{"name": n, "x": f"{x} mm", "y": f"{y} mm"} for n, x, y in BOLTS]
    log = {"bolts": places, "thread": "M12x1.5", "pitch_bolt": "1.5 mm", "pitch_hole": "1.5 mm", "length": "140 mm",
           "washer": "none", "hole": "blind", "hand": "right", "use": "new", "lubricant": f"engine oil; {NOTES}",
           "lubricated": "thread", "dry": "yes", "chased": "yes"}  # fmt: skip
    store.keep(NUMBER, get("fastener_log")(log), **who)
    plan = {"positions": places, "stages": STAGES, "stages_source": NOTES, "lubricant": "engine oil",
            "lubricant_where": "thread", "wrench_min": "20 N*m", "wrench_max": "100 N*m", "tools": "TW-2"}  # fmt: skip
    uid = store.keep(NUMBER, get("tightening_plan")(plan), **who).uid
    for k, (stage, bolt) in enumerate(get("tightening_plan")(plan).plot_data["sequence"]):
        store.tick(NUMBER, programme=uid, stage=stage, bolt=bolt, value="as read", initials="AL", uid=f"tick-{k:05}")
    store.keep(
        NUMBER, get("compression_test")(proof | {"readings": "24 bar; 23 bar; 23 bar; 24 bar; 24 bar; 23 bar"}), **who
    )


@pytest.fixture(scope="module")
def big(tmp_path_factory):
    with Store.open(tmp_path_factory.mktemp("big") / "jobs.db") as store:
        thirty_by_five(store)
        yield store


def test_sheet_of_thirty_bolts_in_five_stages(benchmark, big):
    """As JobDesk prints it again and again: pictures of what did not change are drawn already."""
    benchmark.pedantic(job_sheet, (big, NUMBER), rounds=7, warmup_rounds=1)


def test_the_same_with_every_picture_drawn_anew(benchmark, big):
    benchmark.pedantic(job_sheet, (big, NUMBER), setup=picture._drawn.clear, rounds=5, warmup_rounds=1)


def test_blank_version_of_thirty_bolts_in_five_stages(benchmark, big):
    benchmark.pedantic(job_sheet, (big, NUMBER), {"blank": True}, rounds=5, warmup_rounds=1)
