"""Thread geometry and the loads a thread carries.  SI throughout."""

from __future__ import annotations

import functools
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from shoplib.core.formula import formula
from shoplib.core.rounding import at_most, below, same
from shoplib.core.units import MPa, Unreadable, kN, mm, mm2
from shoplib.physics.tables import number, table

INCH = 25.4e-3
KSI = 6894757.293168


@formula(symbol="d_2", source="ISO 724 (metric), ASME B1.1 (inch), basic pitch diameter")
def pitch_diameter(d: mm, P: mm) -> mm:
    """Pitch diameter of a 60° thread."""
    return d - 0.649519 * P


@formula(symbol="d_3", source="ISO 898-1, minor diameter of the external thread")
def minor_diameter(d: mm, P: mm) -> mm:
    """Minor diameter d3 of the external 60° thread."""
    return d - 1.226869 * P


@formula(symbol="d_r", source="Shigley, 9th edition, note to Table 8-2: d_r = d − 1.299 038 p")
def minor_diameter_inch(d: mm, P: mm) -> mm:
    """Root diameter on which the tabulated stress area of a unified thread rests; not its bolt's minor diameter."""
    return d - 1.299038 * P


@formula(
    symbol="d_3",
    source="ASME B1.1, UNR external minor diameter, thread height 0.595 39 P (from memory, not checked)",
)
def minor_diameter_unified(d: mm, P: mm) -> mm:
    """Minor diameter of the external unified thread with a rounded root."""
    return d - 1.190778 * P


@formula(symbol="A_s", source="ISO 898-1, nominal stress area")
def stress_area(d_2: mm, d_3: mm) -> mm2:
    """Nominal stress area of a 60° thread, from the mean of its pitch and minor diameters."""
    return np.pi / 4 * ((d_2 + d_3) / 2) ** 2


@formula(symbol="A_0", source="area of a circle")
def circle_area(d_0: mm) -> mm2:
    """Area of a round section."""
    return np.pi / 4 * d_0**2


@formula(symbol="d_S", source="VDI 2230-1:2003, calculation step R7 (step not checked against the standard)")
def stress_diameter(d_2: mm, d_3: mm) -> mm:
    """Diameter of the thread's stress section."""
    return (d_2 + d_3) / 2


@formula(symbol="F", source="definition of stress")
def load_at(R: MPa, A_s: mm2) -> kN:
    """Load at which a stress R acts on the stress area."""
    return R * A_s


class UnknownThread(Unreadable):
    """A thread that cannot be told from what was typed."""


@dataclass(frozen=True)
class Thread:
    """A 60° thread: nominal diameter and pitch in metres."""

    name: str
    d: float
    P: float
    inch: bool
    assumed: str = ""  # what had to be assumed in reading it
    left: bool = False  # left-hand

    @property
    def d_2(self) -> float:
        """Pitch diameter, m."""
        return float(pitch_diameter(self.d, self.P))

    @property
    def d_3(self) -> float:
        """Minor diameter, m."""
        return float(self.minor(self.d, self.P))

    @property
    def minor(self) -> Callable[..., Any]:
        """The formula of the minor diameter: metric and inch standards differ."""
        return minor_diameter_inch if self.inch else minor_diameter

    @property
    def A_s(self) -> float:
        """Stress area, m²."""
        return float(stress_area(self.d_2, self.d_3))

    @property
    def d_S(self) -> float:
        """Diameter of the stress section, m."""
        return float(stress_diameter(self.d_2, self.d_3))


_METRIC = re.compile(r"M\s*(\d{1,3}(?:[.,]\d+)?)\s*(?:[x×X*]\s*(\d(?:[.,]\d+)?))?\s*(?:-\s*\d[a-zA-Z]\d?[a-zA-Z]?)?")
_INCH = re.compile(
    r"(\d+ \d+/\d+|\d+/\d+|\d+)(?:\s*in|\")?\s*-\s*(\d{1,2})\s*(UNC|UNF|UN)?(?:\s*-\s*\d[AB])?", re.IGNORECASE
)
_LEFT = re.compile(r"[\s-]*(?:LH|left(?:[\s-]hand)?)$", re.IGNORECASE)
EXAMPLE = '"M10x1.25"'


def read_thread(typed: str) -> Thread:
    """Read "M10x1.25", "M10" (coarse, said so), "3/8-16 UNC", "M10x1.5 LH".

    :param typed: designation of the thread; text
    :returns: the thread; its lengths in m
    :raises UnknownThread: no such thread in the tables, or not a designation
    """
    text, left = without_hand(typed)
    thread = _read_right(text)
    return replace(thread, name=f"{thread.name} LH", left=True) if left else thread


def without_hand(typed: str) -> tuple[str, bool]:
    """The name of a thread without its hand, and whether that is left: "M10 LH" gives ("M10", True).

    :param typed: designation of the thread; text
    :returns: designation without the hand, and whether it is left
    """
    text, found = _LEFT.subn("", typed.strip())
    return text, bool(found)


