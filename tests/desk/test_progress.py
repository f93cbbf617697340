"""Long work tells how far it is, and stops when it is told to."""

import asyncio
import io
import threading
import time

import pytest

from shoplib import cli
from shoplib import topics as workings
from shoplib.core import progress
from shoplib.desk import Form
from shoplib.desk.widgets import background_task as running
from shoplib.desk.widgets.background_task import PATIENCE, Runner, event_loop
from shoplib.teaching.exercise import class_set
from shoplib.topics import exercises
from tests.desk.slow_inputs import SCATTER


# ------------------------------------------------------------------------------ telling
def test_nobody_listens_and_nothing_happens():
    progress.step(1, 2, "of it")
    with progress.part(0, 2, "of it"):
        progress.step(1, 2)


def test_parts_count_inside_their_part():
    told = []
    with progress.listening(lambda p: told.append((p.share, p.what))):
        for n in range(2):
            with progress.part(n, 2, "entries"):
                progress.step(1, 2, "bolts")
        with progress.part(2, 8, "weighed", size=4):
            progress.step(0.5, 1)
    assert told == [
        (0, "entries"),
        (0.25, "entries"),
        (0.5, "entries"),
        (0.75, "entries"),
        (0.25, "weighed"),
        (0.5, "weighed"),
    ]
    progress.step(1, 1)
    assert len(told) == 6  # nobody listens any more


def test_a_listener_stops_the_work_and_is_gone():
    def stop(_):
        raise progress.Stopped

    with pytest.raises(progress.Stopped), progress.listening(stop), progress.part(0, 1):
        raise AssertionError("not reached")
    progress.step(0, 1)


def test_another_thread_is_not_heard():
    told = []
    with progress.listening(told.append):
        thread = threading.Thread(target=progress.step, args=(1, 2))
        thread.start()
        thread.join()
    assert told == []


# ------------------------------------------------------------------------------ what is long
def told_by(work):
    told = []
    with progress.listening(lambda p: told.append(p.share)):
        result = work()
    return result, told


def test_drawn_bolts_tell_and_stay_the_same():
    typed = SCATTER | {"draws": "150000"}
    quiet = workings.get("preload_scatter")(typed)
    heard, told = told_by(lambda: workings.get("preload_scatter")(typed))
    assert heard.to_json() == quiet.to_json()
    assert all((heard.plot_data[k] == quiet.plot_data[k]).all() for k in ("edges", "torque_only", "torque_angle"))
    assert told == sorted(told) and len(told) > 10 and told[0] == 0 and told[-1] > 0.9


def test_class_sets_tell_and_stay_the_same():
    made, told = told_by(lambda: class_set("preload", exercises.of_topic("preload"), 4, 3))
    again = class_set("preload", exercises.of_topic("preload"), 4, 3)
    assert [[q.text for q in sheet] for sheet in made.sheets] == [[q.text for q in sheet] for sheet in again.sheets]
    assert told == sorted(told) and len(told) >= 4 * len(exercises.of_topic("preload"))


@pytest.mark.parametrize("after", [1, 3, 8])
def test_drawing_stops_at_the_next_block(after):
    count = [0]

    def listener(_):
        count[0] += 1
        if count[0] == after:
            raise progress.Stopped

    with pytest.raises(progress.Stopped), progress.listening(listener):
        workings.get("preload_scatter")(SCATTER | {"draws": "600000"})
    assert count[0] == after


# ------------------------------------------------------------------------------ on the command line
class Screen(io.StringIO):
    def isatty(self):
        return True


def test_a_line_on_the_terminal_after_half_a_second(monkeypatch):
    now = [100.0]
    monkeypatch.setattr(progress.time, "monotonic", lambda: now[0])
    screen = Screen()
    with progress.on_terminal(screen):
        progress.step(1, 10, "of the bolts drawn")
        assert screen.getvalue() == ""
        now[0] += 0.6
        progress.step(4, 10, "of the bolts drawn")
        assert screen.getvalue() == "\rworking … 40 % of the bolts drawn  (Ctrl-C stops)"
        progress.step(5, 10)  # too soon to be read
        assert "50 %" not in screen.getvalue()
    assert screen.getvalue().endswith("\r" + " " * 49 + "\r")


def test_nothing_is_written_into_a_pipe(monkeypatch):
    pipe = io.StringIO()
    monkeypatch.setattr(progress.time, "monotonic", iter(range(100, 1000, 10)).__next__)
    with progress.on_terminal(pipe):
        progress.step(1, 2)
    assert pipe.getvalue() == ""


# ------------------------------------------------------------------------------ at the desk
def slowly(seconds, value, *, steps=200):
    """Work that takes so long and tells how far it is."""

    def work():
        for n in range(steps):
            progress.step(n, steps, "of the work")
            time.sleep(seconds / steps)
        return value

    return work


async def until(condition, seconds=10):
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "waited in vain"
        await asyncio.sleep(0.02)


def test_without_a_loop_the_work_is_simply_called():
    assert event_loop() is None
    runner, got = Runner(), []
    runner.run(slowly(0, 7), got.append)
    assert got == [7] and not runner.working and runner.layout.display == "none"


