"""A large invented job for the sheet: 26 bolts in two rows, four stages, two deviations, and 40 measurements."""

import itertools

from shoplib.record.ticks import AS_PROGRAMME
from shoplib.topics import get
from tests.record_fixtures import HEADER, NOTES, NUMBER

BOLTS = [(str(n), x, y) for n, (x, y) in enumerate(itertools.product(range(0, 1300, 100), (0, 110)), 1)]
STAGES = "20 N*m; 60 N*m; +90 deg; +85–95 deg"
WHO = {"who": "A. Learner"}
READINGS = (("Liner protrusion", "cylinder {} {}"), ("Deck height", "point {} {}"))
TIMES = 20


def twenty_six_bolts(store, bolts=BOLTS):
    """The job in the store."""
    store.start(**HEADER, people=[{"name": "A. Learner", "initials": "AL", "role": "did the work"}],
                instruments=[{"id": "TW-2", "what": "torque wrench", "calibration_due": "2027-03-01"},
                             {"id": "D-1", "what": "depth gauge", "resolution": "0.01 mm", "calibration_due": "2027-02-01"}])  # fmt: skip
    proof = {"layout": "1 2 3 4; 5 6 7 8", "rule": "lowest/highest", "limit": "75 %", "limit_source": NOTES}
    found = proof | {"readings": "24 bar; 17 bar; 23 bar; 24 bar; 24 bar; 23 bar; 24 bar; 23 bar"}
    store.keep(NUMBER, get("compression_test")(found), condition="as_found", **WHO)
    for what, where in READINGS:
        for k in range(TIMES):
            value = get("measurement")(
                what=what, where=where.format(1 + k // 2, ("front", "rear")[k % 2]), value=f"0.0{k % 3 + 4} mm",
                low="0.03 mm", low_source=NOTES, high="0.10 mm", high_source=NOTES, instrument="D-1",
            )  # fmt: skip
            store.keep(NUMBER, value, condition="as_left", **WHO)
    places = [{"name": n, "x": f"{x} mm", "y": f"{y} mm"} for n, x, y in bolts]
    log = {"bolts": places, "thread": "M12x1.5", "pitch_bolt": "1.5 mm", "pitch_hole": "1.5 mm", "length": "140 mm",
           "washer": "none", "hole": "blind", "hand": "right", "use": "new", "lubricant": f"engine oil; {NOTES}",
           "lubricated": "thread", "dry": "yes", "chased": "yes"}  # fmt: skip
    store.keep(NUMBER, get("fastener_log")(log), **WHO)
    plan = {"positions": places, "stages": STAGES, "stages_source": NOTES, "lubricant": "engine oil",
            "lubricant_where": "thread", "wrench_min": "20 N*m", "wrench_max": "100 N*m", "tools": "TW-2"}  # fmt: skip
    uid = store.keep(NUMBER, get("tightening_plan")(plan), **WHO).uid
    for k, (stage, bolt) in enumerate(get("tightening_plan")(plan).plot_data["sequence"]):
        more = {}
        if (stage, bolt) in ((4, "7"), (4, "19")):
            more = {"deviation": "went past the mark, to 104°", "reason": "the wrench slipped", "action": "stop"}
        store.tick(NUMBER, programme=uid, stage=stage, bolt=bolt, value="104 deg" if more else AS_PROGRAMME,
                   initials="AL", uid=f"tick-{k:05}", **more)  # fmt: skip
    left = proof | {"readings": "24 bar; 23 bar; 23 bar; 24 bar; 24 bar; 23 bar; 24 bar; 23 bar"}
    store.keep(NUMBER, get("compression_test")(left), condition="as_left", **WHO)
    store.close_job(NUMBER, root_cause="Gasket blown between cylinders 2 and 3", retorque="", **WHO)
