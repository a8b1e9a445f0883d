"""Writing a rule: a form whose tasks are rows, tried on the last year before it is saved."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from fleet.common.actor import Verb, require
from fleet.common.errors import Conflict, Invalid, Refusal
from fleet.models import Position
from fleet.screens.base import Screen
from scheduling.screens.rows import Row, changed, forms_of, rows_from
from scheduling.screens.rule_forms import (
    BLANK,
    RaiseForm,
    RuleForm,
    content_of,
    form_data_of,
    procedure_choices,
)
from scheduling.screens.rules import run_parts
from scheduling.selectors.rules import rule_for, trial_of, try_rules
from scheduling.services.rules import RuleText, checked_content, write_rule
from scheduling.triggers.match import DryRun


class RuleEditor(Screen):
    """Write a rule or its next version. `do` says what the button wants: a row command, try, or save."""

    template_name = "scheduling/rule_edit.html"

    def get(self, request: HttpRequest, code: str = "", **_: Any) -> HttpResponse:
        require(self.actor, Verb.EDIT_PROGRAMME)
        if code:
            frame, rows = form_data_of(rule_for(self.actor, code))
            form = RuleForm(initial=frame, actor=self.actor, is_new=False)
        else:
            kind = request.GET.get("kind", "")
            form, rows = RuleForm(initial={"event_kind": kind}, actor=self.actor, is_new=True), [dict(BLANK)]
        return self._show(form, rows, code)

    def post(self, request: HttpRequest, code: str = "", **_: Any) -> HttpResponse:
        require(self.actor, Verb.EDIT_PROGRAMME)
        command = request.POST.get("do", "keep")
        rows = changed(rows_from(request.POST, "raises", RaiseForm), "raises", command, BLANK)
        form = RuleForm(request.POST, actor=self.actor, is_new=not code)
        if command not in ("save", "try"):
            return self._show(RuleForm(initial=_written(form), actor=self.actor, is_new=not code), rows, code)
        if not form.is_valid():
            return self._show(form, rows, code, status=422)
        return self._carry_out(command, form, rows, code)

    def _carry_out(self, command: str, form: RuleForm, rows: list[Row], code: str) -> HttpResponse:
        text = self._text(form, rows, code)
        try:
            if command == "try":
                checked_content(self.actor, text)
                trial = trial_of(text.code, text.event_kind, text.content)
                return self._show(form, rows, code, run=try_rules(self.actor, trial))
            if code and str(rule_for(self.actor, code).version) != self.request.POST.get("version"):
                raise Conflict(
                    "changed_meanwhile", "Somebody wrote a newer version meanwhile. Open the rule again."
                )
            rule = write_rule(actor=self.actor, text=text)
        except (Invalid, Conflict) as refusal:
            return self._show(form, rows, code, refusal=refusal, status=refusal.status)
        messages.success(self.request, f"Rule {rule.code} version {rule.version} is in force.")
        return HttpResponseRedirect(reverse("scheduling:rule", args=[rule.code]))

    def _text(self, form: RuleForm, rows: list[Row], code: str) -> RuleText:
        data = form.cleaned_data
        content = content_of(data, rows, dict(procedure_choices(self.actor)))
        return RuleText(
            code=code or data["code"],
            event_kind=data["event_kind"],
            title=data["title"],
            content=content,
            source=data["source"],
        )

    def _show(
        self,
        form: RuleForm,
        rows: list[Row],
        code: str,
        run: DryRun | None = None,
        refusal: Refusal | None = None,
        status: int = 200,
    ) -> HttpResponse:
        row_forms = forms_of(rows, "raises", RaiseForm, choices=procedure_choices(self.actor))
        if refusal is not None:
            place_reasons(refusal, form, row_forms)
        positions = Position.objects.filter(aircraft_type__operator_id=self.actor.operator_id)
        context = {
            "form": form,
            "row_forms": row_forms,
            **(run_parts(self.actor, run) if run else {}),
            "code": code,
            "version": rule_for(self.actor, code).version if code else "",
            "position_codes": positions.order_by("code").values_list("code", flat=True).distinct(),
            "view": self,
        }
        return self.render_to_response(context, status=status)


def _written(form: Form) -> dict[str, Any]:
    """What stands in a form that is not to be checked yet."""
    return {bound.name: bound.value() for bound in form}


def place_reasons(refusal: Refusal, form: Form, rows: list[Form]) -> None:
    """Each reason beside the field it names: `content.raises.0.before.amount` is row 0's amount."""
    for reason in refusal.reasons:
        words = reason.beside()
        parts = reason.field.removeprefix("content.").split(".")
        if parts[0] == "raises" and len(parts) > 2 and parts[1].isdigit() and int(parts[1]) < len(rows):
            name = "amount" if parts[-1] == "amount" else "before" if parts[2] == "before" else parts[2]
            rows[int(parts[1])].add_error(name if name in rows[0].fields else None, words)
        else:
            name = parts[-1] if parts[0] == "where" else parts[0]
            form.add_error(name if name in form.fields else None, words)
    if not refusal.reasons:
        form.add_error(None, refusal.sentence)
