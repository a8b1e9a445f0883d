"""The administration pages: everything can be looked at, nothing can be changed past a service."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.db.models import Model
from django.http import HttpRequest

from fleet import models

HIDDEN = {"password", "digest", "public_key"}


class ReadOnly(admin.ModelAdmin):
    """Look, but do not touch: every change goes through a service and leaves a line in the trail."""

    list_per_page = 50
    show_full_result_count = False

    def get_list_display(self, request: HttpRequest) -> Any:
        """Plain columns, secrets and long texts left out."""
        return [name for name in self._names() if name not in ("note", "detail", "body", "report")]

    def get_fields(self, request: HttpRequest, obj: Any = None) -> Any:
        """Every field but the secrets."""
        return self._names()

    def get_list_select_related(self, request: HttpRequest) -> list[str]:
        """What the columns name."""
        return [field.name for field in self.model._meta.concrete_fields if field.is_relation]

    def has_add_permission(self, request: HttpRequest) -> bool:
        """Nobody adds here."""
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Nobody changes here."""
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Nobody deletes here."""
        return False

    def _names(self) -> list[str]:
        return [field.name for field in self.model._meta.concrete_fields if field.name not in HIDDEN]


SHOWN: tuple[type[Model], ...] = tuple(
    getattr(models, name) for name in models.__all__ if name not in ("Receipt", "Passkey", "ApiToken")
)
for table in SHOWN:
    admin.site.register(table, ReadOnly)
