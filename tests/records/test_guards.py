"""What the database itself refuses in the records room: through the ORM, in bulk, and in raw SQL."""

from collections.abc import Callable
from importlib import import_module

import pytest
from django.db import DatabaseError, connection, transaction
from django.db.models import Model, ProtectedError

from records.models import (
    BenchRun,
    HandOver,
    Measurement,
    Photo,
    Signature,
    SignedRecord,
    StepAnswer,
)
from records.services.provisions import hand_over
from tests.makers import at
from tests.records.makers import Workshop, make_workshop

pytestmark = pytest.mark.django_db
APPEND_ONLY: dict[type[Model], tuple[str, object]] = {
    StepAnswer: ("outcome", "pass"),
    Measurement: ("value", "9999"),
    Signature: ("name", "Somebody Else"),
    SignedRecord: ("verdict", "pass"),
    Photo: ("sha256", "0" * 64),
    HandOver: ("note", "nothing"),
}


@pytest.fixture
def shop() -> Workshop:
    """A shop whose every append-only table holds a row."""
    shop = make_workshop()
    shop.report()
    shop.do_purge(at(0, 1))
    run = shop.open("panel-flow-test", at(0, 3))
    shop.fill_flow_test(run)
    inspector = shop.inspector
    hand_over(actor=shop.technician, run_id=run.pk, to_user_id=inspector.user_id or 0, note_words="x")
    hand_over(actor=inspector, run_id=run.pk, to_user_id=shop.technician.user_id or 0, note_words="y")
    return shop


def refused(act: Callable[[], object]) -> str:
    """The database's words; fails where it lets the act pass."""
    with pytest.raises(DatabaseError) as refusal, transaction.atomic():
        act()
    return str(refusal.value)


def raw(statement: str) -> Callable[[], object]:
    def run() -> None:
        with connection.cursor() as cursor:
            cursor.execute(statement)

    return run


def test_every_append_only_table_is_tried_here() -> None:
    guards = import_module("records.migrations.0002_guards").GUARDS
    kept = {guard.table for guard in guards if guard.name.endswith("_no_update") and guard.when == "TRUE"}
    assert {model._meta.db_table for model in APPEND_ONLY} == kept


@pytest.mark.parametrize("model", APPEND_ONLY, ids=lambda model: model.__name__)
def test_rows_are_never_changed(shop: Workshop, model: type[Model]) -> None:
    name, value = APPEND_ONLY[model]
    row = model.objects.earliest("pk")  # type: ignore[attr-defined]
    before = getattr(row, name)
    setattr(row, name, value)
    table = model._meta.db_table
    rows = model.objects  # type: ignore[attr-defined]
    for act in (
        row.save,
        lambda: rows.filter(pk=row.pk).update(**{name: value}),
        lambda: rows.bulk_update([row], [name]),
        raw(f"UPDATE {table} SET {name} = {name} WHERE id = {row.pk}"),
    ):
        assert "append-only" in refused(act)
    assert getattr(rows.get(pk=row.pk), name) == before


@pytest.mark.parametrize("model", APPEND_ONLY, ids=lambda model: model.__name__)
def test_rows_are_never_deleted(shop: Workshop, model: type[Model]) -> None:
    rows = model.objects  # type: ignore[attr-defined]
    number = rows.count()
    assert number
    table = model._meta.db_table
    for act in (
        lambda: rows.filter(pk=rows.earliest("pk").pk)._raw_delete(rows.db),
        lambda: rows.all()._raw_delete(rows.db),
        raw(f"DELETE FROM {table}"),
    ):
        assert "append-only" in refused(act)
    assert rows.count() == number


def test_a_signed_run_never_changes(shop: Workshop) -> None:
    run = BenchRun.objects.get(state="signed")
    table = BenchRun._meta.db_table
    for act in (
        run.save,
        lambda: BenchRun.objects.filter(pk=run.pk).update(verdict="fail"),
        lambda: BenchRun.objects.bulk_update([run], ["verdict"]),
        raw(f"UPDATE {table} SET state = 'open' WHERE id = {run.pk}"),
    ):
        assert "a signed run never changes" in refused(act)


def test_runs_are_never_deleted(shop: Workshop) -> None:
    table = BenchRun._meta.db_table
    assert "runs are never deleted" in refused(raw(f"DELETE FROM {table} WHERE state = 'open'"))
    with pytest.raises((ProtectedError, DatabaseError)), transaction.atomic():
        BenchRun.objects.all().delete()
    assert BenchRun.objects.count() == 2


def test_somebody_who_signed_cannot_be_deleted(shop: Workshop) -> None:
    with pytest.raises(ProtectedError):
        shop.house.person("technician").delete()


def test_an_open_run_may_go_on(shop: Workshop) -> None:
    assert BenchRun.objects.filter(state="open").update(version=9) == 1


def test_a_chain_has_no_two_records_of_one_number(shop: Workshop) -> None:
    record = SignedRecord.objects.get()
    record.pk, record.digest = None, "f" * 64
    words = refused(lambda: record.save(force_insert=True))
    assert "unique" in words.lower()
    assert SignedRecord.objects.count() == 1


def test_a_task_has_no_two_runs_in_hand(shop: Workshop) -> None:
    run = BenchRun.objects.get(state="open")
    run.pk, run.number, run.key = None, 2, "another"
    words = refused(lambda: run.save(force_insert=True))
    assert "unique" in words.lower()
