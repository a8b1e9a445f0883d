"""What a signature rests on: a certificate and an authorisation in scope, valid on the days that matter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from fleet.common.errors import NotAllowed
from fleet.common.wording import day as day_words
from fleet.models import AircraftType, Authorisation, Certificate, User
from fleet.selectors.people import valid_authorisations, valid_certificate
from records.models import BenchRun


@dataclass(frozen=True, slots=True)
class Scope:
    """The work an authorisation must cover: an ATA chapter on a type."""

    operator_id: int
    chapter: str
    aircraft_type: AircraftType


def scope_of(run: BenchRun) -> Scope:
    """The scope of a run's work."""
    return Scope(run.operator_id, run.procedure_version.ata[:2], run.aircraft.aircraft_type)


def certificate_on(signer: User, days: set[date]) -> Certificate:
    """The person's certificate, valid on every one of these days. Refuses (`no_certificate`) where there is none."""
    found = {day: valid_certificate(signer.pk, day) for day in days}
    missing = [day for day, certificate in found.items() if certificate is None]
    certificate = found[max(days)]
    if missing or certificate is None:
        day = missing[0]
        raise NotAllowed(
            "no_certificate", f"{signer.full_name} has no certificate valid on {day_words(day)}."
        )
    return certificate


def authorisation_on(
    signer: User, scope: Scope, acts: Sequence[Authorisation.Act], days: set[date]
) -> Authorisation:
    """An authorisation in scope, valid on every one of these days. Refuses (`no_authorisation`) where none is."""
    for act in acts:
        holding = [_held(signer, scope, act, day) for day in days]
        for key, row in holding[0].items():
            if all(key in each for each in holding):
                return row
    when = " and ".join(map(day_words, sorted(days)))
    wanted = " or ".join(act.label for act in acts)
    raise NotAllowed(
        "no_authorisation",
        f"{signer.full_name} has no authorisation valid on {when} to {wanted} in chapter {scope.chapter} "
        f"on the {scope.aircraft_type}. The director grants it.",
    )


def _held(signer: User, scope: Scope, act: Authorisation.Act, day: date) -> dict[int, Authorisation]:
    return {
        row.pk: row
        for row in valid_authorisations(signer.pk, scope.operator_id, act, day)
        if (not row.ata_chapters or scope.chapter in row.ata_chapters)
        and row.aircraft_type_id in (None, scope.aircraft_type.pk)
    }
