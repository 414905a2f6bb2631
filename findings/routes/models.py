"""Inspection routes with ordered stops, and requests for a visit."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from findings.plant.models import MeasuringPoint, Site
from findings.routes.rules import VisitReason, VisitState
from plantcare.api.identifiers import uuid7


class Route(models.Model):
    """A walk that is done again and again."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    code = models.CharField(max_length=32)
    name = models.CharField(max_length=200)
    interval_days = models.PositiveSmallIntegerField(null=True, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "code"], name="route_code_once_per_site"),
            models.UniqueConstraint(fields=["id", "site"], name="route_with_site"),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class Stop(models.Model):
    """One measuring point at its place in a route."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    route = models.ForeignKey(Route, on_delete=models.CASCADE, related_name="+")
    position = models.PositiveSmallIntegerField()
    point = models.ForeignKey(MeasuringPoint, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["route", "position"], name="stop_position_once", deferrable=models.Deferrable.DEFERRED
            ),
            models.UniqueConstraint(fields=["route", "point"], name="stop_point_once"),
        ]

    def __str__(self) -> str:
        return f"{self.position}: {self.point_id}"


class VisitRequest(models.Model):
    """Somebody, or a rule, wants this point visited by a day."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    point = models.ForeignKey(MeasuringPoint, on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=24, choices=[(r.value, r.value) for r in VisitReason])
    # What asked for the visit, so that it is asked for only once: a finding, an order, a rule and its date.
    origin = models.CharField(max_length=120)
    note = models.CharField(max_length=300, blank=True, default="")
    due_on = models.DateField()
    state = models.CharField(
        max_length=12, choices=[(s.value, s.value) for s in VisitState], default=VisitState.WANTED
    )
    reading_id = models.UUIDField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["site", "origin"], name="visit_once_per_origin")]
        indexes = [models.Index(fields=["site", "due_on"], condition=Q(state="wanted"), name="visit_wanted")]

    def __str__(self) -> str:
        return f"{self.point_id} by {self.due_on}"
