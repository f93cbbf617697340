"""What a fuzzer types: values drawn from the declaration of a field, mutated examples, and raw rubbish."""

from __future__ import annotations

import functools
import json
import math
import re

from hypothesis import strategies as st

from shoplib.core.plausibility import plausible_bounds
from shoplib.topics import all_workings
from tests.form_variations import inputs_of_forms
from tests.topics.typed_inputs import example_of, typed

WORKINGS = all_workings()
ANY_TEXT = st.text(st.characters(), max_size=40)  # every code point, lone surrogates and control characters too
ODD = (
    "\ud800", "a\udfffb", "\x00", "\x1b[31mred", "a\nb", "\r", "\u202e123", "\ufeff", "١٢ mm", "²", "1²", "½", "1 1/0", "1/3 mm",
    "nan", "inf", "-inf", "1e308", "1e-308", "1e400", "-1e308 mm", "1e308 mm", "1e-308 mm", "1e200 N*m", "1e-300 deg",
    "5e-324", "1e15", "-0.0", "0", "0 mm", "-1 mm", "1 mm ± 1e308 mm", "0–1e308 mm", "1 mm ± 2000 %", "1" * 201, "1/" + "9" * 190,
    "9" * 190 + "/7", "5 kg", "5 K", "20 degC", "3 mm**9999999", "1 mm^mm", "1 m m m", "1 ((((", "%", "5 %", "1e5 %", "[", "[[[[",
    "[1, [2, [3]]]", '{"a": 1}', '[{"x": "1 mm"}]', "[" * 5000, '["\\ud800"]', "[NaN]", "[Infinity, 1e999]", "[null]", ";;;", "1;2;;3", "1 mm; ; 1 mm",
    "a=b", "<script>alert(1)</script>", "../../etc/passwd.csv", "/dev/zero.csv", "x.csv", "#{1+1}", "=1+1", "$x$", "%s%n", "{0.__class__}",
    "40 N*m; 90°; 90°", "90 deg " * 20, "yes", "no", "not measured", "x" * 5000, "2026-02-30", "0000-00-00", "1 mm" + " " * 300,
)  # fmt: skip
RAW = st.one_of(
    st.sampled_from(ODD),
    ANY_TEXT,
    st.none(),
    st.booleans(),
    st.integers(-(10**40), 10**40),
    st.just(10**5000),
    st.floats(),
    st.recursive(
        st.one_of(ANY_TEXT, st.floats(), st.none(), st.integers(-9, 9)),
        lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(ANY_TEXT, inner, max_size=3)),
        max_leaves=6,
    ),
)
SIZES = st.one_of(
    st.floats(0.25, 4.0),
    st.sampled_from([0.0, 1.0, -1.0, 0.1, 10.0, 100.0, 0.01, 1e3, 1e-3, 1e-6, 1e6, 1e-9, 1e-12, 1e-15]),
)


def _number_in(text: str) -> float | None:
    found = re.search(r"\d+(?:[.,]\d+)?", text)
    return float(found[0].replace(",", ".")) if found else None


def _ramp(end):
    return "angle_deg;torque_Nm\n" + "\n".join(f"{x};{max(0, x - 8) * 0.7 + 0.2:.2f}" for x in range(end + 40))


def _joined(pieces):
    """A trace of pieces: a jump at the beginning of each, then a slope per sample."""
    angle, torque, rows = 0.0, 1.0, []
    for samples, turning, jump, slope in pieces:
        torque += jump
        for _ in range(samples):
            rows.append(f"{angle:.6g};{torque:.6g}")
            angle, torque = angle + turning, torque + slope
    return "angle_deg;torque_Nm\n" + "\n".join(rows)


PIECES = st.lists(
    st.tuples(
        st.integers(1, 40),
        st.sampled_from([1.0, 1.0, 0.5, 5.0, 0.0, -1.0]),
        st.sampled_from([0.0, 0.0, 1.0, 20.0, 100.0, -30.0]),
        st.sampled_from([0.0, 0.0, 0.01, 0.5, 1.0, 2.0, -1.0]),
    ),
    min_size=1,
    max_size=5,
)


