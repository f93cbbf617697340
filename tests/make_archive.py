"""What this version writes: sheets, exports, a database, and the result of every recorded run.

``python -m tests.make_archive tests/archive/VERSION`` when a version is released; the folder is never edited after that.
The job files of a released version are kept as their authors wrote them, so they are copied from the version before.
"""

import gzip
import json
import shutil
import sys
from pathlib import Path

from shoplib.record.jobfile_record import make_record
from shoplib.record.sample_job import invented_job
from shoplib.record.store import Store
from shoplib.sheet import job_sheet, typeset
from shoplib.topics import get
from tests.job_file_of import as_job_file
from tests.same_output import ROOT, recorded


def write(folder):
    """Write the archive into a folder that does not exist yet."""
    folder = Path(folder)
    for part in ("pdf", "exports", "databases"):
        (folder / part).mkdir(parents=True)
    shutil.copytree(ROOT / "tests" / "archive" / "0.1.0" / "job_files", folder / "job_files")
    with invented_job() as (store, number):
        (folder / "exports" / "whole_job.json").write_bytes(store.export(number))
        (folder / "pdf" / "whole_job.pdf").write_bytes(job_sheet(store, number))
        (folder / "pdf" / "whole_job_blank.pdf").write_bytes(job_sheet(store, number, blank=True))
        record = make_record(as_job_file(store.job(number), allow_stale=True))
        (folder / "pdf" / "job_file.pdf").write_bytes(typeset(record))
    with Store.open(folder / "databases" / "jobs.db") as store:
        store.import_job((folder / "exports" / "whole_job.json").read_bytes())
    rows = [{"working": n, "inputs": i, "result": json.loads(json.dumps(get(n)(i).to_json()))} for n, i in recorded()]
    raw = json.dumps(rows, ensure_ascii=False).encode()
    (folder / "workings.json.gz").write_bytes(gzip.compress(raw, mtime=0))


if __name__ == "__main__":
    write(sys.argv[1])
