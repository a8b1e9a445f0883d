"""Bench runs: one performance of a procedure, answer by answer, kept as it was entered."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from fleet.models import Aircraft, Equipment, FluidLot, Operator, User
from scheduling.models import ProcedureVersion, Task


class RunState(models.TextChoices):
    """Where a run stands."""

    OPEN = "open", "open"
    PAUSED = "paused", "paused"
    FINISHED = "finished", "finished, not signed"
    SIGNED = "signed", "signed"
    ABANDONED = "abandoned", "abandoned"


class BenchRun(models.Model):
    """One performance of one procedure version for one task.

    The counters at the start and the verdict at the end are copied in; the verdict is the server's. `content` is
    what is signed and sealed, as it stood when the run was finished: later changes elsewhere do not reach it.
    """

    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="bench_runs")
    task = models.ForeignKey(Task, on_delete=models.PROTECT, related_name="runs")
    aircraft = models.ForeignKey(Aircraft, on_delete=models.PROTECT, related_name="runs")
    procedure_version = models.ForeignKey(ProcedureVersion, on_delete=models.PROTECT, related_name="runs")
    number = models.PositiveSmallIntegerField(default=1)
    key = models.CharField(max_length=100, help_text="makes opening it twice harmless")
    state = models.CharField(max_length=12, choices=RunState.choices, default=RunState.OPEN)
    opened_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    performer = models.ForeignKey(User, on_delete=models.PROTECT, related_name="runs")
    started_at = models.DateTimeField()
    finished_at = models.DateTimeField(null=True, blank=True)
    minutes_at_start = models.PositiveBigIntegerField()
    landings_at_start = models.PositiveIntegerField()
    verdict = models.CharField(max_length=20, blank=True)
    verdict_detail = models.JSONField(default=dict, blank=True)
    content = models.JSONField(null=True, blank=True)
    abandoned_reason = models.CharField(max_length=300, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["task", "number"], name="run_number_once_per_task"),
            models.UniqueConstraint(fields=["task", "key"], name="run_key_once_per_task"),
            models.UniqueConstraint(
                fields=["task"],
                condition=Q(state__in=["open", "paused", "finished"]),
                name="one_run_in_hand_per_task",
            ),
            models.CheckConstraint(
                condition=~Q(state="abandoned") | ~Q(abandoned_reason=""), name="abandoned_run_has_a_reason"
            ),
        ]
        ordering = ["-started_at", "-id"]

    def __str__(self) -> str:
        return f"run {self.number} of {self.task}"


class StepAnswer(models.Model):
    """What was answered at one step, with its own captured time. Append-only; a repeat gives its reason.

    `answer` is the form the step's kind asks for; `key` is the command id the phone gave it.
    """

    run = models.ForeignKey(BenchRun, on_delete=models.PROTECT, related_name="answers")
    step = models.CharField(max_length=60)
    key = models.CharField(max_length=100)
    answer = models.JSONField()
    outcome = models.CharField(max_length=20, blank=True)
    outcome_words = models.CharField(max_length=300, blank=True)
    repeat_reason = models.CharField(max_length=200, blank=True)
    captured_at = models.DateTimeField()
    received_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["run", "key"], name="answer_key_once_per_run")]
        ordering = ["captured_at", "id"]

    def __str__(self) -> str:
        return f"{self.step}: {self.outcome}"


class Measurement(models.Model):
    """One reading of one point, as written with its unit; the limit it was judged by is copied in. Append-only.

    `margin` is the exact distance to the nearest limit as a fraction "n/d" in the limit's unit.
    """

    run = models.ForeignKey(BenchRun, on_delete=models.PROTECT, related_name="measurements")
    answer = models.ForeignKey(StepAnswer, on_delete=models.PROTECT, related_name="measurements")
    point = models.CharField(max_length=60)
    side = models.CharField(max_length=8, blank=True)
    value = models.CharField(max_length=40, help_text="as written")
    unit = models.CharField(max_length=16)
    detail = models.JSONField(
        default=dict, blank=True, help_text="run time, gross and tare, temperature, as written"
    )
    limit = models.JSONField(default=dict)
    verdict = models.CharField(max_length=20)
    margin = models.CharField(max_length=80, blank=True)
    words = models.CharField(max_length=300, blank=True)
    equipment = models.ForeignKey(
        Equipment, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    captured_at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["point", "captured_at"])]
        ordering = ["captured_at", "id"]

    def __str__(self) -> str:
        return f"{self.point} {self.value} {self.unit}"


class EquipmentUse(models.Model):
    """This equipment was used in this run; its calibration as it stood is copied in."""

    run = models.ForeignKey(BenchRun, on_delete=models.PROTECT, related_name="equipment_uses")
    equipment = models.ForeignKey(Equipment, on_delete=models.PROTECT, related_name="uses")
    role = models.CharField(max_length=40)
    certificate = models.CharField(max_length=80, blank=True)
    calibration_due = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["run", "role"], name="one_equipment_per_role_and_run")]

    def __str__(self) -> str:
        return f"{self.role}: {self.equipment}"


class LotUse(models.Model):
    """This fluid lot was used in this run."""

    run = models.ForeignKey(BenchRun, on_delete=models.PROTECT, related_name="lot_uses")
    lot = models.ForeignKey(FluidLot, on_delete=models.PROTECT, related_name="uses")
    amount = models.CharField(max_length=24)
    unit = models.CharField(max_length=16)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["run", "lot"], name="lot_once_per_run")]

    def __str__(self) -> str:
        return f"{self.amount} {self.unit} of {self.lot}"


class Photo(models.Model):
    """A picture taken at a step; its digest goes into the sealed record."""

    run = models.ForeignKey(BenchRun, on_delete=models.PROTECT, related_name="photos")
    step = models.CharField(max_length=60)
    key = models.CharField(max_length=100)
    file = models.FileField(upload_to="runs/")
    sha256 = models.CharField(max_length=64)
    media_type = models.CharField(max_length=40)
    taken_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["run", "key"], name="photo_key_once_per_run")]
        ordering = ["taken_at", "id"]

    def __str__(self) -> str:
        return self.step


class HandOver(models.Model):
    """The run passed from one technician to another (interrupted work is closed by procedure, 14 CFR 135.427(b)(9))."""

    run = models.ForeignKey(BenchRun, on_delete=models.PROTECT, related_name="hand_overs")
    from_user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    to_user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    note = models.CharField(max_length=300)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(from_user=F("to_user")), name="hand_over_changes_hands"),
        ]
        ordering = ["at", "id"]

    def __str__(self) -> str:
        return self.note
