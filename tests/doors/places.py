"""What stands in an address for each name in it: a thing of the operator, chosen so that the door can open."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from fleet.common.actor import Role
from tests.doors.doors import Door
from tests.doors.scene import Scene

Fill = Callable[[Scene], Any]


def thing(name: str, attribute: str = "pk") -> Fill:
    """A value of one of the scene's things."""
    return lambda scene: getattr(scene.things[name], attribute)


def always(value: Any) -> Fill:
    """The same value in every scene."""
    return lambda _scene: value


RECORD_POINT = "flow-left"
NAMES: dict[str, Fill] = {
    "authorisation": thing("authorisation"),
    "authorisation_id": thing("authorisation"),
    "batch_id": thing("batch"),
    "bay": thing("bay"),
    "bay_id": thing("bay"),
    "calendar": thing("link"),
    "component": thing("component"),
    "component_id": thing("component"),
    "consequence": always("icing"),
    "digest": thing("record", "digest"),
    "endpoint": thing("endpoint"),
    "endpoint_id": thing("endpoint"),
    "equipment": thing("equipment"),
    "equipment_id": thing("equipment"),
    "event_id": thing("event"),
    "flight": thing("flight"),
    "flight_id": thing("flight"),
    "ground": thing("ground"),
    "ground_time_id": thing("ground"),
    "installation": thing("removed"),
    "installation_id": thing("removed"),
    "item_id": thing("item"),
    "key": lambda scene: scene.calendar_key,
    "limit": thing("limit"),
    "limit_id": thing("limit"),
    "link_id": thing("link"),
    "lot": thing("lot_received"),
    "lot_id": thing("lot_received"),
    "meter": thing("meter"),
    "meter_id": thing("meter"),
    "passkey": thing("passkey"),
    "passkey_id": thing("passkey"),
    "person": lambda scene: scene.person(Role.TECHNICIAN).pk,
    "person_id": lambda scene: scene.person(Role.TECHNICIAN).pk,
    "photo_id": thing("photo"),
    "plan": thing("plan"),
    "plan_id": thing("plan"),
    "point": always(RECORD_POINT),
    "position": always("tank"),
    "procedure": always("panel-flow-test"),
    "registration": lambda scene: scene.aircraft.registration,
    "relief_id": thing("relief"),
    "reminder": thing("reminder"),
    "reminder_id": thing("reminder"),
    "run_id": thing("run"),
    "shift": thing("shift"),
    "shift_id": thing("shift"),
    "state": always("off"),
    "step": always("clear"),
    "table_id": thing("table"),
    "task_id": thing("task"),
    "token_id": thing("token"),
    "upload": thing("upload"),
    "upload_id": thing("upload"),
    "variation_id": thing("variation"),
    "view_id": thing("view"),
}
# Where the same name means another thing: the longest beginning of an address wins, or a whole door.
ELSEWHERE: dict[str, Mapping[str, Fill]] = {
    "GET week-plans/{plan_id}/": {"plan_id": thing("plan_published")},
    "GET week/{plan}/progress/": {"plan": thing("plan_published")},
    "account/keys/": {"key": thing("token")},
    "aircraft-types/": {"code": lambda scene: scene.house.aircraft_type.code},
    "bases/": {"code": lambda scene: scene.house.base.code},
    "components/{component_id}/installations/": {
        "component_id": lambda scene: scene.things["removed"].component_id
    },
    "event-kinds/": {"code": always("trend-alarm")},
    "fluid-lots/{lot_id}/quarantine/": {"lot_id": lambda scene: scene.shop.lot.pk},
    "fluid-lots/{lot_id}/use-up/": {"lot_id": lambda scene: scene.shop.lot.pk},
    "flying-plans/": {"plan_id": thing("flying_plan")},
    "house/bases/": {"code": lambda scene: scene.house.base.code},
    "house/types/": {"code": lambda scene: scene.house.aircraft_type.code},
    "procedures/": {"code": always("ours-drafted"), "number": always(1)},
    "programme/": {"code": always("ours-check")},
    "q/c/": {"component_id": thing("component")},
    "records/": {"number": thing("record", "number")},
    "requirements/": {"code": always("ours-check")},
    "rules/": {"code": always("after-line-opened")},
    "rules/{code}/enable/": {"code": always("ours-off")},
    "rules/{code}/on/": {"code": always("ours-off")},
    "runs/{run_id}/content/": {"run_id": thing("run_to_sign")},
    "runs/{run_id}/finish/": {"run_id": thing("run_answered")},
    "runs/{run_id}/photos/{photo_id}/": {"run_id": thing("run_to_sign")},
    "runs/{run_id}/resume/": {"run_id": thing("run_paused")},
    "runs/{run_id}/sign/": {"run_id": thing("run_to_sign")},
}


def values_of(scene: Scene, door: Door) -> dict[str, Any]:
    """A value for every name in the address; a name nobody told of yet fails here, by its name."""
    fills = dict(NAMES)
    for beginning in sorted(ELSEWHERE, key=len):
        if door.path.startswith(beginning) or str(door) == beginning:
            fills |= ELSEWHERE[beginning]
    unknown = [name for name in door.parameters if name not in fills]
    assert not unknown, f"{door}: say in tests/doors/places.py what stands for {unknown}"
    return {name: fills[name](scene) for name in door.parameters}


def address_of(scene: Scene, door: Door, before: str = "/") -> str:
    """The address of a door with the operator's own things in it."""
    return before + door.path.format(**values_of(scene, door))
