"""A working's picture in a notebook, live: only what moves is drawn again and sent.

Write the picture once, in ordinary matplotlib.  Artists that move carry a ``gid``; the drawing function
returns the function that moves them.  The whole figure is rendered once.  After that only the artists
with a ``gid`` are drawn again, each by its own ``draw`` method on matplotlib's own SVG renderer, so a
patched picture is what a full rendering would give.  An artist that stands as it was drawn last is not drawn
again, and only what is drawn differently is sent, in one message with the words of the text alternative.
If anything else changed (limits, a title without a gid, a new artist) the whole figure is rendered again:
slower, never wrong.
"""

from __future__ import annotations

import base64
import contextlib
import copy
import io
import time
from collections.abc import Callable, Iterator
from enum import Enum
from typing import Any

import anywidget
import matplotlib as mpl
import numpy as np
import traitlets
from matplotlib.backends.backend_svg import RendererSVG
from matplotlib.colorizer import Colorizer
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from matplotlib.markers import MarkerStyle
from matplotlib.path import Path
from matplotlib.transforms import BboxBase, Transform

from shoplib.desk import STATIC
from shoplib.desk.escape import e
from shoplib.look import SCREEN

A_FRAME = 1 / 60  # seconds: the browser shows nothing more often
_NO_METADATA = dict.fromkeys(("Creator", "Date", "Format", "Type"))


class LiveFigure(anywidget.AnyWidget):
    """``LiveFigure(draw, state)`` shows the picture; ``move(state)`` shows another state of it."""

    _esm = STATIC / "livefigure.js"
    svg = traitlets.Unicode().tag(sync=True)  # the full picture, with an empty slot for each moving artist
    parts = traitlets.Dict().tag(sync=True)  # slot id -> SVG of that artist now; always complete
    patch = traitlets.Dict().tag(sync=True)  # the slots that the last move drew differently; the browser adds them
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
        self._style: Any = {**SCREEN, "svg.hashsalt": name}
        with mpl.rc_context(self._style):
            self._move = draw(self.figure)
            self._move(state)
        self._engine = self.figure.get_layout_engine()  # a drawing may place its axes itself
        self._took = 0.0  # seconds of the last move
        self._live: dict[str, Any] = {}
        self._as_drawn: dict[str, Any] = {}
        self._pen: _Pen
        self._fixed: list[Any] = []
        self._rendered: Any = None
        super().__init__(alt=alt)
        self.render()

    def move(self, state: Any, alt: str | None = None, say: Callable[[], None] | None = None) -> None:
        """Show another state; only what moved is drawn and sent, with its text alternative, as one message.

        ``say`` sends the numbers.  They leave first; where little is to be drawn, right before the picture, so that the
        browser shows both in one frame: numbers sent earlier would make the picture wait for the next.
        """
        if say is not None and self._took > A_FRAME:
            say()
            say = None
        with self.hold_sync():
            begun = time.perf_counter()
            with _styled(self._style):
                self._move(state)
                parts = self._draw_parts() if self._still() == self._rendered else None
            self._took = time.perf_counter() - begun
            if say is not None:
                say()
            if parts is not None:
                changed = {k: v for k, v in parts.items() if v != self.parts[k]}
                self.parts.update(changed)  # in place: nothing but the patch is sent, and a late view gets all
                if changed:
                    self.patch = changed
            else:
                self.render()
            if alt is not None:
                self.alt = alt

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
        self._as_drawn = {}
        self._pen = _Pen(*(72 * figure.get_size_inches()))
        with _styled(self._style):
            parts = self._draw_parts()
        moving = {id(b) for a in live for b in a.findobj()}
        self._fixed = [a for a in figure.findobj() if moving.isdisjoint(map(id, a.findobj()))]
        for artist in self._fixed:
            artist.stale = False  # also those that draw nothing now, such as an empty title
        self._rendered = self._still()
        with self.hold_sync():  # one message: the browser never sees a new base with old parts
            self.svg = svg[svg.index("<svg") :]
            self.parts = parts
            self.patch = {}

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
        """Every part; what stands as it was drawn last is taken from there."""
        return {slot: self._draw_alone(slot, artist) for slot, artist in self._live.items()}

    def _draw_alone(self, slot: str, artist: Any) -> str:
        """The SVG of one artist, with the clip paths and markers it refers to."""
        stands = _standing(artist)
        if stands is not None and self._as_drawn.get(slot) == stands:
            return str(self.parts[slot])
        # own ids: taken neither for an id of the base picture nor for one of another part
        mpl.rcParams["svg.hashsalt"] = f"{self._style['svg.hashsalt']}-{slot}"
        self._as_drawn[slot] = stands
        return self._pen.draw_alone(artist)

    def _still(self) -> Any:
        """What must not change between two full renderings; a stale fixed artist was changed by someone."""
        axes = tuple(
            (ax.viewLim.bounds, ax.get_position().bounds, tuple(map(id, ax.get_children()))) for ax in self.figure.axes
        )
        return axes, [a.get_zorder() for a in self._live.values()], any(a.stale for a in self._fixed)

    def as_image(self) -> str:
        """The current picture as an <img>, for viewers without a kernel."""
        code = base64.b64encode(self.to_svg().encode()).decode()
        return f'<img alt="{e(self.alt)}" style="width:100%" src="data:image/svg+xml;base64,{code}">'


