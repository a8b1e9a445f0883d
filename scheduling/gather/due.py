"""Rows into the facts the due engine is asked with: a constant number of queries, however many items."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.db.models import Q, QuerySet

from fleet.common.clock import now as present
from fleet.models import Installation
from scheduling.due.kept import last_due_from_data
from scheduling.due.parse import limits_from_data
from scheduling.due.terms import (
    Amount,
    AmountUnit,
    Facts,
    LastDue,
    Limits,
    Mark,
    Measure,
    Point,
    Since,
    Variation,
)
from scheduling.due.variation import Protection
from scheduling.gather.event_marks import EventMarks, event_marks
from scheduling.gather.subjects import (
    AircraftFacts,
    ComponentFacts,
    aircraft_facts,
    component_facts,
    stays_of,
)
from scheduling.gather.use import UNMEASURED, UseFacts, use_facts
from scheduling.models import Applicability, Requirement
from scheduling.models import Variation as VariationRow


@dataclass(frozen=True, slots=True)
class RequirementFacts:
    """One version of a line of the programme, its limits read."""

    id: int
    code: str
    version: int
    title: str
    ata: str
    consequence: str
    limits: Limits
    procedure_code: str
    protection: Protection
    source: str
    event_kind_id: int | None
    table_id: int | None
    design_caps: Mapping[str, Any] = field(default_factory=dict)
    ladder: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class DueItem:
    """One applicability with everything the engine and the forecast need to know about it."""

    id: int
    version: int
    requirement: RequirementFacts
    operator_id: int
    aircraft: AircraftFacts | None
    component: ComponentFacts | None
    facts: Facts
    use: UseFacts
    proof: str = ""
    opening_note: str = ""

    @property
    def subject(self) -> str:
        """What it is about: the component, or the aircraft."""
        if self.component is not None:
            return self.component.label
        return self.aircraft.registration if self.aircraft else ""

    @property
    def place(self) -> str:
        """Where a component sits now, "in store" when nowhere; empty for an aircraft."""
        if self.component is None:
            return ""
        return self.component.stay.position_name if self.component.stay else "in store"


NEVER = date.min.isoformat()

COLUMNS = (
    "pk",
    "version",
    "requirement_id",
    "aircraft_id",
    "component_id",
    "last_done",
    "last_due",
    "proof",
    "opening_note",
)


def items_on(aircraft_ids: Iterable[int]) -> QuerySet[Applicability]:
    """What applies to these aircraft, to what is fitted on them, and to what was when last reckoned."""
    ids = list(aircraft_ids)
    fitted = Installation.objects.filter(removed_at=None, aircraft_id__in=ids).values("component_id")
    there = (
        Q(component=None, aircraft_id__in=ids)
        | Q(component_id__in=fitted)
        | Q(component__isnull=False, due_fact__aircraft_id__in=ids)
    )
    return Applicability.objects.filter(there, is_active=True)


def due_items(rows: QuerySet[Applicability], moment: datetime | None = None) -> list[DueItem]:
    """The applicabilities of a query with their facts, as they stand at a moment (the present one, usually).

    Asks some fifteen queries, whether for one item or for a fleet.
    """
    at = moment or present()
    listed = list(rows.order_by("pk").values(*COLUMNS))
    requirements = requirement_facts({row["requirement_id"] for row in listed})
    component_ids = {row["component_id"] for row in listed if row["component_id"]}
    stays = stays_of(component_ids) if component_ids else {}
    aircraft_ids = {row["aircraft_id"] for row in listed if row["aircraft_id"] and not row["component_id"]}
    aircraft_ids |= {stay.aircraft_id for several in stays.values() for stay in several}
    by_flight_day = any(_counts_flight_days(one.limits) for one in requirements.values())
    aircraft = aircraft_facts(aircraft_ids, at, flight_days=by_flight_day)
    components = component_facts(stays, component_ids, aircraft, at) if component_ids else {}
    kinds = {one.event_kind_id for one in requirements.values() if one.event_kind_id}
    marks = event_marks(aircraft, kinds) if kinds else EventMarks({}, {})
    use = use_facts({pk: one.type_id for pk, one in aircraft.items()})
    variations = granted_variations(rows)
    gathered = _Gathered(requirements, aircraft, components, marks, use, variations)
    return [item for row in listed if (item := gathered.item(row)) is not None]


def _counts_flight_days(limits: Limits) -> bool:
    from_members = getattr(limits, "members", None)
    if from_members is not None:
        return any(_counts_flight_days(one) for one in from_members)
    return getattr(limits, "measure", None) is Measure.FLIGHT_DAYS


@dataclass(frozen=True, slots=True)
class _Gathered:
    requirements: Mapping[int, RequirementFacts]
    aircraft: Mapping[int, AircraftFacts]
    components: Mapping[int, ComponentFacts]
    marks: EventMarks
    use: Mapping[int, UseFacts]
    variations: Mapping[int, tuple[Variation, ...]]

    def item(self, row: Mapping[str, Any]) -> DueItem | None:
        requirement = self.requirements[row["requirement_id"]]
        component = self.components.get(row["component_id"] or 0)
        place = component.stay.aircraft_id if component and component.stay else row["aircraft_id"]
        aircraft = None if component and not component.stay else self.aircraft.get(place or 0)
        subject = component or aircraft
        if subject is None:
            return None
        use = self.use.get(aircraft.id, UNMEASURED) if aircraft else UNMEASURED
        return DueItem(
            id=row["pk"],
            version=row["version"],
            requirement=requirement,
            operator_id=subject.operator_id,
            aircraft=aircraft,
            component=component,
            facts=self._facts(row, requirement, aircraft, component, use),
            use=use,
            proof=row["proof"],
            opening_note=row["opening_note"],
        )

    def _facts(
        self,
        row: Mapping[str, Any],
        requirement: RequirementFacts,
        aircraft: AircraftFacts | None,
        component: ComponentFacts | None,
        use: UseFacts,
    ) -> Facts:
        if component is not None:
            now, marks = component.now, dict(component.marks)
        else:
            assert aircraft is not None  # noqa: S101 - asked only where one of both is there
            now, marks = aircraft.now, {Since.NEW: aircraft.new}
        done = mark_from_data(row["last_done"], row["proof"])
        if done is not None:
            marks[Since.LAST_DONE] = done
        event = self.marks.of(requirement.event_kind_id, aircraft, component, self.aircraft)
        if event is not None:
            marks[Since.EVENT] = event
        assert now.day is not None  # noqa: S101 - gathered with its day
        return Facts(
            today=now.day,
            now=now,
            marks=marks,
            last_due=kept_dues(row["last_due"]),
            variations=self.variations.get(row["pk"], ()),
            season=aircraft.season if aircraft else None,
            use_per_day=use.rate.per_day(),
        )


def mark_to_data(mark: Mark) -> dict[str, Any]:
    """A mark as it is kept on an applicability."""
    return {"day": mark.day.isoformat() if mark.day else None, "counters": dict(mark.counters)}


def mark_from_data(data: Mapping[str, Any], record: str = "") -> Mark | None:
    """Read back what `mark_to_data` wrote; nothing kept is None."""
    if not data:
        return None
    day = date.fromisoformat(data["day"]) if data.get("day") else None
    return Mark(day, data.get("counters", {}), record or None)


def kept_dues(data: Mapping[str, Any]) -> dict[str, LastDue]:
    """The dues the last work answered."""
    return last_due_from_data(data) if data else {}


def requirement_facts(requirement_ids: Iterable[int]) -> dict[int, RequirementFacts]:
    """Requirements with their limits read: one query."""
    rows = Requirement.objects.filter(pk__in=list(requirement_ids)).select_related("procedure")
    return {row.pk: requirement_of(row) for row in rows}


def requirement_of(row: Requirement) -> RequirementFacts:
    """One stored requirement with its limits read."""
    return RequirementFacts(
        id=row.pk,
        code=row.code,
        version=row.version,
        title=row.title,
        ata=row.ata,
        consequence=row.consequence,
        limits=limits_from_data(row.limits),
        procedure_code=row.procedure.code if row.procedure else "",
        protection=protection_of(row),
        source=row.source,
        event_kind_id=row.event_kind_id,
        table_id=row.variation_table_id,
        design_caps=row.design_caps,
        ladder=row.ladder,
    )


def protection_of(row: Requirement) -> Protection:
    """Whether a requirement may be varied at all."""
    if row.is_airworthiness_limitation:
        return Protection.LIMITATION
    if row.is_directive:
        return Protection.DIRECTIVE_ALLOWING if row.directive_allows_variation else Protection.DIRECTIVE
    return Protection.ORDINARY


def granted_variations(rows: QuerySet[Applicability]) -> dict[int, tuple[Variation, ...]]:
    """Variations not yet used or withdrawn, by applicability: one query."""
    found: dict[int, list[Variation]] = defaultdict(list)
    granted = VariationRow.objects.filter(
        applicability__in=rows.order_by().values("pk"), used_at=None, withdrawn_at=None
    ).select_related("granted_by")
    for row in granted:
        found[row.applicability_id].append(variation_of(row))
    return {pk: tuple(several) for pk, several in found.items()}


def variation_of(row: VariationRow) -> Variation:
    """One stored variation as the engine reads it."""
    unit = AmountUnit.MONTHS if row.in_months else AmountUnit.OWN
    return Variation(
        path=row.path,
        for_due=point_from_data(row.for_due if row.for_due is not None else NEVER),
        amount=Amount(row.amount, unit),
        approved_by=row.granted_by.full_name,
        reason=row.reason,
        reference=row.authority,
    )


def point_to_data(point: Point) -> int | str:
    """A day or a counter value as it is kept."""
    return point.isoformat() if isinstance(point, date) else point


def point_from_data(kept: int | str) -> Point:
    """Read back what `point_to_data` wrote."""
    return date.fromisoformat(kept) if isinstance(kept, str) else kept
