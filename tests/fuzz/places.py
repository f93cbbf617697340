"""Places in a nested value, for tests that change one of them."""

from hypothesis import strategies as st

from tests.fuzz.strategies import ANY_TEXT, ODD


def places(value, path=()):
    """The path of every value of a tree."""
    yield path
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for k, v in inside:
        yield from places(v, (*path, k))


PLAIN = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(-(10**30), 10**30), st.floats(), ANY_TEXT, st.sampled_from(ODD)),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(ANY_TEXT, inner, max_size=3)),
    max_leaves=5,
)
