"""Forms of the programme: a line with its limits in rows, and files."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from django import forms

from fleet.common.actor import Actor
from fleet.screens.base import offer
from fleet.selectors.aircraft import aircraft_types, component_kinds
from scheduling.due.terms import Anchor, Measure, MonthRule, Since
from scheduling.due.wording import MEASURE_NAMES, SINCE_NAMES
from scheduling.models import Consequence, EventKind, Procedure, Requirement
from scheduling.selectors.programme import variation_tables
from scheduling.services.requirements import WrittenRequirement

ROWS = 4
SIMPLE = {"measure", "every", "first", "soon", "since", "anchor", "month_rule", "source"}
ANCHORS = {
    Anchor.FROM_DONE: "from the work",
    Anchor.FROM_DUE: "from the due point",
    Anchor.FROM_DUE_IF_EXTENDED: "from the due point where extended",
}
MONTH_RULES = {MonthRule.END_OF_MONTH: "end of the month", MonthRule.SAME_DAY: "same day"}
TEXTS = (
    "code",
    "title",
    "ata",
    "source",
    "consequence",
    "aircraft_type",
    "component_kind",
    "procedure",
    "event_kind",
)
CHECKS = ("is_airworthiness_limitation", "is_directive", "directive_allows_variation")


class RequirementForm(forms.Form):
    """One line of the programme."""

    code = forms.SlugField(label="Code", max_length=40)
    title = forms.CharField(label="Title", max_length=140)
    ata = forms.CharField(label="ATA chapter and section", max_length=8)
    source = forms.CharField(
        label="Source", max_length=160, help_text="The document that demands it, with its revision."
    )
    consequence = forms.ChoiceField(label="Stops when overdue", choices=Consequence.choices)
    combine = forms.ChoiceField(
        label="Several limits", choices=[("first", "whichever comes first"), ("last", "whichever comes last")]
    )
    limits_data = forms.CharField(
        label="Limits as data",
        required=False,
        widget=forms.Textarea(attrs={"rows": 6, "spellcheck": "false"}),
        help_text="For windows, overruns and nested limits. What stands here counts instead of the rows above.",
    )
    aircraft_type = forms.ChoiceField(label="Aircraft type", required=False)
    component_kind = forms.ChoiceField(
        label="Kind of component", required=False, help_text="Left empty: the line is about the aircraft."
    )
    options_needed = forms.CharField(label="Only with these options", required=False)
    options_barred = forms.CharField(label="Not with these options", required=False)
    procedure = forms.ChoiceField(
        label="Procedure", required=False, help_text="The work that answers it; its task is raised when due."
    )
    event_kind = forms.ChoiceField(label="Event that limits count from", required=False)
    variation_table = forms.ChoiceField(label="Table of permitted variations", required=False)
    is_airworthiness_limitation = forms.BooleanField(label="Airworthiness limitation", required=False)
    is_directive = forms.BooleanField(label="Airworthiness directive", required=False)
    directive_allows_variation = forms.BooleanField(label="The directive allows a variation", required=False)

    def __init__(self, *args: Any, actor: Actor, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for number in range(1, ROWS + 1):
            self.fields.update(_limit_fields(number))
        operator = {"operator_id": actor.operator_id}
        self._offer("aircraft_type", aircraft_types(actor).values_list("code", "name"), "every type")
        self._offer(
            "component_kind", component_kinds(actor).values_list("code", "name"), "none: the aircraft"
        )
        work = Procedure.objects.filter(**operator, withdrawn_on=None).order_by("title")
        self._offer("procedure", work.values_list("code", "title"), "none")
        kinds = EventKind.objects.filter(**operator, retired_on=None)
        self._offer("event_kind", kinds.values_list("code", "name"), "none")
        self._offer("variation_table", variation_tables(actor).values_list("pk", "name"), "none")

    def _offer(self, name: str, rows: Any, nothing: str) -> None:
        offer(self, name, [("", nothing), *rows])

    def limit_rows(self) -> list[list[forms.BoundField]]:
        """The fields of each limit, row by row."""
        return [[self[f"limit_{number}_{name}"] for name in LIMIT_FIELDS] for number in range(1, ROWS + 1)]

    def written(self, ladder: Mapping[str, Any], caps: Mapping[str, Any]) -> WrittenRequirement:
        """The line as the service takes it; reminders and caps as they were."""
        data = self.cleaned_data
        table = data["variation_table"]
        return WrittenRequirement(
            **{name: data[name] for name in (*TEXTS, *CHECKS)},
            limits=self.limits(),
            options_needed=tuple(data["options_needed"].split()),
            options_barred=tuple(data["options_barred"].split()),
            variation_table_id=int(table) if table else None,
            ladder=ladder,
            design_caps=caps,
        )

    def clean_limits_data(self) -> dict[str, Any] | None:
        """Data, or None where the rows count."""
        text = self.cleaned_data["limits_data"].strip()
        if not text:
            return None
        try:
            read = json.loads(text)
        except ValueError as error:
            raise forms.ValidationError(f"This is no data: {error}.") from error
        return read if isinstance(read, dict) else {"given": read}

    def field_of(self, name: str) -> str:
        """The field a fault of the limits stands beside: `limits.of[1].every` is `limit_2_every`."""
        if not name.startswith("limits") or self.cleaned_data.get("limits_data") is not None:
            return "limits_data" if name.startswith("limits") else name
        used = [number for number in range(1, ROWS + 1) if self.cleaned_data[f"limit_{number}_measure"]]
        place, _, rest = name.removeprefix("limits.").rpartition(".")
        index = int(place[3:-1]) if place.startswith("of[") and place[3:-1].isdigit() else 0
        field = f"limit_{used[index]}_{rest}" if index < len(used) else ""
        return field if field in self.fields else "limits_data"

    def limits(self) -> dict[str, Any]:
        """The limits as data; an empty row is left out."""
        data = self.cleaned_data
        if data["limits_data"] is not None:
            return dict(data["limits_data"])
        rows = [_limit_data(data, number) for number in range(1, ROWS + 1) if data[f"limit_{number}_measure"]]
        return rows[0] if len(rows) == 1 else {"combine": data["combine"], "of": rows}


LIMIT_FIELDS = ("measure", "every", "first", "soon", "since", "anchor", "month_rule")


def _limit_fields(number: int) -> dict[str, forms.Field]:
    head = f"limit_{number}_"
    measures = [("", "no limit"), *((one.value, name) for one, name in MEASURE_NAMES.items())]
    return {
        f"{head}measure": forms.ChoiceField(label=f"Limit {number}", required=False, choices=measures),
        f"{head}every": forms.CharField(label="Every", required=False, max_length=20),
        f"{head}first": forms.CharField(label="First after", required=False, max_length=20),
        f"{head}soon": forms.CharField(label="Warn before", required=False, max_length=20),
        f"{head}since": forms.ChoiceField(
            label="Counts since", required=False, choices=[(one.value, SINCE_NAMES[one]) for one in Since]
        ),
        f"{head}anchor": forms.ChoiceField(
            label="Next counts",
            required=False,
            choices=[(one.value, words) for one, words in ANCHORS.items()],
        ),
        f"{head}month_rule": forms.ChoiceField(
            label="Months end",
            required=False,
            choices=[(one.value, words) for one, words in MONTH_RULES.items()],
        ),
    }


def _limit_data(data: Mapping[str, Any], number: int) -> dict[str, Any]:
    """One row as data; what only repeats the usual, or has no meaning for the measure, is left out."""
    given = {name: data[f"limit_{number}_{name}"] for name in LIMIT_FIELDS}
    is_date = given["measure"] in (Measure.DATE, Measure.SEASON)
    usual = {"since": Since.LAST_DONE, "anchor": Anchor.FROM_DONE, "month_rule": MonthRule.END_OF_MONTH}
    if is_date:
        given["anchor"] = Anchor.FROM_DONE
    if given["measure"] != Measure.MONTHS:
        given["month_rule"] = MonthRule.END_OF_MONTH
    return {
        name: value for name, value in given.items() if value and not (name in usual and value == usual[name])
    }


def initial_of(row: Requirement) -> dict[str, Any]:
    """A line as the form shows it: limits in rows where rows can say them, as data where not."""
    initial: dict[str, Any] = {
        "code": row.code,
        "title": row.title,
        "ata": row.ata,
        "source": row.source,
        "consequence": row.consequence,
        "aircraft_type": row.aircraft_type.code if row.aircraft_type else "",
        "component_kind": row.component_kind.code if row.component_kind else "",
        "procedure": row.procedure.code if row.procedure else "",
        "event_kind": row.event_kind.code if row.event_kind else "",
        "variation_table": row.variation_table_id or "",
        "options_needed": " ".join(row.options_needed),
        "options_barred": " ".join(row.options_barred),
        **{name: getattr(row, name) for name in CHECKS},
    }
    members = row.limits.get("of", [row.limits])
    if len(members) > ROWS or any(set(one) - SIMPLE for one in members):
        return {**initial, "limits_data": json.dumps(row.limits, indent=1)}
    for number, limit in enumerate(members, start=1):
        initial.update({f"limit_{number}_{name}": limit.get(name, "") for name in LIMIT_FIELDS})
    return {**initial, "combine": row.limits.get("combine", "first")}


class ImportForm(forms.Form):
    """A programme file."""

    kind = forms.ChoiceField(
        label="The file holds",
        choices=[
            ("programme", "lines of the programme"),
            ("last_done", "what was last done (opening balances)"),
        ],
        widget=forms.RadioSelect,
        initial="programme",
    )
    file = forms.FileField(
        label="File", help_text="CSV (UTF-8) or XLSX, at most 10 MB; the first row names the columns."
    )
    mapping = forms.CharField(
        label="Columns with other names",
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="One a line: our name = name in the file, such as: title = Description",
    )
    bring_in = forms.BooleanField(
        label="Bring it in now", required=False, help_text="Left open, the file is only looked at."
    )

    def clean_mapping(self) -> dict[str, str]:
        """Field to column head."""
        pairs = {}
        for line in filter(None, map(str.strip, self.cleaned_data["mapping"].splitlines())):
            name, equals, head = line.partition("=")
            if not equals:
                raise forms.ValidationError(
                    f"“{line}” has no equals sign. Write: our name = name in the file."
                )
            pairs[name.strip().lower().replace(" ", "_")] = head.strip()
        return pairs


class RetireForm(forms.Form):
    """Why a line is no longer needed."""

    reason = forms.CharField(label="Why it is no longer needed", max_length=300)


class TableForm(forms.Form):
    """An approved table of permitted variations."""

    name = forms.CharField(label="Name", max_length=80)
    source = forms.CharField(label="Where its figures come from", max_length=200)
    approval = forms.CharField(
        label="Approval", max_length=120, required=False, help_text="Without one nothing is granted."
    )
    bands = forms.CharField(
        label="Bands",
        widget=forms.Textarea(attrs={"rows": 8, "spellcheck": "false"}),
        help_text=(
            "One a line: measure, above, up to, per cent, cap; a dash for none. "
            "Such as: hours - 5000:00 10 -   or   months - 36 - 1m"
        ),
    )

    def clean_bands(self) -> list[dict[str, Any]]:
        """Lines as data."""
        lines = [line.split() for line in self.cleaned_data["bands"].splitlines() if line.strip()]
        for line in lines:
            if len(line) != 5:
                raise forms.ValidationError(f"“{' '.join(line)}” has {len(line)} words; write five.")
        names = ("measure", "above", "up_to", "percent", "cap")
        rows = [dict(zip(names, line, strict=True)) for line in lines]
        return [{name: _word(word) for name, word in row.items() if word != "-"} for row in rows]


def _word(word: str) -> Any:
    """A cap in months is written 1m."""
    return {"months": word[:-1]} if word.endswith("m") and word[:-1].isdigit() else word


def band_line(band: Mapping[str, Any]) -> str:
    """A band as its line."""
    words = []
    for name in ("measure", "above", "up_to", "percent", "cap"):
        value = band.get(name, "-")
        words.append(f"{value['months']}m" if isinstance(value, dict) else str(value))
    return " ".join(words)
