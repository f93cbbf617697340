"""A store, a printer and the desk of one job."""

import pytest

from shoplib.desk.widgets.job_desk import JobDesk
from shoplib.desk.widgets.session import session
from tests.desk.job_desk.helpers import Printer
from tests.record_fixtures import HEADER, NUMBER


@pytest.fixture
def store():
    opened = session.store()
    opened.start(**HEADER)
    session.who = "A. Learner"
    session.number = NUMBER
    return opened


@pytest.fixture
def printer():
    return Printer()


@pytest.fixture
def desk(store, printer):
    return JobDesk(printer)
