"""The pictures of the workings of the topic skim."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from typing import Any

import numpy as np

from shoplib.core import rounding
from shoplib.core.units import show, um, unit_of
from shoplib.core.working import Picture, Result
from shoplib.physics import roughness, timing, timing_drive
from shoplib.plotting.gauges import Gauge
from shoplib.plotting.plot_style import (
    ACCENT,
    INK,
    PALE,
    PALER,
    SOFT,
    WARM,
    padded_limits,
    set_changed,
    set_steady_limits,
    shape_to_place,
    span_to_place,
    text_to_place,
)
from shoplib.topics.skim.compression_ratio import FLAT
from shoplib.topics.skim.lash_picture import alt_lash, draw_lash
from shoplib.topics.skim.skim_inputs import DEG, MM
from shoplib.topics.skim.sweep_picture import alt_sweep, draw_sweep


def draw_allowance(figure: Any) -> Callable[[Result], None]:
    """The head's height as a bar: when new, now, after the cut, and the zone below the minimum."""
    ax = figure.subplots()
    gauge = Gauge(ax, "height", "Head height, mm")

    def move(result: Result) -> None:
        inputs = result.inputs
        H = inputs.measured_height if inputs.given("measured_height") else min(inputs.heights)
        top = max(H, inputs.new_height or H)
        low = min(result["height_after"], inputs.minimum_height or result["height_after"])
        gauge.scale(low * 1e3 - 0.15 * (top - low) * 1e3, top * 1e3)
        gauge.forbid(None if inputs.minimum_height is None else inputs.minimum_height * 1e3)
        after = result["height_after"] * 1e3
        low_ = inputs.minimum_height is not None and rounding.below(after, inputs.minimum_height * 1e3)
        says = f"{H * 1e3:.2f} → {after:.2f}" + (", too low" if low_ else "")
        gauge.show(H * 1e3, after, says, (top * 1e3, after))

    return move


def alt_allowance(result: Result) -> str:
    """The picture in words."""
    inputs = result.inputs
    against = "" if inputs.minimum_height is None else f", smallest allowed {show(inputs.minimum_height, MM, 6)}"
    return f"Bar of the head's height: {show(result['height_after'], MM, 6)} after the cut{against}."


DROP_SCALE = 600.0  # units of the sketch a metre of drop moves: 0.5 mm is drawn as 0.3, a bore as 2


