"""Readings: what the detector said, as it was said. Rows are only added."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from findings.detectors.models import Instrument
from findings.kinds.base import Kind, Medium
from findings.physics.level_form import LeakFamily
from findings.plant.models import MeasuringPoint, Site
from findings.readings.rules import Attachment, DirectMethod, Edge, Greasing
from findings.surveys.models import Survey
from plantcare.api.identifiers import uuid7


class Reading(models.Model):
    """One observation at one measuring point. SI inside; pressures are gauge against the site's atmosphere.

    ``client_id`` is the sender's own key for ever: the same reading sent twice is one reading.
    ``kind`` is empty where nothing was found: a quiet point is a fact too.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    survey = models.ForeignKey(Survey, on_delete=models.PROTECT, related_name="+")
    point = models.ForeignKey(MeasuringPoint, on_delete=models.PROTECT, related_name="+")
    instrument = models.ForeignKey(
        Instrument, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    client_id = models.CharField(max_length=100)
    fingerprint = models.BinaryField(max_length=32)
    taken_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    kind = models.CharField(max_length=24, blank=True, default="", choices=[(k.value, k.value) for k in Kind])
    medium = models.CharField(
        max_length=24, blank=True, default="", choices=[(m.value, m.value) for m in Medium]
    )
    level_db = models.FloatField(null=True, blank=True)
    background_db = models.FloatField(null=True, blank=True)
    distance_m = models.FloatField(null=True, blank=True)
    pressure_gauge_pa = models.FloatField(null=True, blank=True)
    temperature_k = models.FloatField(null=True, blank=True)
    hole_diameter_m = models.FloatField(null=True, blank=True)
    edge = models.CharField(max_length=12, blank=True, default="", choices=[(e.value, e.value) for e in Edge])
    flow_m3_per_s = models.FloatField(null=True, blank=True)
    flow_u_m3_per_s = models.FloatField(null=True, blank=True)
    flow_method = models.CharField(
        max_length=24, blank=True, default="", choices=[(m.value, m.value) for m in DirectMethod]
    )
    severity = models.PositiveSmallIntegerField(null=True, blank=True)
    pattern = models.CharField(max_length=24, blank=True, default="")
    note = models.TextField(blank=True, default="")
    attachment = models.CharField(
        max_length=16, blank=True, default="", choices=[(a.value, a.value) for a in Attachment]
    )
    leak_family = models.CharField(
        max_length=12, blank=True, default="", choices=[(f.value, f.value) for f in LeakFamily]
    )
    # The hall's air that the sound came through; temperature_k is the gas's before the leak.
    air_temperature_k = models.FloatField(null=True, blank=True)
    relative_humidity = models.FloatField(null=True, blank=True)
    band_centre_hz = models.FloatField(null=True, blank=True)
    # What touched and how the machine ran: levels of a contact probe compare with their like only.
    probe = models.CharField(max_length=60, blank=True, default="")
    shaft_speed_hz = models.FloatField(null=True, blank=True)
    load_share = models.FloatField(null=True, blank=True)
    greasing = models.CharField(
        max_length=8, blank=True, default="", choices=[(g.value, g.value) for g in Greasing]
    )
    # [{"code": "...", "text": "..."}]: doubts that do not refuse the reading.
    warnings = models.JSONField(default=list, blank=True)
    # The values in the sender's own units, as they came.
    as_sent = models.JSONField(default=dict, blank=True)
    corrects = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "client_id"], name="reading_client_id_once_per_site"),
            models.UniqueConstraint(fields=["id", "site"], name="reading_with_site"),
            models.UniqueConstraint(fields=["corrects"], name="reading_corrected_once"),
            models.CheckConstraint(
                condition=Q(severity__isnull=True) | Q(severity__gte=1, severity__lte=5),
                name="reading_severity_1_to_5",
            ),
            models.CheckConstraint(
                condition=Q(level_db__isnull=True) | Q(level_db__gte=-40, level_db__lte=200),
                name="reading_level_plausible",
            ),
            models.CheckConstraint(
                condition=Q(distance_m__isnull=True) | Q(distance_m__gt=0, distance_m__lte=200),
                name="reading_distance_plausible",
            ),
            models.CheckConstraint(
                condition=Q(flow_m3_per_s__isnull=True) | Q(flow_m3_per_s__gte=0),
                name="reading_flow_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(flow_m3_per_s__isnull=True) | ~Q(flow_method=""),
                name="reading_flow_names_its_method",
            ),
            models.CheckConstraint(
                condition=Q(hole_diameter_m__isnull=True) | Q(hole_diameter_m__gt=0),
                name="reading_hole_positive",
            ),
            models.CheckConstraint(
                condition=Q(air_temperature_k__isnull=True)
                | Q(air_temperature_k__gte=220, air_temperature_k__lte=340),
                name="reading_air_temperature_plausible",
            ),
            models.CheckConstraint(
                condition=Q(relative_humidity__isnull=True)
                | Q(relative_humidity__gte=0, relative_humidity__lte=1),
                name="reading_humidity_a_share",
            ),
            models.CheckConstraint(
                condition=Q(band_centre_hz__isnull=True)
                | Q(band_centre_hz__gte=1_000, band_centre_hz__lte=200_000),
                name="reading_band_plausible",
            ),
            models.CheckConstraint(
                condition=Q(shaft_speed_hz__isnull=True)
                | Q(shaft_speed_hz__gte=0, shaft_speed_hz__lte=5_000),
                name="reading_shaft_speed_plausible",
            ),
            models.CheckConstraint(
                condition=Q(load_share__isnull=True) | Q(load_share__gte=0, load_share__lte=1.5),
                name="reading_load_plausible",
            ),
        ]
        indexes = [
            models.Index(fields=["point", "taken_at"], name="reading_by_point"),
            models.Index(fields=["survey", "taken_at"], name="reading_by_survey"),
            models.Index(fields=["site", "-taken_at", "-id"], name="reading_newest"),
        ]

    def __str__(self) -> str:
        return f"{self.point_id} {self.taken_at:%Y-%m-%d %H:%M}"
