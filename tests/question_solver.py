"""Solves every exercise from the text of its question alone, as a learner with paper would.

It imports nothing of the package: numbers are found in the words, and every formula is written here a second time.
``solve(name, text)`` gives a number in the unit that the question asks for, or a word.
"""

from __future__ import annotations

import math
import re
import statistics
from collections.abc import Callable

NUMBER = r"-?\d+(?:\.\d+)?"
Answer = float | str
SOLVERS: dict[str, Callable[[str], Answer]] = {}


def solver(function: Callable[[str], Answer]) -> Callable[[str], Answer]:
    SOLVERS[function.__name__] = function
    return function


def solve(name: str, text: str) -> Answer:
    return SOLVERS[name](text.replace("\u00a0", " ").replace("\u202f", " ").replace("−", "-"))


def numbers(text: str, unit: str = "") -> list[float]:
    """Every number followed by this unit, in the order of the text."""
    return [float(x) for x in re.findall(rf"(?<![\w.])({NUMBER}) ?{re.escape(unit)}(?![\w²])", text)]


def after(words: str, text: str) -> float:
    """The first number after these words."""
    return float(re.search(rf"{words}\D*?({NUMBER})", text)[1])


def between(first: str, last: str, text: str) -> str:
    return re.search(rf"{first}(.*?){last}", text)[1]


def order(text: str) -> list[str]:
    return re.search(r"order (?:is )?((?:\d; )+\d)", text)[1].split("; ")


# ------------------------------------------------------------------------------ proving and stripping
@solver
def lowest_over_highest(text):
    pressures = numbers(text, "bar")
    return 100 * min(pressures) / max(pressures)


@solver
def hold_that_proves_nothing(text):
    start, end = numbers(text, "kPa")[:2]
    first, last = numbers(text, "°C")
    allowed = after("a drop of", text)
    too_much = start - end > allowed
    if last > first:  # warming hid a part of the drop
        return "fail" if too_much else "undecided"
    if last < first:  # cooling made a part of the drop
        return "undecided" if too_much else "pass"
    return "fail" if too_much else "pass"


@solver
def loosened_first(text):
    return order(text)[-1]


@solver
def what_came_out(text):
    return sum(float(x) for x in re.findall(rf"({NUMBER}) L of coolant", text))


# ------------------------------------------------------------------------------ fasteners
@solver
def two_pitches(text):
    bolt = after("pitch gauge says", text)
    if "hole was not gauged" in text:
        return "undecided"
    return "pass" if after("in the hole", text) == bolt else "fail"


@solver
def which_way_is_loose(text):
    return "clockwise" if re.search(r"\bLH\b", text) else "anticlockwise"


@solver
def is_the_hole_dry(text):
    if "through hole" in text or "came out dry" in text:
        return "pass"
    return "fail" if "drops of coolant" in text else "undecided"


@solver
def used_again(text):
    lengths = numbers(between("measure", "under the head", text), "mm")
    if max(lengths) > after("At most", text):
        return "fail"
    return "pass" if "the source is" in text else "no limit given"


@solver
def smallest_margin(text):
    return after("at most", text) - max(numbers(between("measure", "under the head", text), "mm"))


@solver
def room_below_the_bolt(text):
    bolt = after("A bolt of", text)
    stack = numbers(between("washer, head and gasket:", r"\. The", text), "mm")
    return after("blind hole is", text) - (bolt - sum(stack))


# ------------------------------------------------------------------------------ faces
@solver
def feeler_bracket(text):
    fits, does_not = after("a leaf of", text), after("and one of", text)
    limit = after("less than", text)
    if does_not <= limit:
        return "pass"
    return "fail" if fits >= limit else "undecided"


@solver
def rocking_edge(text):
    one, other = numbers(text, "mm")
    return one * other / (one + other)


@solver
def one_high_corner(text):
    return after("the fourth is", text) / 2


@solver
def guard_band(text):
    return after("allows", text) - after("ISO 14253-1 is", text) * after("standard uncertainty of", text)


@solver
def leaf_that_proves(text):
    limit = after("at most", text)
    step = after("leaves are", text)
    leaf = 1
    while (leaf + 1) * step < limit:  # the thickest leaf below the limit
        leaf += 1
    return leaf * step if "by not fitting" in text else (leaf + 1) * step