class Sketch:
    """Head, gasket, block and piston cut open, and the timing drive beside them; the drop is exaggerated."""

    def __init__(self, ax: Any) -> None:
        ax.set_aspect("equal")
        ax.axis("off")
        ax.set(xlim=(-2.25, 3.75), ylim=(-2.5, 3.0))
        block: dict[str, Any] = {"facecolor": PALER, "edgecolor": SOFT, "lw": 0.8}
        self.left = shape_to_place(ax, **block)
        self.right = shape_to_place(ax, **block)
        self.seal = [shape_to_place(ax, facecolor=INK, lw=0) for _ in "lr"]
        self.piston = shape_to_place(ax, facecolor="white", edgecolor=INK, lw=1)
        for y in (-0.42, -0.62, -0.82):
            ax.plot([-0.98, 0.98], [y, y], color=SOFT, lw=0.8)
        self.head = shape_to_place(ax, facecolor=PALE, edgecolor=ACCENT, lw=1, gid="head")
        self.ghost = [ax.plot([], [], color=SOFT, lw=0.9, ls=(0, (3, 2)))[0] for _ in range(2)]
        (self.stem,) = ax.plot([], [], color=INK, lw=2.2, solid_capstyle="butt", gid="stem")
        (self.disc,) = ax.plot([], [], color=INK, lw=3, solid_capstyle="butt", gid="disc")
        (self.gap,) = ax.plot([], [], color=WARM, lw=1.4, marker="_", ms=7, mew=1.4, gid="gap")
        (self.tall,) = ax.plot([], [], color=INK, lw=0.9, marker="_", ms=7, gid="tall")
        self.tall_word = text_to_place(
            ax,
            "height",
            rotation=90,
            rotation_mode="anchor",
            ha="center",
            va="bottom",
            fontsize=8,
            gid="tall-word",
        )
        # the drive: tight run on the right, slack run with its tensioner on the left
        turn = np.linspace(0, 2 * np.pi, 73)
        self.round = np.array([np.cos(turn), np.sin(turn)]) * CAM_R
        (self.cam_was,) = ax.plot(DRIVE_X + self.round[0], CAM_Y + self.round[1], color=SOFT, lw=0.9, ls=(0, (3, 2)))
        (self.cam,) = ax.plot([], [], color=ACCENT, lw=1.8, gid="cam")
        ax.plot(DRIVE_X + self.round[0] / 2, CRANK_Y + self.round[1] / 2, color=ACCENT, lw=1.8)
        ax.plot([DRIVE_X], [CRANK_Y], "o", ms=3, color=ACCENT)
        ax.plot([DRIVE_X, DRIVE_X], [CAM_Y, CAM_Y + CAM_R], color=SOFT, lw=0.9, ls=(0, (3, 2)))
        (self.mark,) = ax.plot([], [], color=WARM, lw=2, gid="mark")
        (self.tight,) = ax.plot([], [], color=INK, lw=1.6, gid="tight")
        (self.slack,) = ax.plot([], [], color=INK, lw=1, ls=(0, (2, 1.5)), gid="slack")
        (self.tension,) = ax.plot([], [], "o", ms=9, mfc="white", mec=SOFT, mew=1.2, gid="tension")
        (self.carry,) = ax.plot([], [], color=SOFT, lw=0.7, ls=(0, (1, 2)), gid="carry")
        for x, y, word in ((0, -1.35, "piston"), (-1.38, -1.7, "block"), (DRIVE_X + 0.72, 0.1, "tight run")):
            ax.text(x, y, word, ha="center", va="center", fontsize=8, color=SOFT, rotation=90 if "run" in word else 0)
        self.head_word = text_to_place(ax, "head", ha="center", va="center", fontsize=8, color=INK, gid="head-word")
        arc: dict[str, Any] = {"arrowstyle": "->", "connectionstyle": "arc3,rad=-0.45", "color": SOFT, "lw": 1}
        ax.annotate("", (DRIVE_X + 0.24, CRANK_Y + 0.36), (DRIVE_X - 0.24, CRANK_Y + 0.36), arrowprops=arc)
        ax.text(DRIVE_X, CRANK_Y - 0.42, "crankshaft", ha="center", va="center", fontsize=8, color=SOFT)
        ax.text(DRIVE_X, CAM_Y + CAM_R + 0.12, "camshaft", ha="center", va="bottom", fontsize=8, color=SOFT)
        ax.text(-2.2, 2.98, "movement exaggerated; dashed: before", ha="left", va="top", fontsize=7.5, color=SOFT)

    def move(self, result: Result) -> None:
        """Everything that is fixed to the head comes down by the net drop."""
        inputs = result.inputs
        block = -inputs.block_skim * DROP_SCALE
        face = block + 0.1 + inputs.gasket_gain * DROP_SCALE
        down = -result["net_drop"] * DROP_SCALE
        crown = -0.06
        flat = inputs.head_face == FLAT
        valve = -0.38
        share = (inputs.chamber_opening_area or 0.0) / (np.pi / 4 * inputs.bore**2)
        half, roof, middle = (0.34, 0.75, valve) if flat else (float(np.clip(np.sqrt(share), 0.3, 1.0)), 0.85, 0.0)
        top, wall = 2.1, 1.72
        slope = 0.0 if flat else 0.12

        def outline(face: float, down: float) -> tuple[list[float], list[float]]:
            xs = [-wall, -wall, wall, wall, middle + half, middle + half - slope, middle - half + slope, middle - half]
            ys = [face, top + down, top + down, face, face, roof + down, roof + down, face]
            return xs, ys

        xs, ys = outline(face, down)
        self.head.set_xy(np.column_stack([xs, ys]))
        gx, gy = outline(0.1, 0.0)
        for old, a, b in zip(self.ghost, (1, 5), (2, 6), strict=True):
            set_changed(old, data=((gx[a], gx[b]), (gy[a], gy[b])))
        for side, patch in ((-1, self.left), (1, self.right)):
            set_changed(patch, xy=(((side, -2.2), (side * wall, -2.2), (side * wall, block), (side, block)),))
        for side, patch in zip((-1, 1), self.seal, strict=True):
            set_changed(
                patch, xy=(((side * 1.04, block), (side * wall, block), (side * wall, face), (side * 1.04, face)),)
            )
        bowl = [(0.05, crown), (0.12, -0.3), (0.62, -0.3), (0.69, crown)] if flat else []
        set_changed(self.piston, xy=(((-0.97, -1.9), (-0.97, crown), *bowl, (0.97, crown), (0.97, -1.9)),))
        # the valve, and what is left under it
        lean = 0.0 if flat else min(inputs.valve_angle, 0.6)
        across, along = np.array([np.cos(lean), -np.sin(lean)]), np.array([-np.sin(lean), np.cos(lean)])
        first = float(np.clip(inputs.valve_to_piston_clearance * DROP_SCALE, 0.18, 0.62)) + 0.27 * np.sin(lean)
        foot = np.array([valve, crown + first + down])
        ends = np.array([foot - 0.27 * across, foot + 0.27 * across, foot, foot + along * 1.75])
        lowest = ends[np.argmin(ends[:, 1])] if lean else foot
        self.disc.set_data(ends[:2, 0], ends[:2, 1])
        self.stem.set_data(ends[2:, 0], ends[2:, 1])
        self.gap.set_data([lowest[0]] * 2, [crown, max(float(lowest[1]), crown)])
        self.tall.set_data([-1.95, -1.95], [face, top + down])
        self.tall_word.set_position((-2.0, (face + top + down) / 2))
        self.head_word.set_position((1.3, (face + top + down) / 2 + 0.2))
        # the drive
        y = CAM_Y + down
        self.cam.set_data(self.round[0] + DRIVE_X, self.round[1] + y)
        back = TWIST * result["cam_angle"]
        self.mark.set_data([DRIVE_X, DRIVE_X - CAM_R * np.sin(back)], [y, y + CAM_R * np.cos(back)])
        self.tight.set_data([DRIVE_X + CAM_R, DRIVE_X + CAM_R / 2], [y, CRANK_Y])
        s_ = np.linspace(0, 1, 25)
        bulge = 0.10 - 0.8 * down
        line = DRIVE_X - CAM_R + s_ * CAM_R / 2 + 4 * s_ * (1 - s_) * bulge
        self.slack.set_data(line, y + s_ * (CRANK_Y - y))
        self.tension.set_data([line[12] - 0.16], [(y + CRANK_Y) / 2])
        self.carry.set_data([wall, DRIVE_X], [y, y])


