"""What pictures show at a limit, or of inputs that the recorded pictures do not have."""

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.colors import to_rgba
from matplotlib.figure import Figure

from shoplib.core.checks import Outcome
from shoplib.physics.outlier import LIMIT
from shoplib.plotting.plot_style import ACCENT, WARM
from shoplib.topics import get
from shoplib.topics.angle.pictures import words_that_fit
from shoplib.topics.flatness import pictures as of_flatness
from tests.recorded.runs import FACE
from tests.topics.picture_parts import by_gid
from tests.topics.typed_inputs import typed

LONG = "abcdefghijklmnopqrstuvwxyz"


def drawn(name, change=None, **more):
    """The picture of a working, with the data of the result changed where that is asked; and the result."""
    working = get(name)
    result = working({**typed(working), **more})
    if change:
        result = replace(result, plot_data={**result.plot_data, **change(result.plot_data)})
    figure = Figure(figsize=working.figure_size)
    working.draw(figure)(result)
    return figure, result


def labels(axis):
    return axis.get_major_formatter().format_ticks(axis.get_majorticklocs())


NAMED = [
    ("peak_torque", {"readings": "9 N*m; 8 N*m", "bolts": f"{LONG}; b"}, 8),
    ("bolts_compared", {"traces": [{"bolt": name, "slope": "1 N*m/deg"} for name in (LONG, *"bcdef")]}, 8),
    ("residual_torque", {"readings": [{"bolt": name, "torque": "50 N*m"} for name in (LONG, "b")]}, 8),
    ("liner_protrusion", {"liners": [{"liner": name, "place_1": "0.05 mm"} for name in (LONG, "b")]}, 12),
]


@pytest.mark.parametrize(("name", "more", "letters"), NAMED)
def test_a_long_name_under_an_axis_is_cut_to_so_many_letters(name, more, letters):
    figure, _ = drawn(name, **more)
    assert labels(figure.axes[0].xaxis)[:2] == [LONG[:letters], "b"]


@pytest.mark.parametrize(("letters", "shown"), [(22, LONG[:22]), (23, LONG[:22] + "…")])
def test_the_name_of_a_line_has_22_letters_beside_its_bracket(letters, shown):
    figure, _ = drawn("flatness_lines", lines=[{"name": LONG[:letters], "no_go": "0.05 mm"}])
    assert labels(figure.axes[0].yaxis) == [f"1: {shown}"]


def test_a_score_at_the_limit_of_the_rule_is_not_beyond_it():
    """The rule labels a reading beyond 3.5 (NIST/SEMATECH e-Handbook 1.3.5.17, as quoted)."""
    scores = {"slope": [LIMIT, -LIMIT, 1.01 * LIMIT, -1.01 * LIMIT, None, 0.0], "angle": [], "torque": []}
    figure, _ = drawn("bolts_compared", lambda _: {"scores": scores})
    assert by_gid(figure, "slope").get_xdata() == [1, 2, 6]
    assert by_gid(figure, "odd").get_xdata() == [3, 4]


def test_the_curve_of_the_model_has_the_friction_as_typed_and_the_band_its_range():
    figure, result = drawn("trace_against_model", mu_low="0.10", mu_high="0.16")
    x, y = by_gid(figure, "curve").get_data()
    snug = np.degrees(result.plot_data["found"].snug.angle)
    expected, measured = np.degrees(result.plot_data["model_angle"][0]), result.plot_data["model_torque"]
    assert y == pytest.approx(np.interp(x, expected + snug, measured[0], right=np.nan), nan_ok=True)
    assert result["model_slope_low"] < result["model_slope"] < result["model_slope_high"]
    assert result.plot_data["banded"]