class _Pen(RendererSVG):
    """matplotlib's SVG renderer for one artist at a time; how wide a text is, it remembers between them."""

    def __init__(self, width: float, height: float) -> None:
        self._out = io.StringIO()
        super().__init__(width, height, self._out, metadata=_NO_METADATA)
        self.finalize()  # the document around the artist is not wanted
        self._fresh = {k: copy.copy(v) for k, v in vars(self).items() if isinstance(v, dict | int)}

    def draw_alone(self, artist: Any) -> str:
        """The SVG of an artist, with the clip paths, hatches and markers it refers to."""
        vars(self).update({k: copy.copy(v) for k, v in self._fresh.items()})  # nothing defined by an earlier one
        self._out.seek(0)
        self._out.truncate()
        artist.draw(self)
        self.finalize()
        return self._out.getvalue()


@contextlib.contextmanager
def _styled(style: dict[str, Any]) -> Iterator[None]:
    """matplotlib's rc_context for these keys only: the whole of it would cost more than the artists drawn in it."""
    settings: Any = mpl.rcParams
    before = {key: settings[key] for key in style}
    settings.update(style)
    try:
        yield
    finally:
        settings.update(before)


# What ties an artist to its figure, or is worked out again from the rest when it is drawn.
_TIES = {"_stale", "stale_callback", "_axes", "_parent_figure", "_callbacks", "callbacks", "_remove_method",
         "_renderer", "_sticky_edges", "_picker", "_mouseover", "_imcache", "_id_colorizer", "draw"}  # fmt: skip
_DERIVED = {"_invalidx", "_invalidy", "_x", "_y", "_xy", "_transformed_path", "_subslice", "_x_filled"}


_PLAIN = {type(None), bool, int, float, str}


class _Unknown(Exception):
    """Something whose content cannot be compared: its artist is drawn each time."""


def _standing(artist: Any) -> Any:
    """All that an artist is drawn from, to compare; None when that cannot be told."""
    left_out = _TIES | _DERIVED if type(artist) is Line2D else _TIES
    try:
        return [(k, v if type(v) in _PLAIN else _content(v)) for k, v in vars(artist).items() if k not in left_out]
    except _Unknown:
        return None


def _content(v: Any) -> Any:
    if v is None or isinstance(v, bool | int | float | str | Enum):
        return v
    if isinstance(v, np.ma.MaskedArray):
        return _content(v.data), _content(np.ma.getmaskarray(v))
    if isinstance(v, np.ndarray | np.generic) and v.dtype != object:
        return v.dtype.str, v.shape, v.tobytes()
    if isinstance(v, list | tuple):
        return [_content(x) for x in v]
    if isinstance(v, Path):
        return _content(v.vertices), _content(v.codes), v.should_simplify, v.simplify_threshold
    if isinstance(v, FontProperties):
        return [_content(x) for x in vars(v).values()]
    if isinstance(v, Transform):  # the object itself is kept, so that its identity stays its own
        return v, v.get_affine().get_matrix().tobytes()
    if isinstance(v, BboxBase):
        return v, v.bounds
    if isinstance(v, Colorizer):
        return v, v.norm, v.norm.vmin, v.norm.vmax, v.cmap
    if isinstance(v, MarkerStyle):  # never altered, always replaced
        return v
    raise _Unknown
