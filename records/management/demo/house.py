"""The operator, its bases, and its people with what they may sign. Passwords are random."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from typing import Any

from fleet.models import Authorisation, Base, Certificate, Membership, Operator, User
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
    logins = [_person(scenario, row) for row in rows]
    for number, row in enumerate(rows):
        _entitle(scenario, row, number)
    return logins


def _person(scenario: Scenario, row: dict[str, Any]) -> Login:
    first, _, last = row["name"].partition(" ")
    password = "-".join("".join(secrets.choice(LETTERS) for _ in range(5)) for _ in range(3))
    email = f"{row['username']}@skerry.example"
    user = User(username=row["username"], first_name=first, last_name=last, email=email)
    user.set_password(password)
    user.save()
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
