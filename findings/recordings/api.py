"""Doors of recordings: send one, look at what was heard, play it, see its picture, void a wrong one."""

from __future__ import annotations

from functools import partial
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.urls import reverse
from rest_framework.parsers import MultiPartParser
from rest_framework.response import Response

from findings.plant.rules import Right
from findings.recordings import actions, files, queries
from findings.recordings.rules import (
    LONGEST_S,
    MEDIA,
    MOST_BYTES,
    PICTURE_ENDING,
    PICTURE_MEDIA,
    RecordingState,
)
from findings.sound.header import Form
from findings.sound.told import GainLocked, SoundBand, Told
from plantcare.api import filtering, shapes
from plantcare.api.file_doors import FileDoor, StoredFile
from plantcare.api.problems import NotFound
from plantcare.api.views import ActDoor, DetailDoor, Door, ListDoor

FORMS = [(form.value, form.value) for form in Form]
GAIN_WORDS = [(word.value, word.value) for word in GainLocked]
BAND_WORDS = [(word.value, word.value) for word in SoundBand]
STATES = [(state.value, state.value) for state in RecordingState]
_MB = 1024 * 1024


class RecordingReasonShape(shapes.Shape):
    """Why something isn't determined, or the whole is refused."""

    code = shapes.TextField()
    text = shapes.TextField()


class RecordingAnalysisShape(shapes.Shape):
    """What was heard: level, peaks, rhythm; at electrical equipment the class of a discharge."""

    method_version = shapes.TextField()
    result = shapes.JsonObjectField(
        help_text="Figures with their intervals or refusals, the envelope's lines in Hz, discharge figures, "
        "versions; empty where the recording is refused."
    )
    reasons = RecordingReasonShape(many=True)
    picture_words = shapes.TextField(help_text="What the picture shows; empty without one.")


