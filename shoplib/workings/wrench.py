"""What to set on the torque wrench in use."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from shoplib.checks import Outcome, Value
from shoplib.core.rounding import below, same
from shoplib.look import ACCENT, INK, SOFT, WARM, round_up, settle
from shoplib.physics import wrench as x
from shoplib.physics.torque_units import misread_ratio, whole
from shoplib.units import (
    N_m,
    Unit,
    Unreadable,
    bar,
    deg,
    inch,
    kgf_m,
    kPa,
    lbf_ft,
    lbf_in,
    mm,
    one,
    pct,
    read,
    uin,
    um,
    unit_of,
)
from shoplib.working import GOVERNS, Inputs, Result, Working, Worksheet, choice, date, quantity, words

STANDARD_RANGE = "ISO 6789-1:2017, 5.1.3, quoted"


def run(i: Inputs, w: Worksheet) -> None:
    """Setting with the adapter in use, what an uncorrected setting would do, range and calibration."""
    look_at_wrench(i, w)
    w.door()
    geometry = {"L": i.wrench_length, "E": i.adapter_length, "alpha": i.adapter_angle}
    setting = w.step("Setting on the wrench", x.wrench_setting, note="", digits=4, M=i.torque, **geometry)
    w.result("setting", setting, N_m, "Set on the wrench")
    uncorrected = w.step(
        "If set without the correction", x.torque_at_bolt, note="", digits=4, M_set=i.torque, **geometry
    )
    w.result("uncorrected_torque", uncorrected, N_m, "Torque at the bolt if not corrected")
    w.result("over_torque", uncorrected / i.torque - 1, pct, "Error if not corrected")
    deviation = i.deviation_percent
    if deviation is None:
        deviation = x.permissible_deviation(setting, i.wrench_max)
        w.assume(
            f"permissible deviation of the wrench ±{100 * deviation:g} % (ISO 6789-1:2017, from memory; "
            "4 % where its largest value is above 10 N·m, else 6 %)"
        )
    w.result("torque_low", w.step("Lower end", x.torque_limit, M=i.torque, delta=-deviation), N_m, "Torque, lower end")
    w.result("torque_high", w.step("Upper end", x.torque_limit, M=i.torque, delta=deviation), N_m, "Torque, upper end")
    if i.adapter_length == 0:
        w.caution("A straight socket extension along the bolt's axis changes nothing in the setting.")
    elif same(float(np.cos(i.adapter_angle)), 0.0, 1.0):
        w.caution("Square to the wrench the adapter changes nothing in the setting; keep it truly square.")
    check_range(i, w, "Setting", setting, setting, settings_at_other_angles(i, i.torque, i.torque))
    check_calibration(i, w)


def look_at_wrench(i: Inputs, w: Worksheet) -> None:
    """Refuse what no wrench can be; say what was taken as given."""
    if i.given("wrench_length", "adapter_length"):
        lever = i.wrench_length + i.adapter_length * np.cos(i.adapter_angle)
        if lever <= 0.05 * i.wrench_length:
            w.refuse("adapter_length", "reaches back past the grip; this wrench cannot be used so")
        if i.adapter_length > 0 and not i.typed("adapter_angle"):
            w.assume("the adapter is in line with the wrench, 0°; type its angle if it is not")
    if i.given("wrench_min", "wrench_max") and i.wrench_min >= i.wrench_max:
        w.refuse("wrench_min", "must be below wrench_max")


def settings_at_other_angles(i: Inputs, low: float, high: float) -> tuple[list[float], list[float]]:
    """The lowest and the highest settings, were the adapter square to the wrench or turned back.

    Empty when the adapter does not matter.
    """
    if not i.given("wrench_length", "adapter_length") or i.adapter_length == 0:
        return [], []
    L, E = i.wrench_length, i.adapter_length
    turned = [a for a in (np.pi / 2, np.pi) if L + E * np.cos(a) > 0]
    lows, highs = ([float(x.wrench_setting(M, L, E, a)) for a in turned] for M in (low, high))
    return lows, highs


def check_range(
    i: Inputs, w: Worksheet, what: str, low: float, high: float, otherwise: tuple[list[float], list[float]]
) -> None:
    """Is a setting, or a range of settings, within the marked range of the wrench?

    ``otherwise``: the lowest and the highest setting at other angles of the adapter, which count where its angle was
    not typed.
    """
    if not i.given("wrench_max"):
        return
    lows, highs = ({"adapter_angle": values} if values else None for values in otherwise)
    source = i.wrench_range_source
    w.check(f"{what} within the wrench's range", high, "≤", i.wrench_max, N_m, source, otherwise=highs)
    remark = "" if i.given("wrench_min") else f"type {w.label('wrench_min')}: the range starts there ({STANDARD_RANGE})"
    w.check(
        f"{what} above the wrench's smallest value", low, "≥", i.wrench_min, N_m, source, remark=remark, otherwise=lows
    )
    if below(low, 0.2 * i.wrench_max):
        w.caution(
            f"{what} below a fifth of the wrench's largest value: older certificates test nothing there "
            "(ISO 6789:2003). Look at the certificate, or use a smaller wrench."
        )


CALIBRATION = "Calibration valid on the day of use"


def check_calibration(i: Inputs, w: Worksheet, *, needed: bool = False) -> None:
    """Was the calibration valid on the day of use?  ``needed``: say so where nothing was typed."""
    due, used, source = i.calibration_due, i.date_used, i.calibration_source
    if used is None and not needed:
        return
    if due is None:
        outcome, remark = Outcome.UNDECIDED if used else Outcome.NO_LIMIT, "not known: type the date that is due"
    elif used == due:
        outcome, remark = Outcome.UNDECIDED, "used on the day it is due: the certificate says whether that day counts"
    elif used > due:
        outcome, remark = Outcome.FAIL, "calibration overdue: have it checked before tightening"
    elif not source:
        outcome, remark = Outcome.NO_LIMIT, f"not yet due, but {w.label('calibration_source')} is missing"
    else:
        outcome, remark = Outcome.PASS, ""
    w.judge(CALIBRATION, f"used {used}" if used else "day of use not given", "≤",
            f"due {due}" if due else "not given", None, source, outcome, remark)  # fmt: skip


def draw(figure: Any) -> Callable[[Result], None]:
    """The wrench from above, to scale, with the arm that really works; below it what an uncorrected setting does."""
    ax, bars = figure.subplots(2, 1, height_ratios=(2.4, 1))
    ax.set_aspect("equal")
    ax.axis("off")
    ax.set(xlim=(-130, 130), ylim=(-52, 52))
    (handle,) = ax.plot([], [], color=SOFT, lw=7, solid_capstyle="round", gid="handle")
    (adapter,) = ax.plot([], [], color=ACCENT, lw=7, solid_capstyle="round", gid="adapter")
    (grip,) = ax.plot([], [], "o", ms=10, color="white", mec=INK, mew=1.4, gid="grip")
    (square,) = ax.plot([], [], "s", ms=11, color="white", mec=INK, mew=1.4, gid="square")
    (bolt,) = ax.plot([], [], "h", ms=16, color="white", mec=ACCENT, mew=2, gid="bolt")
    (drop,) = ax.plot([], [], color=WARM, lw=0.9, ls=(0, (2, 2)), gid="drop")
    (arm,) = ax.plot([], [], color=WARM, lw=1.3, marker="|", ms=8, mew=1.3, gid="arm")
    length = ax.text(0, 0, "", ha="center", va="bottom", fontsize=9, color=SOFT, gid="length")
    reach = ax.text(0, 0, "", ha="center", va="center", fontsize=9, color=ACCENT, gid="reach")
    works = ax.text(0, 0, "", ha="center", va="top", fontsize=9, color=WARM, gid="works")
    says = ax.text(0, 46, "", ha="center", va="center", fontsize=11, color=INK, gid="says")
    bars.set(xlim=(0, 100), ylim=(1.6, -0.6), xlabel="torque at the bolt, N·m")
    bars.set_yticks([0, 1], ["wanted", "not corrected"])
    bars.tick_params(axis="y", length=0)
    bars.spines[["top", "right", "left"]].set_visible(False)
    wanted = bars.barh(0, 1, 0.62, color=ACCENT).patches[0]
    wrong = bars.barh(1, 1, 0.62, color="white", edgecolor=WARM, hatch="////", lw=1.2).patches[0]
    wanted.set_gid("wanted")
    wrong.set_gid("wrong")
    boxed: Any = {"bbox": {"fc": "white", "ec": "none", "pad": 1.5}}
    error = bars.text(0, 1, "", ha="right", va="center", fontsize=9, color=INK, gid="error", **boxed)

    def move(result: Result) -> None:
        i = result.inputs
        L, E, alpha = i.wrench_length, i.adapter_length, i.adapter_angle
        along, across = float(E * np.cos(alpha)), float(E * np.sin(alpha))
        scale = min(210 / (L + max(along, 0.0)), 30 / abs(across) if across else np.inf)
        total = (L + max(along, 0.0)) * scale
        x0 = -total / 2
        head = x0 + L * scale
        tip = (head + along * scale, across * scale)
        side = 1.0 if across >= 0 else -1.0  # the arm is drawn on the side where the adapter is not
        y = -22 * side
        handle.set_data([x0, head], [0, 0])
        grip.set_data([x0], [0])
        adapter.set_data([head, tip[0]], [0, tip[1]])
        adapter.set_visible(E > 0)
        square.set_data([head], [0])
        bolt.set_data([tip[0]], [tip[1]])
        arm.set_data([x0, tip[0]], [y, y])
        drop.set_data([x0, x0, np.nan, tip[0], tip[0]], [0, y, np.nan, tip[1], y])
        length.set_position((0.6 * x0 + 0.4 * head, 5 if side > 0 else -13))
        length.set_text(f"wrench {L * 1e3:.4g} mm, centre to grip")
        reach.set_position((min(max(tip[0], -80), 92), tip[1] + 13 * side))
        turned = f", {unit_of(deg).from_si(alpha):.4g}°" if E > 0 else ""
        reach.set_text(f"adapter {E * 1e3:.4g} mm{turned}" if E > 0 else "no adapter")
        works.set_position(((x0 + tip[0]) / 2, y - 4 if side > 0 else y + 13))
        works.set_text(f"arm that works: {(L + along) * 1e3:.4g} mm")
        says.set_text(f"set {result['setting']:.4g} N·m for {i.torque:.4g} N·m at the bolt")
        uncorrected = result["uncorrected_torque"]
        wanted.set_width(i.torque)
        wrong.set_width(uncorrected)
        most = max(i.torque, uncorrected)
        settle(bars, xlim=(0, round_up(1.02 * most)))
        percent = 100 * (uncorrected / i.torque - 1)
        word = "too much" if percent > 0 else "too little"
        error.set_position((0.97 * uncorrected, 1))
        off = f"{abs(percent):.3g} % {word}" if abs(percent) > 0.005 else "no difference"
        error.set_text(f"{uncorrected:.4g} N·m: {off}")

    return move


def alt(result: Result) -> str:
    """The picture in words."""
    i = result.inputs
    angle = unit_of(deg).from_si(i.adapter_angle)
    return (
        f"Wrench of {i.wrench_length * 1e3:.4g} mm from centre to grip, with an adapter of "
        f"{i.adapter_length * 1e3:.4g} mm at {angle:.4g}°: set {result['setting']:.4g} N·m for {i.torque:.4g} N·m at "
        f"the bolt. Not corrected, the bolt would get {result['uncorrected_torque']:.4g} N·m."
    )


# ------------------------------------------------------------------------------ cards of unit pairs
ONE_RULE = "Each number is the exact quotient rounded to the nearest whole one of its last place (common practice)."
MOST_ROWS = 60
WHOLE = 1e-6  # rows: typed ends and steps divide only so exactly
MOST_ROUNDING = 0.05  # of the value: a step that rounds more becomes ten times finer (common practice, no source)


@dataclass(frozen=True)
class Column:
    """A unit on a card, and the steps to which it is rounded."""

    unit: Unit
    step: float  # in that unit
    small: float = 0.0  # up to this SI value the step is too coarse
    fine: float | None = None  # and this one is taken; without one the cell stays empty
    trade: bool = False  # the steps of the trade hold; else they become finer until rounding changes little

    def cell(self, value: float, label: str = "") -> Value:
        """The rounded value as it is printed."""
        label = label or self.unit.text
        step = self.step if value > self.small else self.fine
        if step is None:
            return Value("—", None, label)
        number = abs(self.unit.from_si(value))
        while not self.trade and number and step / 2 > MOST_ROUNDING * number:
            step /= 10
        places = max(-round(np.log10(step)), 0)
        printed = f"{whole(self.unit.from_si(value) / step) * step:.{places}f}"
        return Value(self.unit.to_si(float(printed)), self.unit, label, _digits(printed))


def _digits(printed: str) -> int:
    """How many digits a number has when it is written so."""
    return max(len(printed.partition("e")[0].replace(".", "").lstrip("0")), 1)


PSI = Unit("psi", 6894.757293168, "psi")
THOU = Unit("thou", 25.4e-6, "thou")
KINDS: dict[str, tuple[Column, ...]] = {
    # whole lbf·ft and N·m only above 10.5 N·m, as in the printed pair; below that, whole lbf·in and tenths of N·m
    "torque": (
        Column(unit_of(N_m), 1, 10.5, 0.1, trade=True),
        Column(unit_of(lbf_ft), 1, 10.5, trade=True),
        Column(unit_of(lbf_in), 1, trade=True),
        Column(unit_of(kgf_m), 0.01, trade=True),
    ),
    "length": (Column(unit_of(mm), 0.001), Column(unit_of(inch), 0.0001), Column(THOU, 0.1)),
    "roughness": (Column(unit_of(um), 0.01), Column(unit_of(uin), 1)),
    "pressure": (Column(unit_of(bar), 0.01), Column(unit_of(kPa), 1), Column(PSI, 1)),
}


def run_card(i: Inputs, w: Worksheet) -> None:
    """The rows of a card: the typed unit first, then the others, and for torque what a misreading would apply."""
    columns = KINDS[i.kind]
    ends: dict[str, float] = {}
    units: dict[str, str] = {}
    for name in ("first", "last", "step"):
        try:
            reading = read(getattr(i, name), columns[0].unit)
            ends[name], units[name] = reading.value, reading.unit
        except Unreadable as error:
            w.refuse(name, str(error), {"torque": '"40 N*m"', "length": '"0.05 mm"'}.get(i.kind, '"1 bar"'))
    w.door()
    if len(set(units.values())) > 1:
        w.refuse("step", "is not in the unit of first and last")
    lead = next((c for c in columns if c.unit.name == units["first"] or (c.unit.name, units["first"]) in SAME), None)
    if lead is None:
        carried = ", ".join(c.unit.text for c in columns)
        w.refuse("first", f"is in a unit that this card does not carry; it carries {carried}")
    if ends["first"] < 0 or (ends["first"] == 0 and i.kind == "torque"):
        w.refuse("first", "must be above zero")
    if not ends["last"] > ends["first"]:
        w.refuse("last", "must be above first")
    if ends["step"] <= 0:
        w.refuse("step", "must be above zero")
    elif (ends["last"] - ends["first"]) / ends["step"] > MOST_ROWS - 1 + WHOLE:
        w.refuse("step", f"gives more than {MOST_ROWS} rows; take a larger one")
    w.door()
    assert lead is not None
    count = int((ends["last"] - ends["first"]) / ends["step"] + WHOLE) + 1
    mistaken = unit_of(lbf_ft) if lead.unit.name == "N*m" else unit_of(N_m)
    rows = []
    for k in range(count):
        value = float(f"{ends['first'] + k * ends['step']:.12g}")
        shown = _digits(f"{lead.unit.from_si(value):.6g}")
        row = {"lead": Value(value, lead.unit, lead.unit.text, shown)}
        row |= {c.unit.name: c.cell(value) for c in columns if c is not lead}
        if i.kind == "torque":
            applied = lead.unit.from_si(value) * mistaken.si
            row["misread"] = replace(lead, fine=0.1).cell(applied, f"set in {mistaken.text} by mistake")
        rows.append(row)
    w.result("rows", rows, None, f"Card of {i.kind}")
    w.assume(ONE_RULE[0].lower() + ONE_RULE[1:-1])
    if i.kind == "torque":
        ratio = w.step("The wrong unit", misread_ratio, M_read=mistaken.si, M_meant=lead.unit.si)
        w.result("misread_ratio", ratio, one, f"{lead.unit.text} taken for {mistaken.text}: times")
        w.caution(
            f"Read the unit twice: {lead.unit.text} taken for {mistaken.text} makes it {ratio:.3g} times as much."
        )
    w.curve.update(
        range=f"{_bare(lead, ends['first'])} to {_bare(lead, rows[-1]['lead'].value)} {lead.unit.text}, every "
        f"{_bare(lead, ends['step'])} {lead.unit.text}"
    )


SAME = {("lbf*ft", "foot * pound_force"), ("in", "inch"), ("um", "micrometer"), ("uin", "microinch")}


def _bare(lead: Column, value: float) -> str:
    return f"{lead.unit.from_si(value):.6g}"


CARD = Working(
    name="conversion_card",
    title="Card of unit pairs, to print",
    question="can I have a table of these values in both units",
    phase="wrench",
    fields=(
        choice("kind", "Of what", tuple(KINDS), default="torque", group="Card"),
        words("first", "From", example='"20 N*m"', help="the unit typed here leads the card", group="Card"),
        words("last", "To", example='"120 N*m"', group="Card"),
        words("step", "In steps of", example='"5 N*m"', group="Card"),
    ),
    run=run_card,
    cautions=(
        GOVERNS,
        "A card is for reading across, not for making limits: a limit stays in the unit of its source.",
    ),
)


WORKINGS = [
    CARD,
    Working(
        name="wrench_setting",
        title="What to set on the wrench",
        question="with this adapter on the wrench, what do I set",
        phase="wrench",
        fields=(
            quantity(
                "torque", N_m, "Torque wanted at the bolt", symbol="M", above=0.0, example='"80 N*m"', group="Torque"
            ),
            quantity(
                "wrench_length",
                mm,
                "Wrench, centre of square to grip",
                symbol="L",
                above=0.0,
                plausible=(0.02, 3.0),
                example='"400 mm"',
                help="to the middle of the hand, where the pull acts",
                group="Wrench and adapter",
            ),
            quantity(
                "adapter_length",
                mm,
                "Adapter, centre to centre",
                symbol="E",
                at_least=0.0,
                plausible=(0.0, 1.5),
                example='"50 mm"',
                help="0 mm for a socket or a straight extension: they change nothing",
                group="Wrench and adapter",
            ),
            quantity(
                "adapter_angle",
                deg,
                "Adapter angle",
                symbol="alpha",
                default="0 deg",
                at_least=-2 * np.pi,
                at_most=2 * np.pi,
                example='"90 deg"',
                help="0° in line, 90° square to the wrench, 180° back along it",
                group="Wrench and adapter",
            ),
            quantity(
                "wrench_min",
                N_m,
                "Smallest value on the wrench",
                required=False,
                at_least=0.0,
                needs=("wrench_max",),
                help="the lowest value that is marked on it",
                group="Wrench and adapter",
                example='"20 N*m"',
            ),
            quantity(
                "wrench_max",
                N_m,
                "Largest value on the wrench",
                symbol="M_max",
                required=False,
                above=0.0,
                group="Wrench and adapter",
                example='"100 N*m"',
            ),
            words(
                "wrench_range_source",
                "Source: range of the wrench",
                required=False,
                help="where its smallest and largest value are written; without it the range can fail, never pass",
                example='"marked on wrench TW-2"',
                group="Wrench and adapter",
            ),
            quantity(
                "deviation_percent",
                pct,
                "Deviation of the wrench",
                symbol="delta",
                required=False,
                above=0.0,
                below=1.0,
                help="from its certificate; otherwise that of the standard, said so",
                example='"4 %"',
                group="Calibration",
            ),
            date("calibration_due", "Calibration due", required=False, needs=("date_used",), group="Calibration"),
            words(
                "calibration_source",
                "Source: calibration due",
                required=False,
                help="certificate and its number; without it an overdue date fails, and no date passes",
                example='"certificate 2026-114"',
                group="Calibration",
            ),
            date("date_used", "Date of use", required=False, group="Calibration"),
        ),
        run=run,
        cautions=(
            GOVERNS,
            "Pull at the middle of the grip, steadily; a click says that a torque was reached, not a clamp.",
            "Check how the maker of the wrench measures its length before using any adapter.",
        ),
        draw=draw,
        alt=alt,
        figure_size=(6.2, 3.6),
    ),
]
