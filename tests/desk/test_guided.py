"""Guided lessons: the order cannot be skipped, nothing is shown early, and a belief is named only where it was shown."""

import random
import re
from dataclasses import replace

import pytest

from shoplib.desk import Guided
from shoplib.teaching.choice import BELIEFS, Cases, Item, Option
from shoplib.teaching.exercise import Exercise
from shoplib.teaching.guided import STEPS, NotRead, OutOfOrder, Run, Scene, Visits, restored
from shoplib.topics import lessons
from shoplib.topics.guided import all_guided, get
from tests.guided_way import to_try

GUIDED = all_guided()
ACTIONS = {"place": (1,), "commit": (), "because": (0,), "seen": (), "explain": (0,), "check": (0,)}
ALLOWED = {"guess": {"place", "commit"}, "why": {"because"}, "see": {"seen"}, "explain": {"explain"},
           "check": {"check"}, "done": set()}  # fmt: skip


def place_of(item, option):
    return item.order.index(option)


def right(item):
    return place_of(item, item.right)


def wrong(item):
    return next(n for n in range(len(item.options)) if not item.is_right(n))


def answer_to(case, good=True):
    """An answer to a case: the place of an option, or what is typed."""
    if isinstance(case, Item):
        return right(case) if good else wrong(case)
    if case.in_words:
        return next(w for w in case.exercise.choices if (w == case.answer.shown) == good)
    return case.answer.shown if good else case.shown(3.7 * float(case.answer.value))


def every_item(lesson):
    return [i for kind in lesson.checks if isinstance(kind, Cases) for i in kind.items]


def first_guess(lesson):
    return 0 if isinstance(lesson.guess, Item) else lesson.guess.slider[0]


def at(lesson, step):
    """A run at this step, with wrong answers on the way."""
    run = Run(lesson).place(first_guess(lesson))
    if step == "guess":
        return run
    run = run.commit()
    if step == "why":
        return run
    run = run.because(-1)
    if step == "see":
        return run
    run = run.seen()
    if step == "explain":
        return run
    run = run.explain(right(lesson.explain))
    while step == "done" != run.step:
        run = run.check(answer_to(run.present_check))
    return run


@pytest.mark.parametrize("step", STEPS)
def test_an_action_of_another_step_is_refused(step):
    run = at(get("same_click"), step)
    assert run.step == step
    for action, arguments in ACTIONS.items():
        if action not in ALLOWED[step]:
            with pytest.raises(OutOfOrder):
                getattr(run, action)(*(arguments if action != "place" else (20.0,)))


def test_no_guess_no_commit_and_a_committed_guess_stays():
    run = Run(get("same_click"))
    with pytest.raises(OutOfOrder, match="no guess"):
        run.commit()
    with pytest.raises(ValueError, match="off the scale"):
        run.place(500.0)
    with pytest.raises(OutOfOrder):
        run.place(20.0).commit().place(30.0)


def test_why_tells_knowledge_from_luck():
    lesson = get("same_click")
    answer = lesson.ask().unit.from_si(lesson.ask().answer.value)
    low = lesson.guess.slider[0]
    because = {"knew": (answer, right), "lucky": (answer, wrong), "slip": (low, right), "learned": (low, wrong)}
    for outcome, (guess, reason) in because.items():
        run = Run(lesson).place(guess).commit()
        assert run.outcome == "" == run.reply()
        run = run.because(reason(lesson.reasons))
        assert run.outcome == outcome
        assert ("luck" in run.reply()) == (outcome == "lucky")
        assert run.seen().step == "explain"
    assert Run(lesson).place(answer).commit().because(-1).outcome == "lucky"


def test_a_wrong_reason_leads_back_to_the_picture():
    lesson = get("same_click")
    run = at(lesson, "explain").explain(wrong(lesson.explain))
    assert run.step == "see"
    assert run.seen().step == "explain"
    run = run.seen().explain(right(lesson.explain))
    assert run.step == "check"
    back = run.check(answer_to(run.present_check, good=False))
    assert back.step == "see" and back.seen().step == "check", "the reason was given already"


