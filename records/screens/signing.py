"""Signing a finished run: everything that is signed in full, what the signature rests on, and the password."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.views.generic import View

from fleet.common.actor import Actor, Verb
from fleet.common.clock import local_day
from fleet.common.errors import Conflict, Invalid, NotAllowed, Refusal
from fleet.models import User
from fleet.screens.base import ScreenMixin
from fleet.services.sign_in import prove_colleague, prove_password
from records.models import BenchRun, RunState, Signature, SignedRecord
from records.screens.paper import paper_of
from records.selectors.runs import content_of_run, run_for
from records.services.entitlement import authorisation_on, certificate_on, scope_of
from records.services.run_access import completed_day
from records.services.signing import ACT_OF, VERB_OF, Signing, sign, workers_of
from scheduling.selectors.status import status_of

Meaning = Signature.Meaning
PROOF = Signature.Proof.PASSWORD.value
SAID = {
    Meaning.PERFORMED: "I performed the work as described above.",
    Meaning.INSPECTED: "I inspected the work described above, independently of whoever performed it.",
}


@dataclass(frozen=True, slots=True)
class Quoted:
    """What a signature of this person will quote, or why it cannot be given."""

    certificate: str = ""
    authorisation: str = ""
    refusal: str = ""


class PasswordForm(forms.Form):
    """The signer's own password, and the digest of what was shown."""

    password = forms.CharField(
        label="Your password, entered now",
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        strip=False,
    )
    digest = forms.CharField(widget=forms.HiddenInput, max_length=64)
    meaning = forms.CharField(widget=forms.HiddenInput, max_length=12)


