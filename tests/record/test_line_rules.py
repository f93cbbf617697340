"""The rules of a line at their limits: one case at each side of each rule, driven by the tables that declare them."""

import dataclasses
import datetime
import math
import re

import pytest

from shoplib.core.reading_limits import Limit
from shoplib.record import header, line_schema, origins, validation
from shoplib.record.errors import NotAJob
from shoplib.record.line_schema import CODES, in_form, read_body, read_header
from shoplib.record.sanitise import LONGEST
from shoplib.record.validation import DEEPEST, LARGEST_BODY, finite, read_json, tree
from shoplib.topics import get

UID, HASH = "line-0001", "0a" * 32
NEEDED = {
    "tick": {"programme": UID, "stage": 1},
    "photo": {"picture": HASH, "thumb": HASH, "original": HASH, "width": 1, "height": 1},
    "sign": {"covers": 0},
    "issue": {"covers": 0},
    "print": {"sheet": HASH},
}


def least(kind):
    """The least body of a line of that kind that has no problem."""
    texts = {name: "x" for name, (needed, _) in line_schema._TEXTS[kind].items() if needed}
    texts |= {name: codes[0] for (of, name), codes in CODES.items() if of == kind and name in texts}
    return texts | NEEDED.get(kind, {})


def problems_of(kind, about=None, form="measurement", **more):
    found = []
    read_body(kind, form, about, least(kind) | more, found)
    return [p.field for p in found]


def test_the_least_body_of_every_kind_has_no_problem_and_every_kind_has_rules():
    assert {k: problems_of(k) for k in line_schema.KINDS} == {k: [] for k in line_schema.KINDS}
    assert set(line_schema.KINDS) == set(line_schema._TEXTS) == set(line_schema.ABOUT)


# Lines of earlier versions stay readable: nothing more may be needed, and no text may become shorter.
NEEDED_TEXTS = {
    "note": "title", "tick": "bolt value initials", "decision": "point decision by because", "strike": "because",
    "sign": "role", "issue": "letter", "print": "paper extent", "close": "root_cause", "reopen": "because",
}  # fmt: skip
LONGEST_TEXTS = {
    8: "letter", 20: "paper initials extent", 40: "action_code reopens taken judged condition decision bolt because_code",
    80: "role phase when", 200: "point allowed by value", 400: "allowed_source caption title recipient",
    4000: "remark reason root_cause action because retorque deviation parts_returned",
}  # fmt: skip


def test_what_a_line_needs_and_how_long_its_texts_are_stays_as_it_was():
    for kind, texts in line_schema._TEXTS.items():
        assert [n for n, (needed, _) in texts.items() if needed] == NEEDED_TEXTS.get(kind, "").split()
        for name, (_, longest) in texts.items():
            assert name in LONGEST_TEXTS[longest].split()


TEXTS = [(k, name, *rule) for k, rules in line_schema._TEXTS.items() for name, rule in rules.items()]


@pytest.mark.parametrize(("kind", "name", "needed", "longest"), TEXTS, ids=[f"{k}.{n}" for k, n, *_ in TEXTS])
def test_every_text_of_a_line_is_needed_and_bounded_as_declared(kind, name, needed, longest):
    about = UID if name == "because" and kind in ("entry", "note", "tick") else None
    assert problems_of(kind, about, **{name: ""}) == ([name] if needed or about else [])
    assert problems_of(kind, about, **{name: "x" * (longest + 1)})[:1] == [name]
    assert problems_of(kind, about, **{name: 5})[:1] == [name]
    coded = CODES.get((kind, name))
    for code in coded or ("x" * longest,):
        others = {"allowed": {"allowed_source": "p. 3"}, "deviation": {"reason": "r", "action": "a"},
                  "allowed_source": {"allowed": "40 N*m"}}.get(name, {})  # fmt: skip
        typed = "40 N*m" if name == "allowed" else code
        assert problems_of(kind, about, **others, **{name: typed}) == []
    assert problems_of(kind, about, **{name: "no such code"}) == [name] or not coded


@pytest.mark.parametrize("kind", ["entry", "note", "tick"])
def test_a_correction_needs_a_reason_and_nothing_else_has_one(kind):
    assert problems_of(kind, UID) == ["because"]
    assert problems_of(kind, None, because="misread") == ["because"]
    assert problems_of(kind, UID, because="misread") == []


