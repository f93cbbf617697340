"""shoplib: calculations and worked sheets for rebuilding cylinder-head joints."""

__version__ = "0.2.0"
