"""A copy of the package in which a test changes the source, as a developer would."""

import shutil
from pathlib import Path

ROOT = Path(__file__).parents[1]


def copy_package(folder, *changes):
    """Copy it to the folder; each change is a file of the package, what stands there once, and what it becomes.

    What Python compiled is copied too, so that only the changed files are compiled again.
    """
    shutil.copytree(ROOT / "shoplib", folder / "shoplib")
    (folder / "data").symlink_to(ROOT / "data")
    for path, old, new in changes:
        source = folder / "shoplib" / path
        text = source.read_text(encoding="utf-8")
        assert text.count(old) == 1, (path, old)
        source.write_text(text.replace(old, new), encoding="utf-8")
