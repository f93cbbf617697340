"""The working ``thread``: what are the pitch, stress area and loads of this thread."""

from __future__ import annotations

from shoplib.core.units import N, inch, mm, mm2, one
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import threads as t
from shoplib.topics.cautions import PITCH
from shoplib.topics.threads.bolt_inputs import ClassInput, ThreadInput, read_thread


# ------------------------------------------------------------------------------ thread
def run(i: ThreadInputs, w: Worksheet) -> None:
    """Geometry of the thread, and the loads of its class."""
    thread = read_thread(i, w)
    w.door()
    assert thread is not None
    strength = t.property_class(i.property_class, thread) if i.given("property_class") else None
    if i.given("property_class") and strength is None:
        w.refuse("property_class", f"{i.property_class} does not cover {thread.name}", "8.8")
    w.door()
    d_2 = w.step("Pitch diameter", t.pitch_diameter, d=thread.d, P=thread.P)
    d_3 = w.step("Minor diameter", thread.minor, d=thread.d, P=thread.P)
    A_s = w.step("Stress area", t.stress_area, d_2=d_2, d_3=d_3)
    w.result("nominal_diameter", thread.d, mm, "Nominal diameter")
    w.result("pitch", thread.P, mm, "Pitch")
    if thread.inch:
        w.result("threads_per_inch", round(t.INCH / thread.P), one, "Threads per inch", 2)
        w.result("nominal_diameter_inch", thread.d, inch, "Nominal diameter")
    w.result("pitch_diameter", d_2, mm, "Pitch diameter d₂")
    w.result("minor_diameter", d_3, mm, "Root diameter for the stress area" if thread.inch else "Minor diameter d₃")
    if thread.inch:
        minor = w.step("Minor diameter of the bolt", t.minor_diameter_unified, d=thread.d, P=thread.P)
        w.assume(
            f"the stress area is based on the root diameter d − 1.299 P (Shigley); the minor diameter of the bolt is "
            f"{minor / t.INCH:.4f} in (ASME B1.1, from memory)"
        )
    w.result("stress_area", A_s, mm2, "Stress area")
    if strength is not None:
        loads = (
            ("proof_load", "Proof load", strength.S_p),
            ("yield_load", "Yield load", strength.R_p),
            ("ultimate_load", "Ultimate load", strength.R_m),
        )
        for name, label, R in loads:
            w.result(name, None if R is None else w.step(label, t.load_at, R=R, A_s=A_s), N, label)
        w.assume(f"minimum strengths of {strength.name}, {strength.standard}")


class ThreadInputs(ThreadInput, ClassInput):
    """Inputs of ``thread``."""


THREAD_WORKING = Working(
    name="thread",
    title="Thread: geometry and loads",
    question="what are the pitch, the stress area and the loads of this thread",
    phase="fasteners",
    inputs=ThreadInputs,
    run=run,
    cautions=(
        GOVERNS,
        PITCH,
        "Compare the pitches: one engine can have two pitches of one diameter.",
    ),
)
