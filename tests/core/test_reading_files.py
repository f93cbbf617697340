"""Reading files: a record names none, a job file only its own folder's, and what has no end is never opened."""

import copy
import os
import threading
from pathlib import Path

import pytest

from shoplib.cli import main
from shoplib.core import files
from shoplib.core.errors import BadInput
from shoplib.core.reading_limits import CSV_FILE, JOB_FILE
from shoplib.record.jobfile import BadFile, read_job_file
from shoplib.record.jobfile_record import canonical, make_record
from shoplib.record.store import Store
from shoplib.sheet import typeset
from shoplib.sheet.verify import verify
from shoplib.topics import get
from tests.sheet.sheet_parts import replace_attachment

MAP = "name,x_mm,y_mm\nA,0,0\nB,90,0\nC,180,0\n"
SECRET = "name,x_mm,y_mm\nSECRET-A,0,0\nSECRET-B,90,0\nSECRET-C,180,0\n"
JOB = """
[job]
number = "26-050"
engine = "bench engine"
date = 2026-11-25
done_by = "A. Learner"

[[entry]]
working = "tightening_order"
[entry.inputs]
positions = NAME
"""


@pytest.fixture
def folder(tmp_path):
    """A job's folder with a map, beside it a file that is nobody's business."""
    (tmp_path / "secret.csv").write_text(SECRET, encoding="utf-8")
    home = tmp_path / "home"
    (home / "sub").mkdir(parents=True)
    (home / "map.csv").write_text(MAP, encoding="utf-8")
    (home / "sub" / "map.csv").write_text(MAP, encoding="utf-8")
    (home / "inner.csv").symlink_to("map.csv")
    (home / "outer.csv").symlink_to(tmp_path / "secret.csv")
    (home / "up").symlink_to(tmp_path)
    os.mkfifo(home / "pipe.csv")
    (home / "endless.csv").symlink_to("/dev/zero")
    (home / "folder.csv").mkdir()
    return home


def job_file(folder, name):
    path = folder / "job.toml"
    path.write_text(JOB.replace("NAME", repr(name)), encoding="utf-8")
    return path


@pytest.mark.parametrize("name", ["map.csv", " map.csv ", "sub/map.csv", "./map.csv", "inner.csv"])
def test_a_job_file_names_a_csv_file_of_its_own_folder(folder, name):
    record = make_record(read_job_file(job_file(folder, name)), folder=folder)
    assert [r["name"] for r in record["entries"][0]["inputs"]["positions"]] == ["A", "B", "C"]


OUTSIDE = [
    "../secret.csv",
    "sub/../../secret.csv",
    "sub/../map.csv",
    "outer.csv",
    "up/secret.csv",
    "/etc/hosts.csv",
    "\\\\host\\share\\x.csv",
    "//host/share/x.csv",
    "C:\\x.csv",
    "C:x.csv",
    "..\\secret.csv",
    "endless.csv",
]


@pytest.mark.parametrize("name", [*OUTSIDE, "pipe.csv", "folder.csv", "none.csv", "a\x00.csv", "x" * 300 + ".csv"])
def test_whatever_leads_out_of_the_folder_or_has_no_end_is_refused(folder, name):
    with pytest.raises(BadInput) as caught:
        get("tightening_order")({"positions": name}, folder=folder)
    said = str(caught.value)
    assert "positions" in said
    assert "SECRET" not in said
    assert "is not read" in said or "cannot be read" in said
    if name in OUTSIDE:
        assert "out of" in said


def test_an_absolute_name_is_refused_though_it_leads_into_the_folder(folder):
    with pytest.raises(BadInput, match="is not read"):
        get("tightening_order")({"positions": str(folder / "map.csv")}, folder=folder)


def test_without_a_folder_no_file_is_opened(folder, monkeypatch):
    monkeypatch.chdir(folder)
    with pytest.raises(BadInput, match="the name of a file"):
        get("tightening_order")({"positions": "map.csv"})


@pytest.mark.parametrize("name", ["map.csv", "secret.csv", "pipe.csv", "endless.csv", "ABSOLUTE", "../secret.csv"])
def test_no_name_is_followed_from_the_record_of_a_sheet(folder, monkeypatch, capsys, tmp_path, name):
    monkeypatch.chdir(folder)
    monkeypatch.setenv("SHOPLIB_STORE", str(tmp_path / "jobs.db"))
    (folder / "secret.csv").write_text(SECRET, encoding="utf-8")
    name = str(tmp_path / "secret.csv") if name == "ABSOLUTE" else name
    record = make_record(read_job_file(job_file(folder, "map.csv")), folder=folder)
    forged = copy.deepcopy(record)
    forged["entries"][0]["inputs"]["positions"] = name
    pdf = replace_attachment(typeset(record), canonical(forged))
    opened = []
    monkeypatch.setattr(files, "read_bounded", lambda path, largest: opened.append(path))
    assert any("the name of a file" in p for p in verify(pdf).problems)
    with Store.open() as store, pytest.raises(BadInput, match="the name of a file"):
        store.start_from(forged)
    assert opened == []
    monkeypatch.undo()
    monkeypatch.setenv("SHOPLIB_STORE", str(tmp_path / "jobs.db"))
    (tmp_path / "forged.pdf").write_bytes(pdf)
    assert main(["verify", str(tmp_path / "forged.pdf")]) != 0
    assert main(["import", str(tmp_path / "forged.pdf")]) != 0
    out, err = capsys.readouterr()
    assert "SECRET" not in out + err


