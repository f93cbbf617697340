"""Tables of a trace: each rule of reading at both of its sides.  What the samples mean is tested in topics/test_traces.py."""

import numpy as np
import pytest

from shoplib.core import trace_file
from shoplib.core.errors import BadInput
from shoplib.core.reading_limits import Limit
from shoplib.core.trace_file import FEWEST, LARGEST_TORQUE, MOST, NotATrace, names_a_trace_file, parse, read_trace
from shoplib.core.units import Unreadable
from shoplib.topics import get


def table(rows=12, heading="angle_deg;torque_Nm", line="{};{}", **more):
    body = [line.format(k * 5, k * 2.5, **more) for k in range(rows)]
    return "\n".join([heading, *body] if heading else body).encode()


def refused(raw, named=None):
    with pytest.raises(Unreadable) as error:
        parse(raw, named)
    return str(error.value)


def degrees(trace):
    return [round(float(x), 6) for x in np.degrees(trace.angle)]


# ------------------------------------------------------------------------------ how the table is written
@pytest.mark.parametrize(
    ("heading", "line"),
    [
        ("angle_deg;torque_Nm", "{};{}"), ("angle_deg\ttorque_Nm", "{}\t{}"), ("angle_deg|torque_Nm", "{}|{}"),
        ("angle_deg,torque_Nm", "{},{}"), ("angle_deg torque_Nm", "{} {}"), ("angle [deg];torque (Nm)", "{};{}"),
        ("angle/deg;torque/Nm", "{};{}"), ("angle in deg;torque in Nm", "{};{}"), ("angle, deg;torque, Nm", "{};{}"),
        ('"angle_deg";"torque_Nm"', '"{}";"{}"'), ("angle;torque\ndeg;Nm", "{};{}"), ("run 7\nangle_deg;torque_Nm", "{};{}"),
        ("name;angle_deg;torque_Nm", "a;{};{}"), ("name;x;angle_deg;torque_Nm", "a;b;{};{}"), ("torque\tangle\nNm\tdeg", "{1}\t{0}"), ("angle_deg;torque_Nm", "+{};{}e0"),
        ("run;7\nangle;torque\ndeg;Nm", "{};{}"), ("run 7;;\nangle_deg;torque_Nm;", "{};{};"), ("angle_deg; torque_Nm", "{}; {}"),
        ('"angle_deg"; "torque_Nm"', '"{}"; "{}"'),
        ("angle;torque;x\ndeg;Nm;", "{};{};1"),
    ],
)  # fmt: skip
def test_delimiters_headings_and_units(heading, line):
    trace = parse(table(heading=heading, line=line))
    assert degrees(trace) == [5 * k for k in range(12)]
    assert [float(x) for x in trace.torque] == [2.5 * k for k in range(12)]
    assert (trace.notes, trace.rows, trace.force, trace.time) == ((), 12, None, None)


@pytest.mark.parametrize("delimiter", [";", "\t", "|", " "])
def test_a_decimal_comma(delimiter):
    raw = table(heading=delimiter.join(("angle_deg", "torque_Nm")), line="{}" + delimiter + "{}").replace(b".", b",")
    assert [float(x) for x in parse(raw).torque] == [2.5 * k for k in range(12)]


def test_decimal_commas_in_all_columns():
    assert degrees(parse(table(line="{},5;{},5").replace(b".", b"")))[:2] == [0.5, 5.5]


def test_the_heading_is_looked_for_in_100000_characters():
    lines = (b"x" * 9998 + b"\n") * 9
    assert "no line has two numbers" in refused(lines + b"x" * 9998 + b"\n" + table())
    before = lines + b"x" * 9985 + b"\nangle_deg;torque_Nm\n"  # 99997 characters
    assert "has 1 rows" in refused(before + b"1;2")
    assert "no line has two numbers" in refused(before + b"1;22")  # the line is cut


def test_a_note_with_more_lines_than_the_table_does_not_decide_the_delimiter():
    assert degrees(parse(b"10,20\n" * 20 + table())) == [5 * k for k in range(12)]


