"""The traces of a job as small multiples: each bolt in its own panel, the others behind it in grey."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from shoplib.core.working import Result
from shoplib.plotting.plot_style import ACCENT, INK, PALE
from shoplib.record.job import Entry
from shoplib.sheet.svg import printed

FORM = "torque_angle_trace"
COLUMNS, WIDE, HIGH = 4, 6.2, 1.5  # panels in a row; inches
MOST = 24  # panels: a page


class Multiples(NamedTuple):
    """The picture, its words, and the entry that it is printed with."""

    uid: str
    svg: str
    words: str


def multiples_of(entries: Sequence[Entry], results: Mapping[str, Result | str]) -> Multiples | None:
    """One picture of all traces of the job, printed with the first of them; None without a trace."""
    traces = [(e, r) for e in entries if e.form == FORM and isinstance(r := results.get(e.uid), Result)][:MOST]
    if not traces:
        return None
    names = [_name(result) for _, result in traces]
    rows = math.ceil(len(traces) / COLUMNS)
    svg = printed((WIDE, HIGH * rows + 0.3), lambda figure: _paint(figure, [r for _, r in traces], names, rows))
    words = f"Torque over the angle from the snug point: {'; '.join(names)}. Grey: the other traces of this job."
    return Multiples(traces[0][0].uid, svg, words)


def _name(result: Result) -> str:
    typed = result.inputs.as_entered
    parts = [f"bolt {typed['bolt']}" if typed.get("bolt") else "bolt not named", str(typed.get("stage") or "")]
    return ", ".join(p[:24] for p in parts if p)


def _paint(figure: Any, results: Sequence[Result], names: Sequence[str], rows: int) -> None:
    panels = figure.subplots(rows, COLUMNS, sharex=True, sharey=True, squeeze=False)
    curves = [_curve(result) for result in results]
    left = min(float(x.min()) for x, _ in curves)
    for k, ax in enumerate(panels.flat):
        if k >= len(curves):
            ax.set_axis_off()
            continue
        for x, y in curves:
            ax.plot(x, y, color=PALE, lw=0.6)
        ax.plot(*curves[k], color=ACCENT, lw=1.2)
        ax.set_title(names[k].replace("$", "\\$"), fontsize=7.5, color=INK)
        ax.set_xlim(left=max(left, -40.0))
        ax.tick_params(labelsize=7)
        ax.spines[["top", "right"]].set_visible(False)
    figure.supxlabel("angle from the snug point, °", fontsize=7.5)
    figure.supylabel("torque, N·m", fontsize=7.5)


def _curve(result: Result) -> tuple[Any, Any]:
    """Degrees from the snug point, or from the first sample where there is none."""
    found = result.plot_data["found"]
    start = found.snug.angle if found.snug is not None else float(found.angle[0])
    return np.degrees(result.plot_data["angle"] - start), result.plot_data["torque"]