DRIVE_X, CAM_Y, CRANK_Y, CAM_R, TWIST = 2.75, 1.85, -1.75, 0.56, 20.0


def draw_chain(figure: Any) -> Callable[[Result], None]:
    """One cut changes ratio, valve-to-piston clearance, timing and height: a sketch that moves, and four gauges."""
    return draw_chain_on(figure, figure.add_gridspec(4, 2, width_ratios=(1.12, 1)))


def draw_chain_on(figure: Any, grid: Any) -> Callable[[Result], None]:
    """The same, on the first four rows of the grid of another picture."""
    sketch = Sketch(figure.add_subplot(grid[:4, 0]))
    keys = (
        ("ratio", "Compression ratio"),
        ("gap", "Valve-to-piston clearance, mm"),
        ("late", "Camshaft, crank degrees late"),
        ("height", "Head height, mm"),
    )
    gauges = {key: Gauge(figure.add_subplot(grid[k, 1]), key, title) for k, (key, title) in enumerate(keys)}
    cut = figure.suptitle("", x=0.01, ha="left", fontsize=12, color=INK)
    cut.set_gid("cut")
    for artist in figure.findobj(lambda a: a.get_gid() not in (None, "cut")):
        artist.set_in_layout(False)  # so that the axes stand still while their contents move

    def move(result: Result) -> None:
        inputs, plot_data = result.inputs, result.plot_data
        sketch.move(result)
        cut.set_text(f"{_mm(inputs.head_skim)} off the head{_with_gasket(result)}: it comes {_down(result)}")
        ends = _ends(result)
        alike = (result, *plot_data.get("same_axes", ()))  # pictures between which one can change keep their axes
        shown: dict[str, tuple[float, float, str, Any, float | None]] = {
            "ratio": (
                result["ratio_before"],
                result["ratio_after"],
                f"{result['ratio_before']:.2f} → {result['ratio_after']:.2f}",
                ends["ratio"],
                None,
            ),
            "gap": (
                inputs.valve_to_piston_clearance * 1e3,
                plot_data["worst_clearance"] * 1e3,
                f"{inputs.valve_to_piston_clearance * 1e3:.2f} → {plot_data['worst_clearance'] * 1e3:.2f}",
                ends["gap"],
                None if inputs.minimum_clearance is None else inputs.minimum_clearance * 1e3,
            ),
            "late": (0.0, DEG.from_si(result["crank_angle"]), _late(result), ends["late"], None),
            "height": (
                inputs.measured_height * 1e3,
                result["height_after"] * 1e3,
                f"{inputs.measured_height * 1e3:.2f} → {result['height_after'] * 1e3:.2f}",
                ends["height"],
                None if inputs.minimum_height is None else inputs.minimum_height * 1e3,
            ),
        }
        for key, (was, now, says, far, least) in shown.items():
            gauge = gauges[key]
            gauge.scale(
                was,
                *(x for other in alike for x in _ends(other)[key]),
                *([] if least is None else [least]),
                *(x for other in alike for x in other.plot_data["ratio_over_bore"] if key == "ratio"),
            )
            gauge.forbid(least)
            gauge.show(
                was, now, says + (", too low" if least is not None and rounding.below(now, least) else ""), tuple(far)
            )

    return move


