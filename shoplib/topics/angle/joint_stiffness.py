"""The working ``joint_stiffness``: how stiff are bolt and joint, and how much preload does one degree give."""

from __future__ import annotations

from dataclasses import replace

from shoplib.core.carried import Show
from shoplib.core.conditions import one_of
from shoplib.core.fields import choice, quantity, table
from shoplib.core.inputs import Inputs
from shoplib.core.units import GPa, kN, kN_per_mm, mm, one
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Worksheet
from shoplib.physics import joint, threads
from shoplib.topics.threads.bolt_inputs import TEACHING, THREAD, ThreadInput, read_thread

MODULUS = quantity(
    "bolt_modulus",
    GPa,
    "Elastic modulus of the bolt",
    symbol="E_S",
    default="205 GPa",
    above=0.0,
    plausible=(50e9, 300e9),
    help="the value for steel",
    example='"205 GPa"',
    group="Stiffness",
)


PARTS = quantity(
    "parts_stiffness",
    kN_per_mm,
    "Stiffness of the clamped parts",
    symbol="k_p",
    above=0.0,
    help="head and gasket without the bolt; “Stiffness of bolt and clamped parts” calculates it from layers",
    example='"286 kN/mm"',
    group="Stiffness",
)


ENDS = (
    choice(
        "ends",
        "Ends of the bolt",
        {"vdi": "counted (VDI 2230)", "none": "not counted"},
        default="vdi",
        help="the bolt head and the engaged thread stretch a little too",
        group="Stiffness",
    ),
    choice(
        "head_shape",
        "Bolt head",
        tuple(joint.HEAD),
        default="hexagon",
        help=("how much it deforms depends on its shape"),
        group="Stiffness",
    ),
    choice(
        "engaged",
        "Threaded part",
        {"tapped": "tapped hole", "nut": "nut"},
        default="tapped",
        help="what the bolt is screwed into; the squeezed material widens like a cone, from the head and from a nut",
        group="Stiffness",
    ),
    quantity(
        "block_modulus",
        GPa,
        "Elastic modulus of block or nut",
        symbol="E_M",
        required=False,
        above=0.0,
        help="if left empty, as for the bolt",
        example='"110 GPa"',
        group="Stiffness",
    ),
)


CONES = {"tapped": 1, "nut": 2}


MODELS = {
    "tapped": "one cone, half-apex angle 30°, from the head to the tapped part",
    "nut": "two cones, half-apex angle 30°, from head and nut, meeting halfway",
}


class EndsInputs(Inputs):
    """How the ends of the bolt deform."""

    bolt_modulus = MODULUS
    ends, head_shape, engaged, block_modulus = ENDS


def assume_of_ends(inputs: EndsInputs, worksheet: Worksheet) -> None:
    """What is taken as true of what the bolt is screwed into."""
    if inputs.ends != "none" and inputs.block_modulus is None:
        worksheet.assume("block or nut with the same elastic modulus as the bolt")


def resilience_of_ends(inputs: EndsInputs, thread: threads.Thread, show: Show) -> float:
    """Resilience of head, engaged thread and threaded part, m/N; 0 when they are not counted."""
    if inputs.ends == "none":
        return 0.0
    return float(
        show("Head, engaged thread and threaded part", joint.end_resilience)(
            c_K=joint.HEAD[inputs.head_shape],
            c_G=joint.ENGAGED,
            c_M=joint.THREADED_PART[inputs.engaged],
            d=thread.d,
            d_3=thread.d_3,
            E=inputs.bolt_modulus,
            E_M=inputs.block_modulus or inputs.bolt_modulus,
        )
    )


