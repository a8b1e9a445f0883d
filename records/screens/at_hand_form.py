"""The form that names what a run is done with."""

from __future__ import annotations

from typing import Any

from django import forms

from fleet.common.wording import day
from records.screens.step_forms import units_like
from records.selectors.at_hand import RoleNeed
from records.selectors.run_sheet import RunSheet


class AtHandForm(forms.Form):
    """Which equipment fills each role, and which fluid lot is used."""

    amount = forms.CharField(
        label="Amount",
        max_length=24,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )
    unit = forms.ChoiceField(label="Unit")

    def __init__(self, sheet: RunSheet, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.sheet = sheet
        amount, unit = self.fields.pop("amount"), self.fields.pop("unit")
        for role in sheet.need.roles:
            self.fields[role_field(role)] = self._role(role)
        if sheet.need.fluid is not None:
            self._fluid(amount, unit)

    def _role(self, role: RoleNeed) -> forms.ChoiceField:
        use = self.sheet.uses.get(role.need.role)
        usable = [tool for tool in role.tools if tool.is_usable]
        choices = [("", "Choose")] + [
            (str(tool.equipment.pk), f"{tool.equipment.code}, {tool.short}") for tool in usable
        ]
        barred = [
            f"{tool.equipment.code}: {tool.words}"
            for tool in role.tools
            if not tool.is_usable and tool.is_here
        ]
        first = str(use.equipment_id) if use else self._free_choice(role)
        return forms.ChoiceField(
            label=role.need.name,
            choices=choices,
            initial=first,
            help_text=f"Not usable: {'; '.join(barred)}." if barred else "",
            error_messages={"required": f"Say which {role.need.name.lower()} is used."},
        )

    def _free_choice(self, role: RoleNeed) -> str:
        """The first usable piece at this base that no role before it took."""
        taken = {str(field.initial) for name, field in self.fields.items() if name.startswith("equipment-")}
        free = [str(tool.equipment.pk) for tool in role.usable if tool.is_here]
        return next((key for key in free if key not in taken), "")

    def _fluid(self, amount: forms.Field, unit: forms.Field) -> None:
        need, use = self.sheet.need.fluid, self.sheet.lot_use
        lots = [
            (str(lot.lot.pk), f"{lot.lot.batch}, {lot.lot.base}, good to {day(lot.lot.expires_on)}")
            for lot in self.sheet.need.usable_lots
        ]
        self.fields["lot"] = forms.ChoiceField(
            label="Fluid lot",
            choices=[("", "Choose"), *lots],
            initial=str(use.lot_id) if use else (lots[0][0] if len(lots) == 1 else ""),
            error_messages={"required": "Say which approved lot is used."},
        )
        assert need is not None  # noqa: S101 - only called where fluid is needed
        amount.help_text = f"At least {need.minimum:f} {need.unit}" + (
            f", {need.note}." if need.note else "."
        )
        amount.initial = use.amount if use else ""
        unit.choices = units_like(need.unit)  # type: ignore[attr-defined]
        unit.initial = use.unit if use else need.unit
        self.fields["amount"], self.fields["unit"] = amount, unit


def role_field(role: RoleNeed) -> str:
    """The name of a role's field."""
    return f"equipment-{role.need.role}"