def test_an_unknown_field_is_named_and_the_offset_is_that_of_a_clock():
    assert problems_of("note", colour="red") == ["colour"]
    assert problems_of("note", offset="+01:00") == problems_of("note", offset="") == []
    assert [problems_of("note", offset=x) for x in ("1", "+1:00", 60, "+01:00 ")] == [["offset"]] * 4


@pytest.mark.parametrize(
    ("kind", "name", "least_allowed"),
    [
        ("tick", "stage", 1),
        ("photo", "width", 1),
        ("photo", "height", 1),
        ("sign", "covers", 0),
        ("issue", "covers", 0),
    ],
)
def test_whole_numbers_at_their_limits(kind, name, least_allowed):
    good, bad = (least_allowed, 2**31 - 1), (least_allowed - 1, 2**31, True, 1.0, "1", None)
    assert [problems_of(kind, **{name: v}) for v in good] == [[], []]
    assert [problems_of(kind, **{name: v}) for v in bad] == [[name]] * len(bad)


@pytest.mark.parametrize(
    ("kind", "name"), [("photo", "picture"), ("photo", "thumb"), ("photo", "original"), ("print", "sheet")]
)
def test_a_hash_has_64_digits(kind, name):
    for bad in (None, 5, "", HASH[:-1], HASH + "0", HASH.upper()):
        assert problems_of(kind, **{name: bad}) == [name]


def test_a_tick_names_its_plan_on_single_lines_and_says_what_was_done_about_a_deviation():
    assert [problems_of("tick", programme=x) for x in (None, "short", UID + "!", "a" * 65)] == [["programme"]] * 4
    assert problems_of("tick", programme="a" * 64) == problems_of("tick", programme="a" * 8) == []
    for name in ("bolt", "initials", "value"):
        assert problems_of("tick", **{name: "a\nb"}) == [name]
    assert problems_of("tick", deviation="late") == ["reason", "action"]
    assert problems_of("tick", deviation="late", action="none") == ["reason"]
    assert problems_of("tick", deviation="late", reason="r", action="none") == []


def test_an_allowed_range_has_a_source_and_can_be_read():
    assert problems_of("decision", allowed="40 N*m") == ["allowed_source"]
    assert problems_of("decision", allowed_source="p. 3") == ["allowed"]
    assert problems_of("decision", allowed="much", allowed_source="p. 3") == ["allowed"]


@pytest.mark.parametrize(
    ("sources", "fields"),
    [(None, []), ([], []), ([UID] * 200, []), ([UID] * 201, ["sources"]), ("text", ["sources"]), ([5], ["sources"]),
     ([UID, "?"], ["sources"])],
)  # fmt: skip
def test_sources_are_up_to_200_lines(sources, fields):
    assert problems_of("entry", sources=sources) == problems_of("note", sources=sources) == fields


def test_a_source_that_is_named_twice_is_kept_once():
    assert read_body("note", "", None, {"title": "t", "sources": [UID, UID]}, [])["sources"] == [UID]


GOOD = {"uid": UID, "take": "inputs/torque"}


@pytest.mark.parametrize(
    ("typed", "good"),
    [
        (None, True), ({}, True), ({"a": GOOD}, True), ({"a": GOOD | {"take": "x" * 200}}, True), ({"a": GOOD | {"take": "x"}}, True), ("text", False),
        ({"a": GOOD | {"take": "x" * 201}}, False), ({"a": GOOD | {"take": ""}}, False), ({"a": {"uid": UID}}, False),
        ({"a": GOOD | {"uid": "?"}}, False), ({"a": GOOD, "b": GOOD | {"uid": "?"}}, False), ({5: GOOD}, False),
        ({"a": GOOD, "b": "text"}, False), ({"a": GOOD | {"take": 5}}, False),
        ({str(k): GOOD for k in range(origins.MOST_ORIGINS)}, True),
        ({str(k): GOOD for k in range(origins.MOST_ORIGINS + 1)}, False),
    ],
)  # fmt: skip
def test_origins_name_an_entry_and_a_value(typed, good):
    assert problems_of("entry", origins=typed) == ([] if good else ["origins"])


def test_an_entry_has_tables_and_no_file_names():
    assert problems_of("entry", inputs="text") == ["inputs"]
    assert problems_of("note", content=[1]) == ["content"]
    assert problems_of("entry", result={"checks": 5}) == ["result.checks"]
    for name in ("readings.csv", "a; b.csv", "run.csv; angle = W"):
        assert problems_of("entry", form="no_such_working", inputs={"a": name}) == ["a"]
    assert problems_of("entry", form="no_such_working", inputs={"a": "1 mm"}) == []
    assert problems_of("entry", form="measurement", inputs={"what": "readings.csv"}) == []  # a text, never a file


