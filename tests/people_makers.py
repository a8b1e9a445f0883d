"""Made-up operators, bases and people, and the days that never change; `tests.makers` offers them, too."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import factory
from factory.django import DjangoModelFactory

from fleet.common.actor import Role
from fleet.models import Authorisation, Base, Certificate, Membership, Operator, User

DAY = date(2025, 3, 3)
NOON = datetime(2025, 3, 3, 12, tzinfo=UTC)
LONG_AGO = date(2020, 1, 1)
FAR_OFF = date(2099, 12, 31)
PASSWORD = "grey-heron-4417"


def at(days: int = 0, hours: int = 0, minutes: int = 0) -> datetime:
    """A moment counted from NOON of DAY: `at(-1)` is noon of the Sunday before."""
    return NOON + timedelta(days=days, hours=hours, minutes=minutes)


class OperatorMaker(DjangoModelFactory):
    class Meta:
        model = Operator

    code = factory.Sequence(lambda n: f"operator-{n}")
    name = factory.Sequence(lambda n: f"Operator {n}")


class BaseMaker(DjangoModelFactory):
    """A base in UTC with a northern icing season, 1 October to 30 April."""

    class Meta:
        model = Base

    operator = factory.SubFactory(OperatorMaker)
    code = factory.Sequence(lambda n: f"base-{n}")
    name = factory.Sequence(lambda n: f"Base {n}")
    zone = "UTC"
    season_start_month, season_start_day = 10, 1
    season_end_month, season_end_day = 4, 30


class UserMaker(DjangoModelFactory):
    """Somebody without a role; `PersonMaker` gives one."""

    class Meta:
        model = User
        skip_postgeneration_save = True

    username = factory.Sequence(lambda n: f"person{n}")
    first_name = factory.Sequence(lambda n: f"Ada{n}")
    last_name = "Lund"
    email = factory.LazyAttribute(lambda person: f"{person.username}@example.org")
    password = factory.django.Password(PASSWORD)


class MembershipMaker(DjangoModelFactory):
    class Meta:
        model = Membership

    user = factory.SubFactory(UserMaker)
    operator = factory.SubFactory(OperatorMaker)
    role = Role.TECHNICIAN


class CertificateMaker(DjangoModelFactory):
    class Meta:
        model = Certificate

    user = factory.SubFactory(UserMaker)
    kind = "maintenance licence B1"
    number = factory.Sequence(lambda n: f"L-{n:05d}")
    authority = "Authority of Skerry"
    issued_on = LONG_AGO
    expires_on = FAR_OFF


class AuthorisationMaker(DjangoModelFactory):
    """Everything on every type, unless said otherwise."""

    class Meta:
        model = Authorisation

    user = factory.SubFactory(UserMaker)
    operator = factory.SubFactory(OperatorMaker)
    act = Authorisation.Act.PERFORM
    reference = factory.Sequence(lambda n: f"AUTH-{n:04d}")
    valid_from = LONG_AGO
    valid_to = FAR_OFF
    granted_by = factory.SelfAttribute("user")
