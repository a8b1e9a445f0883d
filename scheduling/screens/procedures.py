"""Procedures: the list, one version for reading and printing, its history, publishing and withdrawing."""

from __future__ import annotations

from typing import Any

from django import forms
from django.urls import reverse

from fleet.common.actor import Verb
from fleet.screens.base import CommandScreen, FormScreen, Screen
from scheduling.models import Procedure, ProcedureVersion
from scheduling.selectors.procedures import (
    history_of,
    procedure_for,
    procedures,
    reading_of,
    shown_version,
    users_of,
    version_for,
)
from scheduling.services.procedures import discard_draft, publish_version, withdraw_procedure

State = ProcedureVersion.State
LEVELS = {State.CURRENT: "clear", State.DRAFT: "soon", State.SUPERSEDED: "unknown"}
WORDS = {State.CURRENT: "In force", State.DRAFT: "Draft", State.SUPERSEDED: "Superseded"}


def mark_of(procedure: Procedure) -> tuple[str, str]:
    """Level and words of a procedure as a whole."""
    states = {version.state for version in procedure.versions.all()}
    if procedure.withdrawn_on:
        return "unknown", "Withdrawn"
    return ("clear", "In force") if State.CURRENT in states else ("soon", "Draft only")


class ProcedureListScreen(Screen):
    """Every procedure."""

    template_name = "scheduling/procedures.html"

    def page(self) -> dict[str, Any]:
        """Rows with the version in force and what a draft would change."""
        asked = self.request.GET
        rows = procedures(self.actor)
        if asked.get("q"):
            rows = rows.filter(title__icontains=asked["q"]) | rows.filter(code__icontains=asked["q"])
        made = [(p, shown_version(p), *mark_of(p)) for p in rows]
        if asked.get("state"):
            made = [row for row in made if row[3] == asked["state"]]
        drafts = {p.pk for p, *_ in made if any(v.state == State.DRAFT for v in p.versions.all())}
        return {
            "rows": [(*row, row[0].pk in drafts) for row in made],
            "states": [(words, words) for words in ("In force", "Draft only", "Withdrawn")],
            "may_edit": self.actor.may(Verb.EDIT_PROGRAMME),
        }


class ProcedureScreen(Screen):
    """One procedure: the text in force (or the version asked for), its points, and the history in words."""

    template_name = "scheduling/procedure.html"

    def page(self, code: str, number: int = 0) -> dict[str, Any]:
        """The version in words and what may be done with it."""
        procedure = procedure_for(self.actor, code)
        version = version_for(self.actor, code, number) if number else shown_version(procedure)
        state = State(version.state)
        drafts = [v for v in procedure.versions.all() if v.state == State.DRAFT]
        return {
            "procedure": procedure,
            "version": version,
            "reading": reading_of(self.actor, version),
            "history": history_of(procedure.versions.all()),
            "draft": drafts[0] if drafts else None,
            "level": LEVELS[state],
            "words": WORDS[state],
            "levels": LEVELS,
            "may_edit": self.actor.may(Verb.EDIT_PROGRAMME),
            "users": list(users_of(procedure)),
        }


class PublishProcedure(CommandScreen):
    """Put the draft in force."""

    done = "The draft is in force. Work in hand keeps its own version."

    def act(self, code: str) -> str:
        """Show the procedure."""
        publish_version(actor=self.actor, code=code)
        return reverse("scheduling:procedure", args=[code])


class DiscardDraft(CommandScreen):
    """Throw the draft away."""

    done = "The draft is thrown away."

    def act(self, code: str) -> str:
        """Show what is left, or the list where nothing is."""
        left = discard_draft(actor=self.actor, code=code)
        return reverse("scheduling:procedure", args=[code]) if left else reverse("scheduling:procedures")


class WithdrawForm(forms.Form):
    """Why a procedure is taken out of force."""

    reason = forms.CharField(label="Why is it withdrawn?", max_length=300)


class WithdrawProcedure(FormScreen):
    """Take a procedure out of force, with a reason; says first what still needs it."""

    template_name = "scheduling/procedure_withdraw.html"
    form_class = WithdrawForm
    done = "The procedure is withdrawn."
    verb = Verb.EDIT_PROGRAMME

    def page(self, code: str) -> dict[str, Any]:
        """What still needs it."""
        procedure = procedure_for(self.actor, code)
        return {"procedure": procedure, "users": list(users_of(procedure))}

    def act(self, data: dict[str, Any]) -> str:
        """Show the procedure."""
        withdraw_procedure(actor=self.actor, code=self.kwargs["code"], reason=data["reason"])
        return reverse("scheduling:procedure", args=[self.kwargs["code"]])
