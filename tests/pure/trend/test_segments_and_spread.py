"""Cutting tests at configuration events, and the repeatability pooled inside the pieces."""

import random
from datetime import date

import pytest

from fleet.quantities import RefusedInput
from records.judge.series import ConfigurationEvent, Observation, SidePair, current_segment, segments_of
from records.judge.spread import channels_of, pooled_spread, side_channels_of

JANUARY, FEBRUARY, MARCH = date(2026, 1, 10), date(2026, 2, 10), date(2026, 3, 10)


def test_a_configuration_event_starts_a_new_segment_and_gives_its_reason():
    tests = [Observation(MARCH, 97.0), Observation(JANUARY, 99.0)]
    first, second = segments_of(tests, [ConfigurationEvent(FEBRUARY, "left panel 1 replaced")])
    assert [test.value for test in first.observations] == [99.0]
    assert (first.start, first.reason) == (None, None)
    assert [test.value for test in second.observations] == [97.0]
    assert (second.start, second.reason) == (FEBRUARY, "left panel 1 replaced")


def test_a_test_on_the_day_of_the_event_counts_as_made_after_it():
    tests = [Observation(FEBRUARY, 99.0, reference="FT-1")]
    assert len(current_segment(tests, [ConfigurationEvent(FEBRUARY, "pump replaced")]).observations) == 1


def test_a_test_named_as_made_before_the_event_of_the_same_day_stays_in_the_old_segment():
    tests = [Observation(FEBRUARY, 80.0, reference="FT-1"), Observation(FEBRUARY, 99.0, reference="FT-2")]
    event = ConfigurationEvent(FEBRUARY, "pump replaced", frozenset({"FT-1"}))
    assert [test.reference for test in current_segment(tests, [event]).observations] == ["FT-2"]


def test_an_event_after_the_last_test_leaves_an_empty_current_segment():
    segment = current_segment([Observation(JANUARY, 99.0)], [ConfigurationEvent(MARCH, "tank refitted")])
    assert segment.observations == ()
    assert segment.start == MARCH


def test_two_events_of_one_day_make_one_cut_that_names_both():
    events = [ConfigurationEvent(FEBRUARY, "pump replaced"), ConfigurationEvent(FEBRUARY, "filter changed")]
    segments = segments_of([Observation(JANUARY, 99.0)], events)
    assert len(segments) == 2
    assert segments[1].reason == "pump replaced; filter changed"


def test_an_invalid_test_stays_visible_but_does_not_count():
    segment = current_segment([Observation(JANUARY, 50.0, valid=False), Observation(FEBRUARY, 99.0)], [])
    assert len(segment.observations) == 2
    assert [test.value for test in segment.valid] == [99.0]


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_a_reading_that_is_no_number_is_refused_with_field_and_remedy(value):
    with pytest.raises(RefusedInput) as refusal:
        Observation(JANUARY, value)
    assert refusal.value.reasons[0].field == "value"
    assert refusal.value.reasons[0].remedy == "correct it, or leave the test out"


def test_a_negative_side_flow_is_refused():
    with pytest.raises(RefusedInput, match="right"):
        SidePair(JANUARY, 99.0, -1.0)


def test_spread_takes_ranges_inside_channels_only():
    # ranges 1, 2 in the first and 0.5 in the second; the step between them is not one
    spread = pooled_spread([[100.0, 101.0, 99.0], [60.0, 60.5]])
    assert spread.sigma == pytest.approx((1 + 2 + 0.5) / 3 / 1.128)
    assert spread.moving_ranges == 3
    assert not spread.is_floor


def test_resistant_spread_uses_the_median_range():
    assert pooled_spread([[100.0, 101.0, 99.0, 149.0]], resistant=True).sigma == pytest.approx(2 / 0.9539)


def test_spread_never_falls_below_the_uncertainty_of_the_measurement():
    spread = pooled_spread([[100.0, 100.1]], floor=0.9)
    assert spread.sigma == 0.9
    assert spread.is_floor
    assert "raised to the uncertainty of the measurement" in spread.words


def test_spread_without_any_range_needs_a_floor():
    assert pooled_spread([[100.0]], floor=1.5).sigma == 1.5
    with pytest.raises(RefusedInput, match="uncertainty of the measurement"):
        pooled_spread([[100.0]])


def test_forty_degrees_of_freedom_need_sixty_seven_ranges():
    assert not pooled_spread([[float(i % 2) for i in range(67)]]).is_well_known
    assert pooled_spread([[float(i % 2) for i in range(68)]]).is_well_known


def test_a_slow_drift_hardly_touches_the_spread():
    """At -0.5 % per test and a true 1.50 the moving range reads 1.54."""
    chance = random.Random(3)
    channels = [[100 - 0.5 * k + chance.gauss(0, 1.5) for k in range(12)] for _ in range(2000)]
    assert pooled_spread(channels).sigma == pytest.approx(1.54, abs=0.03)


def test_channels_leave_out_invalid_tests_and_keep_sides_apart():
    tests = [Observation(JANUARY, 1.0), Observation(FEBRUARY, 9.0, valid=False), Observation(MARCH, 2.0)]
    assert channels_of(segments_of(tests, [])) == [[1.0, 2.0]]
    pairs = [SidePair(JANUARY, 1.0, 3.0), SidePair(MARCH, 2.0, 4.0)]
    assert side_channels_of(segments_of(pairs, [])) == [[1.0, 2.0], [3.0, 4.0]]
