"""Files from anybody: a CSV file of readings, a job file, an exported job, each with something in it changed."""

import copy
import json
import tempfile
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from shoplib.core.errors import ShoplibError
from shoplib.record.jobfile import read_job_file
from shoplib.record.jobfile_record import make_record
from shoplib.record.store import Store
from shoplib.topics import get
from tests.fuzz.places import PLAIN, places
from tests.fuzz.properties import answer, finite, in_time, speakable
from tests.fuzz.runs import runs
from tests.fuzz.strategies import ANY_TEXT, ODD

DEMO = Path(__file__).parents[2] / "data" / "demo"
JOB_FILES = [(DEMO / name).read_text("utf-8") for name in ("job.toml", "work_order.toml")]
EXPORT = json.loads((DEMO / "whole_job.json").read_text("utf-8"))
CSV = [
    ("flatness_grid", "points", "x_mm,y_mm,z_um\n" + "".join(f"{x},{y},{x * y}\n" for x in range(3) for y in range(3)))
]
PIECES = st.one_of(
    st.sampled_from(ODD),
    ANY_TEXT,
    st.sampled_from(["\n", ",", ";", '"', "=", "[", "]", "[[entry]]", "1e999", "#", "'''"]),
)


@st.composite
def changed_text(draw, text):
    """A text with a few pieces put in, taken out or doubled."""
    for _ in range(draw(st.integers(1, 4))):
        k = draw(st.integers(0, len(text)))
        text = text[:k] + draw(PIECES) + text[k + draw(st.sampled_from([0, 0, 1, 3, 40])) :]
    return text.encode("utf-8", "surrogatepass")


PLACES = [p for p in places(EXPORT) if p]


class Changed(dict):
    """A changed job that is shown by its changes, not by all of it."""

    changes = ()

    def __repr__(self):
        return f"Changed({self.changes!r})"


@st.composite
def changed_tree(draw):
    """The invented job with one to three of its values replaced, removed, or taken from another place."""
    tree, changes = Changed(copy.deepcopy(EXPORT)), []
    for _ in range(draw(st.integers(1, 3))):
        *way, last = draw(st.sampled_from(PLACES))
        inside = tree
        try:
            for k in way:
                inside = inside[k]
            match draw(st.integers(0, 2)):
                case 0:
                    del inside[last]
                    changes.append((*way, last))
                case 1:
                    inside[last] = draw(PLAIN)
                    changes.append((*way, last, inside[last]))
                case _:
                    other = EXPORT
                    source = draw(st.sampled_from(PLACES))
                    for k in source:
                        other = other[k]
                    inside[last] = copy.deepcopy(other)
                    changes.append((*way, last, "as at", source))
        except (KeyError, IndexError, TypeError):
            continue  # an earlier change took this place away
    tree.changes = changes
    return tree


@runs(60, 0.05)
@given(st.data())
def test_a_csv_file_is_read_or_refused_in_words(data):
    name, field, text = data.draw(st.sampled_from(CSV))
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "a.csv").write_bytes(data.draw(changed_text(text)))
        answer(get(name), {field: "a.csv"}, Path(folder))


@runs(40, 0.01)
@given(st.sampled_from(JOB_FILES).flatmap(changed_text))
def test_a_job_file_is_worked_or_refused_in_words(raw):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "job.toml"
        path.write_bytes(raw)
        try:
            with in_time():
                record = make_record(read_job_file(path), folder=DEMO)
        except ShoplibError as error:
            speakable(str(error))
            return
    finite(record)
    json.dumps(record, ensure_ascii=False, allow_nan=False).encode("utf-8")


@runs(15, 0.005)
@given(changed_tree())
def test_an_export_is_taken_in_or_refused_in_words_and_what_is_taken_in_goes_out(tree):
    raw = json.dumps(tree).encode("utf-8")
    with tempfile.TemporaryDirectory() as folder, Store.open(Path(folder) / "jobs.db") as store:
        try:
            with in_time():
                number = store.import_job(raw).number
        except ShoplibError as error:
            speakable(str(error))
            return
        assert store.check() == []
        json.loads(store.export(number))
