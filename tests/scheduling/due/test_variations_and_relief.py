"""The director grants variations from an approved table; relief runs by the clock of its category."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from fleet.common.actor import Role
from fleet.common.clock import now
from fleet.common.errors import Conflict, Invalid, NotAllowed
from fleet.services.meters import NewFlight, post_flight
from scheduling.gather.relief import relief_states
from scheduling.models import Applicability, DueFact, Relief, Variation
from scheduling.services.relief import NewRelief, close_relief, grant_relief, refresh_reliefs, write_category
from scheduling.services.variations import Grant, grant_variation, withdraw_variation, write_table
from tests.makers import House, at, make_house
from tests.scheduling.due.makers import TABLE, apply, make_requirement

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> House:
    return make_house(minutes=65_500)


def varied(house: House, **values: Any) -> Applicability:
    """100 h since 59 000 minutes, due at 65 000 + ... : 1083:20 h, nothing passed yet."""
    table = write_table(actor=house.actor("director"), data=TABLE)
    row = make_requirement(house.operator, variation_table=table, **values)
    return apply(row, house.aircraft, day=date(2025, 3, 1), hours=59_600)


def test_a_variation_within_the_table_moves_the_last_lawful_point_once(house: House) -> None:
    applied = varied(house)
    granted = grant_variation(
        actor=house.actor("director"), grant=Grant(applied.pk, "10:00", "no bay before Friday")
    )
    assert (granted.path, granted.for_due, granted.amount, granted.authority) == ("1", 65_600, 600, "PV-17")
    fact = DueFact.objects.get()
    assert (fact.due_minutes, fact.lawful_minutes) == (65_600, 66_200)
    with pytest.raises(Invalid) as caught:
        grant_variation(actor=house.actor("director"), grant=Grant(applied.pk, "1:00", "again"))
    assert caught.value.code == "granted_before"
    assert Variation.objects.count() == 1


@pytest.mark.parametrize(
    ("values", "amount", "reason", "code"),
    [
        ({}, "11:00", "r", "above_what_is_permitted"),
        ({}, "1:00", "  ", "reason_missing"),
        ({"is_airworthiness_limitation": True}, "1:00", "r", "never_varied"),
        ({"is_directive": True}, "1:00", "r", "never_varied"),
        ({"design_caps": {"1": "5:00"}}, "6:00", "r", "above_what_is_permitted"),
        ({"limits": {"measure": "landings", "every": 100}}, 10, "r", "no_band"),
    ],
)
def test_what_may_not_be_varied_is_refused(
    house: House, values: dict[str, Any], amount: Any, reason: str, code: str
) -> None:
    applied = varied(house, **values)
    with pytest.raises(Invalid) as caught:
        grant_variation(actor=house.actor("director"), grant=Grant(applied.pk, amount, reason))
    assert caught.value.code == code
    assert not Variation.objects.exists()


@pytest.mark.parametrize("role", sorted(set(Role) - {Role.DIRECTOR}))
def test_only_the_director_grants_a_variation(house: House, role: Role) -> None:
    applied = varied(house)
    with pytest.raises(NotAllowed):
        grant_variation(actor=house.actor(role), grant=Grant(applied.pk, "1:00", "r"))
    assert not Variation.objects.exists()


def test_a_withdrawn_variation_no_longer_counts(house: House) -> None:
    applied = varied(house)
    granted = grant_variation(actor=house.actor("director"), grant=Grant(applied.pk, "10:00", "no bay"))
    withdraw_variation(actor=house.actor("director"), variation_id=granted.pk, reason="bay found")
    assert DueFact.objects.get().lawful_minutes == 65_600
    with pytest.raises(Conflict):
        withdraw_variation(actor=house.actor("director"), variation_id=granted.pk, reason="again")


def relief(house: House, **values: Any) -> Relief:
    usual: dict[str, Any] = {
        "aircraft_id": house.aircraft.pk, "category": "C", "item": "30-11-1", "reference": "MEL rev 4",
        "recorded_at": at(),
    }  # fmt: skip
    return grant_relief(actor=house.actor("controller"), grant=NewRelief(**usual | values))


@pytest.fixture
def categories(house: House) -> None:
    write_category(actor=house.actor("director"), code="C", days=10, source="MEL preamble rev 4")
    write_category(actor=house.actor("director"), code="A", days=None, source="MEL preamble rev 4")


@pytest.mark.usefixtures("categories")
def test_ten_days_end_at_the_midnight_of_the_operators_own_zone(house: House) -> None:
    house.operator.day_zone = "Pacific/Auckland"
    house.operator.save()
    granted = relief(house)
    # noon UTC on 3 March is 4 March in Auckland (UTC+13); ten days after it: the midnight that ends 14 March
    assert granted.ends_at == datetime(2025, 3, 14, 11, 0, tzinfo=UTC)


@pytest.mark.usefixtures("categories")
def test_flight_days_count_only_days_with_a_flight(house: House) -> None:
    granted = relief(house, category="A", amount=2, unit="flight_days")
    assert granted.ends_at is None
    for number, moment in enumerate([at(0, hours=2), at(2), at(2, hours=3), at(5)]):
        flight = NewFlight(house.aircraft.pk, moment, 60, 1, 1, f"F{number}")
        post_flight(actor=house.actor("controller"), flight=flight)
    refresh_reliefs([house.aircraft.pk])
    granted.refresh_from_db()
    # the day of record does not count: 5 and 8 March are the two flight days
    assert granted.ends_at == datetime(2025, 3, 9, 0, 0, tzinfo=UTC)


@pytest.mark.usefixtures("categories")
def test_hours_count_from_the_deferral_and_end_when_flown(house: House) -> None:
    granted = relief(house, category="A", amount=120, unit="hours", recorded_at=at())
    assert granted.at_deferral == 65_500
    assert relief_states([granted])[granted.pk].left == 120
    post_flight(actor=house.actor("controller"), flight=NewFlight(house.aircraft.pk, at(1), 120, 1, 1, "F1"))
    refresh_reliefs([house.aircraft.pk])
    granted.refresh_from_db()
    assert granted.ends_at is not None


@pytest.mark.usefixtures("categories")
@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"category": "Q"}, "category"),
        ({"item": ""}, "item"),
        ({"category": "A"}, "amount"),
        ({"amount": 3}, "amount"),
        ({"recorded_at": now() + timedelta(days=1)}, "recorded_at"),
    ],
)
def test_relief_that_makes_no_sense_is_refused(house: House, values: dict[str, Any], field: str) -> None:
    with pytest.raises(Invalid) as caught:
        relief(house, **values)
    assert caught.value.reasons[0].field == field
    assert not Relief.objects.exists()


@pytest.mark.usefixtures("categories")
def test_one_open_relief_an_item_and_closing_needs_a_reason(house: House) -> None:
    granted = relief(house)
    with pytest.raises(Conflict):
        relief(house)
    with pytest.raises(Invalid):
        close_relief(actor=house.actor("director"), relief_id=granted.pk, reason="")
    close_relief(actor=house.actor("director"), relief_id=granted.pk, reason="panel replaced")
    assert relief(house).pk != granted.pk


@pytest.mark.usefixtures("categories")
@pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.INSPECTOR, Role.AUDITOR, Role.ADMINISTRATOR])
def test_who_may_not_grant_relief_writes_nothing(house: House, role: Role) -> None:
    with pytest.raises(NotAllowed):
        grant_relief(
            actor=house.actor(role), grant=NewRelief(house.aircraft.pk, "C", "30-11-1", "MEL rev 4", at())
        )
    assert not Relief.objects.exists()
