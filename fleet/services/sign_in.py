"""Proving afresh who somebody is, at the moment they sign. Failures count towards the lock-out of sign-in.

Call these outside a transaction: a refusal inside one would take the counted failure back with it.
"""

from __future__ import annotations

from typing import Any

from axes.handlers.proxy import AxesProxyHandler
from django.conf import settings
from django.contrib.auth import authenticate, login
from django.http import HttpRequest

from fleet.common.actor import Actor
from fleet.common.errors import NotAllowed, Reason
from fleet.models import User
from fleet.selectors.people import actor_for, people


def prove_password(*, actor: Actor, password: str, request: HttpRequest) -> None:
    """Check the acting person's password.

    Refuses a wrong one (`wrong_password`) and, after as many failures as sign-in allows, any (`locked_out`).
    """
    user = User.objects.filter(pk=actor.user_id or 0, is_active=True).first()
    if user is None:
        raise NotAllowed("person_needed", "Only a person can prove who they are.")
    _prove(user.get_username(), password, request)


def sign_in(*, username: str, password: str, request: HttpRequest) -> User:
    """Sign somebody in by name and password.

    Refuses wrong ones (`wrong_sign_in`), any after too many failures (`locked_out`), and a password that must be
    changed first (`password_to_change`).
    """
    _refuse_if_locked(username, request)
    user = authenticate(request, username=username, password=password)
    if not isinstance(user, User):
        _axes(request).axes_locked_out = False
        _refuse_if_locked(username, request)
        raise NotAllowed(
            "wrong_sign_in",
            "Name or password is not right.",
            Reason("is not right", "password", remedy="enter both again"),
        )
    if user.must_change_password:
        raise NotAllowed(
            "password_to_change",
            "This password was given to you by somebody else. Sign in on the desk's page and choose your own first.",
        )
    login(request, user)
    return user


def prove_colleague(*, actor: Actor, username: str, password: str, request: HttpRequest) -> Actor:
    """The colleague who signs on somebody else's device, as an actor of the same operator.

    A stranger's name is answered as a wrong password is: nobody learns who works here.
    """
    _prove(username, password, request)
    colleague = people(actor).filter(username=username, is_active=True).first()
    if colleague is None:
        raise _wrong_password()
    return actor_for(colleague, actor.operator_id)


def _prove(username: str, password: str, request: HttpRequest) -> None:
    _refuse_if_locked(username, request)
    if authenticate(request, username=username, password=password) is not None:
        AxesProxyHandler.reset_attempts(username=username, ip_address=_axes(request).axes_ip_address)
        return
    # The refusal is the answer here; sign-in's own lock-out page is not.
    _axes(request).axes_locked_out = False
    _refuse_if_locked(username, request)
    raise _wrong_password()


def _axes(request: HttpRequest) -> Any:
    """The request with what the lock-out keeps on it."""
    AxesProxyHandler.update_request(request)
    return request


def _refuse_if_locked(username: str, request: HttpRequest) -> None:
    if AxesProxyHandler.is_allowed(request, {"username": username}):
        return
    _axes(request).axes_locked_out = False
    minutes = int(settings.AXES_COOLOFF_TIME.total_seconds() // 60)
    raise NotAllowed(
        "locked_out",
        f"Too many wrong passwords. Signing and signing in are locked for {minutes} minutes.",
        Reason("is locked", "password", remedy=f"wait {minutes} minutes, or ask your administrator"),
    )


def _wrong_password() -> NotAllowed:
    return NotAllowed(
        "wrong_password",
        "The password is not right. Nothing was signed.",
        Reason("is not right", "password", remedy="enter your own password again"),
    )
