"""Passkeys: made on the phone with the password, used to sign, worthless to anybody else."""

from __future__ import annotations

import json
from typing import Any

import pytest
from django.test import Client
from playwright.sync_api import expect

from fleet.common.actor import Role
from fleet.models import Passkey
from records.models import BenchRun, Signature
from tests.makers import PASSWORD, at, make_house
from tests.mobile.phone import Phone
from tests.records.makers import Workshop


def give_a_lock(phone: Phone) -> None:
    """The phone gets a lock that knows its owner."""
    chromium = phone.context.new_cdp_session(phone.page)
    chromium.send("WebAuthn.enable")
    options = {
        "protocol": "ctap2",
        "transport": "internal",
        "hasResidentKey": True,
        "hasUserVerification": True,
        "isUserVerified": True,
        "automaticPresenceSimulation": True,
    }
    chromium.send("WebAuthn.addVirtualAuthenticator", {"options": options})


def test_a_passkey_made_on_the_phone_signs_the_work(phone: Phone, purged: Workshop) -> None:
    give_a_lock(phone)
    phone.open("settings")
    phone.page.get_by_text("Passkeys", exact=True).tap()
    phone.page.get_by_label("Your password").fill(PASSWORD)
    phone.tap("Make a passkey on this phone")
    phone.see("The passkey is kept.")
    run = purged.flow_test(at(hours=2))
    phone.open(f"sign/{run.pk}")
    phone.tap("Sign with passkey")
    phone.see("I inspected this work")
    signature = Signature.objects.get(run=run)
    assert (signature.proof, signature.user) == ("passkey", purged.house.person(Role.TECHNICIAN))
    kept = Passkey.objects.get()
    assert kept.last_used_at is not None
    phone.open("settings")
    phone.page.get_by_text("Passkeys", exact=True).tap()
    phone.tap("Remove it")
    expect(phone.page.get_by_text("The passkey is removed.")).to_be_visible()
    assert not Passkey.objects.exists()


def post(client: Client, address: str, body: dict[str, Any]) -> Any:
    return client.post(f"/api/v1/{address}", json.dumps(body), content_type="application/json")


@pytest.mark.django_db
def test_making_a_passkey_needs_the_password() -> None:
    client = Client()
    client.force_login(make_house().person(Role.TECHNICIAN))
    assert post(client, "passkeys/options/", {"password": "not this"}).json()["code"] == "wrong_password"
    assert "challenge" in post(client, "passkeys/options/", {"password": PASSWORD}).json()


@pytest.mark.django_db
def test_what_does_not_answer_the_challenge_is_no_passkey() -> None:
    client = Client()
    client.force_login(make_house().person(Role.TECHNICIAN))
    made_up = {"id": "AAAA", "rawId": "AAAA", "type": "public-key", "response": {}}
    unasked = post(client, "passkeys/", {"label": "phone", "credential": made_up})
    assert (unasked.status_code, unasked.json()["code"]) == (403, "passkey_refused")
    post(client, "passkeys/options/", {"password": PASSWORD})
    answered = post(client, "passkeys/", {"label": "phone", "credential": made_up})
    assert (answered.status_code, answered.json()["code"]) == (422, "bad_passkey")
    assert not Passkey.objects.exists()


@pytest.mark.django_db
def test_nobody_takes_a_colleagues_passkey_away() -> None:
    house = make_house()
    kept = Passkey.objects.create(
        user=house.person(Role.INSPECTOR),
        label="theirs",
        credential_id="AAAA",
        public_key="AAAA",
        created_at="2025-03-03T12:00:00Z",
    )
    client = Client()
    client.force_login(house.person(Role.TECHNICIAN))
    assert client.get("/api/v1/passkeys/").json() == []
    assert client.delete(f"/api/v1/passkeys/{kept.pk}/").status_code == 404
    assert Passkey.objects.filter(pk=kept.pk).exists()


@pytest.mark.django_db
def test_a_strangers_name_is_answered_like_a_colleague_without_a_passkey() -> None:
    house, other = make_house(), make_house()
    stranger = other.person(Role.TECHNICIAN)
    Passkey.objects.create(
        user=stranger, label="x", credential_id="AAAA", public_key="AAAA", created_at="2025-03-03T12:00:00Z"
    )
    client = Client()
    client.force_login(house.person(Role.TECHNICIAN))
    asked = post(client, "passkeys/proof-options/", {"username": stranger.username}).json()
    assert asked["allowCredentials"] == []


def test_a_signature_without_password_or_passkey_is_refused(purged: Workshop) -> None:
    run = purged.flow_test(at(hours=2))
    client = Client()
    client.force_login(purged.house.person(Role.TECHNICIAN))
    body = {"meaning": "performed", "content_digest": "0" * 64}
    answer = post(client, f"runs/{run.pk}/sign/", body)
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "#/password"
    assert not BenchRun.objects.get(pk=run.pk).signatures.exists()
