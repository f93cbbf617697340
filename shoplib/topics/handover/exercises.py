"""The job record: what is stale after a correction, what may be signed, and the outcome of a job as a whole."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from shoplib.core.checks import Outcome, worst
from shoplib.core.fields import choice, integer, listing, table, words
from shoplib.core.inputs import Inputs
from shoplib.core.working import Picture, Result, Working
from shoplib.core.worksheet import Worksheet
from shoplib.plotting.plot_style import ACCENT, INK, PALE, PALER, SOFT, WARM
from shoplib.teaching.exercise import Exercise, Mistake, choose_one


# ------------------------------------------------------------------------------ the rules, to be asked about
def _falls(inputs: WhatFallsInputs, worksheet: Worksheet) -> None:
    """A line is stale when one of its sources was corrected or is stale; sources are always earlier lines."""
    fallen: list[int] = []
    for row in inputs.lines:
        if any(s == inputs.corrected or s in fallen for s in row["sources"] or ()):
            fallen.append(row["line"])
    worksheet.result("stale", ["line " + str(n) for n in fallen] or "none", label="To recalculate")
    worksheet.plot_data["fallen"] = fallen
    worksheet.result("count", str(len(fallen)), label="Number of stale lines")


def _places(r: Result) -> dict[int, tuple[int, int]]:
    """Column and row of each line: a line is one column to the right of the last of its sources."""
    columns: dict[int, int] = {}
    rows: dict[int, int] = {}
    for line in r.inputs.lines:
        column = 1 + max((columns.get(s, 0) for s in line["sources"] or ()), default=-1)
        columns[line["line"]] = column
        rows[line["line"]] = sum(c == column for c in columns.values()) - 1
    return {n: (columns[n], rows[n]) for n in columns}


WIDE = 0.8  # of a box; columns are 1 apart


def draw_falls(figure: Any) -> Callable[[Result], None]:
    """Boxes of a job from left to right, each with arrows from its sources; stale ones hatched."""
    from matplotlib.patches import FancyBboxPatch

    ax = figure.subplots()

    def move(r: Result) -> None:
        ax.clear()
        ax.axis("off")
        places, fallen = _places(r), r.plot_data["fallen"]
        deepest, tallest = (max(p[k] for p in places.values()) for k in (0, 1))
        ax.set(xlim=(-0.1, max(deepest, 2) + 0.95), ylim=(max(tallest, 2) + 0.75, -0.25))
        for line in r.inputs.lines:
            n = line["line"]
            x, y = places[n]
            corrected, stale = n == r.inputs.corrected, n in fallen
            face, edge = ("white", WARM) if stale else (PALE, ACCENT) if corrected else (PALER, SOFT)
            box = FancyBboxPatch((x, y), WIDE, 0.5, boxstyle="round,pad=0,rounding_size=0.06", fc=face, ec=edge,
                                 lw=2.6 if corrected else 1.2, ls="--" if stale else "-",
                                 hatch="///" if stale else None, zorder=2)  # fmt: skip
            ax.add_patch(box)
            state = "corrected" if corrected else "stale" if stale else "valid"
            what = "\n" + line["what"][:20] if line["what"] else ""
            label = ax.text(x + WIDE / 2, y + 0.25, f"line {n} · {state}{what}", ha="center", va="center", fontsize=7.5,
                            color=INK, zorder=3, fontweight="bold" if corrected or stale else "normal")  # fmt: skip
            if stale:  # words on a hatch need a ground
                label.set_bbox({"fc": face, "ec": "none", "pad": 1.0})
            for s in line["sources"] or ():
                if s in places:
                    a, b = places[s]
                    falls = stale and (s in fallen or s == r.inputs.corrected)
                    look = {"color": WARM, "ls": "--"} if falls else {"color": SOFT}
                    ax.annotate("", (x, y + 0.25), (a + WIDE, b + 0.25), zorder=1,
                                arrowprops={"arrowstyle": "->", "lw": 1.4, **look})  # fmt: skip

    return move


def _alt(r: Result) -> str:
    stale = r["stale"] if isinstance(r["stale"], str) else ", ".join(r["stale"])
    return f"Line {r.inputs.corrected} was corrected. Stale: {stale}. All other lines are valid."


class WhatFallsInputs(Inputs):
    """Inputs of ``what_falls``."""

    corrected = integer("corrected", "Corrected line", help="its number")
    lines = table(
        "lines",
        (
            integer("line", "Line"),
            words("what", "What", required=False),
            listing("sources", integer("from", "Line"), "Calculated from", required=False),
        ),
        "Lines of the job",
    )


FALLS = Working(
    name="what_falls",
    title="What is stale after a correction",
    question="Which entries must be recalculated?",
    inputs=WhatFallsInputs,
    run=_falls,
    drawn=Picture(draw_falls, _alt, size=(6.2, 2.6)),
    cautions=("Never sign or issue a stale number, and never close a job with one.",),
)


def _signing(inputs: MaySignInputs, worksheet: Worksheet) -> None:
    """Only a number that is not reliable, or that the signer has not seen, prevents a signature."""
    worksheet.result("may", "no" if inputs.stale or inputs.unseen else "yes", label="May be signed")


class MaySignInputs(Inputs):
    """Inputs of ``may_sign``."""

    failed = integer("failed", "Checks that fail", at_least=0)
    stale = integer("stale", "Stale entries", at_least=0)
    unseen = integer("unseen", "Lines that others saved since the signer looked", at_least=0)


SIGNING = Working(
    name="may_sign",
    title="May this job be signed?",
    question="May it be signed now?",
    inputs=MaySignInputs,
    run=_signing,
    cautions=("Read a signature as a record of what was found, not as proof that all is well.",),
)


def _together(inputs: OutcomeTogetherInputs, worksheet: Worksheet) -> None:
    worksheet.result("together", str(worst(Outcome(o) for o in inputs.outcomes)), label="The job as a whole")


class OutcomeTogetherInputs(Inputs):
    """Inputs of ``outcome_together``."""

    outcomes = listing("outcomes", choice("outcome", "Outcome", [str(o) for o in Outcome]), "Outcomes of the entries")


TOGETHER = Working(
    name="outcome_together",
    title="Outcomes together",
    question="What is the outcome of the job as a whole?",
    inputs=OutcomeTogetherInputs,
    run=_together,
    cautions=("Give each limit with its source: without them nothing can pass.",),
)


# ------------------------------------------------------------------------------ drawing jobs
def _job(rng: np.random.Generator) -> Mapping[str, Any]:
    """Lines 2 to 8, some measured, some computed from earlier ones; one of the first is corrected."""
    rows: list[dict[str, str]] = []
    told = []
    for n in range(2, 9):
        earlier = list(range(2, n))
        many = 0 if n == 2 else int(choose_one(rng, 0, 1, 1, 1, 2 if n > 3 else 1))
        sources = sorted(int(s) for s in rng.choice(earlier, many, replace=False)) if many else []
        rows.append({"line": str(n), "sources": "; ".join(map(str, sources))})
        where = "was measured" if not sources else "was calculated from " + " and ".join(f"line {s}" for s in sources)
        told.append(f"line {n} {where}")
    corrected = int(choose_one(rng, 2, 2, 3, 4))
    return {"lines": rows, "corrected": str(corrected), "told": "; ".join(told)}


def _sources(r: Result) -> dict[int, list[int]]:
    return {row["line"]: list(row["sources"] or ()) for row in r.inputs.lines}


def _unless_taken(r: Result, value: int, *taken: int) -> str | None:
    """A wrong number, where it is wrong and looks like no other."""
    return None if value in (int(r["count"]), *taken) else str(value)


def _direct(r: Result) -> int:
    return sum(r.inputs.corrected in sources for sources in _sources(r).values())


def _itself_too(r: Result) -> int:
    return int(r["count"]) + 1


def _later(r: Result) -> int:
    return sum(n > r.inputs.corrected for n in _sources(r))


YES_NO = ("yes", "no")


OUTCOMES = tuple(str(o) for o in Outcome)


def _outcomes(rng: np.random.Generator) -> Mapping[str, Any]:
    """A pass and two or three others."""
    drawn = ["pass", *(str(choose_one(rng, *OUTCOMES)) for _ in range(int(rng.integers(2, 4))))]
    return {"outcomes": drawn, "told": ", ".join(drawn[:-1]) + " and " + drawn[-1]}


def _falls_solution(r: Result) -> str:
    fallen = r.plot_data["fallen"]
    if not fallen:
        return f"No line was calculated from line {r.inputs.corrected}. Stale lines: 0."
    chain = []
    for line in r.inputs.lines:
        if line["line"] in fallen:
            bad = [s for s in line["sources"] or () if s == r.inputs.corrected or s in fallen]
            chain.append(f"line {line['line']} (from {' and '.join(map(str, bad))})")
    return f"Follow the chain from line {r.inputs.corrected}: {', '.join(chain)}. Stale lines: {r['count']}."


def _together_solution(r: Result) -> str:
    return f"The order is {', '.join(OUTCOMES)}. The first of these that occurs is {r['together']}."


def _sign_solution(r: Result) -> str:
    if r.inputs.stale:
        return "A stale number is not reliable. Recalculate it or strike it out first: no."
    if r.inputs.unseen:
        return "There are lines that you have not read. Read them first: no."
    return "Every number is reliable and you have seen them all. A fail is a finding and may be signed: yes."


EXERCISES = [
    Exercise(
        name="what_falls",
        topic="record",
        title="A reading was corrected",
        question="In a job, {told}. Now line {corrected} is corrected. How many lines are stale, "
        "and must be recalculated before anybody can sign?",
        working=FALLS,
        result="count",
        numbers=_job,
        choices=tuple(str(n) for n in range(8)),
        tolerance="0 %",
        solution=_falls_solution,
        steps_solve=False,
        mistakes=(
            Mistake(
                "counted only the lines computed directly from it",
                lambda r: _unless_taken(r, _direct(r)),
                "A line calculated from a stale number is stale too: follow each chain to its end.",
            ),
            Mistake(
                "counted the corrected line itself",
                lambda r: _unless_taken(r, _itself_too(r), _direct(r)),
                "The correction replaces the old reading. It is not stale itself.",
            ),
            Mistake(
                "counted every later line",
                lambda r: _unless_taken(r, _later(r), _direct(r), _itself_too(r)),
                "A later line that was measured, or calculated from other lines, stays valid.",
            ),
        ),
        first_step="List every line calculated from the corrected one, then every line calculated from those.",
        lesson=(
            "A calculated number is stale if any of its sources was corrected, however far back. A measurement is "
            "never stale."
        ),
    ),
    Exercise(
        name="may_it_be_signed",
        topic="record",
        title="May this job be signed?",
        question="A job has failed checks: {failed}; stale entries: {stale}; lines that another desk saved since "
        "you read it: {unseen}. May you sign it now?",
        working=SIGNING,
        result="may",
        choices=YES_NO,
        numbers=lambda rng: {
            "failed": str(choose_one(rng, 0, 1, 2, 3)),
            "stale": str(choose_one(rng, 0, 0, 1, 2)),
            "unseen": str(choose_one(rng, 0, 0, 0, 1, 2)),
        },
        tolerance="0 %",
        solution=_sign_solution,
        mistakes=(
            Mistake(
                "took a failed check as a reason not to sign",
                lambda r: "no" if r["may"] == "yes" and r.inputs.failed else None,
                "A fail is a finding, and findings may be signed. The sheet prints it first, with the open points.",
            ),
            Mistake(
                "signed a stale number",
                lambda r: "yes" if r["may"] == "no" and r.inputs.stale else None,
                "A source of a stale number has changed: recalculate the number, or strike it out.",
            ),
            Mistake(
                "signed for lines that you had not read",
                lambda r: "yes" if r["may"] == "no" and not r.inputs.stale else None,
                "A signature covers every line before it. Read the new lines, then sign.",
            ),
        ),
        first_step="Ask for each number: is it still reliable, and have I seen it?",
        lesson="You may sign a bad finding. Do not sign a number that is not reliable, or one that you have not seen.",
    ),
    Exercise(
        name="the_job_as_a_whole",
        topic="record",
        title="The outcome at the top of the sheet",
        question="The outcomes of a job's entries are {told}. What is the outcome of the job as a whole?",
        working=TOGETHER,
        result="together",
        choices=OUTCOMES,
        numbers=_outcomes,
        tolerance="0 %",
        solution=_together_solution,
        steps_solve=False,
        mistakes=(
            Mistake(
                "let a pass hide what is open",
                lambda r: "pass" if r["together"] != "pass" else None,
                "One pass proves one thing. The worst outcome decides for the whole job.",
            ),
            Mistake(
                "put a missing limit before an undecided check",
                lambda r: "no limit given" if r["together"] == "undecided" and "no limit given" in r.inputs.outcomes
                else None,
                "Undecided comes first: there is a limit, and the reading may still be outside it.",
            ),
            Mistake(
                "put an undecided check before a fail",
                lambda r: "undecided" if r["together"] == "fail" and "undecided" in r.inputs.outcomes else None,
                "A fail is proved. Another check that is undecided does not change it.",
            ),
        ),
        first_step="The order is fail, undecided, no limit given, pass. The first that occurs is the answer.",
        lesson="Fail comes before undecided, then no limit given, then pass. The worst decides for the job.",
    ),
]  # fmt: skip
