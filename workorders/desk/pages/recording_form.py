"""The form by which a recording is sent to one of a finding's readings."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from typing import Any

from django import forms

from findings.recordings.rules import LONGEST_S, MEDIA, MOST_BYTES
from findings.sound.told import GainLocked, SoundBand, Told
from plantcare.api.problems import Refusal
from workorders.desk.rules.figures import level, time_of

MB = 1024 * 1024
HELP = (
    f"Plain WAV or FLAC, at least 5 seconds, better 10 or more; at most {LONGEST_S:.0f} seconds and "
    f"{MOST_BYTES // MB} MB. Compressed sound (MP3 and the like) is refused: it alters peaks and rhythm."
)
_GAIN = {GainLocked.YES: "yes", GainLocked.NO: "no", GainLocked.UNKNOWN: "not known"}
_BAND = {
    SoundBand.HETERODYNED: "brought down to hearing (heterodyned)",
    SoundBand.FULL_BAND: "the ultrasound itself (full band)",
    SoundBand.UNKNOWN: "not known",
}


class RecordingForm(forms.Form):
    """A file of sound, the reading it belongs to, and what the file can't say of itself."""

    reading = forms.ChoiceField(label="Reading")
    file = forms.FileField(
        label="File",
        max_length=255,
        help_text=HELP,
        widget=forms.FileInput(attrs={"accept": ",".join([*MEDIA.values(), ".wav", ".flac"])}),
    )
    gain_locked = forms.ChoiceField(
        label="Gain locked", choices=[(word.value, said) for word, said in _GAIN.items()], initial="unknown"
    )
    sound_band = forms.ChoiceField(
        label="What it holds", choices=[(word.value, said) for word, said in _BAND.items()], initial="unknown"
    )
    channel = forms.IntegerField(label="Channel", min_value=1, max_value=8, initial=1)

    def __init__(
        self, data: Any = None, sent: Any = None, *, zone: str, evidence: Sequence[Any] = ()
    ) -> None:
        super().__init__(data, sent, label_suffix="", auto_id="recording-%s")
        field: Any = self.fields["reading"]
        field.choices = [
            (str(one.reading_id), f"{time_of(one.reading.taken_at, zone)}, {level(one.reading.level_db)}")
            for one in evidence[::-1]
        ]

    @property
    def reading_id(self) -> uuid.UUID:
        """Return the reading that was chosen."""
        return uuid.UUID(self.cleaned_data["reading"])

    @property
    def told(self) -> Told:
        """Return what was told of the recording."""
        given = self.cleaned_data
        return Told(
            channel=given["channel"],
            gain_locked=GainLocked(given["gain_locked"]),
            sound_band=SoundBand(given["sound_band"]),
        )

    def refuse(self, refusal: Refusal) -> None:
        """Say why the file wasn't kept."""
        named = {error.pointer.removeprefix("/"): error.detail for error in refusal.errors}
        if "channel" in named:
            self.add_error("channel", named["channel"])
        else:
            self.add_error("file", refusal.detail)
