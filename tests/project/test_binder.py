"""The folder ``binder/`` as repo2docker reads it: its dry run, without building the image."""

import json
import os
import re
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

from shoplib.core.paths import NOTEBOOKS
from shoplib.desk.server.address import free_port
from shoplib.desk.server.launcher import FIRST
from tests.browser.server import wait_for

ROOT = NOTEBOOKS.parent


@pytest.fixture(scope="module")
def dockerfile():
    command = [
        sys.executable,
        "-m",
        "repo2docker",
        "--no-build",
        "--debug",
        "--user-id",
        "1000",
        "--user-name",
        "j",
        ".",
    ]
    ran = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=120, check=False)
    assert ran.returncode == 0, ran.stderr[-2000:]
    return ran.stderr + ran.stdout


def test_the_package_is_installed_after_it_is_there(dockerfile):
    # from a file of two bytes the builder guesses a wrong encoding and installs "." before it has copied it: seen here
    copied, installed, opened = (
        dockerfile.index(step)
        for step in (
            ":1000 src/ ${REPO_DIR}/\n",
            'install --no-cache-dir -r "binder/requirements.txt"',
            "RUN ./binder/postBuild",
        )
    )
    assert copied < installed < opened


def test_it_builds_with_a_python_that_the_package_takes(dockerfile):
    found = re.search(r"python=(3)\.(\d+)", dockerfile)
    assert found
    assert (int(found[1]), int(found[2])) >= (3, 11)


def test_the_first_page_is_the_contents(tmp_path):
    subprocess.run([sys.executable, ROOT / "binder" / "postBuild", tmp_path], check=True, timeout=60)
    assert {p.name for p in tmp_path.iterdir()} == {f"jupyter_{n}_config.json" for n in ("server", "lab", "notebook")}
    for path in tmp_path.iterdir():
        (settings,) = json.loads(path.read_text(encoding="utf-8")).values()
        assert settings["default_url"].endswith(FIRST)
        if path.name == "jupyter_lab_config.json":
            (place,) = settings["extra_labextensions_path"]
            assert (Path(place) / "shoplib-run" / "package.json").is_file()
    port, log = free_port(None), tmp_path / "log"
    command = [sys.executable, "-m", "jupyterlab", "--no-browser", "--ServerApp.ip=127.0.0.1", "--allow-root",
               f"--ServerApp.port={port}", "--IdentityProvider.token=t", f"--ServerApp.root_dir={ROOT}"]  # fmt: skip
    folders = {f"JUPYTER_{n}_DIR": str(tmp_path / n.lower()) for n in ("DATA", "RUNTIME")}
    environment = {**os.environ, **folders, "JUPYTER_CONFIG_DIR": str(tmp_path)}
    with log.open("wb") as out:
        server = subprocess.Popen(command, env=environment, stdout=out, stderr=subprocess.STDOUT)
    try:
        wait_for(f"http://127.0.0.1:{port}/api/status?token=t", server, log)
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/?token=t", timeout=20) as answer:
            assert answer.url.partition("?")[0].endswith(f"/lab/tree/notebooks/{FIRST}")
            assert "shoplib-run" in answer.read().decode(), "a notebook runs when it is opened"
    finally:
        server.terminate()
        server.wait(20)
