"""A job with a plan, and a desk that has it open."""

import pytest

from shoplib.record.store import Store
from tests.record_fixtures import HEADER, NUMBER


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "jobs.db") as opened:
        opened.start(**HEADER)
        yield opened


# ------------------------------------------------------------------------------ the desk
@pytest.fixture
def desk(store, monkeypatch):
    """The session of this kernel on that store, with today's job chosen."""
    from shoplib.desk.widgets.session import session

    session.close()
    monkeypatch.setattr(session, "_open", store)
    session.number = NUMBER
    yield session
    monkeypatch.setattr(session, "_open", None)  # the store is closed by its own fixture
    session.close()
