"""The whole demonstration in one transaction."""

from __future__ import annotations

from collections.abc import Callable

from django.db import transaction

from fleet.common.actor import system_actor
from fleet.common.errors import Conflict
from fleet.models import Operator
from records.management.demo.bench import write_work
from records.management.demo.flying import fly
from records.management.demo.hangar import build_types, register_aircraft
from records.management.demo.house import Login, employ_people, found_operator, signers_of
from records.management.demo.past import past_of
from records.management.demo.programme import write_programme
from records.management.demo.replay import Replay
from records.management.demo.scenario import written
from records.management.demo.standing import standing_of
from records.management.demo.stock import stock_up, take_fluid
from records.management.demo.stories import bring_up_to_date, tell_stories
from records.management.demo.week import plan_weeks, set_up_weeks
from scheduling.services.reminders import write_due_reminders

Say = Callable[[str], None]


def load(say: Say) -> list[Login]:
    """Load the invented operator with two years behind it; returns who may sign in."""
    must_be_fresh()
    with transaction.atomic():
        return _load(say)


def must_be_fresh() -> None:
    """Refuse (`operator_known`) where an operator of its code stands in the database already."""
    told = written("demo/fleet.json")["operator"]
    if Operator.objects.filter(code=told["code"]).exists():
        raise Conflict(
            "operator_known",
            f"{told['name']} is in this database already. Nothing was changed; start with an empty database.",
        )


def _load(say: Say) -> list[Login]:
    scenario = found_operator()
    logins = employ_people(scenario)
    say("operator, bases, people")
    build_types(scenario)
    register_aircraft(scenario)
    stock_up(scenario)
    take_fluid(scenario)
    say("aircraft, components, stock")
    write_programme(scenario)
    say("procedures, rules, requirements")
    past = past_of(scenario)
    logs = fly(scenario, past)
    say("two years of flying")
    replay = Replay(scenario, logs, signers_of(scenario))
    replay.live([*past, *standing_of(scenario, logs)])
    say(f"{len(replay.works)} pieces of past work and their events")
    write_work(replay.works)
    say("runs, signatures, sealed records")
    bring_up_to_date(scenario)
    say("due list, trends, work they call for")
    tell_stories(scenario)
    set_up_weeks(scenario)
    say("what is going on today, shifts and ground times")
    plan_weeks(scenario)
    say("a week planned and published")
    write_due_reminders(actor=system_actor(scenario.operator.pk, "reminders"))
    say("reminders")
    return logins
