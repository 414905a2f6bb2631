"""Intake: saved column mappings, and the files that came in, with what became of each row."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from findings.intake.rules import FileKind, Strictness
from findings.plant.models import Site
from plantcare.api.identifiers import uuid7


class Mapping(models.Model):
    """Which column of a site's own sheet means what, in which unit."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=100)
    kind = models.CharField(max_length=16, choices=[(k.value, k.value) for k in FileKind])
    # As findings.intake.rules.mapping_from_json reads it.
    settings = models.JSONField()
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["site", "name"], name="mapping_name_once_per_site")]

    def __str__(self) -> str:
        return self.name


class Import(models.Model):
    """One real run of one file; the same file with the same mapping is never taken twice."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=16, choices=[(k.value, k.value) for k in FileKind])
    file_name = models.CharField(max_length=255)
    digest = models.BinaryField(max_length=32)
    mapping_digest = models.BinaryField(max_length=32)
    strictness = models.CharField(max_length=16, choices=[(s.value, s.value) for s in Strictness])
    user = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    counts = models.JSONField(default=dict)
    report = models.JSONField(default=list)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["site", "digest", "mapping_digest", "strictness"], name="import_once_per_file"
            ),
            models.CheckConstraint(condition=~Q(file_name=""), name="import_names_its_file"),
        ]

    def __str__(self) -> str:
        return f"{self.file_name} {self.at:%Y-%m-%d}"
