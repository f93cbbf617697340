"""What only measures runs only when figures are asked for: ``--benchmark-enable``."""

import pytest


@pytest.fixture
def asked(request):
    if not request.config.getoption("benchmark_enable"):
        pytest.skip("a measurement of minutes; ask for it with --benchmark-enable")
