"""The programme is written as versions, put where it belongs, and refuses what makes no sense."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from fleet.common.actor import Role
from fleet.common.clock import now
from fleet.common.errors import Invalid, NotAllowed, NotFound, Stale
from scheduling.models import Applicability, DueFact, Requirement, Variation
from scheduling.services.applicability import (
    LastDone,
    apply_requirement,
    apply_to,
    set_last_done,
    stop_applicability,
)
from scheduling.services.requirements import WrittenRequirement, retire_requirement, write_requirement
from tests.makers import AircraftMaker, ComponentMaker, House, fit, make_house
from tests.scheduling.due.makers import (
    HUNDRED_HOURS,
    TWELVE_MONTHS,
    apply,
    first_of,
    last_of,
    make_requirement,
)

pytestmark = pytest.mark.django_db
TODAY = now().date()


@pytest.fixture
def house() -> House:
    return make_house()


def line(**values: Any) -> WrittenRequirement:
    usual = {
        "code": "check-100",
        "title": "100-hour check",
        "ata": "05-20",
        "limits": HUNDRED_HOURS,
        "source": "P3",
    }
    return WrittenRequirement(**usual | values)


def refused(house: House, **values: Any) -> tuple[str, str, str]:
    """Field, value and remedy of the first reason; nothing was written."""
    with pytest.raises(Invalid) as caught:
        write_requirement(actor=house.actor("controller"), wanted=line(**values))
    assert not Requirement.objects.exists()
    reason = caught.value.reasons[0]
    return reason.field, reason.value, reason.remedy


def test_editing_a_line_makes_the_next_version_and_the_old_one_stays(house: House) -> None:
    first = write_requirement(actor=house.actor("controller"), wanted=line())
    second = write_requirement(actor=house.actor("controller"), wanted=line(title="Check every 100 h"))
    first.refresh_from_db()
    assert (first.version, first.is_current, first.title) == (1, False, "100-hour check")
    assert (second.version, second.is_current) == (2, True)


def test_an_edit_of_an_older_version_than_the_present_is_refused(house: House) -> None:
    write_requirement(actor=house.actor("controller"), wanted=line())
    write_requirement(actor=house.actor("controller"), wanted=line(title="B"), read_version=1)
    with pytest.raises(Stale):
        write_requirement(actor=house.actor("controller"), wanted=line(title="C"), read_version=1)
    assert Requirement.objects.get(is_current=True).title == "B"


def test_dues_move_to_the_limits_that_continue_theirs(house: House) -> None:
    old = make_requirement(house.operator, limits=first_of(HUNDRED_HOURS, TWELVE_MONTHS))
    kept = {"1": {"at": 60_000, "anchor": None, "extended": False}, "2": {"at": "2025-01-31", "anchor": None}}
    applied = apply(old, house.aircraft, day=date(2025, 1, 10), hours=60_000, last_due=kept)
    write_requirement(
        actor=house.actor("controller"),
        wanted=line(
            limits=first_of({"measure": "months", "every": 24}, {"measure": "landings", "every": 100})
        ),
    )
    applied.refresh_from_db()
    assert applied.last_due == {"1": {"at": "2025-01-31", "anchor": None}}
    assert applied.requirement.version == 2


def test_an_open_variation_ends_with_the_limit_it_was_for(house: House) -> None:
    old = make_requirement(house.operator)
    applied = apply(old, house.aircraft, day=date(2025, 1, 10), hours=60_000)
    variation = Variation.objects.create(
        applicability=applied, path="1", for_due=66_000, measure="hours", amount=60, reason="r", authority="a",
        granted_by=house.person("director"), granted_at=now(),
    )  # fmt: skip
    write_requirement(actor=house.actor("controller"), wanted=line(limits=TWELVE_MONTHS))
    variation.refresh_from_db()
    assert variation.withdrawn_at is not None


def test_a_limit_of_zero_is_refused(house: House) -> None:
    limits = {"measure": "hours", "every": "0:00"}
    assert refused(house, limits=limits) == ("limits.every", "0:00", "write a limit above zero")


def test_a_negative_limit_is_refused(house: House) -> None:
    assert refused(house, limits={"measure": "days", "every": -30})[:2] == ("limits.every", "-30")


def test_a_warning_that_begins_before_the_interval_does_is_refused(house: House) -> None:
    limits = {"measure": "hours", "every": "100:00", "soon": "100:00"}
    assert refused(house, limits=limits)[0] == "limits.soon"


def test_a_month_count_that_is_not_whole_is_refused(house: House) -> None:
    limits = {"measure": "months", "every": 1.5}
    assert refused(house, limits=limits) == ("limits.every", "1.5", "write whole calendar months")


def test_a_fixed_date_in_the_past_is_refused(house: House) -> None:
    assert refused(house, limits={"measure": "date", "every": "2020-01-01"})[:2] == (
        "limits.every",
        "2020-01-01",
    )


def test_a_limit_since_fitted_on_an_aircraft_is_refused(house: House) -> None:
    limits = {"measure": "hours", "every": "500:00", "since": "fitted"}
    assert refused(house, limits=limits)[0] == "limits.since"


def test_a_limit_since_an_event_without_its_kind_is_refused(house: House) -> None:
    limits = {"measure": "days", "every": 10, "since": "event"}
    assert refused(house, limits=limits)[0] == "event_kind"


@pytest.mark.parametrize("role", sorted(set(Role) - {Role.CONTROLLER, Role.DIRECTOR, Role.ADMINISTRATOR}))
def test_who_may_not_edit_the_programme_changes_nothing(house: House, role: Role) -> None:
    make_requirement(house.operator)
    actor = house.actor(role)
    with pytest.raises(NotAllowed):
        write_requirement(actor=actor, wanted=line(title="Other"))
    with pytest.raises(NotAllowed):
        retire_requirement(actor=actor, code="check-100", reason="r")
    with pytest.raises(NotAllowed):
        apply_requirement(actor=actor, code="check-100")
    assert list(Requirement.objects.values_list("title", "version", "retired_on")) == [
        ("100-hour check", 1, None)
    ]
    assert not Applicability.objects.exists()


def test_a_line_of_another_operator_is_not_found(house: House) -> None:
    make_requirement(make_house().operator, code="theirs")
    with pytest.raises(NotFound):
        apply_requirement(actor=house.actor("controller"), code="theirs")


def test_a_line_applies_by_type_and_options_and_leaves_where_they_no_longer_fit(house: House) -> None:
    with_pod = AircraftMaker(
        operator=house.operator,
        base=house.base,
        aircraft_type=house.aircraft_type,
        option_codes=["second-pump"],
    )
    make_requirement(house.operator, options_needed=["second-pump"], limits=TWELVE_MONTHS)
    Requirement.objects.update(limits={"measure": "months", "every": 600})
    applied = apply_requirement(actor=house.actor("controller"), code="check-100")
    assert (applied.added, applied.stopped) == (1, 0)
    assert Applicability.objects.get().aircraft == with_pod
    with_pod.options.clear()
    applied = apply_requirement(actor=house.actor("controller"), code="check-100")
    assert (applied.added, applied.stopped) == (0, 1)
    assert not DueFact.objects.exists()


def test_an_aircraft_on_which_the_first_limit_is_past_is_left_out_and_named(house: House) -> None:
    make_requirement(house.operator)
    applied = apply_requirement(actor=house.actor("controller"), code="check-100")
    assert applied.added == 0
    reason = applied.left_out[0].reasons[0]
    assert (reason.field, reason.detail) == ("limits[1].first", "lies in the past")
    assert not Applicability.objects.exists()


def test_a_first_limit_in_the_past_is_refused_for_one_aircraft(house: House) -> None:
    make_requirement(house.operator)
    with pytest.raises(Invalid) as caught:
        apply_to(actor=house.actor("controller"), code="check-100", subject=house.aircraft)
    assert (
        caught.value.reasons[0].remedy == "record when it was last done, or set a first limit that lies ahead"
    )
    assert not Applicability.objects.exists()


def test_a_component_never_fitted_is_refused_where_the_limit_counts_from_fitting(house: House) -> None:
    kind = house.aircraft_type.positions.first().kind
    part = ComponentMaker(operator=house.operator, kind=kind)
    make_requirement(
        house.operator, component_kind=kind, limits={"measure": "hours", "every": "500:00", "since": "fitted"}
    )
    with pytest.raises(Invalid) as caught:
        apply_to(actor=house.actor("controller"), code="check-100", subject=part)
    assert caught.value.reasons[0].field == "marks.fitted"
    assert caught.value.reasons[0].remedy == "record where and when the component was fitted"
    assert not Applicability.objects.exists()


@pytest.mark.parametrize(
    ("last_done", "field"),
    [
        (LastDone(TODAY + timedelta(days=2), {"hours": 60_000}), "last_done.day"),
        (LastDone(date(2025, 3, 1), {"hours": 60_001}), "last_done.hours"),
        (LastDone(date(2025, 3, 1), {}), "last_done.hours"),
    ],
)
def test_a_last_done_in_the_future_above_the_meter_or_without_its_figure_is_refused(
    house: House, last_done: LastDone, field: str
) -> None:
    applied = apply(make_requirement(house.operator), house.aircraft)
    with pytest.raises(Invalid) as caught:
        set_last_done(actor=house.actor("controller"), applicability_id=applied.pk, last_done=last_done)
    assert caught.value.reasons[0].field == field
    assert caught.value.reasons[0].remedy
    applied.refresh_from_db()
    assert applied.last_done == {}


def test_an_opening_balance_gives_the_due_point(house: House) -> None:
    applied = apply(make_requirement(house.operator), house.aircraft)
    last_done = LastDone(date(2025, 3, 1), {"hours": 59_000}, "old card 17")
    set_last_done(actor=house.actor("controller"), applicability_id=applied.pk, last_done=last_done)
    fact = DueFact.objects.get()
    assert (fact.due_minutes, fact.soon_minutes, fact.lawful_minutes) == (65_000, 64_400, 65_000)
    assert fact.is_known


def test_a_component_item_follows_the_component_into_the_store(house: House) -> None:
    fitted = fit(house.aircraft, house.aircraft_type.positions.first().code)
    row = make_requirement(
        house.operator, component_kind=fitted.component.kind, limits={"measure": "hours", "every": "5000:00"}
    )
    apply_requirement(actor=house.actor("controller"), code=row.code)
    assert DueFact.objects.get().aircraft == house.aircraft
    fitted.removed_at = now()
    fitted.removed_minutes, fitted.removed_landings, fitted.removed_cycles = 60_000, 1_200, 1_200
    fitted.save()
    apply_requirement(actor=house.actor("controller"), code=row.code)
    assert DueFact.objects.get().aircraft is None


def test_a_retired_line_leaves_the_due_list(house: House) -> None:
    apply(make_requirement(house.operator), house.aircraft, day=date(2025, 3, 1), hours=59_000)
    retire_requirement(actor=house.actor("director"), code="check-100", reason="Superseded by revision 4")
    assert not DueFact.objects.exists()
    assert not Applicability.objects.get().is_active


def test_stopping_one_item_needs_a_reason(house: House) -> None:
    applied = apply(make_requirement(house.operator), house.aircraft)
    with pytest.raises(Invalid):
        stop_applicability(actor=house.actor("controller"), applicability_id=applied.pk, reason=" ")
    stop_applicability(actor=house.actor("controller"), applicability_id=applied.pk, reason="pump removed")
    applied.refresh_from_db()
    assert not applied.is_active


def test_whichever_last_waits_for_the_later_limit(house: House) -> None:
    limits = last_of(HUNDRED_HOURS, {"measure": "months", "every": 1200})
    applied = apply(
        make_requirement(house.operator, limits=limits), house.aircraft, day=date(2025, 1, 1), hours=1_000
    )
    set_last_done(
        actor=house.actor("controller"),
        applicability_id=applied.pk,
        last_done=LastDone(date(2025, 1, 1), {"hours": 1_000}),
    )
    fact = DueFact.objects.get()
    assert fact.overdue_day == date(2125, 2, 1).toordinal()
    assert not fact.is_plain
