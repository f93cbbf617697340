"""The working ``tightening_plan``: which bolt, at which stage, in which order, and what do I set on the wrench."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from shoplib.core.checks import Outcome, Value
from shoplib.core.fields import integer, listing, quantity, sourced_limit, table, words
from shoplib.core.former import Former
from shoplib.core.tightening_program import Stage, read_stages
from shoplib.core.units import degC, pct
from shoplib.core.working import GOVERNS, Working
from shoplib.core.worksheet import Heading, Worksheet
from shoplib.physics import wrench
from shoplib.topics.angle.programme import STAGES
from shoplib.topics.cautions import MISREAD, SHEAR, WHOLE_PATTERN
from shoplib.topics.fasteners.tightening_order import (
    NOT_MAKERS,
    TIGHTENING_ORDER,
    look_at_map,
    suggest_order,
    typed_order,
)
from shoplib.topics.tightening.stage_reading import PAST_THE_MARK, SETTING_DIGITS, WITH_WRENCH, in_both, in_words
from shoplib.topics.tightening.stage_words import PEAK_TOLERANCE, TORQUE
from shoplib.topics.torque.wrench_setting import (
    WRENCH_SETTING,
    CalibrationInputs,
    WrenchInputs,
    check_calibration,
    check_range,
    look_at_wrench,
    settings_at_other_angles,
)

ALL_BOLTS = "all bolts"


COUNTED = "counted from the map, the groups and the stages"


SOFT = "If a bolt goes soft, stop. Do not tighten it further to match its neighbours."


DASH = "—"


@dataclass(frozen=True)
class PlannedStage:
    """One stage of a plan: which bolts in which order, and the setting of the wrench."""

    number: int  # from 1
    stage: Stage
    what: str  # as people read it
    bolts: tuple[str, ...]  # in order; for a wait the group itself, waited for once
    setting: str  # what to set on the wrench, as people read it; "—" where no wrench is set
    peak: bool  # the last angle of these bolts: a peak torque may be read
    says: str = ""  # what to do, where the stage alone does not tell

    @property
    def group(self) -> str:
        """Its group, or all bolts."""
        return self.stage.group or ALL_BOLTS

    @property
    def do(self) -> str:
        """What to do, in a few words."""
        if self.says:
            return self.says
        bare = self.what.removeprefix("+").removeprefix(self.stage.kind).strip()
        words_ = {
            "torque": "Tighten to {}",
            "angle": "Turn a further {}",
            "loosen": "Loosen by {}" if bare else "Loosen",
            "repeat": "Repeat: {}",
            "check": "Check: {} or more",
            "wait": "Wait {}",
        }
        return words_[self.stage.kind].format(bare.removeprefix("≥").strip())


# ------------------------------------------------------------------------------ reading
def _groups(inputs: TighteningPlanInputs, names: Sequence[str], worksheet: Worksheet) -> dict[str, list[str]]:
    """Name to bolts; a bolt belongs to one group at most."""
    groups: dict[str, list[str]] = {}
    for row in inputs.groups or ():
        name = row["name"].strip()
        if name in groups or name == ALL_BOLTS:
            worksheet.refuse(
                "groups", f"group {name[:40]} " + ("is listed twice" if name in groups else "needs another name")
            )
        groups[name] = [b.strip() for b in row["bolts"]]
    times = Counter(b for bolts in groups.values() for b in bolts)
    twice = [b for b, k in times.items() if k > 1]
    strangers = [b for b in times if b not in names]
    for what, found in (("is listed more than once", twice), ("is not on the map", strangers)):
        if found:
            worksheet.refuse("groups", f"bolt {', '.join(b[:40] for b in found[:20])} {what}")
    return groups


def _order_of(k: int, stage: Stage, members: list[str], default: list[str], worksheet: Worksheet) -> tuple[str, ...]:
    """The bolts of a stage in order: its own, else the default, backwards for loosening."""
    if stage.kind == "wait":
        if stage.order:
            worksheet.refuse(f"stages[{k}]", "is a wait, which has no order")
        return (stage.group or ALL_BOLTS,)
    if stage.order:
        where = f"in group {stage.group}" if stage.group else "on the map"
        return tuple(typed_order(f"stages[{k}]", stage.order, members, worksheet, where))
    return tuple(reversed(default) if stage.kind == "loosen" else default)


def _singly(inputs: TighteningPlanInputs, stages: Sequence[Stage], worksheet: Worksheet) -> list[int]:
    """Numbers of the stages that are done bolt by bolt; they stand together and are of one group."""
    chosen = list(inputs.singly or ())
    if not chosen:
        return []
    example = '"3; 4"'
    if any(n > len(stages) for n in chosen):
        worksheet.refuse("singly", f"names a stage that does not exist; there are {len(stages)}", example)
    elif len(chosen) < 2 or chosen != list(range(chosen[0], chosen[0] + len(chosen))):
        worksheet.refuse("singly", "needs two or more stages that follow each other", example)
    elif len({stages[n - 1].group for n in chosen}) > 1 or any(stages[n - 1].kind == "wait" for n in chosen):
        worksheet.refuse("singly", "needs stages of one group, none of them a wait", example)
    return chosen


def sequence_of(stages: Sequence[PlannedStage], singly: Sequence[int]) -> list[tuple[int, str]]:
    """(stage, bolt) one after the other: the whole pattern at each stage, except where it goes bolt by bolt."""
    found: list[tuple[int, str]] = []
    for s in stages:
        if s.number not in singly:
            found += [(s.number, bolt) for bolt in s.bolts]
        elif s.number == singly[0]:
            found += [(n, bolt) for bolt in s.bolts for n in singly]
    return found


# ------------------------------------------------------------------------------ the wrench
def _setting(inputs: TighteningPlanInputs, worksheet: Worksheet, k: int, stage: Stage) -> tuple[float, float] | None:
    """What to set for a torque stage, lowest and highest; None for a stage without a wrench."""
    if stage.kind not in WITH_WRENCH or stage.low is None or stage.high is None:
        return None
    if not inputs.given("wrench_length", "adapter_length"):
        return stage.low, stage.high
    geometry = {"L": inputs.wrench_length, "E": inputs.adapter_length, "alpha": inputs.adapter_angle}
    if not stage.is_band:
        set_ = float(
            worksheet.step(
                Heading(f"Stage {k}: set on the wrench", digits=SETTING_DIGITS),
                wrench.wrench_setting,
                M=stage.low,
                **geometry,
            )
        )
        return set_, set_
    low, high = (
        float(
            worksheet.step(
                Heading(f"Stage {k}: set on the wrench, {end} end", digits=SETTING_DIGITS),
                wrench.wrench_setting,
                M=M,
                **geometry,
            )
        )
        for end, M in (("lower", stage.low), ("upper", stage.high))
    )
    return low, high


# ------------------------------------------------------------------------------ running
def _order_within(
    members: Sequence[str], maker: Sequence[str] | None, points: Mapping[str, tuple[float, float]]
) -> list[str]:
    """The tightening order of a group: as the source gives it, else as suggested."""
    if maker:
        return [n for n in maker if n in members]
    return [members[k] for k in suggest_order([points[n] for n in members])]


def run(inputs: TighteningPlanInputs, worksheet: Worksheet) -> None:
    """The sequence of bolts and stages, the setting of the wrench, and whether anything is left out."""
    names = [str(r["name"]).strip() for r in inputs.positions]
    look_at_map(inputs.positions, names, worksheet, "positions")
    groups = _groups(inputs, names, worksheet)
    stages, wrong = read_stages(inputs.stages)
    for n, why in wrong:
        worksheet.refuse(f"stages[{n}]", why, '"40 N*m" or "+90 deg"')
    for n, s in enumerate(stages if not wrong else (), 1):
        if s.group and s.group not in groups:
            named = (
                f"the groups are {', '.join(groups)}" if groups else f"give its bolts in {worksheet.label('groups')}"
            )
            worksheet.refuse(f"stages[{n}]", f"is for group {s.group[:40]}, which does not exist; {named}")
    maker = typed_order("order", inputs.order, names, worksheet) if inputs.given("order") else None
    if inputs.given("order_source") and maker is None and not any(s.order for s in stages):
        worksheet.refuse("order_source", "is the source of no order: type the order here, or in a stage")
    look_at_wrench(inputs, worksheet)
    singly = _singly(inputs, stages, worksheet) if not wrong else []
    worksheet.raise_refusals()

    points = {n: (float(r["x"]), float(r["y"])) for n, r in zip(names, inputs.positions, strict=True)}
    run_of = {s.group: _order_within(groups[s.group] if s.group else names, maker, points) for s in stages}
    suggested = any(maker is None and not s.order and s.kind != "wait" for s in stages)
    orders = []
    for n, s in enumerate(stages, 1):
        members = groups[s.group] if s.group else names
        default = run_of[s.group]
        if n in singly:  # bolt by bolt: one order for all of these stages, that of the first
            s_first = stages[singly[0] - 1]
            default = list(_order_of(singly[0], replace(s_first, kind="torque"), members, default, worksheet))
            if s.order and s.order != s_first.order:
                worksheet.refuse(f"stages[{n}]", f"is done bolt by bolt; give the order at stage {singly[0]}")
            orders.append(tuple(default))
        else:
            orders.append(_order_of(n, s, members, default, worksheet))
    worksheet.raise_refusals()

    last_angle: dict[str, int] = {}
    for n, (s, bolts) in enumerate(zip(stages, orders, strict=True), 1):
        if s.kind == "angle":
            last_angle |= dict.fromkeys(bolts, n)
    planned, set_lows, set_highs = [], [], []
    for n, (s, bolts) in enumerate(zip(stages, orders, strict=True), 1):
        band = _setting(inputs, worksheet, n, s)
        setting = DASH
        if band is not None:
            setting = in_both(*band, s.wrench_unit)
            set_lows.append(band[0])
            set_highs.append(band[1])
        peak = n in {last_angle[b] for b in bolts if b in last_angle}
        planned.append(PlannedStage(n, s, in_words(s), bolts, setting, peak))
    sequence = sequence_of(planned, singly)

    rows = [
        {
            "stage": Value(p.number, None, "Stage"),
            "what": Value(p.what, None, "What"),
            "group": Value(p.group, None, "Group"),
            "bolts": Value(list(p.bolts) if p.stage.kind != "wait" else DASH, None, "Bolts in order"),
            "setting": Value(p.setting, None, "Set on the wrench"),
        }
        for p in planned
    ]
    worksheet.result("stages", rows, None, "Stages")
    worksheet.result("total", len(sequence), None, "Tightening steps and waits, total")
    whose = _whose(maker, suggested, singly, worksheet)
    worksheet.result("order_is", whose, None, "Order")
    worksheet.result(
        "lubricant", f"{inputs.lubricant.strip()}; {inputs.lubricant_where.strip()}", None, "Lubricant, and where"
    )
    _assume(inputs, worksheet, stages, groups, maker, singly)
    _judge(inputs, worksheet, names, planned, sequence, set_lows, set_highs, suggested, maker)
    turned = [p for p in planned if p.stage.kind != "wait"]
    first = {g: next(p.bolts for p in turned if p.group == (g or ALL_BOLTS))
             for g in run_of if any(p.group == (g or ALL_BOLTS) for p in turned)}  # fmt: skip
    worksheet.plot_data.update(names=names, points=points, runs=list(first.values()),
                               groups=[g or ALL_BOLTS for g in first], says=whose, stages=tuple(planned),
                               sequence=tuple(sequence), singly=tuple(singly))  # fmt: skip


def _whose(maker: list[str] | None, suggested: bool, singly: Sequence[int], worksheet: Worksheet) -> str:
    if suggested:
        worksheet.assume(f"tightening order from the middle outwards, crosswise: {NOT_MAKERS}")
        return f"{NOT_MAKERS}: from the middle outwards, crosswise"
    tail = f"; stages {singly[0]} to {singly[-1]} bolt by bolt" if singly else ""
    return ("the maker's, as typed" if maker else "as typed at each stage") + tail


def _assume(
    inputs: TighteningPlanInputs,
    worksheet: Worksheet,
    stages: Sequence[Stage],
    groups: dict[str, list[str]],
    maker: list[str] | None,
    singly: Sequence[int],
) -> None:
    """What nobody typed."""
    if any(s.kind == "loosen" and not s.order and n not in singly for n, s in enumerate(stages, 1)):
        worksheet.assume(
            "loosening stages use the reverse of the tightening order; to change it, type an order at the stage"
        )
    if not inputs.given("adapter_length") and any(s.kind in WITH_WRENCH for s in stages):
        worksheet.assume("no adapter on the wrench: the setting is the torque at the bolt")
    unused = [g for g in groups if all(s.group != g for s in stages)]
    if unused:
        worksheet.assume(f"no stage is for group {', '.join(unused)} alone")
    if any(s.wrench_unit is not TORQUE for s in stages if s.kind in WITH_WRENCH):
        worksheet.caution(MISREAD)


def _judge(
    inputs: TighteningPlanInputs,
    worksheet: Worksheet,
    names: Sequence[str],
    planned: Sequence[PlannedStage],
    sequence: Sequence[tuple[int, str]],
    set_lows: Sequence[float],
    set_highs: Sequence[float],
    suggested: bool,
    maker: list[str] | None,
) -> None:
    """Source, order, omissions, wrench."""
    source = inputs.stages_source
    worksheet.judge("Stages from a source", f"{len(planned)} stages", "", None, None, source,
                    Outcome.PASS if source else Outcome.NO_LIMIT,
                    "" if source else "no source: nothing shows that this is the maker's programme")  # fmt: skip
    order_source = inputs.order_source or source
    remark = NOT_MAKERS if suggested else "" if order_source else "the source of the order is missing"
    worksheet.judge("Order of the bolts", "suggested" if suggested else "maker's" if maker else "typed at each stage",
                    "", None, None, None if suggested else order_source, Outcome.NO_LIMIT if remark else Outcome.PASS,
                    remark or ("" if inputs.order_source else "same source as the stages"))  # fmt: skip
    done = {b for p in planned if p.stage.kind in ("torque", "angle", "repeat") for b in p.bolts}
    left_out = [n for n in names if n not in done]
    worksheet.judge("Every bolt on the map is in the plan", f"{len(names) - len(left_out)} of {len(names)}", "", None,
                    None, COUNTED, Outcome.FAIL if left_out else Outcome.PASS,
                    f"in no stage: bolt {', '.join(left_out[:20])}" if left_out else "")  # fmt: skip
    twice = [key for key, times in Counter(sequence).items() if times > 1]
    grouped = " of its group" if any(p.stage.group for p in planned) else ""
    waits = ", and each wait," if any(p.stage.kind == "wait" for p in planned) else ""
    worksheet.judge(f"Each bolt at each stage{grouped}{waits} is in the plan once",
                    f"{len(set(sequence))} of {len(sequence)}", "", None, None, COUNTED,
                    Outcome.FAIL if twice else Outcome.PASS)  # fmt: skip
    if set_lows:
        stages = [p.stage for p in planned if p.stage.kind in WITH_WRENCH]
        low = min(s.low for s in stages if s.low is not None)
        high = max(s.high for s in stages if s.high is not None)
        check_range(
            inputs, worksheet, "Settings", min(set_lows), max(set_highs), settings_at_other_angles(inputs, low, high)
        )
    check_calibration(
        inputs, worksheet, needed=bool(set_lows) and any(map(inputs.typed, ("tools", "wrench_length", "wrench_max")))
    )


def _of_wrench(name: str, **more: Any) -> Any:
    field = next(f for f in WRENCH_SETTING.fields if f.name == name)
    return replace(field, required=False, **more)


def _of_order(name: str) -> Any:
    field = TIGHTENING_ORDER.field(name)
    assert field is not None
    return field


class TighteningPlanInputs(WrenchInputs, CalibrationInputs):
    """Inputs of ``tightening_plan``."""

    positions = _of_order("positions")
    groups = table(
        "groups",
        (
            words("name", "Group", example='"long"'),
            listing("bolts", words("bolts", "Bolt"), "Its bolts", example='"1; 2; 3; 4"'),
        ),
        "Groups of bolts",
        required=False,
        help="only for a stage such as “30 N·m group long”, which is for some of the bolts",
        example='[{"name": "long", "bolts": "1; 2; 3; 4"}]',
        group="Map",
    )
    stages = replace(
        STAGES[0],
        help="in order, separated by semicolons: 40 Nm; +85–95°. Also possible: loosen 360°; repeat 40 Nm; "
        "check >= 60 Nm; wait 10 min. A stage may end with group NAME, order 3 4 2 1, or both",
    )
    stages_source = replace(
        STAGES[1], help="document, edition, page; without it nothing shows that this is the maker's programme"
    )
    singly = listing(
        "singly",
        integer("singly", "Stage", at_least=1),
        "Stages done bolt by bolt",
        required=False,
        help="only if the maker says “loosen and retighten one bolt at a time”: the numbers of these stages",
        example='"3; 4"',
        group="Programme",
    )
    order = _of_order("order")
    order_source = replace(_of_order("order_source"), needs=())  # a stage may hold its own order
    lubricant = words(
        "lubricant",
        "Lubricant, as in the instructions",
        example='"engine oil, a film"',
        help="or “dry”; it changes the clamp load as much as the torque does",
        group="Lubricant",
    )
    lubricant_where = words(
        "lubricant_where", ("Where to put the lubricant"), example='"threads and under the head"', group="Lubricant"
    )
    wrench_length = _of_wrench("wrench_length")
    adapter_length = _of_wrench(
        "adapter_length",
        needs=("wrench_length",),
        help="0 mm, or left out, for a socket or a straight extension",
    )
    adapter_angle = _of_wrench("adapter_angle")
    wrench_min = _of_wrench("wrench_min")
    wrench_max = _of_wrench("wrench_max")
    wrench_range_source = _of_wrench("wrench_range_source")
    tools = words(
        "tools",
        "Wrench and angle gauge, serial numbers",
        required=False,
        example='"TW-2, AG-1"',
        group="Wrench and adapter",
    )
    calibration_due = _of_wrench("calibration_due")
    calibration_source = _of_wrench("calibration_source")
    date_used = _of_wrench("date_used")
    temperature = quantity(
        "temperature",
        degC,
        "Temperature of the engine",
        required=False,
        example='"18 degC"',
        group="On the day",
        help="tighten on a cold engine, unless the instructions say otherwise",
    )
    peak_tolerance, peak_tolerance_source = sourced_limit(
        "peak_tolerance",
        pct,
        PEAK_TOLERANCE,
        above=0.0,
        below=1.0,
        example='"15 %"',
        group="Peak torque",
    )


TIGHTENING_PLAN = Working(
    name="tightening_plan",
    title="Tightening plan",
    question="which bolt, at which stage, in which order, and what do I set on the wrench",
    phase="tighten",
    inputs=TighteningPlanInputs,
    run=run,
    cautions=(
        GOVERNS,
        WHOLE_PATTERN,
        SHEAR,
        PAST_THE_MARK,
        SOFT,
    ),
    former=Former(
        labels={
            "Programme from a source": ("Stages from a source",),
            "Every bolt on the map is tightened": ("Every bolt on the map is in the plan",),
            "Each bolt once at each stage of its group": (
                "Each bolt at each stage of its group is in the plan once",
                "Each bolt at each stage is in the plan once",
            ),
            "Settings above the wrench's smallest value": ("Settings not below the wrench's smallest value",),
            "Settings in the tested part of the range": (),
        },
    ),
)
