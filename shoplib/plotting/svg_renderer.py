"""Fast SVG of one matplotlib artist at a time.

An artist that has not changed is not drawn again.  If an artist only moved, the parts of its SVG that give its
position are replaced in the SVG that matplotlib wrote last.  A part is replaced only if it occurs in matplotlib's own
output exactly as often as expected.  Everything else is drawn by the artist's own ``draw`` each time.
"""

from __future__ import annotations

import copy
import io
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from enum import Enum
from typing import Any, NamedTuple

import matplotlib as mpl
import numpy as np
from matplotlib.backends.backend_svg import RendererSVG, _escape_cdata, _short_float_fmt
from matplotlib.collections import FillBetweenPolyCollection, PolyCollection
from matplotlib.colorizer import Colorizer
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from matplotlib.markers import MarkerStyle
from matplotlib.patches import BoxStyle, Circle, Ellipse, Patch, PathPatch, Polygon, Rectangle
from matplotlib.path import Path
from matplotlib.text import Text
from matplotlib.transforms import Affine2D, BboxBase, Transform

from shoplib.plotting.incremental import NO_METADATA
from shoplib.plotting.updatable_contours import NOT_DRAWN, Contours

# Attributes that tie an artist to its figure, or are derived again when it is drawn.
_TIES = {"_stale", "stale_callback", "_axes", "_parent_figure", "_callbacks", "callbacks", "_remove_method",
         "_renderer", "_sticky_edges", "_picker", "_mouseover", "_imcache", "_id_colorizer", "draw"}  # fmt: skip
_DERIVED = {"_invalidx", "_invalidy", "_x", "_y", "_xy", "_transformed_path", "_subslice", "_x_filled", "ind_offset"}
_NOTHING = 'd=""'  # an empty or invisible path: matplotlib writes that differently
_OVER = Affine2D().scale(1.0, -1.0)
_PLAIN = {type(None), bool, int, float, str}
_NUMBERS = {int, float, np.float64}
LONG_LINE = 1000  # points; of longer lines, matplotlib draws only the visible part


class _Drawn(NamedTuple):
    """The last state and the last SVG of an artist."""

    stands: Any  # its state, without its position if the pieces give it; None if not comparable
    pieces: list[str] | None  # the parts that give its position
    between: list[str]  # the SVG around the pieces


_BLANK = _Drawn(None, None, [""])  # draws nothing


