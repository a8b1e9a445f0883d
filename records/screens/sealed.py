"""Sealed records: the list, one record in full, its exact text, its amendment, its check."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.views.generic import View

from fleet.common.actor import Verb
from fleet.common.errors import Conflict, Invalid, NotAllowed, Refusal
from fleet.quantities import plain_number
from fleet.screens.base import Screen, ScreenMixin
from fleet.selectors.aircraft import aircraft_list
from fleet.selectors.people import people
from fleet.services.sign_in import prove_password
from records.models import Signature, SignedRecord
from records.screens.links import link
from records.screens.paper import paper_of
from records.seal.canonical import NotSealable
from records.selectors.record_check import check_of, neighbours_of, record_by_digest
from records.selectors.signed import RecordQuery, payload_of, record_for, records
from records.selectors.verification import verify_aircraft
from records.services.amendments import LONGEST, Amendment, Draft, amend_record, amendment_content
from scheduling.models import Procedure

VERDICTS = [("pass", "PASS"), ("fail", "FAIL"), ("invalid", "INVALID"), ("incomplete", "INCOMPLETE")]
KINDS = [(kind.value, kind.label) for kind in SignedRecord.Kind]
PAGE = 25


class RecordList(Screen):
    """Every sealed record, filtered and paged."""

    template_name = "records/records.html"

    def page(self) -> dict[str, Any]:
        """The records asked for, newest first."""
        asked = self.request.GET
        rows = records(self.actor, query_of(asked))
        person = plain_number(asked.get("person", ""))
        if person is not None:
            rows = rows.filter(run__signatures__user_id=person)
        aircraft = aircraft_list(self.actor, withdrawn=True)
        procedures = Procedure.objects.filter(operator_id=self.actor.operator_id)
        return {
            "found": Paginator(rows, PAGE).get_page(asked.get("page")),
            "aircraft_options": [(row.registration, row.registration) for row in aircraft],
            "procedure_options": list(procedures.order_by("title").values_list("code", "title")),
            "person_options": [(row.pk, row.full_name) for row in people(self.actor)],
            "verdict_options": VERDICTS,
            "kind_options": KINDS,
        }


def query_of(asked: Any) -> RecordQuery:
    """The filters of the address; what is no date is left out."""
    return RecordQuery(
        aircraft=asked.get("aircraft", ""),
        procedure=asked.get("procedure", ""),
        verdict=asked.get("verdict", ""),
        kind=asked.get("kind", ""),
        search=asked.get("q", "").strip(),
        since=_day(asked.get("since", "")),
        until=_day(asked.get("until", "")),
    )


def _day(written: str) -> date | None:
    try:
        return date.fromisoformat(written)
    except ValueError:
        return None


class RecordPage(Screen):
    """One record: what it says, who signed, and whether it still is what was sealed."""

    template_name = "records/record.html"

    def page(self, number: str) -> dict[str, Any]:
        """The record with its neighbours and its check; the whole chain where that is asked."""
        record = record_for(self.actor, number)
        zone = record.aircraft.base.zone
        before, after = neighbours_of(record)
        payload = readable(record)
        whole = verify_aircraft(record.aircraft) if self.request.GET.get("check") == "chain" else None
        return {
            "record": record,
            "zone": zone,
            "paper": paper_of(payload, zone),
            "signatures": payload.get("signatures", []),
            "amendments": list(record.amendments.order_by("sequence")),
            "photos": list(record.run.photos.all()) if record.run else [],
            "before": before,
            "after": after,
            "check": check_of(record, before, after),
            "whole": whole,
            "may_amend": self.actor.may(Verb.AMEND),
            "pdf_url": link("records:record-pdf", record.number),
        }


def readable(record: SignedRecord) -> Mapping[str, Any]:
    """What the record says; nothing where its text was spoilt, which the check beside it says."""
    try:
        return payload_of(record)
    except NotSealable:
        return {}


class RecordText(ScreenMixin, View):
    """The exact bytes that were sealed: their SHA-256 is the record's digest."""

    def get(self, request: HttpRequest, number: str) -> HttpResponse:
        """As a file."""
        record = record_for(self.actor, number)
        name = f'attachment; filename="{record.number}.json"'
        headers = {"Content-Disposition": name, "X-Content-Type-Options": "nosniff"}
        return HttpResponse(record.canonical.encode(), content_type="application/json", headers=headers)


class AmendForm(forms.Form):
    """What is put right and why; the password only once the amendment was shown in full."""

    reason = forms.CharField(
        label="Why the record is amended", max_length=LONGEST, widget=forms.Textarea(attrs={"rows": 3})
    )
    text = forms.CharField(
        label="What it should read", max_length=LONGEST, widget=forms.Textarea(attrs={"rows": 6})
    )
    digest = forms.CharField(widget=forms.HiddenInput, max_length=64, required=False)
    password = forms.CharField(
        label="Your password, entered now",
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        strip=False,
        required=False,
    )


class AmendPage(ScreenMixin, View):
    """Write an amendment, read it as it will be sealed, sign it."""

    def get(self, request: HttpRequest, number: str) -> HttpResponse:
        """The empty form."""
        return self.shown(number, AmendForm())

    def post(self, request: HttpRequest, number: str) -> HttpResponse:
        """Show what will be signed; with a password, sign it."""
        form = AmendForm(request.POST)
        if not form.is_valid():
            return self.shown(number, form, status=422)
        data = form.cleaned_data
        draft = Draft(number, data["reason"], data["text"])
        try:
            content = amendment_content(self.actor, draft)
            if data["password"] and data["digest"]:
                return self._signed(draft, data)
        except (Invalid, Conflict, NotAllowed) as refusal:
            return self.shown(number, form, refusal=refusal, status=refusal.status)
        shown = AmendForm(initial={**data, "digest": content.digest})
        return self.shown(number, shown, content=content)

    def _signed(self, draft: Draft, data: dict[str, Any]) -> HttpResponse:
        prove_password(actor=self.actor, password=data["password"], request=self.request)
        amendment = Amendment(draft, data["digest"], Signature.Proof.PASSWORD.value)
        record = amend_record(actor=self.actor, amendment=amendment)
        messages.success(self.request, f"Amendment {record.number} is sealed. The old record stays as it is.")
        return HttpResponseRedirect(reverse("records:record", args=[record.number]))

    def shown(
        self,
        number: str,
        form: AmendForm,
        *,
        content: Any = None,
        refusal: Refusal | None = None,
        status: int = 200,
    ) -> HttpResponse:
        """The page."""
        record = record_for(self.actor, number)
        context = {
            "record": record,
            "form": form,
            "content": content,
            "refusal": refusal,
            "may_amend": self.actor.may(Verb.AMEND),
            "zone": record.aircraft.base.zone,
        }
        return render(self.request, "records/amend.html", context, status=status)


class VerifyPage(View):
    """For whoever holds a printed record: does this digest belong to a record, and is that still whole?

    Needs no sign-in, because the inspector with the paper has none. The digest is the key: nobody guesses one.
    """

    def get(self, request: HttpRequest, digest: str) -> HttpResponse:
        """Say what record it is, without its content."""
        record = record_by_digest(digest)
        if record is None:
            return render(request, "records/verify.html", {"digest": digest}, status=404)
        before, after = neighbours_of(record)
        context = {
            "digest": digest,
            "record": record,
            "zone": record.aircraft.base.zone,
            "check": check_of(record, before, after),
            "amendments": list(record.amendments.order_by("sequence")),
        }
        return render(request, "records/verify.html", context)
