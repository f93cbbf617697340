"""What the tests of the desk of one job share: a printer, boxes found and filled."""

import base64
import datetime
import io
import re

import ipywidgets
from PIL import Image

LONG_AGO = datetime.datetime(2026, 1, 1, tzinfo=datetime.UTC)

WHO = {"who": "A. Learner"}


class Printer:
    """Sheets without a typesetter: the store's part of it is real."""

    def __init__(self):
        self.made = []

    def job_sheet(self, store, number, *, paper="a4", blank=False, who="", recipient="", extent="whole"):
        if who:
            store.issue(number, who=who, recipient=recipient)
        self.made.append((number, paper, blank, who))
        self.asked = (recipient, extent)
        return b"%PDF-1.7 made for a test"

    def look(self, pdf):
        raise ValueError("the PDF carries no record of this program")


def walk(widget):
    yield widget
    for child in getattr(widget, "children", ()):
        yield from walk(child)


def html_of(widget):
    """All HTML under a widget that is shown, labels of boxes among it."""
    shown = [w for w in walk(widget) if w.layout.display != "none"]
    texts = [w.value for w in shown if isinstance(w, ipywidgets.HTML)]
    return "\n".join(texts + [w.description for w in shown if getattr(w, "description_allow_html", False)])


def plain(widget):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", re.sub(r"<style>.*?</style>", "", html_of(widget), flags=re.S)))


def page(desk, name):
    desk.go_to(name)
    return desk.pages[name]


def place_of(desk, name, title):
    """The row of an entry, unfolded."""
    for place in page(desk, name).children:
        if hasattr(place, "toggle") and title in place.words.value:
            if place.panel is None:
                place.button.click()
            return place
    raise AssertionError(f"{title} is not there")


def put(boxes, **typed):
    for name, value in typed.items():
        boxes[name].box.value = value


def action(desk, title, which, name="history"):
    panel = place_of(desk, name, title).panel
    getattr(panel, which).click()
    return panel, panel.part.children[0]


def saved(say):
    """Name and bytes of the file that a link carries."""
    name, code = re.search(r'download="([^"]+)" href="data:[^;]+;base64,([^"]+)"', say.value).groups()
    return name, base64.b64decode(code)


def chosen(name, content):
    """What a browser hands in."""
    return (
        {"name": name, "type": "", "size": len(content), "content": memoryview(content), "last_modified": LONG_AGO},
    )


def jpeg():
    out = io.BytesIO()
    Image.new("RGB", (60, 40), "#808890").save(out, "JPEG")
    return out.getvalue()
