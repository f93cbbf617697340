"""Fresh stores on SQLite and PostgreSQL, each with one job."""

import pytest

from tests.record_fixtures import KINDS, fresh, started


@pytest.fixture(params=KINDS)
def place(request, tmp_path):
    with fresh(request.param, tmp_path) as where:
        yield where


@pytest.fixture
def store(place):
    with started(place) as opened:
        yield opened


@pytest.fixture
def lite(tmp_path):
    with started(tmp_path / "jobs.db") as opened:
        yield opened
