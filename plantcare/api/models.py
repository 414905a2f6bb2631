"""What was already answered to a repeated request."""

from __future__ import annotations

from django.db import models

from plantcare.api.identifiers import uuid7


class IdempotencyKey(models.Model):
    """One sent key of one caller at one address, and the answer that it got."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    principal = models.CharField(max_length=80)
    method = models.CharField(max_length=8)
    path = models.CharField(max_length=400)
    key = models.CharField(max_length=255)
    fingerprint = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField()
    response_body = models.TextField(help_text="The JSON text as it was sent, byte for byte.")
    response_headers = models.JSONField(default=dict)
    created_at = models.DateTimeField()
    expires_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["principal", "method", "path", "key"], name="idempotency_key_once"
            ),
            models.CheckConstraint(
                condition=models.Q(status__gte=200, status__lt=300),
                name="idempotency_key_keeps_success",
            ),
        ]
        indexes = [models.Index(fields=["expires_at"], name="idempotency_key_expiry")]

    def __str__(self) -> str:
        return f"{self.method} {self.path} {self.key} of {self.principal}"
