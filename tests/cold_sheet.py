"""For a cold read: the sheet of the invented job alone, as a PDF and as a picture of each page.

``python -m tests.cold_sheet FOLDER`` writes ``job.pdf`` and ``page-1.png`` …; give nothing else to the reader.
"""

import sys
from pathlib import Path

from shoplib.record.job_record import whole_record
from shoplib.sheet import typeset
from tests import prints

PPI = 150


def main(folder):
    """Write the files and say where."""
    target = Path(folder)
    target.mkdir(parents=True, exist_ok=True)
    job, pictures = prints.demo_job()
    record = whole_record(job, paper="a4")
    (target / "job.pdf").write_bytes(typeset(record, pictures=pictures))
    pages = typeset(record, pictures=pictures, format="png", ppi=PPI)
    for n, page in enumerate(pages, 1):
        (target / f"page-{n}.png").write_bytes(page)
    print(f"{target / 'job.pdf'}, {len(pages)} pages as pictures")


if __name__ == "__main__":
    main(sys.argv[1])
