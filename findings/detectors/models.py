"""Instruments and the dates until which their calibration holds."""

from __future__ import annotations

from django.db import models

from findings.plant.models import Site
from plantcare.api.identifiers import uuid7


class Instrument(models.Model):
    """An ultrasound detector or a flow meter of the site."""

    class Scale(models.TextChoices):
        """What the decibels of the display refer to."""

        ABSOLUTE = "absolute", "dB re 20 µPa"
        RELATIVE = "relative", "instrument dB"

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    code = models.CharField(max_length=64)
    name = models.CharField(max_length=200)
    serial = models.CharField(max_length=100, blank=True, default="")
    scale = models.CharField(max_length=12, choices=Scale, default=Scale.RELATIVE)
    calibration_due_on = models.DateField(null=True, blank=True)
    calibration_certificate = models.CharField(max_length=200, blank=True, default="")
    retired_on = models.DateField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "code"], name="instrument_code_once_per_site"),
            models.UniqueConstraint(fields=["id", "site"], name="instrument_with_site"),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"
