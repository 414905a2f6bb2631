"""Loss segments: the only source of money.

A finding's loss is a chain of dated segments. A segment is never edited: a change of the leak ends
the running one (``ended_at`` is set once) and begins the next; a correction supersedes the old one
(``void_at``), which stays readable.
"""

from __future__ import annotations

from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import RangeOperators
from django.db import models
from django.db.models import F, Func, Q

from findings.losses.rules import SegmentEnd, SegmentStart
from findings.plant.models import Site
from findings.supply.models import SupplySystem
from plantcare.api.identifiers import uuid7


class LossSegment(models.Model):
    """A stretch of time during which one finding loses at one leak rate."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    # By name only: the register stands above this room and looks down; nothing here looks up.
    finding = models.ForeignKey("findings.Finding", on_delete=models.PROTECT, related_name="+")
    system = models.ForeignKey(SupplySystem, on_delete=models.PROTECT, related_name="+")
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    start_reason = models.CharField(max_length=24, choices=[(r.value, r.value) for r in SegmentStart])
    end_reason = models.CharField(
        max_length=24, blank=True, default="", choices=[(r.value, r.value) for r in SegmentEnd]
    )
    # At 1 bar, 20 °C, dry. Decimal, because money is made of it.
    leak_rate_m3_per_s = models.DecimalField(max_digits=18, decimal_places=12)
    low_m3_per_s = models.DecimalField(max_digits=18, decimal_places=12, null=True, blank=True)
    high_m3_per_s = models.DecimalField(max_digits=18, decimal_places=12, null=True, blank=True)
    method = models.CharField(max_length=32)
    method_version = models.CharField(max_length=16)
    assessment_id = models.UUIDField(null=True, blank=True)
    # A repair's end is provisional until a verification holds.
    end_confirmed_at = models.DateTimeField(null=True, blank=True)
    recorded_at = models.DateTimeField()
    end_recorded_at = models.DateTimeField(null=True, blank=True)
    void_at = models.DateTimeField(null=True, blank=True)
    void_reason = models.CharField(max_length=200, blank=True, default="")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(leak_rate_m3_per_s__gte=0), name="segment_rate_not_negative"),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | Q(ended_at__gte=F("started_at")),
                name="segment_ends_after_start",
            ),
            models.CheckConstraint(
                condition=(Q(ended_at__isnull=True) & Q(end_reason=""))
                | (Q(ended_at__isnull=False) & ~Q(end_reason="")),
                name="segment_end_has_reason",
            ),
            models.CheckConstraint(
                condition=Q(void_at__isnull=True) | ~Q(void_reason=""), name="segment_void_has_reason"
            ),
            ExclusionConstraint(
                name="segments_do_not_overlap",
                expressions=[
                    ("finding", RangeOperators.EQUAL),
                    (Func(F("started_at"), F("ended_at"), function="tstzrange"), RangeOperators.OVERLAPS),
                ],
                condition=Q(void_at__isnull=True),
            ),
        ]
        indexes = [
            models.Index(
                fields=["site", "started_at"], condition=Q(void_at__isnull=True), name="segment_live_by_site"
            ),
            models.Index(fields=["finding", "started_at"], name="segment_by_finding"),
        ]

    def __str__(self) -> str:
        return f"{self.leak_rate_m3_per_s} m3/s from {self.started_at:%Y-%m-%d %H:%M}"