@pytest.mark.parametrize("name", GUIDED)
def test_an_answer_to_a_case_counts_once_and_all_must_be_right_in_a_row(name):
    lesson = GUIDED[name]
    run = at(lesson, "check")
    for missed in range(len(lesson.checks)):
        asked = []
        for n in range(missed + 1):
            case = run.present_check
            asked.append(case.text)
            assert run.in_a_row == n
            run = run.check(answer_to(case, good=n < missed))
        assert run.step == "see", "a wrong answer leads to the picture"
        run = run.seen()
        assert run.step == "check" and run.in_a_row == 0, "and the count starts again"
        assert run.present_check.text not in asked, "with another case"
    for _ in lesson.checks:
        assert run.step == "check"
        run = run.check(answer_to(run.present_check))
    assert run.step == "done" and run.wrong_cases == len(lesson.checks)
    assert restored(lesson, run.record()) == run


@pytest.mark.parametrize("name", GUIDED)
def test_who_repeats_what_was_right_before_does_not_get_through(name):
    """What is right in one version is wrong, or not offered, in the next one."""
    for kind in GUIDED[name].checks:
        if isinstance(kind, Cases):
            for item, after in zip(kind.items, (*kind.items[1:], kind.items[0]), strict=True):
                assert item.right.words != after.right.words, (item.text, after.text)
        else:
            texts = [kind.ask(n).text for n in range(12)]
            assert len(set(texts)) >= 8
            assert len({kind.ask(n).answer.shown for n in range(12)}) >= 2


@pytest.mark.parametrize("name", GUIDED)
def test_clicking_at_random_does_not_get_through(name):
    """A learner who never thinks: any option, any number, ten cases and the picture again after each wrong one."""
    lesson = GUIDED[name]
    rng = random.Random(19)
    through = 0
    for seed in range(20):
        run = replace(at(lesson, "check"), seed=seed)
        for _ in range(10):
            if run.step == "see":
                run = run.seen()
            case = run.present_check
            if isinstance(case, Item):
                run = run.check(rng.randrange(len(case.options)))
            elif case.in_words:
                run = run.check(rng.choice(case.exercise.choices))
            else:
                run = run.check(f"{rng.randrange(1, 200)} {case.unit.text}")
            if run.step == "done":
                through += 1
                break
    assert through <= 2


def test_what_cannot_be_read_does_not_count():
    run = at(get("angle_is_travel"), "check")
    while isinstance(run.present_check, Item):
        run = run.check(answer_to(run.present_check))
    for typed in ("", "about half", "0.5"):
        with pytest.raises(NotRead, match="Type "):
            run.check(typed)
    named, value = run.present_check.wrong_answers()[0]
    assert named.name in run.present_check.check(run.present_check.shown(value)).words


def test_what_is_still_to_try_in_the_picture():
    visits = Visits(get("same_click"), {"friction": 0.16, "bolt": "long, 120 mm", "hole": "deep enough"})
    assert visits.left == [("friction", 0.08), ("bolt", "short, 40 mm"), ("hole", "too shallow")]
    visits.moved("friction", 0.1, None)
    assert ("friction", 0.08) in visits.left, "not there yet"
    visits.moved("friction", 0.08, None)
    visits.moved("hole", "too shallow", None)
    assert visits.left == [("bolt", "short, 40 mm")]
    visits.moved("bolt", "short, 40 mm", None)
    assert visits.left == []
    assert not visits.locked


