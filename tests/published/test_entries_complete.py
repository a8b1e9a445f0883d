"""What makes a maintenance entry complete: 14 CFR 43.9(a) for work, 43.11(a) for inspections, 43.9(c) between them."""

from dataclasses import replace
from datetime import date

import pytest

from records.seal.entry import Approver, EntryFacts, EntryKind, missing_from

pytestmark = pytest.mark.published
APPROVER = Approver(7, "Ida Holm", "NV.66.1042", "maintenance licence B1")
WORK = EntryFacts(
    kind=EntryKind.WORK,
    description="Panel purge per work instruction 30-101 revision 2",
    completed_on=date(2026, 3, 14),
    approver=APPROVER,
    performer_id=7,
)
INSPECTION = replace(
    WORK, kind=EntryKind.INSPECTION, total_minutes=78270, statement="Found within its limits."
)


def lacking(entry: EntryFacts) -> list[str]:
    return [reason.field for reason in missing_from(entry)]


def test_a_work_entry_with_its_four_items_is_complete() -> None:
    """14 CFR 43.9(a)(1) to (4)."""
    assert lacking(WORK) == []


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"description": " "}, "description"),
        ({"completed_on": None}, "completed_on"),
        ({"approver": None}, "approver"),
        ({"approver": replace(APPROVER, certificate_number="")}, "certificate_number"),
        ({"approver": replace(APPROVER, certificate_kind="")}, "certificate_kind"),
    ],
)
def test_each_item_of_a_work_entry_is_asked_for(change: dict[str, object], field: str) -> None:
    assert lacking(replace(WORK, **change)) == [field]  # type: ignore[arg-type]


def test_the_performers_name_is_asked_for_where_somebody_else_approves() -> None:
    """14 CFR 43.9(a)(3): the name of the person performing the work, if other than the one approving."""
    assert lacking(replace(WORK, performer_id=8)) == ["performer_name"]
    assert lacking(replace(WORK, performer_id=8, performer_name="Aron Berg")) == []


def test_time_in_service_is_no_item_of_a_work_entry_but_one_of_an_inspection() -> None:
    """14 CFR 43.9(a) and 43.11(a)(2)."""
    assert lacking(replace(WORK, total_minutes=None)) == []
    assert lacking(replace(INSPECTION, total_minutes=None)) == ["total_minutes"]


def test_an_inspection_carries_its_statement_or_its_list() -> None:
    """14 CFR 43.11(a)(4) and (5)."""
    assert lacking(INSPECTION) == []
    assert lacking(replace(INSPECTION, statement="")) == ["statement"]
    disapproved = replace(INSPECTION, is_approved=False, statement="")
    assert lacking(disapproved) == ["discrepancies_on"]
    assert lacking(replace(disapproved, discrepancies_on=date(2026, 3, 14))) == []


def test_the_two_rules_exclude_each_other() -> None:
    """14 CFR 43.9(c): an inspection is judged by 43.11 alone; the performer's name is not asked for."""
    assert lacking(replace(INSPECTION, performer_id=8)) == []
