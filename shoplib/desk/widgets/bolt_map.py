"""The map of the bolts during tightening.  Shapes and words make it readable in glare, in grey and at arm's length."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from shoplib.desk.widgets.escape_html import e

WIDTH, EDGE = 480.0, 52.0  # of the picture, in SVG units
TALLEST = 420.0
HALO = ' paint-order="stroke" stroke="#fff" stroke-width="4"'
INSIDE = 4  # characters of a name that fit inside a bolt; a longer name is below it
LEGEND = "Black with ✓: done · double ring: now · ring: to do · dashed: another group · ! deviation · STOP: look"


@dataclass(frozen=True)
class Spot:
    """A bolt on the map.  ``state``: done, now, todo or other; ``sign``: a mark beside it, such as ! or STOP."""

    name: str
    x: float
    y: float
    state: str
    sign: str = ""


def bolt_map(spots: Sequence[Spot], then: tuple[str, str] | None = None) -> str:
    """The map as SVG.  ``then``: the present bolt and the next one."""
    at, height, radius = _places(spots)
    parts = []
    if then and then[0] in at and then[1] in at:
        parts.append(_arrow(at[then[0]], at[then[1]], radius))
    parts += [_spot(s, *at[s.name], radius) for s in spots]
    said = e(words(spots))
    return (
        f'<svg class="tg-map" viewBox="0 0 {WIDTH:g} {height:g}" role="img" aria-label="{said}" '
        f'xmlns="http://www.w3.org/2000/svg">{"".join(parts)}</svg>'
    )


def words(spots: Iterable[Spot]) -> str:
    """The map in words."""
    told = {"now": "now", "done": "done", "todo": "to do", "other": "another group"}
    lists = [(label, [s.name + (f" ({s.sign})" if s.sign else "") for s in spots if s.state == state])
             for state, label in told.items()]  # fmt: skip
    return "Map of the bolts. " + "; ".join(f"{label}: {', '.join(names)}" for label, names in lists if names) + "."


def _places(spots: Sequence[Spot]) -> tuple[dict[str, tuple[float, float]], float, float]:
    """The position of each bolt in the picture (y is up on the engine, down here), the height, the bolt radius."""
    xs, ys = [s.x for s in spots], [s.y for s in spots]
    wide, high = max(xs) - min(xs), max(ys) - min(ys)
    scale = min((WIDTH - 2 * EDGE) / wide if wide else math.inf, (TALLEST - 2 * EDGE) / high if high else math.inf)
    scale = 1.0 if math.isinf(scale) else scale
    left = (WIDTH - scale * wide) / 2
    at = {s.name: (left + scale * (s.x - min(xs)), EDGE + scale * (max(ys) - s.y)) for s in spots}
    places = list(at.values())
    nearest = min((math.dist(a, b) for k, a in enumerate(places) for b in places[:k]), default=WIDTH)
    under = 26.0 if any(len(s.name) > INSIDE for s in spots) else 0.0  # space for the names of the last row
    return at, 2 * EDGE + scale * high + under, max(min(0.36 * nearest, 30.0), 8.0)


def _spot(spot: Spot, x: float, y: float, r: float) -> str:
    ink = "#fff" if spot.state == "done" else "#111"
    look = {
        "done": 'fill="#111" stroke="#111" stroke-width="3"',
        "now": 'fill="#ffd54a" stroke="#111" stroke-width="5"',
        "todo": 'fill="#fff" stroke="#111" stroke-width="3"',
        "other": 'fill="#fff" stroke="#777" stroke-width="2" stroke-dasharray="4 4"',
    }[spot.state]
    long = len(spot.name) > INSIDE
    size = 17.0 if long else min(1.05 * r, 2.6 * r / max(len(spot.name), 1))
    parts = [f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{r:.1f}" {look}/>']
    if spot.state == "now":
        parts.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{1.38 * r:.1f}" fill="none" stroke="#111" stroke-width="4"/>'
        )
    parts.append(
        f'<text x="{x:.1f}" y="{y + (1.5 * r + size if long else 0.36 * size):.1f}" font-size="{size:.1f}" '
        f'font-weight="800" text-anchor="middle" fill="{"#111" if long else ink}"{HALO if long else ""}>'
        f"{e(spot.name[:16])}</text>"
    )
    badge = spot.sign or ("✓" if spot.state == "done" else "")
    if badge:
        wide = len(badge) > 1  # above the bolt, so that its name stays readable
        parts.append(_badge(badge, x if wide else x + 0.95 * r, y - (1.4 if wide else 0.95) * r, max(0.46 * r, 9.0)))
    return f'<g data-bolt="{e(spot.name)}" data-state="{spot.state}">{"".join(parts)}</g>'


def _badge(sign: str, x: float, y: float, r: float) -> str:
    wide = r * (0.9 + 0.62 * max(len(sign) - 1, 0))
    x = min(x, WIDTH - wide - 2)
    text = (
        f'<text x="{x:.1f}" y="{y + 0.42 * r:.1f}" font-size="{1.25 * r:.1f}" font-weight="800" text-anchor="middle" '
        f'fill="{"#111" if sign == "✓" else "#fff"}">{e(sign)}</text>'
    )
    paint = (
        'fill="#fff" stroke="#111" stroke-width="2"' if sign == "✓" else 'fill="#a3262a" stroke="#fff" stroke-width="2"'
    )
    return (
        f'<rect x="{x - wide:.1f}" y="{y - r:.1f}" width="{2 * wide:.1f}" height="{2 * r:.1f}" rx="{0.35 * r:.1f}" '
        f"{paint}/>{text}"
    )


def _arrow(a: tuple[float, float], b: tuple[float, float], r: float) -> str:
    """From the rim of one bolt to the rim of the next, with a head."""
    away = math.dist(a, b)
    if away < 2.6 * r:
        return ""
    ux, uy = (b[0] - a[0]) / away, (b[1] - a[1]) / away
    x1, y1 = a[0] + 1.5 * r * ux, a[1] + 1.5 * r * uy
    x2, y2 = b[0] - 1.2 * r * ux, b[1] - 1.2 * r * uy
    hx, hy = x2 - 14 * ux, y2 - 14 * uy
    head = f"{x2:.1f},{y2:.1f} {hx - 8 * uy:.1f},{hy + 8 * ux:.1f} {hx + 8 * uy:.1f},{hy - 8 * ux:.1f}"
    return (
        f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{hx:.1f}" y2="{hy:.1f}" stroke="#555" stroke-width="4" '
        f'stroke-dasharray="9 7"/><polygon points="{head}" fill="#555"/>'
    )
