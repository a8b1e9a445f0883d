"""The maintenance programme: requirements, where they apply, and what was last done."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from fleet.models import Aircraft, AircraftType, Base, Component, ComponentKind, Operator, Position, User
from scheduling.due.levels import NOTHING_LEFT
from scheduling.models.events import EventKind
from scheduling.models.procedures import Consequence, Procedure


class VariationTable(models.Model):
    """Permitted variation as the authority approved it: bands are data, with their source (never constants)."""

    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="variation_tables")
    name = models.CharField(max_length=80)
    bands = models.JSONField()
    source = models.CharField(max_length=200)
    approval = models.CharField(max_length=120)

    def __str__(self) -> str:
        return self.name


class Requirement(models.Model):
    """One version of a line of the maintenance programme. Editing makes the next version.

    `limits` is the tree that `scheduling.due.parse.limits_from_data` reads.
    """

    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="requirements")
    code = models.SlugField(max_length=40)
    version = models.PositiveIntegerField(default=1)
    is_current = models.BooleanField(default=True)
    title = models.CharField(max_length=140)
    ata = models.CharField(max_length=8)
    aircraft_type = models.ForeignKey(AircraftType, on_delete=models.PROTECT, null=True, blank=True)
    component_kind = models.ForeignKey(ComponentKind, on_delete=models.PROTECT, null=True, blank=True)
    options_needed = models.JSONField(default=list, blank=True)
    options_barred = models.JSONField(default=list, blank=True)
    limits = models.JSONField()
    consequence = models.CharField(
        max_length=16, choices=Consequence.choices, default=Consequence.AIRWORTHINESS
    )
    procedure = models.ForeignKey(Procedure, on_delete=models.PROTECT, null=True, blank=True)
    source = models.CharField(max_length=160, help_text="the document that demands it, with revision")
    is_airworthiness_limitation = models.BooleanField(default=False)
    is_directive = models.BooleanField(default=False)
    directive_allows_variation = models.BooleanField(default=False)
    event_kind = models.ForeignKey(
        EventKind,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="requirements",
        help_text="what limits “since the event” count from",
    )
    variation_table = models.ForeignKey(VariationTable, on_delete=models.PROTECT, null=True, blank=True)
    design_caps = models.JSONField(
        default=dict, blank=True, help_text="the most the design holder lets each limit vary, by its path"
    )
    ladder = models.JSONField(
        default=dict, blank=True, help_text="reminder steps before and after the due date"
    )
    retired_on = models.DateField(null=True, blank=True)
    written_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["operator", "code", "version"], name="requirement_version_once"),
            models.UniqueConstraint(
                fields=["operator", "code"],
                condition=Q(is_current=True),
                name="one_current_requirement_per_code",
            ),
        ]
        ordering = ["code", "-version"]

    def __str__(self) -> str:
        return f"{self.code} {self.title}"


class Applicability(models.Model):
    """One requirement on one aircraft (or on one component, wherever it sits), with what was last done.

    `last_done` holds the day and counters of the last accomplishment and `last_due` the limits it answered,
    in the form `scheduling.gather` reads; `proof` quotes the record by its number.
    """

    requirement = models.ForeignKey(Requirement, on_delete=models.PROTECT, related_name="applicabilities")
    code = models.SlugField(max_length=40, help_text="the requirement's code, kept over its versions")
    aircraft = models.ForeignKey(
        Aircraft, on_delete=models.PROTECT, null=True, related_name="applicabilities"
    )
    component = models.ForeignKey(
        Component, on_delete=models.PROTECT, null=True, blank=True, related_name="applicabilities"
    )
    position = models.ForeignKey(Position, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    is_active = models.BooleanField(default=True)
    done_on = models.DateField(null=True, blank=True)
    last_done = models.JSONField(default=dict, blank=True)
    last_due = models.JSONField(default=dict, blank=True)
    proof = models.CharField(max_length=80, blank=True)
    opening_note = models.CharField(max_length=200, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["code", "aircraft"], condition=Q(component=None), name="requirement_once_per_aircraft"
            ),
            models.UniqueConstraint(
                fields=["code", "component"],
                condition=Q(component__isnull=False),
                name="requirement_once_per_component",
            ),
            models.CheckConstraint(
                condition=Q(aircraft__isnull=False) | Q(component__isnull=False),
                name="applicability_names_aircraft_or_component",
            ),
        ]
        verbose_name_plural = "applicabilities"

    def __str__(self) -> str:
        return f"{self.code} on {self.component or self.aircraft}"


class DueFact(models.Model):
    """What the due engine last found for one applicability, as plain columns that sort, filter and page fast.

    Days are proleptic Gregorian ordinals (`date.toordinal`). The state is never stored: with the counters as
    they stand it worsens on `soon_day`, `unknown_day`, `reached_day` and `overdue_day` (0: already so; empty:
    not by the calendar), so the day's turn rewrites nothing. `due_*` counters are what the counters of the
    aircraft will show. `order_day` sorts by urgency and is never empty.

    A flight moves the days of some hundred rows, and with each of them its place in every index on `order_day`: so
    those are few. By type the list is read along `due_by_day`, which tells the type without opening the row; by
    registration it is sorted aircraft by aircraft. The indexes tell all that a page filtered by them asks for.
    """

    applicability = models.OneToOneField(
        Applicability, on_delete=models.CASCADE, primary_key=True, related_name="due_fact"
    )
    operator = models.ForeignKey(Operator, on_delete=models.CASCADE, related_name="+", db_index=False)
    aircraft = models.ForeignKey(
        Aircraft, on_delete=models.CASCADE, null=True, related_name="due_facts", db_index=False
    )
    aircraft_type = models.ForeignKey(
        AircraftType, on_delete=models.CASCADE, null=True, related_name="+", db_index=False
    )
    base = models.ForeignKey(
        Base, on_delete=models.CASCADE, null=True, related_name="due_facts", db_index=False
    )
    registration = models.CharField(max_length=12, blank=True)
    code = models.SlugField(max_length=40, db_index=False)
    title = models.CharField(max_length=140)
    subject = models.CharField(max_length=170, blank=True, help_text="the component, where it is one")
    consequence = models.CharField(max_length=16)
    ata = models.CharField(max_length=8)
    due_day = models.IntegerField(null=True)
    lawful_day = models.IntegerField(null=True)
    due_minutes = models.BigIntegerField(null=True)
    due_landings = models.IntegerField(null=True)
    due_cycles = models.IntegerField(null=True)
    soon_minutes = models.BigIntegerField(null=True)
    soon_landings = models.IntegerField(null=True)
    soon_cycles = models.IntegerField(null=True)
    lawful_minutes = models.BigIntegerField(null=True)
    lawful_landings = models.IntegerField(null=True)
    lawful_cycles = models.IntegerField(null=True)
    is_plain = models.BooleanField(
        default=False, help_text="whichever first, one limit of a kind: these columns say all of it"
    )
    soon_day = models.IntegerField(null=True)
    unknown_day = models.IntegerField(null=True)
    reached_day = models.IntegerField(null=True)
    overdue_day = models.IntegerField(null=True)
    projected_day = models.IntegerField(null=True)
    earliest_day = models.IntegerField(null=True)
    latest_day = models.IntegerField(null=True)
    order_day = models.IntegerField()
    is_counter_overdue = models.BooleanField(default=False)
    is_known = models.BooleanField(default=True, help_text="false where nothing was ever recorded as done")
    computed_at = models.DateTimeField()

    class Meta:
        indexes = [
            models.Index(
                fields=["operator", "order_day", "applicability", "aircraft_type"], name="due_by_day"
            ),
            models.Index(fields=["operator", "base", "order_day", "applicability"], name="due_by_base"),
            models.Index(fields=["aircraft", "order_day", "applicability"], name="due_by_aircraft"),
            models.Index(fields=["operator", "registration"], name="due_by_registration"),
        ]

    def __str__(self) -> str:
        return f"due fact of {self.applicability_id}"

    @property
    def is_complete(self) -> bool:
        """Whether nothing is left to do: such items stand at the end of the list."""
        return self.order_day == NOTHING_LEFT


class AircraftUse(models.Model):
    """The use a day of one aircraft as last measured, and its counters when its due facts were last reckoned.

    `rate` is what `scheduling.gather.use` reads. Counters that have moved on since say: reckon again. Measured on
    another day than `projected_on`: the days on which its items will fall due still lean on an older rate.
    """

    aircraft = models.OneToOneField(
        Aircraft, on_delete=models.CASCADE, primary_key=True, related_name="measured_use"
    )
    measured_on = models.DateField(null=True)
    projected_on = models.DateField(null=True)
    rate = models.JSONField(default=dict)
    reckoned_minutes = models.BigIntegerField(null=True)
    reckoned_landings = models.BigIntegerField(null=True)
    reckoned_cycles = models.BigIntegerField(null=True)

    def __str__(self) -> str:
        return f"use of {self.aircraft_id}"


class TypeUse(models.Model):
    """How far the forecasts of one type's aircraft missed lately, as last measured."""

    aircraft_type = models.OneToOneField(
        AircraftType, on_delete=models.CASCADE, primary_key=True, related_name="measured_use"
    )
    measured_on = models.DateField()
    bands = models.JSONField(default=list)

    def __str__(self) -> str:
        return f"use of type {self.aircraft_type_id}"


