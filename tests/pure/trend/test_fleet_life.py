"""Fleet scores, shrinkage, removal rates and panel life against independent programs."""

import json
import math
import random
import statistics

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from fleet.quantities import RefusedInput
from records.judge.control_charts import cusum_table, ewma_chart, individuals_chart
from records.judge.distributions import poisson_at_most, poisson_mean, student_quantile, student_within
from records.judge.fleet_statistics import fleet_standing, pooled_variance, shrunk_mean, shrunk_means
from records.judge.outliers import grubbs_limit, outlying
from records.judge.panel_life import UnitLife, fit_life, least_scale
from records.judge.removal_rates import removal_rate

HANDBOOK = [54, 187, 216, 240, 244, 335, 361, 373, 375, 386]


@given(st.integers(0, 300), st.floats(0.001, 0.999))
def test_poisson_mean_is_half_a_chi_square_quantile(count, chance):
    assert poisson_mean(count, chance) == pytest.approx(stats.chi2.isf(chance, 2 * count + 2) / 2, rel=1e-9)


@given(st.integers(0, 60), st.floats(0, 200))
def test_poisson_sums_agree(count, mean):
    assert poisson_at_most(count, mean) == pytest.approx(stats.poisson.cdf(count, mean), abs=1e-12)


@given(st.floats(0, 30), st.integers(1, 60))
def test_students_t_from_its_finite_series_agrees(t, degrees):
    assert student_within(t, degrees) == pytest.approx(1 - 2 * stats.t.sf(t, degrees), abs=1e-12)


@given(st.floats(0.0005, 0.4999), st.integers(1, 60))
def test_students_quantile_agrees(tail, degrees):
    assert student_quantile(tail, degrees) == pytest.approx(stats.t.isf(tail, degrees), rel=1e-8, abs=1e-8)


def test_grubbs_limit_holds_its_risk():
    chance = random.Random(117)
    sets = [[chance.gauss(0, 1) for _ in range(6)] for _ in range(4000)]
    share = statistics.fmean(outlying(values) is not None for values in sets)
    assert grubbs_limit(6) == pytest.approx(1.887, abs=5e-4)
    assert share == pytest.approx(0.05, abs=0.0105)


def test_equal_values_hold_no_outlier():
    assert outlying([100.0] * 6) is None
    assert outlying([1.0, 2.0]) is None


def test_one_low_aircraft_is_seen_by_the_resistant_score_and_masked_in_the_classic_one():
    values = {"A": 97.2, "B": 98.6, "C": 99.4, "D": 100.1, "E": 101.3, "F": 90.1}
    low = fleet_standing(values, 1.5)[-1]
    assert low.score == pytest.approx(
        (90.1 - 99.0) / stats.median_abs_deviation(list(values.values()), scale="normal"), rel=1e-4
    )
    assert low.is_low
    classic = (90.1 - statistics.fmean(values.values())) / statistics.stdev(values.values())
    assert classic > -2.1
    assert "Its own baseline comes first." in low.words


def test_the_pooled_spread_serves_where_more_than_half_agree():
    values = {"A": 100.0, "B": 100.0, "C": 100.0, "D": 100.0, "E": 94.0}
    assert fleet_standing(values, 1.5)[-1].score == pytest.approx(-4.0)


def test_four_aircraft_are_too_few_to_stand_among():
    with pytest.raises(RefusedInput, match="too few aircraft"):
        fleet_standing({"A": 1.0, "B": 2.0, "C": 3.0, "D": 4.0}, 1.5)


def test_a_single_test_of_103_is_shrunk_to_102_77():
    shrunk = shrunk_mean("QX-SKA", 103.0, 0.774**2, 98.185, 11.99)
    assert shrunk.shrunk_mean == pytest.approx(102.77, abs=5e-3)
    assert "own mean 103.00 %" in shrunk.words


