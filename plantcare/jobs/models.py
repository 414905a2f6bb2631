"""What ran, for which period, and how it ended; what could not be done; who sends the schedule."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from plantcare.api.identifiers import uuid7


class JobRun(models.Model):
    """One run of one job; a period is done at most once, site by site where the job is about a site."""

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
    due_at = models.DateTimeField(null=True, blank=True)
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    # Measured on the process's own steady clock: the wall clock may jump meanwhile.
    duration_s = models.FloatField(null=True, blank=True)
    # What the run was at last, so that something which kills its process is found out.
    in_hand_id = models.UUIDField(null=True, blank=True)
    outcome = models.CharField(max_length=8, choices=Outcome, default=Outcome.RUNNING)
    result = models.JSONField(default=dict, blank=True)
    error = models.CharField(max_length=300, default="", blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["job", "period", "site_id"],
                condition=~Q(period="") & Q(outcome__in=["running", "done"]),
                nulls_distinct=False,
                name="job_run_once_per_site_period",
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


class Lease(models.Model):
    """Whose turn it is to send the schedule; kept by the database's clock alone.

    The token grows with every change of hands, so that what an earlier holder still sends is known as such.
    """

    name = models.CharField(primary_key=True, max_length=40)
    holder = models.CharField(max_length=120)
    token = models.PositiveBigIntegerField(default=1)
    until_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.name}: {self.holder} ({self.token})"


class Stumble(models.Model):
    """One thing that a job could not do, and why; after some tries it is parked and left alone."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    job = models.CharField(max_length=80)
    site_id = models.UUIDField(null=True, blank=True)
    item_id = models.UUIDField()
    failures = models.PositiveIntegerField(default=1)
    reason = models.CharField(max_length=300)
    first_at = models.DateTimeField()
    last_at = models.DateTimeField()
    parked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["job", "item_id"], name="stumble_once_per_item")]

    def __str__(self) -> str:
        return f"{self.job} at {self.item_id}: {self.reason}"


class Tally(models.Model):
    """Runs since the beginning, by outcome: figures that never fall, though old runs are forgotten."""

    job = models.CharField(max_length=80)
    outcome = models.CharField(max_length=8, choices=JobRun.Outcome)
    runs = models.PositiveBigIntegerField(default=0)
    duration_s = models.FloatField(default=0.0)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["job", "outcome"], name="tally_once_per_outcome")]

    def __str__(self) -> str:
        return f"{self.job} {self.outcome}: {self.runs}"
