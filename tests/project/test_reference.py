"""The reference tables are what their description says: columns, units, sources."""

import csv
import json

import pytest

from shoplib.core.paths import DATA

FOLDER = DATA / "reference"
PACKAGE = json.loads((FOLDER / "datapackage.json").read_text(encoding="utf-8"))
RESOURCES = {r["path"]: r for r in PACKAGE["resources"]}


def test_every_table_is_described_and_every_description_has_its_table():
    assert set(RESOURCES) == {p.name for p in FOLDER.glob("*.csv")}


@pytest.mark.parametrize("path", list(RESOURCES))
def test_a_table_is_what_it_says(path):
    described = RESOURCES[path]
    with (FOLDER / path).open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    fields = described["schema"]["fields"]
    assert rows[0] == [f["name"] for f in fields]
    assert described["sources"], "each table its source"
    assert all(s["title"] for s in described["sources"])
    for row in rows[1:]:
        assert len(row) == len(fields)
        for field, cell in zip(fields, row, strict=True):
            if field["type"] in ("number", "integer"):
                assert "unit" in field, f"{path}: {field['name']} names no unit"
                if cell:
                    float(cell)
            else:
                assert field["type"] == "string"
