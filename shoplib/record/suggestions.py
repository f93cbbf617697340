"""What the engine card and the earlier entries of a job offer to an empty form.

    for name, offered in suggest(job, get("coolant_fill")).items():
        offered.value       # as it was typed there
        offered.told        # "engine card, line 2"

A suggestion fills nothing by itself.  A person accepts it, and that act records its origin.  Which value is offered to
which input is declared: on the card in :mod:`shoplib.topics.engine.card_fields`, for other entries in ``EARLIER``.
"""

from __future__ import annotations

import functools
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from shoplib.core.fields import Field
from shoplib.core.working import Working
from shoplib.record.job import Entry, Job
from shoplib.record.origins import value_at
from shoplib.topics.engine.card_fields import CARD

CARD_FORM = "engine_card"
_ORDERS = ("order", "order_source", "loosening")
_JUDGED = ("decision_rule", "at_limit", "resolution", "expanded_uncertainty", "coverage_factor")


@dataclass(frozen=True)
class From:
    """A value of an earlier entry: of which working, and what ``take`` names in it; ``condition``: only as found."""

    form: str
    take: str
    condition: str = ""
    completes: str = ""  # the reason to propose, where the form then corrects that entry


def _same(form: str, *names: str) -> dict[str, tuple[From, ...]]:
    """Inputs that are offered again from the last entry of the same working."""
    return {f"{form}.{n}": (From(form, f"inputs/{n}"),) for n in names}


# input → where it is offered from, the best first; the engine card comes before all of them
EARLIER: Mapping[str, tuple[From, ...]] = {
    **_same("compression_test", "layout", "rule", "limit", "limit_source", "minimum", "minimum_source", "conditions",
            *_JUDGED),
    "compression_test.before": (From("compression_test", "inputs/readings", "as_found"),
                                From("compression_test", "inputs/readings")),
    **_same("leak_down", "limit", "limit_source", *_JUDGED),
    **_same("pressure_hold", "cap_rating", "limit", "limit_source", "hold_minutes", "hold_minutes_source", *_JUDGED),
    **_same("measurement", "what", "where", "low", "low_source", "high", "high_source", "instrument"),
    **_same("flatness_lines", "expected_lines", "limit", "limit_source", "leaves", "leaf_tolerance", "edge_grade",
            "edge_length", "edge_error", "outline", "holes", "decision_rule", "at_limit"),
    **_same("work_order", "part", "shop", "wanted_by", "height_points"),
    "work_order.items": (From("work_order", "inputs/items", completes="results from the machine shop"),),
    "tightening_order.positions": (From("strip_log", "inputs/positions"),),
    **{f"loosening_plan.{n}": (From("strip_log", f"inputs/{n}"), From("tightening_order", f"inputs/{n}"))
       for n in ("positions", *_ORDERS)},
    "loosening_plan.pass_count": (From("strip_log", "inputs/pass_count"),),
    "tightening_plan.positions": (From("loosening_plan", "inputs/positions"), From("strip_log", "inputs/positions"),
                                  From("tightening_order", "inputs/positions")),
    "fastener_log.bolts": (From("strip_log", "inputs/positions"), From("tightening_order", "inputs/positions")),
    **{f"tightening_plan.{n}": (From("tightening_order", f"inputs/{n}"), From("strip_log", f"inputs/{n}"))
       for n in _ORDERS if n != "loosening"},
    **{f"tightening_order.{n}": (From("strip_log", f"inputs/{n}"),) for n in _ORDERS},
    "tightening_plan.lubricant": (From("fastener_log", "inputs/lubricant"),),
    "tightening_plan.lubricant_where": (From("fastener_log", "inputs/lubricated"),),
    "bolt_reach.bolt_length": (From("fastener_log", "inputs/length"),),
    "bolt_reuse.bolts": (From("fastener_log", "inputs/names"),),
    "skim_chain.measured_height": (From("skim_allowance", "inputs/measured_height"),),
    "skim_chain.head_skim": (From("skim_allowance", "inputs/cut"),),
    "compression_ratio.head_skim": (From("skim_chain", "inputs/head_skim"), From("skim_allowance", "inputs/cut")),
    "cam_retard.head_skim": (From("skim_chain", "inputs/head_skim"), From("skim_allowance", "inputs/cut")),
    **{f"{form}.{n}": (From("skim_chain", f"inputs/{n}"),)
       for form in ("compression_ratio", "cam_retard") for n in ("block_skim", "gasket_gain")},
    "valve_sweep.net_drop": (From("skim_chain", "results/net_drop"), From("cam_retard", "results/net_drop")),
    "valve_sweep.retard": (From("cam_retard", "results/left_after_retiming"),
                           From("cam_retard", "results/crank_angle")),
    **{f"valve_sweep.{n}": (From("skim_chain", f"inputs/{n}"), From("valve_to_piston_clearance", f"inputs/{n}"))
       for n in ("valve_angle", "crown")},
    "coolant_fill.drained": (From("strip_log", "drained/coolant"),),
    "fluid_ledger.out": (From("strip_log", "each drained/coolant"),),
    "oil_service.drained": (From("strip_log", "each drained/oil"),),
    "reassembly_checks.source": (From("tightening_plan", "inputs/stages_source"),),
    "fluid_ledger.capacity": (From("coolant_fill", "inputs/capacity"),),
    "coolant_correct.capacity": (From("coolant_fill", "inputs/capacity"),),
    "coolant_correct.target": (From("coolant_fill", "inputs/target"),),
}  # fmt: skip