@solver
def gap_under_a_line(text):
    rows = [[float(x) for x in re.search(rf"{row} row (\d+, \d+, \d+)", text)[1].split(", ")]
            for row in ("front", "middle", "back")]  # fmt: skip
    if "along the head, over the middle row" in text:
        line = rows[1]
    else:
        line = [rows[n][n if "diagonal" in text else 1] for n in range(3)]
    return ((line[0] + line[2]) / 2 - line[1]) / 100


# ------------------------------------------------------------------------------ skim
@solver
def together_or_alone(text):
    new, low, cut = after("The head was", text), after("four heights is", text), after("further cut of", text)
    lost = new - low + cut + after("block has lost", text)
    good = low - cut >= after("no less than", text) - 1e-9 and lost <= after("no more than", text) + 1e-9
    return "pass" if good else "fail"


@solver
def ratio_after_a_cut(text):
    bore, stroke, ratio = after("Bore", text), after("stroke", text), after("ratio", text)
    area, cut = numbers(text, "mm²")[0], float(re.search(rf"({NUMBER}) mm is skimmed", text)[1])
    swept = math.pi * bore**2 / 4 * stroke
    clearance = swept / (ratio - 1) - area * cut
    return (swept + clearance) / clearance


@solver
def gasket_that_keeps_the_ratio(text):
    cut, area, hole = numbers(text, "mm")[0], numbers(text, "mm²")[0], after("gasket's hole is", text)
    return cut * area / (math.pi * hole**2 / 4)


@solver
def camshaft_after_a_cut(text):
    return 2 * math.degrees(after("comes down by", text) / (after("pitch diameter of", text) / 2))


@solver
def clearance_along_the_valve(text):
    closes = after("comes down by", text) * math.cos(math.radians(after("The valve is", text)))
    return after("cleared the piston by", text) - closes


def highest_piston(text):
    pairs = re.findall(rf"({NUMBER}) mm and ({NUMBER}) mm", text)
    assert len(pairs) == 3
    return max((float(a) + float(b)) / 2 for a, b in pairs)


@solver
def gap_under_an_open_valve(text):
    gap = numbers(text, "mm")[0] - after("open by", text) + float(re.search(rf"piston is ({NUMBER}) mm below", text)[1])
    return gap - after("comes down by", text)


@solver
def projection_that_governs(text):
    return highest_piston(text)


@solver
def grade_of_the_gasket(text):
    high = round(highest_piston(text), 6)
    grades = re.findall(rf"(?:[Gg]rade )(\d)(?: is for)? ({NUMBER}) to ({NUMBER}) mm", text)
    assert len(grades) == 3
    return " or ".join(name for name, low, top in grades if float(low) <= high <= float(top))


@solver
def microinches(text):
    return numbers(text, "µin")[0] * after("1 in is", text) / 1000


@solver
def lash_after_a_cut(text):
    return after("lash at the valve was", text) - after("rockers of ratio", text) * after("comes down by", text)


# ------------------------------------------------------------------------------ threads
def metric(text):
    return tuple(map(float, re.search(rf"M({NUMBER})x({NUMBER})", text).groups()))


@solver
def shear_area_of_a_tapped_hole(text):
    assert "seven eighths" in text
    return 7 / 8 * math.pi * metric(text)[0] * after("engaged over", text)


@solver
def what_gives_way(text):
    assert "seven eighths" in text and "0.9 to 1.06" in text
    strength, shear = numbers(text, "MPa")
    thread = 7 / 8 * math.pi * metric(text)[0] * after("is engaged", text) * shear
    bolt = after("stress area,", text) * strength
    found = {"bolt" if bolt < factor * thread else "internal thread" for factor in (0.9, 1.06)}
    assert len(found) == 1, text
    return found.pop()


@solver
def stress_area_of_a_thread(text):
    d, p = metric(text)
    return math.pi / 4 * ((d - after("d − ".replace("−", "-"), text) * p + d - 1.2269 * p) / 2) ** 2


@solver
def pitch_of_an_inch_thread(text):
    return after("1 in is", text) / float(re.search(r"-(\d+) UN", text)[1])


@solver
def proof_load_of_a_bolt(text):
    return after("proof stress", text) * numbers(text, "mm²")[0]


# ------------------------------------------------------------------------------ torque and preload
@solver
def newton_metres_on_an_inch_wrench(text):
    return after("The book says", text) / after("1 lbf·ft is", text)


@solver
def number_without_a_unit(text):
    return after("The book means", text) * after("1 lbf·ft is", text)


@solver
def adapter_in_line(text):
    wrench = after("Your wrench is", text)
    return after("bolt needs", text) * wrench / (wrench + after("an adapter of", text))


