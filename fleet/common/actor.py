"""Who acts, and the one table that says which role may do what. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from fleet.common.errors import NotAllowed


class Role(StrEnum):
    """Each is a job somebody holds at an operator."""

    CONTROLLER = "controller"
    TECHNICIAN = "technician"
    INSPECTOR = "inspector"
    DIRECTOR = "director"
    AUDITOR = "auditor"
    ADMINISTRATOR = "administrator"


class Verb(StrEnum):
    """What can be done. Each service names exactly one."""

    READ = "read"
    REPORT_EVENT = "report_event"
    POST_FLIGHT = "post_flight"
    CORRECT_METER = "correct_meter"
    EDIT_FLEET = "edit_fleet"
    EDIT_STOCK = "edit_stock"
    RECORD_UPLIFT = "record_uplift"
    EDIT_PEOPLE = "edit_people"
    GRANT_AUTHORISATION = "grant_authorisation"
    EDIT_PROGRAMME = "edit_programme"
    RAISE_TASK = "raise_task"
    PLAN = "plan"
    PERFORM = "perform"
    SIGN = "sign"
    INSPECT = "inspect"
    AMEND = "amend"
    GRANT_VARIATION = "grant_variation"
    GRANT_RELIEF = "grant_relief"
    EXPORT = "export"


_C, _T, _I, _D, _A = Role.CONTROLLER, Role.TECHNICIAN, Role.INSPECTOR, Role.DIRECTOR, Role.ADMINISTRATOR

POLICY: dict[Verb, frozenset[Role]] = {
    Verb.READ: frozenset(Role),
    Verb.REPORT_EVENT: frozenset({_C, _T, _I, _D}),
    Verb.POST_FLIGHT: frozenset({_C, _T, _D}),
    Verb.CORRECT_METER: frozenset({_C, _D}),
    Verb.EDIT_FLEET: frozenset({_C, _D, _A}),
    Verb.EDIT_STOCK: frozenset({_C, _D, _A}),
    Verb.RECORD_UPLIFT: frozenset({_C, _T, _D}),
    Verb.EDIT_PEOPLE: frozenset({_A}),
    Verb.GRANT_AUTHORISATION: frozenset({_D, _A}),
    Verb.EDIT_PROGRAMME: frozenset({_C, _D, _A}),
    Verb.RAISE_TASK: frozenset({_C, _D}),
    Verb.PLAN: frozenset({_C, _D}),
    Verb.PERFORM: frozenset({_T, _I}),
    Verb.SIGN: frozenset({_T, _I}),
    Verb.INSPECT: frozenset({_I}),
    Verb.AMEND: frozenset({_T, _I, _D}),
    Verb.GRANT_VARIATION: frozenset({_D}),
    Verb.GRANT_RELIEF: frozenset({_C, _D}),
    Verb.EXPORT: frozenset(Role),
}


NEVER_BY_SYSTEM = frozenset({Verb.SIGN, Verb.INSPECT, Verb.AMEND, Verb.GRANT_VARIATION, Verb.GRANT_RELIEF})


@dataclass(frozen=True, slots=True)
class Actor:
    """A person (or the named system) acting for one operator.

    `user_id` is None only for the system actor; `base_id` is the actor's home base, if any.
    """

    operator_id: int
    name: str
    user_id: int | None = None
    roles: frozenset[Role] = field(default_factory=frozenset)
    base_id: int | None = None
    is_system: bool = False

    def may(self, verb: Verb) -> bool:
        """Whether any of the actor's roles allows the verb."""
        if self.is_system:
            return verb not in NEVER_BY_SYSTEM
        return bool(self.roles & POLICY[verb])


def system_actor(operator_id: int, job: str) -> Actor:
    """The named actor of a job: it signs nothing, but what it changes carries its name."""
    return Actor(operator_id=operator_id, name=f"system: {job}", is_system=True)


def require(actor: Actor, verb: Verb) -> None:
    """Refuse with `not_allowed` unless the actor's role allows the verb."""
    if actor.may(verb):
        return
    wanted = ", ".join(sorted(POLICY[verb]))
    have = ", ".join(sorted(actor.roles)) or "no role"
    raise NotAllowed(
        "not_allowed",
        f"Your role ({have}) may not do this ({verb.replace('_', ' ')}). It is for: {wanted}.",
    )
