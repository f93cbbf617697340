"""Inputs of a working that is made for one test."""

from shoplib.core.inputs import Inputs


def asked(*fields):
    """A class of inputs with these declarations."""
    return type("Asked", (Inputs,), {f.name: f for f in fields})
