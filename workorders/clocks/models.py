"""Escalations: who was told that a finding is ageing, and who took it."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from findings.plant.models import Site
from findings.plant.rules import Role
from findings.register.models import Finding
from plantcare.api.identifiers import uuid7


class Escalation(models.Model):
    """One step up for one finding, once. Rows are only added; who took it is set once."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="+")
    # The episode of the finding (its count of reopenings): a reopened finding climbs again.
    episode = models.PositiveSmallIntegerField()
    step = models.PositiveSmallIntegerField()
    to_role = models.CharField(max_length=16, choices=[(r.value, r.value) for r in Role])
    reason = models.CharField(max_length=300)
    at = models.DateTimeField()
    taken_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    taken_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["finding", "episode", "step"], name="escalation_once_per_step"),
            models.UniqueConstraint(fields=["id", "site"], name="escalation_with_site"),
        ]
        indexes = [
            models.Index(
                fields=["site", "to_role", "-at"],
                condition=Q(taken_at__isnull=True),
                name="escalation_not_taken",
            )
        ]

    def __str__(self) -> str:
        return f"step {self.step} of {self.finding_id}"
