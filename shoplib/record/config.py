"""Where the job record is.  This needs no database."""

from __future__ import annotations

import os
from pathlib import Path

import platformdirs

ENVIRONMENT = "SHOPLIB_STORE"  # a file, or postgresql://user@host/database


def default_place() -> str:
    """Where the record is: ``SHOPLIB_STORE``, or a file in the user's data folder."""
    found = os.environ.get(ENVIRONMENT, "").strip()
    return found or str(Path(platformdirs.user_data_dir("shoplib", appauthor=False)) / "jobs.db")