def test_whole_numbers_in_the_last_row_do_not_make_a_decimal_comma():
    assert len(parse(table(30, line="{}.5;{}") + b"\n150;80")) == 31


@pytest.mark.parametrize(
    "raw",
    [table().decode().encode("utf-16"), b"\xef\xbb\xbf" + table(), table().replace(b"\n", b"\r\n"),
     "Prüfung °\n".encode("cp1252") + table(), ("Prüfung\r\n" + table().decode().replace("\n", "\r\n")).encode()],
)  # fmt: skip
def test_codes_and_ends_of_lines(raw):
    assert degrees(parse(raw)) == [5 * k for k in range(12)]


def test_a_minus_sign_of_print_and_units_of_the_trade():
    raw = b"angle_turn;torque_lbf*ft;force_N;time_ms\n" + b"\n".join(
        f"{k / 100};{k};{1000 * k};{k - 20}".replace("-", "−").encode() for k in range(12))  # fmt: skip
    trace = parse(raw)
    assert np.allclose(np.degrees(trace.angle), 3.6 * np.arange(12))
    assert np.allclose(trace.torque, 1.3558179483 * np.arange(12))
    assert np.allclose(trace.force, 1000.0 * np.arange(12))
    assert np.allclose(trace.time, (np.arange(12) - 20) / 1000)


def test_the_text_reads_back_to_the_same_numbers():
    raw = b"angle_deg;torque_Nm;force_kN;time_s\n" + b"\n".join(
        b"%d;%d.123456789;%d.5;%d" % (k, k, k, k) for k in range(12)
    )
    trace = parse(raw)
    again = parse(trace.text.encode())
    for name in ("angle", "torque", "force", "time"):
        assert (getattr(trace, name) == getattr(again, name)).all()
    assert trace.text.splitlines()[0] == "angle_deg;torque_Nm;force_kN;time_s"
    assert trace.text.splitlines()[3] == "2;2.12346;2.5;2"
    assert (len(trace), trace.shown) == (12, "12 samples, 0° to 11.00°, at most 11.12 N·m")
    assert read_trace(trace) is trace


# ------------------------------------------------------------------------------ which columns
def test_columns_that_are_named():
    raw = table(heading="W1_deg;M2_Nm;M1_Nm", line="{0};{1};9")
    assert 'several columns of torque: "M2_Nm" and "M1_Nm"' in refused(raw)
    assert float(parse(raw, {"torque": "M2_Nm"}).torque[-1]) == 27.5
    assert 'no column "X"; there are "W1_deg"' in refused(raw, {"torque": "X"})
    raw = table(heading="W1 [deg];M2 [Nm];M1 [Nm]", line="{0};{1};9")
    assert float(parse(raw, {"torque": " m2 "}).torque[-1]) == 27.5
    assert "has no unit of torque" in refused(table(heading="W1_deg;M2"), {"torque": "M2"})


def test_a_message_names_three_columns_and_eight_headings():
    said = refused(table(heading="W_deg;A_Nm;B_Nm;C_Nm;D_Nm", line="{0};{1};9;9;9"))
    assert '"C_Nm"' in said
    assert "D_Nm" not in said
    said = refused(table(heading=";".join(f"c{k}" for k in range(1, 10)), line=";".join("1" * 9)))
    assert '"c8"' in said
    assert "c9" not in said
    assert "no line has two numbers" in refused(table(heading="a;b;c;W_deg;A_Nm", line="a;b;c;{};{}"))


def test_several_columns_of_force_are_left_alone():
    assert parse(table(heading="angle_deg;torque_Nm;F1_kN;F2_kN", line="{};{};1;2")).force is None


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (table(heading=""), "has no heading"), (b"a;b\nc;d", "no line has two numbers"), (b"1\n2\n3", "no line has two numbers"),
        (table(heading="angle_deg;length_mm"), "no column of torque"), (table(heading="x_mm;torque_Nm"), "no column of angle"),
        (b"x" * 10_001 + b"\n" + table(), "longer than 10000"), (b"\x81\n" + table(), "not text"),
    ],
)  # fmt: skip
def test_what_is_no_trace_is_refused(raw, words):
    assert words in refused(raw)


