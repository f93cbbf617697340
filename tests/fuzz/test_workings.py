"""Every working against whatever may be typed: an answer or a refusal in words, never anything else.

The bounded run draws the same inputs every time.  A long run by name: ``SHOPLIB_FUZZ=100000 pytest tests/fuzz``.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shoplib.core.errors import ShoplibError
from shoplib.record.jobfile_record import make_record
from shoplib.sheet import typeset
from shoplib.sheet.verify import verify
from tests.fuzz.properties import answer, same_by_command
from tests.fuzz.runs import runs
from tests.fuzz.strategies import WORKINGS, inputs

HEADER = {"number": "26-100", "engine": "bench 4", "complaint": "none", "date": "2026-11-20", "done_by": "A. Learner"}


@pytest.mark.parametrize("name", WORKINGS)
def test_whatever_is_typed_is_answered_or_refused_in_words(name):
    @runs(15, 0.9 / len(WORKINGS))
    @given(inputs(name))
    def each(raw):
        answer(WORKINGS[name], raw)

    each()


@pytest.mark.parametrize("name", WORKINGS)
def test_the_command_line_answers_or_refuses_in_words(name):
    @runs(6, 0.1 / len(WORKINGS))
    @given(inputs(name))
    def each(raw):
        same_by_command(WORKINGS[name], raw)

    each()


@runs(2, 0.0005)
@given(st.data())
def test_what_is_accepted_prints_and_verifies(data):
    entries = []
    for name in data.draw(st.lists(st.sampled_from(list(WORKINGS)), min_size=8, max_size=12, unique=True)):
        entry = {"working": name, "inputs": data.draw(inputs(name, hostile=False))}
        try:
            make_record({"job": HEADER, "entry": [entry]})
        except ShoplibError:
            continue
        entries.append(entry)
    if entries:
        verdict = verify(typeset(make_record({"job": HEADER, "entry": entries})))
        assert verdict.exit_code == 0, verdict.as_lines()
