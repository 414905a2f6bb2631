"""Secret addresses at which a person's calendar reads the work."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from findings.plant.models import Site
from plantcare.api.identifiers import uuid7
from workorders.feeds.rules import FeedScope


class CalendarFeed(models.Model):
    """One address, of which only the digest is kept. Rows are only added; it is revoked once."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    scope = models.CharField(max_length=8, choices=[(s.value, s.value) for s in FeedScope])
    name = models.CharField(max_length=100)
    prefix = models.CharField(max_length=12, unique=True)
    digest = models.BinaryField(max_length=32)
    created_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(revoked_at__isnull=True) | Q(revoked_at__gte=F("created_at")),
                name="calendar_feed_revoked_after_made",
            )
        ]
        indexes = [models.Index(fields=["user", "site", "-created_at"], name="calendar_feed_by_person")]

    def __str__(self) -> str:
        return f"{self.name} ({self.prefix}…)"