class BesideForm(forms.Form):
    """Somebody standing beside signs as themselves."""

    username = forms.CharField(
        label="Name they sign in with", max_length=150, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    password = forms.CharField(
        label="Their password", widget=forms.PasswordInput(attrs={"autocomplete": "off"}), strip=False
    )
    digest = forms.CharField(widget=forms.HiddenInput, max_length=64)
    meaning = forms.CharField(widget=forms.HiddenInput, max_length=12)


class SignPage(ScreenMixin, View):
    """The page to read and sign; another person may sign beside, as themselves."""

    def get(self, request: HttpRequest, run_id: int) -> HttpResponse:
        """Show what is signed."""
        run = run_for(self.actor, run_id)
        record = sealed(run)
        if record is not None:
            return HttpResponseRedirect(reverse("records:record", args=[record.number]))
        if run.state != RunState.FINISHED:
            return HttpResponseRedirect(reverse("records:run", args=[run.pk]))
        return self.shown(run)

    def post(self, request: HttpRequest, run_id: int) -> HttpResponse:
        """Prove who signs, then sign; a refusal stands on the page in words."""
        run = run_for(self.actor, run_id)
        is_beside = "username" in request.POST
        form = (BesideForm if is_beside else PasswordForm)(request.POST, auto_id=_ids(is_beside))
        if run.signatures.filter(meaning=request.POST.get("meaning", "")).exists():
            return self.get(request, run_id)
        if not form.is_valid():
            return self.shown(run, form=form, status=422)
        data = form.cleaned_data
        try:
            signer = self._proven(data, request, is_beside=is_beside)
            signing = Signing(run_id, data["meaning"], data["digest"], PROOF)
            _, record = sign(actor=signer, signing=signing)
        except (Invalid, Conflict, NotAllowed) as refusal:
            return self.shown(run_for(self.actor, run_id), form=form, refusal=refusal, status=refusal.status)
        return self._after(run, signer, record)

    def _proven(self, data: dict[str, Any], request: HttpRequest, *, is_beside: bool) -> Actor:
        if is_beside:
            return prove_colleague(
                actor=self.actor, username=data["username"], password=data["password"], request=request
            )
        prove_password(actor=self.actor, password=data["password"], request=request)
        return self.actor

    def _after(self, run: BenchRun, signer: Actor, record: SignedRecord | None) -> HttpResponse:
        if record is None:
            messages.success(self.request, f"{signer.name} signed. An independent inspector signs next.")
            return HttpResponseRedirect(reverse("records:sign", args=[run.pk]))
        status = status_of([run.aircraft_id])[run.aircraft_id]
        words = f"Record {record.number} is sealed. {run.aircraft} is now {status.headline()}."
        messages.success(self.request, words)
        return HttpResponseRedirect(reverse("records:record", args=[record.number]))

    def shown(
        self,
        run: BenchRun,
        *,
        form: forms.Form | None = None,
        refusal: Refusal | None = None,
        status: int = 200,
    ) -> HttpResponse:
        """The page."""
        content = content_of_run(run)
        meaning = next_meaning(run)
        start = {"digest": content.digest, "meaning": meaning.value if meaning else ""}
        is_beside = isinstance(form, BesideForm)
        mine = why_not_mine(self.actor, run, meaning)
        context = {
            "run": run,
            "task": run.task,
            "zone": run.aircraft.base.zone,
            "paper": paper_of(content.payload, run.aircraft.base.zone),
            "digest": content.digest,
            "signatures": run.signatures.order_by("signed_at", "id"),
            "meaning": meaning,
            "meaning_words": SAID[meaning] if meaning else "",
            "why_not": mine,
            "quoted": quoted(self.actor, run, meaning) if meaning and not mine else Quoted(),
            "next": what_follows(run, meaning),
            "form": form if form and not is_beside else PasswordForm(initial=start, auto_id=_ids(False)),
            "beside": form if is_beside else BesideForm(initial=start, auto_id=_ids(True)),
            "may_have_beside": meaning is not None and self.actor.may(Verb.READ) and not self._looks_only(),
            "beside_open": is_beside,
            "refusal": refusal,
        }
        return render(self.request, "records/sign.html", context, status=status)

    def _looks_only(self) -> bool:
        return not (self.actor.may(Verb.SIGN) or self.actor.may(Verb.INSPECT))


def _ids(is_beside: bool) -> str:
    return "beside-%s" if is_beside else "sign-%s"


def sealed(run: BenchRun) -> SignedRecord | None:
    """The record of the run, where it is sealed."""
    return SignedRecord.objects.filter(run=run).first()


def next_meaning(run: BenchRun) -> Signature.Meaning | None:
    """Which signature comes next; None where the run wants none now."""
    if run.state != RunState.FINISHED:
        return None
    signed = set(run.signatures.values_list("meaning", flat=True))
    if Meaning.PERFORMED not in signed:
        return Meaning.PERFORMED
    return Meaning.INSPECTED if run.procedure_version.needs_countersignature else None


def why_not_mine(actor: Actor, run: BenchRun, meaning: Signature.Meaning | None) -> str:
    """Why this signature is not for the person looking, in words; empty where it is."""
    if meaning is None:
        return "Nothing is left to sign."
    if not actor.may(VERB_OF[meaning]):
        return "Your role reads this and signs nothing."
    if meaning is Meaning.PERFORMED and run.performer_id != actor.user_id:
        return f"{run.performer.full_name} did this work and signs first."
    if meaning is Meaning.INSPECTED and actor.user_id in workers_of(run):
        return "You did some of this work: the inspection is for somebody else."
    return ""


def quoted(actor: Actor, run: BenchRun, meaning: Signature.Meaning) -> Quoted:
    """The certificate and authorisation that this person's signature will quote."""
    signer = User.objects.get(pk=actor.user_id or 0)
    today = local_day(run.aircraft.base.zone)
    days = {today, completed_day(run)} if meaning is Meaning.PERFORMED else {today}
    try:
        certificate = certificate_on(signer, days)
        authorisation = authorisation_on(signer, scope_of(run), [ACT_OF[meaning]], days)
    except NotAllowed as refusal:
        return Quoted(refusal=refusal.sentence)
    return Quoted(str(certificate), f"{authorisation.reference} ({authorisation.get_act_display()})")


def what_follows(run: BenchRun, meaning: Signature.Meaning | None) -> str:
    """What this signature sets going."""
    if meaning is Meaning.PERFORMED and run.procedure_version.needs_countersignature:
        return "An independent inspector signs after you. Until then the aircraft is not releasable."
    if run.verdict == "pass":
        return "The record is sealed and never changed again, the task closes, and its next due moves."
    return (
        f"The record is sealed as {run.verdict.replace('_', ' ').upper()} and never changed again. "
        "The task stands open; its due date does not move."
    )
