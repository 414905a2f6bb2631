"""Verifications: did the repair hold? Rows are only added."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from findings.plant.models import Site
from findings.readings.models import Reading
from findings.register.models import Finding
from plantcare.api.identifiers import uuid7
from workorders.orders.models import WorkOrder
from workorders.verification.rules import Verdict


class Verification(models.Model):
    """The judgement of one reading after one repair, or a recorded reason in its place."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="+")
    order = models.ForeignKey(WorkOrder, null=True, on_delete=models.PROTECT, related_name="+")
    reading = models.ForeignKey(Reading, null=True, on_delete=models.PROTECT, related_name="+")
    verdict = models.CharField(max_length=12, choices=[(v.value, v.value) for v in Verdict])
    reasons = models.JSONField(default=list)
    residual_m3_per_s = models.DecimalField(max_digits=18, decimal_places=12, null=True, blank=True)
    repaired_at = models.DateTimeField()
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    user = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    actor_name = models.CharField(max_length=200)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["finding", "reading"], name="verification_once_per_reading"),
            models.CheckConstraint(
                condition=Q(at__gte=models.F("repaired_at")), name="verification_after_repair"
            ),
        ]
        indexes = [models.Index(fields=["finding", "at"], name="verification_by_finding")]

    def __str__(self) -> str:
        return f"{self.verdict} {self.at:%Y-%m-%d}"
