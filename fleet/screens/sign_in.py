"""Signing in and out; what somebody reads whom too many wrong passwords have locked out."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


class SignInForm(AuthenticationForm):
    """Name and password; a wrong pair is not told apart."""

    error_messages = {
        **AuthenticationForm.error_messages,
        "invalid_login": "Name or password is not right. Small and capital letters are different in the password.",
        "inactive": "This account is closed. Ask your administrator.",
    }

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        self.fields["username"].label = "Name"


class SignInScreen(LoginView):
    """The door; who is in already goes on."""

    authentication_form = SignInForm
    redirect_authenticated_user = True


class SignOutScreen(LogoutView):
    """The way out."""


def locked_out(request: HttpRequest, *_: Any, **__: Any) -> HttpResponse:
    """Too many wrong passwords for this name from this place: how long it lasts and what helps (429)."""
    minutes = int(settings.AXES_COOLOFF_TIME.total_seconds() // 60)
    context = {
        "minutes": minutes,
        "tries": settings.AXES_FAILURE_LIMIT,
        "name": request.POST.get("username", ""),
    }
    answer = render(request, "fleet/locked_out.html", context, status=429)
    answer["Retry-After"] = str(minutes * 60)
    return answer
