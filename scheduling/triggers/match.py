"""Asking the rules: which of them match an event, what they demand, and why the others did not match.

Pure.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from scheduling.triggers.terms import Demand, EventFacts, RaiseFacts, RuleFacts, capital, plain


@dataclass(frozen=True, slots=True)
class Condition:
    """One condition of a rule tried on one event: was it met, and in words why."""

    name: str
    met: bool
    words: str


@dataclass(frozen=True, slots=True)
class Explanation:
    """How one rule looked at one event."""

    rule_code: str
    matched: bool
    conditions: tuple[Condition, ...]

    def sentence(self) -> str:
        """One sentence: "Rule belly-purge did not match because option belly-pod is not fitted."."""
        if self.matched:
            return f"Rule {self.rule_code} matched: {'; '.join(c.words for c in self.conditions)}."
        missed = " and ".join(c.words for c in self.conditions if not c.met)
        return f"Rule {self.rule_code} did not match because {missed}."


def explain(event: EventFacts, rule: RuleFacts) -> Explanation:
    """Try every condition of a rule on an event.

    Example: a rule that wants the option "belly-pod" on an aircraft without it gives `matched=False` and the
    condition "option belly-pod is not fitted".
    """
    conditions = tuple(_conditions(event, rule))
    return Explanation(rule.code, all(c.met for c in conditions), conditions)


def match(event: EventFacts, rules: Iterable[RuleFacts]) -> tuple[Demand, ...]:
    """What the rules demand because of this event, by rule code and then in the rule's order.

    Example: "panel replaced" and a rule raising purge (1) and flow test (2) give two demands, purge first.
    """
    demands: list[Demand] = []
    for rule in sorted(rules, key=lambda r: (r.code, r.version)):
        explanation = explain(event, rule)
        if explanation.matched:
            met = "; ".join(c.words for c in explanation.conditions)
            demands += [_demand(event, rule, raised, met) for raised in sorted(rule.raises, key=_by_order)]
    return tuple(demands)


def near_misses(event: EventFacts, rules: Iterable[RuleFacts]) -> tuple[Explanation, ...]:
    """Rules for this kind of event that did not match, the nearest (fewest conditions missed) first.

    Example: `near_misses(event, rules)[0].sentence()` is "Rule pod did not match because option belly-pod is
    not fitted."
    """
    looked = (explain(event, rule) for rule in rules if rule.event_kind == event.kind)
    missed = [explanation for explanation in looked if not explanation.matched]
    return tuple(sorted(missed, key=lambda e: (sum(not c.met for c in e.conditions), e.rule_code)))


@dataclass(frozen=True, slots=True)
class DryRunLine:
    """One event of the period: what would have been demanded, or which rule came nearest."""

    event: EventFacts
    demands: tuple[Demand, ...]
    nearest_miss: str


@dataclass(frozen=True, slots=True)
class DryRun:
    """What rules would have demanded over a period, before merging with work already open."""

    events_seen: int
    events_matched: int
    demands_by_procedure: tuple[tuple[str, int], ...]
    lines: tuple[DryRunLine, ...]


def dry_run(events: Iterable[EventFacts], rules: Sequence[RuleFacts]) -> DryRun:
    """What these rules would have demanded because of these events, in time order; nothing is raised.

    Example: three events of which two match a purge-and-test rule give `events_matched == 2` and two demands
    of each procedure. Disabled rules are tried as if enabled: trying them out is the point.
    """
    trial = [_enabled(rule) for rule in rules]
    lines: list[DryRunLine] = []
    for event in sorted(events, key=lambda e: (e.at, str(e.id))):
        demands, missed = match(event, trial), near_misses(event, trial)
        lines.append(DryRunLine(event, demands, missed[0].sentence() if missed and not demands else ""))
    counts = Counter(demand.procedure_code for line in lines for demand in line.demands)
    matched = sum(bool(line.demands) for line in lines)
    return DryRun(len(lines), matched, tuple(sorted(counts.items())), tuple(lines))


def _conditions(event: EventFacts, rule: RuleFacts) -> Iterable[Condition]:
    where = rule.where
    if not rule.enabled:
        yield Condition("enabled", False, "the rule is switched off")
    same_kind = event.kind == rule.event_kind
    kind_words = f"the event is {plain(event.kind)}" + (
        "" if same_kind else f", not {plain(rule.event_kind)}"
    )
    yield Condition("event_kind", same_kind, kind_words)
    if where.positions:
        yield _position(event.position, where.positions)
    if where.component_types:
        yield _one_of("component_types", "component", event.component_type or "", where.component_types)
    if where.aircraft_types:
        yield _one_of("aircraft_types", "aircraft type", event.aircraft_type, where.aircraft_types)
    for option in sorted(where.options_required):
        fitted = option in event.options
        yield Condition("options_required", fitted, f"option {option} is {'' if fitted else 'not '}fitted")
    for option in sorted(where.options_absent):
        fitted = option in event.options
        yield Condition("options_absent", not fitted, f"option {option} is {'' if fitted else 'not '}fitted")


def _position(position: str | None, prefixes: tuple[str, ...]) -> Condition:
    if position is None:
        return Condition("positions", False, "the event names no position")
    for prefix in prefixes:
        if position == prefix or position.startswith(f"{prefix}-"):
            return Condition("positions", True, f"position {position} belongs to {prefix}")
    return Condition("positions", False, f"position {position} does not belong to {' or '.join(prefixes)}")


def _one_of(name: str, noun: str, value: str, allowed: frozenset[str]) -> Condition:
    if value in allowed:
        return Condition(name, True, f"{noun} is {value}")
    given = f"{noun} {value} is not" if value else f"the event names no {noun}, wanted"
    return Condition(name, False, f"{given} {' or '.join(sorted(allowed))}")


def _demand(event: EventFacts, rule: RuleFacts, raised: RaiseFacts, met: str) -> Demand:
    because = f" {capital(raised.reason.rstrip('.'))}." if raised.reason else ""
    why = f"{capital(event.words())}: rule {rule.code} version {rule.version} matched ({met}).{because}"
    return Demand(
        event_id=event.id,
        rule_id=rule.id,
        rule_code=rule.code,
        rule_version=rule.version,
        order=raised.order,
        aircraft=event.aircraft,
        procedure_code=raised.procedure_code,
        title=raised.title,
        before=raised.before,
        at=event.at,
        why=why,
        scope=(event.position or "") if raised.per_position else "",
    )


def _enabled(rule: RuleFacts) -> RuleFacts:
    return RuleFacts(rule.id, rule.code, rule.version, rule.event_kind, rule.where, rule.raises, enabled=True)


def _by_order(raised: RaiseFacts) -> tuple[int, str]:
    return raised.order, raised.procedure_code
