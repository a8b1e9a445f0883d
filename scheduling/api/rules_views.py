"""Trigger rules: list, write, switch, try out on what was reported."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.base import ApiView, CommandView
from fleet.common.http import entity_tag
from scheduling.api.answers import FORBIDS, IF_MATCH, KEY, MAKES_NO_SENSE, NOT_HERE, STALE
from scheduling.models import TriggerRule
from scheduling.selectors.rules import facts_of, rule_for, rule_versions, rules, trial_of, try_rules
from scheduling.services.rules import RuleText, checked_content, set_rule_enabled, write_rule
from scheduling.triggers.match import DryRun


class RuleShape(serializers.Serializer):
    """One version of a trigger rule."""

    id = serializers.IntegerField()
    code = serializers.CharField()
    version = serializers.IntegerField()
    is_current = serializers.BooleanField()
    is_enabled = serializers.BooleanField()
    event_kind = serializers.CharField(source="event_kind.code")
    title = serializers.CharField()
    content = serializers.JSONField()
    source = serializers.CharField()  # type: ignore[assignment]
    written_by = serializers.CharField(source="written_by.full_name", allow_null=True, default=None)
    written_at = serializers.DateTimeField()


class RuleChange(serializers.Serializer):
    """What a rule is to say from now on."""

    event_kind = serializers.CharField()
    title = serializers.CharField(max_length=120)
    content = serializers.DictField(help_text='{"where": {…}, "raises": [{…}]}')
    source = serializers.CharField(max_length=160)  # type: ignore[assignment]


class NewRule(RuleChange):
    """A rule that is not there yet."""

    code = serializers.CharField(max_length=40)


class DryRunWanted(serializers.Serializer):
    """What to try: a rule in force by its code, a text, or (neither) every rule in force."""

    code = serializers.CharField(required=False, default="")
    event_kind = serializers.CharField(required=False, default="")
    content = serializers.DictField(required=False, allow_null=True, default=None)
    days = serializers.IntegerField(required=False, default=365, min_value=1, max_value=1096)


class DemandShape(serializers.Serializer):
    """One task that would have been raised."""

    procedure = serializers.CharField(source="procedure_code")
    title = serializers.CharField()
    before = serializers.CharField(source="before.words")
    rule = serializers.CharField(source="rule_code")
    why = serializers.CharField()


class DryRunLineShape(serializers.Serializer):
    """One event of the period, and what it would have raised."""

    event = serializers.IntegerField(source="event.id")
    aircraft = serializers.CharField(source="event.aircraft")
    at = serializers.DateTimeField(source="event.at")
    words = serializers.CharField(source="event.words")
    demands = DemandShape(many=True)
    nearest_miss = serializers.CharField()


class DryRunShape(serializers.Serializer):
    """What rules would have raised over a period; nothing was raised."""

    events_seen = serializers.IntegerField()
    events_matched = serializers.IntegerField()
    demands_by_procedure = serializers.SerializerMethodField()
    lines = DryRunLineShape(many=True)

    def get_demands_by_procedure(self, run: DryRun) -> dict[str, int]:
        return dict(run.demands_by_procedure)


def tag_of(rule: TriggerRule) -> str:
    return entity_tag("rule", rule.code, f"{rule.version}-{'on' if rule.is_enabled else 'off'}")


def answer(rule: TriggerRule, status: int = 200) -> Response:
    """The rule with its entity tag."""
    headers = {"ETag": tag_of(rule), "Location": f"/api/v1/rules/{rule.code}/"}
    return Response(RuleShape(rule).data, status, headers=headers)


class RuleListView(CommandView):
    """Rules of the operator."""

    @extend_schema(operation_id="rules_list", responses={200: RuleShape(many=True)})
    def get(self, request: Request) -> Response:
        """The current version of every rule."""
        return Response(RuleShape(rules(self.actor), many=True).data)

    @extend_schema(
        operation_id="rules_write",
        parameters=[KEY],
        request=NewRule,
        responses={201: RuleShape, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request) -> Response:
        """Write a rule."""
        return super().post(request)

    def command(self, request: Request) -> Response:
        return answer(write_rule(actor=self.actor, text=RuleText(**self.parsed(NewRule))), 201)


class RuleView(ApiView):
    """One rule."""

    @extend_schema(operation_id="rules_read", responses={200: RuleShape, 404: NOT_HERE})
    def get(self, request: Request, code: str) -> Response:
        """The current version, with its entity tag."""
        return answer(rule_for(self.actor, code))

    @extend_schema(
        operation_id="rules_rewrite",
        parameters=[IF_MATCH],
        request=RuleChange,
        responses={200: RuleShape, 412: STALE, 422: MAKES_NO_SENSE},
    )
    def put(self, request: Request, code: str) -> Response:
        """Write the rule's next version."""
        data = self.parsed(RuleChange)
        self.must_match(tag_of(rule_for(self.actor, code)))
        return answer(write_rule(actor=self.actor, text=RuleText(code=code, **data)))


class RuleVersionsView(ApiView):
    """The versions of one rule."""

    @extend_schema(operation_id="rules_versions", responses={200: RuleShape(many=True), 404: NOT_HERE})
    def get(self, request: Request, code: str) -> Response:
        """Every version, newest first."""
        rule_for(self.actor, code)
        return Response(RuleShape(rule_versions(self.actor, code), many=True).data)


class RuleEnableView(CommandView):
    """Switch a rule on."""

    @extend_schema(
        operation_id="rules_enable",
        parameters=[KEY],
        request=None,
        responses={200: RuleShape, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request, code: str) -> Response:
        """Switch the rule on; refused (422) where it names what has gone meanwhile."""
        return super().post(request, code=code)

    def command(self, request: Request, code: str) -> Response:
        return answer(set_rule_enabled(actor=self.actor, code=code, enabled=True))


class RuleDisableView(CommandView):
    """Switch a rule off."""

    @extend_schema(operation_id="rules_disable", parameters=[KEY], request=None, responses={200: RuleShape})
    def post(self, request: Request, code: str) -> Response:
        """Switch the rule off; what it raised stays."""
        return super().post(request, code=code)

    def command(self, request: Request, code: str) -> Response:
        return answer(set_rule_enabled(actor=self.actor, code=code, enabled=False))


class RuleDryRunView(ApiView):
    """Try rules on what was reported."""

    @extend_schema(
        operation_id="rules_dry_run",
        request=DryRunWanted,
        responses={200: DryRunShape, 409: FORBIDS, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request) -> Response:
        """What a rule would have raised over the last days; nothing is raised."""
        return Response(DryRunShape(self._tried(self.parsed(DryRunWanted))).data)

    def _tried(self, wanted: dict[str, Any]) -> DryRun:
        code, content = wanted["code"], wanted["content"]
        if content is not None:
            text = RuleText(code or "trial", wanted["event_kind"], "trial", content, "trial")
            checked_content(self.actor, text)
            return try_rules(self.actor, trial_of(text.code, text.event_kind, content), wanted["days"])
        trial = facts_of(rule_for(self.actor, code)) if code else None
        return try_rules(self.actor, trial, wanted["days"])