# ------------------------------------------------------------------------------ joint stiffness
def run(inputs: JointStiffnessInputs, worksheet: Worksheet) -> None:
    """Bolt from its pieces, parts from their layers (or typed), both in series."""
    thread = read_thread(inputs, worksheet) if inputs.given("thread") else None
    layers = _layers(inputs, worksheet, thread)
    worksheet.raise_refusals()
    E = inputs.bolt_modulus
    pieces = [
        worksheet.step(
            f"Piece {n} of the bolt",
            joint.segment_resilience,
            l=s["length"],
            E=E,
            A=float(threads.circle_area(s["diameter"])),
        )
        for n, s in enumerate(inputs.bolt, 1)
    ]
    ends = 0.0
    if thread is not None:
        assume_of_ends(inputs, worksheet)
        ends = resilience_of_ends(inputs, thread, worksheet.show)
    delta_S = worksheet.step(
        "Resilience of the bolt: pieces and ends",
        joint.bolt_resilience,
        delta_T=sum(pieces),
        delta_G=0.0,
        delta_E=ends,
    )
    k_b = worksheet.result(
        "bolt_stiffness",
        worksheet.step("Stiffness of the bolt", joint.stiffness, delta_S=delta_S),
        kN_per_mm,
        "Stiffness of the bolt",
    )
    slices: list[joint.Frustum] = []
    if layers is None:
        k_p = inputs.parts_stiffness
    else:
        slices = joint.frusta(
            layers, *_faces(inputs, layers, thread), cones=CONES[inputs.engaged], column=inputs.column_diameter
        )
        _show_cones(inputs, worksheet, slices)
        k_p = joint.in_series([s.stiffness for s in slices])
    worksheet.result("parts_stiffness", k_p, kN_per_mm, "Stiffness of the clamped parts")
    k_J = worksheet.result("series_stiffness", worksheet.step("Both in series", joint.series_stiffness,
                                                              k_b=k_b, k_p=k_p), kN_per_mm,
                           "Bolt and parts in series")  # fmt: skip
    Phi = worksheet.step("Part of an external load in the bolt", joint.load_factor, k_b=k_b, k_p=k_p)
    worksheet.result("load_factor", Phi, one, "Load factor: share of an external load that the bolt takes")
    per_degree = None
    if thread is not None:
        per_degree = worksheet.step("Preload per degree", joint.preload_per_degree, k_J=k_J, P=thread.P)
    worksheet.result("preload_per_degree", per_degree, kN, "Preload per degree, elastic")
    worksheet.plot_data.update(slices=slices, bolt=[(s["length"], s["diameter"]) for s in inputs.bolt])


def _show_cones(inputs: JointStiffnessInputs, worksheet: Worksheet, slices: list[joint.Frustum]) -> None:
    """Each slice as a step; the model, and how much material it assumes."""
    for n, s in enumerate(slices, 1):
        where = f"{n}, in layer {s.layer + 1}"
        if s.sleeve:
            worksheet.step(f"Sleeve {where}", joint.sleeve_stiffness, E=s.E, t=s.t, D_A=s.D, d_h=s.d_h)
        elif s.k is None:
            worksheet.step(f"Cone {where}", joint.frustum_stiffness, E=s.E, t=s.t, D=s.D, d_h=s.d_h)
    worksheet.result("cone_model", MODELS[inputs.engaged], None, "Model of the clamped parts")
    if not inputs.typed("engaged"):
        worksheet.assume("the bolt is in a tapped hole; if it has a nut, choose “nut” for “Threaded part”")
    solid = [s.widest for s in slices if s.k is None]
    if solid:
        worksheet.result("cone_diameter", max(solid), mm, "Widest part of the cone")
        if not inputs.given("column_diameter"):
            worksheet.assume(
                f"no edge was considered: material all around the bolt, {max(solid) * 1e3:.3g} mm wide; if there is "
                f"less, type {worksheet.label('column_diameter')}"
            )


def _layers(
    inputs: JointStiffnessInputs, worksheet: Worksheet, thread: threads.Thread | None
) -> list[joint.Layer] | None:
    if not inputs.given("layers"):
        return None
    for n, row in enumerate(inputs.layers, 1):
        if row["stiffness"] is None and row["modulus"] is None:
            worksheet.refuse(f"layers[{n}].stiffness", "is missing: type it, or “Modulus” and “Hole”", '"900 kN/mm"')
    layers = [
        joint.Layer(r["thickness"], r["modulus"], r["hole_diameter"], r["bearing_diameter"], r["stiffness"])
        for r in inputs.layers
    ]
    faces = _faces(inputs, layers, thread)
    for n, face in ((1, faces[0]), (len(layers), faces[1])):
        if not face:
            worksheet.refuse(
                f"layers[{n}].bearing_diameter", "is needed: the table has no head size for this thread", '"14.6 mm"'
            )
    if all(faces):
        if layers[0].D is None or layers[-1].D is None:
            worksheet.assume(f"head or nut presses on a ring with an outer diameter of {faces[0] * 1e3:g} mm")
        for n, layer in enumerate(layers, 1):
            D = layer.D if layer.D is not None else min(faces)
            if layer.d_h is not None and inputs.given("column_diameter") and layer.d_h >= inputs.column_diameter:
                worksheet.refuse("column_diameter", f"must be larger than the hole, {layer.d_h * 1e3:g} mm")
            if layer.d_h is not None and layer.d_h >= D:
                worksheet.refuse(f"layers[{n}].hole_diameter", f"is not smaller than the pressed face, {D * 1e3:g} mm",
                                 '"11 mm"')  # fmt: skip
    return layers