@pytest.mark.parametrize("name", ["leaf_is_a_bracket", "flat_lengthwise"])
def test_the_cover_waits_until_everything_is_found(name):
    box = Guided(name)
    box.run = at(box.lesson, "see")
    box._show()
    cover = box.explore.dials["cover"].slider
    all_ = to_try(box.lesson)
    lifted = all_.index(("cover", "off"))
    others, under = all_[:lifted], all_[lifted + 1 :]
    assert cover.disabled
    for control, position in others:
        box.explore.dials[control].slider.value = position
        assert box.go.disabled
        assert cover.disabled == ("Cover off" not in everything(box))
    assert not cover.disabled
    cover.value = "off"
    for control, position in under:
        box.explore.dials[control].slider.value = position
    assert not box.go.disabled and not cover.disabled


def test_at_each_place_only_the_leaf_that_decides_counts():
    picture, visits = lessons.get("leaf"), Visits(get("leaf_is_a_bracket"), {"leaf": 0.05, "place": "A", "cover": "on"})
    for place, decides, tried in (("A", 0.09, (0.05, 0.07, 0.08, 0.10, 0.14)), ("B", 0.07, (0.05, 0.06, 0.09, 0.14))):
        before = visits.to_find
        for leaf in tried:
            visits.moved("leaf", leaf, picture.at(leaf=leaf, place=place))
        assert visits.to_find == before
        visits.moved("leaf", decides, picture.at(leaf=decides, place=place))
        assert visits.to_find == before[1:]
    assert visits.locked == "" and visits.left == [("cover", "off")]
    visits.moved("cover", "off", picture.at(leaf=0.07, place="B", cover="off"))
    assert visits.left == [] and visits.to_find == ["place A with the cover off"]
    visits.moved("place", "A", picture.at(leaf=0.07, place="A", cover="off"))
    assert visits.to_find == [] and visits.locked == ""


def test_one_set_of_cases_never_passes_with_the_leaf_that_fits_as_the_gap_only():
    """Who takes the leaf that fits for the gap answers each fail right: only one kind of case asks for one."""
    kinds = [kind for kind in get("leaf_is_a_bracket").checks if isinstance(kind, Cases)]
    fails = [any("fail" in case.right.words for case in kind.items) for kind in kinds]
    assert fails.count(True) == 1


@pytest.mark.parametrize("name", GUIDED)
def test_a_case_stands_without_the_picture_of_another_bolt(name):
    box = Guided(name)
    box.run = at(GUIDED[name], "check")
    box._show()
    assert "<svg" not in everything(box) and len(box.body.children) == 1
    assert box.run.present_check.text[:40].replace("\u00a0", " ") in everything(box).replace("&amp;", "&")


def test_a_misconception_is_named_only_inside_its_own_tolerance():
    lesson = get("same_click")
    q = lesson.ask()
    for mistake, value in q.wrong_answers():
        near = Run(lesson).place(q.unit.from_si(value)).commit().because(-1)
        assert mistake.name in near.reply()
    said = Run(lesson).place(25.0).commit().because(-1).reply()
    assert "probably" not in said


def test_a_number_guessed_when_the_lesson_asked_for_one_is_not_read_as_an_option():
    record = {**at(get("angle_is_travel"), "see").record(), "guess": 0.375}
    assert restored(get("angle_is_travel"), record) == Run(get("angle_is_travel"))


@pytest.mark.parametrize("step", STEPS)
def test_a_record_restores_the_run_and_cannot_skip(step):
    lesson = get("torque_then_angle")
    run = at(lesson, step)
    assert restored(lesson, run.record()) == run
    forged = {**Run(lesson).record(), "step": "done", "checked": [0]}
    assert restored(lesson, forged).step == "guess"
    old = {k: v for k, v in at(lesson, "done").record().items() if k != "seed"} | {"checked": [0]}
    assert restored(lesson, old).step == "check", "of a version with other cases: they are asked again"
    for odd in ({"guess": "x"}, {"guess": 1.2, "why": 99, "step": "done"}, {"guess": [], "why": {}}, {}):
        assert restored(lesson, odd).step in ("guess", "why")


