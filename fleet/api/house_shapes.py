"""Shapes of bases, types, kinds of component, aircraft and components."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers as s

from fleet.models import Aircraft, Base, Installation, LifeLimit, Position
from fleet.selectors.meters import Counters


class CountersAnswer(s.Serializer):
    """Flight time in whole minutes, landings, engine cycles."""

    minutes = s.IntegerField()
    landings = s.IntegerField()
    cycles = s.IntegerField()


class SeasonDay(s.Serializer):
    """A day of every year."""

    month = s.IntegerField(min_value=1, max_value=12)
    day = s.IntegerField(min_value=1, max_value=31)


class BaseSent(s.Serializer):
    """A base to open or change; an icing season has a first and a last day, or neither."""

    code = s.CharField(max_length=20)
    name = s.CharField(max_length=80)
    zone = s.CharField(max_length=64, help_text="IANA name, such as Europe/Oslo")
    season_start = SeasonDay(required=False, allow_null=True)
    season_end = SeasonDay(required=False, allow_null=True)
    day_starts_at = s.TimeField(required=False)
    digest_at = s.TimeField(required=False)
    quiet_from = s.TimeField(required=False)
    quiet_to = s.TimeField(required=False)


class BaseAnswer(s.Serializer):
    """A base."""

    code = s.CharField()
    name = s.CharField()
    zone = s.CharField()
    season_start = s.SerializerMethodField()
    season_end = s.SerializerMethodField()
    day_starts_at = s.TimeField()
    digest_at = s.TimeField()
    quiet_from = s.TimeField()
    quiet_to = s.TimeField()
    version = s.IntegerField()

    def get_season_start(self, base: Base) -> dict[str, int | None] | None:
        """The first day of its icing season."""
        return season_day(base.season_start_month, base.season_start_day)

    def get_season_end(self, base: Base) -> dict[str, int | None] | None:
        """The last day of its icing season."""
        return season_day(base.season_end_month, base.season_end_day)


def season_day(month: int | None, day: int | None) -> dict[str, int | None] | None:
    """A day of the year, or None."""
    return {"month": month, "day": day} if month else None


class CodeAndName(s.Serializer):
    """Something described by a code and a name."""

    code = s.CharField(max_length=40)
    name = s.CharField(max_length=80)


class NameSent(s.Serializer):
    """Another name."""

    name = s.CharField(max_length=80)


class ComponentKindSent(CodeAndName):
    """A kind of component."""

    ata = s.CharField(max_length=8, required=False, default="", allow_blank=True)


class PositionSent(s.Serializer):
    """A place on a type; its position on the outlet map in per cent."""

    code = s.CharField(max_length=60)
    name = s.CharField(max_length=100)
    kind = s.CharField(max_length=40, help_text="code of the kind of component that sits there")
    side = s.CharField(max_length=8, default="none", help_text="left, right or none")
    zone = s.CharField(max_length=20, default="", allow_blank=True)
    order = s.IntegerField(min_value=0, max_value=32_767, default=0)
    is_outlet = s.BooleanField(default=False)
    needs_option = s.CharField(max_length=40, default="", allow_blank=True)
    map_x = s.IntegerField(required=False, allow_null=True, default=None)
    map_y = s.IntegerField(required=False, allow_null=True, default=None)


class PositionAnswer(s.Serializer):
    """A place on a type."""

    code = s.CharField()
    name = s.CharField()
    kind = s.CharField(source="kind.code")
    side = s.CharField()
    zone = s.CharField()
    order = s.IntegerField()
    is_outlet = s.BooleanField()
    needs_option = s.SerializerMethodField()
    map_x = s.IntegerField(allow_null=True)
    map_y = s.IntegerField(allow_null=True)

    def get_needs_option(self, position: Position) -> str:
        """The option without which the place does not exist."""
        return position.needs_option.code if position.needs_option else ""


class TypeAnswer(s.Serializer):
    """A type with its options and positions."""

    code = s.CharField()
    name = s.CharField()
    version = s.IntegerField()
    options = CodeAndName(many=True)
    positions = PositionAnswer(many=True)


class AircraftSent(s.Serializer):
    """An aircraft to put on the register, or to change there; type, base and options by code."""

    registration = s.CharField(max_length=12)
    serial_number = s.CharField(max_length=40)
    aircraft_type = s.CharField(max_length=40)
    base = s.CharField(max_length=20)
    manufactured_on = s.DateField(required=False, allow_null=True, default=None)
    options = s.ListField(child=s.CharField(max_length=40), required=False, default=list)
    note = s.CharField(required=False, default="", allow_blank=True, max_length=2_000)
    withdrawn_on = s.DateField(required=False, allow_null=True, default=None)


class NewAircraftSent(AircraftSent):
    """A new aircraft with what its meters showed when it came."""

    opening_at = s.DateTimeField()
    opening_minutes = s.IntegerField(min_value=0, default=0)
    opening_landings = s.IntegerField(min_value=0, default=0)
    opening_cycles = s.IntegerField(min_value=0, default=0)


class AircraftAnswer(s.Serializer):
    """An aircraft on the register."""

    id = s.IntegerField()
    registration = s.CharField()
    serial_number = s.CharField()
    aircraft_type = s.CharField(source="aircraft_type.code")
    base = s.CharField(source="base.code")
    manufactured_on = s.DateField(allow_null=True)
    withdrawn_on = s.DateField(allow_null=True)
    options = s.SerializerMethodField()
    note = s.CharField()
    version = s.IntegerField()
    counters = s.SerializerMethodField()

    def get_options(self, aircraft: Aircraft) -> list[str]:
        """The codes of its options."""
        return sorted(option.code for option in aircraft.options.all())

    def get_counters(self, aircraft: Aircraft) -> dict[str, int]:
        """What its meters show now."""
        found = {meter.kind: meter.value for meter in aircraft.meters.all()}
        return Counters(**{kind: found.get(kind, 0) for kind in ("minutes", "landings", "cycles")}).as_dict()


class InstallationAnswer(s.Serializer):
    """A component in a place, from when until when, with the aircraft's counters at both ends."""

    id = s.IntegerField()
    aircraft = s.CharField(source="aircraft.registration")
    position = s.CharField(source="position.code")
    component = s.IntegerField(source="component_id")
    component_name = s.CharField(source="component")
    fitted_at = s.DateTimeField()
    removed_at = s.DateTimeField(allow_null=True)
    fitted = s.SerializerMethodField()
    removed = s.SerializerMethodField()
    removal_reason = s.CharField()
    disposition = s.CharField()
    disposition_note = s.CharField()
    disposed_on = s.DateField(allow_null=True)

    def get_fitted(self, row: Installation) -> dict[str, int]:
        """The aircraft's counters when it was fitted."""
        return Counters(row.fitted_minutes, row.fitted_landings, row.fitted_cycles).as_dict()

    def get_removed(self, row: Installation) -> dict[str, int] | None:
        """The aircraft's counters when it was removed."""
        if row.removed_minutes is None:
            return None
        return Counters(row.removed_minutes, row.removed_landings or 0, row.removed_cycles or 0).as_dict()


