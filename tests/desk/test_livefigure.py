"""What the browser shows after patching equals what matplotlib would render in full."""

import base64
import re
import warnings
import xml.etree.ElementTree as ET

import matplotlib.patheffects as pe
import numpy as np
import pytest
from matplotlib.artist import ArtistInspector
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.patches import Circle, Polygon
from matplotlib.transforms import Affine2D

from shoplib.core.errors import BadInput
from shoplib.desk import Explore, LiveFigure
from shoplib.desk.widgets import live_figure as livefigure
from shoplib.desk.widgets.message_batch import BatchedHTML
from shoplib.plotting.plot_style import clear, set_steady_limits
from shoplib.plotting.svg_renderer import IncrementalSvgRenderer
from shoplib.topics import all_workings, get
from shoplib.topics.lessons import MODULE_OF as LESSONS
from tests import ci_part
from tests.desk.full_render import assert_same, drawn, patched
from tests.form_variations import changed, inputs_of_forms, variations
from tests.topics.typed_inputs import typed


def zoo(figure):
    """Artists that defeat hand-made patches: arrows, boxes, scatter, hatch, clip paths, effects, twins, a log axis."""
    left, right = figure.subplots(1, 2)
    left.set(xlim=(0, 10), ylim=(0, 10))
    right.set(xlim=(0, 10), ylim=(1, 1e3), yscale="log")
    twin = right.twinx()
    twin.set_ylim(-1, 1)
    note = left.annotate("", (1, 1), (5, 5), arrowprops={"arrowstyle": "->"}, bbox={"boxstyle": "round"}, gid="note")
    turned = left.text(1, 9, "", gid="turned", rotation=30, ha="center")
    dots = left.scatter([1], [1], gid="dots")
    left.scatter([2, 3, 4], [3, 3, 3]).set_clip_path(Circle((5, 5), 3, transform=left.transData))
    (bar,) = left.bar([5], [1], hatch="//").patches
    bar.set_gid("bar")
    effects = [pe.Stroke(linewidth=9), pe.Normal()]
    (clipped,) = left.plot([0, 10], [0, 10], lw=6, gid="clipped", path_effects=effects)
    clipped.set_clip_path(Circle((5, 5), 2, transform=left.transData))
    (log,) = right.plot([1], [1], "s-", gid="log", markevery=2)
    (wave,) = twin.plot([], [], gid="wave", zorder=1)
    rows = figure.text(0.5, 0.5, "a\nb", gid="rows")
    anchored = right.text(1, 9, "", gid="anchored", rotation_mode="anchor", ha="right", va="top")

    def move(t):
        note.xy = (t, 2)
        note.set_text(f"<at> & {t}")
        turned.set_text(f"$x$ = {t:.1f}" if t else "")
        dots.set_offsets(np.c_[np.linspace(1, 9, 5), np.full(5, t)])
        bar.set_height(t)
        clipped.set_ydata([0, t])
        log.set_data(np.arange(10), 10 ** np.linspace(0, t / 3, 10))
        wave.set_data(np.linspace(0, 10, 900), np.sin(t * np.linspace(0, 10, 900)))
        wave.set_visible(t != 3)
        rows.set_text(f"row {t}\nrow 2\nrow 3")
        anchored.set(text=f"at {t}", rotation=25 * t - 60, position=(t, 10.0 ** (t / 3)))

    return move


@pytest.mark.parametrize(("start", "t"), [(0, 4), (0, 0), (3, 3), (3, 7), (7, 3), (5, 0)])
def test_artists_of_every_kind(start, t):
    live = LiveFigure(zoo, start, figsize=(8, 4))
    base = live.svg
    live.move(t)
    assert live.svg == base, "a live move must not render the whole figure"
    assert_same(live)


@pytest.mark.parametrize(
    "change",
    [
        lambda ax: ax.set_title("changed"),
        lambda ax: ax.set_xlim(0, 90),
        lambda ax: ax.lines[0].set_zorder(9),
        lambda ax: ax.axhline(5),
        lambda ax: ax.set_facecolor("0.9"),
        lambda ax: ax.set_yticks([0, 7]),
        lambda ax: ax.lines[0].remove(),
    ],
)
def test_any_other_change_renders_the_whole_figure(change):
    live = LiveFigure(zoo, 4.0, figsize=(8, 4))
    base, move = live.svg, live._move
    live._move = lambda t: (move(t), change(live.figure.axes[0]))
    live.move(5.0)
    assert live.svg != base
    assert_same(live)


