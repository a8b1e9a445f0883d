"""What a technician finds on the first screens: the shift, what waits for signatures, what stands on a label."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from playwright.sync_api import expect

from fleet.common.actor import Role
from fleet.common.clock import now
from fleet.models import Equipment, User
from scheduling.models import Bay, Shift, Slot, Task, WeekPlan
from tests.makers import EquipmentMaker, at
from tests.mobile.phone import Phone
from tests.records.makers import Workshop


def plan(shop: Workshop, person: User, task: Task) -> None:
    """Publish a plan with this task in the shift the person is in."""
    base, start = shop.house.base, now() - timedelta(hours=1)
    Shift.objects.create(person=person, base=base, starts_at=start, ends_at=start + timedelta(hours=8))
    published = WeekPlan.objects.create(
        operator=shop.house.operator, base=base, monday=start.date(), state="published", asked_at=start
    )
    bay = Bay.objects.create(base=base, name="North bay")
    ends = start + timedelta(hours=3)
    slot = Slot.objects.create(plan=published, task=task, bay=bay, starts_at=start, ends_at=ends)
    slot.people.add(person)


def test_my_shift_comes_first_with_its_bay_and_time(
    hand_phone: Callable[..., Phone], purged: Workshop
) -> None:
    person, task = purged.house.person(Role.TECHNICIAN), purged.task("panel-flow-test")
    plan(purged, person, task)
    phone = hand_phone(person)
    phone.start()
    expect(phone.button("My shift 1")).to_have_attribute("aria-pressed", "true")
    phone.see(f"at {purged.house.base.name}")
    phone.see("North bay")
    phone.tap("Given to me 0")
    phone.see("No open task here")
    phone.tap("Free at my base 1")
    phone.see("North bay")


def test_finished_work_waits_for_both_signatures_on_whose_phone_it_is(
    hand_phone: Callable[..., Phone], purged: Workshop
) -> None:
    run = purged.flow_test(at(hours=2))
    doer = hand_phone(purged.house.person(Role.TECHNICIAN))
    doer.start()
    doer.see("Yours to sign")
    purged.sign(run)
    doer.tap("Load today’s work again")
    doer.see("Somebody else inspects and signs")
    second = hand_phone(purged.house.person(Role.INSPECTOR))
    second.start()
    second.see("Yours to inspect and sign")
    second.page.locator(f"a[href='#/sign/{run.pk}']").tap()
    second.see("I inspected this work")


def test_what_stands_on_a_label_can_be_typed(phone: Phone, purged: Workshop) -> None:
    part = purged.aircraft.installations.get(removed_at=None).component
    phone.open("scan")
    phone.tap("Type what stands on it")
    field = phone.page.get_by_label("Registration, serial number or part number")
    field.fill(f"S/N {part.serial_number}")
    phone.tap("Look for this component")
    phone.page.get_by_role("link", name=part.serial_number).tap()
    phone.see(part.part_number)
    phone.tap("Back")
    field.fill("no such number")
    phone.tap("Look for this component")
    phone.see("No component has this in its serial or part number.")
    phone.cut()
    phone.tap("Look for this component")
    phone.see("No reception here.")
    field.fill(purged.aircraft.registration.lower())
    field.press("Enter")
    phone.see_title(purged.aircraft.registration)


def test_two_cylinders_are_two(hand_phone: Callable[..., Phone], purged: Workshop) -> None:
    version = purged.task("panel-flow-test").procedure.versions.get(state="current")
    again = {"role": "cylinder-right", "kind": purged.cylinder.kind, "name": "Second cylinder"}
    content = version.content | {"equipment": [*version.content["equipment"], again]}
    type(version).objects.filter(pk=version.pk).update(content=content)
    EquipmentMaker(
        operator=purged.house.operator, base=purged.house.base, kind=purged.cylinder.kind, code="zz-second"
    )
    phone = hand_phone(purged.house.person(Role.TECHNICIAN))
    phone.start()
    phone.tap("Panel flow test")
    chosen = [phone.page.locator(f"#role-{role}").input_value() for role in ("cylinder", "cylinder-right")]
    both = Equipment.objects.filter(kind=purged.cylinder.kind)
    assert set(chosen) == {str(each.pk) for each in both}


def test_the_last_result_stands_beside_its_limits(hand_phone: Callable[..., Phone], purged: Workshop) -> None:
    purged.do_flow_test(at(hours=3))
    purged.report("line-opened", at(1))
    purged.do_purge(at(1, 1))
    phone = hand_phone(purged.house.person(Role.TECHNICIAN))
    phone.start()
    phone.tap("Panel flow test")
    phone.see(f"Last time on {purged.aircraft.registration}")
    rows = phone.page.locator(".previous li").all()
    assert len(rows) > 3
    assert [row.inner_text() for row in rows if "Allowed: " not in row.inner_text()] == []
