"""The recorded runs of the workings: stored inputs, and what was said to them.  One file for each topic.

They notice a change; they do not say what is right: no number in them was checked from outside.
"""

from __future__ import annotations

import functools
import gzip
import json
import os
import subprocess
import sys
import warnings
from pathlib import Path
from typing import Any

from shoplib.core.errors import BadInput
from shoplib.topics import MODULES, all_workings
from tests.recorded import said

SLOW = {"preload_scatter": 15, "staged_tightening": 2}  # so many times fewer inputs are tried
CHEAPER = {"preload_scatter": {"draws": "2000"}}  # in all stored inputs but the first
GROUPS = "40 N*m group long; 20 N*m group short; +90 deg group long"
FACE = {
    "lines": [{"name": n, "from": a, "to": b, "no_go": "0.05 mm"}
              for n, a, b in (("A", "0; 75 mm", "400; 75 mm"), ("B", "0; 10 mm", "400; 130 mm"), ("C", "20 mm; 0 mm", "30 mm; 150 mm"))],
    "outline": [{"name": n, "x": x, "y": y} for n, x, y in zip("ABCD", ("0 mm", "400 mm", "400 mm", "0 mm"),
                                                               ("0 mm", "0 mm", "150 mm", "150 mm"), strict=True)],
    "holes": [{"name": f"bore {k}", "x": f"{70 + 130 * k} mm", "y": "75 mm", "diameter": "80 mm"} for k in range(3)],
}  # fmt: skip
SEEDS = {  # beside the examples: what the declared fields alone do not lead to
    "staged_tightening": [{"stages": GROUPS}, {"stages": GROUPS, "group": "long"}, {"stages": GROUPS, "group": "none"},
                          {"bolt_modulus": "", "target_preload": "20 kN"}, {"torsion": "elastic"}],
    "tightening_plan": [{"stages": GROUPS}],
    "flatness_lines": [FACE, {**FACE, "holes": []}],
    "coolant_reading": [{"instrument": "freezing_point", "value": text} for text in ("-13 °F", "-25 °C", "-1.0 °C")]
    + [{"instrument": "relative_density", "value": text} for text in ("1.001", "1.065", "1.100", "1.130")]
    + [{"instrument": "refractive_index", "value": text} for text in ("1.333", "1.3340", "1.3728", "1.39", "1.4")],
}  # fmt: skip
OTHER_PROCESSOR = {"NPY_DISABLE_CPU_FEATURES": "AVX2 FMA3 AVX F16C", "OPENBLAS_CORETYPE": "Prescott"}
LONG = " ".join(5 * letter for letter in "abcdefghijklmnopqrstuvwxyz")
FOLDER = Path(__file__).parent / "data"


def read(name: str) -> dict[str, Any]:
    """A stored file; empty where there is none."""
    path = FOLDER / f"{name}.json.gz"
    return json.loads(gzip.decompress(path.read_bytes())) if path.exists() else {}


def write(name: str, content: dict[str, Any]) -> None:
    FOLDER.mkdir(exist_ok=True)
    raw = json.dumps(content, ensure_ascii=False, separators=(",", ":")).encode()
    (FOLDER / f"{name}.json.gz").write_bytes(gzip.compress(raw, mtime=0))


def topics() -> list[str]:
    return list(dict.fromkeys(module.partition(".")[0] for module in MODULES))


def of_topic(topic: str) -> list[str]:
    """The workings of a topic."""
    return [m.rpartition(".")[2] for m in MODULES if m.startswith(f"{topic}.")]


@functools.cache
def stored(topic: str) -> dict[str, Any]:
    return read(topic)


def stored_inputs(topic: str) -> dict[str, list[dict[str, Any]]]:
    return {name: [run["inputs"] for run in found] for name, found in stored(topic).get("runs", {}).items()}


