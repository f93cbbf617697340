"""The fields of the engine card, and the inputs of other workings to which each is offered.

A field that feeds an input is that input, under the name and label that it has on the card: kind, unit and range are
declared once, in the working.  Nothing is copied into another form by itself; see :mod:`shoplib.record.suggestions`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from shoplib.core.fields import Field, integer, words
from shoplib.topics import get

SOURCE_HELP = "document, edition, page"


@dataclass(frozen=True)
class CardField:
    """One field of the card; ``feeds`` names inputs as ``working.input``."""

    field: Field
    feeds: tuple[str, ...] = ()


def declared(place: str) -> Field:
    """The input ``working.input``.  Raises KeyError where there is none."""
    working, _, name = place.partition(".")
    found = get(working).field(name)
    if found is None:
        raise KeyError(f"{working} has no input {name!r}")
    return found


def _fed(name: str, group: str, *feeds: str, label: str = "", **more: Any) -> CardField:
    """A field of the card that is the first of these inputs."""
    first = declared(feeds[0])
    field = replace(
        first, name=name, label=label or first.label, group=group, required=False, default=None, needs=(),
        excludes=(), needed_when=(), only_when=(), **more,
    )  # fmt: skip
    return CardField(field, feeds)


def _limit(name: str, group: str, label: str, *feeds: str) -> Iterator[CardField]:
    """A limit and its source: two fields of the card."""
    yield _fed(name, group, *feeds, label=label)
    said = f"Source of the {label[0].lower() + label[1:]}"
    yield _fed(f"{name}_source", group, *(f"{f}_source" for f in feeds), label=said, help=SOURCE_HELP)


def _engine() -> Iterator[CardField]:
    group = "Engine"
    yield CardField(words("engine", "Engine", group=group, example='"three-cylinder diesel, 1.4 L"',
                          help="its kind; the engine number belongs to the job"))  # fmt: skip
    yield CardField(words("document", "Instructions", required=False, group=group,
                          example='"workshop manual, 3rd edition"', help="document and edition"))  # fmt: skip
    yield CardField(integer("cylinders", "Number of cylinders", required=False, group=group, at_least=1, at_most=16,
                            example="3"))  # fmt: skip
    yield _fed("layout", group, "compression_test.layout")
    for name in ("bore", "stroke"):
        yield _fed(name, group, f"compression_ratio.{name}", f"skim_chain.{name}",
                   *(("dead_centre.stroke", "piston_position.stroke", "valve_sweep.stroke")
                     if name == "stroke" else ()))  # fmt: skip
    yield _fed("ratio", group, "compression_ratio.ratio", "skim_chain.ratio", label="Compression ratio, new", help="")
    yield _fed("rod_length", group, "dead_centre.rod_length", "piston_position.rod_length",
               "valve_sweep.rod_length")  # fmt: skip


def _bolts() -> Iterator[CardField]:
    group = "Head bolts"
    yield _fed("positions", group, "tightening_plan.positions", "tightening_order.positions",
               "loosening_plan.positions", "strip_log.positions", "fastener_log.bolts")  # fmt: skip
    yield _fed("groups", group, "tightening_plan.groups")
    yield _fed("order", group, "tightening_plan.order", "tightening_order.order", "loosening_plan.order",
               "strip_log.order")  # fmt: skip
    yield _fed("order_source", group, "tightening_plan.order_source", "tightening_order.order_source",
               "loosening_plan.order_source", "strip_log.order_source")  # fmt: skip
    yield _fed("loosening", group, "loosening_plan.loosening", "strip_log.loosening", "tightening_order.loosening")
    yield _fed("loosening_passes", group, "loosening_plan.pass_count", help="")
    yield _fed("loosening_turn", group, "loosening_plan.part_turn", label="Turn back at each pass of loosening")
    yield _fed("thread", group, "preload_from_torque.thread", "torque_from_preload.thread", "assembly_preload.thread",
               "staged_tightening.thread", "preload_scatter.thread", "thread_stripping.thread", "thread.thread",
               "angle_travel.thread", "joint_stiffness.thread", "fastener_log.thread",
               label="Thread of the head bolts")  # fmt: skip
    yield _fed("bolt_length", group, "bolt_reach.bolt_length", "fastener_log.length")
    yield _fed("bolt_thread_length", group, "bolt_reach.thread_length")
    yield _fed("property_class", group, "preload_from_torque.property_class", "torque_from_preload.property_class",
               "assembly_preload.property_class", "staged_tightening.property_class",
               "preload_scatter.property_class")  # fmt: skip
    yield _fed("lubricant", group, "tightening_plan.lubricant", "fastener_log.lubricant")
    yield _fed("lubricant_where", group, "tightening_plan.lubricant_where", "fastener_log.lubricated")
    yield _fed("reuse_method", group, "bolt_reuse.method", label="Re-use: method of the source")
    yield from _limit("reuse_limit", group, "Limit for re-use", "bolt_reuse.limit")
    yield _fed("stages", group, "tightening_plan.stages", "staged_tightening.stages", "preload_scatter.stages",
               label="Stages of tightening")  # fmt: skip
    yield _fed("stages_source", group, "tightening_plan.stages_source", "staged_tightening.stages_source",
               "preload_scatter.stages_source", "stage_reading.stages_source")  # fmt: skip


def _faces() -> Iterator[CardField]:
    group = "Head and deck"
    yield from _limit("flatness_limit", group, "Flatness limit of the head", "flatness_lines.limit",
                      "flatness_grid.limit", "flatness_steps.limit")  # fmt: skip
    yield _fed("required_lines", group, "flatness_lines.expected_lines")
    yield _fed("new_height", group, "skim_allowance.new_height", label="Height of the head when new")
    yield from _limit("minimum_height", group, "Smallest height of the head", "skim_allowance.minimum_height",
                      "skim_chain.minimum_height")  # fmt: skip
    yield from _limit("combined_limit", group, "Largest total removed from head and block",
                      "skim_allowance.combined_limit")  # fmt: skip
    yield _fed("gasket_grades", group, "gasket_grade.grades")
    yield _fed("gasket_rule", group, "gasket_grade.rule", label="Rule for the gasket grade")
    yield _fed("gasket_grades_source", group, "gasket_grade.grades_source")
    yield _fed("head_face", group, "compression_ratio.head_face", "skim_chain.head_face")
    yield _fed("gasket_bore", group, "compression_ratio.gasket_bore", "skim_chain.gasket_bore")
    yield _fed("chamber_opening_area", group, "compression_ratio.chamber_opening_area",
               "skim_chain.chamber_opening_area")  # fmt: skip
    yield from _limit("minimum_clearance", group, "Smallest valve-to-piston clearance",
                      "valve_to_piston_clearance.minimum_clearance", "skim_chain.minimum_clearance",
                      "valve_sweep.minimum_clearance")  # fmt: skip


def _tests() -> Iterator[CardField]:
    group = "Compression and leakage"
    yield _fed("compression_rule", group, "compression_test.rule")
    yield from _limit("compression_limit", group, "Limit of the compression rule", "compression_test.limit")
    yield from _limit("compression_minimum", group, "Lowest compression allowed", "compression_test.minimum")
    yield from _limit("leakage_limit", group, "Largest leakage allowed", "leak_down.limit")


def _fluids() -> Iterator[CardField]:
    group = "Coolant"
    yield _fed("coolant_capacity", group, "coolant_fill.capacity", "coolant_correct.capacity", "fluid_ledger.capacity",
               label="Capacity of the cooling system")  # fmt: skip
    yield _fed("coolant_strength", group, "coolant_fill.target", "coolant_correct.target",
               label="Required strength of the coolant")  # fmt: skip
    yield _fed("glycol", group, "coolant_fill.glycol", "coolant_correct.glycol", "coolant_protection.glycol",
               "coolant_strength.glycol", "coolant_reading.glycol")  # fmt: skip
    yield _fed("cap_rating", group, "pressure_hold.cap_rating", "coolant_protection.gauge_pressure",
               label="Rating of the pressure cap")  # fmt: skip
    yield from _limit("pressure_drop", group, "Largest pressure drop allowed", "pressure_hold.limit")
    yield from _limit("hold_minutes", group, "Holding time required", "pressure_hold.hold_minutes")
    group = "Oil"
    yield _fed("oil_capacity", group, "oil_service.capacity", label="Oil, with a new filter")
    yield _fed("oil_grade", group, "oil_service.grade")
    yield _fed("oil_grade_source", group, "oil_service.grade_source")


def _timing() -> Iterator[CardField]:
    group = "Timing"
    yield _fed("lock_position", group, "strip_log.lock_position")
    yield _fed("lock_tools", group, "strip_log.lock_tools")
    yield _fed("lock_position_source", group, "strip_log.lock_position_source")
    yield _fed("marks_source", group, "two_turn_check.marks_source")
    for name in ("drive", "sprocket_diameter", "pitch", "teeth", "run_angle", "sprockets"):
        yield _fed(f"cam_{name}", group, f"cam_retard.{name}", f"skim_chain.{name}")


CARD = (*_engine(), *_bolts(), *_faces(), *_tests(), *_fluids(), *_timing())
