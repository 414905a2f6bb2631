"""Read deferrals. Whether one is in force is judged at the moment of reading, not by what a job did."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Q, QuerySet

from findings.deferrals.models import Deferral
from findings.register.rules import FindingStatus

STANDING = Q(ended_at__isnull=True, refused_at__isnull=True)


def deferrals() -> QuerySet[Deferral]:
    """Return all deferrals with their people and findings; a door narrows them to the caller's sites."""
    return Deferral.objects.select_related("requested_by", "approved_by", "finding")


def in_force(at: datetime) -> QuerySet[Deferral]:
    """Return the deferrals that let a finding wait at a moment."""
    return deferrals().filter(
        STANDING, approved_at__lte=at, until_at__gt=at, finding__status=FindingStatus.DEFERRED
    )


def lapsed(at: datetime) -> QuerySet[Deferral]:
    """Return the deferrals whose term is over and that still stand, the oldest first."""
    return Deferral.objects.filter(STANDING, until_at__lte=at).order_by("until_at", "id")
