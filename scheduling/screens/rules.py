"""Trigger rules: the list, one rule with its versions and its last year, switching, kinds of event."""

from __future__ import annotations

from typing import Any

from django import forms
from django.urls import reverse

from fleet.common.actor import Actor, Verb
from fleet.quantities import plain_number
from fleet.screens.base import CommandScreen, FormScreen, Screen, offer
from fleet.selectors.aircraft import component_kinds
from scheduling.models import EventKind
from scheduling.selectors.events import event_kinds
from scheduling.selectors.procedures import procedures
from scheduling.selectors.rules import facts_of, history_of, readings_of, rule_for, rules, try_rules
from scheduling.services.rules import KindText, add_event_kind, retire_event_kind, set_rule_enabled
from scheduling.triggers.match import DryRun


def run_parts(actor: Actor, run: DryRun) -> dict[str, Any]:
    """A trial run as the page shows it, procedures by their titles."""
    titles = dict(procedures(actor).values_list("code", "title"))
    return {"run": run, "tally": [(titles.get(code, code), n) for code, n in run.demands_by_procedure]}


class RuleListScreen(Screen):
    """Every rule in words."""

    template_name = "scheduling/rules.html"

    def page(self) -> dict[str, Any]:
        """Current versions, switched off ones too."""
        rows = rules(self.actor)
        if self.request.GET.get("kind"):
            rows = rows.filter(event_kind__code=self.request.GET["kind"])
        kinds = event_kinds(self.actor)
        answered = {rule.event_kind_id for rule in rows if rule.is_enabled}
        return {
            "readings": readings_of(self.actor, rows),
            "kinds": list(kinds.values_list("code", "name")),
            "silent": [
                kind for kind in kinds if kind.pk not in answered and not self.request.GET.get("kind")
            ],
            "may_edit": self.actor.may(Verb.EDIT_PROGRAMME),
        }


class RuleScreen(Screen):
    """One rule: what it says, what it would have raised over the last year, and its versions."""

    template_name = "scheduling/rule.html"

    def page(self, code: str) -> dict[str, Any]:
        """The current version, tried on what was reported."""
        rule = rule_for(self.actor, code)
        history = history_of(self.actor, code)
        return {
            "rule": rule,
            "reading": history[0],
            "history": history,
            **run_parts(self.actor, try_rules(self.actor, facts_of(rule))),
            "may_edit": self.actor.may(Verb.EDIT_PROGRAMME),
        }


class RuleSwitch(CommandScreen):
    """Switch a rule on or off."""

    enabled = True

    def act(self, code: str) -> str:
        """Go back to the rule."""
        set_rule_enabled(actor=self.actor, code=code, enabled=self.enabled)
        return reverse("scheduling:rule", args=[code])


class DryRunScreen(Screen):
    """Every rule in force, tried on what was reported over the last days."""

    template_name = "scheduling/dry_run.html"

    def page(self) -> dict[str, Any]:
        """One line for each event."""
        days = plain_number(self.request.GET.get("days", "")) or 365
        run = try_rules(self.actor, None, days)
        return {**run_parts(self.actor, run), "days": days, "spans": [30, 90, 365, 1096]}


class KindForm(forms.Form):
    """A kind of event to be added."""

    code = forms.SlugField(
        label="Code", max_length=40, help_text="Small letters, digits and hyphens, such as bird-strike."
    )
    name = forms.CharField(label="Name", max_length=100)
    change = forms.ChoiceField(
        label="What it does to the configuration",
        choices=[(value, words.capitalize()) for value, words in EventKind.Change.choices],
    )
    component_kinds = forms.MultipleChoiceField(
        label="Which components it is about",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Only their positions may then be named. None ticked: every position.",
    )
    needs_position = forms.BooleanField(label="A position must be named", required=False)
    restarts_baseline = forms.BooleanField(label="Trends start a new baseline here", required=False)
    is_defect = forms.BooleanField(
        label="Something was found wrong: its work is closed, never withdrawn", required=False
    )

    def __init__(self, *args: Any, actor: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer(self, "component_kinds", component_kinds(actor).values_list("code", "name"))


class KindScreen(FormScreen):
    """Kinds of event: those in use, those retired, and a form to add one."""

    template_name = "scheduling/kinds.html"
    form_class = KindForm
    done = "The kind of event is added."

    def get_form_kwargs(self) -> dict[str, Any]:
        return {**super().get_form_kwargs(), "actor": self.actor}

    def page(self) -> dict[str, Any]:
        """Every kind, with whether the actor may change them."""
        names = dict(component_kinds(self.actor).values_list("code", "name"))
        rows = event_kinds(self.actor, retired=True)
        return {
            "kinds": [(kind, [names.get(code, code) for code in kind.component_kinds]) for kind in rows],
            "may_edit": self.actor.may(Verb.EDIT_PROGRAMME),
        }

    def act(self, data: dict[str, Any]) -> str:
        """Add it."""
        text = KindText(**{**data, "component_kinds": tuple(data["component_kinds"])})
        add_event_kind(actor=self.actor, kind=text)
        return reverse("scheduling:event-kinds")


class RetireKind(CommandScreen):
    """A kind of event is no longer reported."""

    done = "The kind of event is retired."

    def act(self, code: str) -> str:
        """Go back to the list."""
        retire_event_kind(actor=self.actor, code=code)
        return reverse("scheduling:event-kinds")
