"""Formulas and tables, nothing else.  Imports NumPy and ``shoplib.units/formula`` only."""
