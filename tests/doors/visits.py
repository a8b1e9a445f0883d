"""What the tests of the screens share: which screens there are, and pages fetched once for each person."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.test import Client

from tests.doors.doors import Door, screen_doors
from tests.doors.journal import Journal
from tests.doors.knocking import text_of, visit
from tests.doors.places import address_of
from tests.doors.scene import Scene

# Open to whoever stands before them: they hold nothing of an operator, or ask for a secret in their address.
PUBLIC = {
    "health",
    "fleet:sign-in",
    "fleet:sign-out",
    "mobile:shell",
    "mobile:manifest",
    "mobile:worker",
    "labels:aircraft",
    "labels:component",
    "records:verify",
    "scheduling:calendar-feed",
}
DOORS = screen_doors()
HELD = [door for door in DOORS if door.name not in PUBLIC]
READS = [door for door in HELD if not door.writes]
WRITES = [door for door in HELD if door.method == "post"]
# Every operator has a ladder for each consequence.
NAMES_NO_THING = {"scheduling:reminder-ladder"}
# What is a person's own: how they look at lists, are reminded, sign in.
OWN_TABLES = {
    "scheduling_savedview",
    "scheduling_reminderchoice",
    "scheduling_calendarlink",
    "scheduling_reminder",
    "fleet_apitoken",
    "fleet_passkey",
    "fleet_user",
    "fleet_trailentry",
}


class Visits:
    """Pages fetched once for each person, with what fetching them wrote."""

    def __init__(self, scene: Scene, browsers: Mapping[str, Client]) -> None:
        self.scene = scene
        self.browsers = browsers
        self.kept: dict[tuple[str, str], tuple[Any, Journal]] = {}

    def get(self, who: str, address: str) -> tuple[Any, Journal]:
        """A page for somebody."""
        if (who, address) not in self.kept:
            with visit(self.scene, self.browsers, who) as (browser, notes):
                answer = browser.get(address)
                answer.read_text = text_of(answer) if "html" in answer.get("Content-Type", "") else ""
            self.kept[who, address] = (answer, notes)
        return self.kept[who, address]

    def of(self, who: str, door: Door) -> tuple[Any, Journal]:
        """The page of a door for somebody."""
        return self.get(who, address_of(self.scene, door))

    def text(self, who: str, address: str) -> str:
        """The text of a page for somebody."""
        return str(self.get(who, address)[0].read_text)

    def post(self, who: str, address: str, sent: Any = None) -> tuple[Any, Journal]:
        """Send a form as somebody; what it wrote is noted and taken back."""
        with visit(self.scene, self.browsers, who) as (browser, notes):
            answer = browser.post(address, sent or {})
        return answer, notes
