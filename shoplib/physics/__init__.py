"""Formulas and tables, nothing else.  Imports NumPy and ``shoplib.core.units/formula`` only."""
