"""What a learner must do with the picture of a guided lesson before going on, as positions of its controls."""

import itertools

from shoplib.topics import lessons


def to_try(lesson):
    """Name and position, in an order in which everything is found and tried; a locked control comes last."""
    picture = lessons.get(lesson.explore.lesson)
    steps = found(picture, lesson, last=False)
    steps += [(name, at) for name, all_ in lesson.visit.items() if name != lesson.last for at in all_]
    return steps + [(lesson.last, at) for at in lesson.visit.get(lesson.last, ())] + found(picture, lesson, last=True)


def found(picture, lesson, *, last):
    """The positions at which everything is found that waits for the locked control, or does not."""
    return [step for f in lesson.find if f.last == last for step in leading_to(picture, f, lesson).items()]


def leading_to(picture, find, lesson):
    """The first positions that find it: any choices, and one slider moved."""
    controls = [c for c in picture.controls if c.name not in lesson.explore.without]
    choices = [c for c in controls if c.choices and (c.name != lesson.last or find.last)]
    sliders = [c for c in controls if not c.choices]
    for words in itertools.product(*([word for word, _ in c.choices] for c in choices)):
        chosen = dict(zip((c.name for c in choices), words, strict=True))
        for slider in sliders:
            for n in range(round((slider.high - slider.low) / slider.step) + 1):
                positions = {**lesson.explore.at, **chosen, slider.name: round(slider.low + n * slider.step, 6)}
                if find.found(picture.at(**positions)):
                    return {**chosen, slider.name: positions[slider.name]}
    raise AssertionError(f"nobody can find {find.words}")
