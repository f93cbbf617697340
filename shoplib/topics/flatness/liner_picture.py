"""The picture of liners above the deck."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from shoplib.core.working import Result
from shoplib.plotting.plot_style import ACCENT, INK, PALER, SOFT, WARM, padded_limits, set_changed, set_steady_limits


def draw_liners(figure: Any) -> Callable[[Result], None]:
    """Each liner's readings and mean above the deck; the limits as dashed lines."""
    ax = figure.subplots()
    ax.set(xlabel="liner (dashed: limits)", ylabel="protrusion, mm")
    ax.spines[["top", "right"]].set_visible(False)
    deck = ax.axhspan(-1, 0, facecolor=PALER, edgecolor="none", gid="deck")
    deck.set_zorder(0)
    lines = [ax.axhline(color=WARM, lw=1.2, ls=(0, (4, 2)), gid=f"limit{k}") for k in (0, 1)]
    (steps,) = ax.plot([], [], color=SOFT, lw=0.9, gid="steps")
    (dots,) = ax.plot([], [], "o", ms=5, mfc="white", mec=INK, mew=1, gid="dots")
    (means,) = ax.plot([], [], "_", ms=24, color=ACCENT, mew=3, gid="means")

    def move(result: Result) -> None:
        liners = result.plot_data["liners"]
        at = {id(one): k for k, one in enumerate(liners, 1)}
        limits = [result.inputs[name] for name in ("minimum_protrusion", "maximum_protrusion")]
        for line, x in zip(lines, limits, strict=True):
            line.set_visible(x is not None)
            line.set_ydata([1e3 * (x or 0.0)] * 2)
        places = [(k, 1e3 * x) for k, one in enumerate(liners, 1) for x, _ in one.readings]
        every = [0.0, *(y for _, y in places), *(1e3 * x for x in limits if x is not None)]
        set_steady_limits(ax, ylim=padded_limits(min(every), max(every), 8))
        names = [one.name[:12] for one in liners]
        set_changed(ax, xlim=(0.4, len(liners) + 0.6), xticks=(range(1, len(liners) + 1), names))
        dots.set_data([x for x, _ in places], [y for _, y in places])
        means.set_data(range(1, len(liners) + 1), [1e3 * one.mean for one in liners])
        nan = float("nan")
        pairs = result.plot_data["steps"]
        steps.set_data(
            [x for a, b in pairs for x in (at[id(a)], at[id(b)], nan)],
            [y for a, b in pairs for y in (1e3 * a.mean, 1e3 * b.mean, nan)],
        )

    return move


def alt_liners(result: Result) -> str:
    """The picture in words."""
    step = result["largest_step"]
    more = "" if step is None else f" The largest step between neighbours is {1e3 * step:.3f} mm."
    return (
        f"Readings of {len(result.plot_data['liners'])} liners above the deck, from {1e3 * result['lowest']:.3f} to "
        f"{1e3 * result['highest']:.3f} mm.{more}"
    )