def test_changes_of_an_issue_are_texts():
    assert read_body("issue", "", None, least("issue") | {"changes": ["a"]}, [])["changes"] == ["a"]
    assert problems_of("issue", changes=["a" * 100_000, "b"]) == problems_of("issue", changes="no list") == []
    assert problems_of("issue", changes=["a" * 100_001]) == problems_of("issue", changes=[""]) == ["changes"]


# ------------------------------------------------------------------------------ damaged lines
def test_what_is_in_form_of_a_damaged_line():
    assert in_form("note", "", None, least("note")) == {"title": "x"}
    assert in_form("issue", "", None, {}) == {"letter": "?", "covers": 0}
    assert in_form("note", "", None, {}) == in_form("note", "", None, "text") == in_form("no kind", "", None, {}) == {}
    fields = {"engine": "pump", "hours": 5, "unknown": "x", "people": [{"name": "A"}], "parts": [{"no": "x"}]}
    assert in_form("header", "", None, {"fields": fields}) == {"fields": {"engine": "pump", "people": [{"name": "A"}]}}
    assert in_form("header", "", None, {"fields": "text"}) == {"fields": {}}


# ------------------------------------------------------------------------------ the header
HEAD = {"number": "26-1", "engine": "pump", "date": "2026-11-25", "done_by": "A"}


def header_problems(new=True, **more):
    found = []
    read = read_header(HEAD | more, found, new=new)
    return [p.field for p in found], read


def test_what_a_later_version_requires_is_asked_for_at_the_start_and_where_it_is_emptied(monkeypatch):
    def asked_for(raw, **more):
        found = []
        read_header(raw, found, **more)
        return [p.field for p in found]

    serial = next(f for f in header.FIELDS if f.name == "serial")
    later = dataclasses.replace(serial, required=True, required_since="0.3.0")
    monkeypatch.setattr(header, "FIELDS", [later if f is serial else f for f in header.FIELDS])
    assert [asked_for(HEAD), asked_for(HEAD, new=True)] == [[], ["serial"]]
    assert [asked_for(HEAD | {"serial": x}) for x in ("", "17")] == [["serial"], []]


@pytest.mark.parametrize("field", header.FIELDS, ids=lambda f: f.name)
def test_every_field_of_the_header_is_required_bounded_and_read_as_declared(field):
    assert header_problems(**{field.name: ""})[0] == ([field.name] if field.required else [])
    if field.date:
        day = datetime.date(2026, 11, 25)
        assert header_problems(**{field.name: day})[1][field.name] == "2026-11-25"
        assert header_problems(**{field.name: "no day"})[0] == [field.name]
        return
    assert header_problems(**{field.name: "x" * field.longest})[0] == []
    assert header_problems(**{field.name: "x" * (field.longest + 1)})[0] == [field.name]
    assert header_problems(**{field.name: "a\nb"})[0] == ([] if field.long else [field.name])
    assert header_problems(**{field.name: 5})[0] == [field.name]


def test_the_declaration_of_the_header():
    assert {f.name for f in header.FIELDS if f.required} == set(HEAD)
    assert {f.name for f in header.FIELDS if f.required_always} == set(HEAD)
    assert {f.name for f in header.FIELDS if f.date} == {"date", "received", "returned"}
    assert {f.name for f in header.FIELDS if f.long} == {"complaint"}
    asked = {"serial", "customer_ref", "complaint", "workshop", "workshop_address"}
    assert {f.name for f in header.FIELDS if f.at_start} == asked
    assert {f.longest for f in header.FIELDS if f.name != "number"} == {400}
    assert [[c.name for c in t.columns if c.required] for t in header.TABLES] == [["name"], ["id"], ["what"]]
    assert [c.name for t in header.TABLES for c in t.columns if c.date] == ["calibration_due"]


def test_a_field_required_since_a_later_version_is_asked_for_only_when_a_job_starts(monkeypatch):
    later = header.HeaderField("licence", "Licence", True, required_since="9.9.9")
    monkeypatch.setattr(header, "FIELDS", (*header.FIELDS, later))
    monkeypatch.setattr(header, "NAMES", (*header.NAMES, "licence"))
    assert header_problems(new=True)[0] == header_problems(new=False, licence="")[0] == ["licence"]
    assert header_problems(new=False)[0] == []