def test_units_alone_are_no_heading():
    assert "no heading contains its unit" in refused(table(heading="deg;Nm"))


def test_what_to_type_is_one_line():
    with pytest.raises(BadInput) as caught:
        get("torque_angle_trace")({"trace": "a;b\nc;d"})
    assert caught.value.problems[0].told == (
        'is not a table of samples: no line has two numbers; type for example "angle_deg;torque_Nm", then a line such as '
        '"60;40.30" for each sample'
    )


def test_a_line_of_10000_characters_is_not_too_long():
    assert len(parse(b"x" * 10_000 + b"\n" + table())) == 12


def test_the_first_sample_is_looked_for_in_200_lines():
    assert len(parse(b"text\n" * 198 + table())) == 12
    with pytest.raises(NotATrace):
        parse(b"text\n" * 199 + table())


def test_a_name_of_a_file_is_told_from_a_table():
    assert names_a_trace_file("run.csv")
    assert names_a_trace_file(" run.CSV ; angle = W ")
    assert not any(names_a_trace_file(x) for x in ("run.txt", "a\nb.csv", "x; run.csv", None, 5))
    for typed, words in ((5, "enter the table"), ("run.txt", "neither a table"), ("run.csv", "name of a file")):
        with pytest.raises(Unreadable, match=words):
            read_trace(typed)


def test_a_file_is_read_with_the_columns_that_are_named(tmp_path):
    (tmp_path / "run.csv").write_bytes(table(heading="W_deg;A_Nm;B_Nm", line="{0};{1};9"))
    for choice in ("torque = A_Nm", "TORQUE=a_nm; ", "; torque = A_Nm; angle = W_deg"):
        assert float(read_trace(f"run.csv; {choice}", tmp_path).torque[-1]) == 27.5
    with pytest.raises(Unreadable, match=r'"B_Nm" names no column'):
        read_trace("run.csv; B_Nm", tmp_path)
    with pytest.raises(Unreadable, match=r"no\.csv"):
        read_trace("no.csv", tmp_path)


def test_size_and_number_of_rows(monkeypatch):
    raw = table()
    monkeypatch.setattr(trace_file, "TRACE_FILE", Limit("a trace", len(raw), None, raw.count(b"\n")))
    assert len(parse(raw)) == 12
    assert "too long" in refused(raw + b" ")
    monkeypatch.setattr(trace_file, "TRACE_FILE", Limit("a trace", len(raw), None, raw.count(b"\n") - 1))
    assert "too many rows" in refused(raw)


# ------------------------------------------------------------------------------ rows
def test_at_least_eight_rows():
    assert len(parse(table(FEWEST))) == FEWEST
    assert "has 7 rows with an angle and a torque" in refused(table(FEWEST - 1))


@pytest.mark.parametrize("gap", ["", "-", "–", "—", "---", "x"])
def test_rows_without_a_reading_are_left_out_up_to_a_fifth(gap):
    def with_gaps(many):
        lines = table(100).decode().split("\n")
        lines[5 : 5 + many] = [f"{line.split(';')[0]};{gap}" for line in lines[5 : 5 + many]]
        return "\n".join(lines).encode()

    trace = parse(with_gaps(20))
    assert (len(trace), trace.rows, trace.notes) == (80, 100, ("20 of 100 rows have no reading; they were left out",))
    assert "no reading in 21 of 100 rows" in refused(with_gaps(21))


def test_a_column_with_gaps_is_not_used():
    raw = table(heading="angle_deg;torque_Nm;force_kN;time_s", line="{0};{1};{0};{0}").replace(
        b"25;12.5;25;25", b"25;12.5;;25"
    )
    trace = parse(raw)
    assert trace.force is None
    assert trace.time is not None
    assert trace.notes == ("the column of force has gaps and was not used",)


