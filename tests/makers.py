"""Made-up things of the fleet room, on days that never change: `PersonMaker()`, `make_house()`, `api_of(person)`.

Every maker takes whatever the model takes, and makes what it hangs on. `DAY` is a Monday safely in the past, so
that services, which refuse the future, accept whatever a test says happened on it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import factory
from django.test import Client
from factory.django import DjangoModelFactory
from rest_framework.test import APIClient

from fleet.common.actor import Actor, Role
from fleet.models import (
    Aircraft,
    AircraftType,
    Base,
    Calibration,
    Component,
    ComponentKind,
    DensityPoint,
    Equipment,
    EquipmentOption,
    FlightEntry,
    FluidLot,
    Installation,
    Meter,
    Operator,
    Position,
    Reading,
    User,
)
from fleet.selectors.people import actor_for
from tests.people_makers import (
    DAY as DAY,
)
from tests.people_makers import (
    FAR_OFF as FAR_OFF,
)
from tests.people_makers import (
    LONG_AGO as LONG_AGO,
)
from tests.people_makers import (
    NOON as NOON,
)
from tests.people_makers import (
    PASSWORD as PASSWORD,
)
from tests.people_makers import (
    AuthorisationMaker as AuthorisationMaker,
)
from tests.people_makers import (
    BaseMaker as BaseMaker,
)
from tests.people_makers import (
    CertificateMaker as CertificateMaker,
)
from tests.people_makers import (
    MembershipMaker as MembershipMaker,
)
from tests.people_makers import (
    OperatorMaker as OperatorMaker,
)
from tests.people_makers import (
    UserMaker as UserMaker,
)
from tests.people_makers import (
    at as at,
)


class TypeMaker(DjangoModelFactory):
    """A type without positions; `make_type` gives it some."""

    class Meta:
        model = AircraftType

    operator = factory.SubFactory(OperatorMaker)
    code = factory.Sequence(lambda n: f"type-{n}")
    name = factory.Sequence(lambda n: f"Type {n}")


class OptionMaker(DjangoModelFactory):
    class Meta:
        model = EquipmentOption

    aircraft_type = factory.SubFactory(TypeMaker)
    code = factory.Sequence(lambda n: f"option-{n}")
    name = factory.LazyAttribute(lambda option: option.code.replace("-", " "))


class KindMaker(DjangoModelFactory):
    class Meta:
        model = ComponentKind
        django_get_or_create = ("operator", "code")

    operator = factory.SubFactory(OperatorMaker)
    code = "porous-panel"
    name = factory.LazyAttribute(lambda kind: kind.code.replace("-", " ").capitalize())
    ata = "30"


class PositionMaker(DjangoModelFactory):
    class Meta:
        model = Position

    aircraft_type = factory.SubFactory(TypeMaker)
    code = factory.Sequence(lambda n: f"position-{n}")
    name = factory.LazyAttribute(lambda position: position.code.replace("-", " "))
    kind = factory.SubFactory(KindMaker, operator=factory.SelfAttribute("..aircraft_type.operator"))
    zone = "wing"


class AircraftMaker(DjangoModelFactory):
    """An aircraft with three meters that opened a year before DAY: 1 000:00 h, 1 200 landings, 1 200 cycles.

    `minutes`, `landings` and `cycles` say what they opened at; `option_codes` which options of its type it has.
    """

    class Meta:
        model = Aircraft
        skip_postgeneration_save = True

    operator = factory.SubFactory(OperatorMaker)
    aircraft_type = factory.SubFactory(TypeMaker, operator=factory.SelfAttribute("..operator"))
    base = factory.SubFactory(BaseMaker, operator=factory.SelfAttribute("..operator"))
    registration = factory.Sequence(lambda n: f"QX-T{n:03d}")
    serial_number = factory.Sequence(lambda n: f"S{n:04d}")
    manufactured_on = date(2015, 6, 1)

    @classmethod
    def _create(cls, model_class: type[Aircraft], *arguments: Any, **values: Any) -> Aircraft:
        openings = {kind: values.pop(kind, usual) for kind, usual in OPENINGS.items()}
        option_codes: Iterable[str] = values.pop("option_codes", ())
        aircraft = super()._create(model_class, *arguments, **values)
        for kind, value in openings.items():
            open_meter(aircraft, kind, value)
        for code in option_codes:
            aircraft.options.add(aircraft.aircraft_type.options.get(code=code))
        return aircraft


OPENINGS = {"minutes": 60_000, "landings": 1_200, "cycles": 1_200}


def open_meter(aircraft: Aircraft, kind: str, value: int, opened: datetime | None = None) -> Meter:
    """A meter with its opening balance, a year before DAY unless said otherwise."""
    moment = opened or at(-365)
    meter = Meter.objects.create(aircraft=aircraft, kind=kind, value=value, as_of=moment)
    Reading.objects.create(
        meter=meter, at=moment, value=value, kind=Reading.Kind.OPENING, reason="opening", posted_at=moment
    )
    return meter


class ComponentMaker(DjangoModelFactory):
    """A component in store."""

    class Meta:
        model = Component

    operator = factory.SubFactory(OperatorMaker)
    kind = factory.SubFactory(KindMaker, operator=factory.SelfAttribute("..operator"))
    part_number = "30-110-1"
    serial_number = factory.Sequence(lambda n: f"C{n:05d}")
    manufactured_on = date(2018, 6, 1)


class InstallationMaker(DjangoModelFactory):
    """A component fitted at NOON of DAY with the aircraft's openings as its counters at fitting."""

    class Meta:
        model = Installation

    aircraft = factory.SubFactory(AircraftMaker)
    position = factory.SubFactory(
        PositionMaker, aircraft_type=factory.SelfAttribute("..aircraft.aircraft_type")
    )
    component = factory.SubFactory(
        ComponentMaker,
        operator=factory.SelfAttribute("..aircraft.operator"),
        kind=factory.SelfAttribute("..position.kind"),
    )
    fitted_at = NOON
    fitted_minutes, fitted_landings, fitted_cycles = (
        OPENINGS["minutes"],
        OPENINGS["landings"],
        OPENINGS["cycles"],
    )


