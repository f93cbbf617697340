"""The wheel, built from this folder, works where this folder is not: its tables and notebooks come with it."""

import os
import subprocess
import sys
import sysconfig
import venv
import zipfile
from pathlib import Path

import pytest

TOP = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", folder, TOP],
        check=True, capture_output=True, text=True,
    )  # fmt: skip
    return next(folder.glob("*.whl"))


@pytest.fixture(scope="module")
def command(wheel, tmp_path_factory):
    """``shoplib`` of a new environment: the wheel is installed there, its dependencies are those of the tests."""
    place = tmp_path_factory.mktemp("venv")
    venv.create(place, with_pip=False, symlinks=os.name != "nt")
    python = place / ("Scripts" if os.name == "nt" else "bin") / "python"
    target = subprocess.run(
        [python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))"],
        check=True,
        capture_output=True,
        text=True,
    ).stdout.strip()
    subprocess.run(
        [sys.executable, "-m", "pip", "install", "--quiet", "--no-deps", "--no-index", "--target", target, wheel],
        check=True, capture_output=True,
    )  # fmt: skip
    (Path(target) / "dependencies.pth").write_text(sysconfig.get_path("purelib"))  # their own .pth files are not read
    home = tmp_path_factory.mktemp("home")
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONPATH"}
    environment |= {"XDG_DATA_HOME": str(home / "data"), "SHOPLIB_STORE": str(home / "jobs.db"), "HOME": str(home)}

    def run(*arguments):
        ran = subprocess.run(
            [python, "-m", "shoplib.cli", *map(str, arguments)],
            cwd=home, env=environment, capture_output=True, text=True, check=False, timeout=300,
        )  # fmt: skip
        return ran.returncode, ran.stdout + ran.stderr

    run.python, run.home, run.environment = python, home, environment
    return run


def test_it_holds_the_tables_the_notebooks_and_nothing_of_the_tests(wheel):
    names = zipfile.ZipFile(wheel).namelist()
    for part in ("shoplib/_data/reference/", "shoplib/_data/demo/", "shoplib/_notebooks/", "shoplib/sheet/template/"):
        assert any(n.startswith(part) for n in names), part
    runs = "shoplib/desk/static/jupyter/labextensions/shoplib-run/"  # what runs a notebook when it is opened
    assert {runs + "package.json", runs + "static/run.js"} <= set(names)
    assert not [n for n in names if n.startswith(("tests", "shoplib/tests")) or n.endswith(".pyc")]


def test_it_works_without_this_folder(command):
    where = "import shoplib; print(shoplib.__file__)"
    found = subprocess.run([command.python, "-c", where], cwd=command.home, env=command.environment, capture_output=True,
                           text=True, check=True).stdout  # fmt: skip
    assert str(TOP) not in found
    assert command("--help")[0] == 0
    code, said = command(
        "work", "preload_from_torque", "torque=40 N*m", "thread=M10x1.5", "mu_thread=0.12", "mu_head=0.12"
    )
    assert code == 0 and "kN" in said, said
    assert command("import", TOP / "data" / "demo" / "whole_job.json")[0] == 0
    code, said = command("sheet", "--job", "26-027")
    assert code == 0, said
    (sheet,) = command.home.rglob("*26-027*.pdf")
    assert command("verify", sheet)[0] == 0
    assert command("print", "degree_disc")[0] == 0
    assert command("store", "check")[0] == 0
