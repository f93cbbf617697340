"""What the text of pages is searched for, and what counts as found: at the limits of each rule."""

import json

import pypdf
import pytest
from pypdf.generic import (
    ArrayObject,
    BooleanObject,
    ByteStringObject,
    DecodedStreamObject,
    DictionaryObject,
    FloatObject,
    NameObject,
    NullObject,
    NumberObject,
    TextStringObject,
)

from shoplib.core.checks import Outcome
from shoplib.core.outcome_labels import outcome_label
from shoplib.core.typed_text import with_signs
from shoplib.record.jobfile_record import printed_hash
from shoplib.sheet import pagetext
from shoplib.sheet.pagehash import page_hash
from shoplib.sheet.pagetext import LONGEST_LIST, Wanted, foreign, missing, pages_without_record, sha256, wanted


def name(text):
    return NameObject("/" + text)


def named(**members):
    return DictionaryObject({name(k): v for k, v in members.items()})


# ------------------------------------------------------------------------------ numbers
@pytest.mark.parametrize(
    ("text", "value", "half"),
    [
        ("0.12", 0.12, 0.005),
        ("−0.5", -0.5, 0.05),
        ("-7", -7.0, 0.5),
        ("1234", 1234.0, 0.5),
        ("50\u202f790", 50790.0, 5.0),  # four digits are printed: the last may be rounded
        ("1.5×10⁹", 1.5e9, 0.05e9),
        ("2×10⁻³", 2e-3, 0.5e-3),
        ("1×10⁹⁹⁹", 1e300, 0.5e300),  # no power that a float cannot hold
        ("1×10⁻⁹⁹⁹", 1e-300, 0.5e-300),
        ("1×10⁻", 1.0, 0.5),
    ],
)
def test_a_number_on_a_page_has_half_its_last_digit(text, value, half):
    assert pagetext._numbers(f"x {text} y") == [(pytest.approx(value, abs=0), pytest.approx(half, abs=0))]


@pytest.mark.parametrize(
    ("value", "found"),
    [(0.1249, True), (0.125, True), (0.1151, True), (0.1149, False), (0.1256, False), (-0.12, False), (0.0, False)],
)
def test_a_value_is_shown_by_a_number_that_it_rounds_to(value, found):
    assert pagetext._shows(value, pagetext._numbers("0.12")) is found


def test_the_right_number_is_found_among_its_neighbours():
    numbers = pagetext._numbers("99 101 101.5 102 104 111")
    assert [v for v in (96.0, 99.4, 101.5, 101.52, 101.57, 103.0, 104.6, 107.0) if pagetext._shows(v, numbers)] == [
        99.4, 101.5, 101.52, 101.57]  # fmt: skip
    assert [v for v in (1064.9, 1073.35, 1075.1) if pagetext._shows(v, pagetext._numbers("1070"))] == [1073.35]
    assert pagetext._shows(0.0, pagetext._numbers("0"))
    assert pagetext._shows(1.04, pagetext._numbers("1.0 1.1"))
    assert [pagetext._shows(v, pagetext._numbers("5")) for v in (5.26, 5.27)] == [True, False]  # 5 % at most
    assert not pagetext._shows(0.4, pagetext._numbers("0"))  # a zero is no rounded reading


# ------------------------------------------------------------------------------ text
@pytest.mark.parametrize(
    ("typed", "page", "found"),
    [
        ("Mill Lane", "mill  la\nne 4", True),
        ("40 N*m", "40 N·m", True),
        ("90 deg", "90°", True),
        ("20 degC", "20 °C", True),
        ("a\u200bb", "ab", True),
        ("Öl", "ÖL", True),
        ("first second", "second … first", True),
        ("first second", "first only", False),
        ("A", "‹U+0041›", True),
        ("B", "‹U+0041›", False),
        ("x", "‹U+FFFFFFF›", False),
        ("\U0010ffff", "‹U+FFFFFFF›", True),
    ],
)
def test_a_text_is_found_as_a_page_breaks_it(typed, page, found):
    assert pagetext._says(typed, pagetext._squeezed(page)) is found


def test_a_spelled_character_is_read_as_a_number_of_base_16():
    assert pagetext._squeezed("‹U+1F60›") == pagetext._squeezed("\u1f60")


@pytest.mark.parametrize(
    "typed",
    ["88 degC", "68degF", "104 deg", "85–95 deg", "40 N*m; +90 deg", "30 lbf*ft", "400 mm2", "3900 mm**2", "1060 kg/m**3", "600 N/mm2"],
)  # fmt: skip
def test_a_unit_is_found_as_typed_and_as_printed(typed):
    printed = with_signs(typed)
    assert printed != typed and pagetext._squeezed(printed) == pagetext._squeezed(typed)


