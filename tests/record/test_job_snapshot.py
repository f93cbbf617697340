"""What was found in a job is kept with that job, and with no other."""

import dataclasses

import pytest

from shoplib.record.job import Job, kept_with_job
from shoplib.record.open_points import all_points
from tests import prints


def test_a_question_about_a_job_is_answered_once_for_each_answer_asked_for():
    asked = []

    @kept_with_job
    def line_and_word(job, n, word=""):
        asked.append((n, word))
        return job.uid, n, word

    one, other = Job("one", ()), Job("other", ())
    assert [line_and_word(one, 1), line_and_word(one, 1), line_and_word(one, 2), line_and_word(other, 1)] == [
        ("one", 1, ""), ("one", 1, ""), ("one", 2, ""), ("other", 1, ""),
    ]  # fmt: skip
    assert line_and_word(one, 1, word="x") == ("one", 1, "x") and one == Job("one", ())
    assert asked == [(1, ""), (2, ""), (1, ""), (1, "x")]


def test_what_was_refused_is_asked_again():
    tries = []

    @kept_with_job
    def fails_at_first(job):
        tries.append(job)
        if len(tries) == 1:
            raise ValueError("not yet")
        return len(tries)

    job = Job("one", ())
    with pytest.raises(ValueError, match="not yet"):
        fails_at_first(job)
    assert fails_at_first(job) == fails_at_first(job) == 2


def test_a_changed_copy_of_a_job_has_points_of_its_own():
    job, _ = prints.demo_job()
    points = all_points(job)
    assert all_points(job) is points
    damaged = all_points(dataclasses.replace(job, damaged=("line 2",)))
    assert damaged[0].status == "changed outside" and damaged[1:] == points
