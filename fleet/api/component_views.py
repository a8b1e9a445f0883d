"""Components: the register, their times and life, overhauls, dispositions, the end."""

from __future__ import annotations

from typing import Any

from django.db.models import Q
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api import house_shapes as shapes
from fleet.api.answers import EDIT_REFUSALS, IF_MATCH, KEY, PAGING, REFUSALS, paged
from fleet.api.base import ApiView, CommandView
from fleet.common.clock import now
from fleet.common.http import entity_tag
from fleet.models import Component
from fleet.selectors.aircraft import awaiting_disposition, component_for, components, life_limits
from fleet.selectors.life import life_of
from fleet.selectors.meters import component_times
from fleet.services.components import (
    LifeLimitEntry,
    change_component,
    drop_life_limit,
    record_disposition,
    scrap_component,
    set_life_limit,
)
from fleet.services.configuration import NewComponent, record_overhaul, register_component


def tag_of(component: Component) -> str:
    """The entity tag of a component."""
    return entity_tag("component", component.pk, component.version)


def answered(component: Component, status: int = 200) -> Response:
    """A component with its entity tag."""
    headers = {"ETag": tag_of(component), "Location": f"/api/v1/components/{component.pk}/"}
    return Response(shapes.PartAnswer(component).data, status=status, headers=headers)


