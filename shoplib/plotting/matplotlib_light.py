"""Import matplotlib without the property tables that it adds to its docstrings.

Making these tables delays each new kernel by about 0.2 s, and no technician reads them.
Import this module before the rest of matplotlib; a later import has no effect.
"""

from __future__ import annotations

import matplotlib.artist

_table = matplotlib.artist.kwdoc
matplotlib.artist.kwdoc = lambda artist: ""
try:
    import matplotlib.backends.backend_svg
    import matplotlib.figure
finally:
    matplotlib.artist.kwdoc = _table
