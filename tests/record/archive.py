"""Where the records of earlier versions lie."""

from pathlib import Path

ARCHIVE = Path(__file__).parents[1] / "archive"

OLD = ARCHIVE / "0.1.0"
