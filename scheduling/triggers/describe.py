"""A trigger rule in words: when it applies, and what it raises in which order. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from scheduling.triggers.terms import BeforeKind, RaiseFacts, RuleFacts, Where, plain

Names = Mapping[str, str]


def where_words(where: Where, names: Names) -> str:
    """When a rule applies: "at wing-left and only with belly pod"; "always" where it asks for nothing.

    `names` gives a name for a code; a code without one is read with spaces.
    """
    parts = [f"at {_one_of(where.positions, names)}"] if where.positions else []
    parts += [f"to a {_one_of(where.component_types, names)}"] if where.component_types else []
    parts += [f"on a {_one_of(where.aircraft_types, names)}"] if where.aircraft_types else []
    if where.options_required:
        parts.append(f"only with {_all_of(where.options_required, names)}")
    if where.options_absent:
        parts.append(f"only without {_all_of(where.options_absent, names)}")
    return ", ".join(parts) or "always"


def raise_words(raised: RaiseFacts) -> str:
    """One task: "Panel purge, before the task that follows it, one for each position"."""
    each = ", one for each position" if raised.per_position else ""
    return f"{raised.title}, {raised.before.words()}{each}"


def rule_sentence(rule: RuleFacts, kind: str, names: Names) -> str:
    """A whole rule in one sentence.

    Example: "After “Panel replaced”, always: first Panel purge, before the task that follows it; then Panel flow
    test, before the next flight in known or forecast icing."
    """
    tasks = [raise_words(raised) for raised in rule.raises]
    first = f"first {tasks[0]}" if len(tasks) > 1 else tasks[0]
    return f"After “{kind}”, {where_words(rule.where, names)}: {'; then '.join([first, *tasks[1:]])}."


def rule_differences(old: RuleFacts, new: RuleFacts, names: Names) -> tuple[str, ...]:
    """What changed from one version to the next, one sentence each; nothing where they say the same.

    Example: "Applies was “always”, is “only with belly pod”."
    """
    found: list[str] = []
    if old.event_kind != new.event_kind:
        found.append(f"Event was “{plain(old.event_kind)}”, is “{plain(new.event_kind)}”.")
    before, after = where_words(old.where, names), where_words(new.where, names)
    if before != after:
        found.append(f"Applies was “{before}”, is “{after}”.")
    was = {raised.procedure_code: _full(raised) for raised in old.raises}
    now = {raised.procedure_code: _full(raised) for raised in new.raises}
    found += [f"No longer raises “{words}”." for code, words in was.items() if code not in now]
    for code, words in now.items():
        if code not in was:
            found.append(f"Raises “{words}” as well.")
        elif was[code] != words:
            found.append(f"Was “{was[code]}”, is “{words}”.")
    return tuple(found)


def _full(raised: RaiseFacts) -> str:
    because = f": {raised.reason}" if raised.reason else ""
    return f"{raised.order}. {raise_words(raised)}{because}"


def _one_of(codes: Iterable[str], names: Names) -> str:
    return " or ".join(sorted(names.get(code, plain(code)) for code in codes))


def _all_of(codes: Iterable[str], names: Names) -> str:
    return " and ".join(sorted(names.get(code, plain(code)) for code in codes))


BEFORE_CHOICES = {
    BeforeKind.NEXT_FLIGHT: "Before the next flight",
    BeforeKind.NEXT_ICING_FLIGHT: "Before the next flight in known or forecast icing",
    BeforeKind.WITHIN_DAYS: "Within days",
    BeforeKind.WITHIN_HOURS: "Within flight hours",
    BeforeKind.NEXT_TASK: "Before the task that follows it",
}