class SavedView(models.Model):
    """A way of looking at the due list that somebody kept: filters, sort and grouping under a name."""

    operator = models.ForeignKey(Operator, on_delete=models.CASCADE, related_name="saved_views")
    owner = models.ForeignKey(User, on_delete=models.CASCADE, related_name="saved_views")
    name = models.CharField(max_length=60)
    query = models.JSONField(default=dict)
    is_shared = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["operator", "owner", "name"], name="saved_view_name_once_per_person"
            ),
            models.CheckConstraint(condition=~Q(name=""), name="saved_view_has_a_name"),
        ]
        ordering = ["name", "id"]

    def __str__(self) -> str:
        return self.name


class Variation(models.Model):
    """A permitted variation granted once, for one occasion, by the director with a reason.

    `path` names the limit in its requirement, `for_due` the due point it was granted for (a day or a counter).
    """

    applicability = models.ForeignKey(Applicability, on_delete=models.PROTECT, related_name="variations")
    path = models.CharField(max_length=24, default="1")
    for_due = models.JSONField(default=None, null=True)
    measure = models.CharField(max_length=16)
    amount = models.PositiveIntegerField(help_text="days, minutes, landings or cycles")
    in_months = models.BooleanField(default=False)
    reason = models.CharField(max_length=300)
    authority = models.CharField(max_length=160, help_text="the approval it rests on")
    granted_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    granted_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(amount__gte=1), name="variation_above_zero"),
            models.UniqueConstraint(
                fields=["applicability", "path"],
                condition=Q(used_at=None, withdrawn_at=None),
                name="one_open_variation_per_limit",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.amount} {self.measure}"


class FlyingPlan(models.Model):
    """What the controller expects an aircraft to fly each day over a stretch; overrides the measured rate."""

    aircraft = models.ForeignKey(Aircraft, on_delete=models.PROTECT, related_name="flying_plans")
    from_day = models.DateField()
    to_day = models.DateField()
    minutes_per_day = models.PositiveIntegerField()
    landings_per_day = models.DecimalField(max_digits=6, decimal_places=2)
    note = models.CharField(max_length=120, blank=True)
    entered_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(to_day__gte=models.F("from_day")), name="flying_plan_runs_forward"
            ),
            models.CheckConstraint(condition=Q(minutes_per_day__lte=1440), name="flying_plan_within_a_day"),
        ]
        ordering = ["from_day"]

    def __str__(self) -> str:
        return f"{self.from_day} to {self.to_day}"
