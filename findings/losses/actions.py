"""Write loss segments. Called inside the register's acts, which write the logbook; never alone.

Nothing here edits a segment: an end is set once, and whatever else was wrong is superseded by a copy.
"""

from __future__ import annotations

import uuid
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db.models import Q

from findings.losses import queries
from findings.losses.models import LossSegment
from findings.losses.rules import SegmentEnd, SegmentStart


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """A leak rate in m3/s at 1 bar, 20 °C, dry, with its interval and where it comes from."""

    value: Decimal
    low: Decimal | None = None
    high: Decimal | None = None
    method: str
    method_version: str
    assessment_id: uuid.UUID | None = None

    @classmethod
    def of(cls, segment: LossSegment) -> Rate:
        """Return the rate of a segment."""
        return cls(
            value=segment.leak_rate_m3_per_s,
            low=segment.low_m3_per_s,
            high=segment.high_m3_per_s,
            method=segment.method,
            method_version=segment.method_version,
            assessment_id=segment.assessment_id,
        )


def begin(
    *,
    site_id: uuid.UUID,
    finding_id: uuid.UUID,
    system_id: uuid.UUID,
    started_at: datetime,
    rate: Rate,
    start_reason: SegmentStart,
    recorded_at: datetime,
    ended_at: datetime | None = None,
    end_reason: SegmentEnd | None = None,
) -> LossSegment:
    """Add a segment; it runs on unless an end is given with its reason."""
    return LossSegment.objects.create(
        site_id=site_id,
        finding_id=finding_id,
        system_id=system_id,
        started_at=started_at,
        ended_at=ended_at,
        start_reason=start_reason,
        end_reason=end_reason or "",
        leak_rate_m3_per_s=rate.value,
        low_m3_per_s=rate.low,
        high_m3_per_s=rate.high,
        method=rate.method,
        method_version=rate.method_version,
        assessment_id=rate.assessment_id,
        recorded_at=recorded_at,
        end_recorded_at=recorded_at if ended_at is not None else None,
    )


def end(
    *,
    finding_id: uuid.UUID,
    ended_at: datetime,
    end_reason: SegmentEnd,
    recorded_at: datetime,
    confirmed: bool = False,
) -> LossSegment | None:
    """End the loss at a moment and return the segment that ends there, if there was a loss.

    Segments that begin at or after that moment are superseded. A repair's end is provisional until
    confirmed.
    """
    _void(finding_id, Q(started_at__gte=ended_at), f"the loss ended before: {end_reason}", recorded_at)
    mine = queries.live().filter(finding_id=finding_id)
    covering = (
        mine.filter(Q(ended_at__isnull=True) | Q(ended_at__gte=ended_at)).order_by("-started_at").first()
    )
    if covering is None or (covering.ended_at == ended_at and covering.end_reason == end_reason):
        return covering
    confirmed_at = recorded_at if confirmed else None
    if covering.ended_at is not None:
        return _replace(
            covering,
            f"the loss ended before: {end_reason}",
            recorded_at,
            ended_at=ended_at,
            end_reason=end_reason,
            end_confirmed_at=confirmed_at,
        )
    LossSegment.objects.filter(pk=covering.pk).update(
        ended_at=ended_at, end_reason=end_reason, end_recorded_at=recorded_at, end_confirmed_at=confirmed_at
    )
    covering.refresh_from_db()
    return covering


def change(
    *,
    site_id: uuid.UUID,
    finding_id: uuid.UUID,
    system_id: uuid.UUID,
    changed_at: datetime,
    rate: Rate,
    recorded_at: datetime,
) -> LossSegment:
    """Let the loss go on at another rate from a moment on; the past stays as it was."""
    now_running = queries.running(finding_id)
    if now_running is not None and now_running.leak_rate_m3_per_s == rate.value:
        return now_running
    if now_running is not None:
        end(
            finding_id=finding_id,
            ended_at=changed_at,
            end_reason=SegmentEnd.CHANGED,
            recorded_at=recorded_at,
        )
    return begin(
        site_id=site_id,
        finding_id=finding_id,
        system_id=system_id,
        started_at=changed_at,
        rate=rate,
        start_reason=SegmentStart.CHANGED,
        recorded_at=recorded_at,
    )


def correct(*, assessment_id: uuid.UUID, rate: Rate, recorded_at: datetime) -> int:
    """Supersede every segment that an assessment set by one at the right rate; return how many."""
    wrong = list(queries.live().filter(assessment_id=assessment_id).order_by("started_at"))
    for segment in wrong:
        _replace(
            segment,
            "the estimate was wrong",
            recorded_at,
            start_reason=SegmentStart.CORRECTED,
            **_fields(rate),
        )
    return len(wrong)


def rerate(
    *, finding_id: uuid.UUID, from_at: datetime, rate: Rate, reason: str, recorded_at: datetime
) -> int:
    """Let a finding's loss go at another rate from a past moment on, its ends as they are; return how many.

    A stretch that covers the moment is cut there. Stretches that ended before stay.
    """
    later = Q(ended_at__isnull=True) | Q(ended_at__gt=from_at)
    rows = list(queries.live().filter(later, finding_id=finding_id).order_by("started_at"))
    for segment in rows:
        began_before = segment.started_at < from_at
        start_reason = SegmentStart(segment.start_reason)
        if began_before and start_reason is not SegmentStart.MERGED:
            start_reason = SegmentStart.CHANGED
        _replace(
            segment,
            reason,
            recorded_at,
            **_fields(rate),
            started_at=max(segment.started_at, from_at),
            start_reason=start_reason,
        )
        if began_before:
            head = {"ended_at": from_at, "end_reason": SegmentEnd.CHANGED, "end_confirmed_at": None}
            _copy(segment, recorded_at, **head)
    return len(rows)