class NewPartSent(s.Serializer):
    """A component to put on the register; totals are since new on the day it came."""

    kind = s.CharField(max_length=40)
    part_number = s.CharField(max_length=60)
    serial_number = s.CharField(max_length=60)
    manufactured_on = s.DateField(required=False, allow_null=True, default=None)
    opening_minutes = s.IntegerField(min_value=0, default=0)
    opening_landings = s.IntegerField(min_value=0, default=0)
    opening_cycles = s.IntegerField(min_value=0, default=0)
    release_document = s.CharField(max_length=80, required=False, default="", allow_blank=True)


class PartChange(s.Serializer):
    """A component's papers."""

    manufactured_on = s.DateField(required=False, allow_null=True)
    release_document = s.CharField(max_length=80, required=False, allow_blank=True)


class PartAnswer(s.Serializer):
    """A component on the register."""

    id = s.IntegerField()
    kind = s.CharField(source="kind.code")
    part_number = s.CharField()
    serial_number = s.CharField()
    manufactured_on = s.DateField(allow_null=True)
    opening_minutes = s.IntegerField()
    opening_landings = s.IntegerField()
    opening_cycles = s.IntegerField()
    release_document = s.CharField()
    scrapped_on = s.DateField(allow_null=True)
    version = s.IntegerField()


class PartTimesAnswer(s.Serializer):
    """A component's totals; since_fitted is null in store, since_overhaul before the first overhaul."""

    since_new = CountersAnswer()
    since_overhaul = CountersAnswer(allow_null=True)
    since_fitted = CountersAnswer(allow_null=True)
    fitted_on = s.DateField(allow_null=True)
    overhauled_on = s.DateField(allow_null=True)
    manufactured_on = s.DateField(allow_null=True)


class LifeAnswer(s.Serializer):
    """Limit, accumulated and remaining in one parameter; hours as minutes, calendar life in months."""

    parameter = s.CharField()
    limit = s.IntegerField()
    accumulated = s.IntegerField(allow_null=True)
    remaining = s.IntegerField(allow_null=True)
    ends_on = s.DateField(allow_null=True)
    is_reached = s.BooleanField()
    source = s.CharField()  # type: ignore[assignment]


class OverhaulSent(s.Serializer):
    """An overhaul as its release document says."""

    done_on = s.DateField()
    release_document = s.CharField(max_length=80)


class OverhaulAnswer(OverhaulSent):
    """An overhaul, with the component's totals since new at that day."""

    id = s.IntegerField()
    since_new_minutes = s.IntegerField()
    since_new_landings = s.IntegerField()
    since_new_cycles = s.IntegerField()


class WhySent(s.Serializer):
    """A reason in words."""

    reason = s.CharField(max_length=200)


class DispositionSent(s.Serializer):
    """How a removed life-limited part is kept from being fitted beyond its life."""

    method = s.CharField(max_length=16, help_text=", ".join(Installation.Disposition.values))
    words = s.CharField(max_length=200, required=False, default="", allow_blank=True)


class LifeLimitSent(s.Serializer):
    """A life limit; an empty part number means every part of the kind; hours as minutes."""

    kind = s.CharField(max_length=40)
    part_number = s.CharField(max_length=60, required=False, default="", allow_blank=True)
    parameter = s.CharField(max_length=12, help_text=", ".join(LifeLimit.Parameter.values))
    limit = s.IntegerField(min_value=1)
    source = s.CharField(max_length=120, help_text="the approved data that says so, with its revision")  # type: ignore[assignment]


class LifeLimitAnswer(LifeLimitSent):
    """A life limit."""

    id = s.IntegerField()
    kind = s.CharField(source="kind.code")


class AtAsked(s.Serializer):
    """At which moment; now where nothing is said."""

    at = s.DateTimeField(required=False)


class AircraftAsked(s.Serializer):
    """Which aircraft."""

    base = s.CharField(required=False)
    aircraft_type = s.CharField(required=False)
    withdrawn = s.BooleanField(required=False, default=False)


class PartAsked(s.Serializer):
    """Which components."""

    kind = s.CharField(required=False)
    aircraft = s.CharField(required=False)
    in_store = s.BooleanField(required=False, default=False)
    q = s.CharField(required=False)


def season(sent: dict[str, Any] | None) -> tuple[int, int] | None:
    """A season's day as (month, day)."""
    return (sent["month"], sent["day"]) if sent else None