class IncrementalSvgRenderer(RendererSVG):
    """matplotlib's SVG renderer for one artist at a time; it caches the heights of letters."""

    def __init__(self, size: Iterable[float], salt: str) -> None:
        self._out = io.StringIO()
        width, height = size  # in points
        super().__init__(width, height, self._out, metadata=NO_METADATA)
        self.finalize()  # the document around the artist is not needed
        self._fresh = {k: copy.copy(v) for k, v in vars(self).items() if isinstance(v, dict | int)}
        self._salt = salt
        self._last: dict[str, _Drawn] = {}
        self._letters: dict[Any, tuple[float, float]] = {}
        self._above: dict[Any, list[float]] = {}
        self._pages: dict[int, tuple[Any, Any]] = {}

    def draw(self, live: Mapping[str, Any]) -> dict[str, str]:
        """The SVG of the artists that changed since they were last drawn, by slot."""
        self._pages.clear()  # a cached transform is valid only until something is set
        drawn = {slot: self._draw_slot(slot, artist) for slot, artist in live.items()}
        return {slot: svg for slot, svg in drawn.items() if svg is not None}

    def _draw_slot(self, slot: str, artist: Any) -> str | None:
        """The SVG of an artist, or None when it has not changed since it was last drawn in this slot."""
        last = self._last.get(slot)
        if not artist.get_visible() or (type(artist) is Text and not artist.get_text()):
            self._last[slot] = _BLANK
            return None if last is _BLANK else ""
        read, place = _PIECES.get(type(artist), (None, _TIES))
        pieces = read(self, artist) if read is not None else None
        if pieces is None or _NOTHING in pieces:
            pieces, place = None, _ALL.get(type(artist), _TIES)
        stands = _standing(artist, place)
        if last is not None and stands is not None and last.stands == stands:
            if last.pieces == pieces:
                return None
            if last.pieces is not None and pieces is not None and len(last.pieces) == len(pieces):
                self._last[slot] = last._replace(pieces=pieces)
                return _joined(last.between, pieces)
        svg = self._draw_anew(slot, artist)
        between = _split(svg, pieces or [])
        if between is None:  # not the expected output
            self._last.pop(slot, None)
        else:
            self._last[slot] = _Drawn(stands, pieces, between)
        return svg

    def _draw_anew(self, slot: str, artist: Any) -> str:
        """Draw it by its own ``draw``, with the clip paths, hatches and markers it refers to."""
        # own ids: they never equal an id of the base picture or of another part
        mpl.rcParams["svg.hashsalt"] = f"{self._salt}-{slot}"
        vars(self).update({k: copy.copy(v) for k, v in self._fresh.items()})  # no definitions of an earlier artist
        self._out.seek(0)
        self._out.truncate()
        artist.draw(self)
        self.finalize()
        return self._out.getvalue()

    # -- the parts that give an artist's position, as matplotlib writes them; None: it is drawn by its own ``draw``
    def _line(self, line: Any) -> list[str] | None:
        path = _path(line)
        if line._subslice or line._drawstyle != "default" or line._markevery is not None:
            return None
        transform = line.get_transform()
        page, pieces = self._page(transform), []
        if line._lineStyles[line._linestyle] != "_draw_nothing":
            pieces.append(self._d(transform.transform_path_non_affine(path), page, clip=True))
        if line._marker and line._markersize > 0:
            points = Path(transform.transform_non_affine(path.vertices))
            within = (0, 0, self.width * 72, self.height * 72)
            for at, _ in points.iter_segments(page, clip=within, simplify=False):
                pieces.append(f'x="{_short_float_fmt(at[-2])}" y="{_short_float_fmt(at[-1])}"')
        return pieces or None

    def _patch(self, patch: Any) -> list[str] | None:
        transform = patch.get_transform()
        path = transform.transform_path_non_affine(patch.get_path())
        return [self._d(path, self._page(transform), clip=not patch._facecolor[3] and not patch._hatch)]

    def _area(self, area: Any) -> list[str] | None:
        paths = area.get_paths()
        if len(paths) != 1 or area.have_units() or area.get_hatch():
            return None
        transform = area.get_transform()
        path, affine = transform.transform_path_non_affine(paths[0]), transform.get_affine()
        extents = path.get_extents(affine)
        if extents.width >= self.width or extents.height >= self.height:
            return [self._d(path, self._page(transform), clip=False)]
        turned = self._convert_path(
            path, affine + _OVER, simplify=False
        )  # as a marker that is drawn once, at the origin
        return [f'd="{turned}"', f'x="0" y="{_short_float_fmt(self.height)}"']

    def _contours(self, contours: Any) -> list[str]:
        transform = contours.get_transform()
        page, clip = self._page(transform), not contours.filled
        paths = (transform.transform_path_non_affine(path) for path in contours.get_paths())
        return [f"<path {self._d(path, page, clip=clip)}" for path in paths]  # also of a level without a line

    def _text(self, text: Any) -> list[str] | None:
        said, angle = text.get_text(), text._rotation
        if (angle and text._rotation_mode != "anchor") or text._transform_rotates_text:
            return None
        if text._bbox_patch or text._wrap or "$" in said:
            return None
        rows = said.split("\n")
        if len(rows) > 1 and (
            angle or text._horizontalalignment != "left" or text._multialignment not in (None, "left")
        ):
            return None
        transform = text.get_transform()
        x, y = float(text._x), float(text._y)
        if not transform.is_affine:
            ((x, y),) = transform.transform_non_affine(np.array([(x, y)])).tolist()
        (a, c, e), (b, d, f), _ = self._page(transform).tolist()
        x, y = a * x + c * y + e, b * x + d * y + f
        if not math.isfinite(x + y):
            return None
        turn = math.radians(angle)  # the baseline is below and, for turned text, to the right
        right, down = math.sin(turn), math.cos(turn)
        at = [(_short_float_fmt(x - up * right), _short_float_fmt(y - up * down)) for up in self._baselines(text, rows)]
        if len(rows) > 1:
            return [
                f'transform="translate({x} {y})">{_escape_cdata(r)}</text>' for (x, y), r in zip(at, rows, strict=True)
            ]
        ((x, y),) = at
        return [f'x="{x}" y="{y}" transform="rotate({_short_float_fmt(-angle)} {x} {y})">{_escape_cdata(said)}</text>']

    def _d(self, path: Path, page: Any, *, clip: bool) -> str:
        return f'd="{self._convert_path(path, page, clip=clip, simplify=path.should_simplify and clip)}"'

    def _page(self, transform: Any) -> Any:
        """The 3×3 matrix of the affine part of a transform, with y downwards; most artists share one."""
        known = self._pages.get(id(transform))
        if known is None:
            matrix = transform.get_affine().get_matrix().copy()
            matrix[1] *= -1
            matrix[1, 2] += self.height
            known = self._pages[id(transform)] = transform, matrix  # a reference, so that the id is not reused
        return known[1]

    def _baselines(self, text: Any, rows: Sequence[str]) -> list[float]:
        """The height of each row of a text above its position; it depends only on the tallest and the deepest glyph."""
        font = text._fontproperties
        face = hash(font)
        sizes = []
        for row in rows:
            up, down = 0.0, 0.0
            for letter in set(row):
                size = self._letters.get((face, letter))
                if size is None:
                    _, height, descent = self.get_text_width_height_descent(letter, font, False)
                    size = self._letters[face, letter] = (height - descent, descent)
                up, down = max(up, size[0]), max(down, size[1])
            sizes.append((up, down))
        key = (face, *sizes, text._verticalalignment, text._linespacing)
        if key not in self._above:
            turn = math.radians(text._rotation)
            places = [place for _, _, place in text._get_layout(self)[1]]
            self._above[key] = [y * math.cos(turn) - x * math.sin(turn) for x, y in places]
        return self._above[key]