# ------------------------------------------------------------------------------ what is wanted of a record
def entry(**more):
    return {"title": "", "inputs": {}, "result": {}} | more


def wanted_of(**more):
    return list(wanted({"job": {}, "entries": [entry(**more)]}))


def test_the_header_and_the_texts_of_an_entry_are_wanted():
    record = {"job": {"engine": "pump"}, "entries": [entry(title="T"), entry(who="W", when="", remark="R")]}
    assert list(wanted(record)) == [
        Wanted("job.engine", "pump"), Wanted("entry 1, title", "T"), Wanted("entry 2, who", "W"),
        Wanted("entry 2, remark", "R")]  # fmt: skip


@pytest.mark.parametrize(
    ("typed", "texts"),
    [
        ("1 mm", ["1 mm"]),
        (3, ["3"]),
        (2.5, ["2.5"]),
        (True, []),
        (None, []),
        ("0 1\n1 2", []),  # a trace
        (["1", 2], ["1; 2"]),
        (["1", {"x": "2"}], [""]),
        (["a" * LONGEST_LIST], ["a" * LONGEST_LIST]),
        (["a" * (LONGEST_LIST + 1)], []),
    ],
)
def test_inputs_are_wanted_as_typed(typed, texts):
    assert [w.value for w in wanted_of(inputs={"a": typed})] == texts


def test_an_input_after_a_trace_or_a_long_list_is_wanted_too():
    inputs = {"trace": "0\n1", "list": ["a" * (LONGEST_LIST + 1)], "last": "1 mm"}
    assert wanted_of(inputs=inputs) == [Wanted("entry 1, last", "1 mm")]


@pytest.mark.parametrize(("value", "found"), [(1, [1.0]), (0.5, [0.5]), (True, []), ("word", []), (None, [])])
def test_numbers_of_a_result_and_of_its_checks_are_wanted(value, found):
    told = {"value": value}
    assert [w.value for w in wanted_of(result={"results": {"r": told}})] == found
    checks = [{"found": told, "limit": {"value": 9}}, {"found": None}]
    assert [w.value for w in wanted_of(result={"checks": checks})] == [*found, 9.0]


def whole(**more):
    lines = [
        {"n": 1, "kind": "header", "digest": "d1", "who": "A",
         "body": {"fields": {"engine": "pump", "checked_by": "C", "people": []}}},
        {"n": 2, "kind": "entry", "digest": "d2", "who": "B", "body": {"inputs": {"a": "1 mm"}}},
        {"n": 3, "kind": "note", "digest": "d3", "who": "B", "body": {"fields": {"engine": "no header"}}},
    ]  # fmt: skip
    worked = [{"line": 2, "result": {"results": {"r": {"value": 1.5}}}}, {"line": 7}]
    return {"lines": lines, "worked": worked, "blank": False} | more


def test_what_is_wanted_of_a_whole_job_depends_on_the_print():
    header, last = [Wanted("job.engine", "pump"), Wanted("job.checked_by", "C")], [Wanted("last hash", "d3")]
    rest = [
        Wanted("line 2, who", "B"),
        Wanted("line 2, a", "1 mm"),
        Wanted("line 2, r", 1.5),
        Wanted("line 7, who", ""),
    ]
    assert list(wanted(whole())) == [*header, *last, *rest]
    assert list(wanted(whole(extent="customer"))) == [*header, *last]
    assert list(wanted(whole(blank=True))) == header[:1]


# ------------------------------------------------------------------------------ outcomes
def outcomes_on(texts, checks, **more):
    record = {"job": {}, "entries": [entry(result={"checks": checks}), entry()]} | more
    return [w.value for w in missing(texts, record)]


def test_each_outcome_is_on_the_pages_as_often_as_in_the_record():
    checks = [{"label": label, "outcome": "fail"} for label in "ab"]
    word = outcome_label("fail")
    assert outcomes_on([word, word], checks) == []
    assert outcomes_on(["fail fail"], checks) == []
    assert outcomes_on([word], checks) == outcomes_on(["fail"], checks) == ["fail"]
    assert outcomes_on([word], checks, blank=True) == []
    assert outcomes_on([word], checks, extent="customer") == []


