"""Work of libraries that no test needs, left out."""

import sys

# jsonschema would build a grammar for 2.9 s.  It takes the ImportError as "this optional format checker is not installed".
sys.modules.setdefault("rfc3987_syntax", None)  # type: ignore[arg-type]  # None is what makes the import fail
