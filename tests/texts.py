"""Every text that a person can read, with its source: ``python -m tests.texts`` prints them all.

Labels, help, choices and cautions of the workings; questions of the exercises; the sentences in the code of screens,
messages and sheets; templates; notebooks; documents.
"""

from __future__ import annotations

import ast
import csv
import functools
import json
import re
import sys
from pathlib import Path
from typing import NamedTuple

from shoplib.topics import all_workings

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "shoplib"
DOCUMENTS = ("README.md", "DEVELOPERS.md", "CHANGELOG.md")


class Text(NamedTuple):
    """A text and where it is."""

    source: str
    kind: str  # label, help, caution, code, template, notebook, document, docstring
    text: str


def of_workings() -> list[Text]:
    """What is declared: titles, questions, labels, help, choices, cautions."""
    found = []
    for working in all_workings().values():
        found += [Text(working.name, "label", working.title), Text(working.name, "help", working.question)]
        found += [Text(working.name, "caution", c) for c in working.cautions]
        for field in (*working.fields, *(c for f in working.fields for c in f.columns)):
            where = f"{working.name}.{field.name}"
            found += [
                Text(where, "label", field.label),
                Text(where, "help", field.help),
                Text(where, "label", field.group),
            ]
    return [t for t in found if t.text]


def _plain(node: ast.expr) -> str | None:
    """The text of a string or an f-string; what is put in is shown as …"""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(v.value if isinstance(v, ast.Constant) else "…" for v in node.values)
    return None


def _is_prose(text: str) -> bool:
    words = re.findall(r"[A-Za-z]{2,}", text)
    return len(words) >= 3 and not re.search(r"[{}\\]|\bvar\(|</?svg|^\s*[.#@]|SELECT |CREATE |PRAGMA|https?:", text)


def of_code() -> list[Text]:
    """Sentences in the code, docstrings apart."""
    found = []
    for path in sorted(PACKAGE.rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        inside, documents = set(), set()
        for node in ast.walk(tree):
            if isinstance(node, ast.JoinedStr):
                inside |= {id(v) for v in ast.walk(node) if v is not node}
            if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef) and node.body:
                first = node.body[0]
                if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant):
                    documents.add(id(first.value))
        for node in ast.walk(tree):
            if not isinstance(node, ast.Constant | ast.JoinedStr) or id(node) in inside:
                continue
            text = _plain(node)
            if text and _is_prose(text):
                kind = "docstring" if id(node) in documents else "code"
                found.append(Text(f"{path.relative_to(ROOT).as_posix()}:{node.lineno}", kind, text))
    return found


def of_templates() -> list[Text]:
    """Words in brackets and quotes of the sheet's templates."""
    found = []
    for path in sorted(PACKAGE.rglob("*.typ")):
        for n, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
            for text in re.findall(r'"([^"]+)"|\[([^\[\]#]+)\]', line.partition("//")[0]):
                said = text[0] or text[1]
                if _is_prose(said):
                    found.append(Text(f"{path.relative_to(ROOT).as_posix()}:{n}", "template", said))
    return found


def _paragraphs(markdown: str) -> list[str]:
    plain = re.sub(r"```.*?```", "", markdown, flags=re.S)
    plain = re.sub(r"^\s*\|.*$", "", plain, flags=re.M)
    return [
        " ".join(p.split()) for p in re.split(r"\n\s*\n|\n\s*(?:[-*]|\d+\.)\s+|^#+\s+", plain, flags=re.M) if p.strip()
    ]


def of_notebooks() -> list[Text]:
    """Every paragraph of the notebooks."""
    found = []
    for path in sorted((ROOT / "notebooks").glob("*.ipynb")):
        cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
        found += [
            Text(f"notebooks/{path.stem}, cell {n}", "notebook", p)
            for n, cell in enumerate(cells, 1)
            if cell["cell_type"] == "markdown"
            for p in _paragraphs("".join(cell["source"]))
        ]
    return found


def of_documents() -> list[Text]:
    """Every paragraph of the documents at the top."""
    return [
        Text(name, "document", p) for name in DOCUMENTS for p in _paragraphs((ROOT / name).read_text(encoding="utf-8"))
    ]


@functools.cache
def all_texts() -> tuple[Text, ...]:
    """All of them."""
    return (*of_workings(), *of_code(), *of_templates(), *of_notebooks(), *of_documents())


def sentences(text: str) -> list[str]:
    """The sentences of a text; what is in code marks or formulas counts as one word."""
    plain = re.sub(r"`[^`]*`|\$[^$]*\$|\]\([^)]*\)|<[^>]*>", " x ", text)
    return [s for s in re.split(r"(?<=[.!?:;])\s+|\n\n", plain) if s.strip()]


if __name__ == "__main__":
    writer = csv.writer(sys.stdout)
    writer.writerow(Text._fields)
    writer.writerows(all_texts())
