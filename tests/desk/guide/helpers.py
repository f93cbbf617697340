"""What the tests of the tightening guide share: the plan of a joint, and hands at the guide."""

import uuid

from shoplib.topics import get
from tests.record_fixtures import NUMBER

SOURCE = "teaching workshop, bench notes, sheet 4"

PLACES = [("1", 0, 0), ("2", 100, 0), ("3", 200, 0), ("4", 0, 90), ("5", 100, 90), ("6", 200, 90)]

PLAN = {
    "positions": [{"name": n, "x": f"{x} mm", "y": f"{y} mm"} for n, x, y in PLACES],
    "stages": "40 N*m; +85–95 deg",
    "stages_source": SOURCE,
    "order": "2; 5; 3; 4; 1; 6",
    "lubricant": "engine oil, a film",
    "lubricant_where": "threads and under the head",
}

ORDER = ("2", "5", "3", "4", "1", "6")


def plan(**more):
    return get("tightening_plan")({**PLAN, **more})


def new():
    return uuid.uuid4().hex


def kept_plan(store, **more):
    return store.keep(NUMBER, plan(**more), who="A. Learner").uid


def tick(store, uid, stage, bolt, value="as the programme says", **more):
    return store.tick(NUMBER, programme=uid, stage=stage, bolt=bolt, value=value, initials="AL", uid=new(), **more)


def guide(initials="AL"):
    from shoplib.desk.widgets.tightening_guide import Guide

    made = Guide(quiet=0)
    if initials:
        made.initials.value = initials
    return made


def enter(box):
    """What the browser sends when Enter is pressed in a box."""
    box._handle_custom_msg({"event": "submit"}, [])


def job_ticks(store):
    return [(t.stage, t.bolt, t.value) for t in store.job(NUMBER).ticks if t.stands]


def shown(widget):
    return widget.layout.display != "none"
