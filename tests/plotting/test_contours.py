"""Contours that rose are those that matplotlib draws anew (the reference library), and so are the numbers in them."""

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.tri import Triangulation

from shoplib.plotting.updatable_contours import Contours

LEVELS = np.arange(-40.0, 41.0, 10.0)
STYLE = {"fontsize": 7.5, "color": "black"}


def face(seed):
    """Places and heights of a warped face; other seeds have other places too."""
    rng = np.random.default_rng(seed)
    x, y = (a.ravel() for a in np.meshgrid(np.linspace(0, 380, 9), np.linspace(0, 170, 6)))
    x, y = x + rng.uniform(-5, 5, x.shape), y + rng.uniform(-5, 5, y.shape)
    a, b, c = rng.uniform(0.5, 1, 3) * rng.choice((-1, 1), 3)
    z = 25 * (a * np.sin(x / 90) + b * np.cos(y / 60) + c * (x - 190) * (y - 85) / 15000)
    return Triangulation(x, y), z


def axes():
    ax = Figure(figsize=(7, 3.4), dpi=72).subplots()
    ax.set(xlim=(-10, 390), ylim=(-10, 180), autoscale_on=False)
    return ax


def drawn(paths):
    return [(p.vertices.tolist(), None if p.codes is None else p.codes.tolist()) for p in paths]


def numbered(texts):
    return [(t.get_text(), *np.round(t.get_position(), 9), round(t.get_rotation(), 9)) for t in texts]


@pytest.mark.parametrize("seeds", [(1, 2), (3, 4, 5), (6, 6), (7, 8, 9, 10)])
def test_risen_as_drawn_anew(seeds):
    ax = axes()
    lines = Contours(ax, *face(seeds[0]), levels=LEVELS, colors="grey")
    areas = Contours(ax, *face(seeds[0]), levels=LEVELS, filled=True, cmap="Greys")
    colours = areas.get_facecolor().tolist()
    for seed in seeds:
        lines.rise(*face(seed))
        areas.rise(*face(seed))
        lines.number(LEVELS[::2], lambda v: f"{v:+.0f}", **STYLE)
        fresh = axes()
        new = fresh.tricontour(*face(seed), levels=LEVELS, colors="grey")
        words = new.clabel(LEVELS[::2], fmt=lambda v: f"{v:+.0f}", fontsize=7.5, colors="black")
        assert len(words) > 2, "a face with too few lines to tell anything"
        assert drawn(lines.get_paths()) == drawn(new.get_paths())
        assert numbered(t for t in ax.texts if t.get_visible()) == numbered(words)
        filled = fresh.tricontourf(*face(seed), levels=LEVELS)
        assert drawn(areas.get_paths()) == drawn(filled.get_paths())
        assert areas.get_facecolor().tolist() == colours
    assert len(ax.collections) == 2, "nothing is made beside those that stand"


def test_a_gap_in_the_heights_is_refused_as_by_matplotlib():
    over, z = face(1)
    lines = Contours(axes(), over, z, levels=LEVELS)
    with pytest.raises(ValueError, match="non-finite"):
        lines.rise(over, np.where(np.arange(len(z)) == 5, np.nan, z))
