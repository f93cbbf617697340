"""The working ``thread``: what are the pitch, stress area and loads of this thread."""

from __future__ import annotations

from shoplib.core.units import N, inch, mm, mm2, one
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import threads
from shoplib.topics.cautions import PITCH
from shoplib.topics.threads.bolt_inputs import ClassInput, ThreadInput, read_thread


# ------------------------------------------------------------------------------ thread
def run(inputs: ThreadInputs, worksheet: Worksheet) -> None:
    """Geometry of the thread, and the loads of its class."""
    thread = read_thread(inputs, worksheet)
    worksheet.raise_refusals()
    strength = threads.property_class(inputs.property_class, thread) if inputs.given("property_class") else None
    if inputs.given("property_class") and strength is None:
        worksheet.refuse("property_class", f"{inputs.property_class} does not cover {thread.name}", "8.8")
    worksheet.raise_refusals()
    d_2 = worksheet.step("Pitch diameter", threads.pitch_diameter, d=thread.d, P=thread.P)
    d_3 = worksheet.step("Minor diameter", thread.minor, d=thread.d, P=thread.P)
    A_s = worksheet.step("Stress area", threads.stress_area, d_2=d_2, d_3=d_3)
    worksheet.result("nominal_diameter", thread.d, mm, "Nominal diameter")
    worksheet.result("pitch", thread.P, mm, "Pitch")
    if thread.inch:
        worksheet.result("threads_per_inch", round(threads.INCH / thread.P), one, "Threads per inch", 2)
        worksheet.result("nominal_diameter_inch", thread.d, inch, "Nominal diameter")
    worksheet.result("pitch_diameter", d_2, mm, "Pitch diameter d₂")
    worksheet.result(
        "minor_diameter", d_3, mm, "Root diameter for the stress area" if thread.inch else "Minor diameter d₃"
    )
    if thread.inch:
        minor = worksheet.step("Minor diameter of the bolt", threads.minor_diameter_unified, d=thread.d, P=thread.P)
        worksheet.assume(
            f"the stress area is based on the root diameter d − 1.299 P (Shigley); the minor diameter of the bolt is "
            f"{minor / threads.INCH:.4f} in (ASME B1.1, from memory, not checked)"
        )
    worksheet.result("stress_area", A_s, mm2, "Stress area")
    if strength is not None:
        loads = (
            ("proof_load", "Proof load (the bolt springs back)", strength.S_p),
            ("yield_load", "Yield load (the bolt stays longer)", strength.R_p),
            ("ultimate_load", "Ultimate load (the bolt breaks)", strength.R_m),
        )
        for name, label, R in loads:
            worksheet.result(
                name, None if R is None else worksheet.step(label, threads.load_at, R=R, A_s=A_s), N, label
            )
        worksheet.assume(f"minimum strengths of {strength.name}, {strength.standard}")


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
        "Bolts of the same diameter in one engine can have different pitches.",
    ),
)
