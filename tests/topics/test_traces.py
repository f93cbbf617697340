"""Torque–angle traces: any table is read or refused with its reason, and what is found is near the truth.

The truth is that of ``tests/trace_simulator.py``.  The large runs are ``python -m tests.bench.traces``.
"""

from math import degrees, pi

import numpy as np
import pytest

from shoplib.core import reading_limits, trace_file
from shoplib.core.errors import BadInput
from shoplib.core.trace_file import MOST, names_a_trace_file, parse, read_trace
from shoplib.core.units import Unreadable
from shoplib.physics.traces import evaluate
from shoplib.topics import get
from tests.bench.traces import ENOUGH, WITHIN, errors_of, mutants, share_held, share_within
from tests.trace_simulator import as_csv, simulate

ROWS = [(k, 2 * k) for k in range(20)]


def table(heading, rows=ROWS, row="{};{}"):
    return (heading + "\n" + "\n".join(row.format(*r) for r in rows)).encode()


@pytest.mark.parametrize(
    ("raw", "last"),
    [
        (table("angle_deg;torque_Nm"), (19, 38)),
        (table("Angle [°],Torque [N·m]", row="{},{}"), (19, 38)),
        (table("W (deg);M (Nm)", row="{},5;{},1"), (19.5, 38.1)),
        (table("angle\ttorque\ndeg\tlbf ft", row="{}\t{}"), (19, 38 * 1.3558179)),
        (table("Monday\nOperator: X\n\nAngle/deg\tTorque/Nm", row="{}\t{}"), (19, 38)),
        (table("angle_rad torque_Nm", row="0.{:02} {}"), (degrees(0.19), 38)),
        (table('"angle, deg";"torque, Nm"', row='"{}";"{}"'), (19, 38)),
        (table("angle_deg;torque_Nm").decode().encode("utf-16"), (19, 38)),
        (table("Drehwinkel [°];M [Nm]").decode().encode("cp1252"), (19, 38)),
        (table("angle_deg;torque_Nm", row="-{};{}"), (19, 38)),  # the angle counted downwards
        (table("angle_deg;torque_Nm", row="{};-{}"), (19, 38)),
        (table("angle_deg;torque_Nm;time_s", [(k, 2 * k, k) for k in range(19, -1, -1)], "{};{};{}"), (19, 38)),
        (table("angle_deg;torque_Nm", [*ROWS[:9], ("", 3), (4, "-"), *ROWS[9:]]), (19, 38)),
    ],
)  # fmt: skip
def test_any_table_is_read(raw, last):
    trace = parse(raw)
    assert (degrees(trace.angle[-1]), trace.torque[-1]) == pytest.approx(last, rel=1e-5)
    again = parse(trace.text.encode())
    assert np.array_equal(again.angle, trace.angle)
    assert np.array_equal(again.torque, trace.torque)


CLIPPED = [(k, f"{min(k + 0.01 * (7 * k % 5), 30.0):.2f}") for k in range(60)]


@pytest.mark.parametrize(
    ("raw", "why"),
    [
        (b"", "no line has two numbers"),
        (table("a;b"), "no column of angle"),
        (table("angle_deg;b"), "no column of torque"),
        (table("angle_deg;torque_Nm", ROWS[:5]), "at least 8"),
        (table("angle_deg;torque_Nm", [*ROWS, *[("", 1)] * 8]), "too much is missing"),
        (table("M1 Nm;M2 Nm;angle deg", row="{};{};3"), "Name one"),
        (table("angle_deg;torque_Nm", ROWS[::-1]), "reverse order"),
        (table("angle_deg;torque_Nm", row="7;{1}"), "no turning"),
        (table("angle_deg;torque_Nm", CLIPPED), "range of the transducer"),
        (table("angle_deg;torque_Nm", row="{}00000;{}"), "impossible angle"),
        (table("angle_deg;torque_Nm;time_s", row="{0};{1};1").replace(b"3;6;1", b"3;6;0"), "times that run backwards"),
        (table("", row="{};{}"), "no heading"),
    ],
)  # fmt: skip
def test_what_cannot_be_evaluated_is_refused_with_its_reason(raw, why):
    with pytest.raises(Unreadable, match=why):
        parse(raw)


def test_a_file_is_read_from_the_folder_only_and_its_columns_may_be_named(tmp_path):
    (tmp_path / "run.csv").write_bytes(table("W1 deg;M1 Nm;M2 Nm", [(k, k, 3 * k) for k in range(20)], "{};{};{}"))
    with pytest.raises(Unreadable, match="Name one"):
        read_trace("run.csv", tmp_path)
    assert read_trace("run.csv; torque = M2 Nm", tmp_path).torque[-1] == pytest.approx(57)
    for typed, folder, why in (
        ("run.csv; torque = M3", tmp_path, "no column"),
        ("run.csv; what", tmp_path, "names no column"),
        ("run.csv", None, "enter the table itself"),
        ("../run.csv", tmp_path, "not read"),
        ("hello", tmp_path, "neither a table"),
        (5, tmp_path, "enter the table"),
    ):
        with pytest.raises(Unreadable, match=why):
            read_trace(typed, folder)
    assert names_a_trace_file("run.csv; torque = M2")
    assert not names_a_trace_file("a.csv;b.csv\n1;2")


