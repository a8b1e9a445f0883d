"""Bases, types with their options and positions, kinds of component, the register of aircraft."""

from __future__ import annotations

from typing import Any

from django.forms import BaseForm as AnyForm
from django.urls import reverse

from fleet.common.actor import Verb
from fleet.common.clock import now
from fleet.common.errors import NotFound
from fleet.common.wording import MONTHS
from fleet.models import Base
from fleet.quantities import plain_number
from fleet.screens.base import CommandScreen, FormScreen, Screen
from fleet.screens.house_forms import (
    AircraftForm,
    BaseForm,
    CodeForm,
    KindForm,
    NameForm,
    NewAircraftForm,
    PositionForm,
)
from fleet.selectors.aircraft import aircraft_for, aircraft_type_for, aircraft_types, component_kinds
from fleet.selectors.meters import Counters
from fleet.selectors.people import base_for, bases
from fleet.services.house import (
    BaseEntry,
    PositionEntry,
    add_base,
    add_kind,
    add_option,
    add_position,
    add_type,
    change_base,
    change_position,
    rename_type,
)
from fleet.services.registering import AircraftEntry, Opening, change_aircraft, register_aircraft


class HouseScreen(Screen):
    """Bases, types and kinds on one page."""

    template_name = "fleet/house.html"

    def page(self) -> dict[str, Any]:
        """All three lists."""
        return {
            "bases": [(base, season_words(base)) for base in bases(self.actor)],
            "types": aircraft_types(self.actor).prefetch_related("options", "positions", "aircraft"),
            "kinds": component_kinds(self.actor).prefetch_related("components"),
            "may_edit": self.actor.may(Verb.EDIT_FLEET),
        }


def season_words(base: Base) -> str:
    """A base's icing season: "1 Oct to 30 Apr", or nothing."""
    first, last = base.season_start_month, base.season_end_month
    if first is None or last is None:
        return ""
    return f"{base.season_start_day} {MONTHS[first - 1]} to {base.season_end_day} {MONTHS[last - 1]}"


class HouseFormScreen(FormScreen):
    """A form of the house; give words and what a version it was read in."""

    template_name = "fleet/house_form.html"
    verb = Verb.EDIT_FLEET
    title, submit = "", ""

    def page(self, *place: Any, **url: Any) -> dict[str, Any]:
        """Words of the page; a form that comes back keeps the version it was read in."""
        return {"title": self.title, "submit": self.submit, "version": self.read_version() or self.version}

    @property
    def version(self) -> int | None:
        """The version that is being changed; None where something new is described."""
        return None

    def read_version(self) -> int | None:
        """The version somebody read before changing it, as the form carried it."""
        return plain_number(self.request.POST.get("version", ""))


class NewBaseScreen(HouseFormScreen):
    """Open a base."""

    form_class = BaseForm
    title, submit, done = "Open a base", "Open the base", "The base is open."
    initial = {"digest_at": "06:30", "day_starts_at": "00:00", "quiet_from": "21:00", "quiet_to": "06:00"}

    def act(self, data: dict[str, Any]) -> str:
        """Open it."""
        add_base(actor=self.actor, entry=BaseEntry(**data))
        return reverse("fleet:house")


class BaseScreen(HouseFormScreen):
    """Change a base."""

    form_class = BaseForm
    submit, done = "Change the base", "The base is changed."

    def page(self, code: str) -> dict[str, Any]:
        """Words of the page."""
        return {**super().page(), "title": f"Base {base_for(self.actor, code).name}"}

    @property
    def version(self) -> int | None:
        """The base's version."""
        return base_for(self.actor, self.kwargs["code"]).version

    def get_initial(self) -> dict[str, Any]:
        """The base as it is."""
        base = base_for(self.actor, self.kwargs["code"])
        return {name: getattr(base, name) for name in BaseForm.base_fields}

    def act(self, data: dict[str, Any]) -> str:
        """Change it."""
        entry = BaseEntry(**data)
        change_base(actor=self.actor, code=self.kwargs["code"], entry=entry, version=self.read_version())
        return reverse("fleet:house")


class NewTypeScreen(HouseFormScreen):
    """Describe a type."""

    form_class = CodeForm
    title, submit, done = "Describe a type", "Describe the type", "The type is described; now its positions."

    def act(self, data: dict[str, Any]) -> str:
        """Describe it."""
        return reverse("fleet:type", args=[add_type(actor=self.actor, **data).code])


class NewKindScreen(HouseFormScreen):
    """Describe a kind of component."""

    form_class = KindForm
    title, submit, done = "Describe a kind of component", "Describe the kind", "The kind is described."

    def act(self, data: dict[str, Any]) -> str:
        """Describe it."""
        add_kind(actor=self.actor, **data)
        return reverse("fleet:house")


class TypeScreen(HouseFormScreen):
    """One type: its name, options and positions."""

    template_name = "fleet/type.html"
    verb = Verb.READ
    form_class = NameForm
    done = "The type is renamed."

    def page(self, code: str) -> dict[str, Any]:
        """The type in full."""
        row = aircraft_type_for(self.actor, code)
        return {
            "type": row,
            "options": row.options.all(),
            "positions": row.positions.select_related("kind", "needs_option"),
            "option_form": CodeForm(prefix="option"),
            "version": self.read_version() or row.version,
            "may_edit": self.actor.may(Verb.EDIT_FLEET),
        }

    def get_initial(self) -> dict[str, Any]:
        """The present name."""
        return {"name": aircraft_type_for(self.actor, self.kwargs["code"]).name}

    def act(self, data: dict[str, Any]) -> str:
        """Rename it."""
        code = self.kwargs["code"]
        rename_type(actor=self.actor, code=code, name=data["name"], version=self.read_version())
        return reverse("fleet:type", args=[code])


