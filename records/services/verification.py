"""The whole operator's records checked, and a line in the trail that it was done and what came of it."""

from __future__ import annotations

from fleet.common.actor import Actor, Verb, require
from fleet.selectors.aircraft import aircraft_list
from fleet.services.trail import note
from records.selectors.verification import Verification, verify_aircraft


def verify_records(*, actor: Actor) -> list[Verification]:
    """Check every chain of the operator; the trail keeps the outcome."""
    require(actor, Verb.READ)
    found = [
        verify_aircraft(aircraft)
        for aircraft in aircraft_list(actor, withdrawn=True).order_by("registration")
    ]
    broken = [each for each in found if not each.is_whole]
    total = sum(each.records for each in found)
    words = f"{total} records of {len(found)} aircraft checked: " + (
        f"{len(broken)} aircraft with something wrong" if broken else "all whole"
    )
    detail = {each.registration: [flaw.words for flaw in each.flaws][:20] for each in broken}
    note(actor, "verify_records", "operator", actor.operator_id, words, detail)
    return found
