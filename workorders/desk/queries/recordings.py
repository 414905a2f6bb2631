"""The recordings of a finding's readings, for its page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from findings.recordings import queries
from findings.recordings.models import Recording
from findings.register.models import Evidence
from workorders.desk.rules.sounds import SoundRow, sound_rows

MOST_SHOWN = 20


@dataclass(frozen=True, slots=True)
class RecordingTold:
    """A recording as the page shows it: where it stands, the reasons, what was heard, and the cautions."""

    recording: Recording
    state: str
    reasons: Sequence[str]
    words: str
    rows: Sequence[SoundRow]
    cautions: Sequence[str]


def recordings_told(evidence: Sequence[Evidence]) -> list[RecordingTold]:
    """Return the newest 20 recordings of some evidence's readings, in one query; void ones are left out."""
    rows = queries.of_readings([one.reading_id for one in evidence]).filter(void_at__isnull=True)
    newest = rows.select_related("reading").order_by("-reading__taken_at", "-uploaded_at", "-id")
    return [_told(recording) for recording in newest[:MOST_SHOWN]]


def _told(recording: Recording) -> RecordingTold:
    analysis = getattr(recording, "analysis", None) or {}
    result = analysis.get("result", {})
    return RecordingTold(
        recording=recording,
        state=recording.state,
        reasons=[reason["text"] for reason in analysis.get("reasons", ())],
        words=analysis.get("picture_words", ""),
        rows=sound_rows(result),
        cautions=(result.get("discharge") or {}).get("cautions", ()),
    )
