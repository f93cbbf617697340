"""``python -m tests.recorded [NAME …]`` runs every stored input again and stores what is said now.

``--explore`` looks for the inputs of workings first (:mod:`tests.recorded.explore`); without it the stored ones stay.
A run that another processor would round otherwise is left out.  NAME is a topic, a working, a kind (pictures, lessons, exercises, draws, declared, constants, tables, guided) or one of its subjects.  Look at what the test says before you store anything: the recorded runs only say that
something became different.  No number in them was checked from outside.
"""

from __future__ import annotations

import argparse
import json
import sys
import warnings


def main() -> int:
    reads = argparse.ArgumentParser(prog="python -m tests.recorded")
    reads.add_argument("names", nargs="*")
    reads.add_argument("--explore", action="store_true")
    reads.add_argument("--tries", type=int, default=4000)
    reads.add_argument("--unsteady", action="store_true", help=argparse.SUPPRESS)  # asked in another environment
    options = reads.parse_args()
    if options.unsteady:
        from tests.recorded import runs

        warnings.simplefilter("ignore")
        print(json.dumps(runs.unsteady()))
        return 0
    if options.explore:
        from tests.recorded import watched

        watched.install()
    from tests.recorded import runs

    stored: list[str] = []
    for topic in runs.topics():
        names = runs.of_topic(topic)
        chosen = [n for n in names if not options.names or n in options.names or topic in options.names]
        if not chosen:
            continue
        inputs = runs.stored_inputs(topic)
        if options.explore:
            inputs |= {name: runs.explored(name, options.tries, inputs.get(name, [])) for name in chosen}
        print(topic, runs.store(topic, inputs), "runs", flush=True)
        stored.append(topic)
        runs.stored.cache_clear()
    from tests.recorded.subjects import KINDS

    for kind_name, kind in KINDS.items():
        cases = runs.stored_cases(kind_name)
        chosen = [n for n in kind.subjects() if not options.names or kind_name in options.names or n in options.names]
        if chosen and options.explore:
            cases |= {name: runs.explored_cases(kind, name) for name in chosen}
        if chosen:
            print(kind_name, runs.store_kind(kind_name, cases), "runs", flush=True)
            stored.append(kind_name)
    if gone := runs.drop_unsteady(stored):
        print("left out, because another processor rounds otherwise:", gone, flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