@functools.cache
def _of_forms() -> dict[str, dict[str, Any]]:
    from tests.form_variations import inputs_of_forms

    return {name: inputs for name, _, inputs in inputs_of_forms()}


def long_texts(name: str, inputs: dict[str, Any]) -> list[dict[str, Any]]:
    """The inputs with every text so long that it is shortened where it is shown; and with those that are then accepted."""
    working, made = all_workings()[name], dict(inputs)
    for field in working.fields:
        rows = made.get(field.name)
        if isinstance(rows, str) and rows[:1] == "[":
            rows = json.loads(rows)
        if field.kind == "text":
            made[field.name] = LONG
        elif field.kind == "table" and isinstance(rows, list) and rows and isinstance(rows[0], dict):
            texts = {c.name: LONG for c in field.columns if c.kind == "text"}
            made[field.name] = [{**rows[0], **texts}, *rows[1:]]
    taken = dict(made)
    for _ in working.fields:
        try:
            working(taken)
        except BadInput as refused:
            named = {p.field.partition("[")[0] for p in refused.problems}
            taken |= {n: inputs.get(n, "") for n in named}
    return [x for n, x in enumerate((made, taken)) if x != inputs and (n == 0 or taken != made)]


def explored(name: str, tries: int, before: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """New inputs for a working; must be called where the topics are watched."""
    from tests import calculations
    from tests.recorded.explore import Explorer
    from tests.topics.typed_inputs import typed

    working = all_workings()[name]
    seeds = [typed(working), *([_of_forms()[name]] if name in _of_forms() else [])]
    seeds += [{**seeds[0], **more} for more in SEEDS.get(name, [])]
    seeds += [run["inputs"] for run in calculations.recorded() if run["working"] == name]
    seeds += long_texts(name, seeds[0])
    first, *others = Explorer(working, [*seeds, *before], tries // SLOW.get(name, 1)).run()
    return [first, *({**typed, **CHEAPER.get(name, {})} for typed in others)]


def store(topic: str, inputs: dict[str, list[dict[str, Any]]]) -> int:
    """Run all inputs of a topic and store what is said; the number of runs."""
    texts, found = said.Texts(), {}
    for name in of_topic(topic):
        working = all_workings()[name]
        found[name] = [
            {"inputs": typed, "said": [[texts.number(text), total] for text, total in said.of_run(working, typed)]}
            for typed in inputs.get(name, [])
        ]
    write(topic, {"texts": texts.stored, "runs": found})
    return sum(map(len, found.values()))


def changed(name: str) -> list[str]:
    """What a working says otherwise than stored."""
    topic = next(m.partition(".")[0] for m in MODULES if m.endswith(f".{name}"))
    content, working = stored(topic), all_workings()[name]
    texts, found = said.Texts(content["texts"]), []
    for run in content["runs"].get(name, []):
        told = said.differences(texts, run["said"], said.of_run(working, run["inputs"]))
        found += [f"{name} with {json.dumps(run['inputs'], ensure_ascii=False)[:600]}: {x}" for x in told]
    return found


def inputs_of(name: str) -> list[dict[str, Any]]:
    """The stored inputs of a working."""
    topic = next(m.partition(".")[0] for m in MODULES if m.endswith(f".{name}"))
    return stored_inputs(topic).get(name, [])


# -- pictures, lessons, exercises, guided lessons
def explored_cases(kind: Any, name: str) -> list[Any]:
    """The fewest cases in which the watched code does everything that it does in all of them."""
    from tests.recorded import watched
    from tests.recorded.explore import fewest

    says, found, caused = kind.says(name), [], []
    for case in kind.cases(name):
        watched.forget()
        with warnings.catch_warnings():
            warnings.simplefilter("error")  # as in the tests: limits of an axis that no real part gives
            try:
                told = says(case)
            except UserWarning:
                continue
        if told[0][0] not in ("refused", "no picture"):
            found.append(case)
            caused.append(set(watched.SEEN))
    chosen = fewest(caused)[: kind.most]
    chosen += [k for k in range(len(found)) if k not in chosen][: max(kind.least - len(chosen), 0)]
    return [found[k] for k in sorted(chosen)]


def store_kind(kind_name: str, cases: dict[str, list[Any]]) -> int:
    """Store what the subjects of a kind say in these cases; their number."""
    from tests.recorded.subjects import KINDS

    texts, found, kind = said.Texts(), {}, KINDS[kind_name]
    for name in kind.subjects():
        says = kind.says(name)
        found[name] = [
            {"case": case, "said": [[texts.number(text), total] for text, total in says(case)]}
            for case in cases.get(name, [])
        ]
    write(kind_name, {"texts": texts.stored, "runs": found})
    return sum(map(len, found.values()))


def stored_cases(kind_name: str) -> dict[str, list[Any]]:
    return {name: [run["case"] for run in found] for name, found in stored(kind_name).get("runs", {}).items()}


def changed_of_kind(kind_name: str, name: str) -> list[str]:
    """What a subject of a kind says otherwise than stored."""
    from tests.recorded.subjects import KINDS

    content, says = stored(kind_name), KINDS[kind_name].says(name)
    texts, found = said.Texts(content["texts"]), []
    for run in content["runs"].get(name, []):
        found += [f"{name} at {run['case']}: {x}" for x in said.differences(texts, run["said"], says(run["case"]))]
    return found


# -- what another processor rounds otherwise
def unsteady() -> dict[str, dict[str, list[int]]]:
    """By file and subject, the places of the runs that say here otherwise than stored."""
    from tests.recorded.subjects import KINDS

    found: dict[str, dict[str, list[int]]] = {}
    for file in (*topics(), *KINDS):
        for name, stored_runs in stored(file).get("runs", {}).items():
            says = KINDS[file].says(name) if file in KINDS else functools.partial(said.of_run, all_workings()[name])
            texts = said.Texts(stored(file)["texts"])
            for k, run in enumerate(stored_runs):
                asked = run["case"] if file in KINDS else run["inputs"]
                if said.differences(texts, run["said"], says(asked)):
                    found.setdefault(file, {}).setdefault(name, []).append(k)
    return found


def drop_unsteady(files: list[str]) -> int:
    """Leave out the runs of these files in which a processor without vector instructions says something else; how many.

    Equal numbers that rounding puts in an order, and numbers that only rounding makes: they would be red elsewhere.
    """
    command = [sys.executable, "-m", "tests.recorded", "--unsteady"]
    ran = subprocess.run(command, env=os.environ | OTHER_PROCESSOR, stdout=subprocess.PIPE, text=True, check=True)
    found = {file: of_file for file, of_file in json.loads(ran.stdout).items() if file in files}
    drop(found)
    return sum(len(gone) for of_file in found.values() for gone in of_file.values())


def drop(found: dict[str, dict[str, list[int]]]) -> None:
    """Leave out these runs: by file and subject, their places."""
    from tests.recorded.subjects import KINDS

    stored.cache_clear()
    pictures = stored_cases("pictures")
    for file, of_file in found.items():
        if file in KINDS:
            continue
        inputs = stored_inputs(file)
        for name, gone in of_file.items():
            stays = [k for k in range(len(inputs[name])) if k not in gone]
            inputs[name] = [inputs[name][k] for k in stays]
            if name in pictures:  # they name the inputs by their place
                pictures[name] = [stays.index(k) for k in pictures[name] if k in stays]
        store(file, inputs)
    stored.cache_clear()
    for file in KINDS:
        gone_of = found.get(file, {}) if file != "pictures" else {}
        cases = pictures if file == "pictures" else stored_cases(file)
        for name, gone in gone_of.items():
            cases[name] = [case for k, case in enumerate(cases[name]) if k not in gone]
        if file == "pictures" or gone_of:
            store_kind(file, cases)
