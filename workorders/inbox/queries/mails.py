"""Which notices are to be mailed, and which mails are to be sent."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Q, QuerySet
from django.db.models.functions import Now

from findings.plant.models import Membership
from workorders.inbox.models import Mail, Notice
from workorders.inbox.rules import MailState


def to_mail(site_id: uuid.UUID, at: datetime, limit: int) -> list[Notice]:
    """Lock and return the notices of a site that may be mailed now and that nobody has seen meanwhile."""
    rows = Notice.objects.filter(
        site_id=site_id, mail__isnull=True, seen_at__isnull=True, mail_from_at__lte=at
    )
    held = rows.select_related("news__finding", "news__order", "user", "site")
    return list(
        held.select_for_update(of=("self",), skip_locked=True).order_by("user_id", "at", "id")[:limit]
    )


def mails() -> QuerySet[Mail]:
    """Return all mails with their people; a door narrows them to the caller's sites."""
    return Mail.objects.select_related("user", "site")


def to_send(at: datetime, site_ids: Sequence[uuid.UUID] | None) -> QuerySet[Mail]:
    """Return the mails to try now that nobody has in hand, danger first."""
    rows = Mail.objects.filter(state=MailState.WAITING, next_try_at__lte=at)
    free = rows.filter(Q(leased_until__isnull=True) | Q(leased_until__lt=Now()))
    if site_ids is not None:
        free = free.filter(site_id__in=list(site_ids))
    return free.order_by("-is_safety", "next_try_at", "id")


def lease_until(length: timedelta) -> Any:
    """Return a moment so far ahead by the database's own clock."""
    return Now() + length


def works_there(mail: Mail) -> bool:
    """Tell whether the person of a mail still works at its site."""
    held = Membership.objects.filter(user_id=mail.user_id, site_id=mail.site_id, ended_at__isnull=True)
    return held.filter(user__is_active=True).exists()


def next_waiting(site_ids: Sequence[uuid.UUID] | None) -> dict[str, int]:
    """Return how many mails wait and how many were parked."""
    rows = Mail.objects.all() if site_ids is None else Mail.objects.filter(site_id__in=list(site_ids))
    return {state.value: rows.filter(state=state).count() for state in (MailState.WAITING, MailState.PARKED)}
