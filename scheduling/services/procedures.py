"""Procedures as versioned data: drafts, publishing, withdrawing. A text once used is never changed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.utils.text import slugify

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import now
from fleet.common.errors import Conflict, Invalid, Reason
from fleet.models import AircraftType, Operator, Position
from fleet.services.trail import note
from scheduling.gather.rules import option_names
from scheduling.models import Consequence, EventKind, Procedure, ProcedureVersion
from scheduling.selectors.procedures import procedure_for, users_of
from scheduling.steps.parse import procedure_from_data
from scheduling.steps.terms import Condition, ProcedureContent

State = ProcedureVersion.State
LENGTHS = {"title": 120, "approved_reference": 120, "approved_revision": 40, "ata": 8, "change_note": 300}
MOST = {"minutes": 100_000, "people": 99}
NEEDED = ("title", "approved_reference", "approved_revision", "ata")


@dataclass(frozen=True, slots=True)
class Draft:
    """A whole procedure as somebody wants it; `content` is what `procedure_from_data` reads."""

    code: str
    title: str
    content: Mapping[str, Any]
    approved_reference: str
    approved_revision: str
    ata: str
    consequence: str
    minutes: int
    people: int = 1
    aircraft_type: str = ""
    needs_countersignature: bool = False
    is_inspection: bool = False
    change_note: str = ""


@transaction.atomic
def save_draft(*, actor: Actor, draft: Draft) -> ProcedureVersion:
    """Keep the text as the procedure's draft; where there is none, the next version is begun.

    The text in force is not touched; a new title is the procedure's own and holds at once. Refuses with every
    wrong field named, and another type once the procedure was in force.
    """
    require(actor, Verb.EDIT_PROGRAMME)
    Operator.objects.select_for_update().get(pk=actor.operator_id)
    check_draft(actor, draft)
    procedure, _ = Procedure.objects.get_or_create(
        operator_id=actor.operator_id,
        code=draft.code,
        defaults={"title": draft.title.strip(), "aircraft_type": _type(actor, draft)},
    )
    last = procedure.versions.order_by("-number").first()
    version = procedure.versions.filter(state=State.DRAFT).first() or ProcedureVersion(
        procedure=procedure, number=last.number + 1 if last else 1
    )
    _fill(version, draft)
    version.written_by_id = actor.user_id
    version.written_at = now()
    version.save()
    _rename(procedure, actor, draft)
    words = f"Draft of {draft.code} version {version.number} saved"
    note(actor, "save_draft", "procedure", draft.code, words, {"title": draft.title})
    return version


def _fill(version: ProcedureVersion, draft: Draft) -> None:
    version.content = dict(draft.content)
    version.approved_reference = draft.approved_reference.strip()
    version.approved_revision = draft.approved_revision.strip()
    version.ata = draft.ata.strip()
    version.consequence = draft.consequence
    version.minutes = draft.minutes
    version.people = draft.people
    version.needs_countersignature = draft.needs_countersignature
    version.is_inspection = draft.is_inspection
    version.change_note = draft.change_note.strip()


def _rename(procedure: Procedure, actor: Actor, draft: Draft) -> None:
    wanted = _type(actor, draft)
    was_in_force = procedure.versions.exclude(state=State.DRAFT).exists()
    if was_in_force and wanted != procedure.aircraft_type:
        detail = "cannot change once the procedure was in force"
        reason = Reason(detail, "aircraft_type", draft.aircraft_type, "write another procedure for that type")
        raise Invalid("bad_procedure", reason.sentence(), reason)
    title = draft.title.strip()
    if was_in_force and title != procedure.title:
        note(actor, "rename_procedure", "procedure", draft.code, f"{draft.code} is now called “{title}”")
    procedure.title = title
    procedure.aircraft_type = wanted
    procedure.save(update_fields=["title", "aircraft_type"])


def _type(actor: Actor, draft: Draft) -> AircraftType | None:
    if not draft.aircraft_type:
        return None
    return AircraftType.objects.get(operator_id=actor.operator_id, code=draft.aircraft_type)


def check_draft(actor: Actor, draft: Draft) -> ProcedureContent | None:
    """Refuse a text that makes no sense: form, points and steps, and names that nothing here carries."""
    reasons = list(_form_reasons(actor, draft))
    content = None
    try:
        content = procedure_from_data(draft.content)
        reasons += _stranger_reasons(actor, content)
    except Invalid as refusal:
        reasons += [Reason(r.detail, f"content.{r.field}", r.value, r.remedy) for r in refusal.reasons] or [
            Reason(refusal.sentence, "content")
        ]
    if reasons:
        words = "; ".join(reason.sentence() for reason in reasons[:4])
        raise Invalid("bad_procedure", f"The procedure needs another look: {words}", *reasons)
    return content


def _form_reasons(actor: Actor, draft: Draft) -> Iterator[Reason]:
    if not draft.code or draft.code != slugify(draft.code):
        yield Reason("is no code", "code", draft.code, "use small letters, digits and hyphens")
    for name in NEEDED:
        if not getattr(draft, name).strip():
            yield Reason("is missing", name, remedy="fill it in")
    for name, length in LENGTHS.items():
        if len(getattr(draft, name).strip()) > length:
            yield Reason("is too long", name, remedy=f"use at most {length} characters")
    if draft.consequence not in Consequence.values:
        known = ", ".join(Consequence.values)
        yield Reason("is no consequence", "consequence", draft.consequence, f"use one of: {known}")
    for name, most in MOST.items():
        if not 1 <= getattr(draft, name) <= most:
            yield Reason(f"is not from 1 to {most}", name, str(getattr(draft, name)), "correct the number")
    types = AircraftType.objects.filter(operator_id=actor.operator_id, code=draft.aircraft_type)
    if draft.aircraft_type and not types.exists():
        yield Reason("is no type here", "aircraft_type", draft.aircraft_type, "choose one of the list")


def _stranger_reasons(actor: Actor, content: ProcedureContent) -> Iterator[Reason]:
    """Names the text uses that the operator's types and kinds of event do not have."""
    options = option_names(actor.operator_id)
    for where, condition in _conditions(content):
        for code in sorted((condition.options_all | condition.options_none) - set(options)):
            remedy = f"use one of: {', '.join(sorted(options)) or 'none are defined'}"
            yield Reason("is no option here", f"content.{where}.when", code, remedy)
    positions = Position.objects.filter(aircraft_type__operator_id=actor.operator_id, is_outlet=True)
    zones = set(positions.values_list("zone", flat=True))
    for index, step in enumerate(content.steps):
        for zone in sorted(set(step.zones) - zones):
            remedy = f"use one of: {', '.join(sorted(zones)) or 'none are defined'}"
            yield Reason("has no outlets here", f"content.steps.{index}.zones", zone, remedy)
    follow_up = content.follow_up_on_fail
    kinds = EventKind.objects.filter(operator_id=actor.operator_id, retired_on=None, needs_position=False)
    if follow_up and not kinds.filter(code=follow_up, change=EventKind.Change.NONE).exists():
        detail = "is no kind of event that a failed test can report"
        yield Reason(detail, "content.follow_up_on_fail", follow_up, "choose one without a position")


