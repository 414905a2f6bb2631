"""Rooms above say that they have drawn their conclusions from an analysis."""

from __future__ import annotations

import uuid
from datetime import datetime

from findings.recordings.models import RecordingAnalysis


def mark_judged(*, at: datetime, analysis_id: uuid.UUID) -> bool:
    """Mark an analysis as judged, inside the act that judged it; False where it was marked before.

    No entry of the logbook is written: what was concluded writes its own.
    """
    rows = RecordingAnalysis.objects.filter(pk=analysis_id, judged_at__isnull=True)
    return bool(rows.update(judged_at=at))
