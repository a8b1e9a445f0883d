"""The first operator of an empty installation, with its first base and its administrator."""

from __future__ import annotations

from dataclasses import dataclass
from zoneinfo import available_timezones

from django.db import transaction

from fleet.common.actor import Role, system_actor
from fleet.common.errors import Conflict, Invalid, Reason
from fleet.models import Base, Operator, User
from fleet.services.people import NewPerson, add_person


@dataclass(frozen=True, slots=True)
class Founding:
    """What the first operator is called, where it is, and who administers it."""

    code: str
    name: str
    zone: str
    base: str
    administrator: str


@transaction.atomic
def found_operator(founding: Founding) -> tuple[User, str]:
    """Make the operator; returns the administrator and a one-time password. Refuses a known code and zone."""
    if Operator.objects.filter(code=founding.code).exists():
        raise Conflict("operator_known", f"There is an operator {founding.code} already.")
    if founding.zone not in available_timezones():
        reason = Reason("is no time zone", "zone", founding.zone, "write one such as Europe/Oslo")
        raise Invalid("bad_operator", reason.sentence(), reason)
    operator = Operator.objects.create(code=founding.code, name=founding.name, day_zone=founding.zone)
    base = Base.objects.create(
        operator=operator,
        code=founding.base.lower().replace(" ", "-"),
        name=founding.base,
        zone=founding.zone,
    )
    first, _, last = founding.administrator.partition(" ")
    new = NewPerson(
        username=first.lower(), first_name=first, last_name=last, roles=[Role.ADMINISTRATOR], base_id=base.pk
    )
    return add_person(actor=system_actor(operator.pk, "installation"), new=new)
