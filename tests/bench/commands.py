"""Commands of two trees in turns, in processor time: ``python -m tests.bench.commands OTHER_TREE [ROUNDS [ONLY]]``.

OTHER_TREE is another checkout, such as a worktree of an earlier commit; ONLY is a part of the names to measure.
Measured are the import of the package and of its forms, one working, the sheet of the other tree's demo job, and the
cells of notebooks that both trees have: each tree's own, and in both trees those of the other tree ("its cells"), which
leaves out what a notebook has gained. Printed is the least user and system time of the process in each tree, and this
tree ÷ the other. The modules are compiled once, as after an installation: without kept bytecode each process would
compile the source, with its docstrings.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parents[2]
BOLT = ("torque=40 N*m", "thread=M10x1.5", "mu_thread=0.12", "mu_head=0.12", "bearing_mean=13 mm")
NOTEBOOKS = ("11", "31", "61", "62")
CELLS = """
import sys, json
from IPython.core.interactiveshell import InteractiveShell
shell = InteractiveShell.instance()
for cell in json.loads(open(sys.argv[1], encoding="utf-8").read())["cells"]:
    if cell["cell_type"] == "code":
        shell.run_cell("".join(cell["source"])).raise_error()
"""


def commands(other, folder):
    """Name → the words of the command in a tree."""
    run = "from shoplib.cli import main; import sys; sys.exit(main(sys.argv[1:]))"
    yield "import shoplib.cli", lambda tree: ["-c", "import shoplib.cli"]
    yield "import shoplib.desk", lambda tree: ["-c", "import shoplib.desk"]
    yield "work … --json", lambda tree: ["-c", run, "work", "preload_from_torque", *BOLT, "--json"]
    job = str(other / "data/demo/job.toml")
    yield "sheet job.toml", lambda tree: ["-c", run, "sheet", job, "--force", "-o", str(folder / "sheet.pdf")]
    for digits in NOTEBOOKS:
        (name,) = (p.name for p in (HERE / "notebooks").glob(f"{digits}-*.ipynb"))
        if (other / "notebooks" / name).exists():
            yield f"cells of {digits}", lambda tree, name=name: ["-c", CELLS, str(tree / "notebooks" / name)]
            yield f"its cells of {digits}", lambda tree, name=name: ["-c", CELLS, str(other / "notebooks" / name)]


def seconds(tree, words, folder):
    """User and system time of one process in that tree; its bytecode is kept in the folder."""
    own = {**os.environ, "PYTHONPATH": str(tree), "MPLBACKEND": "svg", "OMP_NUM_THREADS": "1"}
    own |= {"PYTHONDONTWRITEBYTECODE": "", "PYTHONPYCACHEPREFIX": str(folder / "bytecode")}
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run([sys.executable, *words], cwd=tree, env=own, capture_output=True, text=True, check=False)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    assert done.returncode in (0, 1), done.stderr[-800:]
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main(other, rounds=5, only=""):
    other, found = Path(other).resolve(), {}
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        every = [(name, words) for name, words in commands(other, folder) if only in name]
        for turn in range(int(rounds)):
            for name, words in every:
                for tree in (other, HERE) if turn % 2 else (HERE, other):
                    found.setdefault(name, {}).setdefault(tree, []).append(seconds(tree, words(tree), folder))
    for name, by_tree in found.items():
        then, now = min(by_tree[other]), min(by_tree[HERE])
        print(f"{name:22} then {then * 1e3:6.0f} ms   now {now * 1e3:6.0f} ms   ratio {now / then:.2f}")
    print(json.dumps({"load": os.getloadavg()[0]}))


if __name__ == "__main__":
    main(*sys.argv[1:])