@solver
def adapter_at_an_angle(text):
    wrench = after("The wrench is", text)
    along = after("The adapter of", text) * math.cos(math.radians(numbers(text, "°")[0]))
    return after("bolt needs", text) * wrench / (wrench + along)


def parts(text, mu):
    """Stretch, thread and head, in millimetres of torque per unit of clamp load."""
    assert "clamp load × (0.16 P + 0.58 d₂ μ + ½ D μ)" in text
    pitch = metric(text)[1]
    return 0.16 * pitch, 0.58 * after("pitch diameter d₂", text) * mu, 0.5 * after("under the head D", text) * mu


@solver
def clamp_of_a_torque(text):
    return after("clicks at", text) / sum(parts(text, after("friction μ", text)))


@solver
def torque_for_a_clamp(text):
    return after("clamp load of", text) * sum(parts(text, after("friction μ", text)))


@solver
def friction_and_clamp(text):
    low, high = after("somewhere from", text), after(r"from [\d.]+ to", text)
    return sum(parts(text, high)) / sum(parts(text, low))


@solver
def share_that_stretches(text):
    found = parts(text, after("friction μ", text))
    return found[0] / sum(found)


@solver
def clamp_at_half_the_friction(text):
    return after("clamp load at", text) / sum(parts(text, after("friction falls to", text)))


@solver
def friction_of_a_test(text):
    assert "(torque ÷ force − 0.159 P) ÷ (0.577 d₂ + ½ D)".replace("−", "-") in text
    top = after("turned to", text) / after("load cell shows", text) - 0.159 * after(r"\(pitch", text)
    return top / (0.577 * after("pitch diameter d₂", text) + after("diameter D", text) / 2)


@solver
def clamp_of_a_stretch(text):
    _, tight, loose = numbers(text, "mm")
    return (tight - loose) * after("stiffness is", text)


@solver
def stretch_of_a_warm_bolt(text):
    before, tight = numbers(text, "mm")
    cold, warm = numbers(text, "°C")
    return tight - before - before * after("grows by", text) * 1e-6 * (warm - cold)


@solver
def least_preload_left(text):
    return after("joint reach", text) * (1 - float(re.search(r"–(\d+) %", text)[1]) / 100)


# ------------------------------------------------------------------------------ angle
@solver
def travel_of_an_angle(text):
    return after("pitch of", text) * after("a further", text) / 360


@solver
def clamp_that_an_angle_adds(text):
    return after("stiffness of", text) * metric(text)[1] * after("a further", text) / 360


@solver
def spread_after_the_angle(text):
    dry, slippery, gain = numbers(text, "kN")
    return (slippery + gain) / (dry + gain)


@solver
def elastic_or_yielded(text):
    reached = after("clamp load of", text) + after("gains", text) * after("a further", text)
    return "elastic" if reached < after("yields at", text) else "yielded"


@solver
def degrees_past_yield(text):
    to_yield = 10 * (after("yields at", text) - after("a bolt has", text)) / after("each 10° add", text)
    return after("a further", text) - to_yield


@solver
def longer_for_good(text):
    return numbers(text, "mm")[0] - after("force of", text) / after("stiffness is", text)


# ------------------------------------------------------------------------------ tightening
@solver
def phone_rang_between_stages(text):
    return order(text)[0]


@solver
def loosening_stage_order(text):
    return order(text)[-1]


@solver
def inside_the_band(text):
    low, high, shown = numbers(text, "°")
    return "under" if shown < low else "over" if shown > high else "within"


@solver
def how_far_past(text):
    _, high, shown = numbers(text, "°")
    return shown - high


@solver
def which_bolt_to_look_at(text):
    readings = numbers(text, "N·m")
    away = [abs(x - statistics.median(readings)) for x in readings]
    assert sorted(away)[-1] > 3 * sorted(away)[-2], text
    return str(away.index(max(away)) + 1)


# ------------------------------------------------------------------------------ timing
@solver
def teeth_at_the_crank(text):
    return 2 * 360 / after("sprocket with", text) * after("off by", text)


@solver
def gap_under_the_bar(text):
    return 2 * after("a leaf of", text) / after("other side,", text) * after("1 radian is", text)


@solver
def middle_of_two_stops(text):
    before, later = numbers(text, "°")
    return (later - before) / 2


@solver
def disc_off_centre(text):
    diameter, shift = numbers(text, "mm")
    return shift / (diameter / 2) * after("1 radian is", text)


