"""Every working, in all its four shapes: command line, form, job file, sheet.

What is typed comes from the declarations themselves: a field's example is what its error message tells
people to type, so it must work.
"""

import json
import re

import pytest

from shoplib.cli import main
from shoplib.core.errors import BadInput
from shoplib.desk import Form
from shoplib.record.jobfile_record import make_record
from shoplib.sheet import typeset
from shoplib.sheet.verify import read_record
from tests.topics.typed_inputs import TABLES, WORKINGS, example_of, typed

NONSENSE = {"quantity": "seven", "number": "many", "integer": "2.5", "choice": "perhaps", "boolean": "maybe",
            "date": "tomorrow", "table": "rubbish", "trace": "rubbish", "text": "x" * 5000}  # fmt: skip


@pytest.fixture(params=list(WORKINGS))
def working(request):
    return WORKINGS[request.param]


def test_the_examples_work_in_all_four(working, capsys):
    inputs = typed(working)
    missing = [name for name, text in inputs.items() if not text]
    assert not missing, f"a required input without an example: {missing}"
    direct = working(inputs)
    assert (
        main(
            [
                "work",
                working.name,
                *(f"{k}={v if isinstance(v, str) else json.dumps(v)}" for k, v in inputs.items()),
                "--json",
            ]
        )
        == 0
    )
    printed, wanted = json.loads(capsys.readouterr().out), json.loads(json.dumps(direct.to_json()))
    for name in TABLES.get(working.name, {}):  # there the command line sees the JSON text
        printed["inputs"][name].pop("as_entered")
        wanted["inputs"][name].pop("as_entered")
    assert printed == wanted
    job = {
        "job": {
            "number": "26-100",
            "engine": "three-cylinder diesel, bench 4",
            "complaint": "none",
            "date": "2026-11-20",
            "done_by": "A. Learner",
        },
        "entry": [{"working": working.name, "inputs": inputs}],
    }
    record = make_record(job)
    read_back = read_record(typeset(record))
    assert read_back["entries"][0]["inputs"] == inputs
    assert read_back["outcome"] == (None if direct.outcome is None else str(direct.outcome))
    form = Form(working, **{k: v for k, v in inputs.items() if working.field(k).kind != "table"})
    if inputs and all(working.field(k).kind != "table" for k in inputs):  # before anything is typed there is no result
        assert form.result is not None
        assert form.result.to_json() == direct.to_json()


def nonsense(field):
    if field.kind == "list":  # nothing but gaps; or, where a gap is a reading that is missing, no reading at all
        return ";;" if field.item.kind == "text" else "?!; ?!"
    return NONSENSE[field.kind]


def test_each_input_bad_is_named(working):
    inputs = typed(working)
    for field in working.fields:
        with pytest.raises(BadInput) as caught:
            working({**inputs, field.name: nonsense(field)})
        assert any(re.match(re.escape(field.name) + r"(\[|\.|$)", p.field) for p in caught.value.problems), field.name


def test_each_required_input_missing_is_named(working):
    inputs = typed(working)
    for field in working.fields:
        if field.required and field.default is None:
            with pytest.raises(BadInput) as caught:
                working({k: v for k, v in inputs.items() if k != field.name})
            assert field.name in {p.field for p in caught.value.problems}
    if inputs:
        with pytest.raises(BadInput):
            working({})


def test_each_optional_input_by_its_example_is_read(working):
    """It may be refused for not going together with the others, but never as unreadable."""
    inputs = typed(working)
    for field in working.fields:
        if field.example and field.name not in inputs and not field.csv:  # a file of that name is not here
            field.read(example_of(field))


def test_every_input_and_caution_is_said_in_words(working):
    assert "maker's procedure" in " ".join(working.cautions)
    assert working.question
    assert working.phase
    for field in working.fields:
        assert field.label[0].isupper(), field.name
        if field.kind in ("quantity", "number", "integer") and field.required and field.default is None:
            assert field.example, f"{field.name}: an error must say what to type"