class FlightMaker(DjangoModelFactory):
    """A bare row: no meter moves (use `post_flight` where meters matter)."""

    class Meta:
        model = FlightEntry

    aircraft = factory.SubFactory(AircraftMaker)
    off_at = factory.Sequence(lambda n: at(minutes=n))
    day = factory.LazyAttribute(lambda flight: flight.off_at.date())
    minutes = 60
    reference = factory.Sequence(lambda n: f"F{n:06d}")


class EquipmentMaker(DjangoModelFactory):
    """A measuring cylinder in calibration; `calibrated=False` leaves the calibration out."""

    class Meta:
        model = Equipment
        skip_postgeneration_save = True

    operator = factory.SubFactory(OperatorMaker)
    base = factory.SubFactory(BaseMaker, operator=factory.SelfAttribute("..operator"))
    code = factory.Sequence(lambda n: f"eq-{n:04d}")
    name = "Measuring cylinder 2 L"
    kind = "measuring-cylinder"
    serial_number = factory.Sequence(lambda n: f"E{n:04d}")
    resolution = "10"
    uncertainty = "10"
    unit = "mL"

    @factory.post_generation
    def calibrated(self: Any, create: bool, wanted: bool | None, **values: Any) -> None:
        if create and wanted is not False:
            CalibrationMaker(equipment=self, **values)


class CalibrationMaker(DjangoModelFactory):
    class Meta:
        model = Calibration

    equipment = factory.SubFactory(EquipmentMaker, calibrated=False)
    done_on = LONG_AGO
    due_on = FAR_OFF
    certificate = factory.Sequence(lambda n: f"CAL-{n:04d}")
    laboratory = "Harbour Metrology"


class FluidLotMaker(DjangoModelFactory):
    """An approved lot with a density table: 1.1100 g/mL at 0 °C, 1.0900 at 20 °C, 1.0700 at 40 °C (made up)."""

    class Meta:
        model = FluidLot
        skip_postgeneration_save = True

    operator = factory.SubFactory(OperatorMaker)
    base = factory.SubFactory(BaseMaker, operator=factory.SelfAttribute("..operator"))
    specification = "Glycol fluid, class 2"
    batch = factory.Sequence(lambda n: f"B-{n:04d}")
    supplier = "Fjord Chemicals"
    received_on = LONG_AGO
    expires_on = FAR_OFF
    quantity_ml = Decimal("200000")
    state = FluidLot.State.APPROVED
    density_source = "supplier's sheet 7"

    @factory.post_generation
    def densities(self: Any, create: bool, table: dict[str, str] | None, **_: Any) -> None:
        if create:
            for celsius, density in (table if table is not None else DENSITIES).items():
                DensityPoint.objects.create(lot=self, celsius=celsius, grams_per_ml=density)


DENSITIES = {"0": "1.1100", "20": "1.0900", "40": "1.0700"}


