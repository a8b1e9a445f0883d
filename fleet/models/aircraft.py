"""What flies: types with their positions, aircraft, and the components that move between them."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from fleet.models.people import Base, Operator, User


class AircraftType(models.Model):
    """A type as this operator flies it."""

    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="aircraft_types")
    code = models.SlugField(max_length=40)
    name = models.CharField(max_length=80)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["operator", "code"], name="type_code_once_per_operator")
        ]
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class EquipmentOption(models.Model):
    """Something an aircraft of the type may or may not have: a belly pod, a glass cockpit."""

    aircraft_type = models.ForeignKey(AircraftType, on_delete=models.PROTECT, related_name="options")
    code = models.SlugField(max_length=40)
    name = models.CharField(max_length=80)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["aircraft_type", "code"], name="option_code_once_per_type")
        ]
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class ComponentKind(models.Model):
    """A kind of component: porous panel, fluid pump, fluid tank, outlet filter."""

    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="component_kinds")
    code = models.SlugField(max_length=40)
    name = models.CharField(max_length=80)
    ata = models.CharField(max_length=8, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["operator", "code"], name="kind_code_once_per_operator")
        ]
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Position(models.Model):
    """A place on the type where one component of one kind sits; outlets are seen here when wetting.

    `zone` groups the outlet map (wing, strut, tail, propeller, windshield); `needs_option` is the option
    without which the place does not exist; `map_x` and `map_y` place it on the outlet map in per cent.
    """

    class Side(models.TextChoices):
        """Which side is fed; readings are compared left against right."""

        LEFT = "left", "left"
        RIGHT = "right", "right"
        NONE = "none", "centre"

    aircraft_type = models.ForeignKey(AircraftType, on_delete=models.PROTECT, related_name="positions")
    code = models.SlugField(max_length=60)
    name = models.CharField(max_length=100)
    kind = models.ForeignKey(ComponentKind, on_delete=models.PROTECT, related_name="positions")
    side = models.CharField(max_length=8, choices=Side.choices, default=Side.NONE)
    zone = models.CharField(max_length=20, blank=True)
    order = models.PositiveSmallIntegerField(default=0)
    is_outlet = models.BooleanField(default=False)
    needs_option = models.ForeignKey(EquipmentOption, on_delete=models.PROTECT, null=True, blank=True)
    map_x = models.PositiveSmallIntegerField(null=True, blank=True)
    map_y = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["aircraft_type", "code"], name="position_code_once_per_type")
        ]
        ordering = ["order", "code"]

    def __str__(self) -> str:
        return self.name


class Aircraft(models.Model):
    """One aircraft on the register of one operator."""

    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="aircraft")
    aircraft_type = models.ForeignKey(AircraftType, on_delete=models.PROTECT, related_name="aircraft")
    base = models.ForeignKey(Base, on_delete=models.PROTECT, related_name="aircraft")
    registration = models.CharField(max_length=12)
    serial_number = models.CharField(max_length=40)
    manufactured_on = models.DateField(null=True, blank=True)
    options = models.ManyToManyField(EquipmentOption, related_name="aircraft", blank=True)
    withdrawn_on = models.DateField(null=True, blank=True)
    note = models.TextField(blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["operator", "registration"], name="registration_once_per_operator"
            ),
            models.CheckConstraint(condition=~Q(registration=""), name="registration_not_empty"),
        ]
        ordering = ["registration"]
        verbose_name_plural = "aircraft"

    def __str__(self) -> str:
        return self.registration


class LifeLimit(models.Model):
    """Parts of this number (of this kind, where the number is empty) are replaced at this much life at the latest.

    `source` names the approved data that says so.
    """

    class Parameter(models.TextChoices):
        """What the life is counted in."""

        MINUTES = "minutes", "flight time"
        LANDINGS = "landings", "landings"
        CYCLES = "cycles", "engine cycles"
        MONTHS = "months", "calendar months"

    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="life_limits")
    kind = models.ForeignKey(ComponentKind, on_delete=models.PROTECT, related_name="life_limits")
    part_number = models.CharField(max_length=60, blank=True)
    parameter = models.CharField(max_length=12, choices=Parameter.choices)
    limit = models.PositiveBigIntegerField()
    source = models.CharField(max_length=120)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["kind", "part_number", "parameter"], name="life_limit_once_per_part_and_parameter"
            ),
            models.CheckConstraint(condition=Q(limit__gt=0), name="life_limit_above_zero"),
            models.CheckConstraint(condition=~Q(source=""), name="life_limit_names_its_source"),
        ]
        ordering = ["kind_id", "part_number", "parameter"]

    def __str__(self) -> str:
        return f"{self.limit} {self.parameter}"


class Component(models.Model):
    """A serial-numbered part. Its times are what it brought along plus what it flew where it was fitted.

    `opening_*` are totals since new on the day it came to this operator.
    """

    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="components")
    kind = models.ForeignKey(ComponentKind, on_delete=models.PROTECT, related_name="components")
    part_number = models.CharField(max_length=60)
    serial_number = models.CharField(max_length=60)
    manufactured_on = models.DateField(null=True, blank=True)
    opening_minutes = models.PositiveBigIntegerField(default=0)
    opening_landings = models.PositiveIntegerField(default=0)
    opening_cycles = models.PositiveIntegerField(default=0)
    release_document = models.CharField(max_length=80, blank=True)
    scrapped_on = models.DateField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["operator", "part_number", "serial_number"], name="component_serial_once_per_part"
            ),
        ]
        ordering = ["kind_id", "serial_number"]

    def __str__(self) -> str:
        return f"{self.kind.name} {self.serial_number}"


class Overhaul(models.Model):
    """The component was overhauled: time since overhaul starts again from these since-new totals."""

    component = models.ForeignKey(Component, on_delete=models.PROTECT, related_name="overhauls")
    done_on = models.DateField()
    since_new_minutes = models.PositiveBigIntegerField()
    since_new_landings = models.PositiveIntegerField()
    since_new_cycles = models.PositiveIntegerField()
    release_document = models.CharField(max_length=80)

    class Meta:
        ordering = ["done_on", "id"]

    def __str__(self) -> str:
        return f"overhaul {self.done_on}"


class Installation(models.Model):
    """A component sat in a position of an aircraft from one moment until another (or still does).

    The aircraft's counters at fitting and removal are copied in, so component time is arithmetic on this row.
    Installations of one position, or of one component, never overlap: the database refuses.
    `disposition` is how a removed life-limited part is kept from being fitted with its limit reached.
    """

    class Disposition(models.TextChoices):
        """The seven methods of 14 CFR 43.10(c)(1)."""

        RECORD_SYSTEM = "record_system", "record-keeping system"
        TAG = "tag", "tag or other record attached to the part"
        MARK = "mark", "non-permanent mark on the part"
        PERMANENT_MARK = "permanent_mark", "permanent mark on the part"
        SEGREGATION = "segregation", "segregation"
        MUTILATION = "mutilation", "mutilation"
        OTHER = "other", "other method accepted by the authority"

    aircraft = models.ForeignKey(Aircraft, on_delete=models.PROTECT, related_name="installations")
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="installations")
    component = models.ForeignKey(Component, on_delete=models.PROTECT, related_name="installations")
    fitted_at = models.DateTimeField()
    removed_at = models.DateTimeField(null=True, blank=True)
    fitted_minutes = models.PositiveBigIntegerField(default=0)
    fitted_landings = models.PositiveIntegerField(default=0)
    fitted_cycles = models.PositiveIntegerField(default=0)
    removed_minutes = models.PositiveBigIntegerField(null=True, blank=True)
    removed_landings = models.PositiveIntegerField(null=True, blank=True)
    removed_cycles = models.PositiveIntegerField(null=True, blank=True)
    removal_reason = models.CharField(max_length=200, blank=True)
    fitted_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")
    removed_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    disposition = models.CharField(max_length=16, choices=Disposition.choices, blank=True)
    disposition_note = models.CharField(max_length=200, blank=True)
    disposed_on = models.DateField(null=True, blank=True)
    disposed_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(disposition="") | Q(removed_at__isnull=False, disposed_on__isnull=False),
                name="disposition_only_of_a_removed_part",
            ),
            models.CheckConstraint(
                condition=~Q(disposition="other") | ~Q(disposition_note=""),
                name="other_disposition_is_described",
            ),
            models.UniqueConstraint(
                fields=["aircraft", "position"],
                condition=Q(removed_at=None),
                name="one_component_per_position",
            ),
            models.UniqueConstraint(
                fields=["component"], condition=Q(removed_at=None), name="one_place_per_component"
            ),
            models.CheckConstraint(
                condition=Q(removed_at=None) | Q(removed_at__gt=F("fitted_at")),
                name="installation_ends_after_it_begins",
            ),
            models.CheckConstraint(
                condition=Q(removed_minutes=None) | Q(removed_minutes__gte=F("fitted_minutes")),
                name="installation_time_not_negative",
            ),
        ]
        indexes = [
            models.Index(fields=["component", "fitted_at"]),
            models.Index(fields=["aircraft", "position"]),
        ]
        ordering = ["fitted_at", "id"]

    def __str__(self) -> str:
        return f"{self.component} at {self.position}"