@pytest.mark.parametrize(
    ("last", "words"),
    [("36000;20", None), ("36001;20", "impossible angle"), (f"60;{LARGEST_TORQUE}", None),
     (f"60;{LARGEST_TORQUE + 1}", "impossible torque"), ("60;1e400", "no reading")],
)  # fmt: skip
def test_values_that_no_tightening_reaches(last, words):
    raw = table(30) + b"\n" + last.encode()
    if words == "no reading":
        assert parse(raw).notes == ("1 of 31 rows have no reading; they were left out",)
    elif words:
        assert words in refused(raw)
    else:
        assert len(parse(raw)) == 31


def rows(angle, torque, time=None):
    columns = [angle, torque] + ([time] if time is not None else [])
    heading = b"angle_deg;torque_Nm" + (b";time_s" if time is not None else b"")
    return (
        heading + b"\n" + b"\n".join(";".join(f"{x:.10g}" for x in row).encode() for row in zip(*columns, strict=True))
    )


UP = np.arange(40.0)


def test_rows_in_order_of_time():
    reverse = "the rows were in reverse order of time; they were turned round"
    assert parse(rows(UP[::-1], UP[::-1], UP[::-1])).notes == (reverse,)
    assert degrees(parse(rows(UP[::-1], UP[::-1], UP[::-1])))[0] == 0
    assert parse(rows(UP, UP, np.minimum(UP, 30))).notes == ()  # equal times are in order
    assert parse(rows(UP[::-1], UP[::-1], np.minimum(UP[::-1], 30))).notes == (reverse,)
    assert "times that run backwards" in refused(rows(UP, UP, np.where(UP == 20, 3, UP)))
    assert parse(rows(UP, UP, 0 * UP)).notes == ()


@pytest.mark.parametrize("time", [np.where(UP < 1, 1, 0), np.where(UP < 39, 1, 0), UP[::-1]])
def test_times_that_fall_once_are_in_reverse(time):
    trace = parse(rows(UP[::-1], UP[::-1], time))
    assert trace.notes == ("the rows were in reverse order of time; they were turned round",)
    assert degrees(trace) == [*UP]


def with_samples(values, **places):
    """The values, with others at some places: _5 is place 5, and so on."""
    values = np.array(values, dtype=float)
    for place, value in places.items():
        values[int(place[1:])] = value
    return values


DOWN = "the angle was counted downwards; its sign was changed"


@pytest.mark.parametrize(
    ("angle", "turned"),
    [(with_samples(UP, _0=10, _1=-4, _38=5, _39=5), False), (with_samples(UP[:12], _0=10, _1=-4, _10=5, _11=5), True),
     (with_samples(UP, _38=-5, _39=-5), True), (with_samples(UP, _0=5, _1=5, _38=5, _39=5), False)],
)  # fmt: skip
def test_the_first_and_the_last_twentieth_say_which_way_the_angle_was_counted(angle, turned):
    trace = parse(rows(angle, np.arange(len(angle)) * 1.0))
    assert trace.notes == ((DOWN,) if turned else ())
    assert degrees(trace) == [*(-angle if turned else angle)]


LOW = np.where(UP < 2, 60.0, 1.0)


@pytest.mark.parametrize(
    ("torque", "loosening"),
    [
        (with_samples(LOW, _15=100), True), (with_samples(LOW, _15=100, _30=61), False), (with_samples(LOW, _15=100, _30=60), False), (with_samples(LOW, _15=100, _30=59), True),
        (with_samples(LOW, _15=100, _29=61), True), (with_samples(LOW, _15=100, _0=51, _1=51), True), (with_samples(LOW, _15=100, _0=50, _1=50), False),
    ],
)  # fmt: skip
def test_where_a_loosening_begins(torque, loosening):
    """Falling angles: it begins above half of the highest torque, and the last quarter stays below that."""
    if loosening:
        assert "a loosening" in refused(rows(-UP, torque))
    else:
        assert parse(rows(-UP, torque)).notes == (DOWN,)


def test_times_that_run_both_ways_are_refused():
    mixed = UP[::-1].copy()
    mixed[10], mixed[11] = mixed[11], mixed[10]
    assert "times that run backwards" in refused(rows(UP[::-1], UP[::-1], mixed))
    assert len(parse(rows(UP, UP, np.linspace(0, 1e9, 40)))) == 40
    assert "impossible time" in refused(rows(UP, UP, np.linspace(0, 1.04e9, 40)))