@pytest.mark.parametrize(("share", "shows"), [(0.102, True), (0.098, False)])
def test_the_name_of_a_zone_shows_where_the_zone_is_wider_than_a_tenth_of_the_axis(share, shows):
    limits = (-60.0, 240.0), (0.0, 60.0), (0.0, 100.0), (0.98, 1.2)
    start = np.full(3, 240.0 - share * 300.0)
    figure, _ = drawn("staged_tightening", lambda _: {"limits": limits, "necking_angle": start, "yield_angle": start})
    zone = by_gid(figure, "zone_neck")
    assert (zone.get_x(), zone.get_width()) == pytest.approx((start[0], share * 300.0))
    assert by_gid(figure, "name_neck").get_visible() == shows
    assert not by_gid(figure, "name_yield").get_visible()


@pytest.mark.parametrize(("stages", "shows"), [("40 N*m; +200 deg", True), ("40 N*m; +200 deg; loosen", False)])
def test_what_loosening_would_leave_is_drawn_only_while_there_is_clamp(stages, shows):
    figure, result = drawn("staged_tightening", stages=stages)
    assert result["plastic_elongation"][-1] > 0
    assert (result["preload"][-1] > 0) == shows
    assert bool(len(by_gid(figure, "off").get_xdata())) == bool(by_gid(figure, "off_note").get_text()) == shows


@pytest.mark.parametrize("force", ["0.5 N*m", "40 N*m"])
def test_the_line_of_the_torque_ends_at_the_highest_stage(force):
    figure, result = drawn("staged_tightening", stages=force)
    x, y = by_gid(figure, "pull").get_data()
    assert (x[1], y[1]) == (float(force.split()[0]), result["preload"][0] / 1e3)


def test_the_axis_of_the_angle_reaches_past_the_yield_of_the_friction_as_typed():
    figure, _ = drawn("staged_tightening", lambda _: {"yield_angle": np.array([200.0, 300.0, 400.0])})
    assert figure.axes[0].get_xlim()[1] == 300.0  # 1.3 × 200°, in steps of 60°


WIDTHS = [
    ("friction", 18.3, "friction 18 %"), ("friction", 18.1, "friction"), ("friction", 12.9, "friction"), ("friction", 12.7, ""),
    ("torque error", 25.9, "torque error 26 %"), ("torque error", 25.7, "torque error"), ("torque error", 19.1, ""),
]  # fmt: skip


@pytest.mark.parametrize(("entry", "width", "shown"), WIDTHS)
def test_a_block_names_its_share_where_there_is_room(entry, width, shown):
    assert words_that_fit(entry, width) == shown


def test_readings_beyond_two_standard_deviations_are_within_the_axis_and_lie_in_three_rows():
    figure, _ = drawn("scatter_of_readings", readings="; ".join(["30 kN"] * 9 + ["60 kN"]))
    assert figure.axes[0].get_xlim()[1] == 65.0  # mean 33 kN, s = 9.49 kN: two of them reach 52 kN
    heights = by_gid(figure, "dots").get_ydata()
    assert heights == pytest.approx(0.3 + 0.28 * np.array([-1, 0, 1, -1, 0, 1, -1, 0, 1, -1]))
    figure, _ = drawn("scatter_of_readings", readings="; ".join(["60 kN"] * 9 + ["20 kN"]))
    assert figure.axes[0].get_xlim()[0] == 20.0  # mean 56 kN, s = 12.65 kN: two of them reach 31 kN


def test_without_a_reading_the_axis_of_the_peak_torque_stands_at_120():
    figure, _ = drawn("peak_torque", readings="not measured; not measured")
    assert figure.axes[0].get_ylim() == (0.0, 120.0)


def test_without_an_outline_a_line_with_two_places_is_drawn_whole_beside_one_without():
    lines = [
        {"name": "A", "from": "0; 75 mm", "to": "400; 75 mm", "no_go": "0.05 mm"},
        {"name": "B", "no_go": "0.05 mm"},
    ]
    figure, _ = drawn("flatness_lines", lines=lines)
    assert by_gid(figure, "line0").get_xdata()[:2] == pytest.approx([0, 400])
    assert len(figure.axes[1].texts) == 1  # its number


