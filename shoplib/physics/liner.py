"""How far liners stand above the deck, and how much neighbours differ."""

from __future__ import annotations

from shoplib.core.formula import formula
from shoplib.core.units import mm


@formula(symbol="Delta_P", source="difference of the means of two neighbours")
def step_to_neighbour(P_a: mm, P_b: mm) -> mm:
    """Step between two neighbouring liners, P_a the higher."""
    return P_a - P_b


@formula(symbol="s_P", source="difference of the readings on one liner")
def spread_on_liner(P_max: mm, P_min: mm) -> mm:
    """How unevenly one liner stands: its highest reading less its lowest."""
    return P_max - P_min
