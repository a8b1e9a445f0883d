import pytest
from axes.models import AccessAttempt
from django.http import HttpRequest
from django.test import RequestFactory

from fleet.common.actor import Role
from fleet.common.errors import NotAllowed
from fleet.services.sign_in import prove_colleague, prove_password
from tests.makers import PASSWORD, House, make_house

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> House:
    return make_house()


def another() -> HttpRequest:
    return RequestFactory().post("/api/v1/runs/1/sign/")


def code_of(house: House, password: str) -> str:
    try:
        prove_password(actor=house.actor(Role.TECHNICIAN), password=password, request=another())
    except NotAllowed as refusal:
        return refusal.code
    return "proven"


def test_the_right_password_proves_who_signs(house: House) -> None:
    assert code_of(house, PASSWORD) == "proven"


def test_a_wrong_password_is_refused_and_counted(house: House) -> None:
    assert code_of(house, "not-my-password") == "wrong_password"
    assert AccessAttempt.objects.get().failures_since_start == 1


def test_five_wrong_passwords_lock_even_the_right_one_out(house: House) -> None:
    codes = [code_of(house, "not-my-password") for _ in range(5)]
    assert codes == [*["wrong_password"] * 4, "locked_out"]
    assert code_of(house, PASSWORD) == "locked_out"


def test_the_right_password_in_time_clears_the_count(house: House) -> None:
    for _ in range(4):
        code_of(house, "not-my-password")
    code_of(house, PASSWORD)
    assert [code_of(house, "not-my-password") for _ in range(4)] == ["wrong_password"] * 4


def test_one_persons_failures_do_not_lock_a_colleague(house: House) -> None:
    for _ in range(5):
        code_of(house, "not-my-password")
    actor = house.actor(Role.INSPECTOR)
    prove_password(actor=actor, password=PASSWORD, request=another())


def test_a_colleague_proves_themselves_on_somebody_elses_device(house: House) -> None:
    inspector = house.person(Role.INSPECTOR)
    proven = prove_colleague(
        actor=house.actor(Role.TECHNICIAN),
        username=inspector.username,
        password=PASSWORD,
        request=another(),
    )
    assert (proven.user_id, proven.roles) == (inspector.pk, frozenset({Role.INSPECTOR}))


def test_a_stranger_with_the_right_password_is_answered_like_a_wrong_password(house: House) -> None:
    stranger = make_house().person(Role.INSPECTOR)
    with pytest.raises(NotAllowed) as refused:
        prove_colleague(
            actor=house.actor(Role.TECHNICIAN),
            username=stranger.username,
            password=PASSWORD,
            request=another(),
        )
    assert refused.value.code == "wrong_password"


def test_the_lock_says_how_long_and_what_to_do(house: House) -> None:
    for _ in range(4):
        code_of(house, "not-my-password")
    with pytest.raises(NotAllowed, match="locked for 15 minutes") as refused:
        prove_password(actor=house.actor(Role.TECHNICIAN), password="x", request=another())
    assert refused.value.reasons[0].remedy == "wait 15 minutes, or ask your administrator"
