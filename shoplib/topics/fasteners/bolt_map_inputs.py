"""The inputs of ``fastener_log``: the places of the bolts, and what is known about each."""

from __future__ import annotations

from dataclasses import replace

from shoplib.core.conditions import one_of
from shoplib.core.fields import Field, choice, integer, listing, quantity, table, words
from shoplib.core.inputs import Inputs
from shoplib.core.units import mm, unit_of

MM = unit_of(mm)


COMMON = "common practice, no source"


RIGHT, LEFT = "right", "left"


NEW, REUSED, NO_BOLT = "new", "re-used", "no bolt"


HOLES = ("blind", "through", "wet")


YES, NO, NOT_CHECKED = "yes", "no", "not checked"


GAUGE = "gauge the pitch of the bolt, the old bolt and the hole; never force a bolt"


LONGEST_NAME = 40


PLACE = (
    words("name", "Bolt", example='"1"', help="as on the map"),
    quantity("x", mm, "x", required=False, needs=("y",), example='"90 mm"'),
    quantity("y", mm, "y", required=False, needs=("x",), example='"80 mm"'),
)


FACTS = (
    words("thread", "Thread", required=False, example='"M10x1.25"', help="or 3/8-16 UNC; for a left-hand thread add "
                                                                         "LH"),
    quantity("pitch_bolt", mm, "Pitch gauged, bolt", required=False, above=0.0, states=("not gauged",),
             example='"1.25 mm"', help="the bolt to be fitted; 16 threads per inch is 1/16 in"),
    quantity("pitch_hole", mm, "Pitch gauged, hole", required=False, above=0.0, states=("not gauged",),
             example='"1.25 mm"', help="in the hole itself, or on the bolt that came out of it"),
    quantity("length", mm, "Length under the head", required=False, above=0.0, example='"110 mm"'),
    choice("washer", "Washer", ("none", "flat", "captive", "hardened", "conical", "sealing", "other"), required=False,
           example="flat"),
    choice("hole", "Hole", HOLES, required=False, example="blind", help="wet: the hole opens into coolant or oil"),
    choice("hand", "Hand of the thread", (RIGHT, LEFT), required=False, example=RIGHT),
    choice("use", "New or re-used", (NEW, REUSED, NO_BOLT), required=False, example=NEW, help="leave it empty if "
                                                                                              "not decided"),
    words("reason", "Reason for re-use", required=False, example='"length 109.4 mm within the limit, manual page 41"',
          help="what allows it; see “Re-use of bolts”"),
    words("lubricant", "Lubricant", required=False, example='"engine oil 15W-40, manual page 41"',
          help="as the instructions say; if they ask for none, type: none (dry), and where they say so"),
    words("lubricated", "Lubricated at", required=False, example='"thread and under the head"'),
    choice("dry", "Hole dry", (YES, NO, NOT_CHECKED), required=False, example=YES),
    choice("chased", "Hole chased", (YES, NO, NOT_CHECKED), required=False, example=YES),
)  # fmt: skip


FACT_NAMES = tuple(f.name for f in FACTS)


SHARED = "The same for all, unless a row differs"


def _shared(f: Field) -> Field:
    return replace(f, required=False, group=SHARED)


_REGULAR = ("rows", "columns")


class FastenerLogInputs(Inputs):
    """Inputs of ``fastener_log``."""

    combinations = (one_of("bolts", ("rows", "columns"), shared=("bolts", "rows", "columns")),)
    rows = integer("rows", "Rows of bolts", required=False, needs=("columns",), at_least=1, at_most=30,
                   example="2", group="Map",
                   help="for a regular map; otherwise give x and y in the table")  # fmt: skip
    columns = integer(
        "columns", "Bolts in a row", required=False, needs=("rows",), at_least=1, at_most=60, example="5", group="Map"
    )
    pitch_along = quantity(
        "pitch_along", mm, "From bolt to bolt in a row", required=False, needs=_REGULAR, above=0.0, example='"90 mm"',
        group="Map",
    )  # fmt: skip
    pitch_across = quantity(
        "pitch_across", mm, "From row to row", required=False, needs=_REGULAR, above=0.0, example='"80 mm"', group="Map"
    )
    names = listing(
        "names", words("names", "Bolt"), "Names, row by row", required=False, needs=_REGULAR, example='"1; 2; 3; 4"',
        help="if left empty: 1, 2, 3, …; letters or a mirrored count are fine too", group="Map",
    )  # fmt: skip
    without = listing("without", words("without", "Bolt"), "Places to leave out", required=False, example='"5; 10"',
                      help="places in rows × bolts in a row that have no bolt hole", group="Map")  # fmt: skip
    thread, pitch_bolt, pitch_hole, length, washer, hole, hand, use, reason, lubricant, lubricated, dry, chased = (
        _shared(f) for f in FACTS
    )
    bolts = table("bolts", (*PLACE, *FACTS), "Bolt by bolt", required=False, csv=True, group="Bolt by bolt",
                  help="a row changes a bolt of the map, or adds one; an empty cell means “as above”",
                  example='[{"name": "1", "x": "0 mm", "y": "0 mm", "thread": "M10x1.25"}]')  # fmt: skip
