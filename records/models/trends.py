"""What the trend of one aircraft and channel last said."""

from __future__ import annotations

from django.db import models

from fleet.models import Aircraft


class TrendState(models.Model):
    """The newest statement about one channel (sum or left-right difference) of one point on one aircraft."""

    aircraft = models.ForeignKey(Aircraft, on_delete=models.CASCADE, related_name="trend_states")
    procedure_code = models.SlugField(max_length=40)
    point = models.CharField(max_length=60)
    channel = models.CharField(max_length=20)
    state = models.CharField(max_length=24)
    words = models.CharField(max_length=400)
    detail = models.JSONField(default=dict)
    alarmed_run = models.ForeignKey(
        "records.BenchRun", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    computed_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["aircraft", "procedure_code", "point", "channel"], name="one_trend_state_per_channel"
            ),
        ]
        ordering = ["aircraft_id", "point", "channel"]

    def __str__(self) -> str:
        return self.words