# ------------------------------------------------------------------------------ every lesson
@pytest.mark.parametrize("name", GUIDED)
def test_a_lesson_is_whole(name):
    lesson = GUIDED[name]
    assert len(lesson.checks) >= 3
    typed = [kind.ask(1) for kind in lesson.checks if isinstance(kind, Exercise)]
    assert any(not q.in_words for q in typed), "patience gets through choices"
    visits = Visits(lesson, {c.name: lesson.explore.at.get(c.name, c.starts)
                             for c in lessons.get(lesson.explore.lesson).controls})  # fmt: skip
    assert visits.left, "the picture must be used"
    lessons.get(lesson.explore.lesson).at(**dict(visits.left))
    assert not lesson.last or visits.locked == lesson.last
    assert to_try(lesson)
    for item in (lesson.reasons, lesson.explain, *every_item(lesson)):
        assert len(item.options) >= 3
        assert not item.right.belief and not item.right.reply
        assert all(o.reply for o in item.options if o is not item.right), item.text
    assert any(o.belief for o in lesson.reasons.options)
    for scene in (lesson.scene, lesson.explore):
        if isinstance(scene, Scene):
            lessons.get(scene.lesson).at(**scene.at)
        else:
            assert "not known yet" in scene().alt()
    if isinstance(lesson.guess, Exercise):
        low, high, step = lesson.guess.slider
        middle = lesson.ask().unit.to_si(low + step * round((high - low) / step / 2))
        assert not lesson.ask().matches(middle, lesson.ask().answer.value), "the keys would start at the answer"


@pytest.mark.parametrize("name", GUIDED)
def test_the_right_answer_has_no_tell(name):
    """It is not always at one place, and not always the longest."""
    lesson = GUIDED[name]
    items = (lesson.reasons, *every_item(lesson))
    assert all(0 <= right(i) < len(i.options) for i in items)


def test_over_all_lessons_the_place_of_the_right_answer_tells_nothing():
    items = [i for lesson in GUIDED.values() for i in (lesson.reasons, *every_item(lesson))]
    places = [right(i) for i in items]
    assert max(places.count(p) for p in set(places)) < 0.6 * len(places)


def secrets(lesson):
    """What may not be seen before the guess: the number, the reasons' replies, what it means."""
    q = lesson.ask()
    texts = [lesson.meaning, lesson.goal, *(o.reply for o in lesson.reasons.options if o.reply)]
    texts += [i.text for i in (lesson.explain, *every_item(lesson))]
    if q:
        texts += [q.exercise.lesson, *(m.hint for m, _ in q.wrong_answers())]
        if q.answer.shown not in q.text:
            texts.append(q.answer.shown)
    else:
        texts += [o.reply for o in lesson.guess.options if o.reply]
    return texts


@pytest.mark.parametrize("name", GUIDED)
def test_beside_explain_the_picture_shows_what_the_question_is_about(name):
    lesson = GUIDED[name]
    box = Guided(name)
    box.run = at(lesson, "see")
    box._show()
    for control, position in to_try(lesson):
        box.explore.dials[control].slider.value = position
    box.go.click()
    assert box.run.step == "explain"
    shown = {**box.left_at, **lesson.explain_at}
    assert box.left_at == shown
    picture = lessons.get(lesson.explore.lesson)
    assert picture.alt(picture.at(**shown)).replace("\u00a0", " ")[:200] in everything(box)


@pytest.mark.parametrize("name", GUIDED)
def test_the_words_of_the_trade_stand_beside_the_reasons(name):
    box = Guided(name)
    box.run = at(GUIDED[name], "why")
    box._show()
    assert GUIDED[name].terms.replace("\u00a0", " ") in everything(box)


