"""Which places a person is offered: by role, and only where the address exists."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse
from django.utils.functional import SimpleLazyObject

from fleet.common.actor import Actor, Role
from fleet.common.errors import Refusal
from fleet.screens.base import actor_of
from scheduling.selectors.reminders import unread_count

_C, _T, _I = Role.CONTROLLER, Role.TECHNICIAN, Role.INSPECTOR
_D, _A, _ADMIN = Role.DIRECTOR, Role.AUDITOR, Role.ADMINISTRATOR
EVERYONE = frozenset(Role)
BOTTOM_PLACES = 4


@dataclass(frozen=True, slots=True)
class Place:
    """One entry: `short` is its name where room is scarce, `url` is filled in once it resolves."""

    name: str
    label: str
    short: str
    icon: str
    group: str
    roles: frozenset[Role] = EVERYONE
    url: str = ""
    is_current: bool = False


@dataclass(frozen=True, slots=True)
class Group:
    label: str
    places: tuple[Place, ...]


@dataclass(frozen=True, slots=True)
class Navigation:
    """What the frame offers: groups at the side, the first places at the bottom, the rest behind More."""

    groups: tuple[Group, ...] = ()
    bottom: tuple[Place, ...] = ()
    more: tuple[Place, ...] = ()
    account: tuple[Place, ...] = ()
    sign_out: str = ""
    sign_in: str = ""


PLACES = (
    Place("scheduling:board", "Fleet board", "Board", "board", "Now"),
    Place("scheduling:due-list", "Due list", "Due", "due", "Now"),
    Place("scheduling:tasks", "Tasks", "Tasks", "tasks", "Now"),
    Place("scheduling:week", "Week plan", "Week", "week", "Now"),
    Place(
        "scheduling:report-event", "Report an event", "Report", "event", "Now", frozenset({_C, _T, _I, _D})
    ),
    Place("scheduling:events", "Events", "Events", "event", "Now"),
    Place("fleet:aircraft-list", "Aircraft", "Aircraft", "aircraft", "Fleet"),
    Place("fleet:flights", "Flights", "Flights", "flights", "Fleet"),
    Place("fleet:components", "Components", "Parts", "component", "Fleet"),
    Place("fleet:stock", "Fluid and equipment", "Stock", "stock", "Fleet"),
    Place("fleet:people", "People", "People", "people", "Fleet"),
    Place("fleet:house", "Bases and types", "Bases", "board", "Fleet", frozenset({_C, _D, _A, _ADMIN})),
    Place("scheduling:programme", "Programme", "Programme", "procedures", "Proof"),
    Place("scheduling:procedures", "Procedures", "Procedures", "procedures", "Proof"),
    Place("scheduling:rules", "Rules", "Rules", "procedures", "Proof"),
    Place("records:records", "Records", "Records", "records", "Proof"),
    Place("records:trends", "Trends", "Trends", "trends", "Proof"),
)
ACCOUNT_PLACES = (
    Place("scheduling:inbox", "Reminders", "Reminders", "inbox", ""),
    Place("fleet:account", "Account and passkeys", "Account", "person", ""),
)
OTHER_NAMES = {
    "fleet:aircraft-list": (
        "records:aircraft-list",
        "fleet:aircraft",
        "scheduling:aircraft-list",
        "scheduling:aircraft",
    )
}

BOTTOM: dict[Role, tuple[str, ...]] = {
    _C: ("scheduling:board", "scheduling:due-list", "scheduling:week", "scheduling:report-event"),
    _T: ("scheduling:tasks", "scheduling:week", "scheduling:report-event", "fleet:aircraft-list"),
    _I: ("scheduling:tasks", "records:records", "scheduling:report-event", "fleet:aircraft-list"),
    _D: ("scheduling:board", "scheduling:due-list", "records:trends", "records:records"),
    _A: ("scheduling:board", "records:records", "scheduling:due-list", "fleet:aircraft-list"),
    _ADMIN: ("scheduling:board", "fleet:people", "fleet:stock", "scheduling:procedures"),
}
FIRST_ROLE = (_T, _C, _D, _I, _ADMIN, _A)


def address(*names: str) -> str:
    """The address of the first name that resolves without arguments, or an empty string."""
    for name in names:
        try:
            return reverse(name)
        except NoReverseMatch:
            continue
    return ""


def resolved(places: Iterable[Place], roles: frozenset[Role]) -> list[Place]:
    """The places one of the roles may use and whose address exists."""
    allowed = (place for place in places if place.roles & roles)
    found = (replace(place, url=address(place.name, *OTHER_NAMES.get(place.name, ()))) for place in allowed)
    return [place for place in found if place.url]


def with_current(places: list[Place], path: str) -> list[Place]:
    """The same places, the one with the longest address that begins the path marked current."""
    fitting = [
        place.url
        for place in places
        if path == place.url or (place.url != "/" and path.startswith(place.url))
    ]
    longest = max(fitting, key=len, default=None)
    return [replace(place, is_current=place.url == longest) for place in places]


def bottom_of(places: list[Place], roles: frozenset[Role]) -> tuple[Place, ...]:
    """Up to four places for the thumb, in the order of the person's first role."""
    role = next((one for one in FIRST_ROLE if one in roles), _A)
    by_name = {place.name: place for place in places}
    chosen = [by_name[name] for name in BOTTOM[role] if name in by_name]
    chosen += [place for place in places if place not in chosen]
    return tuple(chosen[:BOTTOM_PLACES])


def navigation_for(roles: frozenset[Role], path: str) -> Navigation:
    """The whole navigation of a person with these roles who stands at this path."""
    places = with_current(resolved(PLACES, roles), path)
    bottom = bottom_of(places, roles)
    labels = dict.fromkeys(place.group for place in places)
    return Navigation(
        groups=tuple(Group(label, tuple(p for p in places if p.group == label)) for label in labels),
        bottom=bottom,
        more=tuple(place for place in places if place not in bottom),
        account=tuple(with_current(resolved(ACCOUNT_PLACES, roles), path)),
        sign_out=address("logout", "fleet:sign-out"),
    )


def present_actor(request: HttpRequest) -> Actor | None:
    """Who looks, if anybody: also on an error page, and for somebody who belongs to no operator nobody."""
    known = getattr(request, "actor", None)
    if known is not None or not getattr(request, "user", None) or not request.user.is_authenticated:
        return known
    try:
        return actor_of(request)
    except Refusal:
        return None


def navigation(request: HttpRequest) -> dict[str, Any]:
    """Context processor: `navigation`, `actor`, `unread` and the chosen `theme` ("light", "dark" or empty).

    `unread` counts reminders not looked at yet; it is asked for by the frame only.
    """
    actor = present_actor(request)
    theme = request.COOKIES.get("theme", "")
    context: dict[str, Any] = {"theme": theme if theme in ("light", "dark") else "", "actor": actor}
    if actor is None:
        return context | {"navigation": Navigation(sign_in=address("login", "fleet:sign-in"))}
    return context | {
        "navigation": navigation_for(actor.roles, request.path),
        "unread": SimpleLazyObject(lambda: unread_count(actor)) if hasattr(request, "user") else 0,
    }