def _ends(result: Result) -> dict[str, Any]:
    """Where each gauge begins and ends, in its own unit."""
    plot_data = result.plot_data
    return {
        "ratio": plot_data["ratio"],
        "gap": plot_data["gap"] * 1e3,
        "late": plot_data["drop"] * DEG.from_si(_late_per_drop(result)),
        "height": plot_data["height"] * 1e3,
    }


def _with_gasket(result: Result) -> str:
    """The other thickness of the gasket, where it counts too."""
    gain = result.inputs.gasket_gain
    return f", with a gasket {_mm(abs(gain))} {'thicker' if gain > 0 else 'thinner'}" if gain else ""


def _late_per_drop(result: Result) -> float:
    """Crank retard per metre of drop."""
    inputs = result.inputs
    if inputs.given("sprocket_diameter"):
        radius = timing_drive.radius_of_diameter(inputs.sprocket_diameter)
    else:
        radius = (timing_drive.chain_pitch_radius if inputs.drive == "chain" else timing_drive.belt_pitch_radius)(
            inputs.pitch, float(inputs.teeth)
        )
    return float(
        timing.crank_from_cam(timing_drive.cam_retard(timing_drive.slack_in_tight_run(1.0, inputs.run_angle), radius))
    )


def _late(result: Result) -> str:
    angle = float(DEG.from_si(result["crank_angle"]))
    signed = f"{angle:.2f}°"
    shown = signed.removeprefix("-")
    if shown == "0.00°":
        return shown
    return shown + (" late" if shown == signed else " early")


def _down(result: Result) -> str:
    drop = result["net_drop"]
    return f"{'up' if drop < 0 else 'down'} by {_mm(abs(drop))}"


def _mm(x: float) -> str:
    return f"{x * 1e3:.2f} mm".replace("-", "−")


def alt_chain(result: Result) -> str:
    """The picture in words."""
    inputs = result.inputs
    gasket = f"{_with_gasket(result)}," if inputs.gasket_gain else ""
    return (
        f"A cut of {_mm(inputs.head_skim)}{gasket} brings the head {_down(result)}: compression ratio "
        f"{result['ratio_before']:.2f} to {result['ratio_after']:.2f}, valve-to-piston clearance "
        f"{_mm(inputs.valve_to_piston_clearance)} to {_mm(result.plot_data['worst_clearance'])}, "
        f"camshaft {_late(result)} in crankshaft degrees, "
        f"height {_mm(inputs.measured_height)} to {_mm(result['height_after'])}."
    )


