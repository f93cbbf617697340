"""What the tests of this folder compared, against the evidence that is committed (data/evidence)."""

from pathlib import Path

import pytest

from tests import evidence
from tests.published.published import FOLDER


def whole_folder(config):
    """Every test of this folder was meant to run, in this process."""
    asked = [Path(config.invocation_params.dir, str(a).partition("::")[0]).resolve() for a in config.args]
    return (
        not hasattr(config, "workerinput")
        and not config.stash.get(evidence.NARROWED, False)
        and all("::" not in str(a) for a in config.args)
        and any(p == FOLDER or p in FOLDER.parents for p in asked)
    )


def test_the_committed_evidence_is_what_these_tests_give(request):
    """Part of the tests compares part of the table; the whole folder compares all of it."""
    config = request.config
    seen = {test: compared for test, compared in config.stash[evidence.SEEN].items() if compared}
    if not seen:
        pytest.skip("none of the published tests ran")
    whole = whole_folder(config) and not request.session.testsfailed
    found = evidence.differences(seen, whole=whole)
    assert not found, "\n".join([f"the evidence is out of date; type  {evidence.COMMAND}", *found[:20]])
