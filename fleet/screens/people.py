"""People: who is here, in which role, with which certificates and authorisations; one's own account."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.core.paginator import Paginator
from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from fleet.common.actor import Verb
from fleet.common.clock import now
from fleet.models import User
from fleet.screens.base import CommandScreen, FormScreen, Screen
from fleet.screens.people_forms import (
    AuthorisationForm,
    CertificateForm,
    PasswordForm,
    PersonForm,
    RolesForm,
    TokenForm,
)
from fleet.selectors.people import own_keys, people, person_for, trail, trail_subjects
from fleet.services.people import (
    NewAuthorisation,
    NewCertificate,
    NewPerson,
    add_certificate,
    add_person,
    change_own_password,
    create_token,
    grant_authorisation,
    reset_password,
    revoke_authorisation,
    revoke_token,
    set_active,
    set_roles,
)


class PeopleScreen(Screen):
    """Everybody with a role here."""

    template_name = "fleet/people.html"

    def page(self) -> dict[str, Any]:
        """People with their roles and whether they may sign today."""
        rows = people(self.actor).prefetch_related("memberships__base", "certificates", "authorisations")
        asked = self.request.GET.get("q", "")
        if asked:
            named = (
                Q(first_name__icontains=asked) | Q(last_name__icontains=asked) | Q(username__icontains=asked)
            )
            rows = rows.filter(named)
        page = Paginator(rows, 50).get_page(self.request.GET.get("page"))
        return {
            "page": page,
            "rows": [(person, _roles(self, person), _standing(self, person)) for person in page],
            "may_edit": self.actor.may(Verb.EDIT_PEOPLE),
            "is_filtered": bool(asked),
        }


def _roles(screen: Screen | FormScreen, person: User) -> str:
    mine = [row for row in person.memberships.all() if row.operator_id == screen.actor.operator_id]
    return ", ".join(sorted(row.role for row in mine))


def _standing(screen: Screen | FormScreen, person: User) -> tuple[str, str]:
    """Whether the person may sign today, as level and words."""
    today = now().date()
    if not person.is_active:
        return "unknown", "account closed"
    rows = [row for row in person.authorisations.all() if row.operator_id == screen.actor.operator_id]
    if not rows:
        return "unknown", "signs nothing"
    valid = [row for row in rows if row.valid_from <= today <= row.valid_to and row.revoked_on is None]
    if not valid:
        return "stop", "authorisation lapsed"
    last = max(row.valid_to for row in valid)
    return ("soon", "authorisation ends soon") if (last - today).days <= 30 else ("clear", "may sign")


class PersonScreen(Screen):
    """One person: roles, certificates, authorisations."""

    template_name = "fleet/person.html"

    def page(self, person: int) -> dict[str, Any]:
        """The person and what they may do."""
        row = person_for(self.actor, person)
        authorisations = row.authorisations.filter(operator_id=self.actor.operator_id)
        level, words = _standing(self, row)
        return {
            "person": row,
            "roles": _roles(self, row),
            "level": level,
            "words": words,
            "certificates": row.certificates.order_by("-issued_on"),
            "authorisations": authorisations.select_related("aircraft_type", "granted_by").order_by(
                "-valid_to"
            ),
            "today": now().date(),
            "may_edit": self.actor.may(Verb.EDIT_PEOPLE),
            "may_grant": self.actor.may(Verb.GRANT_AUTHORISATION) and row.pk != self.actor.user_id,
            "one_time": self.request.session.pop("one_time_password", None),
        }


class ActorFormScreen(FormScreen):
    """A form that offers the operator's own things."""

    template_name = "fleet/person_form.html"

    def get_form_kwargs(self) -> dict[str, Any]:
        """Hand the actor to the form."""
        return {**super().get_form_kwargs(), "actor": self.actor}

    def person_address(self, key: int) -> str:
        """The person's own page."""
        return reverse("fleet:person", args=[key])


class NewPersonScreen(ActorFormScreen):
    """Open an account; the one-time password stands on the person's page once."""

    form_class = PersonForm
    verb = Verb.EDIT_PEOPLE

    def page(self) -> dict[str, Any]:
        """Words of the page."""
        return {"title": "Add a person", "submit": "Open the account"}

    def act(self, data: dict[str, Any]) -> str:
        """Open it."""
        data["base_id"] = data.pop("base")
        person, password = add_person(actor=self.actor, new=NewPerson(**data))
        self.request.session["one_time_password"] = password
        return self.person_address(person.pk)


class RolesScreen(ActorFormScreen):
    """Change somebody's roles and base."""

    form_class = RolesForm
    done = "Roles are changed."
    verb = Verb.EDIT_PEOPLE

    def page(self, person: int) -> dict[str, Any]:
        """Words of the page."""
        row = person_for(self.actor, person)
        return {"title": f"Roles of {row.full_name}", "submit": "Change the roles", "person": row}

    def get_initial(self) -> dict[str, Any]:
        """The present roles."""
        row = person_for(self.actor, self.kwargs["person"])
        mine = row.memberships.filter(operator_id=self.actor.operator_id)
        return {
            "roles": list(mine.values_list("role", flat=True)),
            "base": next((one.base_id for one in mine if one.base_id), None),
        }

    def act(self, data: dict[str, Any]) -> str:
        """Change them."""
        key = self.kwargs["person"]
        set_roles(actor=self.actor, person_id=key, roles=data["roles"], base_id=data["base"])
        return self.person_address(key)


