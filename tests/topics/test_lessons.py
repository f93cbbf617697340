"""Lessons: what is said is what the workings say, at every position of every control."""

import importlib
import itertools
import re
import subprocess
import sys

import pytest

from shoplib.desk import Explore
from shoplib.topics import exercises, lessons

LESSONS = {name: lessons.get(name) for name in lessons.MODULE_OF}


def plain(widget):
    return re.sub(r"<[^>]+>", " ", widget.value)


def positions(control):
    if control.choices:
        return [word for word, _ in control.choices]
    middle = control.low + control.step * round((control.high - control.low) / control.step / 2)
    return [control.low, control.start, middle, control.high]


@pytest.mark.parametrize("name", LESSONS)
def test_every_corner_of_a_lesson_is_said_and_drawn(name):
    lesson = LESSONS[name]
    box = Explore(name)
    for corner in itertools.product(*(positions(c) for c in lesson.controls)):
        for control, position in zip(lesson.controls, corner, strict=True):
            box.dials[control.name].slider.value = position
        said = plain(box.said).strip()
        assert said
        assert not re.search(r"nan|None|not known|inf\b", said), (corner, said)
        assert box.figure.alt
        assert box.figure.svg


@pytest.mark.parametrize("name", LESSONS)
def test_what_moves_is_what_a_full_render_shows(name):
    lesson = LESSONS[name]
    box = Explore(name)
    control = lesson.controls[0]
    box.dials[control.name].slider.value = positions(control)[2]
    moved = {k: re.sub(r'id="[^"]*"|#[^")]*', "", v) for k, v in box.figure.parts.items()}
    fresh = Explore(name, **{control.name: positions(control)[2]})
    assert {k: re.sub(r'id="[^"]*"|#[^")]*', "", v) for k, v in fresh.figure.parts.items()} == moved


def test_the_same_click_at_the_projects_own_numbers():
    said = LESSONS["same_click"].says(LESSONS["same_click"].at(friction=0.12))
    assert "24.3 kN" in said  # worked numbers of the model bolt
    assert "0.25 mm" in said
    assert "18.9 kN" in LESSONS["same_click"].says(LESSONS["same_click"].at(friction=0.16))
    assert "28.3 kN" in LESSONS["same_click"].says(LESSONS["same_click"].at(friction=0.10))


def test_where_the_torque_goes_at_the_projects_own_numbers():
    assert "15 % of the torque stretches the bolt, 38 % is lost in the thread, 47 % under the head" in LESSONS[
        "where_the_torque_goes"
    ].says(LESSONS["where_the_torque_goes"].at(friction=0.12))


def test_ramp():
    lesson = LESSONS["ramp"]
    assert "0.750 mm" in lesson.says(lesson.at(angle=180, pitch="1.5 mm"))
    assert "0.312 mm" in lesson.says(lesson.at(angle=90, pitch="1.25 mm")).replace("0.313", "0.312")


@pytest.mark.parametrize("angle", [90, 360])
def test_on_the_ramp_the_friction_changes_the_torque_and_never_the_travel(angle):
    lesson = LESSONS["ramp"]
    turned = [lesson.at(angle=angle, friction=mu) for mu in (0.08, 0.12, 0.16, 0.20)]
    assert len({t.travel["travel"] for t in turned}) == 1
    assert [t.torque for t in turned] == sorted({t.torque for t in turned})
    # the model bolt's own numbers: 24.3 kN at 40 N·m, 0.298 kN per degree while it is elastic
    assert lesson.at(angle=60).torque == pytest.approx(40 * (24.3 + 0.298 * 60) / 24.3, rel=2e-3)


def test_two_frictions_at_the_projects_own_numbers():
    lesson = LESSONS["two_frictions"]
    # past yield 1.09 without hardening; this model hardens over a short strain, so the slippery bolt is a little ahead
    for angle, ratio in ((0, "1.50"), (60, "1.26"), (90, "1.10"), (180, "1.09")):
        assert lesson.says(lesson.at(angle=angle)).split("ratio ")[-1].startswith(ratio)


def test_the_ratio_never_grows_with_the_angle():
    lesson = LESSONS["two_frictions"]
    ratios = [lesson.at(angle=a)["spread_ratio"][-1] for a in range(0, 181, 5)]
    assert ratios == sorted(ratios, reverse=True)


