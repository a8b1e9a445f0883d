"""The first operator of an empty installation."""

import io

import pytest
from django.core.management import CommandError, call_command

from fleet.models import Operator, User
from tests.makers import browser_of

pytestmark = pytest.mark.django_db
WORDS = {"zone": "Europe/Oslo", "base": "Norrvik", "administrator": "Linnea Harrow"}


def test_the_administrator_gets_a_one_time_password():
    said = io.StringIO()
    call_command("start_operator", "skerry", "Skerry Air", stdout=said, **WORDS)
    person = User.objects.get()
    assert person.check_password(said.getvalue().split()[-1])
    assert browser_of(person).get("/")["Location"] == "/account/password/"
    assert person.memberships.get().role == "administrator"


@pytest.mark.parametrize(("field", "value"), [("zone", "Europe/Nowhere")])
def test_what_makes_no_sense_leaves_nothing_behind(field, value):
    with pytest.raises(CommandError, match="is no time zone"):
        call_command("start_operator", "skerry", "Skerry Air", **{**WORDS, field: value})
    assert not Operator.objects.exists()


def test_a_known_operator_is_not_made_again():
    call_command("start_operator", "skerry", "Skerry Air", stdout=io.StringIO(), **WORDS)
    with pytest.raises(CommandError, match="already"):
        call_command("start_operator", "skerry", "Skerry Air", **WORDS)
    assert Operator.objects.count() == 1
