"""Reading the published check values: one CSV a source, the printed digits are the tolerance."""

import csv
from pathlib import Path

FOLDER = Path(__file__).parent


def rows(name):
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def last_digit(printed):
    """Half a unit of the last printed digit."""
    decimals = len(printed.partition(".")[2])
    return 0.5 * 10.0**-decimals


def assert_printed(value, printed, tolerance, what=""):
    """The value agrees with what is printed: within its printed digits, or within a stated percentage."""
    if tolerance.startswith("last digit cut off"):  # the source truncates this entry: stated, not loosened
        assert 0 <= value - float(printed) < 2 * last_digit(printed), f"{what}: computed {value}, printed {printed}"
        assert value - float(printed) > last_digit(printed), f"{what}: rounds as printed; say so in the CSV"
        return
    allowed = last_digit(printed)
    if tolerance.endswith("%"):
        allowed = max(allowed, abs(float(printed)) * float(tolerance.rstrip(" %")) / 100)
    else:
        assert tolerance in ("printed digits", "exact"), tolerance
        if tolerance == "exact":
            allowed = abs(float(printed)) * 4e-16
    assert abs(value - float(printed)) <= allowed * (1 + 1e-9), (
        f"{what}: computed {value}, printed {printed} ({tolerance})"
    )