class CertificateScreen(FormScreen):
    """Enter a licence."""

    template_name = "fleet/person_form.html"
    form_class = CertificateForm
    done = "The certificate is entered."
    verb = Verb.GRANT_AUTHORISATION

    def page(self, person: int) -> dict[str, Any]:
        """Words of the page."""
        row = person_for(self.actor, person)
        return {"title": f"Certificate of {row.full_name}", "submit": "Enter the certificate", "person": row}

    def act(self, data: dict[str, Any]) -> str:
        """Enter it."""
        add_certificate(actor=self.actor, new=NewCertificate(person_id=self.kwargs["person"], **data))
        return reverse("fleet:person", args=[self.kwargs["person"]])


class GrantScreen(ActorFormScreen):
    """Grant an authorisation."""

    form_class = AuthorisationForm
    done = "The authorisation is granted."
    verb = Verb.GRANT_AUTHORISATION

    def page(self, person: int) -> dict[str, Any]:
        """Words of the page."""
        row = person_for(self.actor, person)
        return {"title": f"Authorise {row.full_name}", "submit": "Grant the authorisation", "person": row}

    def act(self, data: dict[str, Any]) -> str:
        """Grant it."""
        data["aircraft_type_id"] = data.pop("aircraft_type")
        grant_authorisation(actor=self.actor, new=NewAuthorisation(person_id=self.kwargs["person"], **data))
        return self.person_address(self.kwargs["person"])


class RevokeScreen(CommandScreen):
    """End an authorisation."""

    done = "The authorisation is revoked. What was signed under it stays valid."

    def act(self, authorisation: int) -> str:
        """Revoke it."""
        row = revoke_authorisation(actor=self.actor, authorisation_id=authorisation)
        return reverse("fleet:person", args=[row.user_id])


class AccountStateScreen(CommandScreen):
    """Close or reopen an account."""

    def act(self, person: int, state: str) -> str:
        """Change it."""
        set_active(actor=self.actor, person_id=person, is_active=state == "open")
        return reverse("fleet:person", args=[person])


class ResetPasswordScreen(CommandScreen):
    """Give a new one-time password, shown once."""

    def act(self, person: int) -> str:
        """Reset it."""
        self.request.session["one_time_password"] = reset_password(actor=self.actor, person_id=person)
        return reverse("fleet:person", args=[person])


class AccountScreen(Screen):
    """One's own account: roles, keys for programs, password."""

    template_name = "fleet/account.html"

    def page(self) -> dict[str, Any]:
        """Own roles and keys."""
        user = person_for(self.actor, self.actor.user_id or 0)
        return {
            "person": user,
            "roles": _roles(self, user),
            "keys": own_keys(self.actor),
            "token_form": TokenForm(),
            "new_key": self.request.session.pop("new_key", None),
        }

    def post(self, request: HttpRequest) -> HttpResponse:
        """Make a key; it stands on the page once."""
        form = TokenForm(request.POST)
        if form.is_valid():
            _, key = create_token(actor=self.actor, label=form.cleaned_data["label"])
            request.session["new_key"] = key
        else:
            messages.error(request, "Say what the key is for.")
        return redirect("fleet:account")


class RevokeKeyScreen(CommandScreen):
    """End a key."""

    done = "The key is revoked."

    def act(self, key: int) -> str:
        """Revoke it."""
        revoke_token(actor=self.actor, token_id=key)
        return reverse("fleet:account")


class PasswordScreen(FormScreen):
    """Choose one's own password; the first thing after a one-time password."""

    template_name = "fleet/password.html"
    may_come_with_one_time_password = True
    form_class = PasswordForm
    done = "Your password is changed."

    def act(self, data: dict[str, Any]) -> str:
        """Change it and stay signed in."""
        user = change_own_password(actor=self.actor, old=data["old_password"], new=data["new_password"])
        update_session_auth_hash(self.request, user)
        return reverse("fleet:account")


class TrailScreen(Screen):
    """Who did what to which, newest first."""

    template_name = "fleet/trail.html"

    def page(self) -> dict[str, Any]:
        """One page of lines, filtered by word, person or kind of thing."""
        asked = self.request.GET
        rows = trail(self.actor, words=asked.get("q", ""), subject=asked.get("subject", ""))
        page = Paginator(rows, 100).get_page(asked.get("page"))
        return {
            "page": page,
            "subjects": [(kind, kind.replace("_", " ")) for kind in trail_subjects(self.actor)],
            "is_filtered": bool(asked.get("q") or asked.get("subject")),
        }
