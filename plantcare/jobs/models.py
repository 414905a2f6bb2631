"""What ran, for which period, and how it ended."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from plantcare.api.identifiers import uuid7


class JobRun(models.Model):
    """One run of one job; a period is done at most once."""

    class Outcome(models.TextChoices):
        """How the run stands."""

        RUNNING = "running", "running"
        DONE = "done", "done"
        FAILED = "failed", "failed"
        SKIPPED = "skipped", "skipped"

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    job = models.CharField(max_length=80)
    period = models.CharField(max_length=40, default="", blank=True)
    site_id = models.UUIDField(null=True, blank=True)
    requested_by = models.CharField(max_length=200)
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    outcome = models.CharField(max_length=8, choices=Outcome, default=Outcome.RUNNING)
    result = models.JSONField(default=dict, blank=True)
    error = models.CharField(max_length=300, default="", blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["job", "period"],
                condition=~Q(period="") & Q(outcome__in=["running", "done"]),
                name="job_run_once_per_period",
            ),
            models.CheckConstraint(
                condition=Q(outcome__in=["running", "done", "failed", "skipped"]),
                name="job_run_outcome_known",
            ),
            models.CheckConstraint(
                condition=Q(outcome="running", ended_at__isnull=True)
                | (~Q(outcome="running") & Q(ended_at__isnull=False)),
                name="job_run_ended_unless_running",
            ),
        ]
        indexes = [models.Index(fields=["job", "-started_at"], name="job_run_last")]

    def __str__(self) -> str:
        return f"{self.job} {self.period or self.started_at.isoformat()}: {self.outcome}"
