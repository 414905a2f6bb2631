"""People and the keys that speak for them."""

from __future__ import annotations

from django.contrib.auth.models import AbstractUser
from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q

from plantcare.api.identifiers import uuid7


class User(AbstractUser):
    """A person, or the service account of an outside system."""

    class UnitSystem(models.TextChoices):
        """The units in which a person reads figures."""

        METRIC = "metric", "Metric (bar, l/min, °C)"
        US = "us", "US (psi, cfm, °F)"

    public_id = models.UUIDField(default=uuid7, unique=True, editable=False)
    unit_system = models.CharField(max_length=8, choices=UnitSystem, default=UnitSystem.METRIC)
    is_service = models.BooleanField(default=False, help_text="An outside system, not a person.")

    def __str__(self) -> str:
        return self.get_full_name() or self.username


class ApiKey(models.Model):
    """A hashed key with at most the rights named in ``scopes``; the secret is shown once."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=100)
    prefix = models.CharField(max_length=12, unique=True)
    digest = models.BinaryField(max_length=32)
    scopes = ArrayField(models.CharField(max_length=32))
    created_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(expires_at__gt=models.F("created_at")), name="key_expires_after_it_began"
            ),
            models.CheckConstraint(condition=~Q(scopes=[]), name="key_has_a_scope"),
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.prefix}…)"
