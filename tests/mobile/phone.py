"""A phone for tests: Chromium with a small screen, touch, and reception that can be cut."""

from __future__ import annotations

import os
import re
import signal
from typing import Any

from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, Locator, Page, expect

from fleet.models import User

SCREEN = {"width": 390, "height": 844}
# What the browser writes when reception is cut, or a refusal is answered; no fault of the program.
EXPECTED = re.compile(
    r"Failed to load resource|net::ERR_|ERR_INTERNET_DISCONNECTED|WebAuthn|wake ?lock", re.IGNORECASE
)


KEPT = """
async (words) => {
  const opening = indexedDB.open("verglas-phone");
  const database = await new Promise((done) => { opening.onsuccess = () => done(opening.result); });
  const asking = database.transaction("runs").objectStore("runs").getAll();
  const rows = await new Promise((done) => { asking.onsuccess = () => done(asking.result); });
  database.close();
  return JSON.stringify(rows).includes(words);
}
"""


class Phone:
    """One phone: `phone.start()`, `phone.tap("Start")`, `phone.cut()`, `phone.type("1500")`."""

    def __init__(self, browser: Browser, address: str, script: str = "", **options: Any) -> None:
        self.address = address
        self.faults: list[str] = []
        self.context = browser.new_context(
            viewport=SCREEN,
            device_scale_factor=2,
            is_mobile=True,
            has_touch=True,
            locale="en-GB",
            timezone_id="UTC",
            **options,
        )
        self.context.set_default_timeout(8000)
        self.context.set_default_navigation_timeout(25_000)
        if script:
            self.context.add_init_script(script)
        self.page = self.new_page()

    def new_page(self) -> Page:
        """Another page of the same phone, as after the program was closed."""
        self.page = self.context.new_page()
        self.page.on("pageerror", lambda fault: self.faults.append(str(fault)))
        self.page.on("console", self._heard)
        return self.page

    def _heard(self, message: Any) -> None:
        if message.type == "error" and not EXPECTED.search(message.text):
            self.faults.append(message.text)

    def session_of(self, person: User) -> None:
        """Signed in as this person, as by the sign-in page."""
        client = Client()
        client.force_login(person)
        value = client.cookies[settings.SESSION_COOKIE_NAME].value
        self.context.add_cookies(
            [{"name": settings.SESSION_COOKIE_NAME, "value": value, "url": self.address}]
        )

    def open(self, place: str = "") -> None:
        """Open the program at a place, such as "outbox"."""
        self.page.goto(f"{self.address}/mobile/#/{place}")
        expect(self.page.locator("html[data-ready=yes]")).to_be_attached()

    def start(self) -> None:
        """Open it, wait until the program and today's work are on the phone."""
        self.open()
        self.page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        self.page.wait_for_function("() => caches.keys().then((names) => names.length > 0)")
        expect(self.page.get_by_text("As of just now")).to_be_visible()

    def reload(self) -> None:
        """The page is loaded again where it stands."""
        self.page.reload()
        expect(self.page.locator("html[data-ready=yes]")).to_be_attached()

    def kept(self, words: str) -> None:
        """Wait until the phone's own storage holds these words in a run: what is shown is written a moment later."""
        self.page.wait_for_function(KEPT, arg=words)

    def crash(self) -> None:
        """The process that draws the page is killed without a word; the page is opened again where it stood."""
        place = self.page.url.partition("#/")[2]
        browser = self.context.browser
        assert browser is not None
        with self.page.expect_event("crash"):
            processes = browser.new_browser_cdp_session().send("SystemInfo.getProcessInfo")["processInfo"]
            for process in processes:
                if process["type"] == "renderer":
                    os.kill(process["id"], signal.SIGKILL)
        self.page.close()
        self.new_page()
        self.open(place)

    def cut(self) -> None:
        """No reception."""
        self.context.set_offline(True)

    def reconnect(self) -> None:
        """Reception again."""
        self.context.set_offline(False)

    def button(self, name: str) -> Locator:
        """A button by the words on it."""
        return self.page.get_by_role("button", name=name, exact=False)

    def tap(self, name: str) -> None:
        """Touch a button (or link) by the words on it."""
        found = self.page.get_by_role("button", name=name).or_(self.page.get_by_role("link", name=name))
        found.first.tap()

    def type(self, digits: str) -> None:
        """Press keys of the numeric pad."""
        for digit in digits:
            name = "Decimal point" if digit == "." else digit
            self.page.locator(".pad-keys").get_by_role("button", name=name, exact=True).tap()

    def see(self, words: str) -> None:
        """Wait until these words stand on the screen."""
        expect(self.page.get_by_text(words).first).to_be_visible()

    def see_title(self, words: str) -> None:
        """Wait until the heading says this."""
        expect(self.page.get_by_role("heading", level=1)).to_have_text(words)

    def all_sent(self) -> None:
        """Wait until the outbox is empty; what was just entered has a moment to get into it."""
        self.page.wait_for_timeout(300)
        expect(self.page.locator(".pill-count")).to_have_text(
            re.compile("All sent|Nothing waits"), timeout=15_000
        )

    def waits(self, number: int) -> None:
        """Wait until the outbox says how many wait."""
        expect(self.page.locator(".pill-count")).to_have_text(f"{number} waiting")
