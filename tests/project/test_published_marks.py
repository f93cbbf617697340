"""Every published check says where it comes from, in one of five words."""

import csv

import pytest

from tests.published.published import FOLDER

MARKS = {"read", "quoted", "from memory", "common practice", "derived"}


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.csv")), ids=lambda p: p.stem)
def test_source_and_mark_of_every_row(path):
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert rows
    for n, row in enumerate(rows, 2):
        assert row["source"].strip(), f"line {n} names no source"
        assert row["mark"] in MARKS, f"line {n}: {row['mark']!r}"
        assert None not in row, f"line {n} has more cells than the heading"