def test_values_of_the_command_line_name_files_below_the_current_folder(folder, monkeypatch, capsys):
    monkeypatch.chdir(folder)
    assert main(["work", "tightening_order", "positions=map.csv"]) == 0
    for name in ("../secret.csv", "outer.csv", str(folder / "map.csv"), "pipe.csv"):
        assert main(["work", "tightening_order", f"positions={name}"]) == 2
    out, err = capsys.readouterr()
    assert "SECRET" not in out + err


def test_size_is_looked_at_before_reading(folder):
    with (folder / "large.csv").open("wb") as file:
        file.truncate(CSV_FILE.size + 1)  # sparse: no byte of it lies on the disk
    with pytest.raises(BadInput, match="too large"):
        get("tightening_order")({"positions": "large.csv"}, folder=folder)
    with (folder / "large.toml").open("wb") as file:
        file.truncate(JOB_FILE.size + 1)
    with pytest.raises(BadFile, match="too large"):
        read_job_file(folder / "large.toml")


def test_too_many_rows_or_columns_are_refused(folder):
    for content in ("a;b\n" + "1;2\n" * 200_010, ";" * 300 + "\n" + "1;\n"):
        (folder / "many.csv").write_text(content, encoding="utf-8")
        with pytest.raises(BadInput, match=r"too many rows|more than 200 columns"):
            get("tightening_order")({"positions": "many.csv"}, folder=folder)


@pytest.mark.parametrize("name", ["/dev/zero", "pipe.csv", "folder.csv", "none", "a\x00b"])
def test_a_pipe_or_device_in_place_of_a_file_is_refused_at_once(folder, name, capsys, monkeypatch):
    monkeypatch.chdir(folder)
    monkeypatch.setenv("SHOPLIB_STORE", str(folder / "jobs.db"))
    said = []

    def look():
        for command in ("sheet", "verify", "read", "import"):
            said.append((command, main([command, name])))

    thread = threading.Thread(target=look, daemon=True)
    thread.start()
    thread.join(60)  # a hang, not a slow machine: it would wait for ever
    assert not thread.is_alive()
    assert [code for _, code in said] == [2, 2, 2, 2]
    assert capsys.readouterr().err.count("cannot be read") == 4


def test_what_is_swapped_for_a_pipe_between_looking_and_opening_is_refused(folder, monkeypatch):
    looked = os.stat(folder / "map.csv")
    monkeypatch.setattr(files.os, "stat", lambda _: looked)
    with pytest.raises(files.NotRead, match="not a regular file"):
        files.read_bounded(folder / "pipe.csv", 1000)


TOML = {
    "arrays": "x = " + "[" * 100_000,
    "tables": "x = " + "{a = " * 50_000,
    "dotted heading": "[" + "a." * 100_000 + "a]",
    "dotted key": "a." * 100_000 + "a = 1",
    "quoted key": '"a".' * 50_000 + "a = 1",
    "many values": "x = [" + "1," * 400_000 + "]",
    "unfinished text": "x = '''" + "[" * 1000,
    "long number": "x = " + "9" * 5000,
    "number of 20 digits": "[a]\nx = [1, 12345678901234567890]",
    "hexadecimal": "x = 0x" + "f" * 5000,
}


@pytest.mark.parametrize("what", TOML)
def test_a_hostile_job_file_is_refused_in_words_and_before_it_is_parsed(tmp_path, what, monkeypatch, capsys):
    (tmp_path / "job.toml").write_text(TOML[what], encoding="utf-8")
    parsed = []
    import tomllib

    monkeypatch.setattr(
        "shoplib.record.jobfile.tomllib.loads", lambda text, real=tomllib.loads: parsed.append(1) or real(text)
    )
    assert main(["sheet", str(tmp_path / "job.toml")]) == 2
    err = capsys.readouterr().err
    assert err.startswith("job.toml: ")
    assert bool(parsed) == (what in ("unfinished text", "long number", "number of 20 digits", "hexadecimal"))
    if what == "number of 20 digits":
        assert "a.x[2]" in err


def test_brackets_and_dots_in_texts_and_numbers_do_not_count(tmp_path):
    texts = ["[" * 50, "a.b." * 50, "\"'#[[[[" * 20]
    rows = ", ".join(f"'''{t}'''" if "'" not in t else '"""' + t.replace('"', '\\"') + '"""' for t in texts)
    content = f"# {'[' * 50} it's\nx = [{rows}, {'0.5, ' * 100}]\ny = 'it[[[[[[[[[[[[[[[[[[[['\n"
    (tmp_path / "job.toml").write_text(content, encoding="utf-8")
    assert read_job_file(tmp_path / "job.toml")["x"][:3] == texts


def test_the_limits_of_the_developers_table_are_those_of_the_program():
    from shoplib.core.reading_limits import LIMITS

    text = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
    for limit in LIMITS:
        depth = "–" if limit.depth is None else f"{limit.depth} levels"
        pieces = "–" if limit.pieces is None else f"{limit.pieces:,} {limit.of}".replace(",", " ")
        row = f"| {limit.what} | {limit.size // 1_000_000} MB | {depth} | {pieces} |"
        assert row in text, row
