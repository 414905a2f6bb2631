"""Panels: what is said of an enclosure, who is qualified, and who released its opening. Only added."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from findings.conditions.models import Condition
from findings.panels.rules import HIGHEST_V, LONGEST_QUALIFICATION, LONGEST_RELEASE, Enclosure, Technique
from findings.plant.models import MeasuringPoint, Site
from findings.register.models import Finding
from plantcare.api.identifiers import uuid7

_VOID = Q(void_at__isnull=True, void_reason="", void_by__isnull=True) | (
    Q(void_at__isnull=False, void_by__isnull=False) & ~Q(void_reason="")
)


class PanelParticulars(models.Model):
    """What holds of the enclosure at a measuring point from a moment on, until newer particulars do.

    ``approach_note`` is the site's own text about how near anybody may come; the service knows none.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    point = models.ForeignKey(MeasuringPoint, on_delete=models.PROTECT, related_name="+")
    from_at = models.DateTimeField()
    nominal_v = models.FloatField(null=True, blank=True)
    # Empty: as usual at the site.
    mains_hz = models.PositiveSmallIntegerField(null=True, blank=True)
    enclosure = models.CharField(max_length=24, choices=[(e.value, e.value) for e in Enclosure])
    openings_to_scan = models.CharField(max_length=500, blank=True, default="")
    approach_note = models.CharField(max_length=500, blank=True, default="")
    recorded_at = models.DateTimeField()
    recorded_by = models.CharField(max_length=200)
    void_at = models.DateTimeField(null=True, blank=True)
    void_reason = models.CharField(max_length=300, blank=True, default="")
    void_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["id", "site"], name="panel_particulars_with_site"),
            models.UniqueConstraint(
                fields=["point", "from_at"],
                condition=Q(void_at__isnull=True),
                name="panel_particulars_once_per_moment",
            ),
            models.CheckConstraint(
                condition=Q(nominal_v__isnull=True) | Q(nominal_v__gt=0, nominal_v__lte=HIGHEST_V),
                name="panel_voltage_plausible",
            ),
            models.CheckConstraint(
                condition=Q(mains_hz__isnull=True) | Q(mains_hz__in=[50, 60]), name="panel_mains_50_or_60"
            ),
            models.CheckConstraint(condition=_VOID, name="panel_particulars_void_has_reason"),
        ]

    def __str__(self) -> str:
        return f"{self.enclosure} {self.nominal_v or '?'} V"


class ElectricalQualification(models.Model):
    """That somebody is a qualified electrical person at a site, until when, on what ground, said by whom.

    The site decides what qualifies; nobody confirms it of themselves.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    ground = models.CharField(max_length=300)
    at = models.DateTimeField()
    until_at = models.DateTimeField()
    confirmed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    void_at = models.DateTimeField(null=True, blank=True)
    void_reason = models.CharField(max_length=300, blank=True, default="")
    void_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["id", "site"], name="qualification_with_site"),
            models.CheckConstraint(
                condition=~Q(confirmed_by=F("user")), name="qualification_by_somebody_else"
            ),
            models.CheckConstraint(
                condition=Q(until_at__gt=F("at"), until_at__lte=F("at") + LONGEST_QUALIFICATION),
                name="qualification_has_a_term",
            ),
            models.CheckConstraint(condition=~Q(ground=""), name="qualification_has_ground"),
            models.CheckConstraint(condition=_VOID, name="qualification_void_has_reason"),
        ]
        indexes = [models.Index(fields=["user", "site"], name="qualification_by_person")]

    def __str__(self) -> str:
        return f"{self.user} until {self.until_at:%Y-%m-%d}"


class OpeningRelease(models.Model):
    """That a qualified person lets an enclosure be opened although a discharge was heard in it.

    ``condition`` is the judgement that stood at the time. Any discharge judged later withdraws the release.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    point = models.ForeignKey(MeasuringPoint, on_delete=models.PROTECT, related_name="+")
    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="+")
    condition = models.ForeignKey(Condition, null=True, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    qualification = models.ForeignKey(ElectricalQualification, on_delete=models.PROTECT, related_name="+")
    technique = models.CharField(max_length=24, choices=[(t.value, t.value) for t in Technique])
    found = models.TextField()
    conditions = models.TextField()
    at = models.DateTimeField()
    until_at = models.DateTimeField()
    void_at = models.DateTimeField(null=True, blank=True)
    void_reason = models.CharField(max_length=300, blank=True, default="")
    void_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["id", "site"], name="opening_release_with_site"),
            models.CheckConstraint(
                condition=Q(until_at__gt=F("at"), until_at__lte=F("at") + LONGEST_RELEASE),
                name="opening_release_has_a_term",
            ),
            models.CheckConstraint(
                condition=~Q(found="") & ~Q(conditions=""), name="opening_release_says_what"
            ),
            models.CheckConstraint(condition=_VOID, name="opening_release_void_has_reason"),
        ]
        indexes = [
            models.Index(fields=["point", "-at"], name="opening_release_by_point"),
            models.Index(fields=["finding"], name="opening_release_by_finding"),
        ]

    def __str__(self) -> str:
        return f"until {self.until_at:%Y-%m-%d %H:%M}"
