"""Calibration leaks: levels that were read beside a flow that was measured."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from findings.calibration.rules import AIRBORNE, MEASURED
from findings.detectors.models import Instrument
from findings.physics.gases import GASES
from findings.physics.level_form import LeakFamily
from findings.plant.models import Site
from findings.readings.models import Reading
from plantcare.api.identifiers import uuid7


class CalibrationLeak(models.Model):
    """One leak whose level and flow are both known; rows are only added, a wrong one is voided once.

    Levels in dB as the instrument showed them and brought to 1 m; flow in m³/s at 1 bar and 20 °C, dry.
    ``pressure_ratio`` is absolute pressure before the leak over the air's.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    instrument = models.ForeignKey(Instrument, on_delete=models.PROTECT, related_name="+")
    attachment = models.CharField(max_length=16, choices=[(a.value, a.value) for a in AIRBORNE])
    gas = models.CharField(max_length=24, choices=[(gas, gas) for gas in GASES])
    leak_family = models.CharField(max_length=12, choices=[(f.value, f.value) for f in LeakFamily])
    taken_at = models.DateTimeField()
    level_db = models.FloatField()
    background_db = models.FloatField(null=True, blank=True)
    distance_m = models.FloatField()
    band_centre_hz = models.FloatField(null=True, blank=True)
    air_temperature_k = models.FloatField(null=True, blank=True)
    relative_humidity = models.FloatField(null=True, blank=True)
    air_pressure_pa = models.FloatField()
    normalised_level_db = models.FloatField()
    pressure_ratio = models.FloatField()
    flow_m3_per_s = models.FloatField()
    flow_u_m3_per_s = models.FloatField()
    flow_method = models.CharField(max_length=24, choices=[(m.value, m.value) for m in MEASURED])
    note = models.TextField(blank=True, default="")
    reading = models.ForeignKey(Reading, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    void_at = models.DateTimeField(null=True, blank=True)
    void_reason = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["reading"], name="calibration_leak_once_per_reading"),
            models.CheckConstraint(
                condition=Q(level_db__gte=-40, level_db__lte=200)
                & Q(normalised_level_db__gte=-40, normalised_level_db__lte=200),
                name="calibration_leak_level_plausible",
            ),
            # Nearer to the background the level is an upper bound only, and no fit may rest on it.
            models.CheckConstraint(
                condition=Q(background_db__isnull=True) | Q(level_db__gte=F("background_db") + 3),
                name="calibration_leak_above_background",
            ),
            models.CheckConstraint(
                condition=Q(distance_m__gte=0.1, distance_m__lte=20),
                name="calibration_leak_distance_in_range",
            ),
            models.CheckConstraint(
                condition=Q(pressure_ratio__gt=1, pressure_ratio__lte=400, air_pressure_pa__gt=0),
                name="calibration_leak_under_pressure",
            ),
            models.CheckConstraint(
                condition=Q(flow_m3_per_s__gt=0, flow_m3_per_s__lte=100)
                & Q(flow_u_m3_per_s__gt=0, flow_u_m3_per_s__lte=F("flow_m3_per_s") * 0.3),
                name="calibration_leak_flow_measured",
            ),
            models.CheckConstraint(
                condition=Q(attachment__in=[a.value for a in AIRBORNE]),
                name="calibration_leak_heard_through_air",
            ),
            models.CheckConstraint(
                condition=Q(flow_method__in=[m.value for m in MEASURED]),
                name="calibration_leak_method_direct",
            ),
            models.CheckConstraint(
                condition=Q(air_temperature_k__isnull=True)
                | Q(air_temperature_k__gte=220, air_temperature_k__lte=340),
                name="calibration_leak_air_temperature",
            ),
            models.CheckConstraint(
                condition=Q(relative_humidity__isnull=True)
                | Q(relative_humidity__gte=0, relative_humidity__lte=1),
                name="calibration_leak_humidity_a_share",
            ),
            models.CheckConstraint(
                condition=Q(band_centre_hz__isnull=True)
                | Q(band_centre_hz__gte=1_000, band_centre_hz__lte=200_000),
                name="calibration_leak_band_plausible",
            ),
            models.CheckConstraint(
                condition=Q(void_at__isnull=True, void_reason="")
                | (Q(void_at__isnull=False) & ~Q(void_reason="")),
                name="calibration_leak_void_has_reason",
            ),
        ]
        indexes = [
            models.Index(fields=["instrument", "-taken_at", "-id"], name="calibration_leak_of_instrument"),
        ]

    def __str__(self) -> str:
        return f"{self.normalised_level_db:.1f} dB, {self.flow_m3_per_s} m3/s"
