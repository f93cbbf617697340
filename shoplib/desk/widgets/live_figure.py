"""The live picture of a working in a notebook: only what moves is redrawn and sent.

Write the picture once, in ordinary matplotlib.  Artists that move have a ``gid``; the drawing function returns the
function that moves them.  The whole figure is rendered once.  After that only the artists with a ``gid`` are redrawn,
on matplotlib's own SVG renderer (``plotting/svg_renderer.py``), so a patched picture equals a full rendering.  An
artist that has not changed is not redrawn, and only changed SVG is sent, in one message with the text alternative.
If anything else changed (limits, a title without a gid, a new artist), the whole figure is rendered again: slower,
but always correct.
"""

from __future__ import annotations

import base64
import contextlib
import io
import re
import time
from collections.abc import Callable, Iterator
from typing import Any

import anywidget

import shoplib.plotting.matplotlib_light  # noqa: F401 # isort: skip  # before the rest of matplotlib
import matplotlib as mpl
import traitlets
from matplotlib.backends.backend_svg import FigureCanvasSVG, RendererSVG
from matplotlib.figure import Figure

from shoplib.desk import STATIC
from shoplib.desk.widgets.escape_html import e
from shoplib.desk.widgets.message_batch import carrying
from shoplib.plotting import incremental
from shoplib.plotting.plot_style import SCREEN

AT_ONCE = 0.04  # seconds that numbers may wait for their picture; too short to notice
_SLOT = re.compile(r'<g id="(live-[^"]*)"(?:/>|>\s*</g>)')


class _Canvas(FigureCanvasSVG):
    """A canvas with one renderer for measuring text; matplotlib would create a new document each time."""

    def __init__(self, figure: Figure) -> None:
        super().__init__(figure)
        width, height = 72 * figure.get_size_inches()
        self._measure = RendererSVG(width, height, io.StringIO())

    def get_renderer(self) -> RendererSVG:
        """Called by ``Figure``."""
        return self._measure


class LiveFigure(anywidget.AnyWidget):
    """``LiveFigure(draw, state)`` shows the picture; ``move(state)`` shows another state of it."""

    _esm = STATIC / "livefigure.js"
    svg = traitlets.Unicode().tag(sync=True)  # the full picture, with an empty slot for each moving artist
    parts = traitlets.Dict().tag(sync=True)  # slot id -> SVG of that artist now; always complete
    patch = traitlets.Dict().tag(sync=True)  # the slots changed by the last move; the browser merges them
    alt = traitlets.Unicode("").tag(sync=True)  # text alternative for screen readers
    beside = traitlets.Dict().tag(sync=True)  # changes of other widgets, to be shown in the same frame

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
        self._canvas = _Canvas(self.figure)
        self._style: Any = {**SCREEN, "svg.hashsalt": name}
        with mpl.rc_context(self._style):
            self._move = draw(self.figure)
            self._move(state)
        self._engine = self.figure.get_layout_engine()  # a drawing may set the positions of its axes
        self._took = 0.0  # seconds of the last move
        self._live: dict[str, Any] = {}
        self._renderer: incremental.Renderer | None = None  # None: the whole picture is drawn each time
        self._fixed: list[Any] = []
        self._rendered: Any = None
        super().__init__(alt=alt)
        self.render()

    def move(self, state: Any, alt: str | None = None, say: Callable[[], None] | None = None) -> None:
        """Show another state; only changed artists are drawn and sent, with the text alternative, as one message.

        ``say`` sends the numbers.  They are sent first, or in one message with the picture if drawing is quick.
        """
        if say is not None and self._took > AT_ONCE:
            say()
            say = None
        with self.hold_sync():
            begun = time.perf_counter()
            with _styled(self._style):
                self._move(state)
                parts = self._changed_parts()
            self._took = time.perf_counter() - begun
            if say is not None:
                with carrying() as load:
                    say()
                self.beside = {
                    **load,
                    "move": self.beside.get("move", 0) + 1,
                }  # a return to earlier numbers is also a change
            if parts is not None:
                changed = {k: v for k, v in parts.items() if v != self.parts[k]}
                self.parts.update(changed)  # in place: only the patch is sent, and a later view gets everything
                if changed:
                    self.patch = changed
            else:
                self.render()
            if alt is not None:
                self.alt = alt

    def render(self) -> None:
        """Lay out and render the whole figure; moving artists become slots, which are filled by the parts."""
        figure = self.figure
        self._renderer = incremental.renderer(72 * figure.get_size_inches(), self._style["svg.hashsalt"])
        live = figure.findobj(lambda a: bool(a.get_gid())) if self._renderer is not None else []
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
        with _styled(self._style):
            parts = self._drawn()
        if parts is None:  # the renderer failed: once more, without slots
            return self.render()
        moving = {id(b) for a in live for b in a.findobj()}
        self._fixed = [a for a in figure.findobj() if moving.isdisjoint(map(id, a.findobj()))]
        for artist in self._fixed:
            artist.stale = False  # also artists that draw nothing now, such as an empty title
        self._rendered = self._still()
        with self.hold_sync():  # one message: the browser never shows a new base with old parts
            self.svg = svg[svg.index("<svg") :]
            self.parts = parts
            self.patch = {}

    def _changed_parts(self) -> dict[str, str] | None:
        """The parts that changed; None when the whole picture must be rendered."""
        return self._drawn() if self._renderer is not None and self._still() == self._rendered else None

    def _drawn(self) -> dict[str, str] | None:
        """The parts as the renderer draws them; None if it failed, and from then on it is not used."""
        if self._renderer is None:
            return {}
        try:
            return self._renderer.draw(self._live)
        except Exception as error:  # noqa: BLE001 -- whatever fails there, a full rendering shows the picture
            incremental.give_up(error)
            return None

    def to_svg(self) -> str:
        """The present figure, as matplotlib's canvas prints it (this changes the stale flags)."""
        changed = self._still() != self._rendered
        out = io.StringIO()
        with mpl.rc_context(self._style):  # not savefig, which draws everything an extra time
            self._canvas.print_svg(out, metadata=incremental.NO_METADATA)
        for artist in self._fixed:
            artist.stale = changed
        return out.getvalue()

    def _still(self) -> Any:
        """The state that must not change between two full renderings; a stale fixed artist has been changed."""
        axes = tuple(
            (
                ax.viewLim.bounds,
                ax.get_position(original=True).bounds,
                ax.get_aspect(),
                tuple(map(id, ax.get_children())),
            )
            for ax in self.figure.axes
        )
        return axes, [a.zorder for a in self._live.values()], True in [a.stale for a in self._fixed]

    def as_image(self) -> str:
        """The current picture as an <img>, for viewers without a kernel."""
        svg = _SLOT.sub(lambda slot: f'<g id="{slot[1]}">{self.parts[slot[1]]}</g>', self.svg)
        code = base64.b64encode(svg.encode()).decode()
        return f'<img alt="{e(self.alt)}" style="width:100%" src="data:image/svg+xml;base64,{code}">'


@contextlib.contextmanager
def _styled(style: dict[str, Any]) -> Iterator[None]:
    """matplotlib's rc_context for these keys only; the full one would take longer than the drawing."""
    settings: Any = mpl.rcParams
    before = {key: settings[key] for key in style}
    settings.update(style)
    try:
        yield
    finally:
        settings.update(before)