def test_between_variance_and_level_follow_dersimonian_and_laird_written_out():
    means, variances = np.array([97.0, 101.5, 94.2, 99.9, 103.0]), np.array([0.1, 0.2, 0.15, 0.3, 0.6])
    weights = 1 / variances
    level = (weights * means).sum() / weights.sum()
    scatter = (weights * (means - level) ** 2).sum()
    between = (scatter - 4) / (weights.sum() - (weights**2).sum() / weights.sum())
    names = list("ABCDE")
    result = shrunk_means(dict(zip(names, means, strict=True)), dict(zip(names, variances, strict=True)))
    assert result.between_variance == pytest.approx(between)
    assert result.mean == pytest.approx(np.average(means, weights=1 / (between + variances)))
    for each, mean, variance in zip(result.aircraft, means, variances, strict=True):
        assert each.shrunk_mean == pytest.approx(
            result.mean + between / (between + variance) * (mean - result.mean)
        )


def test_shrinkage_needs_the_same_aircraft_twice_over():
    with pytest.raises(RefusedInput, match="do not match"):
        shrunk_means({"A": 1.0, "B": 2.0}, {"A": 1.0, "C": 1.0})


def test_pooled_variance_needs_a_repeat():
    assert pooled_variance([[1.0, 3.0], [5.0], [2.0, 4.0, 6.0]]) == pytest.approx((2 + 8) / 3)
    with pytest.raises(RefusedInput, match="no repeated tests"):
        pooled_variance([[1.0], [2.0]])


@given(st.floats(10, 1e6), st.integers(1, 40), st.floats(0.5, 0.99))
def test_removal_rate_bounds_are_the_exact_poisson_ones(hours, removals, confidence):
    rate, risk = removal_rate(hours, removals, confidence), 1 - confidence
    assert rate.mean == pytest.approx(hours / removals)
    assert rate.lower == pytest.approx(2 * hours / stats.chi2.ppf(1 - risk / 2, 2 * removals + 2), rel=1e-8)
    assert rate.upper == pytest.approx(2 * hours / stats.chi2.ppf(risk / 2, 2 * removals), rel=1e-8)


def test_without_a_removal_only_a_lower_bound_is_given():
    rate = removal_rate(1600, 0)
    assert (rate.mean, rate.upper) == (None, None)
    assert rate.lower == pytest.approx(1600 / -math.log(0.1))
    assert (
        rate.words
        == "0 removals in 1600 unit hours: mean time between removals above 695 h with 90 % confidence."
    )
    assert json.loads(json.dumps(rate.to_dict()))["upper"] is None


@pytest.mark.parametrize(("hours", "removals", "confidence"), [(0, 1, 0.9), (10, -1, 0.9), (10, 1, 1.0)])
def test_removal_rates_refuse_nonsense(hours, removals, confidence):
    with pytest.raises(RefusedInput):
        removal_rate(hours, removals, confidence)


def units(removed, good):
    return [UnitLife(float(h), True) for h in removed] + [UnitLife(float(h), False) for h in good]


@settings(max_examples=10)
@given(st.integers(0, 10**6), st.floats(0.8, 4))
def test_life_fit_equals_the_general_fitter_with_suspensions(seed, shape):
    chance = random.Random(seed)
    lives = [chance.weibullvariate(1000, shape) for _ in range(20)]
    removed, good = [h for h in lives if h < 900], [900.0 for h in lives if h >= 900]
    if len(removed) < 4:
        return
    sample = stats.CensoredData(uncensored=removed, right=good)
    their_shape, _, their_scale = stats.weibull_min.fit(sample, floc=0)
    fit = fit_life(units(removed, good))
    theirs = stats.weibull_min(their_shape, scale=their_scale)
    reached = theirs.logpdf(removed).sum() + theirs.logsf(good).sum()
    assert fit.log_likelihood >= reached - 1e-6
    assert fit.shape.estimate == pytest.approx(their_shape, rel=1e-2)
    assert fit.scale.estimate == pytest.approx(their_scale, rel=1e-2)


