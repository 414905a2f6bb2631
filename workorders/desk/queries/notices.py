"""What waits for a person: escalations to a role, deferrals that want an approval."""

from __future__ import annotations

import uuid
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, F, QuerySet, Window

from findings.deferrals.models import Deferral
from findings.plant.models import Site
from findings.plant.rules import Right
from findings.register.models import Finding
from findings.register.rules import OPEN_STATUSES
from workorders.clocks.models import Escalation
from workorders.clocks.rules import TAKEN_WITH

MOST = 8
MOST_STEPS = 5


@dataclass(frozen=True, slots=True)
class Asked:
    """The findings that most urgently want somebody, by their highest step, and how many more do."""

    steps: list[Escalation]
    more: int


def steps_asked(site_id: uuid.UUID, rights: Collection[Right]) -> QuerySet[Escalation]:
    """Return the steps up that somebody with these rights may take and nobody did.

    A step of a finding that has ended, or of an earlier time it was open, asks for nothing any more.
    """
    return Escalation.objects.filter(
        site_id=site_id,
        to_role__in=[role.value for role, right in TAKEN_WITH.items() if right in rights],
        taken_at__isnull=True,
        finding__status__in=[status.value for status in OPEN_STATUSES],
        episode=F("finding__reopened_count"),
    )


def asked_of(site: Site, rights: Collection[Right]) -> Asked:
    """Return each finding's highest step once, safety first, then the furthest and longest (one query)."""
    asked = steps_asked(site.pk, rights)
    highest = asked.order_by("finding_id", "-step").distinct("finding_id").values("pk")
    rows: Any = Escalation.objects.filter(pk__in=highest).select_related("finding__asset")
    urgent = rows.annotate(asked=Window(Count("pk"))).order_by("-finding__is_safety", "-step", "at", "id")
    steps = list(urgent[:MOST_STEPS])
    return Asked(steps, steps[0].asked - len(steps) if steps else 0)


def step_of(finding: Finding, rights: Collection[Right]) -> Escalation | None:
    """Return the highest step of one finding that somebody with these rights may take, or None."""
    return steps_asked(finding.site_id, rights).filter(finding=finding).order_by("-step").first()


def deferrals_waiting(site: Site) -> list[Deferral]:
    """Return the requests to let a finding wait that nobody answered, oldest first (one query)."""
    rows = Deferral.objects.filter(
        site=site, approved_at__isnull=True, refused_at__isnull=True, ended_at__isnull=True
    )
    asked = rows.select_related("finding__asset", "requested_by")
    return list(asked.order_by("-is_safety", "requested_at", "id")[: MOST + 1])


def deferral_seen(deferral_id: uuid.UUID, site_ids: Collection[uuid.UUID]) -> Deferral | None:
    """Return one request of these sites, or None."""
    rows = Deferral.objects.select_related("finding__site")
    return rows.filter(pk=deferral_id, site_id__in=list(site_ids)).first()


def escalation_seen(escalation_id: uuid.UUID, site_ids: Collection[uuid.UUID]) -> Escalation | None:
    """Return one step up at these sites, or None."""
    return Escalation.objects.filter(pk=escalation_id, site_id__in=list(site_ids)).first()
