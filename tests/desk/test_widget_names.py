"""No widget of ours takes a name from the library that it is built on: a method that the library calls would be another.

A method called ``_compare`` once hid the one by which ipywidgets shows a widget: no form was shown any more.
"""

import importlib
import inspect
import pkgutil

import ipywidgets

import shoplib.desk.widgets as ours

OF_TRAITLETS = {"_trait_default_generators", "_all_trait_default_generators", "_traits", "_static_immutable_initial_values",
                "_descriptors", "_instance_inits"}  # fmt: skip
MEANT = {"send_state", "_repr_mimebundle_", "_esm", "_css"}  # what the library expects a class to give anew


def taken(cls):
    theirs = {name for base in cls.__mro__ if not base.__module__.startswith("shoplib") for name in vars(base)}
    return {
        name
        for name, value in vars(cls).items()
        if inspect.isroutine(value) and name in theirs and not name.startswith("__")
    }


def test_no_method_of_the_library_is_replaced_by_chance():
    modules = [importlib.import_module(f"{ours.__name__}.{m.name}") for m in pkgutil.iter_modules(ours.__path__)]
    classes = {c for m in modules for c in vars(m).values() if inspect.isclass(c) and issubclass(c, ipywidgets.Widget)}
    mine = {c for c in classes if c.__module__.startswith("shoplib")}
    assert len(mine) > 30
    assert {f"{c.__name__}.{n}" for c in mine for n in taken(c) - OF_TRAITLETS - MEANT} == set()
    planted = type("Planted", (ipywidgets.VBox,), {"__module__": "shoplib.x", "_compare": lambda self: None})
    assert taken(planted) == {"_compare"}, "this test would see one"
