"""What a judgement of wear takes beside the readings: the bearing, its good state, the site's ladder."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from findings.conditions.rules.bearings import TemperatureClass
from findings.conditions.rules.good_states import GoodCause
from findings.physics.greasing import Advice, Outcome
from findings.physics.relubrication import BearingType
from findings.plant.models import MeasuringPoint, Site
from findings.readings.models import Reading
from plantcare.api.identifiers import uuid7


class BearingParticulars(models.Model):
    """What is known of the bearing or gear at a point from a moment on; rows are only added, SI inside.

    The newest that isn't void holds whole: what it doesn't say isn't known.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    point = models.ForeignKey(MeasuringPoint, on_delete=models.PROTECT, related_name="+")
    bearing_type = models.CharField(
        max_length=32, blank=True, default="", choices=[(b.value, b.value) for b in BearingType]
    )
    designation = models.CharField(max_length=60, blank=True, default="")
    bore_m = models.FloatField(null=True, blank=True)
    outer_diameter_m = models.FloatField(null=True, blank=True)
    width_m = models.FloatField(null=True, blank=True)
    elements = models.PositiveSmallIntegerField(null=True, blank=True)
    element_diameter_m = models.FloatField(null=True, blank=True)
    pitch_diameter_m = models.FloatField(null=True, blank=True)
    contact_angle_rad = models.FloatField(null=True, blank=True)
    shaft_speed_hz = models.FloatField(null=True, blank=True)
    # False: it runs at the rated speed or stands still, so that speed stands in for one that wasn't noted.
    speed_varies = models.BooleanField(null=True, blank=True)
    grease_speed_limit_hz = models.FloatField(null=True, blank=True)
    gear_teeth = models.PositiveSmallIntegerField(null=True, blank=True)
    vertical_shaft = models.BooleanField(null=True, blank=True)
    temperature_class = models.CharField(
        max_length=16, blank=True, default="", choices=[(t.value, t.value) for t in TemperatureClass]
    )
    note = models.TextField(blank=True, default="")
    source = models.CharField(max_length=300)
    from_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    void_at = models.DateTimeField(null=True, blank=True)
    void_reason = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["point", "from_at"],
                condition=Q(void_at__isnull=True),
                name="bearing_once_per_moment",
            ),
            models.CheckConstraint(condition=~Q(source=""), name="bearing_names_its_source"),
            models.CheckConstraint(
                condition=Q(bore_m__isnull=True)
                | Q(outer_diameter_m__isnull=True)
                | Q(bore_m__gt=0, bore_m__lt=F("outer_diameter_m")),
                name="bearing_bore_inside",
            ),
            models.CheckConstraint(
                condition=Q(shaft_speed_hz__isnull=True) | Q(shaft_speed_hz__gt=0, shaft_speed_hz__lte=5000),
                name="bearing_speed_plausible",
            ),
            models.CheckConstraint(
                condition=Q(void_at__isnull=True, void_reason="")
                | (Q(void_at__isnull=False) & ~Q(void_reason="")),
                name="bearing_void_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"bearing at {self.point_id} from {self.from_at:%Y-%m-%d}"


class GoodState(models.Model):
    """Somebody's word that a point's machine was good from a moment on; rows are only added.

    Readings from then on, until ``until_at`` where it is set, are the baseline until the next word.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    point = models.ForeignKey(MeasuringPoint, on_delete=models.PROTECT, related_name="+")
    cause = models.CharField(max_length=16, choices=[(c.value, c.value) for c in GoodCause])
    from_at = models.DateTimeField()
    until_at = models.DateTimeField(null=True, blank=True)
    reason = models.CharField(max_length=500)
    user = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    actor_name = models.CharField(max_length=200)
    recorded_at = models.DateTimeField()
    void_at = models.DateTimeField(null=True, blank=True)
    void_reason = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["point", "from_at"],
                condition=Q(void_at__isnull=True),
                name="good_state_once_per_moment",
            ),
            models.CheckConstraint(
                condition=Q(until_at__isnull=True) | Q(until_at__gt=F("from_at")),
                name="good_state_until_after_from",
            ),
            models.CheckConstraint(condition=Q(reason__regex=r"\S.{8,}\S"), name="good_state_has_reason"),
            models.CheckConstraint(
                condition=Q(void_at__isnull=True, void_reason="")
                | (Q(void_at__isnull=False) & ~Q(void_reason="")),
                name="good_state_void_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.cause} from {self.from_at:%Y-%m-%d}"


class WearLadder(models.Model):
    """A site's own steps of rise over the baseline, in force until the next ladder; rows are only added."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    # [{"key", "rise_db", "meaning", "source", "one_reading"}], the lowest first.
    steps = models.JSONField()
    from_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    source = models.CharField(max_length=300)
    void_at = models.DateTimeField(null=True, blank=True)
    void_reason = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["site", "from_at"],
                condition=Q(void_at__isnull=True),
                name="wear_ladder_once_per_moment",
            ),
            models.CheckConstraint(condition=~Q(source=""), name="wear_ladder_names_its_source"),
            models.CheckConstraint(
                condition=Q(void_at__isnull=True, void_reason="")
                | (Q(void_at__isnull=False) & ~Q(void_reason="")),
                name="wear_ladder_void_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"wear ladder from {self.from_at:%Y-%m-%d}"


class Greasing(models.Model):
    """Grease that was given by ear: the readings a technician marked, the mass, and how the level answered.

    Rows are only added; a wrong one is voided once, with a reason.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    point = models.ForeignKey(MeasuringPoint, on_delete=models.PROTECT, related_name="+")
    before = models.ForeignKey(Reading, on_delete=models.PROTECT, related_name="+")
    during = models.ForeignKey(Reading, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    after = models.ForeignKey(Reading, on_delete=models.PROTECT, related_name="+")
    grease_kg = models.FloatField()
    # What had gone in when the reading during was taken, and whether the level had begun to rise by then.
    during_grease_kg = models.FloatField(null=True, blank=True)
    rose_during = models.BooleanField(default=False)
    grease_name = models.CharField(max_length=120, blank=True, default="")
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    user = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    actor_name = models.CharField(max_length=200)
    note = models.TextField(blank=True, default="")
    method = models.CharField(max_length=48)
    method_version = models.CharField(max_length=16)
    outcome = models.CharField(max_length=24, choices=[(o.value, o.value) for o in Outcome])
    advice = models.CharField(max_length=24, choices=[(a.value, a.value) for a in Advice])
    change_db = models.FloatField(null=True, blank=True)
    change_low_db = models.FloatField(null=True, blank=True)
    change_high_db = models.FloatField(null=True, blank=True)
    charge_kg = models.FloatField(null=True, blank=True)
    left_kg = models.FloatField(null=True, blank=True)
    reasons = models.JSONField(default=list)
    inputs = models.JSONField()
    void_at = models.DateTimeField(null=True, blank=True)
    void_reason = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["after"], condition=Q(void_at__isnull=True), name="greasing_once_per_reading"
            ),
            models.CheckConstraint(
                condition=Q(grease_kg__gte=0, grease_kg__lte=100)
                & (Q(during_grease_kg__isnull=True) | Q(during_grease_kg__lte=F("grease_kg"))),
                name="greasing_mass_plausible",
            ),
            models.CheckConstraint(
                condition=~Q(before=F("after")) & ~Q(before=F("during")) & ~Q(during=F("after")),
                name="greasing_of_different_readings",
            ),
            models.CheckConstraint(
                condition=Q(void_at__isnull=True, void_reason="")
                | (Q(void_at__isnull=False) & ~Q(void_reason="")),
                name="greasing_void_has_reason",
            ),
        ]
        indexes = [models.Index(fields=["point", "-at"], name="greasing_of_point")]

    def __str__(self) -> str:
        return f"{self.grease_kg * 1000:.1f} g at {self.point_id}"
