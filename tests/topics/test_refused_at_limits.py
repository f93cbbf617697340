"""What is just taken, and what is refused one step on: the limits that a refusal itself names.

Limits of numbers are common practice, no source; counts are ours.
"""

import pytest

from shoplib.topics.assembly.checklist import MOST_ROWS
from shoplib.topics.assembly.parts_list import MOST_PARTS
from shoplib.topics.fasteners.tightening_order import MOST_BOLTS
from shoplib.topics.flatness.liner_protrusion import MOST_LINERS
from shoplib.topics.strip_down.strip_log import MOST_STEPS
from tests.topics import typed_inputs


def refused(name, more):
    """The fields that are refused, without the place in a table."""
    return {field.partition("[")[0] for field in typed_inputs.refused(name, **more)}


ROWS = [
    ("reassembly_checks", "checks", MOST_ROWS, {"check": "other", "note": "bracket"}),
    ("parts_list", "parts", MOST_PARTS, {"part": "gasket"}),
    ("tightening_order", "positions", MOST_BOLTS, {"name": "{k}", "x": "{k} mm", "y": "0 mm"}),
    ("liner_protrusion", "liners", MOST_LINERS, {"liner": "{k}", "place_1": "0.05 mm"}),
    ("strip_log", "steps", MOST_STEPS, {"step": "other", "what": "rocker shaft off"}),
]


@pytest.mark.parametrize(("name", "field", "most", "row"), ROWS)
def test_so_many_rows_and_no_more(name, field, most, row):
    rows = [{column: text.format(k=k) for column, text in row.items()} for k in range(most + 1)]
    assert field not in refused(name, {field: rows[:-1]})
    assert field in refused(name, {field: rows})


def line(length):
    ends = {"from": "0; 0 mm", "to": "400; 0 mm"}
    return {"lines": [{"name": "A", **ends, "no_go": "0.05 mm", "length": length}]}


AT = [
    ("degree_disc", "start_mark", {"start_mark": "x" * 24}, {"start_mark": "x" * 25}),
    ("degree_disc", "hole", {"diameter": "200 mm", "hole": "139.9 mm"}, {"diameter": "200 mm", "hole": "140 mm"}),
    ("degree_disc", "off_centre", {"diameter": "200 mm", "off_centre": "49.9 mm"}, {"diameter": "200 mm", "off_centre": "50 mm"}),
    ("timing_mark", "arc", {"arc": "314.159265 mm", "diameter": "100 mm"}, {"arc": "314.16 mm", "diameter": "100 mm"}),
    ("preload_budget", "relaxation", {"relaxation": "50 %", "gasket_creep": "49 %"}, {"relaxation": "50 %", "gasket_creep": "50 %"}),
    ("dead_centre", "pin_offset", {"rod_length": "200 mm", "stroke": "80 mm", "pin_offset": "40 mm"}, {"rod_length": "200 mm", "stroke": "80 mm", "pin_offset": "40.1 mm"}),
    ("wrench_setting", "adapter_length",
     {"wrench_length": "100 mm", "adapter_length": "94.9 mm", "adapter_angle": "180 deg"},
     {"wrench_length": "100 mm", "adapter_length": "95.1 mm", "adapter_angle": "180 deg"}),
    ("valve_sweep", "lift_curve", {"lift_curve": [{"angle": f"{x} deg", "lift": "1 mm"} for x in (1, 2, 3)]},
     {"lift_curve": [{"angle": f"{x} deg", "lift": "1 mm"} for x in (1, 2)]}),
    ("valve_sweep", "lift_curve", {"lift_curve": [{"angle": f"{x} deg", "lift": "1 mm"} for x in (1, 2, 3)]},
     {"lift_curve": [{"angle": f"{x} deg", "lift": "1 mm"} for x in (1, 2, 2)]}),
    ("thread_stripping", "insert_thread", {"insert": "bush", "insert_thread": "M12"}, {"insert": "bush", "insert_thread": "M10"}),
    ("flatness_lines", "lines", line("408 mm"), line("408.1 mm")),  # 2 % of the distance
    ("flatness_lines", "lines", line("392 mm"), line("391.9 mm")),
    ("fastener_log", "bolts", {"bolts": [{"name": "x" * 40}]}, {"bolts": [{"name": "x" * 41}]}),
]  # fmt: skip


@pytest.mark.parametrize(("name", "field", "taken", "beyond"), AT)
def test_a_number_at_its_limit(name, field, taken, beyond):
    assert field not in refused(name, taken)
    assert field in refused(name, beyond)
