"""Surveys: one walk of one inspector."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from findings.detectors.models import Instrument
from findings.plant.models import Site
from findings.routes.models import Route
from plantcare.api.identifiers import uuid7


class Survey(models.Model):
    """A walk, from its first reading to its end."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    code = models.CharField(max_length=64)
    route = models.ForeignKey(Route, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    inspector = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+"
    )
    inspector_name = models.CharField(max_length=200, blank=True, default="")
    instrument = models.ForeignKey(
        Instrument, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    note = models.TextField(blank=True, default="")
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "code"], name="survey_code_once_per_site"),
            models.UniqueConstraint(fields=["id", "site"], name="survey_with_site"),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | Q(ended_at__gte=F("started_at")),
                name="survey_ends_after_start",
            ),
        ]

    def __str__(self) -> str:
        return self.code
