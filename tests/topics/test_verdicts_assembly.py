"""Verdicts on parts, checks, oil and the gas test, against a slow judge: every combination of what may be typed.

The rules are common practice, no source; they are written here a second time, apart from the package.
"""

import itertools
import random

from shoplib.topics import get
from tests.slow_judge import CASES, differential

BAD = {"reassembly_checks": "not done", "run_up": "bad", "cold_recheck": "bad"}
GOOD = {"reassembly_checks": "done", "run_up": "good", "cold_recheck": "good"}
WORST = ("fail", "undecided", "no limit given", "pass")


def outcome(name, typed):
    found = get(name)(typed).outcome
    return None if found is None else str(found)


def worst(outcomes):
    return min(outcomes, key=WORST.index, default=None)


@differential("reassembly_checks", "run_up", "cold_recheck")
def test_lists_of_checks_equal_the_slow_judge():
    seen = set()
    for name, bad in BAD.items():
        rng = random.Random(name)
        of = {c.name: c for c in get(name).field("checks").columns}["check"].choices
        must = [x for x in of if x != "other"]
        for _ in range(CASES):
            share = rng.choice((0.0, 0.02, 0.2))
            listed = [x for x in must if rng.random() >= share]
            states = {x: rng.choices((GOOD[name], "", bad, "not applicable"), (30, share * 30, share * 20, 2))[0]
                      for x in listed}  # fmt: skip
            rows = [{"check": x, "state": s, "note": "a reason"} for x, s in states.items()]
            if not rows:
                continue
            if bad in states.values():
                expected = "fail"
            elif "" in states.values() or len(listed) < len(must):
                expected = "undecided"
            else:
                expected = "pass" if GOOD[name] in states.values() else None
            assert outcome(name, {"checks": rows}) == expected, rows
            seen.add(expected)
    assert seen >= {"fail", "undecided", "pass"}


@differential("parts_list")
def test_parts_equal_the_slow_judge():
    kinds = list(itertools.product(("new", "re-used", ""), ("HG-1", ""), ("2611", ""), ("a reason", "")))
    rng, seen = random.Random(5), set()
    for _ in range(CASES):
        rows = rng.choices(kinds, k=rng.randint(1, 3))
        known = all(
            (use == "new" and number and batch) or (use == "re-used" and note) for use, number, batch, note in rows
        )
        typed = [{"part": f"part {k}", "use": u, "part_number": n, "batch": b, "note": t}
                 for k, (u, n, b, t) in enumerate(rows)]  # fmt: skip
        expected = "pass" if known else "undecided"
        assert outcome("parts_list", {"parts": typed}) == expected, typed
        seen.add(expected)
    assert len(seen) == 2


@differential("oil_service")
def test_oil_equals_the_slow_judge():
    seen = set()
    levels = ("below the lower mark", "between the marks", "above the upper mark", "not read")
    looks = ("clean", "dark", "milky", "metal in it", "smells of fuel", "")
    for level, look, renewed, source in itertools.product(levels, looks, ("yes", "no"), ("page 12", "")):
        if level in ("below the lower mark", "above the upper mark"):
            expected = "fail"
        elif level == "not read" or renewed == "no" or look not in ("clean", "dark"):
            expected = "undecided"
        else:
            expected = "pass" if source else "no limit given"
        typed = {"filled": "5 L", "grade": "15W-40", "level": level, "appearance": look, "filter": renewed,
                 "grade_source": source}  # fmt: skip
        assert outcome("oil_service", typed) == expected, typed
        seen.add(expected)
    assert len(seen) == 4


@differential("gas_in_coolant")
def test_the_gas_test_equals_the_slow_judge():
    seen = set()
    for air, found, warm, minutes, source in itertools.product(
        ("no reaction", "reacted", "not done"), ("gas found", "no gas found", "unclear"), ("yes", "no"), ("5 min", ""),
        ("page 2", ""),
    ):  # fmt: skip
        if air == "reacted" or found == "unclear":
            expected = "undecided"
        elif found == "gas found":
            expected = "fail"
        elif air == "not done" or warm == "no" or not minutes:
            expected = "undecided"
        else:
            expected = "pass" if source else "no limit given"
        typed = {"method": "test fluid", "clean_air": air, "found": found, "warm": warm, "minutes": minutes,
                 "source": source}  # fmt: skip
        assert outcome("gas_in_coolant", typed) == expected, typed
        seen.add(expected)
    assert worst(seen) == "fail"
    assert len(seen) == 4
