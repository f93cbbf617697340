"""The content, one package per topic.  The registry of workings: one line for each."""

from __future__ import annotations

import functools
import importlib
from collections.abc import Mapping

from shoplib.core.working import Working

MODULES = (  # in the order of the job; the name of a module is the name of its working
    "engine.engine_card",
    "diagnosis.compression_test",
    "diagnosis.leak_down",
    "diagnosis.leak_orifice",
    "diagnosis.pressure_hold",
    "diagnosis.gas_in_coolant",
    "strip_down.strip_log",
    "fasteners.fastener_log",
    "fasteners.bolt_reuse",
    "fasteners.bolt_reach",
    "fasteners.tightening_order",
    "flatness.flatness_lines",
    "flatness.flatness_grid",
    "flatness.flatness_steps",
    "flatness.measurement",
    "flatness.liner_protrusion",
    "skim.skim_allowance",
    "skim.compression_ratio",
    "skim.skim_chain",
    "skim.gasket_grade",
    "skim.cam_retard",
    "skim.valve_to_piston_clearance",
    "skim.valve_sweep",
    "skim.valve_lash",
    "skim.surface_roughness",
    "skim.work_order",
    "threads.thread_stripping",
    "threads.thread",
    "torque.unit_pair",
    "torque.torque_units",
    "torque.wrench_setting",
    "torque.conversion_card",
    "preload.preload_from_torque",
    "preload.torque_from_preload",
    "preload.assembly_preload",
    "preload.friction_evaluation",
    "preload.preload_from_elongation",
    "preload.preload_budget",
    "angle.angle_travel",
    "angle.joint_stiffness",
    "angle.frustum_stiffness",
    "angle.hot_preload",
    "angle.heat_transient",
    "angle.embedment_loss",
    "angle.gas_load_reserve",
    "angle.staged_tightening",
    "angle.preload_scatter",
    "angle.scatter_of_readings",
    "assembly.parts_list",
    "assembly.reassembly_checks",
    "tightening.stage_reading",
    "tightening.loosening_plan",
    "tightening.tightening_plan",
    "tightening.peak_torque",
    "tightening.residual_torque",
    "tightening.torque_angle_trace",
    "tightening.trace_against_model",
    "tightening.bolts_compared",
    "timing.timing_gap",
    "timing.timing_mark",
    "timing.dead_centre",
    "timing.piston_position",
    "timing.two_turn_check",
    "timing.degree_disc",
    "coolant.coolant_fill",
    "coolant.coolant_correct",
    "coolant.coolant_protection",
    "coolant.coolant_strength",
    "coolant.coolant_reading",
    "coolant.coolant_table",
    "coolant.fluid_ledger",
    "assembly.oil_service",
    "assembly.run_up",
    "assembly.cold_recheck",
)


FORMER_NAMES = {  # of workings, in earlier versions; what was written under them stays readable
    "valve_clearance": "valve_to_piston_clearance",  # to a mechanic valve clearance means lash
}
MODULE_OF = {module.rpartition(".")[2]: module for module in MODULES}  # by the name of the working


def present_name(name: str) -> str:
    """The name that a working has now; any other name as it is."""
    return FORMER_NAMES.get(name, name)


@functools.cache
def get(name: str) -> Working:
    """The working of that name, present or former; KeyError names what there is."""
    name = present_name(name)
    if name not in MODULE_OF:
        raise KeyError(f"no working is called {name[:60]!r}; there are {', '.join(MODULE_OF)}")
    declared = vars(importlib.import_module(f"{__name__}.{MODULE_OF[name]}")).values()
    return next(x for x in declared if isinstance(x, Working) and x.name == name)


def find(name: object) -> Working | None:
    """The working of that name, present or former; None where there is none.  No other working is loaded."""
    return get(name) if isinstance(name, str) and present_name(name) in MODULE_OF else None


def renames(name: str, typed: Mapping[str, object]) -> list[str]:
    """What is typed under a former name: one sentence for the working and for each input; [] where nothing is."""
    working = find(name)
    if working is None:
        return []
    now = {name: working.name, **{old: found.name for old, found in working.renamed.items() if old in typed}}
    return [f"{old} is now called {new}" for old, new in now.items() if old != new]


@functools.cache
def all_workings() -> dict[str, Working]:
    """Name to working, in the order of the job."""
    return {name: get(name) for name in MODULE_OF}