def _conditions(content: ProcedureContent) -> Iterator[tuple[str, Condition]]:
    for index, step in enumerate(content.steps):
        yield f"steps.{index}", step.when
    for index, need in enumerate(content.equipment):
        yield f"equipment.{index}", need.when


@transaction.atomic
def publish_version(*, actor: Actor, code: str) -> ProcedureVersion:
    """Put the draft in force: work begun from now on follows it, work in hand keeps its own version.

    Refuses where there is no draft, or where it names what has gone meanwhile.
    """
    require(actor, Verb.EDIT_PROGRAMME)
    Operator.objects.select_for_update().get(pk=actor.operator_id)
    procedure = procedure_for(actor, code)
    version = procedure.versions.filter(state=State.DRAFT).first()
    if version is None:
        raise Conflict("no_draft", f"{procedure.code} has no draft to publish. Save one first.")
    _check_published(actor, version)
    procedure.versions.filter(state=State.CURRENT).update(state=State.SUPERSEDED)
    version.state = State.CURRENT
    version.save(update_fields=["state"])
    if procedure.withdrawn_on is not None:
        procedure.withdrawn_on = None
        procedure.save(update_fields=["withdrawn_on"])
    note(actor, "publish_version", "procedure", code, f"{code} version {version.number} is in force")
    return version


def _check_published(actor: Actor, version: ProcedureVersion) -> None:
    reasons = tuple(_stranger_reasons(actor, procedure_from_data(version.content)))
    if reasons:
        raise Invalid("bad_procedure", "; ".join(r.sentence() for r in reasons), *reasons)


@transaction.atomic
def discard_draft(*, actor: Actor, code: str) -> Procedure | None:
    """Throw the draft away; a procedure that was never in force goes with it (None)."""
    require(actor, Verb.EDIT_PROGRAMME)
    Operator.objects.select_for_update().get(pk=actor.operator_id)
    procedure = procedure_for(actor, code)
    version = procedure.versions.filter(state=State.DRAFT).first()
    if version is None:
        raise Conflict("no_draft", f"{procedure.code} has no draft.")
    note(actor, "discard_draft", "procedure", code, f"Draft of {code} version {version.number} discarded")
    version.delete()
    if ProcedureVersion.objects.filter(procedure=procedure).exists():
        return procedure
    procedure.delete()
    return None


@transaction.atomic
def withdraw_procedure(*, actor: Actor, code: str, reason: str) -> Procedure:
    """Take a procedure out of force; its versions and records stay.

    Refuses without a reason, and while open tasks, rules or requirements in force need it (`procedure_in_use`).
    """
    require(actor, Verb.EDIT_PROGRAMME)
    Operator.objects.select_for_update().get(pk=actor.operator_id)
    procedure = procedure_for(actor, code)
    if not reason.strip():
        missing = Reason("is missing", "reason", remedy="say why it is withdrawn")
        raise Invalid("bad_procedure", missing.sentence(), missing)
    if procedure.withdrawn_on is not None:
        return procedure
    users = list(users_of(procedure))
    if users:
        raise Conflict(
            "procedure_in_use",
            f"{procedure.code} is still needed: {', '.join(users[:5])}.",
            *(Reason("needs it", remedy=f"settle {user} first") for user in users),
        )
    procedure.versions.filter(state=State.CURRENT).update(state=State.SUPERSEDED)
    procedure.withdrawn_on = now().date()
    procedure.save(update_fields=["withdrawn_on"])
    note(actor, "withdraw_procedure", "procedure", code, f"{code} withdrawn: {reason.strip()}")
    return procedure
