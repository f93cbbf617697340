"""The traces of a job on its sheet: small multiples, once, and the sheet verifies."""

import io

import pypdf

from shoplib.core.paths import DATA
from shoplib.record.sample_job import invented_job
from shoplib.sheet import job_sheet
from shoplib.sheet.pagetext import texts_of
from shoplib.sheet.small_multiples import multiples_of
from shoplib.sheet.verify import verify
from shoplib.topics import get


def test_a_job_prints_its_traces_side_by_side_and_verifies():
    with invented_job() as (store, number):
        store.reopen(number, who="A. Learner", because="traces read in") if store.job(number).closed else None
        for bolt in (1, 2, 4):
            text = (DATA / "demo" / f"trace-{bolt}.csv").read_text(encoding="utf-8")
            result = get("torque_angle_trace")(trace=text, bolt=f"{bolt}$x$", threshold="20 N*m", stage="+45–60 deg")
            store.keep(number, result, who="A. Learner")
        job = store.job(number)
        pdf = job_sheet(store, number)
        results = {e.uid: get(e.form)(e.inputs) for e in job.current_entries if e.form == "torque_angle_trace"}
        made = multiples_of(job.current_entries, results)
    assert made is not None
    assert made.svg.count('<g id="axes_') >= 3
    assert "bolt 2$x$" in made.words
    texts = texts_of(pypdf.PdfReader(io.BytesIO(pdf)))
    assert any("260 samples" in t for t in texts)
    assert not any("angle_deg;torque_Nm" in t for t in texts), "the samples stay in the record"
    verdict = verify(pdf)
    assert not verdict.problems, verdict.problems
    assert multiples_of([], {}) is None
