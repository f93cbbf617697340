"""The workings that judge something."""

import types

from shoplib.topics import all_workings


def judges(function, seen):
    """Whether a function, or one of the topics that it calls, makes a check.  ``seen`` ends circles."""
    if function in seen:
        return False
    seen.add(function)
    codes, names = [function.__code__], set()
    while codes:
        code = codes.pop()
        names |= set(code.co_names)
        codes += [x for x in code.co_consts if isinstance(x, types.CodeType)]
    called = (function.__globals__.get(n) for n in names)
    inner = [f for f in called if isinstance(f, types.FunctionType) and f.__module__.startswith("shoplib.topics")]
    return bool({"check", "judge"} & names) or any(judges(f, seen) for f in inner)


def working_names_that_judge():
    return [name for name, working in all_workings().items() if judges(working.run, set())]
