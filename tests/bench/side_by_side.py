"""How fast two trees calculate and show the same inputs, measured in turns: ``python -m tests.bench.side_by_side OTHER_TREE``.

OTHER_TREE is another checkout, such as a worktree of an earlier commit.  Both trees run side by side, each in a process of its
own, on the inputs of ``tests/archive/0.1.0``; more words name the workings to measure.  A working is one call.  A form is
one change of a box: calculation, texts and picture.  Printed is the least time of each in ms, and this tree ÷ the other.
"""

from __future__ import annotations

import gzip
import json
import re
import subprocess
import sys
import time
from pathlib import Path

HERE = Path(__file__).resolve().parents[2]
ROUNDS = 6
SHARE = 0.03  # s, for one measurement
KINDS = ("working", "form")


def cases():
    """(working, inputs) of everything that version 0.1.0 kept."""
    kept = json.loads(gzip.decompress((HERE / "tests/archive/0.1.0/workings.json.gz").read_bytes()))
    return [(x["working"], x["inputs"]) for x in kept]


# ------------------------------------------------------------------------------ in each tree
def serve():
    """Answer each line, the number of a case and what to measure, with the least time of a call, or null."""
    made = {}
    for line in sys.stdin:
        k, kind = json.loads(line)
        if (k, kind) not in made:
            try:
                made[k, kind] = {"working": call_of, "form": form_of}[kind](*cases()[k])
            except Exception as error:  # noqa: BLE001 -- a working or an input that this tree does not know
                print(f"{cases()[k][0]}, {kind}: {type(error).__name__} {error}"[:300], file=sys.stderr)
                made[k, kind] = None
        print(json.dumps(least(made[k, kind]) if made[k, kind] else None), flush=True)


def call_of(name, inputs):
    try:
        from shoplib.topics import get
    except ImportError:  # before 0.2.0
        from shoplib.workings import get
    working = get(name)
    working(inputs)
    return lambda: working(inputs)


def form_of(name, inputs):
    from shoplib.desk import Form

    form = Form(name, keeping=False, **inputs)
    assert form.result is not None
    for field, typed in inputs.items():
        number = re.search(r"\d+(\.\d+)?", typed) if isinstance(typed, str) and not typed.startswith("[") else None
        if number is None or form.working.field(field).kind not in ("quantity", "number", "text", "list"):
            continue
        decimals = len((number[1] or ".")[1:])
        other = typed[: number.start()] + f"{float(number[0]) + 10.0**-decimals:.{decimals}f}" + typed[number.end() :]
        box = form.entries[field].box
        box.value = other
        if form.result is not None:
            return lambda: setattr(box, "value", typed if box.value == other else other)
        box.value = typed
    raise LookupError("no box to change")


def least(call):
    """The least time of a call, s."""
    found, end = [], time.perf_counter() + SHARE
    while time.perf_counter() < end or len(found) < 2:
        start = time.perf_counter()
        call()
        found.append(time.perf_counter() - start)
    return min(found)


# ------------------------------------------------------------------------------ both of them
def start(tree):
    command = [sys.executable, "-W", "ignore", str(Path(__file__).resolve()), "serve"]
    return subprocess.Popen(command, cwd=tree, env={"PYTHONPATH": str(tree), "PATH": "/usr/bin:/bin", "HOME": "/nonexistent"},
                            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)  # fmt: skip


def ask(process, k, kind):
    process.stdin.write(json.dumps([k, kind]) + "\n")
    process.stdin.flush()
    return json.loads(process.stdout.readline())


def main(other, names):
    trees = [start(Path(other).resolve()), start(HERE)]
    ratios = {kind: [] for kind in KINDS}
    print(f"{'ms':34}" + "".join(f"{kind:>10} then     now  ratio" for kind in KINDS))
    for k, (name, _) in enumerate(cases()):
        if names and name not in names:
            continue
        told = f"{name:34}"
        for kind in KINDS:
            times = [[ask(tree, k, kind) for tree in trees] for _ in range(2)]
            if any(None in pair for pair in times):
                told += f"{'–':>31}"
                continue
            for _ in range(ROUNDS):  # again where it looks slow: on a busy machine the least time comes late
                times += [[ask(tree, k, kind) for tree in trees] for _ in range(3)]
                then, now = (min(t) * 1e3 for t in zip(*times, strict=True))
                if now < 1.4 * then:
                    break
            ratios[kind].append((now / then, name))
            told += f"{then:15.2f}{now:8.2f}{now / then:7.2f}"
        print(told, flush=True)
    for kind, found in ratios.items():
        above = sorted((r, n) for r, n in found if r > 1.5)
        print(
            f"{kind}: {len(found)} measured, {len(above)} above 1.5: "
            + ", ".join(f"{n} {r:.2f}" for r, n in above[::-1])
        )
    for tree in trees:
        tree.stdin.close()
        tree.wait()


if __name__ == "__main__":
    serve() if sys.argv[1:] == ["serve"] else main(sys.argv[1], sys.argv[2:])
