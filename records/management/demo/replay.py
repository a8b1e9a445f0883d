"""Lives the past once more in order: events through their service, work as closed tasks, last-done as it came out."""

from __future__ import annotations

import random
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import cycle
from zoneinfo import ZoneInfo

from fleet.common.clock import frozen
from fleet.models import Calibration, Equipment
from fleet.services.configuration import NewComponent
from records.management.demo.bench import Picture, Signer, Work, ends_at, sealed_at
from records.management.demo.entries import Answered, Hands, Sheet, sheet_of
from records.management.demo.flying import Log
from records.management.demo.past import Happening, Job
from records.management.demo.picture import hang_up
from records.management.demo.scenario import Scenario
from records.management.demo.standing import CarriedOver
from records.management.demo.stock import lot_on
from scheduling.due.terms import Mark
from scheduling.gather.due import mark_to_data
from scheduling.models import Applicability, Before, ProcedureVersion, Task, TaskCause, TaskState
from scheduling.services.accomplishment import measured
from scheduling.services.events import EventReport, report_event

PERFORMERS = {"norrvik": ("tove", "milo"), "tarn-bay": ("runa",), "hallin": ("jory", "siv")}
INSPECTORS = {"norrvik": "aldis", "tarn-bay": "corin", "hallin": "aldis"}
LAST_DAY_OF_SIV = 30
DAYS_RAISED_BEFORE = 12


@dataclass(frozen=True, slots=True)
class Prepared:
    """One thing of the past and when its turn comes."""

    at: datetime
    one: Happening | Job | CarriedOver
    answered: tuple[Answered, ...] = ()