def _read_right(typed: str) -> Thread:
    text = typed.strip().replace("−", "-").replace("–", "-")
    if len(text) > 40:
        raise UnknownThread("is too long for a thread")
    if match := _METRIC.fullmatch(text):
        d, P = (float(x.replace(",", ".")) if x else None for x in match.groups())
        assert d is not None
        assumed = ""
        if P is None:
            coarse = {number(r, "d_mm"): number(r, "P_mm") for r in table("threads_metric") if r["series"] == "coarse"}
            P = coarse.get(d)
            if P is None:
                raise UnknownThread(f'"{text}" has no coarse pitch in the table; type the pitch too')
            assumed = f"M{d:g} is read as the coarse thread, pitch {P:g} mm"
        if not 0.1 * P < d < 200 or not 0.04 * d < P < 0.3 * d:
            raise UnknownThread(f'"{text}" is no metric thread: a pitch of {P:g} mm does not belong to {d:g} mm')
        return Thread(f"M{d:g}x{P:g}", d * 1e-3, P * 1e-3, False, assumed)
    if match := _INCH.fullmatch(text):
        size, per_inch, series = match.groups()
        whole, _, fraction = size.rpartition(" ")
        top, _, bottom = fraction.partition("/")
        if bottom and int(bottom) == 0:
            raise UnknownThread(f'"{text}" divides by zero')
        d_in = (int(whole) if whole else 0) + int(top) / int(bottom or 1)
        known = {(number(r, "d_in"), r["series"]): r["threads_per_inch"] for r in table("threads_inch")}
        series = (series or "").upper()
        if series in ("UNC", "UNF") and known.get((d_in, series)) not in (None, per_inch):
            raise UnknownThread(
                f'"{text}": the {series} thread of that size has {known[d_in, series]} threads per inch'
            )
        P_in = 1 / int(per_inch) if int(per_inch) else 0.0
        if not 0.04 * d_in < P_in < 0.3 * d_in:
            raise UnknownThread(f'"{text}" is no inch thread: {per_inch} threads per inch do not belong to {size} in')
        return Thread(f"{size}-{per_inch} {series}".strip(), d_in * INCH, P_in * INCH, True)
    raise UnknownThread(f'"{text}" is not a thread')


@dataclass(frozen=True)
class PropertyClass:
    """Minimum strengths in Pa; None where the standard gives none."""

    name: str
    standard: str
    R_m: float | None
    R_p: float
    S_p: float | None


def property_classes() -> tuple[str, ...]:
    """Every class and grade in the tables.

    :returns: the names, metric classes first
    """
    rows = (*table("property_classes"), *table("property_grades_inch"))
    return tuple(dict.fromkeys(r["property_class"] for r in rows))


@functools.lru_cache(maxsize=512)
def property_class(name: str, thread: Thread) -> PropertyClass | None:
    """Strengths of a class for a thread; None outside the standard's range (metric classes, inch grades).

    :param name: class or grade; text
    :param thread: the thread; a Thread
    :returns: the strengths; Pa
    """
    for rows, unit, length, stress in (
        (table("property_classes"), "mm", 1e-3, 1e6),
        (table("property_grades_inch"), "in", INCH, KSI),
    ):
        if thread.inch != (unit == "in"):
            continue
        tag = "MPa" if unit == "mm" else "ksi"
        for r in rows:
            low, high = number(r, f"above_d_{unit}", length), number(r, f"to_d_{unit}", length)
            assert low is not None
            assert high is not None
            if r["property_class"] == name and below(low, thread.d) and at_most(thread.d, high):
                R_p = number(r, f"R_p_{tag}", stress)
                assert R_p is not None
                R_m, S_p = number(r, f"R_m_{tag}", stress), number(r, f"S_p_{tag}", stress)
                return PropertyClass(name, r["standard"], R_m, R_p, S_p)
    return None


@functools.lru_cache(maxsize=512)
def strongest(thread: Thread) -> tuple[str, float | None]:
    """Name and tensile strength (Pa) of the strongest class or grade in the tables for a thread.

    :param thread: the thread; a Thread
    :returns: name, and tensile strength in Pa; an empty name where the tables have none
    """
    found = [c for name in property_classes() if (c := property_class(name, thread)) is not None]
    best = max(found, key=lambda c: c.R_m or 0.0, default=None)
    return ("", None) if best is None else (best.name, best.R_m)


@functools.lru_cache(maxsize=512)
def hexagon_bearing(d: float) -> tuple[float, float, str] | None:
    """Washer-face and hole diameter (m) of a metric hexagon head, with their origin.

    :param d: nominal diameter; m
    :returns: washer face and hole in m, and the source; None where the table has no such size
    """
    for r in table("hexagon_bearing"):
        if same(number(r, "d_mm", 1e-3) or 0.0, d):
            d_w, d_h = number(r, "d_w_mm", 1e-3), number(r, "d_h_mm", 1e-3)
            assert d_w is not None
            assert d_h is not None
            return d_w, d_h, r["origin"]
    return None
