"""Where things are: sites, areas, assets, measuring points; and who works at which site."""

from __future__ import annotations

from django.conf import settings
from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from findings.kinds.base import Medium
from findings.plant.rules import Criticality, Method, Role
from plantcare.api.identifiers import uuid7


class Site(models.Model):
    """One plant. Every other row belongs to exactly one site; its zone rules days and months."""

    class UnitSystem(models.TextChoices):
        """The units of the site's own papers."""

        METRIC = "metric", "Metric"
        US = "us", "US"

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    code = models.CharField(max_length=16, unique=True)
    name = models.CharField(max_length=200)
    time_zone = models.CharField(max_length=64)
    currency = models.CharField(max_length=3)
    unit_system = models.CharField(max_length=8, choices=UnitSystem, default=UnitSystem.METRIC)
    atmosphere_pa = models.FloatField(default=101_325.0)
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(atmosphere_pa__gte=50_000, atmosphere_pa__lte=110_000),
                name="site_atmosphere_plausible",
            ),
            models.CheckConstraint(condition=Q(currency__regex=r"^[A-Z]{3}$"), name="site_currency_iso4217"),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class Membership(models.Model):
    """A person's role at a site."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    role = models.CharField(max_length=16, choices=[(role.value, role.value) for role in Role])
    since_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["site", "user", "role"],
                condition=Q(ended_at__isnull=True),
                name="membership_once_per_role",
            ),
        ]
        indexes = [
            models.Index(fields=["user"], condition=Q(ended_at__isnull=True), name="membership_current")
        ]

    def __str__(self) -> str:
        return f"{self.user} as {self.role} at {self.site_id}"


class Area(models.Model):
    """A named part of a site."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    code = models.CharField(max_length=32)
    name = models.CharField(max_length=200)
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "code"], name="area_code_once_per_site"),
            models.UniqueConstraint(fields=["id", "site"], name="area_with_site"),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class Asset(models.Model):
    """A machine, a pipe run, a panel or a part of one; assets form a tree."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="+")
    parent = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    code = models.CharField(max_length=64)
    name = models.CharField(max_length=200)
    asset_class = models.CharField(max_length=64, blank=True, default="")
    criticality = models.CharField(
        max_length=1, choices=[(c.value, c.value) for c in Criticality], default=Criticality.B
    )
    # [{"days": [0..6], "start": "06:00", "end": "22:00"}]: days from Monday, local time; [] = always.
    running_windows = models.JSONField(default=list, blank=True)
    access_restrictions = ArrayField(models.CharField(max_length=200), default=list, blank=True)
    decommissioned_at = models.DateTimeField(null=True, blank=True)
    decommissioned_reason = models.CharField(max_length=500, blank=True, default="")
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "code"], name="asset_code_once_per_site"),
            models.UniqueConstraint(fields=["id", "site"], name="asset_with_site"),
            models.CheckConstraint(condition=~Q(parent=models.F("id")), name="asset_not_its_own_parent"),
            models.CheckConstraint(
                condition=Q(decommissioned_at__isnull=True) | ~Q(decommissioned_reason=""),
                name="asset_decommissioned_with_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class MeasuringPoint(models.Model):
    """The spot on an asset where the detector is held or pointed, always the same way."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    asset = models.ForeignKey(Asset, on_delete=models.PROTECT, related_name="+")
    code = models.CharField(max_length=64)
    name = models.CharField(max_length=200, blank=True, default="")
    method = models.CharField(
        max_length=16, choices=[(m.value, m.value) for m in Method], default=Method.AIRBORNE
    )
    medium = models.CharField(
        max_length=24, blank=True, default="", choices=[(m.value, m.value) for m in Medium]
    )
    retired_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "code"], name="point_code_once_per_site"),
            models.UniqueConstraint(fields=["id", "site"], name="point_with_site"),
        ]
        indexes = [models.Index(fields=["asset"], name="point_by_asset")]

    def __str__(self) -> str:
        return self.code
