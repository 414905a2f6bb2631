"""What the logbook holds that nobody was told of yet, with all that the words of it need."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet

from findings.deferrals.models import Deferral
from findings.logbook.models import Entry, Head
from findings.plant.models import Site
from findings.plant.queries import members_of
from findings.plant.rules import Role
from findings.register.models import Finding
from workorders.clocks.models import Escalation
from workorders.inbox.models import NewsMark
from workorders.inbox.rules import DEFERRAL_ENDING_ACT, TOLD, People
from workorders.orders.models import OrderFinding, WorkOrder

CONDITION_JUDGED = "finding.condition_judged"


def locked_mark(site: Site) -> NewsMark | None:
    """Return how far a site's logbook was told, locked; None while another run holds it."""
    NewsMark.objects.bulk_create([NewsMark(site=site)], ignore_conflicts=True)
    return NewsMark.objects.select_for_update(skip_locked=True).filter(pk=site.pk).first()


def untold(mark: NewsMark, limit: int) -> tuple[list[Entry], int]:
    """Return the next entries of a site that people hear of, and how far the logbook is read with them.

    A site's own sequence is given under the lock of its chain's head until the act commits, so that no
    lower number ever appears behind a higher one; by any other mark entries would be missed.
    """
    end = Head.objects.filter(pk=mark.pk).values_list("sequence", flat=True).first() or 0
    rows = Entry.objects.filter(
        site_id=mark.pk, sequence__gt=mark.sequence, sequence__lte=end, act__in=list(TOLD)
    )
    found = list(rows.order_by("sequence")[:limit])
    return found, found[-1].sequence if len(found) == limit else end


def people_at(site_id: uuid.UUID) -> People:
    """Return who works at a site now; an outside system reads the logbook and has no inbox."""
    held: dict[Role, set[int]] = defaultdict(set)
    rows = members_of(site_id).filter(user__is_service=False)
    for user_id, role in rows.values_list("user_id", "role"):
        held[Role(role)].add(user_id)
    return People({role: frozenset(ids) for role, ids in held.items()})


@dataclass(frozen=True, slots=True)
class Subject:
    """What an entry is about."""

    entry: Entry
    finding: Finding | None = None
    order: WorkOrder | None = None
    escalation: Escalation | None = None
    deferral: Deferral | None = None
    month_on: date | None = None
    worse: str = ""


def subjects(entries: Sequence[Entry]) -> list[Subject]:
    """Return what each entry is about (five queries, however many entries)."""
    deferrals = _by_id(Deferral.objects, [e.subject_id for e in entries if e.subject_kind == "deferral"])
    escalations = _by_id(Escalation.objects, [_named(e, "escalation_id") for e in entries])
    orders = _by_id(
        WorkOrder.objects.select_related("asset"),
        [e.subject_id for e in entries if e.subject_kind == "work_order"],
    )
    named = {entry.pk: _finding_id(entry) for entry in entries}
    found = _by_id(Finding.objects.select_related("asset"), list(named.values()))
    tied = _orders_of([pk for pk in named.values() if pk is not None])
    worse = _worse([entry for entry in entries if entry.act == CONDITION_JUDGED])
    return [
        Subject(
            entry=entry,
            finding=found.get(named[entry.pk]),
            order=orders.get(entry.subject_id) or tied.get(named[entry.pk]),
            escalation=escalations.get(_named(entry, "escalation_id")),
            deferral=deferrals.get(entry.subject_id),
            worse=worse.get(entry.pk, ""),
            month_on=date.fromisoformat(f"{entry.detail['month']}-01") if entry.detail.get("month") else None,
        )
        for entry in entries
    ]


def deferrals_ending(site_id: uuid.UUID, at: datetime, ahead: timedelta) -> QuerySet[Deferral]:
    """Return the deferrals in force that end soon and of which the logbook does not say so yet."""
    said = Entry.objects.filter(subject_id=OuterRef("pk"), act=DEFERRAL_ENDING_ACT)
    rows = Deferral.objects.filter(
        site_id=site_id,
        approved_at__isnull=False,
        refused_at__isnull=True,
        ended_at__isnull=True,
        until_at__gt=at,
        until_at__lte=at + ahead,
    )
    return rows.filter(~Exists(said)).order_by("until_at", "id")


def _by_id(rows: Any, ids: Sequence[Any]) -> dict[Any, Any]:
    wanted = {pk for pk in ids if pk is not None}
    return {row.pk: row for row in rows.filter(pk__in=wanted)} if wanted else {}


def _worse(entries: Sequence[Entry]) -> dict[uuid.UUID, str]:
    """Say of each judged condition that stands whether it is worse than the one that stood before it."""
    if not entries:
        return {}
    rows = Entry.objects.filter(subject_id__in={entry.subject_id for entry in entries}, act=CONDITION_JUDGED)
    stood: dict[uuid.UUID, int] = {}
    found: dict[uuid.UUID, str] = {}
    for entry in rows.order_by("sequence"):
        severity = entry.detail.get("severity")
        if not entry.detail.get("stands") or severity is None:
            continue
        before = stood.get(entry.subject_id)
        if before is not None and severity > before:
            found[entry.pk] = f"its condition went from {before} to {severity} of 5."
        stood[entry.subject_id] = severity
    return found


def _orders_of(finding_ids: Sequence[uuid.UUID]) -> dict[Any, WorkOrder]:
    rows = OrderFinding.objects.filter(finding_id__in=finding_ids, ended_at__isnull=True)
    return {row.finding_id: row.order for row in rows.select_related("order")}


def _finding_id(entry: Entry) -> uuid.UUID | None:
    return entry.subject_id if entry.subject_kind == "finding" else _named(entry, "finding_id")


def _named(entry: Entry, member: str) -> uuid.UUID | None:
    value = entry.detail.get(member)
    return uuid.UUID(value) if isinstance(value, str) else None
