"""The logbook: every act, once, in order, chained by hash; it is also the source of outgoing events."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from plantcare.api.identifiers import uuid7


class Entry(models.Model):
    """One act. Rows are only added; ``relayed_at`` alone may be set later."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey("findings.Site", on_delete=models.PROTECT, related_name="+")
    sequence = models.PositiveBigIntegerField()
    act = models.CharField(max_length=64)
    subject_kind = models.CharField(max_length=32)
    subject_id = models.UUIDField()
    subject_version = models.PositiveIntegerField(null=True, blank=True)
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    user = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    key_id = models.UUIDField(null=True)
    actor_name = models.CharField(max_length=200)
    request_id = models.CharField(max_length=64, blank=True, default="")
    reason = models.TextField(blank=True, default="")
    detail = models.JSONField(default=dict)
    previous_hash = models.BinaryField(max_length=32)
    hash = models.BinaryField(max_length=32)
    relayed_at = models.DateTimeField(null=True)

    class Meta:
        verbose_name_plural = "entries"
        constraints = [
            models.UniqueConstraint(fields=["site", "sequence"], name="entry_sequence_once_per_site")
        ]
        indexes = [
            models.Index(fields=["subject_id", "sequence"], name="entry_by_subject"),
            models.Index(
                fields=["site", "sequence"], condition=Q(relayed_at__isnull=True), name="entry_not_relayed"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.sequence} {self.act}"


class Head(models.Model):
    """The end of a site's chain; its row lock makes the chain one line."""

    site = models.OneToOneField("findings.Site", primary_key=True, on_delete=models.PROTECT, related_name="+")
    sequence = models.PositiveBigIntegerField(default=0)
    hash = models.BinaryField(max_length=32)

    def __str__(self) -> str:
        return f"{self.site_id} at {self.sequence}"