def everything(widget):
    """All that a browser gets: every text of every widget below this one."""
    found, todo = [], [widget]
    while todo:
        w = todo.pop()
        found += [str(v) for k, v in w.get_state().items() if k not in ("css", "_esm")]
        todo += list(getattr(w, "children", ()))
    text = " ".join(found).replace("\u00a0", " ")
    return re.sub(
        r'\b(?:d|x|y|x1|x2|y1|y2|transform|points|style|viewBox)="[^"]*"', "", text
    )  # coordinates are no words


@pytest.mark.parametrize("name", GUIDED)
def test_before_the_guess_nothing_of_the_answer_is_in_the_page_or_in_the_saved_output(name):
    box = Guided(name)
    data = box._repr_mimebundle_()
    data = data[0] if isinstance(data, tuple) else data
    saved = (data["text/html"] + data["text/plain"]).replace("\u00a0", " ")
    for secret in secrets(box.lesson):
        assert secret not in saved, secret
        assert secret not in everything(box), secret
    assert box.lesson.question in saved


def press(box, n=None):
    if n is not None:
        box._choice.index = n
    assert not box.go.disabled
    box.go.click()


@pytest.mark.parametrize("name", ["same_click", "another_quarter_turn", "neighbours", "leaf_is_a_bracket"])
def test_the_widget_goes_through_every_step(name):
    box = Guided(name)
    lesson = box.lesson
    assert box.go.disabled, "nothing is placed yet"
    if isinstance(lesson.guess, Item):
        press(box, wrong(lesson.guess))
    else:
        box.slider.value = lesson.guess.slider[0]
        press(box)
    assert box.run.step == "why" and box.go.disabled
    offered = {o.words for o in lesson.reasons.options}
    for secret in secrets(lesson):
        assert secret in offered or secret not in everything(box), secret
    press(box, wrong(lesson.reasons))
    assert box.run.step == "see"
    assert re.sub(r"\s", "", box.run.reply()[:20]) in re.sub(r"\s", "", everything(box))
    look(box)
    assert box.run.step == "explain"
    press(box, wrong(lesson.explain))
    assert box.run.step == "see" and "No. " in everything(box)
    look(box)
    press(box, right(lesson.explain))
    say(box, good=False)
    assert box.run.step == "see"
    look(box)
    for _ in lesson.checks:
        assert box.run.step == "check"
        say(box)
    assert box.run.step == "done"
    assert lesson.meaning in everything(box) and "of which wrong: 1" in everything(box)
    press(box)
    assert box.run.step == "guess" and box.run.guess is None


def look(box):
    """Try everything that the picture is for; one movement is not enough."""
    assert box.go.disabled, "the picture was not used"
    for n, (name, at_) in enumerate(to_try(box.lesson)):
        assert box.go.disabled or n, "something is still to try"
        box.explore.dials[name].slider.value = at_
    press(box)


def say(box, good=True):
    case = box.run.present_check
    answer = answer_to(case, good)
    if isinstance(case, Item):
        press(box, answer)
    else:
        text = next(w for w in box.body.children[0].children if type(w).__name__ == "Text")
        text.value = "rubbish"
        press(box)
        assert box.run.present_check is not None and "rubbish" in box.said.value
        text.value = answer
        press(box)


def test_a_guess_where_the_hidden_pointer_is_counts():
    box = Guided("same_click")
    box.slider.placed = True  # a press there changes no value
    assert box.run.guess == box.slider.value
    assert not box.go.disabled


def test_answers_are_stored_and_come_back(tmp_path, monkeypatch):
    from shoplib.desk.widgets import lesson_store
    from shoplib.desk.widgets.session import session

    monkeypatch.setenv("SHOPLIB_STORE", str(tmp_path / "jobs.db"))
    session.close()
    try:
        box = Guided("same_click")
        box.slider.value = 20.0
        press(box)
        press(box, right(box.lesson.reasons))
        (stored,) = lesson_store.answers()
        assert stored["guess"] == 20.0 and stored["outcome"] == "slip"
        monkeypatch.setattr(type(session), "call_soon", staticmethod(lambda work, seconds=0.0: work()))
        other = Guided("same_click")
        other._repr_mimebundle_()
        assert other.run == box.run
        assert other.run.step == "see"
    finally:
        session.close()


