"""Conditions: what was judged of a bearing, a panel or a seal, from what, and by which method. Only added."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from findings.kinds.base import Kind
from findings.kinds.condition import ConditionSource
from findings.plant.models import MeasuringPoint, Site
from findings.readings.models import Reading
from plantcare.api.identifiers import uuid7


class Condition(models.Model):
    """One judgement about one measuring point at the moment of one reading.

    ``order_due`` is empty where it can't be told; ``state`` is a word of the method's own. ``overrules``
    names the judgement that an inspector set aside: both are kept.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    point = models.ForeignKey(MeasuringPoint, on_delete=models.PROTECT, related_name="+")
    reading = models.ForeignKey(Reading, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=24, choices=[(k.value, k.value) for k in Kind])
    source = models.CharField(max_length=12, choices=[(s.value, s.value) for s in ConditionSource])
    method = models.CharField(max_length=32)
    method_version = models.CharField(max_length=16)
    state = models.CharField(max_length=32)
    severity = models.PositiveSmallIntegerField(null=True)
    opens_finding = models.BooleanField()
    order_due = models.BooleanField(null=True)
    keeps_shut = models.BooleanField(default=False)
    look_again_days = models.PositiveIntegerField(null=True)
    figures = models.JSONField(default=dict)
    inputs = models.JSONField(default=dict)
    reasons = models.JSONField(default=list)
    judged_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    overrules = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["id", "site"], name="condition_with_site"),
            models.UniqueConstraint(fields=["overrules"], name="condition_overruled_once"),
            models.CheckConstraint(condition=~Q(overrules=F("id")), name="condition_not_overruling_itself"),
            models.CheckConstraint(
                condition=Q(severity__isnull=True) | Q(severity__gte=1, severity__lte=5),
                name="condition_severity_1_to_5",
            ),
            models.CheckConstraint(
                condition=Q(look_again_days__isnull=True) | Q(look_again_days__gte=1),
                name="condition_next_look_ahead",
            ),
            models.CheckConstraint(
                condition=Q(source="inspector", judged_by__isnull=False)
                | (~Q(source="inspector") & Q(judged_by__isnull=True, overrules__isnull=True)),
                name="condition_overruled_by_a_person",
            ),
        ]
        indexes = [
            models.Index(fields=["point", "kind", "-at"], name="condition_by_point"),
            models.Index(fields=["reading"], name="condition_by_reading"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.state}"
