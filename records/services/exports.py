"""Handing out an aircraft's records is itself noted: who took them, which, and the digest of what was given."""

from __future__ import annotations

from fleet.common.actor import Actor, Verb, require
from fleet.models import Aircraft, TrailEntry
from fleet.services.trail import note


def note_export(*, actor: Actor, aircraft: Aircraft, records: int, digest: str) -> TrailEntry:
    """Note that the complete records of an aircraft were handed out; `digest` is of the manifest."""
    require(actor, Verb.EXPORT)
    words = f"Complete records of {aircraft} handed out: {records} records, manifest {digest[:12]}…"
    return note(actor, "export_aircraft", "aircraft", aircraft.registration, words, {"digest": digest})