def scalar(field):
    """One value of this field, by its declaration: near its example, at its bounds, and over all that is plausible."""
    match field.kind:
        case "choice":
            return st.sampled_from([*field.choices, *(c.replace("_", " ") for c in field.choices)])
        case "boolean":
            return st.sampled_from(["yes", "no", True, False])
        case "date":
            return st.dates().map(str)
        case "trace":
            ramps = st.sampled_from([10, 40]).map(_ramp)
            return st.one_of(st.just(example_of(field)), ramps, PIECES.map(_joined), PIECES.map(_joined))
        case "integer":
            return st.one_of(st.integers(0, 12), st.sampled_from([100, 999, 10**6, 10**9, -1]))
        case "text":
            words = st.text(
                st.characters(max_codepoint=0x17F, exclude_categories=["Cc", "Cf"]), min_size=1, max_size=12
            )
            return st.one_of(
                *([st.just(example_of(field))] if field.example else []), st.sampled_from(["A", "1", "2", "3"]), words
            )
    low, high = field.plausible or plausible_bounds(field.unit)
    low = max(low, *(x for x in (field.above, field.at_least) if x is not None), -math.inf)
    high = min(high, *(x for x in (field.below, field.at_most) if x is not None), math.inf)
    u, base = field.unit, _number_in(field.example) or 1.0
    near = SIZES.map(lambda k: base * k)
    bounds = st.sampled_from([u.from_si(x) for x in (low, high)])
    over = st.tuples(st.floats(-15, 0), st.sampled_from([low, high])).map(lambda t: u.from_si(10 ** t[0] * t[1]))

    def spelled(x):
        number = f"{x:.6g}"
        return number if field.kind == "number" else f"{number} {u.name or ''}".strip()

    one = st.one_of(near, near, near, bounds, over).map(spelled)
    if field.example:
        one = st.one_of(st.just(example_of(field)), one)
    if field.band:
        one = st.one_of(
            one,
            st.tuples(near, st.floats(1.0, 3.0)).map(
                lambda t: f"{abs(t[0]):.5g}–{abs(t[0]) * t[1]:.5g} {u.name}".strip()
            ),
        )
    if field.states:
        one = st.one_of(one, st.sampled_from(field.states))
    return one


@functools.cache
def declared(field):
    """A value of this field as its declaration has it."""
    if field.kind == "list":
        items = st.lists(scalar(field.item), min_size=1, max_size=8)
        return st.one_of(
            items, items.map(lambda v: "; ".join(map(str, v))), st.just(example_of(field)) if field.example else items
        )
    if field.kind == "table":
        row = st.fixed_dictionaries(
            {c.name: declared(c) for c in field.columns if c.required and c.default is None},
            optional={c.name: declared(c) for c in field.columns if not (c.required and c.default is None)},
        )
        return st.lists(row, min_size=1, max_size=9)
    return scalar(field)


def field_of(name, field):
    return WORKINGS[name].field(field)


@functools.cache
def bases(name):
    """Inputs that are known to work: the examples of the fields, and those of the invented job."""
    return [typed(WORKINGS[name]), *([_of_forms()[name]] if name in _of_forms() else [])]


@functools.cache
def _of_forms():
    return {name: inputs for name, _, inputs in inputs_of_forms()}


@st.composite
def inputs(draw, name, hostile=True):
    """Inputs of a working: a base that works with some fields typed anew, or every field drawn."""
    fields = WORKINGS[name].fields
    way = draw(st.integers(0, 9))
    if way == 0 and hostile:
        return draw(st.dictionaries(st.one_of(ANY_TEXT, st.sampled_from([f.name for f in fields])), RAW, max_size=5))
    made = dict(draw(st.sampled_from(bases(name))))
    if way == 1:
        made = {f.name: draw(declared(f)) for f in fields if draw(st.booleans())} | {
            f.name: draw(declared(f)) for f in fields if f.required and f.default is None
        }
    if way == 2:  # everything in it at its smallest, its largest, or somewhere between
        made = {
            n: draw(declared(f)) if (f := field_of(name, n)) and f.kind in ("quantity", "number") else v
            for n, v in made.items()
        }
    for field in draw(st.lists(st.sampled_from(fields), max_size=4, unique=True)) if fields else ():
        what = draw(st.integers(0, 9))
        if what == 0:
            made.pop(field.name, None)
        elif what <= 2 and hostile:
            made[field.name] = draw(RAW)
        elif what <= 5 and made.get(field.name):
            made[field.name] = mutated(draw, field, made[field.name], hostile)
        else:
            made[field.name] = draw(declared(field))
    if hostile and draw(st.integers(0, 19)) == 0:
        made[draw(ANY_TEXT)] = draw(RAW)
    return made


def mutated(draw, field, value, hostile=True):
    """A value with one cell of it typed anew, one row doubled, or one row gone."""
    if isinstance(value, str) and field.kind == "table" and value.strip()[:1] in ("[", "{"):
        value = json.loads(value)
    if isinstance(value, list) and value:
        value, k = list(value), draw(st.integers(0, len(value) - 1))
        match draw(st.integers(0, 3)):
            case 0:
                value.append(value[k])
                if draw(st.integers(0, 9)) == 0:  # as long as an honest list never is
                    value *= draw(st.sampled_from([5, 50, 500]))
                    value = (
                        [{**v, c.name: f"{n}"} if isinstance(v, dict) else v for n, v in enumerate(value)]
                        if (c := next((c for c in field.columns if c.kind == "text"), None)) and draw(st.booleans())
                        else value
                    )
            case 1:
                del value[k]
            case _ if field.kind == "table" and isinstance(value[k], dict):
                column = draw(st.sampled_from(field.columns))
                value[k] = {
                    **value[k],
                    column.name: draw(RAW if hostile and draw(st.integers(0, 3)) == 0 else declared(column)),
                }
            case _:
                value[k] = draw(RAW if hostile else scalar(field.item) if field.item else declared(field))
        return value
    if isinstance(value, str) and value and hostile:
        k = draw(st.integers(0, len(value)))
        return value[:k] + draw(st.one_of(st.sampled_from(ODD), ANY_TEXT)) + value[k + draw(st.integers(0, 3)) :]
    return draw(declared(field))
