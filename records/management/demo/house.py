"""The operator, its bases, and its people with what they may sign. Passwords are random."""

from __future__ import annotations

import secrets
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

from django.contrib.auth.hashers import make_password

from fleet.models import Authorisation, Base, Certificate, Membership, Operator, User
from records.management.demo.bench import Signer
from records.management.demo.scenario import Scenario, written

# No letters that are mistaken for one another: 3 groups of 5 out of 29 are 72 bits.
LETTERS = "abcdefghkmnpqrstuvwxyz2345679"
AUTHORITY = "Authority of Skerry"


@dataclass(frozen=True, slots=True)
class Login:
    """Somebody who may sign in, with the password nobody else has."""

    username: str
    password: str
    name: str
    roles: str
    base: str


def found_operator() -> Scenario:
    """The operator with its bases and their icing seasons."""
    whole = written("demo/fleet.json")
    scenario = Scenario(operator=Operator.objects.create(**whole["operator"]))
    for row in whole["bases"]:
        begin_month, begin_day, end_month, end_day = row["season"]
        scenario.bases[row["code"]] = Base.objects.create(
            operator=scenario.operator,
            code=row["code"],
            name=row["name"],
            zone=row["zone"],
            season_start_month=begin_month,
            season_start_day=begin_day,
            season_end_month=end_month,
            season_end_day=end_day,
        )
    return scenario


def employ_people(scenario: Scenario) -> list[Login]:
    """People with roles, certificates and authorisations, and their logins."""
    rows = written("demo/fleet.json")["people"]
    passwords = [new_password() for _ in rows]
    with ThreadPoolExecutor() as pool:
        kept = list(pool.map(make_password, passwords))
    logins = [
        _person(scenario, row, (password, hashed))
        for row, password, hashed in zip(rows, passwords, kept, strict=True)
    ]
    for number, row in enumerate(rows):
        _entitle(scenario, row, number)
    return logins


def new_password() -> str:
    """A random password that can be read out: `abcde-fghkm-23456`."""
    return "-".join("".join(secrets.choice(LETTERS) for _ in range(5)) for _ in range(3))


def _person(scenario: Scenario, row: dict[str, Any], secret: tuple[str, str]) -> Login:
    first, _, last = row["name"].partition(" ")
    password, hashed = secret
    email = f"{row['username']}@skerry.example"
    user = User.objects.create(
        username=row["username"], first_name=first, last_name=last, email=email, password=hashed
    )
    scenario.people[user.username] = user
    base = scenario.bases[row["base"]] if row["base"] else None
    for role in row["roles"]:
        Membership.objects.create(user=user, operator=scenario.operator, role=role, base=base)
    roles = " and ".join(row["roles"])
    return Login(user.username, password, user.full_name, roles, base.name if base else "every base")


def _entitle(scenario: Scenario, row: dict[str, Any], number: int) -> None:
    """A certificate and authorisations that held all the time, but for one that lapsed lately."""
    if "certificate" not in row:
        return
    user = scenario.people[row["username"]]
    kind, certificate = row["certificate"]
    issued_on = scenario.day(2600 + 97 * number)
    Certificate.objects.create(
        user=user, kind=kind, number=certificate, authority=AUTHORITY, issued_on=issued_on
    )
    valid_to = scenario.day(12) if row.get("authorisation_lapsed") else scenario.day(-150 - 23 * number)
    for act in row["acts"]:
        Authorisation.objects.create(
            user=user,
            operator=scenario.operator,
            act=act,
            reference=f"SKERRY-{number + 11}-{act[0].upper()}",
            valid_from=scenario.day(1100),
            valid_to=valid_to,
            granted_by=scenario.people["marit"],
        )


def signers_of(scenario: Scenario) -> dict[tuple[str, str], Signer]:
    """Everybody who signs, by name and by what their authorisation lets them do."""
    held = Authorisation.objects.filter(operator=scenario.operator).select_related("user")
    certificates = {row.user_id: row for row in Certificate.objects.filter(user__in=scenario.people.values())}
    return {(row.user.username, row.act): Signer(row.user, certificates[row.user_id], row) for row in held}
