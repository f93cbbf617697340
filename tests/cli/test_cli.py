"""The command line: exit codes, what goes to which stream, and the same result as everywhere else."""

import json
import re
import subprocess
import sys

import pytest

from shoplib import topics as workings
from shoplib.cli import MODULES, main

MODEL = ["torque=40 N*m", "thread=M10x1.5", "mu_thread=0.12", "mu_head=0.12", "bearing_mean=13 mm"]


def run(capsys, *arguments):
    code = main(list(arguments))
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def test_json_is_one_object_with_the_public_names(capsys):
    code, out, err = run(capsys, "work", "preload_from_torque", *MODEL, "--json")
    shown = json.loads(out)
    assert (code, err) == (0, "")
    assert {
        "preload",
        "nut_factor",
        "share_pitch",
        "share_thread",
        "share_head",
        "preload_low",
        "preload_high",
        "utilisation",
    } <= set(shown["results"])
    assert shown["results"]["preload"] == {"value": pytest.approx(24.27, abs=0.005), "unit": "kN"}


def test_bad_input_exits_2_with_every_field_and_nothing_on_stdout(capsys):
    code, out, err = run(
        capsys, "work", "preload_from_torque", "torque=40", "thread=M10", "mu_thread=-1", "colour=red", "rubbish"
    )
    assert (code, out) == (2, "")
    for field in (
        "torque: ",
        "mu_thread: ",
        "mu_head: is missing",
        "colour: ",
        '"rubbish" does not have the form name=value',
    ):
        assert field in err


def test_options_stand_anywhere(capsys):
    wanted = run(capsys, "work", "preload_from_torque", *MODEL, "--json")
    assert run(capsys, "work", "preload_from_torque", "--json", *MODEL) == wanted
    assert run(capsys, "work", "--json", "preload_from_torque", *MODEL) == wanted
    with pytest.raises(SystemExit):
        main(["work", "preload_from_torque", *MODEL, "--jsom"])
    with pytest.raises(SystemExit):
        main(["read", "a.pdf", "b.pdf"])


def test_text_and_list_and_schema(capsys):
    assert "24.27 kN" in run(capsys, "work", "preload_from_torque", *MODEL)[1]
    assert all(name in run(capsys, "work")[1] for name in workings.all_workings())
    assert json.loads(run(capsys, "work", "thread", "--schema")[1])["required"] == ["thread"]
    code, _, err = run(capsys, "work", "guess")
    assert code == 2 and "preload_from_torque" in err


@pytest.mark.parametrize("name", workings.all_workings())
def test_every_working_says_what_is_missing(capsys, name):
    code, out, err = run(capsys, "work", name, "--json")
    if any(f.required and f.default is None for f in workings.get(name).fields):
        assert code == 2 and out == "" and "is missing" in err


@pytest.mark.parametrize("name", workings.all_workings())
def test_every_working_has_a_schema_question_and_cautions(name):
    working = workings.get(name)
    assert working.question and working.cautions
    json.dumps(working.schema())
    names = [f.name for f in working.fields]
    assert len(names) == len(set(names))
    for f in working.fields:
        assert f.label
        if f.required and f.default is None and f.kind in ("quantity", "text"):
            assert f.example, f"{name}.{f.name} shows nothing to type"


def test_a_disc_and_a_card_are_printed_and_never_overwritten(capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name, typed in (
        ("degree_disc", []),
        ("conversion_card", ["kind=torque", "first=10 N*m", "last=60 N*m", "step=5 N*m"]),
    ):
        target = tmp_path / f"{name}.pdf"
        code, out, err = run(capsys, "print", name, *typed, "-o", str(target))
        assert (code, err) == (0, "")
        assert target.read_bytes().startswith(b"%PDF")
        assert "check line" in out or name == "conversion_card"
        assert run(capsys, "print", name, *typed, "-o", str(target))[0] == 2
    code, out, err = run(capsys, "print", "degree_disc", "colour=red", "rubbish")
    assert (code, out) == (2, "")
    assert "colour" in err or "rubbish" in err
    assert not (tmp_path / "sheets").exists()


def test_without_a_command_the_first_step_and_every_command_are_shown(capsys):
    code, out, err = run(capsys)
    assert (code, out) == (2, "") and "shoplib open" in err
    assert re.search(r"\n    open +open your own copy", err) and re.search(r"\n    class +print exercises", err)


def test_the_help_lists_every_command_and_one_command_loads_its_own_module_only():
    program = "import sys; from shoplib.cli import MODULES, _parser; p = _parser(sys.argv[1]); print(p.format_help()); "
    program += "print(*sorted(m.rpartition('.')[2] for m in sys.modules if m.startswith('shoplib.cli.')))"

    def loaded(first):
        done = subprocess.run([sys.executable, "-c", program, first], capture_output=True, text=True, check=True)
        return done.stdout, done.stdout.splitlines()[-1].split()

    text, modules = loaded("--help")
    assert modules == sorted(MODULES)
    listed = {line.split()[0] for line in text.splitlines() if re.match(r"    \w", line)}
    assert listed == {word for words in MODULES.values() for word in words}
    assert loaded("work")[1] == ["calculate"]
    assert (
        "numpy"
        not in subprocess.run(
            [sys.executable, "-X", "importtime", "-c", "import shoplib.cli"], capture_output=True, text=True, check=True
        ).stderr
    ), "the message about a wrong argument waits for no arithmetic"