@dataclass(frozen=True)
class Suggestion:
    """A value that is offered for one input, and where it was typed."""

    input: str
    value: Any  # as typed: text, a list, or the rows of a table
    uid: str
    take: str
    told: str  # "engine card, line 2"
    completes: str = ""

    @property
    def origin(self) -> dict[str, str]:
        """What the record keeps once a person accepts it."""
        return {"uid": self.uid, "take": self.take}


@functools.cache
def sources_of(place: str) -> tuple[From, ...]:
    """Where the input ``working.input`` is offered from, the best first.

    :param place: the input, as ``working.input``
    """
    card = (From(CARD_FORM, f"inputs/{c.field.name}") for c in CARD if place in c.feeds)
    return (*card, *EARLIER.get(place, ()))


def suggest(job: Job, working: Working) -> dict[str, Suggestion]:
    """Input → what the job offers for it; the newest entry of the first source that holds a value.

    :param job: the job, read from its lines
    :param working: whose inputs are offered values
    """
    entries = [e for e in job.current_entries if e.kind == "entry" and not e.stale][::-1]
    found = {}
    for field in working.fields:
        offered = next(_offers(entries, f"{working.name}.{field.name}", field), None)
        if offered is not None:
            found[field.name] = offered
    return found


def _offers(entries: list[Entry], place: str, field: Field) -> Iterator[Suggestion]:
    for source in sources_of(place):
        for entry in entries:
            if entry.form != source.form or source.condition not in ("", entry.condition):
                continue
            value = fitted(field, value_at(entry.line.body, source.take))
            if value:
                name = "engine card" if source.form == CARD_FORM else str(entry.title)
                yield Suggestion(field.name, value, entry.uid, source.take, f"{name[:60]}, line {entry.n}",
                                 source.completes)  # fmt: skip


def fitted(field: Field, value: Any) -> Any:
    """The value as this input takes it: of a table only its own columns; text and lists as they are.

    :param field: the declaration of the input
    :param value: as the earlier entry holds it
    """
    if field.kind != "table":
        return value if isinstance(value, str | list | int | float | bool) else ""
    names = [c.name for c in field.columns]
    rows = value if isinstance(value, list) and all(isinstance(r, Mapping) for r in value) else []
    return [{n: r[n] for n in names if r.get(n) not in (None, "")} for r in rows]
