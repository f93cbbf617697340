"""What must hold of torque and preload for any bolt that can be typed."""

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from shoplib.core.units import N_m, read, show_number, unit_of
from shoplib.topics import get

FORWARD, BACK, ASSEMBLY = get("preload_from_torque"), get("torque_from_preload"), get("assembly_preload")
threads = st.sampled_from(["M6", "M8x1", "M10x1.25", "M12", "M14x1.5", "M16"])
friction = st.floats(0.03, 0.4).map(lambda x: round(x, 4))
torques = st.floats(1, 500).map(lambda x: round(x, 3))


def typed(thread, mu_G, mu_K, **more):
    return {"thread": thread, "mu_thread": str(mu_G), "mu_head": str(mu_K), **more}


@settings(deadline=None)  # machines are shared; no timed tests
@given(threads, friction, friction, torques)
def test_there_and_back(thread, mu_G, mu_K, torque):
    there = FORWARD(typed(thread, mu_G, mu_K), torque=f"{torque} N*m")
    back = BACK(typed(thread, mu_G, mu_K), preload=f"{there['preload']!r} N")
    assert back["torque"] == pytest.approx(torque, rel=1e-12)
    shares = sum(there[f"share_{part}"] for part in ("pitch", "thread", "head"))
    assert shares == pytest.approx(1, rel=1e-12)


@settings(deadline=None)
@given(threads, friction, friction, torques, st.floats(1.001, 3))
def test_more_torque_clamps_more_and_more_friction_less(thread, mu_G, mu_K, torque, factor):
    assume(max(mu_G, mu_K) * factor <= 1)
    base = FORWARD(typed(thread, mu_G, mu_K), torque=f"{torque} N*m")["preload"]
    assert FORWARD(typed(thread, mu_G, mu_K), torque=f"{torque * factor} N*m")["preload"] > base
    assert FORWARD(typed(thread, mu_G * factor, mu_K), torque=f"{torque} N*m")["preload"] < base
    assert FORWARD(typed(thread, mu_G, mu_K * factor), torque=f"{torque} N*m")["preload"] < base


@settings(deadline=None)
@given(threads, torques, friction, friction)
def test_the_band_holds_the_value(thread, torque, one, other):
    low, high = sorted((one, other))
    mid = round((low + high) / 2, 6)
    assume(low < mid < high)
    result = FORWARD(typed(thread, mid, mid), torque=f"{torque} N*m", mu_low=str(low), mu_high=str(high))
    assert result["preload_low"] < result["preload"] < result["preload_high"]
    assert result["spread_ratio"] == pytest.approx(result["preload_high"] / result["preload_low"])


@settings(deadline=None)
@given(threads, st.sampled_from(["8.8", "10.9", "12.9"]), friction, st.sampled_from(["plastic", "elastic"]))
def test_assembly_preload_uses_what_it_says(thread, grade, mu, torsion):
    result = ASSEMBLY(typed(thread, mu, mu), property_class=grade, torsion=torsion)
    assert abs(result["closing_residual"]) < 1e-12
    found = {"torque": f"{result['torque']!r} N*m", "property_class": grade, "torsion": torsion}
    plain = {"shank_diameter": f"{thread.partition('x')[0][1:]} mm"}
    again = FORWARD(typed(thread, mu, mu) | found | plain)
    assert again["utilisation"] == pytest.approx(0.9, rel=1e-12)
    # the size of the head was not typed: where it decides, the check is undecided
    assert again.outcome in ("pass", "undecided")
    assert again.outcome == "pass" or "Mean bearing diameter" in again.checks[0].remark


@settings(deadline=None)
@given(
    torques,
    st.sampled_from([("N*m", 1.0), ("lbf*ft", 1.3558179483314004), ("lbf*in", 0.1129848290276167), ("kgf*m", 9.80665)]),
)
def test_one_torque_in_any_unit(torque, unit):
    name, factor = unit
    assert read(f"{torque} {name}", unit_of(N_m)).value == pytest.approx(torque * factor, rel=1e-15)


@given(st.floats(-1e300, 1e300), st.integers(2, 9))
def test_a_shown_number_reads_back_within_its_digits(x, digits):
    text = show_number(x, digits).replace("−", "-").replace("\u202f", "")
    if "×" in text:
        mantissa, _, power = text.partition("×10")
        text = mantissa + "e" + power.translate(str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "-0123456789"))
    assert float(text) == pytest.approx(x, rel=0.6 * 10 ** (1 - digits))
