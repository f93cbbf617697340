"""mypy finds a misspelt input and a misspelt keyword of a formula: it is run on copies in which one was misspelt."""

import subprocess
import sys
from pathlib import Path
from typing import get_type_hints

import pytest

from shoplib.topics import all_workings

ROOT = Path(__file__).parents[2]
TOPICS = ROOT / "shoplib" / "topics"


def mypy(folder, module, *misspelt):
    """What mypy says about a copy of a module, outside the package, in which one word was replaced by another."""
    text = (TOPICS / module).read_text(encoding="utf-8")
    if misspelt:
        assert misspelt[0] in text
        text = text.replace(*misspelt)
    copy = (
        folder / f"copy_{len(list(folder.iterdir()))}.py"
    )  # mypy's cache takes a text of equal size and second as known
    copy.write_text(text, encoding="utf-8")
    command = [sys.executable, "-m", "mypy", "--config-file", str(ROOT / "pyproject.toml"), str(copy)]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False).stdout


def test_a_misspelt_input_and_a_misspelt_keyword_are_found(tmp_path):
    module = "skim/cam_retard.py"
    assert "Success" in mypy(tmp_path, module)
    found = mypy(tmp_path, module, "D=inputs.sprocket_diameter", "D=inputs.sprocket_diamater")
    assert '"DriveInputs" has no attribute "sprocket_diamater"' in found
    found = mypy(
        tmp_path, module, "z=float(inputs.teeth))\n        worksheet", "zz=float(inputs.teeth))\n        worksheet"
    )
    assert 'Unexpected keyword argument "zz" for "step" of "Worksheet"' in found
    found = mypy(tmp_path, module, "Delta_l=slack", "Delta_ll=slack")
    assert 'Unexpected keyword argument "Delta_ll"' in found
    found = mypy(tmp_path, "preload/friction_evaluation.py", "nut_factor(at.torque,", "nut_factor(at.torqe,")
    assert '"FrictionEvaluationInputs" has no attribute "torqe"' in found


@pytest.mark.parametrize("working", all_workings().values(), ids=list(all_workings()))
def test_a_run_reads_the_inputs_that_its_working_declares(working):
    first = next(iter(get_type_hints(working.run).values()))
    assert first is working.inputs or working.name == "engine_card"  # which reads a list of fields by name
