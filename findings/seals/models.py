"""Seams, walks along them with their places, and what each walk came to. Rows are only added."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from findings.detectors.models import Instrument
from findings.physics.seal_test import Verdict
from findings.physics.tone_source import Criterion, Strength
from findings.plant.models import MeasuringPoint, Site
from findings.readings.models import Reading
from findings.seals.rules import SeamForm
from findings.surveys.models import Survey
from plantcare.api.identifiers import uuid7

LEVEL_LOW_DB, LEVEL_HIGH_DB = -40, 200


class Seam(models.Model):
    """How the seam at a measuring point is tested from a moment on; a newer row of the point replaces it.

    Lengths in m. ``outline`` is {}, a frame ({"width_m", "height_m", "start_corner", "turn"}) or a path
    ({"corners_m": [[x, y], ...]}), seen by the walker. ``criterion`` says what a tenth of the
    open reading is.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    point = models.ForeignKey(MeasuringPoint, on_delete=models.PROTECT, related_name="+")
    from_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    shape = models.CharField(max_length=8, choices=[(s.value, s.value) for s in SeamForm])
    length_m = models.FloatField()
    outline = models.JSONField(default=dict, blank=True)
    source_description = models.CharField(max_length=200)
    source_band_centre_hz = models.FloatField(null=True, blank=True)
    source_level_db = models.FloatField(null=True, blank=True)
    distance_m = models.FloatField()
    criterion = models.CharField(
        max_length=20, choices=[(c.value, c.value) for c in Criterion], default=Criterion.AMPLITUDE
    )
    note = models.TextField(blank=True, default="")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["id", "site"], name="seam_with_site"),
            models.UniqueConstraint(fields=["point", "from_at"], name="seam_once_per_moment"),
            models.CheckConstraint(
                condition=Q(length_m__gt=0, length_m__lte=200), name="seam_length_plausible"
            ),
            models.CheckConstraint(
                condition=Q(distance_m__gte=0.01, distance_m__lte=5), name="seam_distance_plausible"
            ),
            models.CheckConstraint(condition=~Q(source_description=""), name="seam_names_its_source"),
            models.CheckConstraint(
                condition=Q(source_band_centre_hz__isnull=True)
                | Q(source_band_centre_hz__gte=1_000, source_band_centre_hz__lte=200_000),
                name="seam_band_plausible",
            ),
        ]
        indexes = [models.Index(fields=["site", "-from_at", "-id"], name="seam_newest")]

    def __str__(self) -> str:
        return f"{self.shape} of {self.length_m:g} m"


class SeamWalk(models.Model):
    """A walk along a seam, begun with the check of its source; its places and its result are rows beside it.

    ``nothing_can_pass`` marks a walk begun although its source was too weak. A walk that was wrong is named
    by the new one that corrects it.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    seam = models.ForeignKey(Seam, on_delete=models.PROTECT, related_name="+")
    survey = models.ForeignKey(Survey, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    instrument = models.ForeignKey(
        Instrument, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    client_id = models.CharField(max_length=100)
    fingerprint = models.BinaryField(max_length=32)
    begun_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    open_level_db = models.FloatField()
    background_db = models.FloatField()
    distance_m = models.FloatField()
    strength = models.CharField(max_length=16, choices=[(s.value, s.value) for s in Strength])
    nothing_can_pass = models.BooleanField(default=False)
    source_reasons = models.JSONField(default=list, blank=True)
    note = models.TextField(blank=True, default="")
    corrects = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    actor_name = models.CharField(max_length=200)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["id", "site"], name="seam_walk_with_site"),
            models.UniqueConstraint(fields=["site", "client_id"], name="seam_walk_client_id_once_per_site"),
            models.UniqueConstraint(fields=["corrects"], name="seam_walk_corrected_once"),
            models.CheckConstraint(
                condition=Q(
                    open_level_db__gte=LEVEL_LOW_DB,
                    open_level_db__lte=LEVEL_HIGH_DB,
                    background_db__gte=LEVEL_LOW_DB,
                    background_db__lte=LEVEL_HIGH_DB,
                ),
                name="seam_walk_levels_plausible",
            ),
            models.CheckConstraint(
                condition=Q(distance_m__gte=0.01, distance_m__lte=5), name="seam_walk_distance_plausible"
            ),
            # A source that is too weak is never walked with unseen.
            models.CheckConstraint(
                condition=Q(nothing_can_pass=True, strength="too_weak")
                | Q(nothing_can_pass=False, strength__in=["just_enough", "strong"]),
                name="seam_walk_says_when_nothing_can_pass",
            ),
        ]
        indexes = [
            models.Index(fields=["seam", "-begun_at"], name="seam_walk_of_seam"),
            models.Index(fields=["site", "-begun_at", "-id"], name="seam_walk_newest"),
        ]

    def __str__(self) -> str:
        return f"walk of {self.begun_at:%Y-%m-%d %H:%M}"


class SeamPlace(models.Model):
    """A peak-held level at a place along the seam, in m from its start; none comes to a finished walk."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    walk = models.ForeignKey(SeamWalk, on_delete=models.PROTECT, related_name="+")
    client_id = models.CharField(max_length=100)
    fingerprint = models.BinaryField(max_length=32)
    position_m = models.FloatField()
    level_db = models.FloatField()
    background_db = models.FloatField(null=True, blank=True)
    note = models.CharField(max_length=500, blank=True, default="")
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["walk", "client_id"], name="seam_place_client_id_once_per_walk"),
            models.CheckConstraint(condition=Q(position_m__gte=0), name="seam_place_not_before_start"),
            models.CheckConstraint(
                condition=Q(level_db__gte=LEVEL_LOW_DB, level_db__lte=LEVEL_HIGH_DB)
                & (
                    Q(background_db__isnull=True)
                    | Q(background_db__gte=LEVEL_LOW_DB, background_db__lte=LEVEL_HIGH_DB)
                ),
                name="seam_place_levels_plausible",
            ),
        ]
        indexes = [models.Index(fields=["walk", "position_m"], name="seam_place_along_walk")]

    def __str__(self) -> str:
        return f"{self.position_m:g} m: {self.level_db:g} dB"


class SeamResult(models.Model):
    """What a finished walk came to, once: by which version of which method, from which inputs.

    ``inputs`` compute the same again; ``places``, ``leaks`` and ``gaps`` are what was said then.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    walk = models.ForeignKey(SeamWalk, on_delete=models.PROTECT, related_name="+")
    reading = models.ForeignKey(Reading, on_delete=models.PROTECT, related_name="+")
    verdict = models.CharField(max_length=16, choices=[(v.value, v.value) for v in Verdict])
    method = models.CharField(max_length=32)
    method_version = models.CharField(max_length=16)
    smallest_drop_db = models.FloatField()
    smallest_drop_u_db = models.FloatField()
    limit_level_db = models.FloatField()
    intact_level_db = models.FloatField()
    excess_rule_used = models.BooleanField()
    places = models.JSONField()
    leaks = models.JSONField()
    gaps = models.JSONField()
    inputs = models.JSONField()
    reasons = models.JSONField()
    finished_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    user = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    actor_name = models.CharField(max_length=200)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["walk"], name="seam_walk_finished_once"),
            models.UniqueConstraint(fields=["reading"], name="seam_result_once_per_reading"),
        ]

    def __str__(self) -> str:
        return str(self.verdict)
