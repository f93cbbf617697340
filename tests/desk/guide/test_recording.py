"""Recording at the bench: one press, a key held down, a new kernel."""

from tests.desk.guide.helpers import enter, guide, job_ticks, kept_plan, shown


def test_without_a_job_or_a_plan_it_says_what_to_do_first(store, desk):
    made = guide(None)
    assert made.text().startswith("First save a tightening plan to job 26-014")
    desk.number = ""
    assert made.text().startswith("Choose or start a job")
    assert not shown(made.desk)


def test_one_press_records_as_the_programme_says_and_goes_on(store, desk):
    kept_plan(store, wrench_length="400 mm", adapter_length="50 mm")
    made = guide()
    assert made.at == (1, "2")
    assert "Tighten to 40\u00a0N·m" in made.card.value
    assert "35.6 N·m" in made.card.value
    assert made.value.value == ""  # nothing is filled in beforehand
    made.done.click()
    assert job_ticks(store) == [(1, "2", "as the programme says (40 N·m)")]
    assert made.at == (1, "5")
    assert "saved " in made.said.value
    made.value.value = "40.2 N*m"
    enter(made.value)
    assert job_ticks(store)[-1] == (1, "5", "40.2 N*m")
    assert made.value.value == ""
    enter(made.value)  # Enter with nothing typed: as the programme says
    assert job_ticks(store)[-1][2].startswith("as the programme says")
    assert "3 of 12" in made.progress.value


def test_a_key_held_down_counts_once(store, desk):
    kept_plan(store)
    made = guide()
    made._quiet = 60
    for _ in range(5):
        enter(made.value)
    assert len(job_ticks(store)) == 1
    assert "counted once" in made.said.value


def test_a_second_press_that_waited_for_a_slow_save_counts_once(store, desk, monkeypatch):
    kept_plan(store)
    made = guide()
    made._quiet, at, save = 0.8, [100.0], type(store).tick
    monkeypatch.setattr("shoplib.desk.widgets.tightening_guide.time.monotonic", lambda: at[0])

    def slowly(*args, **options):
        at[0] += 5
        return save(*args, **options)

    monkeypatch.setattr(type(store), "tick", slowly)
    made.done.click()
    made.done.click()
    assert len(job_ticks(store)) == 1
    assert "counted once" in made.said.value


def test_resume_at_the_exact_bolt_with_the_initials_in_a_new_kernel(store, desk):
    kept_plan(store)
    made = guide()
    for _ in range(7):
        made.done.click()
    again = guide(None)
    assert again.at == (2, "5")
    assert again.initials.value == "AL"


def test_initials_are_remembered_at_every_key(store, desk):
    """The box sends each key: a kernel that ends before the box is left has not lost them."""
    kept_plan(store)
    made = guide(None)
    assert made.initials.continuous_update
    for typed in ("", "B", "BT"):
        made.initials.value = typed
    assert made.held.by.value == "BT", "the whole of it, not its first letter"
    assert guide(None).initials.value == "BT"
    made.held.by.value = "C. Instructor"
    made.initials.value = "BTX"
    assert made.held.by.value == "C. Instructor", "somebody else decides"