def _faces(
    inputs: JointStiffnessInputs, layers: list[joint.Layer], thread: threads.Thread | None
) -> tuple[float, float]:
    """Diameters of the pressing faces, first and last; 0 where nothing is known."""
    found = threads.hexagon_bearing(thread.d) if thread is not None and not thread.inch else None
    first = layers[0].D or (found[0] if found else 0.0)
    return first, layers[-1].D or first


class JointStiffnessInputs(ThreadInput, EndsInputs):
    """Inputs of ``joint_stiffness``."""

    combinations = (one_of("layers", "parts_stiffness"),)
    bolt = table(
        "bolt",
        (
            quantity("length", mm, "Length", symbol="l_i", above=0.0, example='"100 mm"'),
            quantity("diameter", mm, "Diameter", symbol="d_i", above=0.0, example='"8.4 mm"'),
        ),
        "Bolt, piece by piece",
        help="free length only, from the head to the first engaged thread; as the diameter of a threaded piece, "
        "type nominal diameter − 0.938 × pitch",
        example='[{"length": "100 mm", "diameter": "8.4 mm"}]',
        group="Bolt",
    )
    thread = replace(
        THREAD, required=False, needed_when=("ends", "vdi"), help="gives the pitch and the ends of the bolt"
    )
    bolt_modulus = MODULUS
    ends, head_shape, engaged, block_modulus = ENDS
    layers = table(
        "layers",
        (
            quantity("thickness", mm, "Thickness", symbol="t", above=0.0, example='"110 mm"'),
            quantity(
                "modulus",
                GPa,
                "Modulus",
                symbol="E",
                required=False,
                above=0.0,
                needs=("hole_diameter",),
                example='"70 GPa"',
            ),
            quantity(
                "hole_diameter",
                mm,
                "Hole",
                symbol="d_h",
                required=False,
                above=0.0,
                needs=("modulus",),
                example='"11 mm"',
            ),
            quantity(
                "bearing_diameter",
                mm,
                "Bearing diameter",
                symbol="D",
                required=False,
                above=0.0,
                help="where the pressure cone starts; if left empty, the cone of the layer before continues",
                example='"14.6 mm"',
            ),
            quantity(
                "stiffness",
                kN_per_mm,
                "Stiffness instead",
                required=False,
                above=0.0,
                excludes=("modulus", "hole_diameter"),
                example='"900 kN/mm"',
            ),
        ),
        "Clamped layers, from head to thread",
        required=False,
        help="the gasket is a layer too; modulus of steel 205, cast iron about 110, aluminium about 70 GPa; or type "
        "the stiffness of the clamped parts",
        example='[{"thickness": "110 mm", "modulus": "70 GPa", "hole_diameter": "11 mm"}]',
        group="Clamped parts",
    )
    column_diameter = quantity(
        "column_diameter",
        mm,
        "Diameter of the material around the bolt",
        symbol="D_A",
        required=False,
        above=0.0,
        excludes=("parts_stiffness",),
        plausible=(2e-3, 2.0),
        help="of the boss or column, if it is slim; if left empty, plenty of material all round is assumed",
        example='"30 mm"',
        group="Clamped parts",
    )
    parts_stiffness = replace(PARTS, required=False, help="instead of layers", group="Clamped parts")


JOINT_STIFFNESS = Working(
    name="joint_stiffness",
    title="Stiffness of bolt and clamped parts",
    question="how stiff are bolt and joint, and how much preload does one degree give",
    phase="tighten",
    inputs=JointStiffnessInputs,
    run=run,
    cautions=(
        GOVERNS,
        TEACHING,
        "Use a gasket's stiffness only near the clamp load at which it was measured: a gasket is not a linear spring.",
    ),
)
