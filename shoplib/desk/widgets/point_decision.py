"""An open point is accepted as it is, or marked as resolved: by a named person, with the reason."""

from __future__ import annotations

from collections.abc import Sequence

import ipywidgets as W

from shoplib.desk.widgets.components import StatusMessage, button, labelled, reason_box, row, text_box, who_box
from shoplib.desk.widgets.entry_actions import Desk
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.input_field import Entry as Box
from shoplib.record.open_points import ACCEPTED, RESOLVED, OpenPoint, settled_points

CHOICES = {
    "accept it as it is": ACCEPTED,
    "it is resolved": RESOLVED,
}
NOTE = (
    "A decision changes the state of the point. It never changes a reading or an outcome. A reading out of range "
    "passes only if a source allows another range: type the range and its source."
)
SHORT = 90  # characters of a point in the list


class Decide(W.VBox):
    """The decision about the open points of one place; only a button until it is opened."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._points: dict[str, OpenPoint] = {}
        self.fold = button("Accept or resolve …", self.turn)
        self.point = labelled(W.Dropdown(options=[]), "Point")
        self.decision = labelled(W.Dropdown(options=CHOICES), "Decision")
        self.boxes: dict[str, Box] = {
            "by": text_box("by", "Who decided it", example='"B. Instructor"'),
            "because": reason_box(example="the customer was told and agreed"),
            "allowed": text_box("allowed", "Range that is allowed instead", required=False, example='"+85–110 deg"'),
            "allowed_source": text_box("allowed_source", "Source of that range", required=False,
                                       example='"bench notes, sheet 15"'),
            "who": who_box(desk.who, "Who records it"),
        }  # fmt: skip
        self.go = button("Record the decision", self.do, main=True)
        self.leave = button("Cancel", self.turn)
        self.said = StatusMessage()
        self.part = W.VBox([
            W.HTML(f'<p class="jd-note">{e(NOTE)}</p>'), row(self.point, self.decision, named="jd-boxes"),
            row(*self.boxes.values(), named="jd-boxes jd-long"), row(self.go, self.leave),
        ])  # fmt: skip
        self.part.layout.display = "none"
        self.point.observe(lambda _: self._fit(), "value")
        super().__init__([self.fold, self.part, self.said])
        self.add_class("jd-action")

    def show(self, points: Sequence[OpenPoint]) -> None:
        """Show the points that can be decided here; text being typed stays."""
        found = {p.key: p for p in points if p.key}
        if found.keys() != self._points.keys():
            self._points = found
            chosen = self.point.value
            self.point.options = [(f"{p.status}: {p.what[:SHORT]}", p.key) for p in found.values()]
            self.point.value = chosen if chosen in found else next(iter(found), None)
        self.point.layout.display = "" if len(found) > 1 else "none"
        self.layout.display = "" if found else "none"
        self._fit()

    def _fit(self) -> None:
        """Only a ticked bolt can have an allowed range instead of its stage."""
        ticked = str(self.point.value or "").startswith("tick/")
        for name in ("allowed", "allowed_source"):
            self.boxes[name].layout.display = "" if ticked else "none"

    def turn(self) -> None:
        """Open or close it."""
        opening = self.part.layout.display == "none"
        self.part.layout.display = "" if opening else "none"
        self.fold.layout.display = "none" if opening else ""
        self.said.clear()

    def do(self) -> None:
        """Record the decision."""
        job, key = self._desk.job, str(self.point.value or "")
        if job is None or not key:
            self.said.bad("Choose the point first.")
            return
        typed = {name: str(box.typed or "") for name, box in self.boxes.items()}
        if not key.startswith("tick/"):
            typed |= {"allowed": "", "allowed_source": ""}

        def folded() -> None:
            for name in ("because", "allowed", "allowed_source"):
                self.boxes[name].box.value = ""
            self.turn()

        self._desk.act(
            self.said, self.boxes,
            lambda store: store.decide(job.number, key, decision=str(self.decision.value), **typed), settled=folded,
        )  # fmt: skip


def decided_html(points: Sequence[OpenPoint]) -> str:
    """The points that are no longer open, under their headings: by whom and why, or by which later test."""
    return "".join(
        f'<h4 class="shop-group">{e(heading)}</h4><ul class="jd-due">{"".join(map(_decided_item, settled))}</ul>'
        for heading, settled in settled_points(points)
    )


def _decided_item(p: OpenPoint) -> str:
    """One of them as an item of a list."""
    return f"<li><b>{e(p.status)}</b> {e(p.where)}: {e(p.what)}<br><small>{e(p.decided)}</small></li>"
