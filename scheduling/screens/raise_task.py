"""Raising a task by hand, with its reason."""

from __future__ import annotations

from typing import Any

from django import forms
from django.urls import reverse

from fleet.common.actor import Verb
from fleet.screens.base import FormScreen, offer
from fleet.selectors.aircraft import aircraft_for, aircraft_list
from scheduling.models import Before
from scheduling.selectors.procedures import procedures
from scheduling.services.tasks import WantedTask, raise_task

BY_HAND = (Before.NEXT_FLIGHT, Before.NEXT_ICING_FLIGHT, Before.DUE, Before.NONE)


class RaiseForm(forms.Form):
    """What is wanted, on which aircraft, by when and why."""

    aircraft = forms.ChoiceField(label="Aircraft")
    procedure = forms.ChoiceField(label="Procedure", help_text="Procedures in force.")
    why = forms.CharField(label="Why is it wanted?", max_length=400, widget=forms.Textarea(attrs={"rows": 3}))
    before = forms.ChoiceField(
        label="By when", choices=[(before.value, before.label.capitalize()) for before in BY_HAND]
    )
    latest_day = forms.DateField(
        label="Latest day", required=False, widget=forms.DateInput(attrs={"type": "date"})
    )

    def __init__(self, *args: Any, actor: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fleet = aircraft_list(actor)
        words = [(a.registration, f"{a.registration}, {a.aircraft_type}, {a.base}") for a in fleet]
        offer(self, "aircraft", words)
        in_force = [p for p in procedures(actor) if any(v.state == "current" for v in p.versions.all())]
        offer(self, "procedure", [(p.code, p.title) for p in in_force])


class RaiseTaskScreen(FormScreen):
    """Raise a task; the open one of the same work gets the reason as well."""

    template_name = "scheduling/raise.html"
    form_class = RaiseForm
    done = "The task is raised."
    verb = Verb.RAISE_TASK

    def get_form_kwargs(self) -> dict[str, Any]:
        return {**super().get_form_kwargs(), "actor": self.actor}

    def get_initial(self) -> dict[str, Any]:
        return {"aircraft": self.request.GET.get("aircraft", ""), "before": Before.NONE.value}

    def act(self, data: dict[str, Any]) -> str:
        """Raise it and go to its page."""
        wanted = WantedTask(
            aircraft_id=aircraft_for(self.actor, data["aircraft"]).pk,
            procedure_code=data["procedure"],
            title="",
            why=data["why"],
            before=data["before"],
            latest_day=data["latest_day"],
        )
        task, _ = raise_task(actor=self.actor, wanted=wanted)
        return reverse("records:task", args=[task.pk])
