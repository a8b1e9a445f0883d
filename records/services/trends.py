"""Keeping trends up to date; an alarm becomes an event, once for the run that raised it."""

from __future__ import annotations

from django.db import transaction

from fleet.common.actor import Actor, Verb, require, system_actor
from fleet.common.clock import now
from fleet.models import Aircraft
from fleet.services.trail import note
from records.gather.judging import content_of
from records.gather.series import Watched, current_content, watched_of
from records.gather.trending import Channel, Fleet, Trend, fleet_of, trend_of
from records.models import BenchRun, SignedRecord, TrendState
from scheduling.models import EventKind
from scheduling.services.events import EventReport, report_event

ALARM = "trend-alarm"
JOB = "trends"


def refresh_trends_of(run: BenchRun) -> list[TrendState]:
    """After a run was sealed: everything its procedure watches on this aircraft."""
    actor = system_actor(run.operator_id, JOB)
    code = run.procedure_version.procedure.code
    return [
        state
        for watched in watched_of(content_of(run))
        for state in refresh_trend(actor=actor, aircraft=run.aircraft, procedure_code=code, watched=watched)
    ]


@transaction.atomic
def refresh_trend(
    *,
    actor: Actor,
    aircraft: Aircraft,
    procedure_code: str,
    watched: Watched,
    fleet: Fleet | None = None,
) -> list[TrendState]:
    """Judge one trend anew and keep what it says; an alarm reports its event once per alarmed run."""
    require(actor, Verb.REPORT_EVENT)
    trend = trend_of(aircraft, procedure_code, watched, fleet)
    if not trend.tests:
        return []
    states = [_keep(trend, channel) for channel in trend.channels]
    for channel in trend.channels:
        if channel.alarmed_record:
            _report_alarm(actor, trend, channel)
    return states


def refresh_every_trend(*, operator_id: int) -> int:
    """Every trend of an operator; the number of channels judged. Run nightly: repeatability is the whole fleet's."""
    actor = system_actor(operator_id, JOB)
    pairs = (
        SignedRecord.objects.filter(operator_id=operator_id, run__isnull=False)
        .values_list("aircraft_id", "run__procedure_version__procedure__code")
        .order_by("aircraft_id", "run__procedure_version__procedure__code")
        .distinct()
    )
    aircraft = (
        Aircraft.objects.filter(operator_id=operator_id).select_related("base", "aircraft_type").in_bulk()
    )
    fleets: dict[tuple[int, str], Fleet] = {}
    judged = 0
    for aircraft_id, code in pairs:
        content = current_content(operator_id, code)
        one = aircraft[aircraft_id]
        for watched in watched_of(content) if content else ():
            key = (one.aircraft_type_id, code)
            if key not in fleets:
                fleets[key] = fleet_of(one, code)
            states = refresh_trend(
                actor=actor, aircraft=one, procedure_code=code, watched=watched, fleet=fleets[key]
            )
            judged += len(states)
    note(actor, "refresh_trends", "operator", operator_id, f"{judged} trend channels judged anew")
    return judged


def _keep(trend: Trend, channel: Channel) -> TrendState:
    verdict = channel.verdict
    alarmed = _alarmed_run(trend, channel)
    state, _ = TrendState.objects.update_or_create(
        aircraft=trend.aircraft,
        procedure_code=trend.procedure_code,
        point=trend.watched.key,
        channel=channel.name,
        defaults={
            "state": channel.state,
            "words": channel.words[:400],
            "detail": {
                "verdict": verdict.to_dict() if verdict else None,
                "cross_check": channel.cross_check,
                "crossings": [{"point": name, **crossing.to_dict()} for name, crossing in trend.crossings],
                "indication": trend.indication.to_dict() if trend.indication else None,
                "dismissed": list(channel.dismissed),
            },
            "alarmed_run": alarmed,
            "computed_at": now(),
        },
    )
    return state


def _alarmed_run(trend: Trend, channel: Channel) -> BenchRun | None:
    run_ids = [test.run_id for test in trend.tests if test.record == channel.alarmed_record]
    return BenchRun.objects.get(pk=run_ids[0]) if run_ids else None


def _report_alarm(actor: Actor, trend: Trend, channel: Channel) -> None:
    """Where the operator keeps no such kind of event, the state alone says it."""
    run = _alarmed_run(trend, channel)
    kinds = EventKind.objects.filter(operator_id=actor.operator_id, code=ALARM, retired_on=None)
    if run is None or not kinds.exists():
        return
    key = f"trend-{run.pk}"
    if trend.aircraft.events.filter(key=key).exists():
        return
    report_event(
        actor=actor,
        report=EventReport(
            aircraft_id=trend.aircraft.pk,
            kind_code=ALARM,
            at=run.finished_at or run.started_at,
            key=key,
            note=channel.words,
            detail={"run": run.pk, "procedure": trend.procedure_code, "point": trend.watched.key},
        ),
    )
