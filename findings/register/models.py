"""Findings: what readings mean, with their evidence and every assessment that was ever made."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from findings.conditions.models import Condition
from findings.kinds.base import Hazard, Kind, Medium
from findings.plant.models import Asset, MeasuringPoint, Site
from findings.readings.models import Reading
from findings.register.rules import ClosureReason, DismissReason, EvidenceRole, FindingStatus
from findings.supply.models import SupplySystem
from plantcare.api.identifiers import uuid7

OPEN = Q(status__in=["open", "deferred", "repaired"])


class Finding(models.Model):
    """One fault at one measuring point, from its first reading to its closure."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    number = models.PositiveIntegerField()
    asset = models.ForeignKey(Asset, on_delete=models.PROTECT, related_name="+")
    point = models.ForeignKey(MeasuringPoint, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=24, choices=[(k.value, k.value) for k in Kind])
    medium = models.CharField(
        max_length=24, blank=True, default="", choices=[(m.value, m.value) for m in Medium]
    )
    system = models.ForeignKey(
        SupplySystem, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    hazard = models.CharField(max_length=16, choices=[(h.value, h.value) for h in Hazard])
    # Safety findings carry the shortest clocks and are deferred only by two people.
    is_safety = models.BooleanField(default=False)
    status = models.CharField(
        max_length=12, choices=[(s.value, s.value) for s in FindingStatus], default=FindingStatus.OPEN
    )
    severity = models.PositiveSmallIntegerField(null=True, blank=True)
    level_db = models.FloatField(null=True, blank=True)
    # The last assessment that holds, kept here so that a list needs no join.
    leak_rate_m3_per_s = models.DecimalField(max_digits=18, decimal_places=12, null=True, blank=True)
    leak_rate_low_m3_per_s = models.DecimalField(max_digits=18, decimal_places=12, null=True, blank=True)
    leak_rate_high_m3_per_s = models.DecimalField(max_digits=18, decimal_places=12, null=True, blank=True)
    leak_rate_status = models.CharField(max_length=12, blank=True, default="")
    # What was judged of a bearing, a panel or a seal, and how grave that is.
    condition = models.ForeignKey(
        Condition, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    condition_severity = models.PositiveSmallIntegerField(null=True, blank=True)
    # The assessment that the rate rests on; a rate that somebody stated at a repair's check has none.
    standing = models.ForeignKey(
        "Assessment", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    found_at = models.DateTimeField()
    # Since when the leak is the one that it is now: found, heard again after closure, or a repair failed.
    opened_at = models.DateTimeField()
    last_heard_at = models.DateTimeField()
    repaired_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    closing_reading = models.ForeignKey(
        Reading, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    closure_reason = models.CharField(
        max_length=32, blank=True, default="", choices=[(r.value, r.value) for r in ClosureReason]
    )
    closure_text = models.TextField(blank=True, default="")
    dismiss_reason = models.CharField(
        max_length=32, blank=True, default="", choices=[(r.value, r.value) for r in DismissReason]
    )
    merged_into = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    follows = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    reopened_count = models.PositiveSmallIntegerField(default=0)
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "number"], name="finding_number_once_per_site"),
            models.UniqueConstraint(fields=["id", "site"], name="finding_with_site"),
            models.UniqueConstraint(
                fields=["point", "kind"], condition=OPEN, name="finding_open_once_per_point_and_kind"
            ),
            # No closure without proof: a reading taken after the repair, or an allowed reason in words.
            models.CheckConstraint(
                condition=~Q(status="closed")
                | Q(closed_at__isnull=False, closing_reading__isnull=False, repaired_at__isnull=False)
                | (Q(closed_at__isnull=False) & ~Q(closure_reason="") & Q(closure_text__regex=r"\S.{8,}\S")),
                name="finding_closed_with_proof",
            ),
            models.CheckConstraint(
                condition=~Q(status="dismissed") | ~Q(dismiss_reason=""), name="finding_dismissed_with_reason"
            ),
            models.CheckConstraint(
                condition=Q(status="merged", merged_into__isnull=False)
                | (~Q(status="merged") & Q(merged_into__isnull=True)),
                name="finding_merged_names_survivor",
            ),
            models.CheckConstraint(condition=~Q(merged_into=F("id")), name="finding_not_merged_into_itself"),
            models.CheckConstraint(
                condition=~Q(status="repaired") | Q(repaired_at__isnull=False),
                name="finding_repaired_has_time",
            ),
            models.CheckConstraint(
                condition=Q(leak_rate_m3_per_s__isnull=True) | Q(leak_rate_m3_per_s__gte=0),
                name="finding_rate_not_negative",
            ),
            # An order of magnitude is an interval without a figure in it, so that nothing can add it up.
            models.CheckConstraint(
                condition=~Q(leak_rate_status="indicative")
                | Q(
                    leak_rate_m3_per_s__isnull=True,
                    leak_rate_low_m3_per_s__isnull=False,
                    leak_rate_high_m3_per_s__isnull=False,
                ),
                name="finding_indicative_is_an_interval",
            ),
            models.CheckConstraint(
                condition=Q(condition_severity__isnull=True)
                | Q(condition__isnull=False, condition_severity__gte=1, condition_severity__lte=5),
                name="finding_condition_severity_1_to_5",
            ),
            models.CheckConstraint(
                condition=Q(standing__isnull=True) | Q(leak_rate_m3_per_s__isnull=False),
                name="finding_standing_has_rate",
            ),
        ]
        indexes = [
            models.Index(fields=["site", "-found_at", "-id"], name="finding_newest"),
            models.Index(
                fields=["site", "kind", "-found_at"],
                condition=OPEN,
                include=["status", "asset", "leak_rate_m3_per_s", "is_safety"],
                name="finding_open_by_site",
            ),
            models.Index(fields=["asset"], name="finding_by_asset"),
            models.Index(fields=["point", "kind"], name="finding_by_point"),
        ]

    def __str__(self) -> str:
        return f"F-{self.number}"


class Evidence(models.Model):
    """A reading that speaks for or about a finding. A reading of one kind belongs to one finding."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="+")
    reading = models.ForeignKey(Reading, on_delete=models.PROTECT, related_name="+")
    role = models.CharField(max_length=12, choices=[(r.value, r.value) for r in EvidenceRole])
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["reading", "finding"], name="evidence_once")]
        indexes = [models.Index(fields=["finding", "recorded_at"], name="evidence_by_finding")]

    def __str__(self) -> str:
        return f"{self.role} {self.reading_id}"


class Assessment(models.Model):
    """What was computed from which inputs by which version of which method. Rows are only added."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="+")
    reading = models.ForeignKey(Reading, null=True, on_delete=models.PROTECT, related_name="+")
    method = models.CharField(max_length=32)
    method_version = models.CharField(max_length=16)
    status = models.CharField(max_length=12)
    leak_rate_m3_per_s = models.FloatField(null=True)
    u_m3_per_s = models.FloatField(null=True)
    low_m3_per_s = models.FloatField(null=True)
    high_m3_per_s = models.FloatField(null=True)
    inputs = models.JSONField()
    reasons = models.JSONField(default=list)
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["id", "site"], name="assessment_with_site"),
            # Nothing is computed from a missing input: a refusal carries no value.
            models.CheckConstraint(
                condition=(Q(status="refused") & Q(leak_rate_m3_per_s__isnull=True))
                | (~Q(status="refused") & Q(leak_rate_m3_per_s__isnull=False)),
                name="assessment_refused_has_no_value",
            ),
        ]
        indexes = [models.Index(fields=["finding", "-at"], name="assessment_by_finding")]

    def __str__(self) -> str:
        return f"{self.method} {self.status}"


class FindingCounter(models.Model):
    """The last finding number given at a site; its row lock keeps numbers without gaps or twins."""

    site = models.OneToOneField(Site, primary_key=True, on_delete=models.PROTECT, related_name="+")
    last_number = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return str(self.last_number)