def test_how_far_elastic_yielded_broken_and_undone():
    lesson = LESSONS["how_far"]
    assert "all of it elastic" in lesson.says(lesson.at(angle=60))
    assert "nothing stays" in lesson.says(lesson.at(angle=60, then="loosen it"))
    assert "past yield" in lesson.says(lesson.at(angle=180))
    undone = lesson.at(angle=180, then="loosen it")
    # springs back along the bolt's own stiffness, 95.4 kN/mm (model bolt): the set is the rest
    sprung = undone["preload"][-2] / 95.4e6
    assert undone["elongation"][-1] == pytest.approx(undone["elongation"][-2] - sprung, rel=1e-3)
    for then in ("leave it tight", "loosen it"):
        said = lesson.says(lesson.at(angle=600, then=then))
        assert "Broken: the clamp load is 0 kN" in said
        assert "50.7 kN, at 569°" in said  # read off the picture's curve


def test_a_third_of_the_length_yields_and_breaks_after_fewer_degrees():
    lesson = LESSONS["how_far"]

    def first(state, bolt):
        return next(a for a in range(0, 601, 5) if lesson.at(angle=a, bolt=bolt)["state"][-1] == state)

    for state in ("yielded", "will neck and break"):
        assert first(state, "short, 40 mm") < 0.4 * first(state, "long, 120 mm")


def test_wrong_names_are_said():
    with pytest.raises(KeyError, match="no lesson is called 'x'; there are"):
        Explore("x")
    with pytest.raises(TypeError, match="no control speed"):
        LESSONS["ramp"].at(speed=1)


def test_without_a_kernel_a_lesson_is_a_picture_with_its_words():
    box = Explore("ramp")
    data = box._repr_mimebundle_()
    data = data[0] if isinstance(data, tuple) else data
    assert "data:image/svg+xml;base64," in data["text/html"]
    assert "0.375 mm" in data["text/plain"]
    assert Explore("ramp").static_html() == box.static_html()


# ------------------------------------------------------------------------------ what is claimed is so
def test_one_model_bolt_everywhere():
    """Lessons, exercises and the cells of the notebooks give the model bolt one uniform strain and one stiffness."""
    import json
    from pathlib import Path

    from shoplib.topics.angle import lesson as told
    from shoplib.topics.angle.exercises import STAGES
    from shoplib.topics.angle.model_bolt import MODEL

    assert MODEL.items() <= STAGES.items()
    assert told.MODEL is MODEL
    code = ""
    for path in sorted(Path("notebooks").glob("6[1-5]*.ipynb")):  # 66 has the shorter bolt of its trace
        cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
        code += "".join("".join(c["source"]) for c in cells if c["cell_type"] == "code")
    for name in ("uniform_strain", "uniform_strain_source", "parts_stiffness"):
        typed = set(re.findall(rf'\b{name}="([^"]*)"', code))
        assert typed == {MODEL[name]}, name


def drawn(name, **at):
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    lesson = LESSONS[name]
    figure = Figure(figsize=lesson.figure_size, layout="constrained")
    canvas = FigureCanvasAgg(figure)
    move = lesson.draw(figure)
    move(lesson.at(**at))
    canvas.draw()
    return {a.get_gid(): a for a in figure.findobj() if a.get_gid()}, figure


def test_necking_has_a_falling_load_and_says_that_it_is_not_calculated():
    parts, _ = drawn("how_far", angle=600)
    angles, loads = parts["falls"].get_data()
    assert list(loads) == sorted(loads, reverse=True) and loads[-1] < loads[0]
    assert angles[0] == pytest.approx(parts["whole"].get_xdata()[-1], abs=6)
    assert parts["stop"].get_data()[1][0] == pytest.approx(loads[-1])
    assert "not calculated" in parts["falls-name"].get_text()
    assert "load fell" in LESSONS["how_far"].says(LESSONS["how_far"].at(angle=600))


@pytest.mark.parametrize(("name", "times"), [("how_far", "16"), ("same_click", "120")])
def test_an_enlargement_is_stated(name, times):
    from matplotlib.text import Text

    _, figure = drawn(name)
    assert any("exaggerated" in t.get_text() and f"{times} times" in t.get_text() for t in figure.findobj(Text))