def test_two_limits_of_one_reading_are_one_row_with_the_worse_outcome():
    row = {"label": "a", "found": {"value": 1.0}}
    checks = [row | {"outcome": "pass"}, row | {"outcome": "fail"}, {"label": "b", "outcome": "no outcome"}]
    assert outcomes_on(["1.0"], checks) == ["fail"]
    assert pagetext._rows_of([row | {"outcome": str(o)} for o in Outcome]) == [str(next(iter(Outcome)))]
    assert pagetext._rows_of([row | {"outcome": "pass"}, row | {"outcome": "fail", "label": "b"}]) == ["pass", "fail"]


def test_a_value_that_no_page_shows_is_missing():
    record = {"job": {"engine": "pump"}, "entries": [entry(result={"results": {"r": {"value": 1.5}}})]}
    assert missing(["pu", "mp 1.5"], record) == []
    assert missing(["pump 1.4"], record) == [Wanted("entry 1, r", 1.5)]
    assert missing(["pum 1.5"], record) == [Wanted("job.engine", "pump")]


# ------------------------------------------------------------------------------ page numbers and hashes
def test_every_page_has_the_hash_and_its_number():
    raw = json.dumps({"paper": "a4", "x": 1}).encode()
    own, printed = sha256(raw), printed_hash(json.loads(raw))
    assert own != printed
    pages = [f"{own} page 1 of 3", f"{printed} page 2 of 3", f"{own} page 2 of 3"]
    assert pages_without_record(pages, raw) == [3]
    assert pages_without_record(["page 1 of 2", f"{own} page 2 of 2"], raw) == [1]
    assert pages_without_record([sha256(b"[") + " page 1 of 1"], b"[") == []


# ------------------------------------------------------------------------------ a small PDF
def pdf(text=b"BT ET", pages=2):
    writer = pypdf.PdfWriter()
    for n in range(pages):
        page = writer.add_blank_page(200, 300)
        stream = DecodedStreamObject()
        stream.set_data(text + b" %% page %d" % n)
        page[name("Contents")] = writer._add_object(stream)
    return writer


def test_pages_with_too_much_content_are_not_read(monkeypatch):
    monkeypatch.setattr(pagetext, "MOST_CONTENT", sum(len(p.get_contents().get_data()) for p in pdf().pages))
    assert pagetext.texts_of(pdf()) == ["", ""]
    with pytest.raises(ValueError, match="more text"):
        pagetext.texts_of(pdf(b"BT  ET"))


EMBEDDED = {k: named(Subtype=name("TrueType"), FontDescriptor=named(**{k: name("x")})) for k in
            ("FontFile", "FontFile2", "FontFile3")}  # fmt: skip


@pytest.mark.parametrize(
    ("change", "found"),
    [
        ({}, []),
        ({"Annots": ArrayObject([named(Subtype=name("Link"))])}, []),
        ({"Annots": ArrayObject([named(Subtype=name("Stamp"))])}, ["page 2: an annotation"]),
        ({"Contents": ArrayObject([])}, ["page 2: more than one layer of content"]),
        *(({"Resources": named(Font=named(F=font))}, []) for font in EMBEDDED.values()),
        ({"Resources": named(Font=named(F=named(Subtype=name("Type3"))))}, []),
        ({"Resources": named(Font=named(F=named(Subtype=name("Type1"))))}, ["page 2: a font that is not embedded"]),
        ({"Resources": named(Font=named(F=named(DescendantFonts=ArrayObject([EMBEDDED["FontFile"]]))))}, []),
        (
            {"Resources": named(Font=named(F=named(DescendantFonts=ArrayObject([EMBEDDED["FontFile"], named()]))))},
            ["page 2: a font that is not embedded"],
        ),
    ],
)
def test_content_that_no_sheet_has_is_named_with_its_page(change, found):
    writer = pdf()
    for key, value in change.items():
        writer.pages[1][name(key)] = value
    assert foreign(writer) == found


@pytest.mark.parametrize("key", ["OpenAction", "AcroForm", "OCProperties", "AA"])
def test_actions_and_forms_of_a_document_are_named(key):
    writer = pdf()
    assert foreign(writer) == []
    writer.root_object[name(key)] = named(Fields=ArrayObject([named(FT=name("Tx"))]))
    assert foreign(writer) == [f"{key} in the document"]


# ------------------------------------------------------------------------------ the hash of what is shown
def changed(change, **options):
    writer = pdf()
    change(writer)
    return page_hash(writer, **options) != page_hash(pdf(), **options)


def put(of, key, value):
    def change(writer):
        {"page": writer.pages[1], "document": writer.root_object}[of][name(key)] = value

    return change


