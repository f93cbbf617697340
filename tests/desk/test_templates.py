"""HTML of the desk: what a person typed is text in every template."""

import re

import pytest
from jinja2 import UndefinedError

from shoplib.desk import TEMPLATES
from shoplib.desk.widgets import templates
from shoplib.desk.widgets.form import Form
from shoplib.desk.widgets.templates import render

HOSTILE = "<img src=x onerror=\"alert('1')\">&"


@pytest.mark.parametrize(
    ("template", "macro", "values"),
    [
        ("parts", "cell", [HOSTILE]),
        ("parts", "cell", [[HOSTILE, {HOSTILE: [HOSTILE]}]]),
        ("parts", "cell", [[{HOSTILE: HOSTILE}]]),
        ("parts", "table", [[HOSTILE], [[HOSTILE]]]),
        ("parts", "note", [HOSTILE]),
        ("parts", "said", ["good", "✓", "status", f"{HOSTILE}\n{HOSTILE}", "", "jd-said"]),
        ("parts", "label", [HOSTILE]),
        ("parts", "heading", [HOSTILE]),
        ("entry", "stale", [[HOSTILE], HOSTILE]),
        ("form", "empty", [[HOSTILE]]),
        ("form", "stop", [[HOSTILE]]),
        ("form", "not_yours", [HOSTILE]),
        ("form", "answer", [[(HOSTILE, HOSTILE, HOSTILE)], "pass", [("pass", HOSTILE, HOSTILE)],
                            [(HOSTILE, [HOSTILE], [[HOSTILE]])]]),
        ("form", "notes", [HOSTILE, [HOSTILE], True]),
        ("form", "folded_text", [HOSTILE, HOSTILE]),
        ("form", "fold", [HOSTILE, ""]),
        ("form", "static", ["", [(HOSTILE, HOSTILE)], []]),
        ("evidence", "checks", [[HOSTILE], [[HOSTILE]], True]),
        ("evidence", "found", [HOSTILE, [], [], True, 12]),
    ],
)  # fmt: skip
def test_text_is_never_markup(template, macro, values):
    made = render(template, macro, *values)
    assert "&lt;img" in made
    assert "<img" not in made
    assert "onerror=&#34;" in made
    assert not re.search(r"&(?!amp;|lt;|gt;|#34;|#39;)", made)


def test_what_is_put_in_as_markup_is_listed():
    """Each ``| safe`` is HTML or LaTeX of the program's own; a new one needs a line here."""
    found = {
        (path.name, use) for path in TEMPLATES.glob("*.html") for use in re.findall(r"[\w.]+ \| safe", path.read_text())
    }
    assert found == {
        ("form.html", "css | safe"),
        ("form.html", "part | safe"),  # parts made by other templates
        ("form.html", "inside | safe"),  # a widget's own page
        ("form.html", "line.latex | safe"),  # from the symbols of a formula
        ("evidence.html", "css | safe"),
    }


def test_autoescape_does_not_rest_on_our_own_escape():
    made = templates._environment.__wrapped__()
    made.finalize = None
    assert "<img" not in made.get_template("form.html").module.not_yours(HOSTILE)


def test_a_missing_value_is_an_error_not_a_blank():
    with pytest.raises(UndefinedError):
        render("form", "steps", [{"title": "t", "lines": []}])


def test_a_typed_text_reaches_the_page_of_a_form_as_text():
    form = Form("engine_card", keeping=False)
    name = next(f.name for f in form.working.fields if f.kind == "text")
    form.entries[name].box.value = HOSTILE
    page = form.static_html()
    assert "&lt;img src=x" in page
    assert "<img src=x" not in page
