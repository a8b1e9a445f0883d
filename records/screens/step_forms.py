"""One form for each kind of step. `answer()` is what the service keeps; sense is judged there."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

from django import forms
from django.forms.boundfield import BoundField

from fleet.quantities import UNITS, unit_of
from records.selectors.run_sheet import StepRow
from scheduling.limits.kinds import describe
from scheduling.steps.answers import LONGEST_TEXT
from scheduling.steps.terms import ProcedureContent, Step, StepKind

DECIMAL = {"inputmode": "decimal", "autocomplete": "off"}


def fresh_key() -> str:
    """A key that makes sending a form twice harmless."""
    return uuid4().hex


def units_like(code: str) -> list[tuple[str, str]]:
    """The units of the same dimension, the procedure's own first."""
    own = unit_of(code)
    same = [unit for unit in UNITS.values() if unit.dimension is own.dimension]
    return [(unit.code, unit.label) for unit in sorted(same, key=lambda unit: unit is not own)]


class StepForm(forms.Form):
    """What every step carries: its own key, and a reason where it was answered before."""

    use_required_attribute = False

    key = forms.CharField(widget=forms.HiddenInput, max_length=100, initial=fresh_key)
    repeat_reason = forms.CharField(
        label="Why is it repeated?",
        max_length=200,
        required=False,
        help_text="Both answers are kept and stand in the record.",
    )

    def __init__(self, row: StepRow, content: ProcedureContent, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{**kwargs, "auto_id": f"{row.step.key}-%s"})
        self.row, self.step, self.content = row, row.step, content
        if not row.is_repeat:
            del self.fields["repeat_reason"]
        else:
            self.fields["repeat_reason"].required = True
        self.prepare()

    def prepare(self) -> None:
        """Add the fields that this step of this aircraft asks for."""

    def answer(self) -> dict[str, Any]:
        """The answer in the form the step's kind asks for."""
        raise NotImplementedError

    def named(self, name: str) -> BoundField | None:
        """A field whose name holds points."""
        return self[name] if name in self.fields else None


class DoneForm(StepForm):
    """A check, or a control set to a state: done or not, and a remark."""

    done = forms.ChoiceField(choices=[("yes", "yes"), ("no", "no")], widget=forms.HiddenInput)
    note = forms.CharField(
        label="Remark", max_length=LONGEST_TEXT, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )

    def clean(self) -> dict[str, Any]:
        """What is not as asked is explained."""
        data = super().clean() or {}
        if data.get("done") == "no" and not data.get("note", "").strip():
            self.add_error("note", "Say what is not as asked.")
        return data

    def answer(self) -> dict[str, Any]:
        """`{"done": true}` with the remark where there is one."""
        note = self.cleaned_data["note"].strip()
        return {"done": self.cleaned_data["done"] == "yes", **({"note": note} if note else {})}


class ReadingForm(StepForm):
    """A value read, in a unit of the point's dimension."""

    value = forms.CharField(label="Reading", max_length=40, widget=forms.TextInput(attrs=DECIMAL))
    unit = forms.ChoiceField(label="Unit")

    def prepare(self) -> None:
        """The units of the point's dimension."""
        point = self.content.point(self.step.point)
        self.fields["value"].label = point.name
        self.fields["unit"].choices = units_like(point.unit)  # type: ignore[attr-defined]

    def answer(self) -> dict[str, Any]:
        """Value and unit as written."""
        return {"value": self.cleaned_data["value"].strip(), "unit": self.cleaned_data["unit"]}


class TimedForm(StepForm):
    """A timed run entered by hand, from a watch. The screen's own timer needs no form."""

    started_at = forms.DateTimeField(
        label="Began",
        widget=forms.DateTimeInput(attrs={"type": "datetime-local", "step": "1"}),
    )
    stopped_at = forms.DateTimeField(
        label="Ended",
        widget=forms.DateTimeInput(attrs={"type": "datetime-local", "step": "1"}),
    )

    def __init__(self, *args: Any, zone: str, **kwargs: Any) -> None:
        self.zone = ZoneInfo(zone)
        super().__init__(*args, **kwargs)

    def answer(self) -> dict[str, Any]:
        """Both moments with their zone; what was written is the base's local time."""
        return {
            name: self.cleaned_data[name].replace(tzinfo=self.zone).isoformat()
            for name in ("started_at", "stopped_at")
        }


