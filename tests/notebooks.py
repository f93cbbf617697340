"""Run the notebooks in place and make what is committed deterministic.

    .venv/bin/python -m tests.notebooks            # all
    .venv/bin/python -m tests.notebooks 02         # those whose name starts with 02

Kept: text, HTML and images.  Dropped: widget views (their ids differ at every run; a viewer without a
kernel shows the HTML instead), times, widget state.  ``pytest notebooks`` compares the outputs again.
"""

from __future__ import annotations

import sys
from pathlib import Path

import nbformat
from nbclient import NotebookClient

FOLDER = Path(__file__).parents[1] / "notebooks"
WIDGET = "application/vnd.jupyter.widget-view+json"


def tidy(nb: nbformat.NotebookNode) -> nbformat.NotebookNode:
    """The same notebook without what differs from run to run."""
    nb.metadata = nbformat.NotebookNode(
        kernelspec={"display_name": "Python 3 (ipykernel)", "language": "python", "name": "python3"},
        language_info={"name": "python"},
    )
    count = 0
    for n, cell in enumerate(nb.cells):
        cell.id = f"cell-{n:02d}"
        cell.metadata = (
            nbformat.NotebookNode(jupyter={"source_hidden": True})
            if cell.cell_type == "code"
            else nbformat.NotebookNode()
        )
        if cell.cell_type != "code":
            continue
        count += 1
        cell.execution_count = count
        for output in cell.outputs:
            output.get("data", {}).pop(WIDGET, None)
            if "metadata" in output:
                output.metadata = nbformat.NotebookNode()
            if output.output_type == "execute_result":
                output.execution_count = count
    return nb


def run(path: Path) -> None:
    """Execute one notebook in place."""
    nb = nbformat.read(path, 4)
    NotebookClient(nb, timeout=120, kernel_name="python3", resources={"metadata": {"path": str(path.parent)}}).execute()
    nbformat.validate(tidy(nb))
    nbformat.write(nb, path)


if __name__ == "__main__":
    wanted = sys.argv[1:] or [""]
    for notebook in sorted(FOLDER.glob("*.ipynb")):
        if any(notebook.name.startswith(w) for w in wanted):
            run(notebook)
            print(notebook.name)
