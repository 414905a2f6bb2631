"""Read recordings with what was heard in them.

Rooms above learn of new analyses here: :func:`unjudged` gives those that nobody has drawn conclusions from,
and ``actions.mark_judged`` ends that, inside the transaction of whatever was concluded.
"""

from __future__ import annotations

import uuid
from collections.abc import Collection
from datetime import datetime

from django.db.models import Exists, OuterRef, QuerySet, Subquery
from django.db.models.functions import JSONObject

from findings.readings.models import Reading
from findings.recordings.models import AnalysisAttempt, Recording, RecordingAnalysis
from findings.recordings.rules import ANALYSIS_VERSION

_TOLD = ("method_version", "state", "result", "reasons", "picture_sha256", "picture_words")


def readings() -> QuerySet[Reading]:
    """Return all readings, for a door that names one."""
    return Reading.objects.all()


def recordings() -> QuerySet[Recording]:
    """Return all recordings, void ones too, with ``analysis`` (a dictionary or None) and ``analysed_at``.

    The newest analysis counts. A door narrows them to the caller's sites.
    """
    newest = RecordingAnalysis.objects.filter(recording=OuterRef("pk")).order_by("-ended_at", "-id")
    told = newest.values(told=JSONObject(**{name: name for name in _TOLD}))
    return Recording.objects.annotate(
        analysis=Subquery(told[:1]), analysed_at=Subquery(newest.values("ended_at")[:1])
    )


def of_readings(reading_ids: Collection[uuid.UUID]) -> QuerySet[Recording]:
    """Return the recordings of some readings, void ones too."""
    return recordings().filter(reading_id__in=reading_ids)


def waiting() -> QuerySet[Recording]:
    """Return the recordings that the present version of the method has not heard, the oldest first."""
    heard = RecordingAnalysis.objects.filter(recording=OuterRef("pk"), method_version=ANALYSIS_VERSION)
    rows = Recording.objects.filter(~Exists(heard), void_at__isnull=True)
    return rows.select_related("reading__point", "site").order_by("uploaded_at", "id")


def attempts_at(recording_id: uuid.UUID) -> int:
    """Return how often the present version has begun to hear a recording."""
    return AnalysisAttempt.objects.filter(recording_id=recording_id, method_version=ANALYSIS_VERSION).count()


def analyses() -> QuerySet[RecordingAnalysis]:
    """Return all analyses of recordings that aren't void, with recording, reading and point."""
    rows = RecordingAnalysis.objects.filter(recording__void_at__isnull=True)
    return rows.select_related("recording__reading__point__asset")


def unjudged() -> QuerySet[RecordingAnalysis]:
    """Return the analyses by the present version that no room above has judged, the oldest first."""
    rows = analyses().filter(judged_at__isnull=True, method_version=ANALYSIS_VERSION)
    return rows.order_by("ended_at", "id")


def analysed_since(moment: datetime) -> QuerySet[RecordingAnalysis]:
    """Return the analyses that ended at a moment or later, the oldest first.

    For looking back only: transactions commit out of order, so what follows new ones asks :func:`unjudged`.
    """
    return analyses().filter(ended_at__gte=moment).order_by("ended_at", "id")


def is_named(sha256: str) -> bool:
    """Tell whether any recording or picture is the file of this hash."""
    return (
        Recording.objects.filter(sha256=sha256).exists()
        or RecordingAnalysis.objects.filter(picture_sha256=sha256).exists()
    )