class OutletsForm(StepForm):
    """Every outlet of the step's zones: wet or dry, and how long it took."""

    def prepare(self) -> None:
        """Two fields for each outlet."""
        for index, outlet in enumerate(self.row.outlets):
            self.fields[f"outlets.{index}.wet"] = forms.ChoiceField(
                label=outlet.name,
                choices=[("wet", "Wet"), ("dry", "Dry")],
                widget=forms.RadioSelect,
                error_messages={"required": f"Say whether {outlet.name} wetted."},
            )
            self.fields[f"outlets.{index}.seconds"] = forms.CharField(
                label=f"{outlet.name}, seconds to wet",
                max_length=12,
                required=False,
                widget=forms.TextInput(attrs={**DECIMAL, "size": "5"}),
            )

    def rows(self) -> Iterator[dict[str, Any]]:
        """Each outlet with its two fields."""
        for index, outlet in enumerate(self.row.outlets):
            yield {
                "outlet": outlet,
                "index": index,
                "wet": self[f"outlets.{index}.wet"],
                "seconds": self[f"outlets.{index}.seconds"],
            }

    def answer(self) -> dict[str, Any]:
        """Every outlet with its code."""
        rows = []
        for index, outlet in enumerate(self.row.outlets):
            wet = self.cleaned_data[f"outlets.{index}.wet"] == "wet"
            row: dict[str, Any] = {"position": outlet.code, "wet": wet}
            if wet:
                row["seconds"] = self.cleaned_data[f"outlets.{index}.seconds"].strip()
            rows.append(row)
        return {"outlets": rows}


class AskedField(forms.CharField):
    """A field of which the chosen method decides whether it is needed: the service says so, beside it."""

    def validate(self, value: str) -> None:
        """Nothing is decided here."""


class CollectForm(StepForm):
    """What each side gave: a volume read, or weighed gross and tare with the fluid's temperature."""

    def prepare(self) -> None:
        """The fields of each side."""
        for side, key in self.step.side_points:
            point = self.content.point(key)
            self._method(side, point.name)
            self._text(side, "value", "volume")
            self._unit(side, "unit", point.unit)
            self._text(side, "gross", "gross, with fluid")
            self._text(side, "tare", "tare, empty")
            self._unit(side, "mass_unit", "g")
            self._text(side, "celsius", "fluid temperature, °C")

    def _method(self, side: str, name: str) -> None:
        self.fields[f"sides.{side}.method"] = forms.ChoiceField(
            label=f"{name}: how",
            choices=[("volume", "Read a volume"), ("weighed", "Weigh it")],
            initial="volume",
            widget=forms.RadioSelect,
        )

    def _text(self, side: str, name: str, label: str) -> None:
        self.fields[f"sides.{side}.{name}"] = AskedField(
            label=f"{side.capitalize()}: {label}",
            max_length=40,
            widget=forms.TextInput(attrs=DECIMAL),
        )

    def _unit(self, side: str, name: str, code: str) -> None:
        self.fields[f"sides.{side}.{name}"] = forms.ChoiceField(label="Unit", choices=units_like(code))

    def sides(self) -> Iterator[dict[str, Any]]:
        """Each side with its fields by name."""
        for side, key in self.step.side_points:
            names = ("method", "value", "unit", "gross", "tare", "mass_unit", "celsius")
            fields = {name: self[f"sides.{side}.{name}"] for name in names}
            point = self.content.point(key)
            yield {"side": side, "point": point, "allowed": describe(point.limit), **fields}

    def answer(self) -> dict[str, Any]:
        """Each side by its method."""
        return {"sides": {side: self._side(side) for side, _ in self.step.side_points}}

    def _side(self, side: str) -> dict[str, str]:
        def entered(name: str) -> str:
            return str(self.cleaned_data.get(f"sides.{side}.{name}", "")).strip()

        if entered("method") == "volume":
            return {"method": "volume", "value": entered("value"), "unit": entered("unit")}
        weighed = {name: entered(name) for name in ("gross", "tare", "celsius")}
        return {"method": "weighed", **weighed, "unit": entered("mass_unit")}


class ConfirmForm(StepForm):
    """A caution understood, or a note read."""

    def answer(self) -> dict[str, Any]:
        """The confirmation of the step's kind."""
        return {"acknowledged": True} if self.step.kind is StepKind.CAUTION else {"read": True}


class PhotoForm(StepForm):
    """A photograph; the picture itself is kept before the answer that names it."""

    photo = forms.FileField(
        label="Photograph",
        help_text="JPEG or PNG, at most 8 MB.",
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png", "capture": "environment"}),
    )

    def answer(self) -> dict[str, Any]:
        """The photograph's key is the form's own."""
        return {"photo_key": self.cleaned_data["key"]}


FORMS: dict[StepKind, type[StepForm]] = {
    StepKind.CHECK: DoneForm,
    StepKind.SET_CONTROL: DoneForm,
    StepKind.READ_VALUE: ReadingForm,
    StepKind.TIMED_RUN: TimedForm,
    StepKind.DUTY_RUN: StepForm,
    StepKind.OUTLETS: OutletsForm,
    StepKind.COLLECT: CollectForm,
    StepKind.CAUTION: ConfirmForm,
    StepKind.NOTE: ConfirmForm,
    StepKind.PHOTO: PhotoForm,
}


def step_form(row: StepRow, content: ProcedureContent, zone: str, *args: Any, **kwargs: Any) -> StepForm:
    """The form of one step, bound to what was sent where something was."""
    form_class = FORMS[row.step.kind]
    extra = {"zone": zone} if form_class is TimedForm else {}
    return form_class(row, content, *args, **extra, **kwargs)


def is_timer(step: Step) -> bool:
    """Whether the step is worked with the screen's own timer."""
    return step.kind in (StepKind.TIMED_RUN, StepKind.DUTY_RUN)
