"""mypy finds a misspelt keyword of a formula: it is run on a module in which one was misspelt on purpose."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
RIGHT = """
from shoplib.physics import skim

drop: float = skim.net_drop(c_H=0.2e-3, c_B=0.0, g=0.0)
"""


def mypy(folder, text):
    module = folder / "calls_a_formula.py"
    module.write_text(text, encoding="utf-8")
    command = [sys.executable, "-m", "mypy", "--config-file", str(ROOT / "pyproject.toml"), str(module)]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False).stdout


def test_a_misspelt_keyword_of_a_formula_is_found(tmp_path):
    assert "Success" in mypy(tmp_path, RIGHT)
    found = mypy(tmp_path, RIGHT.replace("c_H=", "c_HH="))
    assert 'Unexpected keyword argument "c_HH" for "net_drop"' in found
