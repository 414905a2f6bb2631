"""What waits for a person: escalations to a role, deferrals that want an approval."""

from __future__ import annotations

import uuid
from collections.abc import Collection

from django.db.models import F

from findings.deferrals.models import Deferral
from findings.plant.models import Site
from findings.plant.rules import Right
from findings.register.rules import OPEN_STATUSES
from workorders.clocks.models import Escalation
from workorders.clocks.rules import TAKEN_WITH

MOST = 8


def escalations_to(site: Site, rights: Collection[Right]) -> list[Escalation]:
    """Return the steps up that somebody with these rights may take and nobody did, newest first (one query).

    A step of a finding that has ended, or of an earlier time it was open, asks for nothing any more.
    """
    roles = [role.value for role, right in TAKEN_WITH.items() if right in rights]
    rows = Escalation.objects.filter(
        site=site,
        to_role__in=roles,
        taken_at__isnull=True,
        finding__status__in=[status.value for status in OPEN_STATUSES],
        episode=F("finding__reopened_count"),
    )
    return list(rows.select_related("finding__asset").order_by("-at", "-id")[: MOST + 1])


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
