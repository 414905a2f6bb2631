"""Recordings and what was heard in them. Rows are only added; the files are stored under their hash."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from findings.plant.models import Site
from findings.readings.models import Reading
from findings.recordings.rules import LONGEST_FILE_NAME, RecordingState, state_of
from findings.sound.header import Form
from findings.sound.told import GainLocked, SoundBand
from plantcare.api.identifiers import uuid7

_HASH = r"^[0-9a-f]{64}$"
ANALYSED = (RecordingState.DONE, RecordingState.REFUSED)


class Recording(models.Model):
    """A file of sound that belongs to a reading; what its header says, and what the sender told.

    A wrong one is voided once, with a reason. ``file_name`` is the sender's, to be shown only.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    reading = models.ForeignKey(Reading, on_delete=models.PROTECT, related_name="+")
    sha256 = models.CharField(max_length=64)
    file_name = models.CharField(max_length=LONGEST_FILE_NAME)
    bytes = models.PositiveBigIntegerField()
    container = models.CharField(max_length=8, choices=[(form.value, form.value) for form in Form])
    sample_rate_hz = models.PositiveIntegerField()
    channels = models.PositiveSmallIntegerField()
    bits = models.PositiveSmallIntegerField()
    seconds = models.FloatField()
    channel = models.PositiveSmallIntegerField(default=1)
    gain_locked = models.CharField(
        max_length=8,
        choices=[(word.value, word.value) for word in GainLocked],
        default=GainLocked.UNKNOWN.value,
    )
    sound_band = models.CharField(
        max_length=12,
        choices=[(word.value, word.value) for word in SoundBand],
        default=SoundBand.UNKNOWN.value,
    )
    uploaded_at = models.DateTimeField()
    uploaded_by = models.CharField(max_length=200)
    void_at = models.DateTimeField(null=True, blank=True)
    void_reason = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        constraints = [
            # Told otherwise (another channel, say), the same file may come again once the first is void.
            models.UniqueConstraint(
                fields=["reading", "sha256"],
                condition=Q(void_at__isnull=True),
                name="recording_once_per_reading",
            ),
            models.UniqueConstraint(fields=["id", "site"], name="recording_with_site"),
            models.CheckConstraint(condition=Q(sha256__regex=_HASH), name="recording_hash_is_one"),
            models.CheckConstraint(
                condition=Q(bytes__gt=0, seconds__gt=0, sample_rate_hz__gt=0, bits__gt=0),
                name="recording_holds_sound",
            ),
            models.CheckConstraint(
                condition=Q(channel__gte=1, channel__lte=models.F("channels")),
                name="recording_channel_is_there",
            ),
            models.CheckConstraint(
                condition=Q(container__in=[form.value for form in Form])
                & Q(gain_locked__in=[word.value for word in GainLocked])
                & Q(sound_band__in=[word.value for word in SoundBand]),
                name="recording_words_known",
            ),
            models.CheckConstraint(
                condition=Q(void_at__isnull=True, void_reason="")
                | (Q(void_at__isnull=False) & ~Q(void_reason="")),
                name="recording_void_has_reason",
            ),
        ]
        indexes = [
            models.Index(fields=["site", "-uploaded_at", "-id"], name="recording_of_site"),
            models.Index(fields=["reading"], name="recording_of_reading"),
            models.Index(fields=["sha256"], name="recording_by_hash"),
        ]

    def __str__(self) -> str:
        return f"{self.container} of {self.seconds:.1f} s"

    @property
    def state(self) -> RecordingState:
        """Return where it stands; the newest analysis is there where ``queries.recordings`` read the row."""
        told = getattr(self, "analysis", None) or {}
        return state_of(told.get("state"), is_void=self.void_at is not None)


class AnalysisAttempt(models.Model):
    """A try that was begun. One without an analysis after it ended without a word."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    recording = models.ForeignKey(Recording, on_delete=models.PROTECT, related_name="+")
    method_version = models.CharField(max_length=20)
    number = models.PositiveSmallIntegerField()
    started_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["recording", "method_version", "number"], name="analysis_attempt_numbered"
            ),
        ]

    def __str__(self) -> str:
        return f"attempt {self.number}"


class RecordingAnalysis(models.Model):
    """What one version of the method heard in a recording, or why it can't be heard.

    ``judged_at`` is set once, by a room above that has drawn its conclusions from it.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    recording = models.ForeignKey(Recording, on_delete=models.PROTECT, related_name="+")
    method_version = models.CharField(max_length=20)
    state = models.CharField(max_length=8, choices=[(state.value, state.value) for state in ANALYSED])
    result = models.JSONField(default=dict, blank=True)
    # [{"code": "...", "text": "..."}]: why something isn't determined, or the whole is refused.
    reasons = models.JSONField(default=list, blank=True)
    picture_sha256 = models.CharField(max_length=64, blank=True, default="")
    picture_words = models.TextField(blank=True, default="")
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField()
    judged_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["recording", "method_version"], name="recording_analysed_once_per_version"
            ),
            models.UniqueConstraint(fields=["id", "site"], name="recording_analysis_with_site"),
            models.CheckConstraint(
                condition=Q(state__in=[state.value for state in ANALYSED]),
                name="recording_analysis_state_known",
            ),
            models.CheckConstraint(
                condition=Q(state=RecordingState.DONE.value) | ~Q(reasons=[]),
                name="recording_refused_with_reasons",
            ),
            models.CheckConstraint(
                condition=Q(picture_sha256="") | Q(picture_sha256__regex=_HASH),
                name="recording_picture_hash_is_one",
            ),
        ]
        indexes = [
            models.Index(
                fields=["ended_at", "id"], condition=Q(judged_at__isnull=True), name="analysis_not_judged"
            ),
            models.Index(fields=["picture_sha256"], name="analysis_by_picture"),
        ]

    def __str__(self) -> str:
        return f"{self.state} by version {self.method_version}"
