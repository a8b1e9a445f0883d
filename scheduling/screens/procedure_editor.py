"""Writing a procedure: fields and rows that work without scripts, and the data itself for experts."""

from __future__ import annotations

import json
from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from fleet.common.actor import Verb, require
from fleet.common.errors import Conflict, Invalid, Refusal
from fleet.screens.base import Screen
from scheduling.models import ProcedureVersion
from scheduling.screens.procedure_data import Rows, content_of, frame_of, rows_of, with_keys
from scheduling.screens.procedure_forms import FRAME, ProcedureForm, draft_from, offers_for
from scheduling.screens.procedure_places import place_reasons
from scheduling.screens.procedure_rows import ROW_FORMS, blank
from scheduling.screens.rows import changed, forms_of, rows_from
from scheduling.selectors.procedures import draft_or_shown, procedure_for, text_digest
from scheduling.services.procedures import check_draft, save_draft

EMPTY: Rows = {"equipment": [], "points": [], "steps": [blank("steps")]}
STARTS = {"minutes": 60, "people": 1, "consequence": "icing"}


class ProcedureEditor(Screen):
    """Write a procedure or its next version. `do` says what the button wants: a row command, check or save."""

    template_name = "scheduling/procedure_edit.html"

    def get(self, request: HttpRequest, code: str = "", **_: Any) -> HttpResponse:
        require(self.actor, Verb.EDIT_PROGRAMME)
        if not code:
            form = ProcedureForm(initial=STARTS, actor=self.actor, is_new=True)
            return self._show(form, EMPTY, code)
        version = draft_or_shown(procedure_for(self.actor, code))
        form = ProcedureForm(initial=_initial(version), actor=self.actor, is_new=False)
        return self._show(form, rows_of(version.content), code)

    def post(self, request: HttpRequest, code: str = "", **_: Any) -> HttpResponse:
        require(self.actor, Verb.EDIT_PROGRAMME)
        if code:
            procedure_for(self.actor, code)
        command = request.POST.get("do", "keep")
        form = ProcedureForm(request.POST, actor=self.actor, is_new=not code)
        if command == "data":
            return self._take_data(form, code)
        posted = {name: rows_from(request.POST, name, made) for name, made in ROW_FORMS.items()}
        rows = with_keys({name: changed(of, name, command, blank(name)) for name, of in posted.items()})
        if command not in ("save", "check"):
            return self._show(self._unchecked(form, code), rows, code)
        if not form.is_valid():
            return self._show(form, rows, code, status=422)
        return self._carry_out(command, form, rows, code)

    def _unchecked(self, form: ProcedureForm, code: str, **more: Any) -> ProcedureForm:
        """What stands in the form, shown again without complaint: it is not finished yet."""
        initial = {bound.name: bound.value() for bound in form} | more
        return ProcedureForm(initial=initial, actor=self.actor, is_new=not code)

    def _take_data(self, form: ProcedureForm, code: str) -> HttpResponse:
        """Fill fields and rows from the data as it was written."""
        written = self.request.POST.get("data", "")
        try:
            content = json.loads(written)
            rows, frame = rows_of(content), frame_of(content)
        except (ValueError, TypeError, AttributeError, KeyError) as error:
            refusal = Invalid("bad_data", f"This is no procedure’s data: {error}")
            posted = {name: rows_from(self.request.POST, name, made) for name, made in ROW_FORMS.items()}
            return self._show(form, posted, code, refusal=refusal, data=written, status=422)
        return self._show(self._unchecked(form, code, **frame), rows, code)

    def _carry_out(self, command: str, form: ProcedureForm, rows: Rows, code: str) -> HttpResponse:
        draft = draft_from(form.cleaned_data, code, content_of(form.cleaned_data, rows))
        try:
            if command == "check":
                check_draft(self.actor, draft)
                messages.success(self.request, "Nothing is wrong with this text. It is not saved yet.")
                return self._show(form, rows, code)
            self._must_be_fresh(code)
            version = save_draft(actor=self.actor, draft=draft)
        except (Invalid, Conflict) as refusal:
            return self._show(form, rows, code, refusal=refusal, status=refusal.status)
        messages.success(self.request, f"Draft of version {version.number} saved. It is not in force yet.")
        return HttpResponseRedirect(
            reverse("scheduling:procedure-version", args=[draft.code, version.number])
        )

    def _must_be_fresh(self, code: str) -> None:
        if code and text_digest(procedure_for(self.actor, code)) != self.request.POST.get("read"):
            raise Conflict(
                "changed_meanwhile",
                "Somebody changed this procedure meanwhile. Open it again in another tab.",
            )

    def _show(
        self,
        form: Form,
        rows: Rows,
        code: str,
        *,
        refusal: Refusal | None = None,
        data: str = "",
        status: int = 200,
    ) -> HttpResponse:
        offers = offers_for(self.actor, rows)
        made = {name: forms_of(rows[name], name, kind, offers=offers) for name, kind in ROW_FORMS.items()}
        if refusal is not None:
            place_reasons(refusal, form, made)
        frame = {bound.name: bound.value() or "" for bound in form}
        context = {
            "form": form,
            **made,
            "code": code,
            "read": self.request.POST.get("read") or (_read(self, code) if code else ""),
            "data": data or json.dumps(content_of(frame, rows), indent=2, ensure_ascii=False),
            "view": self,
        }
        return self.render_to_response(context, status=status)


def _read(view: ProcedureEditor, code: str) -> str:
    return text_digest(procedure_for(view.actor, code))


def _initial(version: ProcedureVersion) -> dict[str, Any]:
    """A stored version as the frame shows it; why the next one is written is not known yet."""
    procedure = version.procedure
    known = {name: getattr(version, name) for name in FRAME if hasattr(version, name)}
    own = {
        "title": procedure.title,
        "aircraft_type": procedure.aircraft_type.code if procedure.aircraft_type else "",
        "minutes": version.minutes,
        "people": version.people,
        "change_note": version.change_note if version.state == ProcedureVersion.State.DRAFT else "",
    }
    return {**known, **own, **frame_of(version.content)}
