"""Plans of the controller, and what-ifs, take the place of the usual rate."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from fleet.quantities import RefusedInput
from scheduling.due.flying_plan import PlannedUse, Stretch, flies_every_day, flying_plan, stretches
from scheduling.due.terms import Measure
from scheduling.due.use import Rate, Regularity

TODAY = date(2026, 3, 2)
USED = {Measure.HOURS: 120_000, Measure.LANDINGS: 2_000, Measure.CYCLES: 4_000, Measure.FLIGHT_DAYS: 900}
USUAL = Rate(USED, USED, None, 90, Regularity.REGULAR)


def day(number: int) -> date:
    return date(2026, 3, number)


def test_without_a_plan_the_usual_rate_runs_for_good() -> None:
    assert stretches(None, Measure.HOURS, USUAL, TODAY) == (Stretch(0, None, 120_000),)


def test_planned_days_are_cut_out_of_the_usual_rate() -> None:
    plan = flying_plan([PlannedUse(day(10), day(11), 360), PlannedUse(day(4), day(5), 0)])
    assert stretches(plan, Measure.HOURS, USUAL, TODAY) == (
        Stretch(0, 2, 120_000),
        Stretch(2, 4, 0),
        Stretch(4, 8, 120_000),
        Stretch(8, 10, 360_000),
        Stretch(10, None, 120_000),
    )


def test_a_range_already_running_counts_from_today_and_one_that_is_over_not_at_all() -> None:
    plan = flying_plan([PlannedUse(date(2026, 1, 1), date(2026, 1, 31), 60), PlannedUse(day(1), day(3), 30)])
    assert stretches(plan, Measure.HOURS, USUAL, TODAY) == (Stretch(0, 2, 30_000), Stretch(2, None, 120_000))


def test_a_plan_until_further_notice_never_gives_way() -> None:
    assert stretches(flies_every_day(360, TODAY), Measure.HOURS, USUAL, TODAY) == (Stretch(0, None, 360_000),)


def test_landings_left_open_follow_the_minutes_as_usual() -> None:
    assert stretches(flies_every_day(360, TODAY), Measure.LANDINGS, USUAL, TODAY) == (
        Stretch(0, None, 6_000),
    )
    assert stretches(flies_every_day(360, TODAY), Measure.CYCLES, USUAL, TODAY) == (Stretch(0, None, 12_000),)
    assert stretches(flies_every_day(360, TODAY), Measure.FLIGHT_DAYS, USUAL, TODAY) == (
        Stretch(0, None, 1_000),
    )


def test_landings_that_are_given_count_as_given() -> None:
    plan = flies_every_day(360, TODAY, landings=Decimal("3.25"))
    assert stretches(plan, Measure.LANDINGS, USUAL, TODAY) == (Stretch(0, None, 3_250),)


@pytest.mark.parametrize(
    ("ranges", "code"),
    [
        ([PlannedUse(day(1), day(5), 60), PlannedUse(day(5), day(9), 60)], "plan_overlaps"),
        ([PlannedUse(day(1), None, 60), PlannedUse(day(5), day(9), 60)], "plan_overlaps"),
        ([PlannedUse(day(5), day(4), 60)], "plan_backwards"),
        ([PlannedUse(day(5), day(6), 1441)], "plan_minutes"),
        ([PlannedUse(day(5), day(6), -1)], "plan_minutes"),
        ([PlannedUse(day(5), day(6), 60, landings=-1)], "plan_count"),
    ],
)
def test_a_plan_that_cannot_be_flown_is_refused_with_field_and_remedy(
    ranges: list[PlannedUse], code: str
) -> None:
    with pytest.raises(RefusedInput) as refusal:
        flying_plan(ranges)
    assert refusal.value.code == code
    assert refusal.value.reasons[0].field
    assert refusal.value.reasons[0].remedy
