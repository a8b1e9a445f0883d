"""Control charts, run rules and outlier test against the NIST/SEMATECH e-Handbook of Statistical Methods."""

import random
import statistics

import pytest

from records.judge.control_charts import cusum_table, ewma_chart, individuals_chart, run_signals
from records.judge.outliers import grubbs_limit, grubbs_score, outlying

pytestmark = pytest.mark.published

FLOW_RATES = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
EWMA_VALUES = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, *FLOW_RATES]
CUSUM_VALUES = [
    324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
    324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
]  # fmt: skip
OUTLIER_VALUES = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]


def test_individuals_chart_of_the_handbook_flow_rates():
    """NIST/SEMATECH e-Handbook 6.3.2.2 (quoted, not seen on its own page)."""
    chart = individuals_chart(FLOW_RATES)
    assert chart.centre == pytest.approx(50.81, abs=1e-9)
    assert chart.mean_range == pytest.approx(1.8778, abs=5e-5)
    assert chart.upper == pytest.approx(55.8041, abs=5e-5)
    assert chart.lower == pytest.approx(45.8159, abs=5e-5)
    assert chart.range_upper == pytest.approx(6.135, abs=5e-4)
    assert chart.outside == ()


def test_ewma_chart_of_the_handbook_reproduces_every_average_and_both_limits():
    """NIST/SEMATECH e-Handbook 6.3.2.4 (quoted, not seen on its own page)."""
    chart = ewma_chart(EWMA_VALUES, 50.0, 2.0539, 0.3)
    assert [round(average, 2) for average in chart.averages] == [
        50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
        50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
    ]  # fmt: skip
    assert chart.upper == pytest.approx(52.5884, abs=5e-5)
    assert chart.lower == pytest.approx(47.41157, abs=5e-6)
    assert chart.outside == ()


def test_cusum_table_of_the_handbook_first_signals_at_point_fourteen():
    """NIST/SEMATECH e-Handbook 6.3.2.3 (quoted, not seen on its own page)."""
    table = cusum_table(CUSUM_VALUES, 325.0, 0.3175, 4.1959)
    assert table.first_signal == 14
    assert table.high[12] == pytest.approx(3.0075, abs=1e-9)
    assert table.high[13] == pytest.approx(4.94, abs=1e-9)
    assert table.high[-1] == pytest.approx(19.035, abs=1e-9)
    assert max(table.low) == table.low[7] == pytest.approx(0.715, abs=1e-9)


def test_calibration_drift_limits_are_k_sigma_root_weight_over_two_minus_weight():
    """NIST/SEMATECH e-Handbook 2.3.5.2.2: weight 0.2 gives root 1/9, a third of k sigma."""
    chart = ewma_chart([0.0], 10.0, 1.5, 0.2, reach=3.0)
    assert chart.upper == pytest.approx(11.5)
    assert chart.lower == pytest.approx(8.5)


@pytest.mark.parametrize(
    ("scores", "signals"),
    [
        ([0.0, 3.1], [(2, "one point beyond three sigma")]),
        ([2.1, 0.0, 2.1], [(3, "two of three points beyond two sigma on one side")]),
        ([2.1, 0.0, -2.1], []),
        ([1.1, 1.1, -0.5, 1.1, 1.1], [(5, "four of five points beyond one sigma on one side")]),
        ([-0.1] * 8, [(8, "eight points in a row on one side")]),
        ([-0.1] * 7, []),
    ],
)
def test_western_electric_rules(scores, signals):
    """NIST/SEMATECH e-Handbook 6.3.2, rules from memory."""
    assert [(signal.number, signal.rule) for signal in run_signals(scores, 0.0, 1.0)] == signals


def run_length(first_signal, chance: random.Random, shift: float = 0.0) -> int:
    """Lengthen one series until it signals."""
    values: list[float] = []
    signal = None
    while signal is None:
        values += [chance.gauss(shift, 1) for _ in range(100 if shift == 0 else 25)]
        signal = first_signal(values)
    return signal


def first_run_signal(values: list[float]) -> int | None:
    return next((signal.number for signal in run_signals(values, 0.0, 1.0)), None)


def test_all_four_western_electric_rules_signal_falsely_about_every_92_points():
    """Average run length about 92, from memory; 600 simulated runs, tolerance three standard errors."""
    chance = random.Random(6320)
    lengths = [run_length(first_run_signal, chance) for _ in range(600)]
    error = statistics.stdev(lengths) / 600**0.5
    assert statistics.fmean(lengths) == pytest.approx(92, abs=3 * error)
    assert error < 4


@pytest.mark.parametrize(
    ("limit", "shift", "length", "runs"),
    [(4.0, 1.0, 8.38, 6000), (5.0, 1.0, 10.38, 6000), (4.0, 0.0, 167.7, 500)],
)
def test_two_sided_cusum_run_lengths(limit, shift, length, runs):
    """Printed average run lengths for allowance 0.5, from memory; tolerance three standard errors."""
    chance = random.Random(int(1000 * limit + shift))

    def first_signal(values: list[float]) -> int | None:
        return cusum_table(values, 0.0, 0.5, limit).first_signal

    lengths = [run_length(first_signal, chance, shift) for _ in range(runs)]
    error = statistics.stdev(lengths) / runs**0.5
    assert statistics.fmean(lengths) == pytest.approx(length, abs=3 * error)
    assert error < length / 20


def test_grubbs_test_of_the_handbook_flags_the_outlier():
    """NIST/SEMATECH e-Handbook 1.3.5.17.1 (quoted, not seen on its own page); it prints 2.4687, cut off."""
    assert grubbs_score(OUTLIER_VALUES) == pytest.approx(2.4687, abs=1e-4)
    assert grubbs_limit(8, one_sided=True) == pytest.approx(2.032, abs=5e-4)
    assert outlying(OUTLIER_VALUES) == 7
