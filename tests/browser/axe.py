"""axe-core, as its makers publish it on npm: fetched by the npm of this machine, checked by its hash, never kept in git.

``run(page)`` gives the violations of a page that are serious or critical, each with the elements it is about.
"""

from __future__ import annotations

import base64
import functools
import hashlib
import io
import os
import shutil
import subprocess
import tarfile
import tempfile
from pathlib import Path

import platformdirs
import pytest

VERSION = "4.14.1"
INTEGRITY = (
    "FHfa+lmNjQZfJz1q8wKqIDwC6DExcHt/pkjNQb09a3NPjCKg2rhu5qb2S4r76ASyFNNtuFooJpZe37OgudVGtQ=="  # sha512, npm's own
)
GRAVE = ("serious", "critical")

# Left out: what MathJax sets (its own mark-up, read aloud by its own assistant) and the inside of a picture (one image
# with its words; test_pages.py looks at those): both are thousands of elements, and axe walks every one.  And PNG outputs:
# the notebook gives them words, JupyterLab's own renderer of images does not pass them on.
APART = ["mjx-container", "[data-painted]", ".jp-RenderedImage"]
RUN = """async ([within, only, apart]) => {
  const options = { resultTypes: ["violations"], ...(only ? { runOnly: { type: "rule", values: only } } : {}) };
  const found = await axe.run({ include: [within], exclude: apart.map(e => [e]) }, options);
  return found.violations.map(v => ({ id: v.id, impact: v.impact,
    nodes: v.nodes.map(n => ({ target: n.target.flat().join(" "), html: n.html.slice(0, 200) })) }));
}"""


class NotHere(RuntimeError):
    """Why axe-core cannot be had."""


def _fetch() -> bytes:
    npm = shutil.which("npm")
    if npm is None:
        raise NotHere("no npm on this machine to fetch axe-core with")
    with tempfile.TemporaryDirectory(prefix="shoplib-") as place:
        ran = subprocess.run(
            [npm, "pack", f"axe-core@{VERSION}", "--silent"], cwd=place, capture_output=True, text=True, timeout=120, check=False
        )  # fmt: skip
        packed = list(Path(place).glob("*.tgz"))
        if ran.returncode or len(packed) != 1:
            raise NotHere(f"npm could not fetch axe-core {VERSION}: {ran.stderr.strip()[-300:]}")
        return packed[0].read_bytes()


@functools.cache
def source() -> str:
    """The script, from the cache of this user or from npm; a package that is not the pinned one is refused."""
    kept = Path(platformdirs.user_cache_dir("shoplib", appauthor=False)) / f"axe-core-{VERSION}.tgz"
    package = kept.read_bytes() if kept.exists() else _fetch()
    if base64.b64encode(hashlib.sha512(package).digest()).decode() != INTEGRITY:
        kept.unlink(missing_ok=True)
        raise RuntimeError(f"axe-core {VERSION} is not the package that was pinned")
    if not kept.exists():
        kept.parent.mkdir(parents=True, exist_ok=True)
        part = kept.with_suffix(f".{os.getpid()}")
        part.write_bytes(package)
        part.replace(kept)
    with tarfile.open(fileobj=io.BytesIO(package)) as packed:
        script = packed.extractfile("package/axe.min.js")
        assert script is not None
        return script.read().decode()


def needed() -> str:
    """The script; without it the test skips, and fails where a browser is required."""
    try:
        return source()
    except NotHere as error:
        (pytest.fail if os.environ.get("SHOPLIB_REQUIRE_BROWSER") else pytest.skip)(str(error))


def run(page, within: str = "html", only: tuple[str, ...] = ()) -> list[str]:
    """Grave violations in words, one line an element; all rules, or only those named."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(needed())
    found = page.evaluate(RUN, [within, only or None, APART])
    return [
        f"{v['impact']} {v['id']}: {n['target']}: {n['html']}"
        for v in found
        if v["impact"] in GRAVE
        for n in v["nodes"]
    ]
