"""Closed months. A closed month is frozen with the digest of its inputs; later facts make corrections."""

from __future__ import annotations

from django.db import models

from findings.plant.models import Site
from plantcare.api.identifiers import uuid7


class ClosedMonth(models.Model):
    """One site's month as it was closed. Rows are only added."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    # The first day of the month in the site's calendar.
    month_on = models.DateField()
    closed_at = models.DateTimeField()
    currency = models.CharField(max_length=3)
    accrued_cost = models.DecimalField(max_digits=18, decimal_places=2)
    avoided_verified = models.DecimalField(max_digits=18, decimal_places=2)
    avoided_claimed = models.DecimalField(max_digits=18, decimal_places=2)
    figures = models.JSONField()
    inputs_digest = models.BinaryField(max_length=32)
    actor_name = models.CharField(max_length=200)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "month_on"], name="month_closed_once"),
            models.UniqueConstraint(fields=["id", "site"], name="month_with_site"),
            models.CheckConstraint(condition=models.Q(month_on__day=1), name="month_on_first_day"),
        ]

    def __str__(self) -> str:
        return f"{self.month_on:%Y-%m}"


class Correction(models.Model):
    """A dated difference between a closed month as closed and as known later. Rows are only added."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    month = models.ForeignKey(ClosedMonth, on_delete=models.PROTECT, related_name="+")
    booked_in_on = models.DateField()
    at = models.DateTimeField()
    accrued_cost = models.DecimalField(max_digits=18, decimal_places=2)
    avoided_verified = models.DecimalField(max_digits=18, decimal_places=2)
    avoided_claimed = models.DecimalField(max_digits=18, decimal_places=2)
    detail = models.JSONField(default=dict)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["month", "booked_in_on"], name="correction_once_per_booking_month"
            )
        ]

    def __str__(self) -> str:
        return f"{self.month_id} booked in {self.booked_in_on:%Y-%m}"
