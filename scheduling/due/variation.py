"""Permitted variations: the approved table as data, what it allows, and what it may never touch. Pure.

The rule itself holds no numbers; the programme states them and the authority approves them, so a table
carries its source and approval and without either nothing is granted.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import Any

from fleet.common.errors import Reason
from scheduling.due.anchor import DAYS_OF_A_MONTH, distance, shifted
from scheduling.due.terms import (
    Amount,
    AmountUnit,
    DueStatus,
    Limit,
    LimitDue,
    Measure,
    Variation,
)
from scheduling.due.wording import MEASURE_NAMES, amount_words, interval_words
from scheduling.due.written import (
    Faults,
    LimitError,
    amount_from_data,
    amount_to_data,
    percent_from_data,
    read_choice,
    read_size,
    read_text,
    size_to_data,
)


class Protection(StrEnum):
    """What a requirement is; only the ordinary kind, and a directive that says so, may be varied."""

    ORDINARY = "ordinary"
    DIRECTIVE = "airworthiness_directive"
    DIRECTIVE_ALLOWING = "airworthiness_directive_that_allows_it"
    LIMITATION = "airworthiness_limitation"
    SAFETY = "safety_could_suffer"


NEVER = {
    Protection.DIRECTIVE: "is an airworthiness directive that does not provide for it",
    Protection.LIMITATION: "stands in the airworthiness limitation section",
    Protection.SAFETY: "concerns a case where safety could suffer",
}


@dataclass(frozen=True, slots=True)
class Band:
    """Intervals above `above` up to and including `up_to` may vary by `percent` or `cap`, the lesser of
    both."""

    measure: Measure
    above: int | None = None
    up_to: int | None = None
    percent: Fraction | None = None
    cap: Amount | None = None


@dataclass(frozen=True, slots=True)
class VariationTable:
    """An approved table of permitted variations, with where its figures come from and who approved them."""

    name: str
    source: str
    approval: str
    bands: tuple[Band, ...]


@dataclass(frozen=True, slots=True)
class VariationRequest:
    """What the director of maintenance asks for: one limit, one amount, one reason."""

    amount: Amount
    approved_by: str
    reason: str
    reference: str = ""
    protection: Protection = Protection.ORDINARY
    design_cap: Amount | None = None


class VariationRefused(LimitError):
    """No variation: the table does not allow it, or nothing could."""


def _refuse(code: str, field: str, value: object, detail: str, remedy: str) -> VariationRefused:
    reason = Reason(detail=detail, field=field, value=str(value)[:60], remedy=remedy)
    return VariationRefused(code, reason.sentence(), reason)


def variation_for(
    limit: Limit,
    table: VariationTable | None,
    protection: Protection = Protection.ORDINARY,
    design_cap: Amount | None = None,
) -> Amount:
    """The most a limit may vary: 500 landings may vary by 25 and 501 by 50 in a table with that step.

    Raises VariationRefused where a variation may never apply or the approved table is silent. A limit of the
    design holder (`design_cap`) prevails where it is the smaller.
    """
    if protection in NEVER:
        raise _refuse(
            "never_varied", "protection", protection.value, NEVER[protection], "do it when it is due"
        )
    if table is None or not table.approval.strip():
        remedy = "have the table approved and enter the approval first"
        raise _refuse("no_approved_table", "table", table.name if table else "", "is not approved", remedy)
    band = _band(limit, table)
    if band is None:
        detail = f"has no band in {table.name}"
        raise _refuse("no_band", "limit", interval_words(limit), detail, "do it when it is due")
    allowed = _in_band(limit, band)
    return allowed if design_cap is None else _lesser(allowed, design_cap)


def _band(limit: Limit, table: VariationTable) -> Band | None:
    if not isinstance(limit.interval, int) or limit.once:
        return None
    size = limit.interval
    for band in table.bands:
        is_above = band.above is None or size > band.above
        if band.measure is limit.measure and is_above and (band.up_to is None or size <= band.up_to):
            return band
    return None


def _in_band(limit: Limit, band: Band) -> Amount:
    offers = [] if band.cap is None else [band.cap]
    if band.percent is not None:
        assert isinstance(limit.interval, int)  # noqa: S101 - a limit without interval has no band
        size = limit.interval * (DAYS_OF_A_MONTH if limit.measure is Measure.MONTHS else 1)
        offers.append(Amount(int(size * band.percent / 100)))
    least = offers[0]
    for offer in offers[1:]:
        least = _lesser(least, offer)
    return least


def _reach(amount: Amount) -> int:
    return amount.value * (DAYS_OF_A_MONTH if amount.unit is AmountUnit.MONTHS else 1)


def _lesser(left: Amount, right: Amount) -> Amount:
    return left if _reach(left) <= _reach(right) else right


def grant_variation(due: LimitDue, request: VariationRequest, table: VariationTable | None) -> Variation:
    """The variation for this limit and this one due point, or VariationRefused.

    100 h due at 1300:00 may be granted ten hours once; a second time for the same due, or eleven hours,
    is refused, and so is a grant after the limit has passed.
    """
    allowed = variation_for(due.limit, table, request.protection, request.design_cap)
    if due.due_at is None:
        raise _refuse("due_not_known", "due", "", "is not known", "record when it was last done first")
    if not request.reason.strip():
        raise _refuse("reason_missing", "reason", "", "is missing", "say why it cannot be done in time")
    if due.variation is not None:
        remedy = "a variation is for one occasion: do it before the granted point"
        raise _refuse(
            "granted_before", "due", due.variation.reference, "was already varied for this due", remedy
        )
    if due.status is DueStatus.OVERDUE:
        detail = "has already passed"
        raise _refuse("already_past", "due", due.due_at, detail, "do it now; it may not be used until then")
    if request.amount.value < 1 or _is_further(due, request.amount, allowed):
        measure = due.limit.measure
        remedy = f"ask for {amount_words(measure, allowed)} at most"
        asked = amount_words(measure, request.amount)
        raise _refuse("above_what_is_permitted", "amount", asked, "is not permitted", remedy)
    return Variation(
        due.path, due.due_at, request.amount, request.approved_by, request.reason, request.reference
    )


def _is_further(due: LimitDue, asked: Amount, allowed: Amount) -> bool:
    assert due.due_at is not None  # noqa: S101 - refused before where it is not known
    return (
        distance(shifted(due.limit, due.due_at, allowed), shifted(due.limit, due.due_at, asked)) > 0
    )  # fmt: skip


def table_from_data(data: Mapping[str, Any]) -> VariationTable:
    """Read a table; raises LimitError naming every fault.

    `{"name": "Light schedule", "source": "...", "approval": "...", "bands": [{"measure": "hours",
    "up_to": "5000:00", "percent": "10"}, {"measure": "hours", "above": "5000:00", "cap": "500:00"}]}`
    """
    faults = Faults()
    texts = {name: read_text(data.get(name), name, faults) for name in ("name", "source", "approval")}
    for name in ("name", "source"):
        if not texts[name]:
            faults.add(name, "", "is missing", "say where the figures come from")
    listed = data.get("bands")
    if not isinstance(listed, list) or not listed:
        faults.add("bands", listed, "lists no bands", "list at least one band")
        listed = []
    bands = [_band_from_data(one, f"bands[{number}]", faults) for number, one in enumerate(listed)]
    faults.raise_if_any()
    return VariationTable(
        texts["name"], texts["source"], texts["approval"], tuple(one for one in bands if one)
    )


def _band_from_data(data: object, field: str, faults: Faults) -> Band | None:
    if not isinstance(data, Mapping):
        faults.add(field, data, "is no band", "write measure, above, up_to, percent and cap")
        return None
    measure = read_choice(data.get("measure"), Measure, f"{field}.measure", faults)
    if measure is None:
        return None
    if measure in (Measure.DATE, Measure.SEASON):
        faults.add(f"{field}.measure", measure.value, "cannot be varied", "use a measure with an interval")
        return None

    def size(name: str) -> int | None:
        given = data.get(name)
        return None if given is None else read_size(given, measure, f"{field}.{name}", faults)

    given_percent, given_cap = data.get("percent"), data.get("cap")
    percent = None if given_percent is None else percent_from_data(given_percent, field, faults)
    cap = None if given_cap is None else amount_from_data(given_cap, measure, f"{field}.cap", faults)
    band = Band(measure, size("above"), size("up_to"), percent, cap)
    if given_percent is None and given_cap is None:
        faults.add(field, MEASURE_NAMES[measure], "allows nothing", "write a percent, a cap or both")
    if band.above is not None and band.up_to is not None and band.above >= band.up_to:
        faults.add(f"{field}.up_to", band.up_to, "ends before it begins", "write an end above its beginning")
    return band


def table_to_data(table: VariationTable) -> dict[str, Any]:
    """A table as plain written data: what `table_from_data` reads back."""
    bands = [_band_to_data(band) for band in table.bands]
    return {"name": table.name, "source": table.source, "approval": table.approval, "bands": bands}


def _band_to_data(band: Band) -> dict[str, Any]:
    written: dict[str, Any] = {
        "measure": band.measure.value,
        "above": None if band.above is None else size_to_data(band.measure, band.above),
        "up_to": None if band.up_to is None else size_to_data(band.measure, band.up_to),
        "percent": None if band.percent is None else str(band.percent),
        "cap": None if band.cap is None else amount_to_data(band.measure, band.cap),
    }
    return {name: value for name, value in written.items() if value is not None}
