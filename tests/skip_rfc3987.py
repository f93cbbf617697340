"""Skip a 2.9 s grammar build that jsonschema starts for a check no notebook uses.

jsonschema takes the ImportError as "this optional format checker is not installed".
"""

import sys

sys.modules.setdefault("rfc3987_syntax", None)  # type: ignore[arg-type]  # None is what makes the import fail