def test_a_broken_record_does_not_stop_a_lesson(tmp_path, monkeypatch):
    from shoplib.desk.widgets.session import session

    monkeypatch.setenv("SHOPLIB_STORE", str(tmp_path / "nowhere" / "deeper" / "x" / "jobs.db"))
    (tmp_path / "nowhere").write_text("a file where a folder should be")
    session.close()
    try:
        box = Guided("same_click")
        box.slider.value = 20.0
        press(box)
        assert box.run.step == "why"
        assert session.trouble
    finally:
        session.close()


def test_an_item_names_only_known_beliefs_and_differs_in_its_options():
    with pytest.raises(ValueError, match="unknown beliefs"):
        Item("?", (Option("a"), Option("b", "no such belief", "no")))
    with pytest.raises(ValueError, match="alike"):
        Item("?", (Option("a"), Option("a", "", "no")))
    with pytest.raises(IndexError):
        Item("?", (Option("a"), Option("b", "", "no"))).option(2)


def test_wrong_names_are_said():
    with pytest.raises(KeyError, match="no guided lesson is called 'x'; there are"):
        Guided("x")


def test_each_belief_is_confronted_by_a_lesson():
    met = {o.belief for g in GUIDED.values() for i in (g.reasons, *every_item(g)) for o in i.options}
    met |= {o.belief for g in GUIDED.values() if isinstance(g.guess, Item) for o in g.guess.options}
    assert BELIEFS.keys() - met == set()


def test_the_route_has_eleven_places_and_every_lesson_stands_in_it():
    assert {g.objective for g in GUIDED.values()} == set(range(1, 12))


# ------------------------------------------------------------------------------ the new pictures
def test_neighbours_against_two_springs_by_hand():
    from shoplib.physics.elastic_interaction import coupling, tighten_in_turn

    k_b, k_p, load = 95.4e6, 286.2e6, 24.3e3
    places = [(0.0, 0.0), (0.07, 0.0)]
    parts = coupling(places, k_p, 0.07)
    after = tighten_in_turn(parts, k_b, [(0, load), (1, load)])
    c = 1 / k_p / 2.718281828459045
    # bolt 1: F (1/k_b + 1/k_p) = nut travel = F1 (1/k_b + 1/k_p) + c F (derived here)
    assert after[0].tolist() == [load, 0.0]
    assert after[1][0] == pytest.approx(load * (1 - c / (1 / k_b + 1 / k_p)))
    assert after[1][1] == pytest.approx(load)
    # far apart nothing happens; turned again, both come to the load
    far = tighten_in_turn(coupling([(0, 0), (9, 0)], k_p, 0.07), k_b, [(0, load), (1, load)])
    assert far[1] == pytest.approx([load, load])
    many = tighten_in_turn(parts, k_b, [(n % 2, load) for n in range(20)])
    assert many[-1] == pytest.approx([load, load], rel=1e-6)


def test_in_the_picture_every_bolt_loses_and_a_second_round_helps():
    lesson = lessons.get("neighbours")
    first, second = lesson.at(clicks=10), lesson.at(clicks=20)
    assert first.loads[first.order[0]] < 0.85 * 24.3e3
    assert min(second.loads) > min(first.loads)
    assert lesson.at(clicks=30) == lesson.at(clicks=20), "a finished course stays as it is"
    assert "not a prediction" in lesson.says(first)
    early = lesson.at(clicks=3)
    assert sorted(n for n, load in enumerate(early.loads) if load) == sorted(early.order[:3])


