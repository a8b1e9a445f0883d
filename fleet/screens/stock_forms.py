"""Forms of fluid lots and equipment: shape only, sense is the services' business."""

from __future__ import annotations

from typing import Any

from django import forms

from fleet.common.actor import Actor
from fleet.models import FluidLot
from fleet.screens.base import offer
from fleet.selectors.people import bases

VOLUMES = [("L", "L"), ("mL", "mL"), ("US gal", "US gal"), ("US qt", "US qt"), ("imp gal", "imp gal")]
EQUIPMENT_KINDS = [
    ("measuring-cylinder", "Measuring cylinder"),
    ("balance", "Balance"),
    ("timer", "Timer"),
    ("voltmeter", "Voltmeter"),
    ("thermometer", "Thermometer"),
    ("ground-power", "Ground power"),
    ("other", "Other"),
]


def day_field(label: str, help_text: str = "") -> forms.DateField:
    """A day, with the browser's own picker."""
    return forms.DateField(
        label=label, help_text=help_text, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )


class BaseChoiceForm(forms.Form):
    """A form that asks for one of the operator's bases."""

    base = forms.TypedChoiceField(coerce=int)

    def __init__(self, *arguments: Any, actor: Actor, **named: Any) -> None:
        super().__init__(*arguments, **named)
        offer(self, "base", [(base.pk, base.name) for base in bases(actor)])
        self.fields["base"].initial = actor.base_id


class LotForm(BaseChoiceForm):
    """A delivery of fluid."""

    specification = forms.CharField(max_length=80)
    batch = forms.CharField(max_length=60, help_text="As on the drum.")
    supplier = forms.CharField(max_length=80, required=False)
    received_on = day_field("Received on")
    expires_on = day_field("Expires on")
    quantity = forms.CharField(max_length=20)
    unit = forms.ChoiceField(choices=VOLUMES)
    density_source = forms.CharField(
        max_length=120, required=False, help_text="The supplier's sheet the densities come from."
    )
    densities = forms.CharField(
        required=False,
        widget=forms.Textarea(attrs={"rows": 5}),
        help_text="One line a temperature: °C and g/mL, such as “20 1.0981”. Needed for weighed collection.",
    )

    def clean_densities(self) -> list[tuple[str, str]]:
        """Lines as pairs of text."""
        rows = []
        for number, line in enumerate(self.cleaned_data["densities"].splitlines(), start=1):
            parts = line.replace(";", " ").split()
            if parts and len(parts) != 2:
                raise forms.ValidationError(f"Line {number}, “{line}”: write a temperature and a density.")
            if parts:
                rows.append((parts[0], parts[1]))
        return rows


class LotStateForm(forms.Form):
    """A lot's new state, with the reason."""

    state = forms.ChoiceField(choices=FluidLot.State.choices)
    reason = forms.CharField(max_length=200, required=False, help_text="Needed to quarantine, and to clear.")


class EquipmentForm(BaseChoiceForm):
    """Equipment put on the list."""

    code = forms.SlugField(max_length=40, help_text="Short, without spaces: norrvik-balance-2.")
    name = forms.CharField(max_length=100)
    kind = forms.ChoiceField(choices=EQUIPMENT_KINDS)
    serial_number = forms.CharField(max_length=60, required=False)
    needs_calibration = forms.BooleanField(required=False, initial=True)
    resolution = forms.CharField(max_length=24, required=False)
    uncertainty = forms.CharField(max_length=24, required=False, help_text="As the certificate states it.")
    unit = forms.CharField(max_length=16, required=False)


class CalibrationForm(forms.Form):
    """A calibration as its certificate says."""

    done_on = day_field("Calibrated on")
    due_on = day_field("Holds until", "That day included.")
    certificate = forms.CharField(max_length=80)
    laboratory = forms.CharField(max_length=100, required=False)