def test_an_angle_that_returns_is_not_turned_round():
    there_and_back = np.concatenate((UP[:20], UP[:20][::-1]))
    assert parse(rows(there_and_back, UP)).notes == ()


def test_torque_counted_downwards():
    down = "the torque was counted downwards; its sign was changed"
    assert parse(rows(UP, -UP)).notes == (down,)
    assert parse(rows(UP, -UP)).torque.max() == 39
    assert parse(rows(UP, np.where(UP < 39, -UP, 19.1))).notes == ()  # 38 is less than twice 19.1
    assert parse(rows(UP, np.where(UP < 39, -UP, 19.0))).notes == ()
    assert parse(rows(UP, np.where(UP < 39, -UP, 18.9))).notes == (down,)


def test_angle_counted_downwards_and_a_loosening():
    down = "the angle was counted downwards; its sign was changed"
    assert parse(rows(-UP, UP)).notes == (down,)
    assert "is the same in every row" in refused(rows(0 * UP, UP))
    assert "a loosening" in refused(rows(-UP, UP[::-1]))
    early = np.where(UP < 2, 25.0, UP)  # above half of the highest at first, but it rises
    assert parse(rows(-UP, early)).notes == (down,)
    low = np.concatenate((np.full(4, 19.0), 39 - np.arange(36.0)))
    assert parse(rows(-UP, low)).notes == (down,)  # begins below half of the highest


# ------------------------------------------------------------------------------ a transducer at its end
def clipped(at=60, many=100, wobble=0.0):
    angle = np.linspace(0, 100, many)
    torque = np.minimum(angle * 1.5, at * 1.5) + wobble * np.sin(angle * 37)
    return angle, np.minimum(torque, at * 1.5)


def test_a_torque_at_the_end_of_the_range_is_refused():
    assert "the range of the transducer was exceeded" in refused(rows(*clipped()))
    assert "90.00 N·m in 40 samples" in refused(rows(*clipped()))
    assert len(parse(rows(*clipped(at=101)))) == 100
    angle = clipped()[0]
    knee = 90 * (1 - np.exp(-angle / 25))  # it bends before it is flat
    assert len(parse(rows(angle, np.minimum(np.round(knee, 0), 88)))) == 100
    few = clipped(at=94)
    assert (few[1] == few[1].max()).sum() == 6
    assert len(parse(rows(*few))) == 100


@pytest.mark.parametrize(("at", "flat"), [(92, 8), (93, 7)])
def test_eight_samples_at_the_top_are_looked_at(at, flat):
    angle, torque = clipped(at=at)
    assert (torque == torque.max()).sum() == flat
    if flat == 8:
        assert "exceeded" in refused(rows(angle, torque))
    else:
        assert len(parse(rows(angle, torque))) == 100


def softened(share):
    """The slope is so large a share of what it was before the top."""
    angle = np.linspace(0, 100, 200)
    return angle, np.minimum(np.where(angle < 50, 1.5 * angle, 75 + 1.5 * share * (angle - 50)), 75 + 1.5 * share * 20)


def dipping(share):
    """So large a share of the samples from the first at the top to the last is at the top."""
    angle = np.linspace(0, 100, 200)
    at = np.arange(200) - 120
    held = np.floor(at * share) > np.floor((at - 1) * share)
    return angle, np.where(at < 0, 0.8 * (at + 120), np.where((at == 0) | held, 97.0, 96.5))


def repeating(share):
    """So large a share of the samples before the top repeats its neighbour."""
    angle, k = np.linspace(0, 100, 200), np.arange(200)
    rise = np.cumsum(np.floor((k + 1) * (1 - share)) > np.floor(k * (1 - share)))
    return angle, np.minimum(rise, rise[140]) * 1.0


def narrow(share):
    """The flat is so large a share of the turning."""
    flat = np.linspace(0, 100 * share / (1 - share), 12)
    return np.concatenate((np.linspace(0, 99, 100), 100 + flat)), np.concatenate(
        (np.linspace(0, 99, 100), np.full(12, 100.0))
    )