def test_quick_work_is_there_at_once():
    async def page():
        runner, got, slow = Runner(asyncio.get_running_loop), [], []
        runner.run(lambda: 7, got.append, lambda: slow.append(1))
        assert got == [7] and slow == [] and runner.layout.display == "none"

    asyncio.run(page())


def test_slow_work_says_how_far_and_comes_later():
    async def page():
        runner, got, slow = Runner(asyncio.get_running_loop), [], []
        runner.run(slowly(4 * PATIENCE, 7), got.append, lambda: slow.append(1))
        assert runner.working and got == [] and slow == [1]
        assert runner.layout.display == "" and runner.button.description == "Stop"
        await until(lambda: " % of" in runner.told.value)
        assert "of the work" in runner.told.value and 'role="status"' in runner.told.value
        await until(lambda: got)
        assert got == [7] and not runner.working and runner.layout.display == "none"

    asyncio.run(page())


def test_stop_is_heard_and_the_work_can_be_done_again():
    async def page():
        runner, got = Runner(asyncio.get_running_loop), []
        runner.run(slowly(60, 7, steps=6000), got.append)
        runner.button.click()
        assert "stopping" in runner.told.value and runner.button.disabled
        await until(lambda: not runner.working)
        assert got == [] and "Stopped before it finished" in runner.told.value
        assert runner.button.description == "Calculate again" and not runner.button.disabled
        runner.run(lambda: 8, got.append)
        assert got == [8] and runner.layout.display == "none"

    asyncio.run(page())


def test_the_newest_start_wins():
    async def page():
        runner, got, stopped = Runner(asyncio.get_running_loop), [], []

        def old():
            try:
                return slowly(60, "old", steps=6000)()
            except progress.Stopped:
                stopped.append("old")
                raise

        runner.run(old, got.append)
        runner.run(slowly(2 * PATIENCE, "new"), got.append)
        await until(lambda: got)
        assert got == ["new"] and stopped == ["old"]
        await asyncio.sleep(0.1)
        assert got == ["new"]

    asyncio.run(page())


def test_an_error_of_the_work_is_raised_where_it_was_started():
    def broken():
        raise ZeroDivisionError("of the work")

    async def page():
        runner = Runner(asyncio.get_running_loop)
        with pytest.raises(ZeroDivisionError, match="of the work"):
            runner.run(broken, print)
        assert not runner.working

    asyncio.run(page())
    with pytest.raises(ZeroDivisionError):
        Runner().run(broken, print)


# ------------------------------------------------------------------------------ stopped by a key
def interrupted(*_, **__):
    raise KeyboardInterrupt


def test_ctrl_c_ends_in_words(monkeypatch, capsys):
    monkeypatch.setattr(workings, "get", interrupted)
    assert cli.main(["work", "preload_scatter"]) == 130
    said = capsys.readouterr()
    assert said.err == "work: stopped before it finished\n" and said.out == ""


def test_ctrl_c_leaves_nothing_half_written(monkeypatch, tmp_path, capsys):
    from shoplib.sheet import class_set as classset
    from shoplib.sheet import files

    monkeypatch.setattr(classset, "key_pdf", interrupted)
    monkeypatch.setattr(classset, "learners_pdf", lambda *_, **__: b"learners")
    assert cli.main(["class", "preload", "--learners", "2", "-o", str(tmp_path)]) == 130
    assert list(tmp_path.iterdir()) == []
    monkeypatch.setattr(files.os, "fsync", interrupted)
    with pytest.raises(KeyboardInterrupt):
        files.write(tmp_path / "job.pdf", b"%PDF")
    assert list(tmp_path.iterdir()) == []
    assert "stopped" in capsys.readouterr().err


def test_a_whole_job_tells_entry_by_entry():
    from shoplib.core.paths import DATA
    from shoplib.record.jobfile import read_job_file
    from shoplib.record.jobfile_record import make_record

    path = DATA / "demo" / "job.toml"
    record, told = told_by(lambda: make_record(read_job_file(path), folder=path.parent))
    assert told == sorted(told) and len(told) >= len(record["entries"])


def test_a_form_waits_beside_its_result_and_the_newest_input_wins(monkeypatch):
    """No case of its own: any working that takes long."""
    monkeypatch.setattr(running, "PATIENCE", 0.01)

    async def page():
        form = Form("preload_scatter", keeping=False, **(SCATTER | {"draws": "2000"}))
        assert form.result is not None and form.runner.layout.display == "none"
        form.runner._loop = asyncio.get_running_loop
        form.entries["draws"].box.value = "2000000"
        assert form.result is None and "See" not in form.answer.value
        assert 'data-state="working"' in form.answer.value and form.runner.layout.display == ""
        assert form.picture.layout.display == "none" and form.text().startswith("No result")
        form.entries["draws"].box.value = "3000"
        await until(lambda: form.result is not None)
        assert form.result.inputs.draws == 3000 and 'data-state="done"' in form.answer.value
        assert form.runner.layout.display == "none"
        form.entries["draws"].box.value = "12"
        await until(lambda: 'data-state="stop"' in form.answer.value)
        assert "at least" in form.entries["draws"].error.value
        form.entries["draws"].box.value = "2000000"
        form.runner.button.click()
        await until(lambda: not form.runner.working)
        assert form.result is None and "Stopped" in form.runner.told.value

    asyncio.run(page())
