"""The light stays light, and imports go downwards only."""

import subprocess
import sys
from pathlib import Path

import pytest

HEAVY = ("pint", "pandas", "matplotlib", "ipywidgets", "typst", "scipy", "CoolProp")


def loaded_by(statement):
    code = f"{statement}; import sys; print(*[m for m in {HEAVY!r} if m in sys.modules])"
    return subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()


@pytest.mark.parametrize("statement", ["import shoplib", "import shoplib.topics; shoplib.topics.all_workings()"])
def test_importing_is_light(statement):
    assert loaded_by(statement) == []


def test_a_form_with_common_units_does_not_wait_for_pint():
    form = "from shoplib.desk import Form; assert Form('preload_from_torque', torque='{}', thread='M10x1.5', mu_thread='0.12', mu_head='0.12').result"
    for torque in ("40 N*m", "30 ft-lb"):
        assert loaded_by(form.format(torque)) == ["matplotlib", "ipywidgets"]
    assert "pint" in loaded_by(form.format("30 lbf*yard"))


def test_matplotlib_is_left_as_it_was_but_for_its_tables_of_properties():
    code = (
        "from shoplib.desk import LiveFigure; import matplotlib.artist as a; from matplotlib.patches import Patch;"
        "print('facecolor' in a.kwdoc(Patch), 'antialiased' in (Patch.__init__.__doc__ or ''))"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert ran.split() == ["True", "False"]


def test_floors():
    root = Path(__file__).parents[2]
    tool = Path(sys.executable).with_name("lint-imports")
    ran = subprocess.run([tool, "--no-cache"], cwd=root, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stdout


def test_only_the_renderer_imports_typst():
    package = Path(__file__).parents[2] / "shoplib"
    users = [
        p.relative_to(package).as_posix()
        for p in package.rglob("*.py")
        if "\nimport typst" in p.read_text(encoding="utf-8")
    ]
    assert users == ["sheet/render.py"]


def test_one_working_is_found_without_importing_the_rest():
    code = "import sys; from shoplib.topics import get; get('torque_units'); print('shoplib.topics.coolant' in sys.modules)"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "False"


def test_each_working_is_found_by_its_name():
    from shoplib.topics import all_workings, get

    assert all(get(name) is working for name, working in all_workings().items())


def test_no_working_needs_the_libraries_that_only_tests_compare_with():
    code = """
import gzip, json, sys
sys.modules.update({"CoolProp": None, "iapws": None})
from shoplib.core.errors import BadInput
from shoplib.topics import all_workings, get
with gzip.open("tests/archive/0.1.0/workings.json.gz") as file:
    rows = json.load(file)
ran = set()
for row in rows:
    try:
        ran.add(get(row["working"])(row["inputs"]).working.name)
    except BadInput:
        pass
assert len(ran) > 50, set(all_workings()) - ran
"""
    subprocess.run([sys.executable, "-c", code], check=True)
