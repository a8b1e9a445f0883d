"""What every installation must never be without."""

import pytest
from django.conf import settings
from django.test import Client


def test_a_page_may_load_only_from_its_own_address(client: Client) -> None:
    policy = client.get("/nowhere/").headers["Content-Security-Policy"]
    parts = dict(part.strip().split(" ", 1) for part in policy.split(";"))
    assert parts["default-src"] == "'self'"
    assert parts["object-src"] == "'none'"
    assert parts["frame-ancestors"] == "'none'"
    assert "unsafe" not in policy
    assert "script-src" not in parts


def test_an_unknown_address_of_the_api_is_a_problem_document(client: Client) -> None:
    response = client.get("/api/v1/nowhere/")
    assert response.status_code == 404
    assert response.headers["Content-Type"] == "application/problem+json"
    assert response.json()["code"] == "not_found"


@pytest.mark.django_db
def test_the_health_page_answers_while_the_database_does(client: Client) -> None:
    response = client.get("/health/")
    assert (response.status_code, response.json()) == (200, {"status": "well"})
    assert "no-store" in response.headers["Cache-Control"]


def test_requests_are_not_wrapped_in_transactions_and_jobs_carry_only_json() -> None:
    assert settings.DATABASES["default"].get("ATOMIC_REQUESTS", False) is False
    assert settings.CELERY_ACCEPT_CONTENT == ["json"]
    assert settings.CELERY_TASK_SERIALIZER == "json"
