"""Every working, by name.  A module here holds one topic and declares its workings in WORKINGS.

A module without WORKINGS holds what several of them share.
"""

from __future__ import annotations

import functools
import importlib
import pkgutil
from pathlib import Path

from shoplib.working import Working


@functools.cache
def all_workings() -> dict[str, Working]:
    """Name to working, in the order of the modules."""
    found: dict[str, Working] = {}
    for module in sorted(m.name for m in pkgutil.iter_modules(__path__)):
        for working in getattr(importlib.import_module(f"{__name__}.{module}"), "WORKINGS", ()):
            if working.name in found:
                raise RuntimeError(f"two workings are called {working.name}")
            found[working.name] = working
    return found


@functools.cache
def get(name: str) -> Working:
    """The working of that name; KeyError names what there is."""
    for module in sorted(Path(__file__).parent.glob("*.py")):
        # a glance at the source saves importing the other topics: a command line answers sooner
        if module.stem != "__init__" and f'name="{name}"' in module.read_text(encoding="utf-8"):
            for working in importlib.import_module(f"{__name__}.{module.stem}").WORKINGS:
                if working.name == name:
                    return working  # type: ignore[no-any-return] # a module found by its name has no type
    raise KeyError(f"no working is called {name[:60]!r}; there are {', '.join(all_workings())}")
