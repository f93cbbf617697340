"""How many cases a fuzz test tries."""

from hypothesis import HealthCheck, Phase, settings

from tests.fuzz.properties import LONG


def runs(bounded, share):
    """So many inputs: fixed ones in the bounded run, this share of ``SHOPLIB_FUZZ`` in a long one."""
    return settings(
        max_examples=max(int(LONG * share), 1) if LONG else bounded,
        derandomize=not LONG,
        database=None,
        deadline=None,
        print_blob=bool(LONG),
        report_multiple_bugs=False,
        phases=[Phase.generate],  # the input is shown as it was drawn: shrinking one takes minutes
        suppress_health_check=list(HealthCheck),
    )