def test_the_enlargement_of_the_stretch_is_about_120():
    parts, _ = drawn("same_click", friction=0.12)
    y = parts["gap"].get_ydata()
    state = LESSONS["same_click"].at(friction=0.12)
    bolt = (2.05 - 0.35) / 120e-3  # units of the drawing for each metre of bolt
    assert (y[1] - y[0]) / bolt / state.stretch == pytest.approx(120, rel=0.05)


def test_bolts_that_break_are_told_and_stand_in_no_step():
    lesson = LESSONS["many_bolts"]
    state = lesson.at(angle=90)
    breaks = state["torque_only"][0]["breaks"].value
    assert 0.15 < breaks < 0.3
    assert f"and {100 * breaks:.0f} % break" in lesson.says(state)
    assert state.plot_data["torque_only"].sum() == pytest.approx(1 - breaks)
    assert state.plot_data["torque_angle"].sum() == pytest.approx(1)
    parts, _ = drawn("many_bolts", angle=90)
    assert f"{100 * breaks:.0f} % break" in parts["note_alone"].get_text()
    assert "break" not in parts["note_both"].get_text()
    # friction still carries a good part of what the angle leaves: no page may say that the steel alone decides
    assert state["torque_angle"][0]["share_friction"].value > 0.4


def test_a_bottomed_bolt_clicks_and_clamps_nothing():
    lesson = LESSONS["same_click"]
    state = lesson.at(hole="too shallow")
    assert (state.stretch, state.clamp) == (0.0, 0.0)
    assert "Clamp load: none" in lesson.says(state)
    parts, _ = drawn("same_click", hole="too shallow")
    assert not parts["arrow0"].get_visible() and "does not" in parts["gap-note"].get_text()


def test_stretch_and_clamp_load_differ_with_the_length_of_the_bolt():
    long, short = (LESSONS["same_click"].at(bolt=b) for b in ("long, 120 mm", "short, 40 mm"))
    assert long.clamp == short.clamp
    assert long.stretch / short.stretch == pytest.approx(290.5 / 95.4, rel=0.01)  # stiffnesses, worked by hand


@pytest.mark.parametrize("name", LESSONS)
def test_every_text_is_12_px_at_the_least_width(name):
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure
    from matplotlib.text import Text

    lesson = LESSONS[name]
    figure = Figure(figsize=lesson.figure_size, layout="constrained")
    canvas = FigureCanvasAgg(figure)
    move = lesson.drawn(figure)
    for corner in itertools.product(*(positions(c)[-2:] for c in lesson.controls)):
        move(lesson.at(**{c.name: p for c, p in zip(lesson.controls, corner, strict=True)}))
    canvas.draw()
    px = lesson.narrowest / (72 * figure.get_size_inches()[0])
    texts = [t for t in figure.findobj(Text) if t.get_text() and t.get_visible()]
    assert [t.get_text() for t in texts if t.get_size() * px < 11.99] == []


def test_each_lesson_and_each_topic_is_found_in_the_module_that_declares_it_and_no_name_is_used_twice():
    for module, names in lessons.MODULES.items():
        assert names == tuple(x.name for x in importlib.import_module(f"shoplib.topics.{module}").LESSONS)
    assert len(lessons.MODULE_OF) == sum(map(len, lessons.MODULES.values()))
    every = []
    for package, topics in exercises.TOPICS.items():
        declared = importlib.import_module(f"shoplib.topics.{package}.exercises").EXERCISES
        assert set(topics) == {e.topic for e in declared}
        every += [e.name for e in declared]
    assert every == list(exercises.all_exercises()), "no exercise is called like another"


def test_one_topic_and_one_lesson_are_found_without_loading_the_others():
    program = (
        "import sys; from shoplib.topics import exercises, lessons; exercises.of_topic('faces'); lessons.get('leaf'); "
        "print(*sorted(m for m in sys.modules if m.endswith(('.exercises', 'lesson'))))"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True).stdout.split()
    own = ["shoplib.teaching.lesson", "shoplib.topics.exercises", "shoplib.topics.flatness.exercises"]
    assert done == sorted([*own, "shoplib.topics.flatness.leaf_lesson"])