# ------------------------------------------------------------------------------ coolant
@solver
def fill_over_trapped_water(text):
    return after("A system of", text) * after("You need", text) / 100


@solver
def premix_over_trapped_water(text):
    capacity, stayed = numbers(text, "L")
    return (capacity - stayed) * after("premix of", text) / capacity


@solver
def swap_to_strengthen(text):
    measured, wanted = numbers(text, "%")
    return after("system of", text) * (wanted - measured) / (100 - measured)


@solver
def swap_to_thin(text):
    measured, wanted = numbers(text, "%")
    return after("system of", text) * (measured - wanted) / measured


@solver
def litres_unaccounted_for(text):
    _, first, second, poured = numbers(text, "L")
    return first + second - poured


@solver
def pressure_under_the_cap(text):
    return sum(numbers(text, "kPa"))


@solver
def the_safe_side_of_a_freezing_point(text):
    return after("freezes at", text) + after("±", text)


# ------------------------------------------------------------------------------ the record
@solver
def what_falls(text):
    stale = {int(re.search(r"line (\d+) is corrected", text)[1])}
    for line, sources in re.findall(r"line (\d+) was calculated from ((?:line \d+(?: and )?)+)", text):
        if stale & set(map(int, re.findall(r"\d+", sources))):
            stale.add(int(line))
    return str(len(stale) - 1)


@solver
def may_it_be_signed(text):
    return "no" if after("stale entries", text) or after("since you read it", text) else "yes"


@solver
def the_job_as_a_whole(text):
    told = between("entries are", r"\. What", text)
    return next(word for word in ("fail", "undecided", "no limit given", "pass") if word in told)


# ------------------------------------------------------------------------------ liners, residual torque, tables, leaks
@solver
def step_between_liners(text):
    a, b, c, d = numbers(text, "mm")
    return abs((a + b) / 2 - (c + d) / 2)


@solver
def load_in_a_row(text):
    turns = re.search(r"in the order ((?:\d, )+\d)", text)[1].split(", ")
    click, loss = numbers(text, "kN")
    bolt = int(re.search(r"does bolt (\d)", text)[1])
    later = turns[turns.index(str(bolt)) + 1 :]
    return click - loss * sum(str(n) in later for n in (bolt - 1, bolt + 1))


@solver
def residual_part(text):
    whole, *readings = numbers(text, "N·m")
    return statistics.median(readings) / whole


@solver
def reading_between_rows(text):
    (low, weak), (high, strong) = re.findall(rf"({NUMBER}) at (\d+) %", text)
    part = (after("Yours reads", text) - float(low)) / (float(high) - float(low))
    return float(weak) + part * (float(strong) - float(weak))


@solver
def choked_leak(text):
    before, behind = numbers(text, "bar")
    return 100 * (before - behind) / before


@solver
def snug_by_the_line(text):
    running, low, high = numbers(text, "N·m")
    first, last = numbers(text, "°")
    return first - (low - running) / (high - low) * (last - first)


@solver
def slope_unlike_the_others(text):
    slopes = [float(x) for x in re.findall(r"(\d\.\d\d) and \d+", text)]
    assert len(slopes) == 6, text
    away = [abs(x - statistics.median(slopes)) for x in slopes]
    assert sorted(away)[-1] > 3 * sorted(away)[-2], text
    return str(away.index(max(away)) + 1)


@solver
def slope_beside_the_model(text):
    low, high = (float(x) for x in re.search(rf"slope of ({NUMBER}) to ({NUMBER})", text).groups())
    (start, first), (end, last) = re.findall(rf"({NUMBER}) N·m at ({NUMBER})°", text)
    slope = (float(end) - float(start)) / (float(last) - float(first))
    assert min(abs(slope / low - 1), abs(slope / high - 1)) > 0.05, text
    place = "below" if slope < low else "above" if slope > high else "within"
    return f"{place} the range of the model"


@solver
def loss_from_stretch(text):
    stretch, pressed, settled = numbers(text, "mm")
    return after("force of", text) * settled / (stretch + pressed)


@solver
def settled_by(text):
    bolt, parts = numbers(text, "kN/mm")
    return 1 / (1 / bolt + 1 / parts) * after("settle by", text)


@solver
def warm_joint(text):
    grows, bolt = after("head grows by", text), after("the bolts by", text)
    longer = after("A head of", text) * (grows - bolt) * 1e-6 * float(re.search(rf"({NUMBER}) K warmer", text)[1])
    return after("clamped with", text) + longer * after("stiffness of", text)
