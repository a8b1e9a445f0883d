"""Trigger rules and kinds of event as data: writing the next version, switching, adding and retiring."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.utils.text import slugify

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import now
from fleet.common.errors import Conflict, Invalid, Reason
from fleet.models import Operator
from fleet.services.trail import note
from scheduling.gather.rules import known_for, strangers_in, where_known
from scheduling.models import EventKind, ProcedureVersion, TriggerRule
from scheduling.selectors.events import event_kind_for
from scheduling.selectors.rules import rule_for
from scheduling.triggers.rule_form import BadRule, FieldError, rule_from_data


@dataclass(frozen=True, slots=True)
class RuleText:
    """What somebody wants a rule to say; `content` has `where` and `raises` as `rule_from_data` reads them."""

    code: str
    event_kind: str
    title: str
    content: Mapping[str, Any]
    source: str


@transaction.atomic
def write_rule(*, actor: Actor, text: RuleText) -> TriggerRule:
    """Write a rule, or the next version of one. The same text again writes nothing.

    Refuses with every wrong field named: unknown kinds, procedures, options, positions, component kinds, types.
    """
    require(actor, Verb.EDIT_PROGRAMME)
    _lock_operator(actor)
    checked_content(actor, text)
    kind = event_kind_for(actor, text.event_kind)
    present = (
        TriggerRule.objects.select_for_update(of=("self",))
        .select_related("event_kind")
        .filter(operator_id=actor.operator_id, code=text.code, is_current=True)
        .first()
    )
    if present is not None and _says(present) == _says_text(text):
        return present
    if present is not None:
        present.is_current = False
        present.save(update_fields=["is_current"])
    rule = TriggerRule.objects.create(
        operator_id=actor.operator_id,
        code=text.code,
        version=present.version + 1 if present else 1,
        is_enabled=present.is_enabled if present else True,
        event_kind=kind,
        title=text.title.strip(),
        content={"where": text.content.get("where") or {}, "raises": text.content.get("raises")},
        source=text.source.strip(),
        written_by_id=actor.user_id,
        written_at=now(),
    )
    note(actor, "write_rule", "rule", rule.code, f"Rule {rule.code} version {rule.version}: {rule.title}")
    return rule


def checked_content(actor: Actor, text: RuleText) -> None:
    """Refuse a text that is no rule here; every wrong field is named at once."""
    errors: list[FieldError] = []
    for name, value in (("code", text.code), ("title", text.title), ("source", text.source)):
        if not value.strip():
            errors.append(FieldError(name, "", "is missing", "fill it in"))
    if text.code != slugify(text.code):
        errors.append(FieldError("code", text.code, "is no code", "use small letters, digits and hyphens"))
    try:
        facts = rule_from_data(
            {**text.content, "id": 0, "code": text.code or "-", "version": 1, "event_kind": text.event_kind},
            known_for(actor.operator_id),
        )
        errors += strangers_in(facts.where, where_known(actor.operator_id))
    except BadRule as bad:
        errors += bad.errors
    if errors:
        reasons = tuple(Reason(e.detail, _path(e.field), e.value, e.remedy) for e in errors)
        words = "; ".join(reason.sentence() for reason in reasons[:4])
        raise Invalid("bad_rule", f"The rule needs another look: {words}", *reasons)


def _path(field_name: str) -> str:
    """`raises[0].before.kind` as the path it has in what was sent: `content.raises.0.before.kind`."""
    plain = field_name.replace("[", ".").replace("]", "")
    return f"content.{plain}" if plain.split(".")[0] in ("where", "raises") else plain


def _says(rule: TriggerRule) -> tuple[object, ...]:
    return rule.event_kind.code, rule.title, rule.source, dict(rule.content)


def _says_text(text: RuleText) -> tuple[object, ...]:
    content = {"where": text.content.get("where") or {}, "raises": text.content.get("raises")}
    return text.event_kind, text.title.strip(), text.source.strip(), content


@transaction.atomic
def set_rule_enabled(*, actor: Actor, code: str, enabled: bool) -> TriggerRule:
    """Switch a rule on or off; what it raised stays. Switching on refuses what has gone meanwhile."""
    require(actor, Verb.EDIT_PROGRAMME)
    _lock_operator(actor)
    rule = rule_for(actor, code)
    if rule.is_enabled == enabled:
        return rule
    if enabled:
        checked_content(
            actor, RuleText(rule.code, rule.event_kind.code, rule.title, rule.content, rule.source)
        )
    rule.is_enabled = enabled
    rule.save(update_fields=["is_enabled"])
    word = "on" if enabled else "off"
    note(actor, f"switch_rule_{word}", "rule", rule.code, f"Rule {rule.code} switched {word}")
    return rule


@dataclass(frozen=True, slots=True)
class KindText:
    """A kind of event as somebody wants it."""

    code: str
    name: str
    change: str = EventKind.Change.NONE
    component_kinds: tuple[str, ...] = ()
    needs_position: bool = False
    restarts_baseline: bool = False
    is_defect: bool = False
    order: int = 100


@transaction.atomic
def add_event_kind(*, actor: Actor, kind: KindText) -> EventKind:
    """Add a kind of event that people report. Refuses a code already there and kinds of component unknown here."""
    require(actor, Verb.EDIT_PROGRAMME)
    _lock_operator(actor)
    _check_kind(actor, kind)
    row = EventKind.objects.create(
        operator_id=actor.operator_id,
        code=kind.code,
        name=kind.name.strip(),
        change=kind.change,
        component_kinds=list(kind.component_kinds),
        needs_position=kind.needs_position or kind.change != EventKind.Change.NONE,
        restarts_baseline=kind.restarts_baseline,
        is_defect=kind.is_defect,
        order=kind.order,
    )
    note(actor, "add_event_kind", "event_kind", row.code, f"Kind of event added: {row.name}")
    return row


def _check_kind(actor: Actor, kind: KindText) -> None:
    reasons = []
    if not kind.name.strip():
        reasons.append(Reason("is missing", "name", remedy="name it in a few words"))
    if not kind.code or kind.code != slugify(kind.code):
        reasons.append(Reason("is no code", "code", kind.code, "use small letters, digits and hyphens"))
    if EventKind.objects.filter(operator_id=actor.operator_id, code=kind.code).exists():
        reasons.append(Reason("is there already", "code", kind.code, "choose another, or use that one"))
    if kind.change not in EventKind.Change.values:
        known = ", ".join(EventKind.Change.values)
        reasons.append(Reason("is no change", "change", kind.change, f"use one of: {known}"))
    known_kinds = where_known(actor.operator_id).component_types
    for code in kind.component_kinds:
        if code not in known_kinds:
            reasons.append(Reason("is no kind of component here", "component_kinds", code, "choose another"))
    if kind.change != EventKind.Change.NONE and not kind.component_kinds:
        reasons.append(Reason("names none", "component_kinds", remedy="say which components it is about"))
    if reasons:
        raise Invalid("bad_event_kind", "; ".join(r.sentence() for r in reasons), *reasons)


@transaction.atomic
def retire_event_kind(*, actor: Actor, code: str) -> EventKind:
    """A kind of event is no longer reported; what was reported stays.

    Refuses while a rule in force answers it or a procedure in force reports it (`kind_in_use`).
    """
    require(actor, Verb.EDIT_PROGRAMME)
    _lock_operator(actor)
    kind = event_kind_for(actor, code)
    if kind.retired_on is not None:
        return kind
    users = [f"rule {rule.code}" for rule in kind.rules.filter(is_current=True, is_enabled=True)]
    current = ProcedureVersion.objects.filter(procedure__operator_id=actor.operator_id, state="current")
    users += [
        f"procedure {version.procedure.code}"
        for version in current.select_related("procedure")
        if version.content.get("follow_up_on_fail") == code
    ]
    users += [
        f"requirement {line.code}" for line in kind.requirements.filter(is_current=True, retired_on=None)
    ]
    if users:
        raise Conflict(
            "kind_in_use",
            f"“{kind.name}” is still in use: {', '.join(users)}.",
            *(Reason("uses it", remedy=f"change or switch off {user} first") for user in users),
        )
    kind.retired_on = now().date()
    kind.save(update_fields=["retired_on"])
    note(actor, "retire_event_kind", "event_kind", kind.code, f"Kind of event retired: {kind.name}")
    return kind


def _lock_operator(actor: Actor) -> None:
    """Programme data of one operator is changed by one person at a time."""
    Operator.objects.select_for_update().get(pk=actor.operator_id)
