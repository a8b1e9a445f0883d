"""What the scene's operator owns: parts, tools, fluid, flights, and people's papers and keys."""

from __future__ import annotations

from datetime import date

from django.core.files.base import ContentFile

from fleet.common.actor import Role
from fleet.models import Authorisation, Certificate, ImportBatch, LifeLimit, Meter, Passkey
from fleet.services.flight_uploads import keep_upload
from fleet.services.meters import NewFlight, post_flight
from fleet.services.people import create_token
from tests.doors.scene import Scene
from tests.makers import FAR_OFF, NOON, ComponentMaker, EquipmentMaker, FluidLotMaker, InstallationMaker, at


def add_parts(scene: Scene) -> None:
    """A pump in store and one that was removed, with the limit of their lives."""
    things, operator, pump = scene.things, scene.house.operator, scene.house.position("pump")
    part = {"operator": operator, "kind": pump.kind}
    things["component"] = ComponentMaker(**part, part_number="OURS-30-110", serial_number="OURS-C1")
    things["removed"] = InstallationMaker(
        aircraft=scene.aircraft,
        position=pump,
        component=ComponentMaker(**part, serial_number="OURS-C2"),
        fitted_at=at(-100),
        removed_at=at(-1),
        removed_minutes=60_000,
        removed_landings=1_200,
        removed_cycles=1_200,
    )
    things["limit"] = LifeLimit.objects.create(
        operator=operator, kind=pump.kind, parameter="months", limit=120, source="OURS manual 3"
    )


def add_store(scene: Scene) -> None:
    """A lot nobody has looked at yet, and a tool."""
    place = {"operator": scene.house.operator, "base": scene.house.base}
    scene.things["lot_received"] = FluidLotMaker(
        **place, state="received", batch="OURS-B1", supplier="OURS Chemicals"
    )
    scene.things["equipment"] = EquipmentMaker(**place, code="ours-eq", name="OURS cylinder")


def add_flights(scene: Scene) -> None:
    """A flight, a file that came in, and one that was only looked through."""
    house, things, controller = scene.house, scene.things, scene.house.actor(Role.CONTROLLER)
    flight = NewFlight(scene.aircraft.pk, at(5), 60, 1, 1, "OURS-F1")
    things["flight"] = post_flight(actor=controller, flight=flight)[0]
    things["meter"] = Meter.objects.get(aircraft=scene.aircraft, kind="minutes")
    things["batch"] = ImportBatch.objects.create(
        operator=house.operator,
        filename="OURS-log.csv",
        digest="ab" * 32,
        rows=1,
        imported=1,
        repeated=0,
        left_out=0,
        imported_at=NOON,
        imported_by=house.person(Role.CONTROLLER),
    )
    file = ContentFile(b"reg,date,minutes\nQX-OURS,2025-03-05,30\n", "ours.csv")
    things["upload"] = keep_upload(actor=controller, filename="OURS-upload.csv", content=file)


def add_papers(scene: Scene) -> None:
    """Keys, certificates and authorisations."""
    things, house = scene.things, scene.house
    technician = house.person(Role.TECHNICIAN)
    things["authorisation"] = Authorisation.objects.create(
        user=technician,
        operator=house.operator,
        act="release",
        reference="OURS-AUTH",
        valid_from=date(2024, 1, 1),
        valid_to=FAR_OFF,
        granted_by=house.person(Role.DIRECTOR),
    )
    things["certificate"] = Certificate.objects.filter(user=technician).latest("id")
    things["passkey"] = Passkey.objects.create(
        user=house.person(Role.CONTROLLER),
        label="OURS phone",
        credential_id="ours-credential",
        public_key="key",
        created_at=NOON,
    )
    things["token"] = create_token(actor=house.actor(Role.CONTROLLER), label="OURS tablet")[0]