@dataclass
class Replay:
    """Where the past has come to: the next record number of every aircraft, and the work met so far."""

    scenario: Scenario
    logs: dict[str, Log]
    signers: dict[tuple[str, str], Signer]
    works: list[Work] = field(default_factory=list)
    numbers: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    sheets: dict[tuple[str, str], Sheet] = field(default_factory=dict)
    pictures: dict[str, Picture] = field(default_factory=dict)
    items: dict[tuple[str, str], Applicability] = field(default_factory=dict)
    calibrations: dict[int, list[Calibration]] = field(default_factory=lambda: defaultdict(list))
    raised: dict[tuple[str, str], Task] = field(default_factory=dict)
    causes: list[TaskCause] = field(default_factory=list)
    serial: int = 0

    def __post_init__(self) -> None:
        rows = Applicability.objects.filter(component=None).select_related(
            "aircraft", "requirement__procedure"
        )
        self.items = {(row.aircraft.registration, row.code): row for row in rows if row.aircraft}
        for calibration in Calibration.objects.all():
            self.calibrations[calibration.equipment_id].append(calibration)
        self.turns = {base: cycle(names) for base, names in PERFORMERS.items()}

    def live(self, past: list[Happening | Job | CarriedOver]) -> None:
        """Everything in order."""
        entries = [self._prepared(one) if isinstance(one, Job) else Prepared(one.at, one) for one in past]
        for entry in sorted(entries, key=lambda each: (each.at, each.one.registration)):
            match entry.one:
                case Happening():
                    self._happen(entry.one)
                case Job():
                    self._work(entry.one, entry.answered)
                case CarriedOver():
                    self._carry_over(entry.one)
        Task.objects.bulk_create((cause.task for cause in self.causes), batch_size=200)
        TaskCause.objects.bulk_create(self.causes)
        Applicability.objects.bulk_update(
            self.items.values(), ["done_on", "last_done", "proof", "opening_note", "version"]
        )

    def _happen(self, one: Happening) -> None:
        reporter = self.scenario.actor(PERFORMERS[self.scenario.aircraft[one.registration].base.code][0])
        replaces = one.position and one.kind != "tank-refitted"
        with frozen(one.at + timedelta(minutes=20)):
            reported = report_event(
                actor=reporter,
                report=EventReport(
                    aircraft_id=self.scenario.aircraft[one.registration].pk,
                    kind_code=one.kind,
                    at=one.at,
                    key=f"past-{one.kind}-{one.at:%Y%m%d}",
                    position_code=one.position,
                    new_component=self._part(one) if replaces else None,
                    note=one.words,
                ),
            )
        for task in (*reported.raised, *reported.joined):
            if task.procedure is not None:
                self.raised[one.registration, task.procedure.code] = task

    def _part(self, one: Happening) -> NewComponent:
        self.serial += 1
        aircraft = self.scenario.aircraft[one.registration]
        letters = "".join(word[0] for word in one.kind.split("-")[:1]).upper()
        return NewComponent(
            kind_code="",
            part_number=f"N{letters}-{aircraft.aircraft_type.code[0].upper()}-{one.position.upper()}"[:60],
            serial_number=f"N{letters}{400 + 7 * self.serial}",
            manufactured_on=(one.at - timedelta(days=90 + 11 * self.serial)).date(),
            release_document=f"SK-REL-{7000 + self.serial}",
        )

    def _prepared(self, job: Job) -> Prepared:
        """The work as entered, and about when it was sealed: records stand in that order."""
        sheet = self._sheet(job)
        chance = random.Random(f"{job.registration} {job.procedure} {job.flow}")  # noqa: S311 - guards nothing
        answered = tuple(Hands(sheet, job.at, job.flow, chance).answers())
        return Prepared(sealed_at(answered, sheet), job, answered)

    def _work(self, job: Job, answered: tuple[Answered, ...]) -> None:
        aircraft = self.scenario.aircraft[job.registration]
        sheet = self._sheet(job)
        self.numbers[job.registration] += 1
        number = f"{job.registration}-{self.numbers[job.registration]:06d}"
        performer = self._performer(aircraft.base.code, job.at)
        ends = ends_at(answered)
        log = self.logs[job.registration]
        task = self._task(job, sheet.version)
        task.procedure_version, task.assigned_to = sheet.version, performer.user
        self._close(task, (job.at, ends), log.at(ends).minutes, number)
        inspector = self.signers[INSPECTORS[aircraft.base.code], "inspect"]
        day = (self.scenario.now - job.at).days
        self.works.append(
            Work(
                task=task,
                causes=self._causes(task),
                sheet=sheet,
                begin=job.at,
                ends=ends,
                counters=log.at(job.at),
                counters_after=log.at(ends),
                answered=answered,
                performer=performer,
                inspector=inspector if sheet.version.needs_countersignature else None,
                equipment=self._equipment(aircraft.base.code, sheet, job.at),
                lot=lot_on(self.scenario, aircraft.base.code, day) if sheet.content.fluid else None,
                picture=self._picture(job.registration),
                number=number,
            )
        )
        self._done(job, ends, number)

    def _sheet(self, job: Job) -> Sheet:
        key = (job.registration, job.procedure)
        if key not in self.sheets:
            version = ProcedureVersion.objects.select_related("procedure").get(
                procedure__code=job.procedure, procedure__operator=self.scenario.operator, state="current"
            )
            self.sheets[key] = sheet_of(self.scenario.aircraft[job.registration], version)
        return self.sheets[key]

    def _picture(self, registration: str) -> Picture:
        if registration not in self.pictures:
            self.pictures[registration] = hang_up(registration)
        return self.pictures[registration]

    def _performer(self, base: str, at: datetime) -> Signer:
        name = next(self.turns[base])
        if name == "siv" and (self.scenario.now - at).days < LAST_DAY_OF_SIV:
            name = "jory"
        return self.signers[name, "perform"]

    def _equipment(
        self, base: str, sheet: Sheet, at: datetime
    ) -> dict[str, tuple[Equipment, Calibration | None]]:
        """The base's own, in calibration on the day; left and right each have their own cylinder."""
        found: dict[str, tuple[Equipment, Calibration | None]] = {}
        for need in sheet.content.equipment_for(sheet.options):
            used = {equipment.pk for equipment, _ in found.values()}
            rows = self.scenario.equipment[base, need.kind]
            equipment = next((row for row in rows if row.pk not in used), rows[0])
            holding = [
                row
                for row in self.calibrations[equipment.pk]
                if row.done_on <= at.date() and at.date() + timedelta(days=1) <= row.due_on
            ]
            found[need.role] = (equipment, holding[-1] if holding else None)
        return found

    def _task(self, job: Job, version: ProcedureVersion) -> Task:
        """The open task an event raised, or one for what had fallen due."""
        raised = self.raised.pop((job.registration, job.procedure), None)
        if raised is not None:
            raised.aircraft = self.scenario.aircraft[job.registration]
            return raised
        item = self.items.get((job.registration, job.requirement))
        title = item.requirement.title if item else version.procedure.title
        raised_at = job.at - timedelta(days=DAYS_RAISED_BEFORE)
        task = Task(
            operator=self.scenario.operator,
            aircraft=self.scenario.aircraft[job.registration],
            procedure=version.procedure,
            applicability=item,
            title=title,
            consequence=item.requirement.consequence if item else version.consequence,
            before=Before.DUE,
            raised_at=raised_at,
        )
        words = f"{title} ({item.code}) falls due" if item else "asked for by the maintenance controller"
        self.causes.append(TaskCause(task=task, words=words, at=raised_at))
        return task

    def _causes(self, task: Task) -> tuple[TaskCause, ...]:
        """Why the task was there: those just invented, or those its event wrote."""
        if not task.pk:
            return (self.causes[-1],)
        about = ("event__position", "event__kind", "event__component_off__kind", "event__component_on__kind")
        return tuple(task.causes.select_related(*about).order_by("at", "id"))

    def _close(self, task: Task, span: tuple[datetime, datetime], minutes: int, number: str) -> Task:
        task.state = TaskState.CLOSED
        task.started_at, task.closed_at = span
        task.closed_minutes, task.proof = minutes, number
        task.version += 1
        if task.pk:
            task.save()
        return task

    def _done(self, job: Job, at: datetime, number: str) -> None:
        """Every line of the programme that this work answers counts from here."""
        counters = measured(self.logs[job.registration].at(at))
        for (registration, _), item in self.items.items():
            procedure = item.requirement.procedure
            if registration == job.registration and procedure and procedure.code == job.procedure:
                day = at.astimezone(ZoneInfo(self.scenario.aircraft[registration].base.zone)).date()
                item.done_on = day
                item.last_done = mark_to_data(Mark(day, counters, number))
                item.proof, item.opening_note = number, ""
                item.version += 1

    def _carry_over(self, one: CarriedOver) -> None:
        item = self.items.get((one.registration, one.requirement))
        if item is None:
            return
        opening = self.logs[one.registration].opening
        counters = {name: max(0, value - one.before) for name, value in measured(opening).items()}
        item.done_on = one.at.date()
        item.last_done = mark_to_data(Mark(one.at.date(), counters))
        item.proof, item.opening_note = "", "carried over from the books before"