class NewOptionScreen(CommandScreen):
    """Describe an option of a type."""

    done = "The option is described."

    def act(self, code: str) -> str:
        """Describe it."""
        sent = {name: self.request.POST.get(f"option-{name}", "") for name in ("code", "name")}
        add_option(actor=self.actor, type_code=code, **sent)
        return reverse("fleet:type", args=[code])


class NewPositionScreen(HouseFormScreen):
    """Describe a position of a type."""

    form_class = PositionForm
    submit, done = "Describe the position", "The position is described."

    def page(self, code: str, position: str = "") -> dict[str, Any]:
        """Words of the page."""
        row = aircraft_type_for(self.actor, code)
        return {**super().page(), "title": f"Position of {row.name}", "type": row}

    def get_form_kwargs(self) -> dict[str, Any]:
        """Hand actor and type to the form."""
        row = aircraft_type_for(self.actor, self.kwargs["code"])
        return {**super().get_form_kwargs(), "actor": self.actor, "aircraft_type": row}

    def act(self, data: dict[str, Any]) -> str:
        """Describe it."""
        add_position(actor=self.actor, type_code=self.kwargs["code"], entry=PositionEntry(**data))
        return reverse("fleet:type", args=[self.kwargs["code"]])


class PositionScreen(NewPositionScreen):
    """Change a position."""

    submit, done = "Change the position", "The position is changed."

    @property
    def version(self) -> int | None:
        """The type's version: its positions belong to it."""
        return aircraft_type_for(self.actor, self.kwargs["code"]).version

    def get_form(self, form_class: type[AnyForm] | None = None) -> Any:
        """The code stays as it is."""
        form = super().get_form(form_class)
        form.fields["code"].disabled = True
        return form

    def get_initial(self) -> dict[str, Any]:
        """The position as it is."""
        rows = aircraft_type_for(self.actor, self.kwargs["code"]).positions.select_related(
            "kind", "needs_option"
        )
        row = rows.filter(code=self.kwargs["position"]).first()
        if row is None:
            raise NotFound("position_not_found", "There is no such position on this type.")
        kept = {name: getattr(row, name) for name in PositionForm.base_fields if hasattr(row, name)}
        option = row.needs_option.code if row.needs_option else ""
        return {**kept, "kind_code": row.kind.code, "needs_option": option}

    def act(self, data: dict[str, Any]) -> str:
        """Change it."""
        entry = PositionEntry(**data)
        change_position(
            actor=self.actor, type_code=self.kwargs["code"], entry=entry, version=self.read_version()
        )
        return reverse("fleet:type", args=[self.kwargs["code"]])


class RegisterScreen(HouseFormScreen):
    """Put an aircraft on the register."""

    form_class = NewAircraftForm
    title, submit, done = "Register an aircraft", "Register it", "The aircraft is on the register."

    def get_form_kwargs(self) -> dict[str, Any]:
        """Hand the actor to the form."""
        return {**super().get_form_kwargs(), "actor": self.actor}

    def get_initial(self) -> dict[str, Any]:
        """Meters are read now unless said otherwise."""
        return {"opening_at": now()}

    def act(self, data: dict[str, Any]) -> str:
        """Register it."""
        counters = Counters(data.pop("minutes"), data.pop("landings"), data.pop("cycles"))
        opening = Opening(data.pop("opening_at"), counters)
        row = register_aircraft(actor=self.actor, entry=AircraftEntry(**data), opening=opening)
        return reverse("fleet:meters", args=[row.registration])


class ChangeAircraftScreen(HouseFormScreen):
    """Change what the register says about an aircraft."""

    form_class = AircraftForm
    submit, done = "Change the register", "The register says so now."

    def page(self, registration: str) -> dict[str, Any]:
        """Words of the page."""
        return {**super().page(), "title": f"{registration} on the register"}

    @property
    def version(self) -> int | None:
        """The aircraft's version."""
        return aircraft_for(self.actor, self.kwargs["registration"]).version

    def get_form_kwargs(self) -> dict[str, Any]:
        """Hand the actor to the form."""
        return {**super().get_form_kwargs(), "actor": self.actor}

    def get_initial(self) -> dict[str, Any]:
        """The aircraft as it is."""
        row = aircraft_for(self.actor, self.kwargs["registration"])
        kept = ("registration", "serial_number", "manufactured_on", "withdrawn_on", "note")
        return {
            **{name: getattr(row, name) for name in kept},
            "type_code": row.aircraft_type.code,
            "base_code": row.base.code,
            "option_codes": list(row.options.values_list("code", flat=True)),
        }

    def act(self, data: dict[str, Any]) -> str:
        """Change it."""
        row = change_aircraft(
            actor=self.actor,
            registration=self.kwargs["registration"],
            entry=AircraftEntry(**data),
            version=self.read_version(),
        )
        return reverse("fleet:meters", args=[row.registration])