def test_the_numbers_beside_explain_are_those_of_the_picture():
    picture, asked = lessons.get("neighbours"), get("neighbours").explain
    once, rounds = picture.at(clicks=10), picture.at(clicks=30, rounds="40 %, 70 %, 100 %")
    for state in (once, rounds):
        assert f"{min(state.loads) / 1e3:.1f} kN" in asked.why
    along = picture.at(clicks=10, order="bolt by bolt along")
    said = next(o.reply for o in asked.options if o.words.startswith("Nothing"))
    assert all(f"{state.loads[7] / 1e3:.1f} kN" in said for state in (once, along))  # bottom middle


def test_the_leaf_decides_where_the_limit_is_outside_its_bracket():
    lesson = lessons.get("leaf")
    for place, gap in (("A", 0.096), ("B", 0.064)):
        for n in range(2, 15):
            said = lesson.says(lesson.at(leaf=n / 100, place=place))
            assert ("does not fit" in said) == (n / 100 > gap)
            assert ("fail." in said) == (0.08 < n / 100 <= gap)
            assert ("pass." in said) == (gap < n / 100 <= 0.08)
            assert str(gap) not in said


def test_a_face_that_is_flat_lengthwise_fails_across():
    lesson = lessons.get("own_lines")
    for along in (0, 12, 40, 75):
        state = lesson.at(along=along, face="A")
        assert max(state.gaps[:2]) == 0.0
        assert state.gaps[2] == pytest.approx(0.1e-3, rel=0.01)
        assert state.gaps[2] > 0.08e-3
    twist = lesson.at(face="B")
    assert max(twist.gaps[:4]) < 1e-9 and min(twist.gaps[4:]) > 0.02e-3
    dip = [max(lesson.at(face="C", along=a, across=12).gaps) for a in (12, 75)]
    assert dip[0] == 0.0 and dip[1] > 0.08e-3
    assert "whole face" not in lesson.says(state)
    assert "0.100 mm" in lesson.says(lesson.at(face="A", cover="off")).split("whole face")[1]


def test_settling_at_the_projects_own_numbers():
    from shoplib.topics.angle.settling_lesson import bolt_stiffness

    lesson = lessons.get("settling")
    assert bolt_stiffness(0.1) == pytest.approx(95.4e6, rel=2e-3)  # worked numbers of the model bolt
    assert lesson.at(by=0.02).loss == pytest.approx(1.4e3, abs=50)
    assert lesson.at(by=0.02, bolt="short, 40 mm").loss > 2.5 * lesson.at(by=0.02).loss


def test_the_tank_at_the_projects_own_numbers():
    said = lessons.get("tank").says(lessons.get("tank").at(drained=6.0))
    assert "33.3 %" in said and "More is not possible" in said  # 3 L of water and 6 L of 50 % premix
    said = lessons.get("tank").says(lessons.get("tank").at(drained=6.0, product="concentrate"))
    assert "4.5 L of concentrate and 1.5 L of water" in said and "50.0 %" in said  # 9 L, 6 L drained, 50 % wanted


def test_the_ratios_in_the_question_about_the_flat_face_are_those_of_the_picture():
    picture, asked = lessons.get("skim_chain"), get("skim_chain").explain
    for face in ("chamber in the head", "flat face"):
        state = picture.at(head_skim=0.2, face=face, gasket="0.2 mm thicker")
        assert f"{state['ratio_after']:.2f}" in asked.text


def test_in_no_case_springs_back_what_springs_back_in_the_picture():
    """Who subtracts the 0.50 mm of the picture gets no case right."""
    case = next(x for x in get("longer_for_good").checks if isinstance(x, Exercise))
    for seed in range(200):
        q = case.ask(seed)
        copied = q.result.inputs.longer - 0.5e-3
        assert copied <= 0 or q.check(q.shown(copied)).state == "wrong", q.text


def test_no_case_of_premix_gives_the_strength_that_is_in_every_head():
    case = next(x for x in get("premix_over_water").checks if isinstance(x, Exercise))
    assert all(case.ask(seed).check("50 %").state == "wrong" for seed in range(200))
