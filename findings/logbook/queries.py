"""Read the logbook, and check that its chain is whole."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from findings.logbook.models import Entry, Head
from findings.logbook.rules import GENESIS, chained


def hashed_part(entry: Entry) -> Mapping[str, Any]:
    """Return what an entry's hash covers: everything but the hashes and the relay mark."""
    return {
        "id": entry.id,
        "site": entry.site_id,
        "sequence": entry.sequence,
        "act": entry.act,
        "subject_kind": entry.subject_kind,
        "subject_id": entry.subject_id,
        "subject_version": entry.subject_version,
        "at": entry.at,
        "recorded_at": entry.recorded_at,
        "user": entry.user_id,
        "key": entry.key_id,
        "actor_name": entry.actor_name,
        "request_id": entry.request_id,
        "reason": entry.reason,
        "detail": entry.detail,
    }


def entries() -> QuerySet[Entry]:
    """Return all entries; a door narrows them to the caller's sites."""
    return Entry.objects.all()


def history_of(subject_id: uuid.UUID) -> QuerySet[Entry]:
    """Return the acts on one thing, oldest first."""
    return Entry.objects.filter(subject_id=subject_id).order_by("sequence")


@dataclass(frozen=True, slots=True)
class ChainCheck:
    """Whether a site's chain is whole, how long it is, and where it first breaks."""

    whole: bool
    length: int
    broken_at: int | None = None
    why: str = ""


def check_chain(site_id: uuid.UUID) -> ChainCheck:
    """Walk a site's chain from its start and compare its end with the head."""
    previous, expected = GENESIS, 0
    for entry in Entry.objects.filter(site_id=site_id).order_by("sequence").iterator(chunk_size=2000):
        expected += 1
        if entry.sequence != expected:
            return ChainCheck(False, expected - 1, expected, "an entry is missing")
        if bytes(entry.previous_hash) != previous:
            return ChainCheck(False, expected, expected, "the link to the entry before is broken")
        previous = chained(previous, hashed_part(entry))
        if bytes(entry.hash) != previous:
            return ChainCheck(False, expected, expected, "the entry was altered")
    head = Head.objects.filter(pk=site_id).first()
    if head is None:
        return ChainCheck(
            expected == 0, expected, None if expected == 0 else 1, "" if expected == 0 else "no head"
        )
    if head.sequence != expected or bytes(head.hash) != (previous if expected else bytes(head.hash)):
        return ChainCheck(False, expected, expected + 1, "the end of the chain is cut")
    return ChainCheck(True, expected)
