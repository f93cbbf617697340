"""matplotlib without the tables of properties that it writes into its docstrings as it is imported.

Making them takes a fifth of a second of every kernel, before anybody sees a form, and no technician reads them.
Imported before the rest of matplotlib; later it changes nothing.
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
