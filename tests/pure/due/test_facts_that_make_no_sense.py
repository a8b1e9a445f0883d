"""Marks that cannot be: in the future, above the meter, missing their installation."""

from datetime import date

from scheduling.due.sense import fault_of_first_limit, faults_of_done, faults_of_installation
from scheduling.due.terms import Facts, Limit, Mark, Measure, Since
from tests.words import plain

TODAY = date(2026, 3, 2)
FACTS = Facts(TODAY, Mark(TODAY, {"hours": 60_000}))
HOURS = Limit(Measure.HOURS, 12_000)


def test_a_last_done_in_the_future_is_named() -> None:
    faults = list(faults_of_done(HOURS, FACTS, Mark(date(2026, 3, 3), {"hours": 60_000})))
    assert [(*fault[:3], plain(fault[3])) for fault in faults] == [
        ("last_done.day", date(2026, 3, 3), "lies in the future", "write a day up to 2 Mar 2026")
    ]


def test_a_last_done_above_the_meter_is_named() -> None:
    faults = list(faults_of_done(HOURS, FACTS, Mark(TODAY, {"hours": 60_001})))
    assert [(field, plain(str(value))) for field, value, _, _ in faults] == [
        ("last_done.hours", "1 000:01 h")
    ]


def test_a_last_done_without_the_counter_of_its_limit_is_named() -> None:
    assert [fault[0] for fault in faults_of_done(HOURS, FACTS, Mark(TODAY))] == ["last_done.hours"]
    assert [fault[0] for fault in faults_of_done(Limit(Measure.DAYS, 3), FACTS, Mark())] == ["last_done.day"]


def test_a_good_last_done_has_no_fault() -> None:
    assert list(faults_of_done(HOURS, FACTS, Mark(TODAY, {"hours": 60_000}))) == []


def test_a_component_limit_without_an_installation_is_named() -> None:
    fitted = Limit(Measure.HOURS, 600, since=Since.FITTED)
    assert [fault[0] for fault in faults_of_installation(fitted, FACTS)] == ["marks.fitted"]
    overhaul = Limit(Measure.HOURS, 600, since=Since.OVERHAUL)
    assert [fault[0] for fault in faults_of_installation(overhaul, FACTS)] == ["marks.overhaul"]
    new = Facts(TODAY, Mark(), {Since.NEW: Mark(TODAY)})
    assert list(faults_of_installation(overhaul, new)) == []


def test_a_first_limit_already_past_is_named_until_it_was_done() -> None:
    limit = Limit(Measure.HOURS, 12_000, first=6_000)
    born = Facts(TODAY, Mark(TODAY, {"hours": 6_001}), {Since.NEW: Mark(None, {"hours": 0})})
    faults = list(fault_of_first_limit(limit, "1", born))
    assert [(field, plain(str(value))) for field, value, _, _ in faults] == [("limits[1].first", "100:00 h")]
    at_limit = Facts(TODAY, Mark(TODAY, {"hours": 6_000}), {Since.NEW: Mark(None, {"hours": 0})})
    assert list(fault_of_first_limit(limit, "1", at_limit)) == []