def test_log_wald_bounds_follow_the_curvature_of_the_likelihood():
    fit = fit_life(units(HANDBOOK, [500] * 10))

    def minus_log_likelihood(log_shape: float, log_scale: float) -> float:
        law = stats.weibull_min(math.exp(log_shape), scale=math.exp(log_scale))
        return -(law.logpdf(HANDBOOK).sum() + law.logsf([500] * 10).sum())

    at, step = np.log([fit.shape.estimate, fit.scale.estimate]), 1e-4
    unit = np.eye(2) * step
    curvature = np.array(
        [
            [
                sum(
                    a * b * minus_log_likelihood(*(at + a * unit[i] + b * unit[j]))
                    for a in (1, -1)
                    for b in (1, -1)
                )
                / (4 * step * step)
                for j in (0, 1)
            ]
            for i in (0, 1)
        ]
    )
    errors = np.sqrt(np.diag(np.linalg.inv(curvature)))
    for bounds, error in zip((fit.shape, fit.scale), errors, strict=True):
        assert bounds.upper == pytest.approx(bounds.estimate * math.exp(1.959964 * error), rel=1e-4)
        assert bounds.lower == pytest.approx(bounds.estimate * math.exp(-1.959964 * error), rel=1e-4)


def test_hours_in_another_unit_scale_the_life_and_keep_the_shape():
    hours, minutes = (
        fit_life(units(HANDBOOK, [500] * 10)),
        fit_life(units([60 * h for h in HANDBOOK], [30000] * 10)),
    )
    assert minutes.shape.estimate == pytest.approx(hours.shape.estimate)
    assert minutes.scale.upper == pytest.approx(60 * hours.scale.upper)


def test_leaving_out_the_units_still_good_makes_life_look_too_short():
    assert (
        fit_life(units(HANDBOOK, [])).scale.estimate
        < 0.6 * fit_life(units(HANDBOOK, [500] * 10)).scale.estimate
    )


def test_life_words_speak_of_removals_and_give_bounds():
    words = fit_life(units(HANDBOOK, [500] * 10)).words
    assert words.startswith(
        "From 10 removals and 10 units still good: 63 % are removed by 607 h (405 to 908)"
    )
    assert words.endswith("Removals, not confirmed failures.")


def test_two_removals_are_not_fitted():
    with pytest.raises(RefusedInput, match="too few to fit"):
        fit_life(units([100, 200], [500] * 8))


def test_removals_all_at_one_time_are_not_fitted():
    with pytest.raises(RefusedInput, match="every removal"):
        fit_life(units([100, 100, 100], []))


@pytest.mark.parametrize("hours", [0.0, -5.0, float("nan")])
def test_a_unit_needs_hours_above_zero(hours):
    with pytest.raises(RefusedInput, match="hours"):
        UnitLife(hours, True)


def test_weibayes_without_a_removal():
    bound = least_scale(units([], [400, 500, 600]), 2.0, 0.95)
    assert bound.scale_lower == pytest.approx(math.sqrt((400**2 + 500**2 + 600**2) / -math.log(0.05)))
    assert "with an assumed shape of 2.00" in bound.words


def test_weibayes_with_two_removals_uses_six_degrees_of_freedom():
    bound = least_scale(units([300, 350], [400, 500, 600]), 2.0, 0.95)
    total = 300**2 + 350**2 + 400**2 + 500**2 + 600**2
    assert bound.scale_lower == pytest.approx(math.sqrt(2 * total / stats.chi2.ppf(0.95, 6)))


@given(st.lists(st.floats(-50, 50), min_size=2, max_size=30))
def test_charts_follow_their_recursions(values):
    chart = ewma_chart(values, 0.0, 1.0, 0.3)
    assert chart.averages[-1] == pytest.approx(
        sum(0.3 * 0.7 ** (len(values) - 1 - k) * value for k, value in enumerate(values)), abs=1e-9
    )
    table = cusum_table(values, 0.0, 0.5, 5.0)
    sums = np.concatenate([[0.0], np.cumsum(np.array(values) - 0.5)])
    assert table.high[-1] == pytest.approx(sums[-1] - sums.min(), abs=1e-9)
    assert individuals_chart(values).mean_range == pytest.approx(np.abs(np.diff(values)).mean(), abs=1e-9)


def test_charts_say_whether_they_signal():
    assert individuals_chart([1.0, 1.1, 0.9, 1.0, 9.0, 1.0]).words.startswith("Every point is inside")
    assert individuals_chart([1.0] * 20 + [9.0]).outside == (21,)
    assert ewma_chart([5.0], 0.0, 1.0, 0.5).words.startswith(
        "The weighted average leaves its limits at point 1"
    )
    assert cusum_table([9.0], 0.0, 0.5, 5.0).words == "Shift signalled at point 1."
