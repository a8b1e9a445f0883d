"""Forms of people, certificates, authorisations, passwords and keys: shape only."""

from __future__ import annotations

from typing import Any

from django import forms

from fleet.common.actor import Actor, Role
from fleet.models import Authorisation
from fleet.screens.base import offer
from fleet.screens.stock_forms import day_field
from fleet.selectors.aircraft import aircraft_types
from fleet.selectors.people import bases

ROLES = [(role.value, role.value.capitalize()) for role in Role]


class RolesForm(forms.Form):
    """What somebody is here, and from which base."""

    roles = forms.MultipleChoiceField(choices=ROLES, widget=forms.CheckboxSelectMultiple)
    base = forms.TypedChoiceField(coerce=int, required=False, empty_value=None)

    def __init__(self, *arguments: Any, actor: Actor, **named: Any) -> None:
        super().__init__(*arguments, **named)
        choices = [("", "No home base"), *((base.pk, base.name) for base in bases(actor))]
        offer(self, "base", choices)


class PersonForm(RolesForm):
    """A new account."""

    username = forms.CharField(max_length=150, label="Name to sign in with")
    first_name = forms.CharField(max_length=150)
    last_name = forms.CharField(max_length=150)
    email = forms.EmailField(required=False, help_text="Reminders go here.")
    field_order = ["first_name", "last_name", "username", "email", "roles", "base"]


class CertificateForm(forms.Form):
    """A licence as printed."""

    kind = forms.CharField(max_length=60, help_text="As printed: Aircraft maintenance licence B1.")
    number = forms.CharField(max_length=60)
    authority = forms.CharField(max_length=80)
    issued_on = day_field("Issued on")
    expires_on = forms.DateField(
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="Leave empty if it never does.",
    )


class AuthorisationForm(forms.Form):
    """What the operator lets somebody do, where, from when to when."""

    act = forms.ChoiceField(choices=Authorisation.Act.choices, label="May")
    ata_chapters = forms.CharField(
        required=False,
        label="Chapters",
        help_text="Two digits, with commas: 05, 30. Empty means every chapter.",
    )
    aircraft_type = forms.TypedChoiceField(coerce=int, required=False, empty_value=None)
    reference = forms.CharField(max_length=60)
    valid_from = day_field("From")
    valid_to = day_field("To", "That day included.")

    def __init__(self, *arguments: Any, actor: Actor, **named: Any) -> None:
        super().__init__(*arguments, **named)
        choices = [("", "Every type"), *((row.pk, row.name) for row in aircraft_types(actor))]
        offer(self, "aircraft_type", choices)

    def clean_ata_chapters(self) -> list[str]:
        """Chapters as a list of text."""
        return [part.strip() for part in self.cleaned_data["ata_chapters"].split(",") if part.strip()]


class PasswordForm(forms.Form):
    """One's own password."""

    old_password = forms.CharField(
        label="Present password", widget=forms.PasswordInput(attrs={"autocomplete": "current-password"})
    )
    new_password = forms.CharField(
        label="New password",
        help_text="At least ten characters, not a common one.",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )


class TokenForm(forms.Form):
    """A key for a program."""

    label = forms.CharField(max_length=80, label="What it is for")
