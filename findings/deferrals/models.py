"""Deferrals: somebody with authority says why a fault may wait, until when, and what is done meanwhile."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from findings.deferrals.rules import DeferralReason
from findings.plant.models import Site
from findings.register.models import Finding
from plantcare.api.identifiers import uuid7


class Deferral(models.Model):
    """A request to let a finding wait; it is in force only once approved, and never past ``until_at``."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="+")
    is_safety = models.BooleanField()
    reason = models.CharField(max_length=24, choices=[(r.value, r.value) for r in DeferralReason])
    text = models.TextField()
    interim_measures = models.TextField(blank=True, default="")
    until_at = models.DateTimeField()
    requested_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    requested_at = models.DateTimeField()
    approved_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    approved_at = models.DateTimeField(null=True)
    refused_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(until_at__gt=F("requested_at")), name="deferral_ends_later"),
            models.CheckConstraint(
                condition=(Q(approved_at__isnull=True) & Q(approved_by__isnull=True))
                | (Q(approved_at__isnull=False) & Q(approved_by__isnull=False)),
                name="deferral_approval_whole",
            ),
            # Four eyes: whoever asks to let a safety finding wait never grants it.
            models.CheckConstraint(
                condition=Q(is_safety=False)
                | Q(approved_by__isnull=True)
                | ~Q(approved_by=F("requested_by")),
                name="deferral_safety_by_two_people",
            ),
            models.CheckConstraint(
                condition=Q(is_safety=False) | ~Q(interim_measures=""), name="deferral_safety_states_measures"
            ),
            models.UniqueConstraint(
                fields=["finding"],
                condition=Q(ended_at__isnull=True, refused_at__isnull=True),
                name="deferral_one_at_a_time",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.finding_id} until {self.until_at:%Y-%m-%d}"
