"""Mann-Kendall, Theil-Sen and the straight line against printed and certified figures."""

import pytest
from statsmodels.datasets import nile

from records.judge.fleet_statistics import pooled_variance
from records.judge.mann_kendall import mann_kendall
from records.judge.straight_line import straight_line

pytestmark = pytest.mark.published

NORRIS = [
    (0.2, 0.1), (337.4, 338.8), (118.2, 118.1), (884.6, 888.0), (10.1, 9.2), (226.5, 228.1), (666.3, 668.5),
    (996.3, 998.5), (448.6, 449.1), (777.0, 778.9), (558.2, 559.2), (0.4, 0.3), (0.6, 0.1), (775.5, 778.1),
    (666.9, 668.8), (338.0, 339.3), (447.5, 448.9), (11.6, 10.8), (556.0, 557.7), (228.1, 228.3),
    (995.8, 998.0), (887.6, 888.8), (120.2, 119.6), (0.3, 0.3), (0.3, 0.6), (556.8, 557.6), (339.1, 339.3),
    (887.2, 888.0), (999.0, 998.5), (779.0, 778.9), (11.1, 10.2), (118.3, 117.6), (229.2, 228.9),
    (669.1, 668.4), (448.9, 449.2), (0.5, 0.2),
]  # fmt: skip
"""NIST Statistical Reference Datasets, linear regression, Norris."""


def test_norris_line_meets_the_certified_values_to_eleven_digits():
    """NIST StRD Norris, certified values (quoted from a public test file)."""
    line = straight_line([x for x, _ in NORRIS], [y for _, y in NORRIS])
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-11)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-12)
    assert line.intercept_error == pytest.approx(0.232818234301152, rel=1e-11)
    assert line.slope_error == pytest.approx(0.000429796848199937, rel=1e-11)
    assert line.residual_deviation == pytest.approx(0.884796396144373, rel=1e-11)
    assert line.r_squared == pytest.approx(0.999993745883712, rel=1e-13)


def test_one_wild_value_moves_the_theil_sen_line_not_at_all_and_the_straight_line_much():
    """Kendall-Theil line, USGS Statistical Methods in Water Resources; inputs from memory."""
    values = [1, 2, 3, 4, 5, 16, 7]
    robust = mann_kendall(values, [1, 2, 3, 4, 5, 6, 7])
    assert robust.slope == 1
    assert robust.intercept == 0
    assert straight_line([1, 2, 3, 4, 5, 6, 7], values).slope == pytest.approx(12 / 7)
    assert (robust.s, round(robust.variance, 3), round(robust.z, 3)) == (19, 44.333, 2.703)
    assert robust.p_normal == pytest.approx(0.00686, abs=5e-6)


def test_ten_pairs_give_s_21_and_the_exact_p():
    """Kendall's tau, USGS Statistical Methods in Water Resources; inputs from memory."""
    values = [1.22, 2.20, 4.80, 1.28, 1.97, 1.46, 2.64, 2.34, 4.84, 2.96]
    times = [2, 24, 99, 197, 377, 544, 632, 3452, 6587, 53170]
    result = mann_kendall(values, times)
    assert result.s == 33 - 12 == 21
    assert result.s / 45 == pytest.approx(0.467, abs=5e-4)
    assert result.is_exact
    assert result.p_value == pytest.approx(0.0726, abs=5e-5)


def test_ties_of_four_and_two_among_eleven_lower_the_variance():
    """EPA QA/G-9S page 109 as quoted on a public page: S 22, variance 155.33, Z 1.685; the series is ours."""
    values = [1, 2, 2, 2, 6, 7, 3, 2, 4, 5, 3]
    result = mann_kendall(values)
    assert (result.s, round(result.variance, 2), round(result.z, 3)) == (22, 155.33, 1.685)
    assert not result.is_exact


def test_the_nile_fell_between_1871_and_1970():
    """Annual flow of the Nile, an open data set; figures agreed on by two independent programs."""
    flow = nile.load_pandas().data
    result = mann_kendall(list(flow["volume"]), list(flow["year"]))
    assert result.s == -1387
    assert result.variance == pytest.approx(112728.33, abs=5e-3)
    assert result.z == pytest.approx(-4.128, abs=5e-4)
    assert result.slope == pytest.approx(-2.6)
    assert result.is_falling


def test_variance_of_three_large_neighbours_is_exactly_one():
    """NIST StRD NumAcc1, from memory: a one-pass formula in floats can fail here."""
    assert pooled_variance([[10000001, 10000003, 10000002]]) == 1