def test_a_long_trace_is_condensed_to_what_a_record_can_hold(monkeypatch):
    trace = parse(as_csv(simulate(5, samples=20_000, noise=0.005)))
    assert len(trace) == MOST
    assert trace.rows == 20_000
    assert any("condensed" in note for note in trace.notes)
    assert len(trace.text) < 50_000
    limit = reading_limits.Limit("a trace", 10**6, None, 100, "rows")
    monkeypatch.setattr(trace_file, "TRACE_FILE", limit)
    with pytest.raises(Unreadable, match="too many rows"):
        parse(as_csv(simulate(5, samples=200)))


@pytest.fixture(scope="module")
def simulated():
    quiet = [errors_of(s, rate=10 ** (1.9 + s % 10 / 10), noise=(0.005, 0.01)[s % 2]) for s in range(80)]
    return quiet, [errors_of(s) for s in range(1000, 1060)]


def test_quiet_traces_with_enough_samples_are_near_the_truth(simulated):
    rows = [r for r in simulated[0] if r[2] >= ENOUGH]
    assert len(rows) > 60
    for name in WITHIN:
        share, count = share_within(rows, name)
        assert share >= 0.95, (name, share)
        assert count > 35


def test_no_yield_is_invented_and_few_samples_give_no_slope(simulated):
    rows = [*simulated[0], *simulated[1]]
    assert not any(r[4] for r in rows)
    assert any(r[3]["slope"] is None for r in rows)


def test_the_stated_uncertainty_holds_the_truth_with_few_samples_too(simulated):
    """Twice the standard uncertainty: 95 of 100.  The bound leaves room for chance; the bench prints the large run."""
    few = [errors_of(2000 + s, rate=10 ** (0.6 + s % 9 / 10), noise=(0.005, 0.01, 0.02)[s % 3]) for s in range(90)]
    few = [r for r in few if 0 < r[2] < ENOUGH]
    for rows in ([r for r in simulated[0] if r[2] >= ENOUGH], few):
        assert len(rows) > 50
        for name in WITHIN:
            assert share_held(rows, name) >= 0.9, (name, len(rows))
    outside = [r for r in few if abs(r[3]["slope"]) > WITHIN["slope"]]
    assert outside, "traces beyond the limit of the slope, which the uncertainty must tell"
    assert share_held(outside, "slope") >= 0.8


def test_releases_and_backlash_are_taken_out():
    for seed in (1, 2, 4, 8):
        made = simulate(seed, strokes=4, rate=200.0, noise=0.005)
        found = evaluate(np.radians(made.angle), made.torque)
        assert found.strokes == 4
        assert degrees(found.not_turned) == pytest.approx(made.truth.lost, abs=1.5)


def test_the_area_under_the_trace_is_the_work():
    x = np.radians(np.linspace(0, 90, 400))
    found = evaluate(x, 50 * x)
    assert found.energy == pytest.approx(25 * (pi / 2) ** 2, rel=1e-3)
    assert found.slope == pytest.approx(50)
    assert found.drop is None


def test_changed_files_end_in_a_result_or_a_reason():
    read, refused = mutants(21, 400)
    assert read > 100
    assert refused > 20


def test_the_working_says_what_the_trace_does_not_contain():
    trace = get("torque_angle_trace")
    short = trace(trace=table("angle_deg;torque_Nm").decode())
    assert short["drop_angle"] is None
    assert short.values["drop_angle"].shown == "not known"
    with pytest.raises(BadInput, match="threshold"):
        trace(trace=table("angle_deg;torque_Nm").decode(), stage="+90 deg ±5 deg")
    with pytest.raises(BadInput, match="stage"):
        trace(trace=table("angle_deg;torque_Nm").decode(), stage="loosen")


def test_a_file_name_is_replaced_by_its_samples_in_a_record(tmp_path):
    from shoplib.record.jobfile_record import as_typed

    (tmp_path / "run.csv").write_bytes(as_csv(simulate(3, samples=300)))
    result = get("torque_angle_trace")({"trace": "run.csv"}, folder=tmp_path)
    kept = as_typed(result, {"trace": "run.csv"})
    again = get("torque_angle_trace")(kept)
    assert again.to_json()["results"] == result.to_json()["results"]


def chosen(button, name, content):
    """A file chosen in the browser, as its side of the widget sends it."""
    file = {"name": name, "type": "text/csv", "size": len(content), "last_modified": 0, "content": memoryview(content)}
    button.set_state({"value": [file]})


def test_the_button_reads_a_file_into_the_box_and_the_form_is_worked():
    from shoplib.desk import Form

    form = Form("torque_angle_trace")
    entry = form.entries["trace"]
    button = entry.children[1]
    raw = as_csv(simulate(5, samples=300, noise=0.005), ";", ",")
    chosen(button, "run.csv", raw)
    assert entry.box.value == parse(raw).text
    assert form.result is not None
    assert form.result["samples"] == 300
    chosen(button, "<b>.csv", b"<b>no</b> table")
    assert "no line has two numbers" in entry.error.value
    assert "<b>" not in entry.error.value.replace('<b class="', "")
    assert entry.box.value == parse(raw).text, "what was read before stays"