def short(before):
    """So many samples lie below the top."""
    k = np.arange(before + 20.0)
    return k, np.minimum(k, before)


def sparse(many):
    """So many samples in all, a third of them at the top."""
    angle = np.linspace(0, 90, many)
    return angle, np.minimum(np.where(angle < 30, angle, 30 + 2 * (angle - 30)), 90)


@pytest.mark.parametrize(
    ("make", "values", "read"),
    [(softened, np.arange(0.4, 0.5, 0.01), 4), (dipping, np.arange(0.35, 0.45, 0.01), 5), (narrow, np.arange(0.018, 0.023, 0.0005), 5),
     (short, range(5, 12), 3), (sparse, range(16, 28), 6)],
)  # fmt: skip
def test_where_a_flat_top_begins_to_be_the_end_of_the_range(make, values, read):
    found = [is_refused(rows(*make(v))) for v in values]
    assert found == [False] * read + [True] * (len(found) - read)


def is_end_of_range(angle, torque):
    try:
        trace_file._not_clipped(angle, torque)
    except Unreadable:
        return True
    return False


def exceeded(before, at_top):
    """Whether this is the end of the range: samples one degree apart, at the top those with a T."""
    torque = np.array([*before, *(100.0 if sign == "T" else 99.5 for sign in at_top)])
    return is_end_of_range(np.arange(float(len(torque))), torque)


@pytest.mark.parametrize(
    ("at_top", "found"),
    [
        ("TTTTTTTFFFFFFFFFFFFT", False), ("TTTTTTTFFFFFFFFFFFT", True), ("TFFFFFFFFFFFFTTTTTTT", False),
        ("TTTTTTTTFFFFFFFFFFFFFTF", True),
    ],
)  # fmt: skip
def test_more_than_two_fifths_from_the_first_to_the_last_are_at_the_top(at_top, found):
    """8 of 20, 8 of 19, 8 of 20 and 9 of 22."""
    assert exceeded(np.linspace(0, 99, 100), at_top) is found


LOW, STEEP = np.linspace(0, 49, 50), np.linspace(51, 99, 40)


@pytest.mark.parametrize(
    ("before", "found"),
    [
        ([*np.repeat(LOW, 2), *STEEP], True),  # only the upper half tells
        ([*LOW, *np.repeat(STEEP, 2)], False),
        ([*LOW, *[51.0] * 40, *STEEP], False),
        ([*LOW, *[49.0] * 40, *STEEP], True),
        ([*LOW, 60, 60, 80, 80], True),  # four samples tell nothing
        ([*LOW, 60, 60, 80, 80, 90], False),
        ([*LOW, 51, 56, 61, 61, 67, 73, 73, 78, 84, 90, 90], False),  # 3 of 10 repeat their neighbour
    ],
)
def test_a_rise_in_steps_is_told_from_the_samples_above_half_of_the_top(before, found):
    assert exceeded(before, "T" * 12) is found


def test_nothing_above_half_of_the_top_announces_it():
    assert exceeded(np.linspace(0, 45, 100), "T" * 12)
    assert "exceeded" in refused(rows(np.arange(112.0), np.array([*np.linspace(0, 45, 100), *[100.0] * 12])))
    one = [*np.linspace(0, 45, 99), 60]  # one sample, which has no slope
    assert exceeded(one, "T" * 12)


@pytest.mark.parametrize(("flat", "found"), [(2.0, True), (1.99, False)])
def test_a_flat_of_a_fiftieth_of_the_turning(flat, found):
    angle = np.array([*np.linspace(0, 100 - flat, 99), *np.linspace(100 - flat, 100, 9)[1:]])
    torque = np.array([*np.linspace(0, 98, 98), *[100.0] * 9])
    assert is_end_of_range(angle, torque) is found


def test_a_rise_in_steps_may_be_flat_at_its_top():
    found = [is_refused(rows(*repeating(share))) for share in np.arange(0.26, 0.36, 0.01)]
    assert found == [True] * 5 + [False] * 5


