"""Today's job: one record per kernel, remembered for the next kernel of the same desk, and of no other."""

import asyncio
import os
import subprocess
import sys
import threading

import pytest

from shoplib.desk.widgets import session as module
from shoplib.desk.widgets.session import Session, desk
from shoplib.record.errors import StoreError
from tests.record_fixtures import HEADER, NUMBER


@pytest.fixture
def session():
    opened = Session()
    yield opened
    opened.close()


@pytest.fixture
def nobody(monkeypatch, tmp_path):
    """A desk without a name, whose user's data folder is empty."""
    monkeypatch.delenv("SHOPLIB_DESK")
    monkeypatch.delenv("JUPYTERHUB_USER", raising=False)
    monkeypatch.setattr(module.platformdirs, "user_data_dir", lambda *_, **__: str(tmp_path / "data"))
    return tmp_path / "data"


def test_the_next_kernel_knows_the_job_and_who(session):
    session.store().start(**HEADER)
    assert (session.number, session.who) == ("", "")
    session.number, session.who = NUMBER, "A. Learner"
    after = Session()
    assert (after.number, after.who) == (NUMBER, "A. Learner")
    after.close()


def test_another_desk_of_the_same_record_does_not(session, monkeypatch):
    session.store().start(**HEADER)
    session.number = NUMBER
    monkeypatch.setenv("SHOPLIB_DESK", "another")
    other = Session()
    assert other.number == ""
    other.who = "B. Teacher"
    monkeypatch.setenv("SHOPLIB_DESK", "test")
    session.close()
    assert (session.number, session.who) == (NUMBER, "")
    other.close()


def test_a_job_that_got_another_number_is_followed(session):
    session.store().start(**HEADER)
    session.number = NUMBER
    session.store().amend(NUMBER, who="A. Learner", number="26-015")
    session.close()
    assert session.number == "26-015"


def test_a_record_that_cannot_be_opened_is_said_and_tried_again(session, monkeypatch, tmp_path):
    (tmp_path / "file").write_text("not a folder")
    good = os.environ["SHOPLIB_STORE"]
    monkeypatch.setenv("SHOPLIB_STORE", str(tmp_path / "file" / "jobs.db"))
    assert session.number == ""
    assert "cannot be reached" in session.trouble
    with pytest.raises(StoreError):
        session.store()
    session.who = "A. Learner"  # typed meanwhile: stays, and the trouble is told again
    assert "cannot be reached" in session.trouble
    monkeypatch.setenv("SHOPLIB_STORE", good)
    before = Session()
    before.store().start(**HEADER)
    before.number, before.who = NUMBER, "B. Teacher"
    before.close()
    session.again()
    assert (session.number, session.who, session.trouble) == (NUMBER, "A. Learner", "")


def test_a_desk_has_one_name_that_stays(nobody):
    first = desk()
    assert desk() == first
    assert (nobody / "desk").read_text() == first
    (nobody / "desk").unlink()
    assert desk() != first  # random, not made of the machine
    (nobody / "desk").write_text("hostile\n../../")
    assert len(desk()) == 32


def test_a_user_of_a_hub_is_a_desk(nobody, monkeypatch):
    monkeypatch.setenv("JUPYTERHUB_USER", "learner-1")
    one = desk()
    monkeypatch.setenv("JUPYTERHUB_USER", "learner-2")
    assert desk() != one
    assert [p.name for p in nobody.iterdir()] == ["desk"]  # one key for both


def test_a_desk_where_nothing_can_be_written_still_has_a_name(nobody):
    nobody.parent.joinpath("data").write_text("a file in the way")
    assert desk() == desk()
    assert len(desk()) == 32


def test_work_beside_the_kernel_comes_back_into_it(session):
    seen = []

    async def kernel():
        done = asyncio.Event()

        def then(outcome):
            seen.append((outcome, threading.current_thread() is threading.main_thread()))
            done.set()

        session.run_in_thread(lambda: threading.current_thread() is threading.main_thread(), then)
        await done.wait()
        done.clear()
        session.run_in_thread(lambda: 1 // 0, then)
        await done.wait()

    asyncio.run(kernel())
    assert seen[0] == (False, True)  # worked elsewhere, answered here
    assert isinstance(seen[1][0], ZeroDivisionError)
    assert seen[1][1] is True


def test_without_a_kernel_it_is_done_at_once(session):
    seen = []
    session.run_in_thread(lambda: 7, seen.append)
    assert seen == [7]


def test_the_database_is_not_loaded_before_it_is_needed():
    code = (
        "import sys; import shoplib.desk.widgets.session, shoplib.desk.widgets.form; print('sqlalchemy' in sys.modules)"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "False"
