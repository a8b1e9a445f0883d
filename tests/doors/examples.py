"""For every writing door of the API one body that goes through for somebody; a door without one fails the tests."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

from fleet.common.actor import Role
from records.selectors.runs import content_of_run
from records.services.amendments import Draft, amendment_content
from tests.doors.doors import Door
from tests.doors.scene import BANDS, LADDER, MONDAY, Scene, wall
from tests.makers import PASSWORD, at
from tests.records.makers import PNG, PURGE

Body = Mapping[str, Any] | Callable[[Scene], Mapping[str, Any]]


@dataclass(frozen=True, slots=True)
class Form:
    """A body sent as a form with files; made afresh each time, because files are read once."""

    make: Callable[[Scene], Mapping[str, Any]]


def moment(*place: int) -> str:
    """A moment counted from noon of DAY, as written on the wire."""
    return at(*place).isoformat()


WHY = {"reason": "because"}
DRAFT = {
    "title": "Purge",
    "content": PURGE,
    "approved_reference": "30-1",
    "approved_revision": "2",
    "ata": "30-10",
    "consequence": "icing",
    "minutes": 45,
}
LINE = {"title": "Annual", "ata": "05-10", "source": "P3", "limits": {"measure": "months", "every": 12}}
TABLE = {"name": "T", "source": "S", "approval": "A", "bands": BANDS}
RAISES = {
    "raises": [
        {"order": 1, "procedure_code": "panel-purge", "title": "Purge", "before": {"kind": "next_flight"}}
    ]
}
RULE = {"event_kind": "line-opened", "title": "After", "content": RAISES, "source": "30-10"}
ACCOUNT = {"password": PASSWORD}
DAYS = {"first_day": "2025-03-12", "last_day": "2025-03-13", "starts": "08:00", "ends": "16:00"}
PLACE = {"code": "panel-tail", "name": "Tail panel", "kind": "porous-panel"}


def base(scene: Scene) -> dict[str, str]:
    return {"base": scene.house.base.code}


def aircraft(scene: Scene) -> dict[str, str]:
    return {"aircraft": scene.aircraft.registration}


def registered(scene: Scene) -> dict[str, Any]:
    kind = scene.house.aircraft_type.code
    return {**base(scene), "aircraft_type": kind, "registration": "QX-NEW", "serial_number": "77"}


def tool(scene: Scene) -> dict[str, Any]:
    return {**base(scene), "code": "eq-new", "name": "Balance", "kind": "balance"}


def planned(scene: Scene) -> dict[str, Any]:
    return {"task": scene.key("task")}


def signing(scene: Scene) -> dict[str, Any]:
    digest = content_of_run(scene.things["run_to_sign"]).digest
    return {"meaning": "performed", "content_digest": digest, **ACCOUNT}


AMENDED = {"reason": "typing error", "text": "The left reading was 1490 mL."}


def amending(scene: Scene) -> dict[str, Any]:
    actor = scene.house.actor(Role.INSPECTOR)
    content = amendment_content(actor, Draft(scene.things["record"].number, **AMENDED))
    return {**AMENDED, "content_digest": content.digest, **ACCOUNT}


def opening(scene: Scene) -> dict[str, Any]:
    return {"task": scene.key("task"), "key": "k-open", "started_at": moment(5)}


def offline(scene: Scene) -> dict[str, Any]:
    body = {"task": scene.key("task")}
    command = {"id": "phone-1", "kind": "open_run", "captured_at": moment(5), "body": body}
    return {"device": "phone", "sent_at": moment(6), "commands": [command]}


def flights(scene: Scene) -> dict[str, Any]:
    rows = f"reg,date,minutes\n{scene.aircraft.registration},2025-03-05,30\n".encode()
    return {"file": SimpleUploadedFile("log.csv", rows, "text/csv")}


def programme(scene: Scene) -> dict[str, Any]:
    rows = b"code,title,ata,source,months\nannual,Annual,05-10,P3,12\n"
    return {"kind": "programme", "dry_run": "false", "file": SimpleUploadedFile("p.csv", rows)}


def picture(scene: Scene) -> dict[str, Any]:
    file = SimpleUploadedFile("p.png", PNG, "image/png")
    return {"step": "picture", "key": "k-picture", "taken_at": moment(2, 3, 5), "file": file}


EXAMPLES: dict[str, Body | Form] = {
    # fleet
    "POST bases/": {"code": "tarn-bay", "name": "Tarn Bay", "zone": "Europe/Oslo"},
    "PUT bases/{code}/": lambda scene: {"code": base(scene)["base"], "name": "Tarn Bay", "zone": "UTC"},
    "POST aircraft-types/": {"code": "dovekie", "name": "Dovekie"},
    "PATCH aircraft-types/{code}/": {"name": "Dovekie"},
    "POST aircraft-types/{code}/options/": {"code": "floats", "name": "Floats"},
    "POST aircraft-types/{code}/positions/": PLACE,
    "PUT aircraft-types/{code}/positions/{position}/": {"code": "tank", "name": "T", "kind": "fluid-tank"},
    "POST component-kinds/": {"code": "valve", "name": "Valve"},
    "POST aircraft/": lambda scene: {**registered(scene), "opening_at": moment(-30)},
    "PUT aircraft/{registration}/": lambda scene: {**registered(scene), "registration": "QX-OURS"},
    "POST components/": {"kind": "fluid-pump", "part_number": "P1", "serial_number": "S1"},
    "PATCH components/{component_id}/": {"release_document": "F1"},
    "POST components/{component_id}/overhauls/": {"done_on": "2025-01-01", "release_document": "F1"},
    "POST components/{component_id}/scrap/": WHY,
    "POST installations/{installation_id}/disposition/": {"method": "tag"},
    "POST life-limits/": {"kind": "fluid-pump", "parameter": "minutes", "limit": 60, "source": "manual"},
    "POST life-limits/{limit_id}/drop/": WHY,
    "POST meters/{meter_id}/readings/": {"at": moment(5), "value": 60_100},
    "POST meters/{meter_id}/corrections/": {"at": moment(5), "value": 60_010, **WHY},
    "POST flights/": lambda scene: {
        **aircraft(scene),
        "off_at": moment(5, 3),
        "minutes": 60,
        "reference": "L1",
    },
    "POST flights/{flight_id}/void/": WHY,
    "POST flight-imports/": Form(flights),
    "POST fluid-lots/": lambda scene: {
        **base(scene),
        "specification": "Glycol",
        "batch": "B-77",
        "received_on": "2025-01-01",
        "expires_on": "2099-01-01",
        "quantity": "200",
        "unit": "L",
        "densities": [{"celsius": "20", "grams_per_ml": "1.09"}],
    },
    "POST fluid-lots/{lot_id}/approve/": {},
    "POST fluid-lots/{lot_id}/quarantine/": WHY,
    "POST fluid-lots/{lot_id}/use-up/": {},
    "POST uplifts/": lambda scene: {
        **aircraft(scene),
        "lot": scene.shop.lot.pk,
        "at": moment(5),
        "amount": "20",
        "unit": "L",
    },
    "POST equipment/": tool,
    "PUT equipment/{equipment_id}/": lambda scene: {**tool(scene), "code": "ours-eq"},
    "POST equipment/{equipment_id}/calibrations/": {
        "done_on": "2025-01-01",
        "due_on": "2026-01-01",
        "certificate": "C9",
    },
    "POST equipment/{equipment_id}/withdraw/": {},
    "POST people/": {"username": "nell", "last_name": "Nell", "roles": ["technician"]},
    "PATCH people/{person_id}/": {"last_name": "Berg"},
    "POST people/{person_id}/roles/": {"roles": ["inspector"]},
    "POST people/{person_id}/password/": {},
    "POST people/{person_id}/certificates/": {
        "kind": "B1",
        "number": "9",
        "authority": "X",
        "issued_on": "2025-01-01",
    },
    "POST people/{person_id}/authorisations/": {
        "act": "perform",
        "reference": "R",
        "valid_from": "2025-01-01",
        "valid_to": "2026-01-01",
    },
    "POST authorisations/{authorisation_id}/revoke/": {},
    "POST tokens/": {"label": "tablet"},
    "POST tokens/{token_id}/revoke/": {},
    "POST passkeys/options/": ACCOUNT,
    "POST passkeys/proof-options/": {},
    "DELETE passkeys/{passkey_id}/": {},
    # scheduling
    "POST events/": lambda scene: {
        **aircraft(scene),
        "kind": "line-opened",
        "at": moment(5),
        "key": "k-event",
    },
    "POST event-kinds/": {"code": "hail", "name": "Hail"},
    "POST event-kinds/{code}/retire/": {},
    "POST rules/": {**RULE, "code": "rule-new"},
    "PUT rules/{code}/": RULE,
    "POST rules/{code}/enable/": {},
    "POST rules/{code}/disable/": {},
    "POST rules/dry-run/": {"code": "after-line-opened", "days": 30},
    "POST tasks/": lambda scene: {**aircraft(scene), "procedure": "ours-drafted", "why": "wanted"},
    "PATCH tasks/{task_id}/": lambda scene: {"assigned_to": scene.person(Role.TECHNICIAN).pk},
    "POST tasks/{task_id}/start/": {},
    "POST tasks/{task_id}/withdraw/": WHY,
    "POST procedures/": {**DRAFT, "code": "procedure-new"},
    "PUT procedures/{code}/draft/": DRAFT,
    "DELETE procedures/{code}/draft/": {},
    "POST procedures/{code}/publish/": {},
    "POST procedures/{code}/withdraw/": WHY,
    "POST requirements/": {**LINE, "code": "annual"},
    "PUT requirements/{code}/": LINE,
    "POST requirements/{code}/apply/": {},
    "POST requirements/{code}/retire/": WHY,
    "POST programme-applications/": {},
    "POST programme-imports/": Form(programme),
    "PUT due/{item_id}/last-done/": {"day": "2025-03-02", "counters": {"hours": "990:00"}, "proof": "P-1"},
    "POST due/{item_id}/stop/": WHY,
    "POST due/{item_id}/what-if/": {"limits": {"measure": "hours", "every": "200:00"}},
    "POST due/what-if/": lambda scene: {**aircraft(scene), "minutes_per_day": 60},
    "POST due/raise-tasks/": {},
    "POST due-views/": {"name": "mine", "query": {"consequence": "icing"}},
    "DELETE due-views/{view_id}/": {},
    "POST variation-tables/": TABLE,
    "PUT variation-tables/{table_id}/": TABLE,
    "POST variations/": lambda scene: {"item": scene.key("item"), "amount": "2:00", **WHY},
    "POST variations/{variation_id}/withdraw/": WHY,
    "POST reliefs/": lambda scene: {
        **aircraft(scene),
        "category": "C",
        "item": "30-2",
        "reference": "MEL 4",
        "recorded_at": moment(5),
    },
    "POST reliefs/{relief_id}/close/": WHY,
    "POST relief-categories/": {"code": "D", "days": 120, "source": "MEL"},
    "POST flying-plans/": lambda scene: {
        **aircraft(scene),
        "from_day": "2025-05-01",
        "to_day": "2025-05-02",
        "minutes_per_day": 60,
        "landings_per_day": "2",
    },
    "DELETE flying-plans/{plan_id}/": {},
    "POST week-plans/": lambda scene: {**base(scene), "monday": "2025-03-24", "by_hand": True},
    "POST week-plans/{plan_id}/move/": lambda scene: {**planned(scene), "starts_at": wall(2, 9).isoformat()},
    "POST week-plans/{plan_id}/unpin/": planned,
    "POST week-plans/{plan_id}/take-out/": planned,
    "POST week-plans/{plan_id}/publish/": {},
    "DELETE week-plans/{plan_id}/": {},
    "POST bays/": lambda scene: {**base(scene), "name": "Bay 9"},
    "POST bays/{bay_id}/close/": {"closed_on": str(MONDAY.replace(month=6))},
    "POST shifts/": lambda scene: {**base(scene), **DAYS, "person": scene.person(Role.INSPECTOR).pk},
    "DELETE shifts/{shift_id}/": {},
    "POST ground-times/": lambda scene: {**base(scene), **DAYS, "aircraft": "QX-OURT"},
    "DELETE ground-times/{ground_time_id}/": {},
    "POST reminders/{reminder_id}/acknowledge/": {},
    "POST reminders/{reminder_id}/snooze/": {"until": moment(8), **WHY},
    "POST mail-choice/": {"by_mail": "none"},
    "PUT reminder-ladders/{consequence}/": {"steps": LADDER},
    "DELETE reminder-ladders/{consequence}/": {},
    "POST calendar-links/": {"label": "mine"},
    "DELETE calendar-links/{link_id}/": {},
    "POST webhook-endpoints/": {"label": "room", "url": "https://sink.example/new"},
    "DELETE webhook-endpoints/{endpoint_id}/": {},
    "POST webhook-endpoints/{endpoint_id}/switch/": {"is_enabled": False},
    "POST webhook-endpoints/{endpoint_id}/test/": {},
    # records
    "POST runs/": opening,
    "POST runs/{run_id}/answers/": {
        "step": "clear",
        "key": "k-clear",
        "answer": {"acknowledged": True},
        "captured_at": moment(2, 3, 5),
    },
    "POST runs/{run_id}/equipment/": lambda scene: {"role": "cylinder", "equipment": scene.shop.cylinder.pk},
    "POST runs/{run_id}/lots/": lambda scene: {"lot": scene.shop.lot.pk, "amount": "22", "unit": "L"},
    "POST runs/{run_id}/photos/": Form(picture),
    "POST runs/{run_id}/pause/": {},
    "POST runs/{run_id}/resume/": {},
    "POST runs/{run_id}/hand-over/": lambda scene: {
        "to": scene.person(Role.INSPECTOR).pk,
        "note": "as it stands",
    },
    "POST runs/{run_id}/abandon/": WHY,
    "POST runs/{run_id}/finish/": {},
    "POST runs/{run_id}/sign/": signing,
    "POST records/{number}/amendment-content/": AMENDED,
    "POST records/{number}/amendments/": amending,
    "POST verification/": {},
    "POST sync/": offline,
    "POST phone/sign-in/": lambda scene: {"username": scene.person(Role.AUDITOR).username, **ACCOUNT},
    "POST phone/sign-out/": {},
}
# A passkey is made by a browser with its owner: proven in tests/mobile/test_passkeys.py.
NOT_BY_EXAMPLE = {"POST passkeys/": {"label": "phone", "credential": {}}}
# They answer a question and write nothing, whoever asks.
QUESTIONS = {
    "POST due/what-if/",
    "POST due/{item_id}/what-if/",
    "POST passkeys/options/",
    "POST passkeys/proof-options/",
    "POST phone/sign-in/",
    "POST phone/sign-out/",
    "POST records/{number}/amendment-content/",
    "POST rules/dry-run/",
    "POST verification/",
}
# A person's own things, which no role is needed for; someone else's are not found.
OWN = {
    "POST due-views/": "scheduling_savedview",
    "DELETE due-views/{view_id}/": "scheduling_savedview",
    "POST tokens/": "fleet_apitoken",
    "POST tokens/{token_id}/revoke/": "fleet_apitoken",
    "POST calendar-links/": "scheduling_calendarlink",
    "DELETE calendar-links/{link_id}/": "scheduling_calendarlink",
    "DELETE passkeys/{passkey_id}/": "fleet_passkey",
    "POST mail-choice/": "scheduling_reminderchoice",
    "POST reminders/{reminder_id}/acknowledge/": "scheduling_reminder",
    "POST reminders/{reminder_id}/snooze/": "scheduling_reminder",
}


def send(client: Any, scene: Scene, door: Door, address: str, **headers: str) -> Any:
    """Knock at a door with its example."""
    example = EXAMPLES.get(str(door), NOT_BY_EXAMPLE.get(str(door)))
    assert example is not None, f"{door}: write an example of what it takes in tests/doors/examples.py"
    ask = getattr(client, door.method)
    if door.method in ("put", "patch", "delete") or door.path.endswith("publish/"):
        headers = {"If-Match": "*", **headers}
    if isinstance(example, Form):
        return ask(address, dict(example.make(scene)), format="multipart", headers=headers)
    body = example(scene) if callable(example) else example
    return ask(address, dict(body), format="json", headers=headers)
