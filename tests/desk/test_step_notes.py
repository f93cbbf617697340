"""The note of a step stands below its heading, in the form and as text."""

from shoplib.desk.widgets.form import steps_html
from shoplib.topics import get


def test_the_note_of_a_step_stands_below_its_heading():
    result = get("pressure_hold")(
        start="100 kPa", end="99.5 kPa", minutes="15 min", start_temperature="18.0 °C", end_temperature="18.2 °C"
    )
    (step,) = (s for s in result.steps if s.note)
    assert step.note.startswith("ΔT: the highest change")
    assert f"[{step.fn.source}]\n    {step.note}\n" in result.as_text()
    assert steps_html(result).count(step.note) == 1
