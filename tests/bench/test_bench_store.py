"""How long the job record takes under the hand.  Reported, never timed in a test.

.venv/bin/pytest tests/bench/test_bench_store.py --benchmark-enable --benchmark-only -s

The long runs (200 kills, eight processes of 1000 entries each) are the unit tests themselves, at full length:
SHOPLIB_SLOW=1 .venv/bin/pytest tests/record/test_store_crash.py tests/record/store/test_trouble.py -k "killed or eight" -s
"""

import itertools

import pytest

from shoplib.record import schema
from shoplib.record.checking import row_of_header
from shoplib.record.history import tell
from shoplib.record.jobfile_record import entry_body
from shoplib.record.line_writer import LineWriter, NewLine
from shoplib.record.store import Store, new_id
from tests.record_fixtures import HEADER, KINDS, NUMBER, fresh, programme, protrusion, started

JOBS = 10_000


@pytest.fixture(scope="module", params=KINDS)
def full(request, tmp_path_factory):
    """A store of 10 000 jobs."""
    with fresh(request.param, tmp_path_factory.mktemp("full")) as where:
        with Store.open(where) as store, store._writing() as c:
            rows = []
            for k in range(JOBS):
                header = HEADER | {"number": f"{k % 100:02d}-{k:05d}", "customer_ref": f"orchard {k % 77}"}
                place = {"uid": f"job-{k:08d}", "closed": k % 3 == 0, "issue": "A", "lines": 1, "head": "0" * 64,
                         "last": k, "changed_at": "2026-11-25T10:00:00.000Z"}  # fmt: skip
                rows.append(row_of_header(header | {"complaint": "loses coolant"}) | place)
            c.execute(schema.job.insert(), rows)
        yield where


@pytest.fixture(scope="module", params=KINDS)
def working(request, tmp_path_factory):
    """A store with one job of 30 bolts in 5 stages, half done, and 40 entries."""
    with fresh(request.param, tmp_path_factory.mktemp("work")) as where, started(where) as store:
        plan, result = programme(store), protrusion()
        for _ in range(40):
            store.keep(NUMBER, result, who="A. Learner")
        for stage, bolt in itertools.product(range(1, 6), range(1, 31)):
            store.tick(NUMBER, programme=plan, stage=stage, bolt=str(bolt), value="40 N*m", initials="AL", uid=new_id())
        yield store, plan, result


def test_open_and_list_ten_thousand_jobs(benchmark, full):
    def listed():
        with Store.open(full) as store:
            return store.jobs()

    assert benchmark(listed).found == JOBS


def test_search_ten_thousand_jobs(benchmark, full):
    with Store.open(full) as store:
        assert len(benchmark(store.jobs, "orchard 76 coolant").rows) == 200


def test_keep_an_entry(benchmark, working):
    store, _, result = working
    assert benchmark.pedantic(store.keep, (NUMBER, result), {"who": "A. Learner"}, rounds=60).n


def test_tick_a_bolt(benchmark, working):
    store, plan, _ = working
    stage = itertools.count(100)

    def tick():
        store.tick(NUMBER, programme=plan, stage=next(stage), bolt="1", value="40 N*m", initials="AL", uid=new_id())

    benchmark.pedantic(tick, rounds=60)


def test_save_a_draft(benchmark, working):
    store = working[0]
    benchmark.pedantic(store.save_draft, ("preload_from_torque", {"torque": "40 N*m", "thread": "M10x1.25"}),
                       {"number": NUMBER}, rounds=60)  # fmt: skip


@pytest.fixture(scope="module")
def long(request, tmp_path_factory):
    """A store with one job of 8000 entries; of a few where nothing is measured."""
    entries = 8000 if request.config.getoption("benchmark_enable") else 20
    where = tmp_path_factory.mktemp("long") / "jobs.db"
    with started(where) as store, store._writing() as c:
        writer, body = LineWriter(c, store._now), entry_body(protrusion(), "", "", "")
        cursor = writer.cursor(NUMBER)
        for _ in range(entries):
            writer.append(cursor, NewLine("entry", "A. Learner", body, form="measurement"))
    return where, entries


def test_open_a_job_of_8000_lines(benchmark, long):
    def opened():
        with Store.open(long[0]) as store:
            return store.job(NUMBER)

    assert len(benchmark(opened).entries) == long[1]


def test_read_a_job_of_8000_lines_again(benchmark, long):
    with Store.open(long[0]) as store:
        store.job(NUMBER)
        assert len(benchmark(store.job, NUMBER).entries) == long[1]


def test_open_points_and_history_of_a_job_of_8000_lines(benchmark, long):
    with Store.open(long[0]) as store:
        job = store.job(NUMBER)
    assert "Open points: 1\n" in benchmark(tell, job)


def test_list_jobs_beside_a_job_of_8000_lines(benchmark, long):
    with Store.open(long[0]) as store:
        assert benchmark(store.jobs).found == 1


def test_read_a_job_of_150_ticks(benchmark, working):
    store = working[0]
    job = benchmark(lambda: store.job(NUMBER).ticked(working[1]) and store.job(NUMBER))
    assert len(job.ticks) >= 150