def test_saving_between_moves_neither_costs_a_rendering_nor_hides_a_change():
    live = LiveFigure(zoo, 4.0, figsize=(8, 4))
    base = live.svg
    for t in (5.0, 6.0, 7.0):
        live.move(t)
        live.as_image()
    assert live.svg == base
    live.figure.axes[0].set_title("new")
    live.as_image()
    live.move(8.0)
    assert live.svg != base
    assert_same(live)


def test_one_picture_gives_one_text_and_a_shared_gid_is_refused():
    one, two = (LiveFigure(zoo, 4.0, figsize=(8, 4)) for _ in range(2))
    assert (one.svg, one.parts) == (two.svg, two.parts)
    with pytest.raises(ValueError, match="share one gid"):
        LiveFigure(lambda f: [f.text(0, 0, "x", gid="g"), f.text(0, 1, "y", gid="g")] and (lambda t: None), 0)


def test_the_image_for_readers_without_a_kernel_is_the_same_picture():
    live = LiveFigure(zoo, 4.0, alt='torque "over" angle', figsize=(8, 4))
    live.move(6.0)
    image = live.as_image()
    assert 'alt="torque &#34;over&#34; angle"' in image
    code = re.search(r"base64,([^\"]+)", image)[1]
    assert drawn(ET.fromstring(base64.b64decode(code))) == drawn(patched(live))


def test_what_a_picture_shows_of_preload_follows_the_inputs():
    preload = get("preload_from_torque")
    typed = {"thread": "M10x1.5", "mu_thread": "0.12", "mu_head": "0.12", "bearing_mean": "13 mm"}
    live = LiveFigure(preload.draw, preload(typed, torque="40 N*m"), figsize=preload.figure_size)
    before = dict(live.parts)
    live.move(preload(typed, torque="41 N*m"))
    assert live.parts != before
    assert_same(live)


PICTURED = {name: w for name, w in all_workings().items() if w.draw}


def test_every_working_with_a_picture_says_it_in_words():
    assert PICTURED
    assert [w.name for w in PICTURED.values() if w.alt is None] == []


def scaled(inputs, factor):
    """The same inputs with every leading number changed; what does not go together is refused by the working."""
    for name, text in inputs.items():
        number = re.match(r"\d+(\.\d+)?", text) if isinstance(text, str) else None
        if number:
            yield {**inputs, name: f"{float(number[0]) * factor:.5g}{text[number.end() :]}"}


def every_one_is_same(working, inputs, others):
    """Moved from one to the next, those left out that the working refuses."""
    live = LiveFigure(working.draw, working(inputs), name=working.name, figsize=working.figure_size)
    assert_same(live)
    for other in others:
        try:
            state = working(other)
        except BadInput:
            continue
        live.move(state)
        assert_same(live)


@pytest.mark.parametrize("name", PICTURED)
def test_every_working_shows_what_a_full_render_would(name):
    working, inputs = PICTURED[name], typed(PICTURED[name])
    small = scaled(inputs, 1.01) if ci_part.ALL else ()
    every_one_is_same(working, inputs, [*small, *scaled(inputs, 1.3), inputs])


FORMS = [pytest.param(w, i, id=name) for name, w, i in inputs_of_forms()]


@pytest.mark.parametrize(("working", "inputs"), FORMS)
def test_a_hand_in_a_form_of_a_whole_engine_sees_what_a_full_render_would(working, inputs):
    moved = [
        changed(working, inputs, field, cell, v) for field, cell, vs in variations(working, inputs) for v in vs[1:9:7]
    ]
    every_one_is_same(working, inputs, moved)


