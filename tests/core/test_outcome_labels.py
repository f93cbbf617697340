"""A German label for every outcome changes one file; codes stay as they are in records and in --json."""

import json
import os
import subprocess
import sys

from shoplib.core.checks import Outcome
from shoplib.core.outcome_labels import OUTCOME_LABELS
from tests.package_copy import copy_package

GERMAN = {"pass": "in Ordnung", "fail": "nicht in Ordnung", "undecided": "offen", "no limit given": "kein Grenzwert"}
SHOWN = """
import io, json, re
import pypdf
from shoplib.desk.widgets.form import answer_html
from shoplib.record.sample_job import invented_job
from shoplib.sheet import job_sheet
from shoplib.sheet.verify import verify
from shoplib.topics import get

typed = {"new_height": "136.00 mm", "heights": "135.72 mm; 135.74 mm; 135.73 mm; 135.75 mm", "cut": "0.15 mm",
         "minimum_height": "135.50 mm", "minimum_height_source": "notes", "block_cut": "0.20 mm",
         "combined_limit": "0.40 mm", "combined_limit_source": "notes"}
results = [get("skim_allowance")(typed | more) for more in ({}, {"minimum_height_source": ""}, {"heights": "135.72 mm"})]
with invented_job() as (store, number):
    job, raw = store.job(number), job_sheet(store, number)
html = "".join(map(answer_html, results))
marks = " ".join(re.findall(r"[✓✕◆○] [^<]*", html))
print(json.dumps({
    "form": marks,
    "text": "".join(r.as_text() for r in results),
    "codes": sorted({c["outcome"] for r in results for c in r.to_json()["checks"]}),
    "job": " ".join(e.as_line() for e in job.entries),
    "sheet": " ".join("".join(p.extract_text() for p in pypdf.PdfReader(io.BytesIO(raw)).pages).split()),
    "bad": [str(p) for p in verify(raw).problems],
}))
"""


def test_every_outcome_has_words():
    assert set(OUTCOME_LABELS) == set(GERMAN) == {str(o) for o in Outcome}


def test_german_labels_change_one_file(tmp_path):
    copy_package(
        tmp_path,
        *(("core/outcome_labels.py", f'"{code}": "{code}"', f'"{code}": "{words}"') for code, words in GERMAN.items()),
    )
    run = subprocess.run([sys.executable, "-c", SHOWN], env={**os.environ, "PYTHONPATH": str(tmp_path)}, cwd=tmp_path,
                         capture_output=True, text=True, check=False)  # fmt: skip
    assert run.returncode == 0, run.stderr[-3000:]
    seen = json.loads(run.stdout)
    assert seen["codes"] == ["fail", "no limit given", "pass", "undecided"]
    for words in GERMAN.values():
        assert words in seen["form"] and words in seen["text"], words
    assert not any(f"{sign} {code}" in seen["form"] for sign in "✓✕◆○" for code in GERMAN)
    assert "nicht in Ordnung" in seen["job"] and "Nicht in Ordnung" in seen["sheet"] and "Offen" in seen["sheet"]
    assert seen["bad"] == []
