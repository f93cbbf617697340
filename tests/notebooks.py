"""Run the notebooks in place and make what is committed deterministic.

    .venv/bin/python -m tests.notebooks            # all
    .venv/bin/python -m tests.notebooks 61         # those whose name starts with 61

Kept: text, HTML and images.  Dropped: widget views (their ids differ at every run; a viewer without a
kernel shows the HTML instead), times, widget state.  Written anew: the links at the foot of every notebook
and the table of contents in 00, both read from the titles; route and labs of 03.  ``pytest notebooks`` compares the outputs again.
"""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path

import nbformat
from nbclient import NotebookClient

FOLDER = Path(__file__).parents[1] / "notebooks"
WIDGET = "application/vnd.jupyter.widget-view+json"
PHASES = {  # by the first digit of a notebook's name: the job in order
    "0": "Start the job; learn",
    "1": "Prove the fault",
    "2": "Lock and strip",
    "3": "Measure head and deck",
    "4": "Skim and gasket",
    "5": "Bolts, parts and wrench",
    "6": "Tighten",
    "7": "Re-time",
    "8": "Fill and protect",
    "9": "Prove and hand over",
}
CONTENTS = "00-contents.ipynb"
GUIDE = "03-instructors-guide.ipynb"
WORDS = "04-words-and-cautions.ipynb"
TABLE = "| Step of the job | Question | Notebook |"


def names() -> list[str]:
    """File names in the order of the job."""
    return sorted(p.name for p in FOLDER.glob("*.ipynb"))


def title(name: str) -> str:
    """The question: the first heading."""
    nb = nbformat.read(FOLDER / name, 4)
    return nb.cells[0].source.splitlines()[0].removeprefix("# ")


NAMES = {
    "instructors-guide": "Instructor's guide", "valve-over-piston": "Valve-to-piston clearance",
    "wrench-and-cards": "Wrench settings and cards", "trace-of-the-wrench": "Wrench trace",
    "compression-and-leak-down": "Compression and leak-down", "why-torque-then-angle": "Why torque, then angle",
}  # fmt: skip


def short(name: str) -> str:
    """``61 · Preload from torque``."""
    if name == CONTENTS:
        return "Contents"
    number, _, rest = name.removesuffix(".ipynb").partition("-")
    return f"{number} · {NAMES.get(rest) or rest.replace('-', ' ').capitalize()}"


def link(name: str, text: str) -> str:
    return f"[{text}]({name})"


def foot(name: str) -> str:
    """Previous, contents, next."""
    all_names = names()
    here = all_names.index(name)
    before, after = all_names[:here], all_names[here + 1 :]
    links = [link(before[-1], f"← {short(before[-1])}")] if before and before[-1] != CONTENTS else []
    links += [link(CONTENTS, "Contents")]
    links += [link(WORDS, "Words and cautions")] if name != WORDS else []
    links += [link(after[0], f"{short(after[0])} →")] if after else []
    return " · ".join(links)


def contents() -> str:
    """The table of notebook 00: one line each, in the order of the job."""
    rows = [TABLE, "|---|---|---|"]
    last = ""
    for name in names():
        if name != CONTENTS:
            phase = PHASES[name[0]]
            rows.append(
                f"| {'' if phase == last else '**' + phase + '**'} | {title(name)} | {link(name, short(name))} |"
            )
            last = phase
    return "\n".join(rows)


def route_as_markdown() -> str:
    """The table of the route, for notebook 03."""
    from shoplib.topics.instructor import TERM

    lines = ["| Lesson | Show | Ask | They will say | Answer |", "|---|---|---|---|---|"]
    lines += [f"| {n} · {m.title} | {m.show} | {m.ask} | {m.they_say} | {m.answer} |" for n, m in enumerate(TERM, 1)]
    return "\n".join(lines)


def talks_as_markdown() -> str:
    """What learners say and what to answer, lesson by lesson, for notebook 03."""
    from shoplib.topics.instructor import talks

    lines = []
    for talk in talks():
        lines += [f"<details><summary>{talk.number} · {talk.title}</summary>", "", talk.question, ""]
        lines += ["| They say | Answer |", "|---|---|", *(f"| {said} | {answer} |" for said, answer in talk.said)]
        lines += ["", f"At the end they can say: {talk.goal}", "", "</details>"]
    return "\n".join(lines)


def labs_as_markdown() -> str:
    """The labs, for notebook 03."""
    from shoplib.topics.instructor import LABS

    lines = []
    for lab in LABS:
        lines += [f"### {lab.letter} · {lab.title}", "", f"{lab.question} Have ready: {lab.needed}", ""]
        lines += [f"{n}. {step}" for n, step in enumerate(lab.steps, 1)]
        first = "; ".join(" ".join(row[:1]) for row in lab.rows)
        lines += ["", f"The printed sheet has a row for each of: {first}. It asks for: {'; '.join(lab.head[1:])}."]
        lines += ["", " ".join(lab.work_out), "", *(f"- {caution}" for caution in lab.cautions), "", ""]
    return "\n".join(lines[:-2])


WRITTEN = (  # parts of notebook 03
    ("## The route", route_as_markdown), ("## What they will say", talks_as_markdown), ("## Bench labs", labs_as_markdown),
)  # fmt: skip


def links(name: str, nb: nbformat.NotebookNode) -> nbformat.NotebookNode:
    """The same notebook with its foot, in 00 its table and in 03 route, sayings and labs, as they should be."""
    if link(CONTENTS, "Contents") not in nb.cells[-1].source and name != CONTENTS:
        nb.cells.append(nbformat.v4.new_markdown_cell(id=f"cell-{len(nb.cells):02d}"))  # it had no foot yet
    nb.cells[-1].source = foot(name)
    if name == GUIDE:
        for cell in nb.cells:
            for heading, content in WRITTEN:
                if cell.source.startswith(heading):
                    cell.source = f"{heading}\n\n{content()}"
    if name == CONTENTS:
        cell = next(c for c in nb.cells if TABLE in c.source)
        cell.source = cell.source[: cell.source.index(TABLE)] + contents()
    return nb


def joined(outputs: list[nbformat.NotebookNode]) -> list[nbformat.NotebookNode]:
    """The same outputs with what was printed in one piece: a busy machine hands it over in several."""
    found: list[nbformat.NotebookNode] = []
    for output in outputs:
        if found and output.output_type == "stream" and found[-1].get("name") == output.name:
            found[-1].text += output.text
        else:
            found.append(output)
    return found


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
        cell.outputs = joined(cell.outputs)
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
    with tempfile.TemporaryDirectory() as own:  # an empty job record, never the user's
        os.environ |= {"SHOPLIB_STORE": str(Path(own) / "jobs.db"), "SHOPLIB_DESK": "test"}
        resources = {"metadata": {"path": str(path.parent)}}
        NotebookClient(nb, timeout=120, kernel_name="python3", resources=resources).execute()
    nbformat.validate(tidy(nb))
    nbformat.write(nb, path)


if __name__ == "__main__":
    wanted = sys.argv[1:] or [""]
    for file in names():
        if any(file.startswith(w) for w in wanted):
            run(FOLDER / file)
            print(file)
    for file in names():
        before = nbformat.read(FOLDER / file, 4)
        after = links(file, before.copy())
        text = nbformat.writes(after)
        if text + "\n" != (FOLDER / file).read_text(encoding="utf-8") and text != (FOLDER / file).read_text(
            encoding="utf-8"
        ):
            nbformat.write(after, FOLDER / file)
            print("links:", file)
