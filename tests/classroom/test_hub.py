"""The hub's configuration at a real JupyterHub with its proxy: two learners, kernels and a server killed, nothing lost."""

import importlib.util
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest
from traitlets.config import Config

from tests.record_fixtures import server

ROOT = Path(__file__).parents[2]
PROXY = os.environ.get("SHOPLIB_HUB_PROXY") or shutil.which("configurable-http-proxy")


@pytest.mark.skipif(
    not os.environ.get("SHOPLIB_REQUIRE_HUB") and (importlib.util.find_spec("jupyterhub") is None or PROXY is None),
    reason="needs the extra hub (pip) and configurable-http-proxy (npm)",
)
def test_two_learners_at_a_real_hub():
    server()
    command = [sys.executable, "-m", "tests.bench.hub_class", "2"]
    ran = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=600, check=False)
    assert ran.returncode == 0, ran.stdout[-1000:] + ran.stderr[-6000:]
    assert re.search(r"acknowledged 12, lost 0", ran.stdout), ran.stdout


def test_a_server_of_the_hub_gets_what_runs_a_notebook(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("SHOPLIB_HUB_PASSWORD", "of the trial")
    config, path = Config(), ROOT / "binder/hub/jupyterhub_config.py"
    exec(compile(path.read_text(encoding="utf-8"), path, "exec"), {"get_config": lambda: config})
    spawner = SimpleNamespace(user=SimpleNamespace(name="ann"), environment={"JUPYTER_PATH": "/elsewhere"})
    config.Spawner.pre_spawn_hook(spawner)
    ours, *others = spawner.environment["JUPYTER_PATH"].split(os.pathsep)
    assert (Path(ours) / "labextensions/shoplib-run/package.json").is_file()
    assert others == ["/elsewhere"]


def test_every_variable_of_the_hub_is_explained():
    config = (ROOT / "binder/hub/jupyterhub_config.py").read_text(encoding="utf-8")
    guide = (ROOT / "binder/hub/README.md").read_text(encoding="utf-8")
    used = {f"SHOPLIB_HUB_{name}" for name in re.findall(r'\bof\("(\w+)"', config)}
    assert len(used) > 15
    assert sorted(name for name in used if f"`{name}`" not in guide) == []
