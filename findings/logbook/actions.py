"""Write the logbook. Called inside the transaction of the act that it records, never alone."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db import connection, transaction
from django.utils.timezone import now

from findings.logbook.models import Entry, Head
from findings.logbook.queries import hashed_part
from findings.logbook.rules import GENESIS, chained, plain
from plantcare.api.actor import Actor


class OutsideTransaction(RuntimeError):
    """An act and its entry must stand or fall together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """What was done to which thing. ``act`` is "noun.verb", e.g. ``finding.opened``."""

    act: str
    subject_kind: str
    subject_id: uuid.UUID
    subject_version: int | None = None
    reason: str = ""
    detail: Mapping[str, Any] = field(default_factory=dict)


def write(
    *,
    site_id: uuid.UUID,
    actor: Actor,
    at: datetime,
    act: str,
    subject_kind: str,
    subject_id: uuid.UUID,
    subject_version: int | None = None,
    reason: str = "",
    detail: Mapping[str, Any] | None = None,
) -> Entry:
    """Add one entry to the site's chain. ``at`` is when the act was true. Raises OutsideTransaction."""
    one = Act(
        act=act,
        subject_kind=subject_kind,
        subject_id=subject_id,
        subject_version=subject_version,
        reason=reason,
        detail=detail or {},
    )
    return write_many(site_id=site_id, actor=actor, at=at, acts=[one])[0]


def write_many(*, site_id: uuid.UUID, actor: Actor, at: datetime, acts: Iterable[Act]) -> list[Entry]:
    """Add many entries with one lock and one insert, in the order given. Raises OutsideTransaction."""
    if not connection.in_atomic_block:
        message = "The logbook is written inside the act's own transaction."
        raise OutsideTransaction(message)
    acts = list(acts)
    if not acts:
        return []
    with transaction.atomic():
        head = _locked_head(site_id)
        # Read after the lock, so that recorded_at never runs backwards along the chain of one machine.
        recorded_at = now()
        sequence, previous = head.sequence, bytes(head.hash)
        entries = []
        for act in acts:
            sequence += 1
            entry = Entry(
                site_id=site_id,
                sequence=sequence,
                act=act.act,
                subject_kind=act.subject_kind,
                subject_id=act.subject_id,
                subject_version=act.subject_version,
                at=at,
                recorded_at=recorded_at,
                user_id=actor.user_id,
                key_id=actor.key_id,
                actor_name=actor.name,
                request_id=actor.request_id,
                reason=act.reason,
                detail=plain(act.detail),
                previous_hash=previous,
            )
            previous = chained(previous, hashed_part(entry))
            entry.hash = previous
            entries.append(entry)
        Entry.objects.bulk_create(entries, batch_size=1000)
        Head.objects.filter(pk=head.pk).update(sequence=sequence, hash=previous)
    return entries


def _locked_head(site_id: uuid.UUID) -> Head:
    head = Head.objects.select_for_update().filter(pk=site_id).first()
    if head is None:
        Head.objects.bulk_create([Head(site_id=site_id, sequence=0, hash=GENESIS)], ignore_conflicts=True)
        head = Head.objects.select_for_update().get(pk=site_id)
    return head