def _path(line: Any) -> Path:
    """The path of a line; for plain numbers, skip matplotlib's slower search for units and masks."""
    if not (line._invalidx or line._invalidy):
        return line._path  # type: ignore[no-any-return]  # not in matplotlib's type stubs
    x, y = line._xorig, line._yorig
    if len(x) != len(y) or len(x) > LONG_LINE or not (_numbers(x) and _numbers(y)):
        line.recache()
        return line._path  # type: ignore[no-any-return]  # as above
    points = np.empty((len(x), 2))
    points[:, 0], points[:, 1] = x, y
    return Path(points)


def _numbers(x: Any) -> bool:
    if type(x) is np.ndarray:
        return x.dtype == float and x.ndim == 1
    return type(x) in (list, tuple) and _NUMBERS.issuperset(map(type, x))


_Place = tuple[Callable[[IncrementalSvgRenderer, Any], list[str] | None], set[str]]
# Attributes that give only the position of an artist: the pieces cover them.
_MOVED = _TIES | {"_transform", "_transformSet"}
_LINE: _Place = (IncrementalSvgRenderer._line, _MOVED | _DERIVED | {"_xorig", "_yorig", "_path"})
_PATCH: _Place = (
    IncrementalSvgRenderer._patch,
    _MOVED | {"_x0", "_y0", "_width", "_height", "angle", "_path", "_center", "_angle", "_patch_transform"},
)
_AREA: _Place = (IncrementalSvgRenderer._area, _MOVED | {"_paths", "_bbox"})
_CONTOURS: _Place = (IncrementalSvgRenderer._contours, _MOVED | NOT_DRAWN | {"_paths"})
_TEXT: _Place = (IncrementalSvgRenderer._text, _MOVED | {"_x", "_y", "_text", "_rotation"})
_PIECES: dict[type, _Place] = {
    Line2D: _LINE,
    **dict.fromkeys((Rectangle, Polygon, PathPatch, Circle, Ellipse), _PATCH),
    **dict.fromkeys((PolyCollection, FillBetweenPolyCollection), _AREA),
    Contours: _CONTOURS,
    Text: _TEXT,
}
_ALL = {Line2D: _TIES | _DERIVED}  # ignored where the pieces do not give the position


def _split(svg: str, pieces: Sequence[str]) -> list[str] | None:
    """The text between the pieces; None when they do not occur in the SVG in this order and number."""
    if any(svg.count(piece) != pieces.count(piece) for piece in set(pieces)):
        return None
    between, rest = [], svg
    for piece in pieces:
        before, found, rest = rest.partition(piece)
        if not found:
            return None
        between.append(before)
    return [*between, rest]


def _joined(between: Sequence[str], pieces: Sequence[str]) -> str:
    return "".join(x for pair in zip(between, [*pieces, ""], strict=True) for x in pair)


class _Unknown(Exception):
    """A value that cannot be compared: its artist is drawn each time."""


def _standing(artist: Any, without: set[str]) -> Any:
    """The state of an artist, for comparison; None when it cannot be compared."""
    try:
        return [(k, v if type(v) in _PLAIN else _content(v)) for k, v in vars(artist).items() if k not in without]
    except _Unknown:
        return None


def _content(v: Any) -> Any:
    t = type(v)
    if t in _PLAIN:
        return v
    compare = _COMPARED.get(t)
    if compare is None:
        compare = _COMPARED[t] = _way(t)
    return compare(v)


def _all(v: Any) -> Any:
    return [x if type(x) in _PLAIN else _content(x) for x in v]


def _unknown(v: Any) -> Any:
    raise _Unknown


_Way = Callable[[Any], Any]
_COMPARED: dict[type, _Way] = {}  # comparison functions found so far
_WAYS: tuple[tuple[Any, _Way], ...] = (
    ((list, tuple), _all),
    # hold the object, so that its id is not reused
    (Transform, lambda v: (v, v.get_affine().get_matrix().tobytes())),
    (BboxBase, lambda v: (v, v.get_points().tobytes())),
    (FontProperties, lambda v: _all(vars(v).values())),
    (np.ma.MaskedArray, lambda v: (_content(v.data), _content(np.ma.getmaskarray(v)))),
    ((np.ndarray, np.generic), lambda v: _unknown(v) if v.dtype == object else (v.dtype.str, v.shape, v.tobytes())),
    (Path, lambda v: (_content(v.vertices), _content(v.codes), v.should_simplify, v.simplify_threshold)),
    (Colorizer, lambda v: (v, v.norm, v.norm.vmin, v.norm.vmax, v.cmap)),
    ((Enum, MarkerStyle), lambda v: v),  # immutable
    # around a text
    (
        (Patch, *BoxStyle.get_styles().values()),
        lambda v: (type(v), [(k, _content(x)) for k, x in vars(v).items() if k not in _TIES]),
    ),
)


def _way(t: type) -> _Way:
    return next((way for kinds, way in _WAYS if issubclass(t, kinds)), _unknown)
