"""The tables of units that stand beside the code, from pint: ``python -m tests.unit_tables`` writes them.

They are what pint says, kept so that a common unit is read without the third of a second that pint takes to start.
``tests/core/test_units.py`` compares them with pint, digit for digit.
"""

import csv
import io
from pathlib import Path

from shoplib.core import unit_names, units

FOLDER = Path(unit_names.__file__).parent


def wanted():
    """The names of all units in which a value is shown."""
    found = (getattr(x, "__metadata__", (None,))[0] for x in vars(units).values())
    return sorted({u.name for u in found if isinstance(u, units.Unit)})


def names():
    """Every unit that has a spelling, or in which a value is shown, as pint spells it."""
    return sorted({*unit_names.SPELLED, *map(unit_names.pint_name, wanted())} - {"K"})


def kinds(of=None):
    """unit, kind, SI size of one, SI units; an absolute temperature has no size."""
    yield "unit", "kind", "size", "base"
    for name in of or names():
        if name in ("degC", "degF"):
            yield name, unit_names.kind_by_pint(name), "", ""
        else:
            size, base = unit_names.base_by_pint(name)
            yield name, unit_names.kind_by_pint(name), repr(size), base


def factors(of=None):
    """unit, wanted unit, factor, offset: only where the one can be read as the other."""
    yield "unit", "wanted", "factor", "offset"
    for name in of or names():
        for target in wanted():
            found = unit_names.factor_by_pint(name, target)
            if found is not None:
                yield name, target, repr(found[0]), repr(found[1])


def text(rows):
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()


if __name__ == "__main__":
    for file, rows in (("unit_kinds.csv", kinds()), ("unit_factors.csv", factors())):
        (FOLDER / file).write_text(text(rows), encoding="utf-8")
