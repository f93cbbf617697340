"""What the exercises on the record teach is what the record does."""

import pytest

from shoplib.record.job import Line
from shoplib.record.staleness import why_stale
from shoplib.record.store import Refused, Stale, Store
from shoplib.topics import all_workings
from shoplib.topics.handover.exercises import EXERCISES, FALLS, SIGNING, TOGETHER
from tests.record_fixtures import HEADER, NUMBER, protrusion

BY_NAME = {e.name: e for e in EXERCISES}
WHO = {"who": "A. Learner"}


def line(n, sources=(), about=None):
    body = {"sources": [f"line-{s:04d}" for s in sources]}
    return Line(n, f"line-{n:04d}", "entry", about, "measurement", "A", "2026-11-25T09:00:00.000Z", "", body, "")


def test_what_falls_is_what_the_record_flags():
    seen = set()
    for seed in range(60):
        q = BY_NAME["what_falls"].ask(seed)
        rows, corrected = q.result.inputs.lines, q.result.inputs.corrected
        lines = [line(row["line"], row["sources"] or ()) for row in rows]
        lines.append(line(99, about=f"line-{corrected:04d}"))
        flagged = [x.n for x in lines if x.uid in why_stale(lines)]
        assert q.result["count"] == str(len(flagged)), q.text
        seen.add(len(flagged))
    assert len(seen) > 3


@pytest.mark.parametrize("seed", range(12))
def test_what_may_be_signed_is_what_the_store_lets_be_signed(seed, tmp_path):
    q = BY_NAME["may_it_be_signed"].ask(seed)
    failed, stale, unseen = (int(q.numbers[k]) for k in ("failed", "stale", "unseen"))
    with Store.open(tmp_path / "jobs.db") as store:
        store.start(**HEADER)
        for _ in range(failed):
            store.keep(NUMBER, protrusion("0,12 mm"), **WHO)
        for _ in range(stale):
            source = store.keep(NUMBER, protrusion(), **WHO)
            store.keep(NUMBER, protrusion(), sources=[source.uid], **WHO)
            store.strike(NUMBER, source.uid, because="wrong liner", **WHO)
        seen = len(store.job(NUMBER).lines)
        for _ in range(unseen):
            store.keep(NUMBER, protrusion(), who="B. Teacher")
        try:
            store.sign(NUMBER, role="did the work", seen=seen, **WHO)
            may = "yes"
        except (Stale, Refused):
            may = "no"
    assert q.result["may"] == may


def test_they_are_no_calculations_of_the_trade():
    assert not {w.name for w in (FALLS, SIGNING, TOGETHER)} & set(all_workings())


def test_a_chain_is_followed_to_its_end_and_nothing_else_falls():
    rows = [{"line": str(n), "sources": s} for n, s in ((2, ""), (3, "2"), (4, "3"), (5, ""), (6, "5"), (7, "4; 5"))]
    rows = [{k: v for k, v in r.items() if v} for r in rows]
    found = FALLS(lines=rows, corrected="2")
    assert (found["count"], found["stale"]) == ("3", ["line 3", "line 4", "line 7"])
