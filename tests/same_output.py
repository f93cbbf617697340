"""Does every working give today what another commit gave?  ``python -m tests.same_output 9efcc0d`` prints what differs.

The inputs are those of the archive of 0.1.0 and of the invented job.  Each commit runs in a checkout of its own.
"""

import gzip
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
ARCHIVED = ROOT / "tests" / "archive" / "0.1.0" / "workings.json.gz"
RUN = """
import json, sys
from shoplib.core.errors import BadInput
from shoplib.topics import get
answers = []
for name, inputs in json.load(sys.stdin):
    try:
        answers.append(get(name)(inputs).to_json())
    except BadInput as error:
        answers.append({"refused": [str(p) for p in error.problems]})
json.dump(answers, sys.stdout)
"""


def recorded():
    """(working, inputs) of every recorded run."""
    from shoplib.record.sample_job import invented_job

    rows = [(r["working"], r["inputs"]) for r in json.loads(gzip.decompress(ARCHIVED.read_bytes()))]
    with invented_job() as (store, number):
        for entry in store.job(number).entries:
            typed = {k: v["as_entered"] for k, v in entry.result["inputs"].items() if v["as_entered"] is not None}
            rows.append((entry.result["working"], typed))
    return rows


def answers(checkout, rows):
    """What the code in a checkout gives."""
    environment = {**os.environ, "PYTHONPATH": str(checkout)}
    command = [sys.executable, "-c", RUN]
    done = subprocess.run(
        command, input=json.dumps(rows), env=environment, cwd=checkout, capture_output=True, text=True
    )
    if done.returncode:
        raise SystemExit(done.stderr)
    return json.loads(done.stdout)


def differences(before, after, path=""):
    """Each place in which two plain objects differ: (path, before, after)."""
    if isinstance(before, dict) and isinstance(after, dict):
        for key in {**before, **after}:
            yield from differences(before.get(key), after.get(key), f"{path}.{key}")
    elif isinstance(before, list) and isinstance(after, list) and len(before) == len(after):
        for k, (b, a) in enumerate(zip(before, after, strict=True)):
            yield from differences(b, a, f"{path}[{k}]")
    elif before != after:
        yield path, before, after


def main(commit):
    rows = recorded()
    with tempfile.TemporaryDirectory() as folder:
        old = Path(folder) / "old"
        subprocess.run(
            ["git", "worktree", "add", "--detach", "--force", old, commit], cwd=ROOT, check=True, capture_output=True
        )
        try:
            before = answers(old, rows)
        finally:
            subprocess.run(["git", "worktree", "remove", "--force", old], cwd=ROOT, check=True)
    after, found = answers(ROOT, rows), 0
    for (name, _), b, a in zip(rows, before, after, strict=True):
        for path, old, new in differences(b, a):
            found += 1
            print(f"{name}{path}\n    {json.dumps(old, ensure_ascii=False)}\n    {json.dumps(new, ensure_ascii=False)}")
    print(f"{len(rows)} runs of {len({n for n, _ in rows})} workings, {found} differences")


if __name__ == "__main__":
    main(sys.argv[1])
