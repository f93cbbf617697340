"""A working's picture in a notebook, live: only what moves is drawn again and sent.

Write the picture once, in ordinary matplotlib.  Artists that move carry a ``gid``; the drawing function
returns the function that moves them.  The whole figure is rendered once.  After that only the artists
with a ``gid`` are drawn again, each by its own ``draw`` method on matplotlib's own SVG renderer, so a
patched picture is what a full rendering would give.  If anything else changed (limits, a title without a
gid, a new artist) the whole figure is rendered again: slower, never wrong.
"""

from __future__ import annotations

import base64
import html
import io
from collections.abc import Callable
from typing import Any

import anywidget
import matplotlib as mpl
import traitlets
from matplotlib.backends.backend_svg import RendererSVG
from matplotlib.figure import Figure

from shoplib.desk import STATIC
from shoplib.look import SCREEN

_NO_METADATA = dict.fromkeys(("Creator", "Date", "Format", "Type"))


class LiveFigure(anywidget.AnyWidget):
    """``LiveFigure(draw, state)`` shows the picture; ``move(state)`` shows another state of it."""

    _esm = STATIC / "livefigure.js"
    svg = traitlets.Unicode().tag(sync=True)  # the full picture, with an empty slot for each moving artist
    parts = traitlets.Dict().tag(sync=True)  # slot id -> SVG of that artist now; always complete
    alt = traitlets.Unicode("").tag(sync=True)  # text alternative for screen readers

    def __init__(
        self,
        draw: Callable[[Figure], Callable[[Any], None]],
        state: Any,
        *,
        name: str = "live",
        alt: str = "",
        **options: Any,
    ) -> None:
        # 72 dots per inch: SVG units are points
        self.figure = Figure(dpi=72, **{"layout": "constrained", **options})
        self._engine = self.figure.get_layout_engine()
        self._style: Any = {**SCREEN, "svg.hashsalt": name}
        with mpl.rc_context(self._style):
            self._move = draw(self.figure)
            self._move(state)
        self._live: dict[str, Any] = {}
        self._fixed: list[Any] = []
        self._rendered: Any = None
        super().__init__(alt=alt)
        self.render()

    def move(self, state: Any) -> None:
        """Show another state; only what moved is drawn and sent."""
        self._move(state)
        if self._still() == self._rendered:
            self.parts = self._draw_parts()
        else:
            self.render()

    def render(self) -> None:
        """Lay out and render the whole figure; moving artists become slots that the parts fill."""
        figure = self.figure
        live = figure.findobj(lambda a: bool(a.get_gid()))
        self._live = {f"live-{a.get_gid()}": a for a in live}
        if len(self._live) != len(live):
            raise ValueError("two artists share one gid")
        figure.set_layout_engine(self._engine)
        try:
            for slot, artist in self._live.items():
                artist.draw = lambda renderer, slot=slot: (
                    renderer.open_group("live", slot),
                    renderer.close_group("live"),
                )
            svg = self.to_svg()
        finally:
            for artist in live:
                vars(artist).pop("draw", None)
        figure.set_layout_engine("none")  # frozen, so that live moves cannot shift the axes
        parts = self._draw_parts()
        moving = {id(b) for a in live for b in a.findobj()}
        self._fixed = [a for a in figure.findobj() if moving.isdisjoint(map(id, a.findobj()))]
        for artist in self._fixed:
            artist.stale = False  # also those that draw nothing now, such as an empty title
        self._rendered = self._still()
        with self.hold_sync():  # one message: the browser never sees a new base with old parts
            self.svg = svg[svg.index("<svg") :]
            self.parts = parts

    def to_svg(self) -> str:
        """The figure as it stands, through matplotlib's savefig (which alters the stale marks)."""
        changed = self._still() != self._rendered
        out = io.StringIO()
        with mpl.rc_context(self._style):
            self.figure.savefig(out, format="svg", metadata=_NO_METADATA)
        for artist in self._fixed:
            artist.stale = changed
        return out.getvalue()

    def _draw_parts(self) -> dict[str, str]:
        salt = self._style["svg.hashsalt"] + "-parts"  # own ids: never taken for an id of the base picture
        with mpl.rc_context({**self._style, "svg.hashsalt": salt}):
            return {slot: self._draw_alone(artist) for slot, artist in self._live.items()}

    def _draw_alone(self, artist: Any) -> str:
        """The SVG of one artist, with the clip paths and markers it refers to."""
        out = io.StringIO()
        width, height = 72 * self.figure.get_size_inches()
        renderer = RendererSVG(width, height, out, metadata=_NO_METADATA)
        start = out.tell()
        artist.draw(renderer)
        renderer.finalize()
        text = out.getvalue()
        return text[start : text.rindex("</svg>")]

    def _still(self) -> Any:
        """What must not change between two full renderings; a stale fixed artist was changed by someone."""
        axes = tuple(
            (ax.viewLim.bounds, ax.get_position().bounds, tuple(map(id, ax.get_children()))) for ax in self.figure.axes
        )
        return axes, [a.get_zorder() for a in self._live.values()], any(a.stale for a in self._fixed)

    def as_image(self) -> str:
        """The current picture as an <img>, for viewers without a kernel."""
        code = base64.b64encode(self.to_svg().encode()).decode()
        return f'<img alt="{html.escape(self.alt)}" style="width:100%" src="data:image/svg+xml;base64,{code}">'
