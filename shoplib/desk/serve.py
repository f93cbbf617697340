"""``python -m shoplib.desk.serve jupyterlab …``: a Jupyter server that does not wait 2.7 s before its first word.

jsonschema builds a grammar of web addresses as it is imported, for a check that is never asked for here; it takes
the ImportError as "this optional checker is not installed".
"""

from __future__ import annotations

import runpy
import sys

SLOW = "rfc3987_syntax"

if __name__ == "__main__":
    sys.modules.setdefault(SLOW, None)  # type: ignore[arg-type]  # None is what makes the import fail
    sys.argv.pop(0)
    runpy.run_module(sys.argv[0], run_name="__main__", alter_sys=True)
