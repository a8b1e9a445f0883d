"""The programme: its lines, where they apply, files that bring them in, tables of permitted variations."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import HttpResponse
from django.urls import reverse

from fleet.common.actor import Verb
from fleet.quantities import plain_number
from fleet.screens.base import CommandScreen, FormScreen, Screen
from scheduling.models import Requirement, VariationTable
from scheduling.screens.due_forms import named_as_in_form
from scheduling.screens.programme_forms import (
    ImportForm,
    RequirementForm,
    RetireForm,
    TableForm,
    band_line,
    initial_of,
)
from scheduling.selectors.due_item import due_rows
from scheduling.selectors.due_list import chapters
from scheduling.selectors.programme import (
    applied_ids,
    limits_words,
    protection_words,
    requirement_for,
    requirement_versions,
    requirements,
    variation_tables,
    variations,
)
from scheduling.services.applicability import apply_programme, apply_requirement
from scheduling.services.programme_import import FIELDS, Imported, Kind, Upload, import_programme
from scheduling.services.requirements import retire_requirement, write_requirement
from scheduling.services.variations import table_for, write_table


class ProgrammeScreen(Screen):
    """Every line in force."""

    template_name = "scheduling/programme.html"

    def page(self) -> dict[str, Any]:
        """Lines by chapter, each with its limits in words and on how many it applies."""
        words = self.request.GET
        rows = requirements(
            self.actor, q=words.get("q", ""), ata=words.get("ata", ""), retired=bool(words.get("retired"))
        )
        return {
            "rows": [(row, limits_words(row)) for row in rows],
            "chapters": [(chapter, f"ATA {chapter}") for chapter in chapters(self.actor)],
            "retired_choices": [("yes", "Retired lines")],
            "may_edit": self.actor.may(Verb.EDIT_PROGRAMME),
            "is_filtered": any(words.get(name) for name in ("q", "ata", "retired")),
        }


class RequirementScreen(Screen):
    """One line: what it says, where it applies and how it stands there, its versions."""

    template_name = "scheduling/requirement.html"

    def page(self, code: str) -> dict[str, Any]:
        """The line and its items."""
        row = requirement_for(self.actor, code)
        kind = str(row.component_kind or "the aircraft")
        return {
            "requirement": row,
            "words": limits_words(row),
            "never": protection_words(row),
            "rows": due_rows(self.actor, applied_ids(self.actor, code)[:200]),
            "versions": [(one, limits_words(one)) for one in requirement_versions(self.actor, code)],
            "may_edit": self.actor.may(Verb.EDIT_PROGRAMME) and row.retired_on is None,
            "retire_form": RetireForm(),
            "facts": [
                ("Limits", limits_words(row)),
                ("About", f"{kind}, {row.aircraft_type or 'every type'}"),
                ("Stops when overdue", str(row.get_consequence_display()).capitalize()),
                (
                    "Procedure",
                    row.procedure.title if row.procedure else "none: its task is not raised by itself",
                ),
                ("Source", row.source),
                ("Options", _options(row)),
                (
                    "Permitted variation",
                    protection_words(row) or str(row.variation_table or "no table: none"),
                ),
                (
                    "Version",
                    f"{row.version}, by {row.written_by.full_name if row.written_by else 'the import'}",
                ),
            ],
        }


def _options(row: Requirement) -> str:
    needed = f"only with {', '.join(row.options_needed)}" if row.options_needed else ""
    barred = f"not with {', '.join(row.options_barred)}" if row.options_barred else ""
    return "; ".join(filter(None, (needed, barred))) or "whatever is fitted"


class WriteRequirementScreen(FormScreen):
    """Write a line, or the next version of one."""

    template_name = "scheduling/requirement_write.html"
    form_class = RequirementForm
    verb = Verb.EDIT_PROGRAMME

    @property
    def known(self) -> Requirement | None:
        """The line being changed, None for a new one."""
        return requirement_for(self.actor, self.kwargs["code"]) if "code" in self.kwargs else None

    def get_form_kwargs(self) -> dict[str, Any]:
        """The operator's own types, kinds and procedures."""
        return {**super().get_form_kwargs(), "actor": self.actor}

    def get_initial(self) -> dict[str, Any]:
        """What the line says now."""
        return initial_of(self.known) if self.known else {}

    def get_form(self, form_class: Any = None) -> Form:
        """The code of a line stays."""
        form = super().get_form(form_class)
        if self.known is not None:
            form.fields["code"].disabled = True
        return form

    def page(self, **url: Any) -> dict[str, Any]:
        """Which version was read, so that nobody's change is lost."""
        known = self.known
        return {
            "known": known,
            "read_version": self.request.POST.get("read_version") or (known.version if known else 0),
        }

    def form_valid(self, form: Form) -> HttpResponse:
        """Keep the form at hand: it knows which field a fault belongs to."""
        self.form = form
        return super().form_valid(form)

    def act(self, data: dict[str, Any]) -> str:
        """Write it, and go to it."""
        known = self.known
        assert isinstance(self.form, RequirementForm)  # noqa: S101 - the only form of this screen
        wanted = self.form.written(known.ladder if known else {}, known.design_caps if known else {})
        read = plain_number(self.request.POST.get("read_version", ""))
        with named_as_in_form(self.form.field_of):
            row = write_requirement(actor=self.actor, wanted=wanted, read_version=read or 0)
        messages.success(self.request, f"{row.code} is version {row.version} now.")
        return reverse("scheduling:requirement", args=[row.code])


