"""The job record: what falls with a corrected reading, what may be signed, what a job says as a whole."""

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
from shoplib.teaching.exercise import Exercise, Mistake, among


# ------------------------------------------------------------------------------ the rules, to be asked about
def _falls(i: Inputs, w: Worksheet) -> None:
    """A line falls when one of its sources was corrected or has fallen; sources always lie earlier."""
    fallen: list[int] = []
    for row in i.lines:
        if any(s == i.corrected or s in fallen for s in row["sources"] or ()):
            fallen.append(row["line"])
    w.result("stale", ["line " + str(n) for n in fallen] or "none", label="To be worked again")
    w.curve["fallen"] = fallen
    w.result("count", str(len(fallen)), label="How many lines are stale")


def _places(r: Result) -> dict[int, tuple[int, int]]:
    """Column and row of each line: a line stands one column right of the last of its sources."""
    columns: dict[int, int] = {}
    rows: dict[int, int] = {}
    for line in r.inputs.lines:
        column = 1 + max((columns.get(s, 0) for s in line["sources"] or ()), default=-1)
        columns[line["line"]] = column
        rows[line["line"]] = sum(c == column for c in columns.values()) - 1
    return {n: (columns[n], rows[n]) for n in columns}


WIDE = 0.8  # of a box; columns are 1 apart


def draw_falls(figure: Any) -> Callable[[Result], None]:
    """Boxes of a job from left to right, each with arrows from what it was computed from; the fallen hatched."""
    from matplotlib.patches import FancyBboxPatch

    ax = figure.subplots()

    def move(r: Result) -> None:
        ax.clear()
        ax.axis("off")
        places, fallen = _places(r), r.curve["fallen"]
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
            state = "corrected" if corrected else "stale" if stale else "stands"
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
    return f"Line {r.inputs.corrected} was corrected. Stale: {stale}. All other lines stand."


FALLS = Working(
    name="what_falls",
    title="What falls with a corrected reading",
    question="Which entries must be worked again?",
    fields=(
        integer("corrected", "Corrected line", help="its number"),
        table(
            "lines",
            (
                integer("line", "Line"),
                words("what", "What", required=False),
                listing("sources", integer("from", "Line"), "Computed from", required=False),
            ),
            "Lines of the job",
        ),
    ),
    run=_falls,
    drawn=Picture(draw_falls, _alt, size=(6.2, 2.6)),
    cautions=("A stale number is never signed, handed out or closed over.",),
)


def _signing(i: Inputs, w: Worksheet) -> None:
    """Only a number that cannot be relied on, or one that the signer has not seen, stands against a signature."""
    w.result("may", "no" if i.stale or i.unseen else "yes", label="May it be signed")


SIGNING = Working(
    name="may_sign",
    title="May this job be signed",
    question="May it be signed now?",
    fields=(
        integer("failed", "Checks that fail", at_least=0),
        integer("stale", "Stale entries", at_least=0),
        integer("unseen", "Lines kept by others since the signer looked", at_least=0),
    ),
    run=_signing,
    cautions=("A signature says what was found, not that all is well.",),
)


def _together(i: Inputs, w: Worksheet) -> None:
    w.result("together", str(worst(Outcome(o) for o in i.outcomes)), label="The job as a whole")


TOGETHER = Working(
    name="outcome_together",
    title="Outcomes together",
    question="What does the job say as a whole?",
    fields=(listing("outcomes", choice("outcome", "Outcome", [str(o) for o in Outcome]), "Outcomes of the entries"),),
    run=_together,
    cautions=("Without a limit and its source nothing can pass.",),
)


# ------------------------------------------------------------------------------ drawing jobs
def _job(rng: np.random.Generator) -> Mapping[str, Any]:
    """Lines 2 to 8, some measured, some computed from earlier ones; one of the first is corrected."""
    rows: list[dict[str, str]] = []
    told = []
    for n in range(2, 9):
        earlier = list(range(2, n))
        many = 0 if n == 2 else int(among(rng, 0, 1, 1, 1, 2 if n > 3 else 1))
        sources = sorted(int(s) for s in rng.choice(earlier, many, replace=False)) if many else []
        rows.append({"line": str(n), "sources": "; ".join(map(str, sources))})
        where = "was measured" if not sources else "was computed from " + " and ".join(f"line {s}" for s in sources)
        told.append(f"line {n} {where}")
    corrected = int(among(rng, 2, 2, 3, 4))
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
    drawn = ["pass", *(str(among(rng, *OUTCOMES)) for _ in range(int(rng.integers(2, 4))))]
    return {"outcomes": drawn, "told": ", ".join(drawn[:-1]) + " and " + drawn[-1]}


