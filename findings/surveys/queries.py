"""Read surveys."""

from __future__ import annotations

from django.db.models import QuerySet

from findings.surveys.models import Survey


def surveys() -> QuerySet[Survey]:
    """Return all surveys; a door narrows them to the caller's sites."""
    return Survey.objects.select_related("route", "instrument", "inspector")
