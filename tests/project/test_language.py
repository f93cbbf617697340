"""Plain English in everything that a person can read: the glossary's words, short sentences, no internal names."""

import re

import pytest

from shoplib.core.terms import terms
from shoplib.topics import all_workings
from tests.texts import all_texts, of_workings, sentences

INSTEAD = {phrase: t.term for t in terms() for phrase in t.instead_of}
ODD = {  # habits beyond the glossary → a plain way to say it
    r"\bas they like\b": "as you choose",
    r"\bnobody knows\b": "is not known",
    r"\b(?:at|through) the door\b": "on input",
    r"\bthe house\b": "the project",
    r"\bevened up\b|\beven(?:ing)? it up\b": "do not try to even it up",
    r"\breckon": "calculate",
    r"\bstands twice\b": "is listed twice",
    r"\btakes no writing\b": "is read-only",
    r"\bis not part of .*; there are\b": "unknown key; allowed: …",
    r"^Not so\b": "Not quite",
    r"\bput it aside\b": "leave it",
}
LONGEST = {"document": 30}  # words; a document for developers may list a few names
USUAL = 25


def said(texts):
    return "\n".join(f"{t.source}: {t.text[:160]}" for t in texts)


def test_the_glossary_decides():
    wrong = []
    for phrase, term in INSTEAD.items():
        found = [t for t in all_texts() if re.search(rf"\b{re.escape(phrase)}(?!\w)", t.text, re.IGNORECASE)]
        wrong += [f"say “{term}” instead of “{phrase}”:\n{said(found)}"] if found else []
    assert not wrong, "\n".join(wrong)


def test_no_invented_idiom():
    wrong = []
    for pattern, plain in ODD.items():
        found = [t for t in all_texts() if re.search(pattern, t.text, re.IGNORECASE)]
        wrong += [f"say for example “{plain}”:\n{said(found)}"] if found else []
    assert not wrong, "\n".join(wrong)


def test_sentences_are_short():
    long = [
        t
        for t in all_texts()
        if t.kind != "docstring" and any(len(s.split()) > LONGEST.get(t.kind, USUAL) for s in sentences(t.text))
    ]
    assert not long, said(long)


def test_screens_show_no_internal_names():
    found = [t for t in of_workings() if re.search(r"\b[a-z]+_[a-z_]+\b|[\[\]{}]", re.sub(r'"[^"]*"', "", t.text))]
    assert not found, said(found)


@pytest.mark.parametrize("working", all_workings().values(), ids=lambda w: w.name)
def test_one_field_per_label(working):
    """In a form, and in each of its tables, no two fields have the same label."""
    for fields in (working.fields, *(f.columns for f in working.fields)):
        labels = [f.label for f in fields]
        assert sorted(labels) == sorted(set(labels))


def test_one_label_per_field():
    """Two labels that differ only in small words would be two labels for one thing."""
    found = {}
    for working in all_workings().values():
        for field in (*working.fields, *(c for f in working.fields for c in f.columns)):
            main = frozenset(re.findall(r"\w+", field.label.lower())) - {"of", "on", "the", "a", "an", "its", "your"}
            found.setdefault(main, set()).add(field.label)
    assert [labels for labels in found.values() if len(labels) > 1] == []


def test_terms_are_listed_once():
    names = [t.term for t in terms()]
    assert len(names) == len(set(names))
    assert all(t.meaning or t.instead_of for t in terms())