class ComponentListView(CommandView):
    """Components of the operator."""

    @extend_schema(
        operation_id="components_list",
        parameters=[shapes.PartAsked, *PAGING],
        responses={200: paged(shapes.PartAnswer), **REFUSALS},
    )
    def get(self, request: Request) -> Response:
        """Components that fit, newest first."""
        wanted, rows = self.query(shapes.PartAsked), components(self.actor)
        if "kind" in wanted:
            rows = rows.filter(kind__code=wanted["kind"])
        if "q" in wanted:
            rows = rows.filter(
                Q(serial_number__icontains=wanted["q"]) | Q(part_number__icontains=wanted["q"])
            )
        if "aircraft" in wanted:
            here = {"aircraft__registration__iexact": wanted["aircraft"], "removed_at": None}
            rows = rows.filter(**{f"installations__{name}": value for name, value in here.items()})
        if wanted["in_store"]:
            rows = rows.filter(scrapped_on=None).exclude(
                installations__removed_at=None, installations__id__gt=0
            )
        return self.page(rows, shapes.PartAnswer, "-id")

    @extend_schema(
        operation_id="components_register",
        parameters=[KEY],
        request=shapes.NewPartSent,
        responses={201: shapes.PartAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Put a component on the register; it is fitted by reporting an event."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Register it once."""
        sent = self.parsed(shapes.NewPartSent)
        new = NewComponent(kind_code=sent.pop("kind"), **sent)
        return answered(register_component(actor=self.actor, new=new), 201)


class ComponentView(ApiView):
    """One component."""

    @extend_schema(operation_id="components_get", responses={200: shapes.PartAnswer, **REFUSALS})
    def get(self, request: Request, component_id: int) -> Response:
        """The component with its entity tag."""
        return answered(component_for(self.actor, component_id))

    @extend_schema(
        operation_id="components_change",
        parameters=[IF_MATCH],
        request=shapes.PartChange,
        responses={200: shapes.PartAnswer, **EDIT_REFUSALS},
    )
    def patch(self, request: Request, component_id: int) -> Response:
        """Put its papers right."""
        component = component_for(self.actor, component_id)
        self.must_match(tag_of(component))
        sent = self.parsed(shapes.PartChange)
        changed = change_component(
            actor=self.actor,
            component_id=component_id,
            manufactured_on=sent.get("manufactured_on", component.manufactured_on),
            release_document=sent.get("release_document", component.release_document),
            version=component.version,
        )
        return answered(changed)


class ComponentTimesView(ApiView):
    """A component's times."""

    @extend_schema(
        operation_id="components_times",
        parameters=[shapes.AtAsked],
        responses={200: shapes.PartTimesAnswer, **REFUSALS},
    )
    def get(self, request: Request, component_id: int) -> Response:
        """Since new, since overhaul, since fitted, at a moment, over every aircraft it sat in."""
        at = self.query(shapes.AtAsked).get("at") or now()
        return Response(
            shapes.PartTimesAnswer(component_times(component_for(self.actor, component_id), at)).data
        )


class ComponentLifeView(ApiView):
    """A component's life."""

    @extend_schema(
        operation_id="components_life",
        parameters=[shapes.AtAsked],
        responses={200: shapes.LifeAnswer(many=True), **REFUSALS},
    )
    def get(self, request: Request, component_id: int) -> Response:
        """Limit, accumulated and remaining in every limited parameter; empty where nothing limits it."""
        at = self.query(shapes.AtAsked).get("at") or now()
        rows = life_of(component_for(self.actor, component_id), at)
        return Response(shapes.LifeAnswer(rows, many=True).data)


class ComponentInstallationsView(ApiView):
    """Where a component ever sat."""

    @extend_schema(
        operation_id="components_installations",
        parameters=PAGING,
        responses={200: paged(shapes.InstallationAnswer), **REFUSALS},
    )
    def get(self, request: Request, component_id: int) -> Response:
        """Installations, newest first."""
        rows = component_for(self.actor, component_id).installations.select_related(
            "aircraft", "position", "component__kind"
        )
        return self.page(rows, shapes.InstallationAnswer, ("-fitted_at", "-id"))


class OverhaulView(CommandView):
    """Overhauls of a component."""

    @extend_schema(
        operation_id="components_overhaul",
        parameters=[KEY],
        request=shapes.OverhaulSent,
        responses={201: shapes.OverhaulAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Enter an overhaul: time since overhaul starts again."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Enter it once."""
        overhaul = record_overhaul(actor=self.actor, **url, **self.parsed(shapes.OverhaulSent))
        return Response(shapes.OverhaulAnswer(overhaul).data, status=201)


class ScrapView(CommandView):
    """The end of a component."""

    @extend_schema(
        operation_id="components_scrap",
        parameters=[KEY],
        request=shapes.WhySent,
        responses={200: shapes.PartAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Scrap it, with a reason."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Scrap it once."""
        return answered(scrap_component(actor=self.actor, **url, **self.parsed(shapes.WhySent)))


class AwaitingDispositionView(ApiView):
    """Life-limited parts that were removed and say nothing yet about how they are kept apart."""

    @extend_schema(
        operation_id="installations_awaiting_disposition",
        parameters=PAGING,
        responses={200: paged(shapes.InstallationAnswer)},
    )
    def get(self, request: Request) -> Response:
        """Removals that want a disposition, oldest first."""
        return self.page(awaiting_disposition(self.actor), shapes.InstallationAnswer, ("removed_at", "id"))


class DispositionView(CommandView):
    """The disposition of a removed part."""

    @extend_schema(
        operation_id="installations_dispose",
        parameters=[KEY],
        request=shapes.DispositionSent,
        responses={200: shapes.InstallationAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Say how the part is kept from being fitted beyond its life."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Say it once."""
        row = record_disposition(actor=self.actor, **url, **self.parsed(shapes.DispositionSent))
        return Response(shapes.InstallationAnswer(row).data)


class LifeLimitListView(CommandView):
    """Life limits."""

    @extend_schema(
        operation_id="life_limits_list", parameters=PAGING, responses={200: paged(shapes.LifeLimitAnswer)}
    )
    def get(self, request: Request) -> Response:
        """Every life limit."""
        return self.page(life_limits(self.actor), shapes.LifeLimitAnswer, "id")

    @extend_schema(
        operation_id="life_limits_set",
        parameters=[KEY],
        request=shapes.LifeLimitSent,
        responses={201: shapes.LifeLimitAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Enter a life limit, or change the one of the same part and parameter."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Enter it once."""
        sent = self.parsed(shapes.LifeLimitSent)
        limit = set_life_limit(actor=self.actor, entry=LifeLimitEntry(kind_code=sent.pop("kind"), **sent))
        return Response(shapes.LifeLimitAnswer(limit).data, status=201)


class LifeLimitDropView(CommandView):
    """A life limit that no longer holds."""

    @extend_schema(
        operation_id="life_limits_drop",
        parameters=[KEY],
        request=shapes.WhySent,
        responses={204: None, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Take it away, with a reason."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Take it away once."""
        drop_life_limit(actor=self.actor, **url, **self.parsed(shapes.WhySent))
        return Response(status=204)
