"""Any sequence of keeping, correcting and striking: order, what stands, and what is stale are as defined."""

import tempfile
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shoplib.record.store import Refused, Store
from tests.record_fixtures import HEADER, NUMBER

steps = st.lists(
    st.tuples(st.sampled_from(("keep", "keep", "correct", "correct with sources", "strike")), st.integers(0, 30),
              st.lists(st.integers(0, 30), max_size=3)),
    min_size=1, max_size=14,
)  # fmt: skip


def stale_by_definition(entry, model):
    """An entry is stale if any entry it was computed from does not stand, or is itself stale."""
    return any(not model[s]["stands"] or stale_by_definition(s, model) for s in model[entry]["sources"])


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(steps)
def test_the_record_is_what_was_done(done):
    model = {}  # uid → what we believe of it
    with tempfile.TemporaryDirectory() as folder, Store.open(Path(folder) / "jobs.db") as store:
        store.start(**HEADER)
        for what, which, from_which in done:
            uids = list(model)
            about = uids[which % len(uids)] if uids else None
            sources = [uids[k % len(uids)] for k in from_which] if uids else []
            sources = [s for s in dict.fromkeys(sources) if model[s]["stands"] and s != about]
            if what == "keep" or about is None:
                uid = store.note(NUMBER, "log", {"k": which}, title="t", who="A", sources=sources).uid
                model[uid] = {"stands": True, "sources": sources}
                continue
            stood = model[about]["stands"]
            try:
                if what == "strike":
                    store.strike(NUMBER, about, who="A", because="x")
                else:
                    new = sources if what == "correct with sources" else model[about]["sources"]
                    given_ = sources if what == "correct with sources" else None
                    uid = store.correct(NUMBER, about, {"k": -which}, who="A", because="x", sources=given_).uid
                    model[uid] = {"stands": True, "sources": new}
                assert stood
                model[about]["stands"] = False
            except Refused:
                assert not stood
        job = store.job(NUMBER)
        assert [e.uid for e in job.entries] == list(model)  # nothing lost, nothing twice, in order
        assert {e.uid for e in job.entries if e.stands} == {u for u, m in model.items() if m["stands"]}
        wanted = {u for u, m in model.items() if m["stands"] and stale_by_definition(u, model)}
        assert {e.uid for e in job.stale} == wanted
        assert store.check() == []
        raw = store.export(NUMBER)
        with Store.open(Path(folder) / "other.db") as other:
            other.import_job(raw)
            assert other.export(NUMBER) == raw
