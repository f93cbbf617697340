"""A later version reads what this version and 0.1.0 wrote: it has a new result, a reworded caution, new header fields.

Each change is made to a copy of the package, as a developer would make it.  ``test_header.py`` looks at the header more
closely.
"""

import json
import os
import subprocess
import sys

import pytest

from tests.make_archive import write
from tests.package_copy import copy_package
from tests.record.archive import OLD
from tests.record.header_cases import LAST, OPTIONAL, REQUIRED

ADVICE = "If the sprockets are free (pin-timed), re-time them: that removes the timing error."
RESULT = '    worksheet.result(\n        "direction", "late" if'
CHANGES = {  # in one copy, so that it is read once: file, what stands there, what it becomes
    "a new result, a reworded caution, a new optional field of the header": (
        ("topics/skim/cam_retard.py", RESULT, '    worksheet.result("slack", radius, mm, "Slack")\n' + RESULT),
        ("topics/skim/cam_retard.py", ADVICE, "Free sprockets can be re-timed. Do so."),
        ("record/header.py", LAST, LAST + OPTIONAL),
    ),
    "a new required field of the header": (("record/header.py", LAST, LAST + REQUIRED),),
}
READ = """
import gzip, json, math, sys
from pathlib import Path
from shoplib.core.errors import BadInput
from shoplib.record.jobfile import read_job_file
from shoplib.record.jobfile_record import make_record
from shoplib.record.store import Store
from shoplib.sheet.verify import verify
from shoplib.topics import get

place, found = Path(sys.argv[1]), {"bad": [], "states": {}, "slack": None}
for archive in map(Path, sys.argv[2:]):
    for path in sorted((archive / "pdf").glob("*.pdf")):
        verdict = verify(path.read_bytes())
        found["bad"] += [f"{path.name}: {p}" for p in verdict.problems]
    for path in sorted((archive / "exports").glob("*.json")):
        with Store.open(place / f"{archive.name}-{path.stem}.db") as store:
            if store.job(store.import_job(path.read_bytes()).number).damaged:
                found["bad"].append(path.name)
    for path in sorted((archive / "job_files").glob("*.toml")):
        make_record(read_job_file(path), folder=path.parent)
    copy = place / f"{archive.name}.db"
    copy.write_bytes((archive / "databases" / "jobs.db").read_bytes())
    with Store.open(copy) as store:
        found["bad"] += [row.number for row in store.jobs().rows if store.job(row.number).damaged]
    for row in json.loads(gzip.decompress((archive / "workings.json.gz").read_bytes())):
        if row["working"] == "cam_retard":
            now = get("cam_retard")(row["inputs"]).to_json()
            then = row["result"]["results"]
            found["bad"] += [k for k in then if then[k]["value"] != now["results"][k]["value"]]
            found["slack"] = now["results"].get("slack", {}).get("unit")
            found["cautions"] = now["cautions"]
print(json.dumps(found))
"""


@pytest.fixture(scope="module")
def today(tmp_path_factory):
    """The archive of the present version, made as ``tests/archive`` is when a version is released."""
    folder = tmp_path_factory.mktemp("archives") / "today"
    write(folder)
    return folder


def read_by_a_copy(folder, today, changes):
    copy_package(folder, *changes)
    command = [sys.executable, "-c", READ, str(folder), str(OLD), str(today)]
    environment = {**os.environ, "PYTHONPATH": str(folder)}
    run = subprocess.run(command, env=environment, cwd=folder, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr[-3000:]
    return json.loads(run.stdout)


@pytest.mark.parametrize("change", CHANGES)
def test_a_later_version_reads_what_was_written_before(change, today, tmp_path):
    found = read_by_a_copy(tmp_path, today, CHANGES[change])
    assert found["bad"] == []
    changed = "a new result" in change
    assert found["slack"] == ("mm" if changed else None)
    assert any("Do so." in c for c in found["cautions"]) == changed
