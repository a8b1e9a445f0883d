"""How much the phone loads, and how soon it is ready without reception."""

from __future__ import annotations

import gzip
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.test import Client

from records.mobile import shell
from records.mobile.program import program
from tests.mobile.phone import Phone
from tests.records.makers import Workshop

MOST_BYTES = 150 * 1024


def compressed(address: str) -> int:
    """As it travels: fonts are compressed already, everything else goes as gzip."""
    content = Path(finders.find(address.removeprefix("/static/"))).read_bytes()
    return len(content) if address.endswith(".woff2") else len(gzip.compress(content, 9))


@pytest.mark.django_db
def test_the_first_load_is_below_150_kilobytes(record_property: Callable[[str, object], None]) -> None:
    shell = len(gzip.compress(Client().get("/mobile/").content, 9))
    sizes = {each: compressed(each) for each in program().files}
    total = shell + sum(sizes.values())
    record_property("first_load_bytes", total)
    print(f"first load: {total} bytes in {len(sizes) + 1} files")
    assert total < MOST_BYTES, sizes


def test_it_is_ready_without_reception_in_less_than_a_second(phone: Phone, purged: Workshop) -> None:
    assert purged.aircraft
    phone.cut()
    times = []
    for _ in range(3):
        phone.reload()
        times.append(phone.page.evaluate("performance.getEntriesByName('ready')[0].startTime"))
        phone.see("Panel flow test")
    print(f"ready without reception after {[round(each) for each in times]} ms")
    assert min(times) < 1000


def test_a_reader_of_codes_is_brought_along_where_the_browser_has_none(phone: Phone) -> None:
    cached, has_own = phone.page.evaluate(
        "caches.keys().then((names) => caches.open(names[0])).then((cache) => cache.keys())"
        ".then((rows) => [rows.map((row) => new URL(row.url).pathname), 'BarcodeDetector' in window])"
    )
    assert ("/static/vendor/mobile/jsqr.js" in cached) is not has_own
    assert "/static/records/mobile/app.js" in cached


def test_a_new_version_is_offered_and_starts_when_it_suits(
    phone: Phone, purged: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    newer = replace(program(), version="0123456789abcdef")
    monkeypatch.setattr(shell, "program", lambda: newer)
    phone.open(f"aircraft/{purged.aircraft.registration}")
    phone.page.evaluate("navigator.serviceWorker.ready.then((registration) => registration.update())")
    phone.tap("A new version is here: start it")
    phone.page.wait_for_function(
        "() => caches.keys().then((names) => names.length === 1 && names[0] === 'verglas-0123456789abcdef')"
    )
    phone.see_title(purged.aircraft.registration)


def test_chromium_finds_nothing_against_installing_it(phone: Phone) -> None:
    asked = phone.context.new_cdp_session(phone.page)
    errors = asked.send("Page.getInstallabilityErrors")["installabilityErrors"]
    # A browser window of tests is a private one, which installs nothing.
    assert [each["errorId"] for each in errors if each["errorId"] != "in-incognito"] == []