def make_person(
    role: Role | str,
    operator: Operator,
    *,
    base: Base | None = None,
    acts: Iterable[str] | None = None,
    **values: Any,
) -> User:
    """Somebody with one role and, where the role signs, a certificate and the authorisations that go with it."""
    person: User = UserMaker(**values)
    MembershipMaker(user=person, operator=operator, role=Role(role), base=base)
    usual = {Role.TECHNICIAN: ("perform",), Role.INSPECTOR: ("perform", "inspect", "release")}.get(
        Role(role), ()
    )
    wanted = tuple(acts if acts is not None else usual)
    if wanted:
        CertificateMaker(user=person)
    for act in wanted:
        AuthorisationMaker(user=person, operator=operator, act=act)
    return person


def actor_of(person: User) -> Actor:
    """The actor this person is."""
    return actor_for(person)


def make_type(operator: Operator, **values: Any) -> AircraftType:
    """A type with two wing panels, the fluid system, four outlets and four options.

    Positions: panel-left, panel-right (porous-panel), tank, pump, second-pump (needs its option), filter,
    proportioning-unit, and the outlets outlet-wing-left/-right, outlet-strut-left/-right.
    """
    made: AircraftType = TypeMaker(operator=operator, **values)
    options = {
        code: OptionMaker(aircraft_type=made, code=code)
        for code in ("glass-cockpit", "belly-pod", "second-pump", "windshield-spray")
    }
    for order, (code, kind, side, zone, is_outlet, option) in enumerate(POSITIONS, 1):
        PositionMaker(
            aircraft_type=made,
            code=code,
            kind=KindMaker(operator=operator, code=kind),
            side=side,
            zone=zone,
            order=order,
            is_outlet=is_outlet,
            needs_option=options.get(option),
        )
    return made


POSITIONS = (
    ("panel-left", "porous-panel", "left", "wing", False, ""),
    ("panel-right", "porous-panel", "right", "wing", False, ""),
    ("tank", "fluid-tank", "none", "body", False, ""),
    ("pump", "fluid-pump", "none", "body", False, ""),
    ("second-pump", "fluid-pump", "none", "body", False, "second-pump"),
    ("filter", "fluid-filter", "none", "body", False, ""),
    ("proportioning-unit", "proportioning-unit", "none", "body", False, ""),
    ("outlet-wing-left", "porous-panel", "left", "wing", True, ""),
    ("outlet-wing-right", "porous-panel", "right", "wing", True, ""),
    ("outlet-strut-left", "porous-panel", "left", "strut", True, ""),
    ("outlet-strut-right", "porous-panel", "right", "strut", True, ""),
)


@dataclass(frozen=True, slots=True)
class House:
    """One operator with a base, a type with positions, an aircraft, and one person per role."""

    operator: Operator
    base: Base
    aircraft_type: AircraftType
    aircraft: Aircraft
    people: dict[Role, User]

    def person(self, role: Role | str) -> User:
        return self.people[Role(role)]

    def actor(self, role: Role | str) -> Actor:
        return actor_of(self.people[Role(role)])

    def position(self, code: str) -> Position:
        return Position.objects.get(aircraft_type=self.aircraft_type, code=code)


def make_house(**aircraft: Any) -> House:
    """A whole small operator; the keywords go to the aircraft: `make_house(option_codes=["second-pump"])`."""
    operator: Operator = OperatorMaker()
    base: Base = BaseMaker(operator=operator)
    made = make_type(operator)
    return House(
        operator=operator,
        base=base,
        aircraft_type=made,
        aircraft=AircraftMaker(operator=operator, base=base, aircraft_type=made, **aircraft),
        people={role: make_person(role, operator, base=base) for role in Role},
    )


def fit(
    aircraft: Aircraft, position_code: str, fitted_at: datetime | None = None, **component: Any
) -> Installation:
    """A component that was fitted half a year before DAY with the counters of the day it was fitted."""
    position = Position.objects.get(aircraft_type=aircraft.aircraft_type, code=position_code)
    part = ComponentMaker(operator=aircraft.operator, kind=position.kind, **component)
    installation: Installation = InstallationMaker(
        aircraft=aircraft, position=position, component=part, fitted_at=fitted_at or at(-180)
    )
    return installation


def api_of(person: User | None = None) -> APIClient:
    """An API client signed in as this person, or as nobody."""
    client = APIClient()
    if person is not None:
        client.force_login(person)
    return client


def browser_of(person: User | None = None) -> Client:
    """A page client signed in as this person, or as nobody."""
    client = Client()
    if person is not None:
        client.force_login(person)
    return client