def test_a_scale_stays_while_it_serves():
    """To and fro over the edge of a step moves the mark, not the scale; what is drawn once has the wanted limits."""
    ax, other = Figure().subplots(1, 2)
    assert set_steady_limits(ax, xlim=(0, 10), ylim=(5, -5)) == ((0, 10), (5, -5))
    assert set_steady_limits(ax, xlim=(0, 12), ylim=(4, -5)) == ((0, 12), (5, -5))
    assert set_steady_limits(ax, xlim=(0, 10)) == (0, 12)
    assert ax.get_xlim() == (0, 12)
    assert set_steady_limits(ax, xlim=(0, 5)) == (0, 5)  # less than half of it: too small to read
    assert set_steady_limits(ax, xlim=(-1, 5)) == (-1, 5)  # outside
    assert set_steady_limits(ax, ylim=(-5, 4)) == (-5, 4)  # the other way up
    assert set_steady_limits(other, xlim=(0, 10)) == (0, 10)
    clear(ax)
    assert set_steady_limits(ax, xlim=(0, 3)) == ax.get_xlim() == (0, 3)


@pytest.mark.parametrize("name", LESSONS)
def test_every_lesson_shows_what_a_full_render_would(name):
    box = Explore(name)
    assert_same(box.figure)
    for dial in box.dials.values():
        c = dial.control
        for position in [word for word, _ in c.choices] or [c.low, c.low + c.step, c.high - c.step, c.high, c.start]:
            dial.slider.value = position
            assert_same(box.figure)


# ------------------------------------------------------------------------------ what is not drawn again
VALUES = [
    True, 0.3, 7, "red", "--", "s", "bold", "right", "top", "round", "x\ny", "//", "steps", (0.2, 0.7), [0.1, 0.4, 0.9],
    [(0, 0), (1, 0), (0.5, 0.8)], np.array([[1.0, 2.0], [5.0, 4.0]]), (0, 2, 0, 2), FontProperties(size=17),
    Affine2D().translate(30, 40).scale(2), Circle((50, 50), 30), [pe.withStroke(linewidth=5)], (1, 2, 3), "url",
]  # fmt: skip
SEEN_BEFORE = {  # one of each kind that the pictures move and that may be passed over
    "text": lambda ax: ax.text(0.2, 0.3, "old"),
    "line": lambda ax: ax.plot([0.1, 0.8, 0.9], [0.2, 0.6, 0.1], "o-")[0],
    "bar": lambda ax: ax.bar([0.5], [0.4], hatch="x").patches[0],
    "polygon": lambda ax: ax.fill([0, 1, 1], [0, 0, 1])[0],
    "circle": lambda ax: ax.add_patch(Circle((0.5, 0.5), 0.2)),
    "image": lambda ax: ax.imshow([[1.0, 2.0], [3.0, 4.0]], extent=(0, 1, 0, 1), aspect="auto"),
}


def one_of(make):
    """A live figure of one artist, and that artist."""
    made = []

    def draw(figure):
        ax = figure.add_axes((0, 0, 1, 1), frameon=False, xticks=[], yticks=[], xlim=(0, 1), ylim=(0, 1))
        made.append(make(ax))
        made[0].set_gid("one")
        ax.set(xlim=(0, 1), ylim=(0, 1))
        return lambda state: None

    return LiveFigure(draw, None, layout=None), made[0]


def as_moved(live):
    """The parts as a move draws them."""
    with livefigure._styled(live._style):
        return {**live.parts, **live._renderer.draw(live._live)}


def afresh(live):
    """The parts as a pen draws them that has drawn nothing before."""
    held, live._renderer = (
        live._renderer,
        IncrementalSvgRenderer(72 * live.figure.get_size_inches(), live._style["svg.hashsalt"]),
    )
    try:
        return as_moved(live)
    finally:
        live._renderer = held