# ------------------------------------------------------------------------------ pictures of grade and roughness
def draw_grade(figure: Any) -> Callable[[Result], None]:
    """Each reading, each piston's mean and the governing projection against the grades of the table."""
    ax = figure.subplots()
    ax.spines[["top", "right"]].set_visible(False)
    ax.set_xlabel("piston")
    ax.set_ylabel("projection, mm")
    state: dict[str, Any] = {"made": None, "bands": []}
    (dots,) = ax.plot([], [], "o", ms=5, mfc="white", mec=SOFT, mew=1, gid="dots")
    (means,) = ax.plot([], [], "_", ms=22, color=ACCENT, mew=2.4, gid="means")
    (line,) = ax.plot([], [], color=WARM, lw=1.2, ls=(0, (5, 2)), gid="governs")
    says = text_to_place(ax, ha="left", va="bottom", fontsize=8.5, color=WARM, gid="says")

    def build(names: list[str], grades: list[str]) -> None:
        """A band for each grade; made anew only when there are others, or other pistons."""
        for artist in itertools.chain.from_iterable(state["bands"]):
            artist.remove()
        right = len(names) + 0.5
        style: Any = {"edgecolor": PALE, "lw": 0.8, "zorder": 0}
        state["bands"] = [
            (
                span_to_place(
                    ax,
                    across=True,
                    facecolor=PALER if k % 2 else "white",
                    hatch="" if k % 2 else "//",
                    gid=f"band{k}",
                    **style,
                ),
                text_to_place(ax, f"grade {name[:24]}", x=right + 0.05, va="center", fontsize=8.5, gid=f"grade{k}"),
            )
            for k, name in enumerate(grades)
        ]
        state["ends"] = (0.5 - 0.4 * len(names), right)  # before the first piston, room for the words at the line
        set_changed(ax, xlim=state["ends"], xticks=(range(1, len(names) + 1), [n[:12] for n in names]))

    def move(result: Result) -> None:
        plot_data = result.plot_data
        grades = sorted(plot_data["grades"], key=lambda g: g.middle)
        made = (plot_data["names"], [g.name for g in grades])
        if state["made"] != made:
            build(*made)
            state["made"] = made
        projections = [1e3 * x for kept in plot_data["read"] for x in kept]
        ends = [1e3 * x for g in grades for x in (g.low, g.high) if x is not None] + projections
        low, high = set_steady_limits(ax, ylim=padded_limits(min(ends), max(ends), 10))
        for g, (band, word) in zip(grades, state["bands"], strict=True):
            a, b = low if g.low is None else 1e3 * g.low, high if g.high is None else 1e3 * g.high
            band.set_y(a)
            band.set_height(b - a)
            word.set_y((a + b) / 2)
        side = [
            (k + 0.12 * (n - (len(kept) - 1) / 2), x)
            for k, kept in enumerate(plot_data["read"], 1)
            for n, x in enumerate(kept)
        ]
        dots.set_data([x for x, _ in side], [1e3 * y for _, y in side])
        means.set_data(range(1, len(plot_data["means"]) + 1), [1e3 * x for x in plot_data["means"]])
        means.set_visible(plot_data["rule"] != "max")
        governing = 1e3 * plot_data["governing"]
        line.set_data(state["ends"], [governing, governing])
        says.set_position((state["ends"][0] + 0.02 * len(plot_data["names"]), governing))
        says.set_text(f"governs: {governing:.3f} mm")

    return move


def alt_grade(result: Result) -> str:
    """The picture in words."""
    return (
        f"Projections of {len(result.plot_data['names'])} pistons against the bands of the grades; "
        f"{show(result['governing'], MM)} governs: grade {result['grade']}."
    )


def draw_roughness(figure: Any) -> Callable[[Result], None]:
    """Three surfaces that share the typed parameter: the other parameters differ."""
    axes = figure.subplots(3, 1, sharex=True)
    lines, words_ = [], []
    for k, ax in enumerate(axes):
        ax.axis("off")
        ax.set(xlim=(0, 1), ylim=(-1.15, 1.15))
        ax.axhline(0, color=SOFT, lw=0.6, ls=(0, (4, 3)))
        (line,) = ax.plot([], [], color=ACCENT, lw=1.4, gid=f"profile{k}")
        lines.append(line)
        words_.append(ax.text(0, 1.2, "", fontsize=9, va="bottom", ha="left", color=INK, gid=f"says{k}"))

    def move(result: Result) -> None:
        profiles = result.plot_data["profiles"]
        top = max(float(np.abs(z).max()) for _, z in profiles.values())
        for line, says, (name, (x, z)) in zip(lines, words_, profiles.items(), strict=True):
            line.set_data(x, z / top)
            found = roughness.parameters_of(z)
            says.set_text(f"{name}: " + ", ".join(f"{k} {v * 1e6:.2f} µm" for k, v in found.items()))

    return move


def alt_roughness(result: Result) -> str:
    """The picture in words."""
    parameter = result.plot_data["parameter"]
    found = {name: roughness.parameters_of(z) for name, (_, z) in result.plot_data["profiles"].items()}
    other = "Ra" if parameter not in ("Ra", "Rq") else "Rz"
    told = "; ".join(f"{name} {other} {p[other] * 1e6:.2f} µm" for name, p in found.items())
    return f"Three surfaces of the same {parameter}, {show(result['micrometre'], unit_of(um))}: {told}."


PICTURES = {
    "valve_lash": Picture(draw_lash, alt_lash, size=(6.2, 1.7)),
    "valve_sweep": Picture(draw_sweep, alt_sweep, size=(6.2, 3.4)),
    "skim_allowance": Picture(draw_allowance, alt_allowance, size=(6.2, 1.2)),
    "skim_chain": Picture(draw_chain, alt_chain, size=(7.4, 4.1)),
    "gasket_grade": Picture(draw_grade, alt_grade, size=(6.2, 3.0)),
    "surface_roughness": Picture(draw_roughness, alt_roughness, size=(6.2, 2.6)),
}