def give_back(
    *, finding_id: uuid.UUID, assessment_ids: Collection[uuid.UUID], rate: Rate, recorded_at: datetime
) -> int:
    """Let a finding's stretches at the rates of these assessments go at its own again; return how many."""
    rows = list(queries.live().filter(finding_id=finding_id, assessment_id__in=assessment_ids))
    for segment in rows:
        _replace(segment, "separated", recorded_at, **_fields(rate))
    return len(rows)


def confirm_end(*, finding_id: uuid.UUID, at: datetime) -> None:
    """Confirm the last repair's end: a verification held."""
    ended = queries.last_repaired(finding_id)
    if ended is not None and ended.end_confirmed_at is None:
        LossSegment.objects.filter(pk=ended.pk).update(end_confirmed_at=at)


def resume(
    *,
    finding_id: uuid.UUID,
    from_at: datetime,
    rate: Rate | None,
    start_reason: SegmentStart,
    recorded_at: datetime,
) -> LossSegment | None:
    """Let the loss run on from a repair that did not hold, without a gap.

    Without a rate the one before the repair holds. A finding that never had a loss gets none.
    """
    ended = queries.live().filter(finding_id=finding_id, ended_at__lte=from_at).order_by("-ended_at").first()
    if ended is None:
        return None
    return begin(
        site_id=ended.site_id,
        finding_id=finding_id,
        system_id=ended.system_id,
        started_at=from_at,
        rate=rate or Rate.of(ended),
        start_reason=start_reason,
        recorded_at=recorded_at,
    )


def end_without_saving(*, finding_id: uuid.UUID, end_reason: SegmentEnd, recorded_at: datetime) -> None:
    """Give the last repair's end another reason, so that no saving is claimed for it."""
    ended = queries.last_repaired(finding_id)
    if ended is not None:
        _replace(ended, f"no repair: {end_reason}", recorded_at, end_reason=end_reason, end_confirmed_at=None)


def void_after(*, finding_id: uuid.UUID, reason: str, at: datetime, from_at: datetime | None = None) -> int:
    """Supersede a finding's segments that begin at ``from_at`` or later, all without it; return how many."""
    return _void(finding_id, Q(started_at__gte=from_at) if from_at else Q(), reason, at)


def restore(
    *, finding_id: uuid.UUID, void_reason: str, recorded_at: datetime, start_reason: SegmentStart
) -> int:
    """Add anew what was last superseded for a reason that has gone; return how many."""
    voided = queries.segments().filter(finding_id=finding_id, void_reason=void_reason)
    last = voided.order_by("-void_at").first()
    if last is None:
        return 0
    rows = list(voided.filter(void_at=last.void_at).order_by("started_at"))
    for index, segment in enumerate(rows):
        reason = start_reason if index == 0 else SegmentStart(segment.start_reason)
        _copy(segment, recorded_at, start_reason=reason)
    return len(rows)


def extend_back(*, finding_id: uuid.UUID, from_at: datetime, recorded_at: datetime) -> LossSegment | None:
    """Let the loss of a survivor count from the earlier moment of its duplicate, at the survivor's rate."""
    first = queries.segments_of(finding_id).first()
    if first is None or first.started_at <= from_at:
        return None
    return begin(
        site_id=first.site_id,
        finding_id=finding_id,
        system_id=first.system_id,
        started_at=from_at,
        ended_at=first.started_at,
        end_reason=SegmentEnd.CHANGED,
        rate=Rate.of(first),
        start_reason=SegmentStart.MERGED,
        recorded_at=recorded_at,
    )


def adopt(*, finding_id: uuid.UUID, from_finding_id: uuid.UUID, recorded_at: datetime) -> int:
    """Give a survivor without any loss the chain of its duplicate; return how many segments."""
    rows = list(queries.segments_of(from_finding_id))
    for segment in rows:
        _copy(segment, recorded_at, finding_id=finding_id, start_reason=SegmentStart.MERGED)
    return len(rows)


def void_merged(*, finding_id: uuid.UUID, merged_at: datetime, at: datetime) -> int:
    """Supersede what a merge at that moment added to the survivor; return how many."""
    added = Q(start_reason=SegmentStart.MERGED, recorded_at=merged_at)
    return _void(finding_id, added, "separated", at)


def _void(finding_id: uuid.UUID, which: Q, reason: str, at: datetime) -> int:
    return queries.live().filter(which, finding_id=finding_id).update(void_at=at, void_reason=reason)


def _replace(segment: LossSegment, reason: str, recorded_at: datetime, **fields: Any) -> LossSegment:
    LossSegment.objects.filter(pk=segment.pk).update(void_at=recorded_at, void_reason=reason)
    return _copy(segment, recorded_at, **fields)


def _copy(segment: LossSegment, recorded_at: datetime, **fields: Any) -> LossSegment:
    values: dict[str, Any] = {
        "site_id": segment.site_id,
        "finding_id": segment.finding_id,
        "system_id": segment.system_id,
        "started_at": segment.started_at,
        "ended_at": segment.ended_at,
        "start_reason": segment.start_reason,
        "end_reason": segment.end_reason,
        "end_confirmed_at": segment.end_confirmed_at,
        **_fields(Rate.of(segment)),
        **fields,
    }
    values["recorded_at"] = recorded_at
    values["end_recorded_at"] = recorded_at if values["ended_at"] is not None else None
    return LossSegment.objects.create(**values)


def _fields(rate: Rate) -> dict[str, Any]:
    return {
        "leak_rate_m3_per_s": rate.value,
        "low_m3_per_s": rate.low,
        "high_m3_per_s": rate.high,
        "method": rate.method,
        "method_version": rate.method_version,
        "assessment_id": rate.assessment_id,
    }