def test_a_line_on_the_face_is_drawn_as_it_was_judged():
    leaves = {"A": {"goes": "0.10 mm"}, "B": {"no_go": "0.04 mm"}, "C": {"goes": "0.03 mm", "no_go": "0.10 mm"}}
    lines = [{"name": n, "from": f"0; {k} mm", "to": f"400; {k} mm", **leaves[n]} for k, n in enumerate("ABC")]
    figure, result = drawn("flatness_lines", lines=lines, limit="0.05 mm", limit_source="manual")
    judged = [line.outcome for line in result.plot_data["lines"]]
    assert judged == [Outcome.FAIL, Outcome.PASS, Outcome.UNDECIDED]
    shown = [by_gid(figure, f"line{k}") for k in range(3)]
    assert [run.get_color() for run in shown] == [WARM, ACCENT, ACCENT]
    assert len({str(run._unscaled_dash_pattern) for run in shown}) == 3
    boxes = [by_gid(figure, f"bracket{k}") for k in range(3)]
    assert [box.get_hatch() for box in boxes] == [of_flatness.HATCH[outcome] for outcome in judged]


def test_a_hole_with_corners_is_drawn_through_them_in_millimetres():
    corners = [(10.0, 100.0), (30.0, 100.0), (20.0, 130.0)]
    holes = [{"name": "port", "x": f"{x} mm", "y": f"{y} mm"} for x, y in corners]
    figure, _ = drawn("flatness_lines", **{**FACE, "holes": holes})
    _, port = figure.axes[1].patches
    assert port.get_xy()[:3] == pytest.approx(np.array(corners))
    assert port.get_zorder() == 1


def points(count):
    """On a slightly curved face, in rows of five."""
    at = [(20 * (k % 5), 20 * (k // 5)) for k in range(count)]
    return [{"x": f"{x} mm", "y": f"{y} mm", "z": f"{(x * x + 3 * x * y) % 37} um"} for x, y in at]


def test_a_face_with_an_outline_is_drawn_over_its_contours_and_within_the_axes():
    outline = [
        {"name": n, "x": f"{x} mm", "y": f"{y} mm"}
        for n, x, y in (("A", -40, -30), ("B", 120, -30), ("C", 120, 90), ("D", -40, 90))
    ]
    holes = [{"name": "bore", "x": "-20 mm", "y": "0 mm", "diameter": "20 mm"}]
    figure, _ = drawn("flatness_grid", points=points(20), outline=outline, holes=holes)
    rim, bore = figure.axes[0].patches
    assert rim.get_facecolor() == to_rgba("none")
    assert bore.get_zorder() == 3  # above the contours, below their numbers
    (left, right), (low, high) = figure.axes[0].get_xlim(), figure.axes[0].get_ylim()
    assert -60 < left < -40 < 120 < right < 140
    assert -50 < low < -30 < 90 < high < 110


@pytest.mark.parametrize(("count", "dots"), [(20, True), (21, False)])
def test_so_many_places_are_drawn_as_dots_and_no_more(monkeypatch, count, dots):
    monkeypatch.setattr(of_flatness, "MOST_DOTS", 20)
    figure, _ = drawn("flatness_grid", points=points(count))
    assert any(a.get_gid() == "places" for a in figure.axes[0].lines) == dots


def test_of_many_places_some_are_drawn_and_all_that_the_planes_rest_on(monkeypatch):
    monkeypatch.setattr(of_flatness, "MOST_DRAWN", 30)
    figure, result = drawn("flatness_grid", points=points(40))
    x, y = by_gid(figure, "places").get_data()
    shown, zone = set(zip(x.tolist(), y.tolist(), strict=True)), result.plot_data["zone"]
    assert 30 <= len(shown) <= 30 + len(zone.support)
    assert {tuple(p) for p in (1e3 * result.plot_data["P"][zone.support, :2]).tolist()} <= shown


@pytest.mark.parametrize(("bar", "step"), [(12, 2), (30, 5), (40, 10)])
def test_the_axis_of_the_compression_counts_in_ones_twos_and_fives(bar, step):
    figure, _ = drawn("compression_test", readings="; ".join([f"{bar} bar"] * 4))
    assert np.diff(figure.axes[0].get_yticks()) == pytest.approx(step)