@pytest.mark.parametrize(
    ("of", "key", "value", "shown"),
    [
        ("page", "Rotate", NumberObject(90), True),
        ("page", "Rotate", NumberObject(0), False),
        ("page", "Rotate", NumberObject(1), True),
        ("page", "CropBox", ArrayObject([NumberObject(9)]), True),
        ("page", "P", NumberObject(1), False),
        ("page", "Other", NumberObject(1), True),
        ("page", "Annots", ArrayObject([]), False),
        ("page", "Annots", ArrayObject([named(Subtype=name("Stamp"))]), True),
        ("document", "Metadata", TextStringObject("a"), False),
        ("document", "Names", named(EmbeddedFiles=NumberObject(1)), False),
        ("document", "Names", named(Dests=NumberObject(1)), True),
        ("document", "OpenAction", NumberObject(1), True),
        ("document", "AcroForm", named(Fields=ArrayObject([named(FT=name("Tx"))])), True),
    ],
)
def test_only_what_is_shown_changes_the_hash(of, key, value, shown):
    assert changed(put(of, key, value)) is shown


def test_the_structure_counts_only_when_it_is_asked_for():
    change = put("document", "StructTreeRoot", named(K=NumberObject(1)))
    assert [changed(change, **asked) for asked in ({}, {"structure": False}, {"structure": True})] == [
        False,
        False,
        True,
    ]


HASH = "bfcbe77a00ab2235c861117f67247418058c38979dc5aa0672bae85d31c3ec79"


def test_content_order_and_count_of_pages_change_the_hash():
    first = page_hash(pdf())
    assert first == HASH  # sheets keep it: another value would call genuine sheets altered
    assert len({first, page_hash(pdf(b"BT  ET")), page_hash(pdf(pages=1)), page_hash(pdf(pages=3))}) == 4
    writer = pdf()
    writer.root_object["/Pages"][name("Count")] = NumberObject(3)
    assert page_hash(writer) != first


def test_a_size_that_is_inherited_is_that_of_the_page():
    writer = pdf()
    pages = writer.root_object["/Pages"].get_object()
    pages[name("MediaBox")] = writer.pages[1]["/MediaBox"]
    del writer.pages[1]["/MediaBox"]
    assert page_hash(writer) == page_hash(pdf())
    pages[name("MediaBox")] = ArrayObject([NumberObject(9)])
    assert page_hash(writer) != page_hash(pdf())


VALUES = [
    BooleanObject(True), BooleanObject(False), NumberObject(1), NumberObject(2), FloatObject("1.0001"),
    FloatObject("1.0002"), name("a"), name("b"), TextStringObject("a"), TextStringObject("b"), ByteStringObject(b"c"),
    ArrayObject([]), ArrayObject([NumberObject(1)]), named(), named(a=NumberObject(1)), named(b=NumberObject(1)), NullObject(),
]  # fmt: skip


def test_values_of_every_kind_are_told_apart():
    hashes = []
    for value in VALUES:
        writer = pdf()
        writer.pages[0][name("Other")] = value
        hashes.append(page_hash(writer))
    assert len(set(hashes)) == len(VALUES)


@pytest.mark.parametrize(
    ("one", "other", "same"), [("1.00001", "1.00002", True), ("1", "1.0", True), ("0.1", "0.2", False)]
)
def test_numbers_are_compared_to_four_decimals(one, other, same):
    hashes = []
    for text in (one, other):
        writer = pdf()
        writer.pages[0][name("Other")] = FloatObject(text)
        hashes.append(page_hash(writer))
    assert (hashes[0] == hashes[1]) is same


def test_a_stream_is_hashed_by_its_content_and_what_says_how_it_is_packed_is_not():
    def with_stream(data, **more):
        writer = pdf()
        stream = DecodedStreamObject()
        stream.set_data(data)
        stream.update({name(k): v for k, v in more.items()})
        writer.pages[0][name("Other")] = writer._add_object(stream)
        return page_hash(writer)

    assert with_stream(b"a") != with_stream(b"b")
    assert with_stream(b"a") == with_stream(b"a", DL=NumberObject(9))
    assert with_stream(b"a") != with_stream(b"a", Width=NumberObject(9))


def test_a_reference_to_a_page_is_its_number_and_a_circle_ends():
    def linked(n):
        writer = pdf()
        circle = named(A=NumberObject(1))
        reference = writer._add_object(circle)
        circle[name("Self")] = reference
        circle[name("To")] = writer.pages[n].indirect_reference
        writer.pages[0][name("Other")] = reference
        return page_hash(writer)

    assert linked(0) != linked(1)
    assert linked(1) == linked(1)