@pytest.mark.parametrize("table", header.TABLES, ids=lambda t: t.name)
def test_tables_of_the_header(table):
    key = table.columns[0].name

    def told(rows):
        return header_problems(**{table.name: rows})[0]

    rows = [{key: str(k)} for k in range(201)]
    assert [told(x) for x in (None, "", (), rows[:200], tuple(rows[:1]))] == [[]] * 5
    assert [told(x) for x in (rows, "text", [5], [rows[0], 5], 0)] == [[table.name]] * 5
    assert told([rows[0], rows[0], rows[1]]) == [table.name]
    assert told([rows[0] | {"no such": "x"}]) == [f"{table.name}[1].no such"]
    assert told([rows[0], {}])[0] == f"{table.name}[2].{key}"
    assert told([{key: "x" * 200}]) == []
    assert told([{key: "x" * 201}]) == [f"{table.name}[1].{key}"]
    for column in table.columns[1:]:
        assert told([rows[0] | {column.name: ""}]) == []
        if column.date:
            assert told([rows[0], rows[1] | {column.name: "no day"}]) == [f"{table.name}[2].{column.name}"]
            day = rows[0] | {column.name: datetime.date(2026, 1, 2)}
            assert header_problems(**{table.name: [day]})[1][table.name] == [rows[0] | {column.name: "2026-01-02"}]


def test_an_unknown_field_of_the_header_is_named():
    assert header_problems(colour="red")[0] == ["colour"]


# ------------------------------------------------------------------------------ plain data
def nested(depth, table=False):
    value = 1
    for _ in range(depth):
        value = {"a": value} if table else [value]
    return value


@pytest.mark.parametrize(
    ("value", "good"),
    [
        (None, True), (True, True), (2**63 - 1, True), (2**63, False), (-(2**63), False), (1.5, True),
        (math.inf, False), (math.nan, False), ("x" * LONGEST, True), ("x" * (LONGEST + 1), False),
        ({"k" * 200: 1}, True), ({"k" * 201: 1}, False), ({5: 1}, False), ((1, 2), True), ({1, 2}, False),
        (nested(DEEPEST), True), (nested(DEEPEST + 1), False),
        (nested(DEEPEST, True), True), (nested(DEEPEST + 1, True), False), (b"x", False),
    ],
)  # fmt: skip
def test_plain_data_at_its_limits(value, good):
    problems = []
    read = tree(value, "content", problems)
    assert [re.split(r"[.[]", p.field)[0] for p in problems] == ([] if good else ["content"])
    assert read == (list(value) if isinstance(value, tuple) else value if good else None)


def test_a_line_is_bounded_as_a_whole(monkeypatch):
    assert LARGEST_BODY == 20_000_000
    monkeypatch.setattr(validation, "LARGEST_BODY", 7)
    for text, count in (("12345", 0), ("ééééé", 0), ("123456", 1)):
        problems = []
        tree(text, "content", problems)
        assert len(problems) == count


def test_the_place_of_a_wrong_value_is_named():
    problems = []
    tree({"a": [1, {"b": math.inf}]}, "content", problems)
    assert problems[0].field == "content.a[2].b"


def test_one_line_has_no_tab_and_no_line_break():
    for text, count in (("a b", 0), ("a\tb", 1), ("a\nb", 1)):
        problems = []
        validation.line_of_text(text, "x", problems)
        assert len(problems) == count
    problems = []
    assert validation.line_of_text("x" * 200, "x", problems) == "x" * 200
    assert validation.line_of_text("x" * 201, "x", problems) == ""
    assert validation.line_of_text(" " * 3, "x", problems, longest=2) == ""  # too long before it is looked at
    assert validation.line_of_text(" " * 2, "x", problems, longest=2) == ""
    assert [p.why for p in problems[2:]] == ["is missing"]


def test_what_is_not_finite_is_null():
    assert finite({"a": [1.5, math.inf, (True, "x", None)], "b": math.nan}) == {
        "a": [1.5, None, [True, "x", None]],
        "b": None,
    }
    assert isinstance(finite(datetime.date(2026, 1, 1)), datetime.date)


