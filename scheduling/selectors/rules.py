"""Reads about trigger rules: in force, by version, and tried out on what was reported."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.db.models import QuerySet

from fleet.common.actor import Actor
from fleet.common.clock import now
from fleet.common.errors import NotFound
from fleet.models import AircraftType, ComponentKind
from scheduling.gather.rules import option_names
from scheduling.gather.work import current_rules, event_facts_of_all, rule_facts
from scheduling.models import Event, TriggerRule
from scheduling.triggers.describe import raise_words, rule_differences, rule_sentence, where_words
from scheduling.triggers.match import DryRun, dry_run
from scheduling.triggers.rule_form import rule_from_data
from scheduling.triggers.terms import RuleFacts

LONGEST_DRY_RUN = 1096


def rules(actor: Actor) -> QuerySet[TriggerRule]:
    """The operator's rules, current versions only, by code."""
    return (
        TriggerRule.objects.filter(operator_id=actor.operator_id, is_current=True)
        .select_related("event_kind", "written_by")
        .order_by("event_kind__order", "code")
    )


def rule_for(actor: Actor, code: str) -> TriggerRule:
    """The current version of one rule; a stranger's is not found."""
    row = rules(actor).filter(code=code).first()
    if row is None:
        raise NotFound("rule_not_found", f"There is no rule {code} here.")
    return row


def rule_versions(actor: Actor, code: str) -> QuerySet[TriggerRule]:
    """Every version of one rule, newest first."""
    return (
        TriggerRule.objects.filter(operator_id=actor.operator_id, code=code)
        .select_related("event_kind", "written_by")
        .order_by("-version")
    )


def facts_of(rule: TriggerRule) -> RuleFacts:
    """A stored rule as the matching reads it."""
    return rule_facts(rule)


def trial_of(code: str, event_kind: str, content: Mapping[str, Any]) -> RuleFacts:
    """A rule that is not stored, for trying out."""
    return rule_from_data(
        {**content, "id": 0, "code": code or "trial", "version": 1, "event_kind": event_kind}
    )


def try_rules(actor: Actor, trial: RuleFacts | None = None, days: int = 365) -> DryRun:
    """What the rules in force (or only the trial) would have raised over the last days; nothing is written."""
    since = now() - timedelta(days=min(max(days, 1), LONGEST_DRY_RUN))
    rows = Event.objects.filter(aircraft__operator_id=actor.operator_id, at__gte=since)
    if trial is not None:
        rows = rows.filter(kind__code=trial.event_kind)
    return dry_run(event_facts_of_all(rows), [trial] if trial else current_rules(actor.operator_id))


@dataclass(frozen=True, slots=True)
class RuleReading:
    """One version of a rule in words, with what it changed against the version before."""

    rule: TriggerRule
    sentence: str
    applies: str
    tasks: tuple[str, ...]
    reasons: tuple[str, ...]
    differences: tuple[str, ...] = ()


def names_of(actor: Actor) -> dict[str, str]:
    """Name by code of what conditions may name."""
    operator_id = actor.operator_id
    rows = [
        *ComponentKind.objects.filter(operator_id=operator_id).values_list("code", "name"),
        *AircraftType.objects.filter(operator_id=operator_id).values_list("code", "name"),
        *option_names(operator_id).items(),
    ]
    return dict(rows)


def readings_of(actor: Actor, rows: Iterable[TriggerRule]) -> list[RuleReading]:
    """Rules in words, in the order given."""
    names = names_of(actor)
    return [_reading(rule, names) for rule in rows]


def history_of(actor: Actor, code: str) -> list[RuleReading]:
    """Every version of a rule in words, newest first, each with what it changed."""
    names = names_of(actor)
    rows = list(rule_versions(actor, code))
    older = [*rows[1:], None]
    return [_reading(new, names, old) for new, old in zip(rows, older, strict=True)]


def _reading(rule: TriggerRule, names: Mapping[str, str], old: TriggerRule | None = None) -> RuleReading:
    facts = rule_facts(rule)
    changes = rule_differences(rule_facts(old), facts, names) if old else ()
    if old and old.title != rule.title:
        changes = (f"Title was “{old.title}”, is “{rule.title}”.", *changes)
    if old and old.source != rule.source:
        changes = (*changes, f"Source was “{old.source}”, is “{rule.source}”.")
    return RuleReading(
        rule=rule,
        sentence=rule_sentence(facts, rule.event_kind.name, names),
        applies=where_words(facts.where, names),
        tasks=tuple(raise_words(raised) for raised in facts.raises),
        reasons=tuple(raised.reason for raised in facts.raises),
        differences=changes,
    )
