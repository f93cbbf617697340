"""One job that holds every working, each with no more than it asks for: no limit, no source, no uncertainty."""

import contextlib

import pytest

from shoplib.core.errors import BadInput
from shoplib.record.job_record import whole_record
from shoplib.record.jobfile_record import versions
from shoplib.record.store import Store
from shoplib.sheet import typeset
from shoplib.sheet.evidence import converted
from shoplib.sheet.verify import verify
from shoplib.topics import all_workings
from tests import ci_part
from tests.form_variations import inputs_of_forms
from tests.record_fixtures import HEADER, NUMBER
from tests.sheet.sheet_parts import words_of
from tests.topics.typed_inputs import typed

WORKINGS = dict(ci_part.a_part(all_workings().items(), 4))


def another_version(monkeypatch):
    """As if another version, which sets the pages in its own way, had made the sheets."""
    monkeypatch.setattr("shoplib.sheet.verify.versions", lambda: versions() | {"pages": "another"})


def test_it_is_printed_whole_and_verifies_in_this_version_and_in_another(tmp_path, monkeypatch):
    with Store.open(tmp_path / "jobs.db") as store:
        store.start(**HEADER)
        for name, working in WORKINGS.items():
            store.keep(NUMBER, working(typed(working)), who="A. L.", remark=f"kept by {name}")
        pdf = typeset(whole_record(store.job(NUMBER)))
    problems = verify(pdf).problems
    assert not problems, problems
    another_version(monkeypatch)
    problems = verify(pdf).problems
    assert not problems, problems
    text = "".join(words_of(pdf).replace("\u200b", "").split())
    assert [name for name in WORKINGS if f"keptby{name}" not in text] == []


def test_the_forms_of_the_notebooks_verify_in_another_version(tmp_path, monkeypatch):
    with Store.open(tmp_path / "jobs.db") as store:
        store.start(**HEADER)
        for name, _, inputs in inputs_of_forms():
            with contextlib.suppress(BadInput):  # a variation that is refused
                store.keep(NUMBER, all_workings()[name](inputs), who="A. L.")
        pdf = typeset(whole_record(store.job(NUMBER)))
    another_version(monkeypatch)
    problems = verify(pdf).problems
    assert not problems, problems


@pytest.mark.parametrize(
    ("found", "limit", "said"),
    [("0.05 mm", "", ""), ("0.05 mm", "none", ""), ("0.05 mm", "≤ 0.06 mm", ""), ("50 µm", "≤ 0.06 mm", "= 0.05 mm"),
     ("40 N*m", "≤ 0.06 mm", ""), ("not measured", "≤ 0.06 mm", "")],
)  # fmt: skip
def test_a_reading_is_converted_only_to_the_unit_of_a_limit(found, limit, said):
    assert converted(found, limit) == said
