"""Why torque, then angle: pictures to drag.  All numbers come from the workings; the bolt is a teaching model."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from shoplib.core.units import deg, one, show_number
from shoplib.core.working import Result
from shoplib.plotting.plot_style import (
    ACCENT,
    INK,
    PALE,
    SOFT,
    WARM,
    set_changed,
    shape_to_place,
    span_to_place,
    text_to_place,
)
from shoplib.teaching.lesson import Control, Lesson
from shoplib.topics.angle.angle_travel import ANGLE_TRAVEL
from shoplib.topics.angle.model_bolt import BOLT, MODEL
from shoplib.topics.angle.pictures import draw_ramp_on
from shoplib.topics.angle.preload_scatter import PRELOAD_SCATTER as SCATTER
from shoplib.topics.angle.settling_lesson import PARTS, SHANKS, bolt_stiffness
from shoplib.topics.angle.staged_tightening import STAGED_TIGHTENING as STAGED
from shoplib.topics.angle.two_frictions_lesson import TWO_FRICTIONS
from shoplib.topics.preload.preload_from_torque import PRELOAD_FROM_TORQUE as PRELOAD

ONE_FRICTION = {"mu_thread": "0.12", "mu_head": "0.12"}


def _kN(F: float | None) -> str:
    return "no clamp load" if not F else f"{show_number(F / 1e3, 3)} kN"


def _mm(x: float) -> str:
    return f"{1e3 * x:.2f} mm"


def _held(r: Result, *limits: tuple[float, float]) -> Result:
    """The same result with its axes held: while a slider is dragged, only the curves move."""
    return replace(r, plot_data={**r.plot_data, "limits": limits})


# ------------------------------------------------------------------------------ 2 where the torque goes
def where_it_goes(friction: float) -> Result:
    """The same bolt through the torque equation."""
    mu = f"{friction:.2f}"
    return _held(PRELOAD({**BOLT, "torque": "40 N*m", "mu_thread": mu, "mu_head": mu}), (0, 60), (0, 60))


def draw_where(figure: Any) -> Callable[[Result], None]:
    """The picture of the working, in the words of the lesson."""
    move = (PRELOAD.draw or draw_stop)(figure)
    for ax in figure.axes:
        ax.set_ylabel(ax.get_ylabel().replace("preload", "clamp load"))
    return move


def says_where(r: Result) -> str:
    """The three parts."""
    parts = [round(100 * r[n]) for n in ("share_pitch", "share_thread", "share_head")]
    rounded = "" if sum(parts) == 100 else " (rounded)"
    return (
        f"Friction {r.inputs.mu_thread.value:.2f}: {parts[0]} % of the torque stretches the bolt, {parts[1]} % is "
        "lost in "
        f"the thread, {parts[2]} % under the head{rounded}. Clamp load: {_kN(r['preload'])}."
    )


# ------------------------------------------------------------------------------ 3 the ramp
@dataclass(frozen=True)
class Turned:
    """A bolt turned further: the travel of its thread, and the torque that the wrench shows at the end."""

    travel: Result
    friction: float
    torque: float
    yielded: bool

    @property
    def angle(self) -> float:
        """In degrees."""
        return float(np.degrees(self.travel.inputs.angle))


def ramp(angle: float, pitch: str, friction: float) -> Turned:
    """Travel of the thread from 40 N·m on, and the torque at the end of the angle."""
    turned, mu = f"{np.degrees(angle):.6g} deg", f"{friction:.2f}"
    thread = f"M10x{pitch.removesuffix(' mm')}"
    r = STAGED({**MODEL, "thread": thread, "mu_thread": mu, "mu_head": mu, "stages": f"40 N*m; +{turned}"})
    yielded = r["state"][1] != "elastic"
    return Turned(ANGLE_TRAVEL({"angle": turned, "pitch": pitch}), friction, r["torque"][1], yielded)


def says_ramp(turned: Turned) -> str:
    """Angle, pitch, travel; and the torque at which that ends."""
    return (
        f"{turned.angle:.0f}° on a pitch of {1e3 * turned.travel.inputs.pitch:g} mm moves the thread "
        f"{1e3 * turned.travel['travel']:.3f} mm. With a friction of {turned.friction:.2f} the torque on the wrench "
        f"goes from 40 to {turned.torque:.0f} N·m."
        + (
            " Here the steel gives way (past yield): turning further hardly raises the torque."
            if turned.yielded
            else ""
        )
    )


def draw_ramp(figure: Any) -> Callable[[Turned], None]:
    """The ramp, and below it the torque, which starts at 40 N·m."""
    slope, ax = figure.subplots(2, 1, height_ratios=(4, 1))
    move_travel = draw_ramp_on(slope)
    ax.set(
        xlim=(0, 200), ylim=(-0.5, 0.5), yticks=[], xticks=(0, 40, 80, 120, 160, 200), xlabel="torque at the end, N·m"
    )
    slope.set_title("the thread, unrolled", fontsize=10, color=SOFT, loc="left")
    ax.spines[["top", "right", "left"]].set_visible(False)
    bar = shape_to_place(ax, facecolor=WARM, edgecolor="white", hatch="///", lw=0, gid="torque")
    note = text_to_place(ax, fontsize=10, color=INK, va="center", gid="torque-note")

    def move(turned: Turned) -> None:
        move_travel(turned.travel)
        x = turned.torque
        bar.set_xy([(0, -0.35), (x, -0.35), (x, 0.35), (0, 0.35)])
        note.set_text(f"{x:.0f} N·m at a friction of {turned.friction:.2f}")
        note.set_position((x + 2, 0))

    return move


# ------------------------------------------------------------------------------ 5 how far
def stop_at(angle: float, then: str = "tight", bolt: str = "long") -> Result:
    """40 N·m, an angle, and perhaps loosened again: the model bolt, or a short one."""
    stages = f"40 N*m; +{np.degrees(angle):.6g} deg" if angle > 0 else "40 N*m"
    shank = SHANKS[bolt]
    model = {**MODEL, **ONE_FRICTION, "shank_length": f"{1e3 * shank:g} mm"}
    if bolt != "long":
        model["parts_stiffness"] = f"{PARTS * bolt_stiffness(shank) / 1e6:.6g} kN/mm"
    tight = STAGED({**model, "stages": stages})
    if then == "tight" or tight["preload"][-1] is None:
        return tight
    return STAGED({**model, "stages": stages + "; loosen"})


def _angle(r: Result, name: str) -> float:
    """An angle of the drawing; these bolts have no bands, so that it is the same at every corner."""
    return float(r.plot_data[f"{name}_angle"][0])


def says_stop(r: Result) -> str:
    """The state of the bolt, and what stays when it is loosened."""
    off = r["stage"][-1] == "loosen"
    at = -2 if off else -1
    F, longer, for_good = r["preload"][at], r["elongation"][at], r["plastic_elongation"][at]
    if F is None:
        highest, angle = r["necking_preload"], _angle(r, "necking")
        return (
            f"Broken: the clamp load is 0 kN. The highest load was {_kN(highest)}, at {angle:.0f}°. Past it the bolt "
            "necked (became thin at one place), and the load fell until it broke, the torque with it."
        )
    where = f"{_kN(F)}. The bolt is {_mm(longer)} longer"
    if off:
        if not for_good:
            return f"The clamp load was {where}. After loosening, nothing stays: it was elastic."
        back = longer - r["elongation"][-1]
        return (
            f"The clamp load was {where}. After loosening, {_mm(r['elongation'][-1])} of that stays. Back sprang "
            f"{_kN(F)} ÷ {F / back / 1e6:.1f} kN/mm (the stiffness of the bolt) = {_mm(back)}."
        )
    state = "past yield" if for_good else "all of it elastic"
    return f"The clamp load is {where}, {state}."


def draw_stop(figure: Any) -> Callable[[Result], None]:
    """Clamp load against angle through elastic, yield and necking; below, the bolt itself, its stretch exaggerated."""
    chart, bolt = figure.subplots(2, 1, height_ratios=(2.6, 1))
    chart.set(xlim=(-95, RIGHT), ylim=(0, 60), ylabel="clamp load, kN", xlabel="turned further after 40 N·m, °")
    chart.spines[["top", "right"]].set_visible(False)
    zones = [
        span_to_place(chart, facecolor="none", edgecolor=edge, hatch=hatch, lw=0, alpha=0.5, zorder=0, gid=gid)
        for edge, hatch, gid in ((PALE, "///", "yields"), (WARM, "xxx", "necks"))
    ]
    names = [
        text_to_place(chart, word, y=57.5, color=colour, va="top", ha="center", gid=gid)
        for word, colour, gid in (("elastic", ACCENT, "elastic-name"), ("yields", SOFT, "yields-name"),
                                  ("necks", WARM, "necks-name"))
    ]  # fmt: skip
    (whole,) = chart.plot([], [], color=SOFT, lw=1, gid="whole")
    (falls,) = chart.plot([], [], color=WARM, ls=(0, (4, 2)), gid="falls")
    falls_name = text_to_place(chart, FALLING, color=WARM, va="top", gid="falls-name")
    (path,) = chart.plot([], [], color=ACCENT, lw=3, solid_joinstyle="round", gid="path")
    (stays,) = chart.plot([], [], color=WARM, lw=5, solid_capstyle="butt", gid="stays")
    (stop,) = chart.plot([], [], "o", ms=10, mfc="white", mec=ACCENT, mew=2.4, gid="stop")
    note = text_to_place(chart, color=INK, va="bottom", gid="note")
    bolt.axis("off")
    bolt.set(xlim=(0, 170), ylim=(-11, 15))
    (new,) = bolt.plot([], [], color=SOFT, lw=1, ls=(0, (4, 3)), gid="new")
    new_word = text_to_place(bolt, "new bolt", ha="right", va="top", color=SOFT, gid="new-word")
    words = f"stretch exaggerated {MAGNIFIED:g} times"
    scale = text_to_place(bolt, words, y=-10.8, color=SOFT, va="bottom", gid="scale")
    pieces = [shape_to_place(bolt, facecolor=PALE, edgecolor=INK, lw=1.2, gid=gid) for gid in ("bolt", "torn-off")]
    (longer,) = bolt.plot([], [], color=WARM, lw=5, solid_capstyle="butt", gid="longer")
    length = text_to_place(bolt, va="top", color=INK, gid="length")

    def move(r: Result) -> None:
        plot_data = r.plot_data
        begin, neck = _angle(r, "yield"), _angle(r, "necking")
        for zone, start, end in zip(zones, (begin, neck), (neck, RIGHT), strict=True):
            zone.set_x(start)
            zone.set_width(end - start)
        for name, x in zip(names, ((begin - 95) / 2, (begin + neck) / 2, (neck + RIGHT) / 2), strict=True):
            name.set_x(x)
        whole.set_data(plot_data["curve_angle"][0], plot_data["curve_preload"][0] / 1e3)
        top, gone = r["necking_preload"] / 1e3, neck + FALLS
        falling = [neck, neck + 0.4 * (gone - neck), gone, gone], [top, 0.94 * top, 0.75 * top, 0.0]
        falls.set_data(*falling)
        early = neck < RIGHT / 2  # the short bolt: the words have room on the other side
        falls_name.set_ha("left" if early else "right")
        falls_name.set_position((gone + 80 if early else neck - 6, 0.8 * top))
        scale.set_x(85 if early else 20)
        path.set_data(plot_data["path_angle"], plot_data["path_preload"] / 1e3)
        off = r["stage"][-1] == "loosen"
        at = -2 if off else -1
        F, broken = r["preload"][at], r["preload"][at] is None
        angle = gone if broken else float(plot_data["mark_angle"][at, 0])
        load = falling[1][-1] if broken else F / 1e3
        let_off = _angle(r, "set") if off else neck
        stop.set_data([let_off if off else angle], [0.0 if off else load])
        stop.set_marker("X" if broken else "o")
        note.set_text("broken" if broken else f"{load:.1f} kN" + (", before" if off else ""))
        left = early if broken else angle < 550  # "broken" stands beside the falling line
        note.set_position((angle + 12, load - 4.5) if not broken else (angle + (14 if left else -14), 2.0))
        note.set_ha("left" if left else "right")
        falls.set_linewidth(3 if broken else 1.6)
        for_good = r["plastic_elongation"][at] or 0.0
        stays.set_data([float(plot_data["path_angle"][0]), let_off], [0.5, 0.5])
        stays.set_visible(off and for_good > 0)
        shown = 1e3 * (r["elongation"][-1] or 0.0)
        share = (r.inputs.shank_length + 0.020) / 0.120  # of the model bolt's length
        base = HEAD + share * (LENGTH - HEAD)
        set_changed(new, data=((base, base), (-9, 9)))
        set_changed(new_word, position=((base, 14.5),))
        _outline(pieces, base + MAGNIFIED * (share * UNIFORM if broken else shown), broken)
        longer.set_data([base, base + MAGNIFIED * shown], [-9, -9])
        longer.set_visible(not broken and shown > 0)
        length.set_position((base + 2, 14.5))
        words = f"{shown:.2f} mm longer"
        if off:
            words = f"{words} stays" if for_good else "as long as new"
        length.set_text("" if broken else words)

    return move


RIGHT, LENGTH, MAGNIFIED, UNIFORM = 640.0, 112.0, 16.0, 2.4  # °, drawn length, enlargement, mm at which it is torn
HEAD = 12.0  # where the drawn length begins
FALLING = "falls while it necks\n(drawn, not calculated)"
FALLS = 30.0  # ° that the falling load is drawn over; it is not calculated


def _outline(pieces: list[Any], end: float, broken: bool) -> None:
    """Head, shank and thread; in two pieces, torn at a neck, when broken."""
    x = end - 22 + 2.0 * np.arange(12)
    thread = [*zip(x, 4.6 + 0.7 * (np.arange(len(x)) % 2), strict=True)]
    head = [(4, 9), (HEAD, 9), (HEAD, 3.7)]
    tops: list[list[tuple[float, float]]] = [[*head, (end - 22, 3.7), *thread], []]
    if broken:
        torn, half = (HEAD + end - 22) / 2, min(14.5, (end - 22 - HEAD) / 2 - 1)  # at the middle of the shank
        neck = [(half, 3.7), (0.45 * half, 3.0), (0.17 * half, 1.4)]
        tops = [[*head, *((torn - x, y) for x, y in neck)],
                [*((torn + x, y) for x, y in reversed(neck)), (end - 22, 3.7), *thread]]  # fmt: skip
    for piece, top in zip(pieces, tops, strict=True):
        piece.set_visible(bool(top))
        if top:
            piece.set_xy([*top, *[(a, -b) for a, b in reversed(top)]])


# ------------------------------------------------------------------------------ 6 many bolts
DRAWS = "10000"  # enough for a smooth picture that still follows the slider


def many_bolts(angle: float) -> Result:
    """Many bolts, each with its own friction, wrench, angle and strength."""
    stages = f"40 N*m; +{np.degrees(angle):.6g} deg" if angle > 0 else "40 N*m"
    drawn = SCATTER({**MODEL, **TWO_FRICTIONS, "stages": stages, "torque_percent": "4 %", "angle_error": "5 deg",
                     "yield_percent": "5 %", "draws": DRAWS, "seed": "7"})  # fmt: skip
    return _held(drawn, (15, 60), (0, 10))


def says_many(r: Result) -> str:
    """The range of nine out of ten bolts for each method, at the same mean."""
    rows = [
        (name, r[key][0]) for name, key in (("Torque alone", "torque_only"), ("torque, then angle", "torque_angle"))
    ]
    parts = [
        f"{name}: 9 out of 10 bolts are between {_kN(row['p05'].value)} and {_kN(row['p95'].value)}"
        + (f", and {100 * row['breaks'].value:.0f} % break" if row["breaks"].value > 0 else "")
        for name, row in rows
    ]
    ratio = r["sd_ratio"]
    tail = (
        f". Torque alone scatters {ratio:.1f} times as much."
        if ratio and ratio > 1.05
        else ". Without an angle there is no difference."
    )
    return f"Mean {_kN(rows[1][1]['mean'].value)}. " + "; ".join(parts) + tail


LESSONS = [
    Lesson(
        name="where_the_torque_goes",
        title="Where the torque goes",
        controls=(Control("friction", "Friction in the thread and under the head", one, 0.08, 0.2, 0.01, 0.12),),
        state=where_it_goes,
        draw=draw_where,
        says=says_where,
        alt=PRELOAD.alt or says_where,
        figure_size=(5.8, 3.4),
    ),
    Lesson(
        name="ramp",
        title="The thread unrolled: an angle is a distance",
        controls=(
            Control("angle", "Angle turned", deg, 0, 360, 5, 90),
            Control("friction", "Friction in the thread and under the head", one, 0.08, 0.2, 0.01, 0.12),
            Control("pitch", "Pitch", choices=(("1.5 mm", "1.5 mm"), ("1.25 mm", "1.25 mm"), ("1 mm", "1 mm"))),
        ),
        state=ramp,
        draw=draw_ramp,
        says=says_ramp,
        alt=lambda turned: "The thread unrolled as a ramp, and a bar of the torque. " + says_ramp(turned),
        figure_size=(6.0, 3.6),
    ),
    Lesson(
        name="how_far",
        title="Elastic, yield, necking: where do you stop?",
        controls=(
            Control("angle", "Turned further by", deg, 0, 600, 5, 60),
            Control("then", "Then", choices=(("leave it tight", "tight"), ("loosen it", "off"))),
            Control("bolt", "Bolt", choices=(("long, 120 mm", "long"), ("short, 40 mm", "short"))),
        ),
        state=stop_at,
        draw=draw_stop,
        says=says_stop,
        alt=lambda r: (
            ("Clamp load against angle through elastic, yield and necking, and the bolt itself. ") + says_stop(r)
        ),
        figure_size=(6.2, 4.0),
    ),
    Lesson(
        name="many_bolts",
        title="Ten thousand bolts by each method, with the same mean clamp load",
        controls=(Control("angle", "After 40 N·m, turned further by", deg, 0, 150, 5, 60),),
        state=many_bolts,
        draw=SCATTER.draw or draw_stop,
        says=says_many,
        alt=SCATTER.alt or says_many,
        figure_size=(6.4, 4.2),
    ),
]
