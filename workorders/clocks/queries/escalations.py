"""Read who was told of what, and name the sites whose clocks are looked at."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Sequence

from django.db.models import QuerySet

from findings.plant.models import Site
from findings.plant.rules import Role
from workorders.clocks.models import Escalation


def escalations() -> QuerySet[Escalation]:
    """Return all escalations; a door narrows them to the caller's sites."""
    return Escalation.objects.select_related("finding__asset", "taken_by")


def free_steps(told: Escalation, roles: Collection[Role]) -> dict[uuid.UUID, int]:
    """Lock and return the steps of the same climb that nobody took and that ask for one of the roles."""
    rows = Escalation.objects.filter(
        finding_id=told.finding_id,
        episode=told.episode,
        taken_at__isnull=True,
        to_role__in=[role.value for role in roles],
    )
    # In one order, so that two people who take the same finding wait for each other instead of locking up.
    return dict(rows.order_by("step").select_for_update().values_list("pk", "step"))


def sites(site_ids: Sequence[uuid.UUID] | None) -> list[Site]:
    """Return the named sites, or all, always in one order."""
    rows = Site.objects.all() if site_ids is None else Site.objects.filter(pk__in=list(site_ids))
    return list(rows.order_by("pk"))