def _falls_solution(r: Result) -> str:
    fallen = r.curve["fallen"]
    if not fallen:
        return f"No line was computed from line {r.inputs.corrected}, so none is stale: 0."
    chain = []
    for line in r.inputs.lines:
        if line["line"] in fallen:
            bad = [s for s in line["sources"] or () if s == r.inputs.corrected or s in fallen]
            chain.append(f"line {line['line']} (from {' and '.join(map(str, bad))})")
    return f"Follow the chain from line {r.inputs.corrected}: {', '.join(chain)}. Stale lines: {r['count']}."


def _together_solution(r: Result) -> str:
    return f"The order is {', '.join(OUTCOMES)}. The first of these that occurs is {r['together']}."


EXERCISES = [
    Exercise(
        name="what_falls",
        topic="record",
        title="A reading was corrected",
        question="In a job, {told}. Now line {corrected} is corrected. How many lines are stale, "
        "to be worked again before anybody can sign?",
        working=FALLS,
        result="count",
        numbers=_job,
        choices=tuple(str(n) for n in range(8)),
        tolerance="0 %",
        solution=_falls_solution,
        mistakes=(
            Mistake(
                "counted only what was computed from it directly",
                lambda r: _unless_taken(r, _direct(r)),
                "What was computed from a stale number is stale as well: follow each chain to its end.",
            ),
            Mistake(
                "counted the corrected line itself",
                lambda r: _unless_taken(r, _itself_too(r), _direct(r)),
                "The correction stands in the place of the old reading; it is not stale itself.",
            ),
            Mistake(
                "counted every later line",
                lambda r: _unless_taken(r, _later(r), _direct(r), _itself_too(r)),
                "A later line that was measured, or computed from other lines, does not fall.",
            ),
        ),
        first_step="Write down every line computed from the corrected one; then every line computed from those.",
        lesson="A number falls with any of its sources, however far back; a measurement falls with nothing.",
    ),
    Exercise(
        name="may_it_be_signed",
        topic="record",
        title="May this job be signed?",
        question="Of a job: checks that fail, {failed}; stale entries, {stale}; lines that another desk kept since "
        "you read it, {unseen}. May you sign it now?",
        working=SIGNING,
        result="may",
        choices=YES_NO,
        numbers=lambda rng: {
            "failed": str(among(rng, 0, 1, 2, 3)),
            "stale": str(among(rng, 0, 0, 1, 2)),
            "unseen": str(among(rng, 0, 0, 0, 1, 2)),
        },
        tolerance="0 %",
        mistakes=(
            Mistake(
                "took a failed check for a bar to signing",
                lambda r: "no" if r["may"] == "yes" and r.inputs.failed else None,
                "A fail is a finding, and a finding is signed for. The sheet prints it first, among the open points.",
            ),
            Mistake(
                "signed over a stale number",
                lambda r: "yes" if r["may"] == "no" and r.inputs.stale else None,
                "A stale number was computed from something that no longer stands: work it again, or strike it.",
            ),
            Mistake(
                "signed for lines that nobody had read",
                lambda r: "yes" if r["may"] == "no" and not r.inputs.stale else None,
                "A signature covers every line before it. Read what was added, then sign.",
            ),
        ),
        first_step="Ask of each: can the number still be relied on, and have I seen it?",
        lesson="A bad finding may be signed, a number that cannot be relied on may not, and nothing unseen.",
    ),
    Exercise(
        name="the_job_as_a_whole",
        topic="record",
        title="What does the sheet say on top?",
        question="The entries of a job came out as {told}. What is the job as a whole?",
        working=TOGETHER,
        result="together",
        choices=OUTCOMES,
        numbers=_outcomes,
        tolerance="0 %",
        solution=_together_solution,
        mistakes=(
            Mistake(
                "let a pass cover what is open",
                lambda r: "pass" if r["together"] != "pass" else None,
                "One pass proves one thing. The worst outcome speaks for the whole.",
            ),
            Mistake(
                "put a missing limit above a doubt",
                lambda r: "no limit given" if r["together"] == "undecided" and "no limit given" in r.inputs.outcomes
                else None,
                "Undecided comes first: there a limit stands, and the reading may still break it.",
            ),
            Mistake(
                "put a doubt above a fail",
                lambda r: "undecided" if r["together"] == "fail" and "undecided" in r.inputs.outcomes else None,
                "A fail is proved; what is undecided elsewhere cannot take it back.",
            ),
        ),
        first_step="Rank them: fail, undecided, no limit given, pass. The first that occurs is the answer.",
        lesson="Fail before undecided before no limit given before pass: the worst speaks for the job.",
    ),
]  # fmt: skip
