"""Every hostile file, handed to every command that reads one: an answer in words, within hard limits.

The limits kill: 5 s of processor time and 300 MB of memory beyond what the program itself takes, held by the system.
Wall-clock time is not compared with anything.
"""

import json
import os
import signal
import subprocess
import sys

import pytest

from tests import ci_part
from tests.hostile import corpus

COMMANDS = ("read", "verify", "import", "sheet")
CODES = {0, 1, 2, 3, 4, 5, 6, 7}

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="the limits and /proc are those of Linux")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("hostile")
    corpus.write(made)
    return made


@pytest.fixture(scope="module")
def sandbox():
    server = subprocess.Popen(
        [sys.executable, "-m", "tests.hostile.sandbox"],
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    yield server
    server.stdin.close()
    server.wait(60)
    server.stdout.close()


@pytest.fixture
def run(sandbox, tmp_path):
    def ask(*arguments):
        sandbox.stdin.write(json.dumps({"folder": str(tmp_path), "arguments": [str(a) for a in arguments]}) + "\n")
        sandbox.stdin.flush()
        return json.loads(sandbox.stdout.readline())

    return ask


@pytest.mark.parametrize("name", [n for n in corpus.MAKERS if not n.endswith(".png")])
def test_a_hostile_file_is_answered_within_the_limits(folder, run, name):
    """CI gives each file to one of the commands, the next file to the next; ``SHOPLIB_SLOW=1`` to all."""
    first = sorted(corpus.MAKERS).index(name) % len(COMMANDS)
    for command in COMMANDS if ci_part.ALL else [COMMANDS[first]]:
        done = run(command, folder / name)
        assert done["code"] in CODES, (command, done)
        assert "Traceback" not in done["err"], (command, done["err"][-600:])
        assert (done["out"] + done["err"]).strip(), command
        assert len(done["err"]) < 20_000


def test_a_result_out_of_form_is_refused_in_words(folder, run):
    done = run("import", folder / "no_checks.json")
    assert done["code"] == 2
    assert "result.checks" in done["err"]


def test_what_was_imported_is_exported_and_printed(folder, run):
    assert run("import", folder / "long_label.json")["code"] == 0
    for arguments in (["export", "26-027", "--tables"], ["sheet", "--job", "26-027"]):
        done = run(*arguments)
        assert done["code"] == 0, done["err"][-600:]


@pytest.mark.parametrize("name", [n for n in corpus.MAKERS if n.endswith(".png")])
def test_a_hostile_picture_is_taken_or_refused_within_the_limits(folder, run, name):
    done = run("photograph", folder / name)
    assert done["code"] == (0 if name == "largest_allowed.png" else 2), done


@pytest.mark.parametrize(("what", "codes"), [("memory", {70}), ("time", {-signal.SIGXCPU, -signal.SIGKILL})])
def test_the_limits_are_hard(run, what, codes):
    assert run("waste", what)["code"] in codes