SMALL = Limit("job", size=20, depth=2, pieces=4)


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"[1,2,3,4]", None), (b"[1,2,3,4,5]", "more than 4 values"), (b"[[1]]", None), (b'{"a":{"b":1}}', None), (b'{"a":[1]}', None), (b'[{"a":1}]', None),
        (b"[[[]]]", "nested deeper"), (b'{"a":[{}]}', "nested deeper"), (b"[" + b" " * 18 + b"]", None),
        (b"[" + b" " * 19 + b"]", "too large"), (b'{"a":1,"a":1}', "duplicate"), (b"NaN", "not a number"),
        (b'"\\ud800"', "surrogate"), (b'"\\ud83d\\ude00"', None), (b'"\xff"', "UTF-8"), (b"\xef\xbb\xbf[]", None),
        (b"[", "not JSON"),
    ],
)  # fmt: skip
def test_json_is_bounded(raw, words):
    if words is None:
        read_json(raw, SMALL)
        return
    with pytest.raises(NotAJob, match=words):
        read_json(raw, SMALL)


def test_a_limit_of_zero_bounds_nothing_but_the_size():
    assert read_json(b"[[[[1,2,3,4,5,6]]]]", Limit("job", size=20, depth=0, pieces=0))
    assert validation.LARGEST_FILE < 2**40
    with pytest.raises(NotAJob, match="too large"):
        read_json(b" " * 21, Limit("job", size=20, depth=0, pieces=0))


# ------------------------------------------------------------------------------ where a value was taken
def drains(*rows):
    return {"result": {"results": {"drained": {"value": list(rows)}}}}


def drained(liquid="coolant", amount=6.25, complete="all measured"):
    return {"liquid": {"value": liquid}, "amount": {"value": amount}, "complete": {"value": complete}}


@pytest.mark.parametrize(
    ("body", "take", "value"),
    [
        ({"inputs": {"a": "1 mm"}}, "inputs/a", "1 mm"),
        ({"inputs": {"a": None}}, "inputs/a", ""),
        ({"inputs": "text"}, "inputs/a", ""),
        ({"other": {"a": "1 mm"}}, "other/a", ""),
        ({"result": {"results": {"a": {"value": 1.23456, "unit": "mm"}}}}, "results/a", "1.235 mm"),
        ({"result": {"results": {"a": {"value": 0, "unit": "mm"}}}}, "results/a", "0 mm"),
        ({"result": {"results": {"a": {"value": 1.2, "unit": None}}}}, "results/a", ""),
        ({"result": {"results": {"a": {"value": "1", "unit": "mm"}}}}, "results/a", ""),
        ({"result": None}, "results/a", ""),
        (drains(drained()), "drained/coolant", "6.25 L"),
        (drains(drained("oil"), drained(" Coolant ")), "drained/coolant", "6.25 L"),
        (drains(drained(complete="part")), "drained/coolant", ""),
        (drains(drained(amount=None)), "drained/coolant", ""),
        (drains("text", {"liquid": None}), "drained/coolant", ""),
        ({"result": {"results": {"drained": {"value": 5}}}}, "drained/coolant", ""),
        ({"inputs": {"steps": [{"liquid": "Oil", "amount": "4 L"}, {"liquid": "oil", "amount": "0 L"},
                               {"liquid": "coolant", "amount": "much"}, {"liquid": "oil"}, 5]}}, "each drained/oil", "4 L; 0 L"),
        ({"inputs": {"steps": [{"liquid": "oil", "amount": "4 L"}, {"liquid": "oil", "amount": "much"}]}}, "each drained/oil", ""),
        ({"inputs": {"steps": 5}}, "each drained/oil", ""),
        ({}, "each drained/oil", ""),
    ],
)  # fmt: skip
def test_the_value_that_an_origin_names(body, take, value):
    assert origins.value_at(body, take) == value


def test_a_correction_keeps_the_origin_of_what_is_typed_as_before():
    result = get("angle_travel")(angle="90 deg", pitch="1.5 mm")
    before = {"inputs": {"angle": "90 deg", "pitch": "1.25 mm"}, "origins": {"angle": GOOD, "pitch": GOOD}}
    assert origins.origins_after(before, result, None) == {"angle": GOOD}
    assert origins.origins_after(before, result, {"pitch": GOOD}) == {"pitch": GOOD}
    assert origins.origins_after(before, result, {}) == origins.origins_after({}, result, None) == {}


def test_origins_follow_the_corrections_of_their_entries():
    assert origins.moved({"a": GOOD, "b": GOOD | {"uid": "other"}}, {UID: "new"}) == {
        "a": GOOD | {"uid": "new"}, "b": GOOD | {"uid": "other"}}  # fmt: skip