@pytest.mark.parametrize("kind", SEEN_BEFORE)
def test_whatever_is_set_on_an_artist_is_drawn(kind):
    """Every setter that matplotlib knows, with every value that it takes: never passed over when it is seen."""
    live, artist = one_of(SEEN_BEFORE[kind])
    seen = taken = 0
    for setter in ArtistInspector(artist).get_setters():
        if setter in (
            "gid",
            "figure",
            "zorder",
            "animated",
            "in_layout",
            "agg_filter",
            "usetex",
            "picker",
            "mouseover",
        ):
            continue  # the slot itself, painting order (a full render), and what the drawing does not know
        for value in VALUES:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")  # deprecated spellings of a setter are set as well
                try:
                    getattr(artist, f"set_{setter}")(value)
                except Exception:  # noqa: BLE001 -- a value that this setter does not take, in whatever way it says so
                    continue
                try:
                    fresh = afresh(live)
                except Exception:  # noqa: BLE001 -- or that is refused only when it is drawn
                    live, artist = one_of(SEEN_BEFORE[kind])
                    continue
                drawn = as_moved(live)
            assert drawn == fresh, (setter, value)
            seen += drawn != live.parts
            taken += 1
            live.parts = drawn
    assert taken > 60
    assert seen > 15


def test_what_is_altered_in_place_is_drawn():
    live, text = one_of(SEEN_BEFORE["text"])
    text.get_fontproperties().set_size(30)
    assert as_moved(live) == afresh(live) != live.parts
    turn = Affine2D()
    live, _ = one_of(lambda ax: ax.add_patch(Polygon([(0, 0), (1, 0), (1, 1)], transform=turn)))
    turn.scale(40)
    assert as_moved(live) == afresh(live) != live.parts
    live, line = one_of(SEEN_BEFORE["line"])
    line.get_path().vertices[0] = 0.5
    assert as_moved(live) == afresh(live)


def test_what_stands_as_it_was_is_neither_drawn_nor_sent():
    live = LiveFigure(zoo, 4.0, figsize=(8, 4))
    drawn, sent = [], []
    for slot, artist in live._live.items():
        draw = type(artist).draw
        artist.draw = lambda r, slot=slot, draw=draw, artist=artist: (drawn.append(slot), draw(artist, r))
    live.observe(lambda c: sent.append(set(c.new)), "patch")
    live.move(4.0)
    composite = {"live-note", "live-dots", "live-clipped", "live-wave"}  # boxes, scatter, effects: always drawn
    assert set(drawn) <= composite | {"live-log"}
    assert sent == []
    drawn.clear()
    live.move(6.0)
    assert "live-turned" in drawn, "turned: drawn by matplotlib"
    assert {"live-bar", "live-rows"}.isdisjoint(drawn), "only moved: what matplotlib drew is written anew"
    (changed,) = sent
    assert {"live-bar", "live-turned", "live-rows"} <= changed
    assert_same(live)


def test_a_move_is_one_message_and_a_late_view_gets_everything():
    live = LiveFigure(zoo, 4.0, figsize=(8, 4))
    sent = []
    live.send_state = lambda key=None: sent.append(set(key))  # what hold_sync hands over at its end
    live.move(5.0, "five")
    assert sent == [{"patch", "alt"}]
    assert "five" in live.get_state()["alt"]
    assert live.get_state()["parts"] == live.parts
    assert live.patch.items() <= live.parts.items()
    assert_same(live)


def test_numbers_travel_in_the_message_of_the_picture_also_when_they_come_back(monkeypatch):
    monkeypatch.setattr(livefigure, "AT_ONCE", 60)  # however slow the machine is
    live, words = LiveFigure(zoo, 4.0, figsize=(8, 4)), BatchedHTML()
    sent, alone = [], []
    live.send_state = lambda key=None: sent.append(live.get_state(key))
    words.comm.send = lambda *args, **kw: alone.append(args)
    for said in ("24 kN", "48 kN"):
        live.move(5.0 + len(sent), say=lambda said=said: setattr(words, "value", said))
        assert sent[-1]["beside"][words.model_id] == {"value": said} and "patch" in sent[-1]
    words.value = "no result"
    assert len(alone) == 1, "what no picture carries goes by itself"
    live.move(6.0, say=lambda: setattr(words, "value", "48 kN"))
    assert sent[-1]["beside"][words.model_id] == {"value": "48 kN"}, "the same as before, and news again"
    assert len(sent) == 3 and len(alone) == 1
    live._took = 10 * livefigure.AT_ONCE
    live.move(7.0, say=lambda: setattr(words, "value", "50 kN"))
    assert len(alone) == 2 and "beside" not in sent[-1], "numbers do not wait for a picture that takes long"