class ApplyScreen(CommandScreen):
    """Put a line where it belongs."""

    def act(self, code: str) -> str:
        """Apply it and say what was left out and why."""
        applied = apply_requirement(actor=self.actor, code=code)
        messages.success(
            self.request, f"Added on {applied.added}, stopped on {applied.stopped}, kept on {applied.kept}."
        )
        for left in applied.left_out[:10]:
            messages.warning(self.request, f"Not on {left.subject}: {left.reasons[0].sentence()}")
        return reverse("scheduling:requirement", args=[code])


class ApplyProgrammeScreen(CommandScreen):
    """Put every line where it belongs."""

    def act(self) -> str:
        """Apply them and say what changed."""
        changed = apply_programme(actor=self.actor)
        added = sum(applied.added for applied in changed.values())
        stopped = sum(applied.stopped for applied in changed.values())
        messages.success(
            self.request, f"{len(changed)} lines applied: {added} items added, {stopped} stopped."
        )
        for code, applied in changed.items():
            for left in applied.left_out[:3]:
                messages.warning(self.request, f"{code} not on {left.subject}: {left.reasons[0].sentence()}")
        return reverse("scheduling:programme")


class RetireScreen(CommandScreen):
    """Take a line out of the programme."""

    done = "The line is retired."

    def act(self, code: str) -> str:
        """With the reason of the dialog."""
        retire_requirement(actor=self.actor, code=code, reason=self.request.POST.get("reason", ""))
        return reverse("scheduling:programme")


class ImportScreen(FormScreen):
    """Bring a programme in from a file, after a look at it."""

    template_name = "scheduling/programme_import.html"
    form_class = ImportForm
    found: Imported | None = None
    verb = Verb.EDIT_PROGRAMME

    def page(self) -> dict[str, Any]:
        """What the file would do, where one was looked at; the columns there are."""
        return {
            "found": self.found,
            "columns": [
                (kind.value, [(name, usual[0]) for name, usual in FIELDS[kind].items()]) for kind in Kind
            ],
        }

    def form_valid(self, form: Form) -> HttpResponse:
        """A look shows on the same page; bringing in goes to the programme."""
        if form.cleaned_data["bring_in"]:
            return super().form_valid(form)
        self.found = self._import(form.cleaned_data, dry_run=True)
        return self.render_to_response(self.get_context_data(form=form))

    def _import(self, data: dict[str, Any], *, dry_run: bool) -> Imported:
        file = data["file"]
        upload = Upload(Kind(data["kind"]), file.name, file.read(), data["mapping"], dry_run)
        return import_programme(actor=self.actor, upload=upload)

    def act(self, data: dict[str, Any]) -> str:
        """Bring it in, all of it."""
        found = self._import(data, dry_run=False)
        messages.success(
            self.request, f"{found.created} new, {found.changed} changed, {found.same} the same."
        )
        for words in found.notes[:10]:
            messages.warning(self.request, words)
        return reverse("scheduling:programme")


class VariationsScreen(Screen):
    """Tables of permitted variations, and what is granted now."""

    template_name = "scheduling/variations.html"

    def page(self) -> dict[str, Any]:
        """Tables with their bands, open grants with whom and why."""
        return {
            "tables": [
                (row, [band_line(band) for band in row.bands]) for row in variation_tables(self.actor)
            ],
            "granted": variations(self.actor),
            "may_write": self.actor.may(Verb.GRANT_VARIATION),
        }


class TableScreen(FormScreen):
    """Write an approved table."""

    template_name = "scheduling/variation_table.html"
    form_class = TableForm
    done = "The table is written."
    verb = Verb.GRANT_VARIATION

    @property
    def known(self) -> VariationTable | None:
        """The table being changed."""
        return table_for(self.actor, self.kwargs["table_id"]) if "table_id" in self.kwargs else None

    def get_initial(self) -> dict[str, Any]:
        """What it says now."""
        row = self.known
        if row is None:
            return {}
        bands = "\n".join(band_line(band) for band in row.bands)
        return {"name": row.name, "source": row.source, "approval": row.approval, "bands": bands}

    def act(self, data: dict[str, Any]) -> str:
        """Write it."""
        with named_as_in_form(lambda name: "bands" if name.startswith("bands") else name):
            write_table(actor=self.actor, data=data, table_id=self.kwargs.get("table_id"))
        return reverse("scheduling:variations")
