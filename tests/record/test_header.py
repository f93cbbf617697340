"""The header is declared once: a field that is added there is seen everywhere, and what was written before is read.

The field is added to a copy of the package, as a developer would add it.
"""

import json
import os
import shutil
import subprocess
import sys

import pytest

from shoplib.record import header
from shoplib.record.exchange import job_schema
from shoplib.record.line_schema import read_header
from tests.package_copy import ROOT, copy_package
from tests.record.archive import OLD
from tests.record.header_cases import LAST, OPTIONAL, REQUIRED

SEEN = """
import io, json, sys
from pathlib import Path
import pypdf
from shoplib.core.errors import BadInput
from shoplib.desk.widgets.header_form import HeaderForm
from shoplib.desk.widgets.job_list import StartJob
from shoplib.record import exchange
from shoplib.record.history import tell
from job_file_of import as_job_file
from shoplib.record.jobfile import read_job_file
from shoplib.record.jobfile_record import make_record
from shoplib.record.store import Store
from shoplib.sheet import job_sheet, typeset
from shoplib.sheet.verify import verify
from shoplib.topics import get

class Desk:
    who = ""

place, old = map(Path, sys.argv[1:])
head = {"number": "26-014", "engine": "bench 4", "date": "2026-11-25", "done_by": "A. Learner"}
refused = []
with Store.open(place / "jobs.db") as store:
    try:
        store.start(**head)
    except BadInput as error:
        refused = [p.field for p in error.problems]
    store.start(**head | {"number": "26-015", "licence": "L-2718"})
    store.keep("26-015", get("angle_travel")(angle="90 deg", pitch="1.5 mm"), who="A. Learner")
    job, raw = store.job("26-015"), store.export("26-015")
    sheets = [job_sheet(store, "26-015"), job_sheet(store, "26-015", blank=True), typeset(make_record(as_job_file(job)))]
with Store.open(place / "other.db") as other:
    imported = dict(other.job(other.import_job(raw).number).header)
with Store.open(place / "old.db") as archive:
    numbers = [archive.import_job((old / "exports" / f"{name}.json").read_bytes()).number for name in ("whole_job", "open_job")]
    archive.amend(numbers[1], who="A. Learner", complaint="leaks")
    archive.start_from(make_record(as_job_file(archive.job(numbers[0]))) | {"job": {**head, "number": "26-099"}})
for name in ("job", "every_working"):
    path = old / "job_files" / f"{name}.toml"
    make_record(read_job_file(path), folder=path.parent)
before = [p.read_bytes() for p in sorted((old / "pdf").glob("*.pdf"))]
print(json.dumps({
    "refused": refused,
    "form": list(HeaderForm(Desk()).boxes),
    "start": list(StartJob(print).entries),
    "imported": imported["licence"],
    "job_file": as_job_file(job)["job"]["licence"],
    "told": "Licence number: L-2718" in tell(job),
    "csv": "licence,L-2718" in exchange.tables(job)["header.csv"],
    "schema": "licence" in exchange.job_schema()["definitions"]["header"]["properties"],
    "printed": ["L-2718" in "".join(p.extract_text() for p in pypdf.PdfReader(io.BytesIO(x)).pages) for x in sheets],
    "bad": [str(x) for sheet in [*sheets, *before] for x in verify(sheet).problems],
}))
"""


def with_field(folder, declared):
    """What a copy of the package, with one more field declared, shows of it and reads of the archive."""
    copy_package(folder, ("record/header.py", LAST, LAST + declared))
    shutil.copy(ROOT / "tests" / "job_file_of.py", folder)
    run = subprocess.run(
        [sys.executable, "-c", SEEN, str(folder), str(OLD)],
        env={**os.environ, "PYTHONPATH": str(folder)}, cwd=folder, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr[-3000:]
    return json.loads(run.stdout)


@pytest.mark.parametrize(
    ("declared", "refused"), [(OPTIONAL, []), (REQUIRED, ["licence"])], ids=["optional", "required"]
)
def test_a_new_field_is_seen_everywhere_and_the_archive_is_read(declared, refused, tmp_path):
    seen = with_field(tmp_path, declared)
    assert seen["refused"] == refused, "a person who starts a job is asked for what is required now"
    assert "licence" in seen["form"] and "licence" in seen["start"]
    assert seen["imported"] == seen["job_file"] == "L-2718"
    assert seen["told"] and seen["csv"] and seen["schema"]
    assert seen["printed"] == [True, True, True]
    assert seen["bad"] == []


def test_a_required_field_is_not_emptied():
    problems = []
    read_header({"number": "1", "engine": "e", "date": "2026-11-25", "done_by": ""}, problems)
    assert [p.field for p in problems] == ["done_by"]


def test_every_name_is_declared_once():
    assert len(set(header.NAMES)) == len(header.FIELDS) + len(header.TABLES)
    assert set(job_schema()["definitions"]["header"]["properties"]) == set(header.NAMES)
