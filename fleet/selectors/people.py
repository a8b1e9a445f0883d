"""Reads about people: who is acting, and what they may sign."""

from __future__ import annotations

from datetime import date

from django.db.models import Q, QuerySet

from fleet.common.actor import Actor, Role
from fleet.common.errors import NotAllowed, NotFound
from fleet.models import ApiToken, Authorisation, Base, Certificate, Membership, Operator, TrailEntry, User


def actor_for(user: User, operator_id: int | None = None) -> Actor:
    """The actor a signed-in person is. Refuses one without a role at the operator (`no_operator`)."""
    rows = list(
        Membership.objects.filter(user=user, **({"operator_id": operator_id} if operator_id else {}))
        .order_by("operator_id", "id")
        .values_list("operator_id", "role", "base_id")
    )
    if not rows:
        raise NotAllowed("no_operator", "You have no role here. Ask your administrator to give you one.")
    mine = [row for row in rows if row[0] == rows[0][0]]
    return Actor(
        operator_id=mine[0][0],
        name=user.full_name,
        user_id=user.pk,
        roles=frozenset(Role(role) for _, role, _ in mine),
        base_id=next((base for _, _, base in mine if base), None),
    )


def operator_of(actor: Actor) -> Operator:
    """The operator the actor acts for."""
    return Operator.objects.get(pk=actor.operator_id)


def bases(actor: Actor) -> QuerySet[Base]:
    """The operator's bases by name."""
    return Base.objects.filter(operator_id=actor.operator_id).order_by("name")


def base_for(actor: Actor, code: str) -> Base:
    """One base by its code; a stranger's is not found."""
    row = bases(actor).filter(code=code).first()
    if row is None:
        raise NotFound("base_not_found", f"There is no base {code} here.")
    return row


def people(actor: Actor) -> QuerySet[User]:
    """Everybody with a role at the operator."""
    return (
        User.objects.filter(memberships__operator_id=actor.operator_id)
        .distinct()
        .order_by("last_name", "first_name", "id")
    )


def person_for(actor: Actor, user_id: int) -> User:
    """One colleague; a stranger is not found."""
    person = people(actor).filter(pk=user_id).first()
    if person is None:
        raise NotFound("person_not_found", "There is no such person here.")
    return person


def valid_authorisations(user_id: int, operator_id: int, act: str, day: date) -> QuerySet[Authorisation]:
    """Authorisations of one kind that hold on the day (both ends included)."""
    return Authorisation.objects.filter(
        Q(revoked_on=None) | Q(revoked_on__gt=day),
        user_id=user_id,
        operator_id=operator_id,
        act=act,
        valid_from__lte=day,
        valid_to__gte=day,
    )


def valid_certificate(user_id: int, day: date) -> Certificate | None:
    """The person's certificate that holds on the day, the newest where there are several."""
    return (
        Certificate.objects.filter(
            Q(expires_on=None) | Q(expires_on__gte=day), user_id=user_id, issued_on__lte=day
        )
        .order_by("-issued_on", "-id")
        .first()
    )


def own_keys(actor: Actor) -> QuerySet[ApiToken]:
    """The actor's own keys for programs, newest first."""
    return ApiToken.objects.filter(user_id=actor.user_id or 0, operator_id=actor.operator_id).order_by(
        "-created_at"
    )


def trail(actor: Actor, *, words: str = "", subject: str = "") -> QuerySet[TrailEntry]:
    """Lines of the operator's trail, newest first, narrowed by a word and a kind of thing."""
    rows = TrailEntry.objects.filter(operator_id=actor.operator_id).order_by("-at", "-id")
    if words:
        rows = rows.filter(Q(words__icontains=words) | Q(actor_name__icontains=words))
    return rows.filter(subject=subject) if subject else rows


def trail_subjects(actor: Actor) -> list[str]:
    """The kinds of things the trail speaks of."""
    rows = TrailEntry.objects.filter(operator_id=actor.operator_id).order_by("subject")
    return list(rows.values_list("subject", flat=True).distinct())


def authorisations(actor: Actor) -> QuerySet[Authorisation]:
    """Every authorisation the operator granted, the longest holding first."""
    return (
        Authorisation.objects.filter(operator_id=actor.operator_id)
        .select_related("user", "aircraft_type", "granted_by")
        .order_by("-valid_to", "-id")
    )


def certificates(actor: Actor) -> QuerySet[Certificate]:
    """The certificates of everybody with a role here, newest first."""
    here = Membership.objects.filter(operator_id=actor.operator_id).values("user_id")
    return Certificate.objects.filter(user_id__in=here).select_related("user").order_by("-issued_on", "-id")
