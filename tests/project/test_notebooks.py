"""What every notebook must be, without running it; ``pytest notebooks`` runs them and compares the outputs.

To execute and normalise one after a change:  .venv/bin/python -m tests.notebooks 61
"""

import re

import nbformat
import pytest

from shoplib.core.terms import glossary
from tests import notebooks as tool

NAMES = tool.names()
MACHINE = re.compile(
    r"(/home/|/Users/|/tmp/|/root/|/work/|[A-Z]:\\\\|\.venv|site-packages|127\.0\.0\.1:\d|0x[0-9a-f]{8,})"
)


@pytest.fixture(params=NAMES)
def named(request):
    return request.param, nbformat.read(tool.FOLDER / request.param, 4)


def test_it_runs_clean_and_shows_its_outputs(named):
    name, nb = named
    nbformat.validate(nb)
    code = [c for c in nb.cells if c.cell_type == "code"]
    assert code, name
    for number, cell in enumerate(code, 1):
        assert cell.execution_count == number, f"{name}: run it with the tool named above"
        assert all(o.output_type != "error" for o in cell.outputs)
        assert all(o.get("name") != "stderr" for o in cell.outputs), f"{name}: cell {number} wrote to stderr"
    assert any(c.outputs for c in code), f"{name}: committed without outputs"
    if name != tool.WORDS:
        told = [o for c in code for o in c.outputs if o.output_type in ("stream", "display_data")]
        assert told, f"{name}: no worked example as text"


def test_code_is_folded_and_short(named):
    name, nb = named
    for cell in nb.cells:
        if cell.cell_type == "code":
            assert cell.metadata.jupyter.source_hidden is True
            assert len(cell.source.splitlines()) <= 12, f"{name}: a cell of more than 12 lines belongs in the package"


def test_nothing_of_the_machine_or_the_clock(named):
    name, nb = named
    text = re.sub(r"base64,[A-Za-z0-9+/=]+", "", nbformat.writes(nb))
    assert not MACHINE.search(text), (name, MACHINE.search(text))
    assert "widget-view" not in text
    for cell in nb.cells:
        assert set(cell.metadata) <= {"jupyter"}, f"{name}: normalise it with the tool"


def test_shape_and_links(named):
    name, nb = named
    text = "\n".join(c.source for c in nb.cells if c.cell_type == "markdown")
    assert text.startswith("# ")
    wanted = (
        ["Cautions"]
        if name in (tool.CONTENTS, tool.WORDS)
        else ["**For** ", "**Have ready:**", "**Time:**", "## Why", "## Try it", "## Cautions", "## Sources"]
    )
    missing = [w for w in wanted if w not in text]
    assert not missing, f"{name}: lacks {missing}"
    assert "maker's procedure" in text
    for target in re.findall(r"\]\(([^)#]+\.ipynb)\)", text):
        assert (tool.FOLDER / target).exists(), f"{name}: links to {target}"
    assert tool.links(name, nb.copy()) == nb, f"{name}: links are stale; run the tool"


def test_contents_lead_to_every_notebook():
    text = (tool.FOLDER / tool.CONTENTS).read_text(encoding="utf-8")
    assert [n for n in NAMES if n != tool.CONTENTS and f"({n})" not in text] == []


MOST_WORDS = 600


def prose(nb):
    """The words of a notebook that are on the screen before anything is unfolded: no tables, no addresses."""
    told = "\n".join(c.source for c in nb.cells if c.cell_type == "markdown")
    told = re.sub(r"<details.*?</details>|^\|.*$|\]\([^)]*\)|<[^>]*>|```.*?```", " ", told, flags=re.S | re.M)
    return re.findall(r"[^\W\d_][\w’'-]*", told)


def test_at_most_600_words_of_prose(named):
    name, nb = named
    assert len(prose(nb)) <= MOST_WORDS, f"{name}: fold what few need"


def test_the_glossary_leads_to_notebooks_that_use_the_word():
    numbers = {n[:2]: (tool.FOLDER / n).read_text(encoding="utf-8").lower() for n in NAMES}
    for term in glossary():
        words = re.findall(r"[a-z]{3,}", term.term.lower())
        for number in term.used:
            assert number in numbers, f"{term.term}: there is no notebook {number}"
            assert any(w[:5] in numbers[number] for w in words), f"{term.term} is not in notebook {number}"
