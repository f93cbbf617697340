"""The content, one package per topic.  The registry of workings: one line for each."""

from __future__ import annotations

import functools
import importlib

from shoplib.core.working import Working

MODULES = (  # in the order of the job; the name of a module is the name of its working
    "diagnosis.compression_test",
    "diagnosis.leak_down",
    "diagnosis.pressure_hold",
    "strip_down.strip_log",
    "fasteners.fastener_log",
    "fasteners.bolt_reuse",
    "fasteners.bolt_reach",
    "fasteners.tightening_order",
    "flatness.flatness_lines",
    "flatness.flatness_grid",
    "flatness.flatness_steps",
    "flatness.measurement",
    "skim.skim_allowance",
    "skim.compression_ratio",
    "skim.skim_chain",
    "skim.gasket_grade",
    "skim.cam_retard",
    "skim.valve_clearance",
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
    "angle.angle_travel",
    "angle.joint_stiffness",
    "angle.frustum_stiffness",
    "angle.hot_preload",
    "angle.embedment_loss",
    "angle.gas_load_reserve",
    "angle.staged_tightening",
    "angle.preload_scatter",
    "angle.scatter_of_readings",
    "tightening.stage_reading",
    "tightening.tightening_plan",
    "tightening.peak_torque",
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
    "coolant.fluid_ledger",
)


@functools.cache
def get(name: str) -> Working:
    """The working of that name; KeyError names what there is."""
    for module in MODULES:
        if module.rpartition(".")[2] == name:
            declared = vars(importlib.import_module(f"{__name__}.{module}")).values()
            return next(x for x in declared if isinstance(x, Working) and x.name == name)
    known = ", ".join(m.rpartition(".")[2] for m in MODULES)
    raise KeyError(f"no working is called {name[:60]!r}; there are {known}")


@functools.cache
def all_workings() -> dict[str, Working]:
    """Name to working, in the order of the job."""
    return {name: get(name) for name in (m.rpartition(".")[2] for m in MODULES)}
