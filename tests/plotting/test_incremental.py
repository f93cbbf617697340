"""With a matplotlib whose internals differ, every picture is drawn in full: by itself, and with the same content."""

import io
import re
import sys
import types

import matplotlib as mpl
import pytest
from matplotlib.backends import backend_svg
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.text import Text

from shoplib.core import working
from shoplib.desk.widgets.live_figure import LiveFigure
from shoplib.plotting import incremental, updatable_contours
from shoplib.plotting.plot_style import SCREEN
from shoplib.topics import get


@pytest.fixture(autouse=True)
def probed_again(monkeypatch):
    monkeypatch.setattr(incremental, "COMPARED", ())  # as with a version that the tests have not seen
    incremental.forget()
    updatable_contours.can_rise.cache_clear()
    yield
    incremental.forget()
    updatable_contours.can_rise.cache_clear()


def draw(figure):
    ax = figure.subplots()
    ax.set(xlim=(0, 10), ylim=(0, 10))
    (line,) = ax.plot([], [], "o-", gid="line")
    said = ax.text(1, 1, "", gid="said")

    def move(state):
        line.set_data([1, state], [2, 3])
        said.set_text(f"now {state}")

    return move


def in_full(state):
    """The same picture by matplotlib alone."""
    with mpl.rc_context({**SCREEN, "svg.hashsalt": "live"}):
        figure = Figure(dpi=72, layout="constrained")
        draw(figure)(state)
        out = io.StringIO()
        FigureCanvasSVG(figure).print_svg(out, metadata=incremental.NO_METADATA)
    svg = out.getvalue()
    return svg[svg.index("<svg") :]


def gone(monkeypatch):
    """A name that the renderer imports was removed."""
    other = types.ModuleType(backend_svg.__name__)
    vars(other).update({k: v for k, v in vars(backend_svg).items() if k != "_escape_cdata"})
    monkeypatch.setitem(sys.modules, backend_svg.__name__, other)
    monkeypatch.delitem(sys.modules, "shoplib.plotting.svg_renderer", raising=False)


def renamed(monkeypatch):
    """A method that the renderer calls was renamed."""
    monkeypatch.delattr(Text, "_get_layout")


def raises(monkeypatch):
    """A method takes other arguments."""
    monkeypatch.setattr(backend_svg.RendererSVG, "_convert_path", lambda self, path: "")


def test_a_version_that_the_tests_compare_is_not_probed(monkeypatch):
    monkeypatch.setattr(incremental, "COMPARED", (mpl.__version__,))
    monkeypatch.setattr(incremental, "_probe", lambda: "would fail")
    assert incremental.renderer((100, 100), "x") is not None


def test_here_only_what_moved_is_drawn():
    live = LiveFigure(draw, 4)
    assert incremental.why_not() == ""
    base = live.svg
    live.move(7)
    assert live.svg == base
    assert set(live.patch) == {"live-line", "live-said"}


@pytest.mark.parametrize(("broken", "why"), [(gone, "_escape_cdata"), (renamed, "_get_layout"), (raises, "argument")])
def test_an_incompatible_version_is_noticed_before_the_first_picture(broken, why, monkeypatch):
    with monkeypatch.context() as m:
        broken(m)
        assert incremental.renderer((100, 100), "x") is None
        assert why in incremental.why_not()


def test_the_picture_is_then_drawn_in_full(monkeypatch):
    with monkeypatch.context() as m:
        gone(m)
        live = LiveFigure(draw, 4)
    assert (live.svg, live.parts) == (in_full(4), {})
    for state in (7, 2):
        live.move(state, alt=f"now {state}")
        assert (live.svg, live.parts, live.alt) == (in_full(state), {}, f"now {state}")


def test_a_wrong_picture_is_noticed(monkeypatch):
    """The probe compares: it does not only wait for an error."""
    from shoplib.plotting import svg_renderer

    monkeypatch.setattr(svg_renderer, "_joined", lambda between, pieces: "".join(between))
    assert incremental.renderer((100, 100), "x") is None
    assert "differs from a full drawing" in incremental.why_not()


def test_a_failure_later_is_survived(monkeypatch):
    from shoplib.plotting.svg_renderer import IncrementalSvgRenderer

    live = LiveFigure(draw, 4)

    def fail(*_):
        raise AttributeError("_xorig")

    monkeypatch.setattr(IncrementalSvgRenderer, "draw", fail)
    live.move(7)
    assert live.svg == in_full(7)
    assert "_xorig" in incremental.why_not()
    monkeypatch.undo()
    assert LiveFigure(draw, 1).parts == {}  # also the next one, without another probe


def paths(svg):
    return sorted(re.findall(r' d="([^"]+)"', svg))


def test_contours_that_cannot_rise_are_made_anew(monkeypatch):
    """The face of a grid, moved: the same areas, lines and marks either way."""
    grid: working.Working = get("flatness_grid")
    first, second = (grid(points=[point(*xyz) for xyz in face]) for face in HEIGHTS)

    def shown():
        live = LiveFigure(grid.draw, first, figsize=grid.figure_size)
        live.move(second)
        live.render()
        return re.sub(r'<g id="(live-[^"]*)"(?:/>|>\s*</g>)', lambda slot: live.parts[slot[1]], live.svg)

    rising = shown()
    monkeypatch.setattr(updatable_contours.Contours, "_process_args", None)
    updatable_contours.can_rise.cache_clear()
    assert not updatable_contours.can_rise()
    assert paths(shown()) == paths(rising)


def point(x, y, z):
    return {"x": f"{x} mm", "y": f"{y} mm", "z": f"{z} um"}


HEIGHTS = (
    [(0, 0, 0), (100, 0, 5), (0, 100, 4), (100, 100, -3), (50, 50, 8)],
    [(0, 0, 1), (100, 0, 5), (0, 100, 3), (100, 100, -3), (50, 50, 7)],
)