class RecordingShape(shapes.Shape):
    """A recording: what its header says, what its sender told, and how its analysis stands."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    reading_id = shapes.UuidField()
    sha256 = shapes.TextField(help_text="Of the file; the same file sent again is this recording.")
    file_name = shapes.TextField(help_text="As sent; shown only.")
    bytes = shapes.IntegerField()
    container = shapes.ChoiceField(choices=FORMS)
    sample_rate_hz = shapes.IntegerField()
    channels = shapes.IntegerField()
    bits = shapes.IntegerField()
    seconds = shapes.FloatField()
    channel = shapes.IntegerField(help_text="The channel that is heard, counted from 1.")
    gain_locked = shapes.ChoiceField(choices=GAIN_WORDS)
    sound_band = shapes.ChoiceField(choices=BAND_WORDS)
    uploaded_at = shapes.AwareDateTimeField()
    uploaded_by = shapes.TextField()
    state = shapes.ChoiceField(choices=STATES)
    analysed_at = shapes.AwareDateTimeField(allow_null=True)
    analysis = RecordingAnalysisShape(allow_null=True)
    void_at = shapes.AwareDateTimeField(allow_null=True)
    void_reason = shapes.TextField()


class RecordingInput(shapes.InputShape):
    """A file of sound and how it was recorded (multipart/form-data)."""

    file = shapes.FileField(
        max_bytes=MOST_BYTES,
        help_text=f"WAV (8, 16, 24, 32 bit or float) or FLAC, at most {MOST_BYTES // _MB} MB and "
        f"{LONGEST_S:.0f} s, 8,000 samples a second or more; sound compressed with loss is refused.",
    )
    channel = shapes.IntegerField(
        min_value=1, max_value=8, default=1, help_text="The channel to hear, counted from 1."
    )
    gain_locked = shapes.ChoiceField(
        choices=GAIN_WORDS,
        default=GainLocked.UNKNOWN.value,
        help_text="Whether the instrument kept its gain while it recorded.",
    )
    sound_band = shapes.ChoiceField(
        choices=BAND_WORDS,
        default=SoundBand.UNKNOWN.value,
        help_text="Ultrasound brought down to hearing (heterodyned), or the ultrasound itself (full_band).",
    )


class RecordingFilters(filtering.StrictFilterSet):
    """Narrow the recordings."""

    site_id = filtering.UuidFilter()
    reading_id = filtering.UuidFilter()
    void = filtering.BooleanFilter(field_name="void_at", lookup_expr="isnull", exclude=True)


class Recordings(ListDoor):
    """Recordings of all readings, with what was heard in each."""

    noun, room = "recording", "recordings"
    needs: ClassVar = {"GET": Right.VIEW}
    shape, filterset_class = RecordingShape, RecordingFilters
    orderings: ClassVar = {"-uploaded_at": ("-uploaded_at",), "uploaded_at": ("uploaded_at",)}

    def rows(self) -> QuerySet[Any]:
        """Return all recordings."""
        return queries.recordings()


class ReadingRecordings(Door):
    """Send a recording of a reading: 201 when it is new, 200 when the same file was kept before.

    The header is read and checked before anything is stored; the sound is heard afterwards by the worker.
    """

    operation, room = "recording_create", "recordings"
    needs: ClassVar = {"POST": Right.RECORD}
    parser_classes = (MultiPartParser,)
    shape, input_shape = RecordingShape, RecordingInput
    creates = True
    replayable = False  # the file's own hash does what the key would do, and for ever

    def post(self, *_: Any, **__: Any) -> Response:
        """Keep the file."""
        reading = self.one(queries.readings(), self.kwargs["id"])
        data = self.take()
        upload = data.pop("file")
        told = Told(
            channel=data["channel"],
            gain_locked=GainLocked(data["gain_locked"]),
            sound_band=SoundBand(data["sound_band"]),
        )
        kept = actions.keep_recording(
            actor=self.actor,
            at=self.at,
            reading_id=reading.pk,
            file=upload,
            file_name=upload.name,
            told=told,
        )
        response = self.answer(kept.recording, status=201 if kept.created else 200)
        response.headers["Location"] = reverse("recording", kwargs={"id": kept.recording.pk})
        return response


class Recording(DetailDoor):
    """One recording with what was heard in it."""

    noun, room = "recording", "recordings"
    needs: ClassVar = {"GET": Right.VIEW}
    shape = RecordingShape
    conditional = False

    def rows(self) -> QuerySet[Any]:
        """Return all recordings."""
        return queries.recordings()


class RecordingSound(FileDoor):
    """The file as it was sent, to play or to save; a part of it by Range."""

    operation, room = "recording_sound_read", "recordings"
    needs: ClassVar = {"GET": Right.VIEW}
    media = tuple(MEDIA.values())

    def rows(self) -> QuerySet[Any]:
        """Return all recordings."""
        return queries.recordings()

    def stored(self, obj: Any) -> StoredFile:
        """Return the file under a name of our own."""
        return StoredFile(
            partial(files.opened, obj.sha256, obj.container),
            obj.sha256,
            MEDIA[obj.container],
            f"recording-{obj.pk}.{obj.container}",
        )


class RecordingPicture(FileDoor):
    """The picture of what was heard, drawn here (SVG): course, frequencies over time, spectrum, rhythm."""

    operation, room = "recording_picture_read", "recordings"
    needs: ClassVar = {"GET": Right.VIEW}
    media = (PICTURE_MEDIA,)

    def rows(self) -> QuerySet[Any]:
        """Return all recordings."""
        return queries.recordings()

    def stored(self, obj: Any) -> StoredFile:
        """Return the picture of the newest analysis. Raises NotFound while there is none."""
        sha256 = (obj.analysis or {}).get("picture_sha256")
        if not sha256:
            raise NotFound
        return StoredFile(
            partial(files.opened, sha256, PICTURE_ENDING),
            sha256,
            PICTURE_MEDIA,
            f"recording-{obj.pk}.{PICTURE_ENDING}",
        )


class RecordingVoidInput(shapes.InputShape):
    """Why it is wrong."""

    reason = shapes.TextField(max_length=300)


class RecordingVoid(ActDoor):
    """Say that a recording is wrong: of another point, say. It is kept, and nothing more is heard in it."""

    operation, room = "recording_void", "recordings"
    needs: ClassVar = {"POST": Right.ASSESS}
    shape, input_shape = RecordingShape, RecordingVoidInput
    if_match = "ignored"

    def rows(self) -> QuerySet[Any]:
        """Return all recordings."""
        return queries.recordings()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Void it."""
        return actions.void_recording(actor=self.actor, at=self.at, recording_id=obj.pk, **data)