# What is announced: the part before the top is told from a sudden stop, worked on samples one degree apart.
def announced(torque, top=100.0, angle=None):
    """Whether the torque bends before it is at the top."""
    torque = np.array([*torque, top])
    angle = np.arange(float(len(torque))) if angle is None else np.array(angle, float)
    return not trace_file._abrupt(angle, torque, len(torque) - 1)


@pytest.mark.parametrize(("dropped", "bends"), [(0.0, False), (20.0, False), (20.5, True)])
def test_samples_below_a_fifth_of_the_top_do_not_announce_it(dropped, bends):
    """Nine samples lie in the last tenth of the rise: four that rise, then five at this torque."""
    assert announced([*[0.0] * 91, 60, 70, 80, 90, *[dropped] * 5]) is bends


@pytest.mark.parametrize(("near", "bends"), [([91, 94, 98], True), ([94, 98], False)])
def test_three_samples_are_needed_to_announce_the_top(near, bends):
    """The slope falls to a tenth in the last tenth of the rise, which begins at 90.2."""
    angle = [*range(91), *near, 100]
    assert announced(np.interp(angle[:-1], [0, 90, 100], [0, 90, 91]), 92.0, angle) is bends


def test_samples_that_span_one_degree_announce_it():
    angle = [*range(91), 98, 98.5, 99, 100]
    assert announced(np.interp(angle[:-1], [0, 97, 100], [0, 97, 97.3]), 100.0, angle)


def test_a_sample_at_half_of_the_top_is_not_above_it():
    flat = [*np.linspace(0, 50, 20), *[50.0] * 60, *np.linspace(53, 90, 12), *np.linspace(91.5, 100, 8)[:-1]]
    assert announced(flat)


def test_a_sample_at_the_end_of_the_last_tenth_does_not_count():
    rise = np.arange(101.0)
    rise[91] = 125  # ten degrees, a tenth of the rise, before the top
    assert not announced(rise, 130.0)
    rise[91], rise[92] = 91, 125
    assert announced(rise, 130.0)


@pytest.mark.parametrize(("whole", "decimal"), [(59, "."), (60, ",")])
def test_sixty_lines_tell_the_decimal_sign(whole, decimal):
    raw = b"angle_deg;torque_Nm\n" + b"1;2\n" * whole + b"1.5;2.5\n" * 3
    assert trace_file._Head.of(raw).decimal == decimal


def is_refused(raw):
    try:
        parse(raw)
    except Unreadable:
        return True
    return False


# ------------------------------------------------------------------------------ condensing
def test_a_long_trace_is_condensed_to_means_of_blocks():
    assert MOST == 2000
    angle = np.arange(2.0 * MOST) / 10
    trace = parse(rows(angle, angle))
    assert (len(trace), trace.rows) == (MOST, 2 * MOST)
    assert trace.notes == (f"{2 * MOST} samples were condensed to {MOST}, each the mean of a block",)
    assert np.allclose(np.degrees(trace.angle), angle.reshape(-1, 2).mean(axis=1), rtol=1e-5)
    assert np.allclose(trace.torque, angle.reshape(-1, 2).mean(axis=1), rtol=1e-5)
    whole = parse(rows(angle[:MOST], angle[:MOST]))
    assert (len(whole), whole.notes) == (MOST, ())
    assert len(parse(rows(angle[: MOST + 1], angle[: MOST + 1]))) == MOST


def test_six_digits_are_those_of_the_text():
    values = np.array(
        [0.0, 1.0, -1.0, 123456.5, 123457.4, 0.000123456789, 9.9999995, 1e-17, 2e-17, 1e21, 1.2345678e15, -98.76543211]
    )
    found = trace_file._six_digits(values)
    wanted = np.array([float(f"{x:.6g}") for x in values])
    assert np.allclose(found, wanted, rtol=1e-12, atol=1e-16)
    some = np.array([1.23456789, 12.3456789, 123.456789, 1234.56789, 12345.6789, 0.123456789])
    assert (trace_file._six_digits(some) == [float(f"{x:.6g}") for x in some]).all()
