"""How fast tightening follows a drag (aim: curve with band in 5 ms) and a million drawn bolts come (aim: 1 s, 400 MB).

.venv/bin/pytest tests/bench/test_bench_tightening.py --benchmark-enable --benchmark-only -s
"""

import itertools
import subprocess
import sys

import numpy as np
import pytest

from shoplib.desk import LiveFigure
from shoplib.physics import tightening
from shoplib.topics import get
from tests.topics.tightening_inputs import MODEL, STAGED

ANGLES = itertools.cycle(range(60, 140))
SCATTER = MODEL | {
    "stages": "40 N*m; +90 deg", "torque_percent": "4 %", "angle_error": "5 deg", "yield_percent": "5 %",
}  # fmt: skip


def test_curve_of_500_points_with_band(benchmark):
    mu = np.array([0.12, 0.16, 0.10])

    def curve():
        m = tightening.model(P=1.5e-3, d_2=9.026e-3, D_Km=13e-3, A_0=55.4e-6, W_P=155e-9, delta_S=1 / 95.4e6,
                             delta_P=1 / 286e6, l_0=0.1, epsilon_u=0.05, R_p=940e6, R_m=1040e6, mu_G=mu, mu_K=mu)  # fmt: skip
        return tightening.curve(m, 500, np.zeros(3))

    assert benchmark(curve)[0].shape == (3, 500)


def test_whole_working_with_its_curves(benchmark):
    assert benchmark(lambda: STAGED(MODEL | {"stages": f"40 N*m; +{next(ANGLES)} deg"}))["preload"]


def test_live_picture_follows_a_drag(benchmark):
    live = LiveFigure(STAGED.draw, STAGED(MODEL | {"stages": "40 N*m; +60 deg"}), figsize=STAGED.figure_size)
    results = itertools.cycle([STAGED(MODEL | {"stages": f"40 N*m; +{n} deg"}) for n in range(60, 120, 7)])
    base = live.svg
    benchmark(lambda: live.move(next(results)))
    assert live.svg == base


@pytest.mark.parametrize("draws", [100_000, 1_000_000])
def test_scatter(benchmark, draws):
    working = get("preload_scatter")
    result = benchmark.pedantic(lambda: working(SCATTER | {"draws": str(draws)}), rounds=5, warmup_rounds=1)
    assert result["sd_ratio"] > 2


def test_memory_of_a_million_draws(benchmark):
    code = (
        "from pathlib import Path; from shoplib.topics import get\n"
        "from tests.bench.test_bench_tightening import SCATTER\n"
        "get('preload_scatter')(SCATTER | {'draws': '1000000'})\n"
        "peak = [x for x in Path('/proc/self/status').read_text().splitlines() if x.startswith('VmHWM')]\n"
        "print(float(peak[0].split()[1]) / 1024)"  # not getrusage: that one inherits the peak of the parent
    )

    def peak():
        return float(subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout)

    megabytes = benchmark.pedantic(peak, rounds=1)
    print(f"\na million draws: at most {megabytes:.0f} MB in the whole process (wanted ≤ 400)")
