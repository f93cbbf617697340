"""Keeps every comparison of the published tests, for the evidence page; see tests/evidence.py."""

from collections import defaultdict

import pytest

from tests import evidence
from tests.published.published import NOW


def pytest_configure(config):
    config.stash[evidence.SEEN] = defaultdict(list)


def pytest_collection_modifyitems(items):
    """The test that compares with the committed tables comes after the tests that give the values."""
    items.sort(key=lambda item: item.name == evidence.LAST)


def pytest_deselected(items):
    if items:
        items[0].config.stash[evidence.NARROWED] = True


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item):
    calls = getattr(item, "callspec", None)
    NOW.about = dict(getattr(item.function, "about", {}))
    if calls and "row" in calls.params:
        row = calls.params["row"]
        NOW.about |= {"source": row["source"], "mark": row["mark"], "row": row}
    name = f"{item.path.stem}.{item.originalname}"
    if calls:
        name += "[" + ",".join(str(k) for k in calls.indices.values()) + "]"
    kept = item.config.stash[evidence.SEEN][name]
    measure = item.config.stash.get(evidence.MEASURE, None)
    try:
        NOW.listener = kept.append
        if measure is None:
            return (yield)
        with measure.watching() as evaluated:
            result = yield
        if kept:
            measure.disturb(name, kept, evaluated, item.runtest)
        return result
    finally:
        NOW.about, NOW.listener = None, None
