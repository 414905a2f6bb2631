"""Sending a recording: what is taken, what is refused with which word, and what is left behind."""

from __future__ import annotations

import struct
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from findings.logbook.models import Entry
from findings.recordings import files
from findings.recordings.models import Recording
from findings.recordings.rules import MOST_PER_READING
from tests.makers import make_reading, make_recording, make_site
from tests.people import Api, api_as
from tests.sound.files import data_chunk, fmt_chunk, plain, riff, written
from tests.sounds import wav

pytestmark = pytest.mark.django_db


@pytest.fixture
def folder(settings: Any, tmp_path: Path) -> Path:
    """Keep recordings in a folder of this test alone."""
    stores = {**settings.STORAGES}
    stores["recordings"] = {**stores["recordings"], "OPTIONS": {"location": str(tmp_path / "kept")}}
    settings.STORAGES = stores
    return tmp_path / "kept"


def sent(api: Api, reading: Any, content: bytes, name: str = "walk.wav", **told: Any) -> Any:
    return api.upload(
        f"/readings/{reading.pk}/recordings", {"file": SimpleUploadedFile(name, content), **told}
    )


def stored(folder: Path) -> list[str]:
    return [path.name for path in folder.rglob("*") if path.is_file()]


def flac_claiming(frames: int, rate: int = 48_000) -> bytes:
    """Return a tiny FLAC file whose header claims so many samples (RFC 9639, section 8.2)."""
    whole = bytearray(written([0.0] * 100_000, rate=rate, form="FLAC"))
    packed = int.from_bytes(whole[18:26], "big")
    whole[18:26] = ((packed >> 36 << 36) | frames).to_bytes(8, "big")
    return bytes(whole)


class TestTaking:
    def test_a_wav_file_is_kept_with_what_its_header_says(self, folder: Path) -> None:
        reading = make_reading()
        answer = sent(api_as("inspector", reading.site), reading, wav(6.0, channels=2), channel=2)

        assert answer.status_code == 201
        told = {name: answer.json()[name] for name in ("seconds", "channels", "channel", "bits", "state")}
        assert told == {"seconds": 6.0, "channels": 2, "channel": 2, "bits": 16, "state": "waiting"}

    def test_the_file_stands_under_its_hash_not_under_the_senders_name(self, folder: Path) -> None:
        reading = make_reading()
        answer = sent(api_as("inspector", reading.site), reading, wav(), "../../etc/cron.d/walk.wav")

        assert stored(folder) == [f"{answer.json()['sha256']}.wav"]
        assert answer.json()["file_name"] == "walk.wav"

    @pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24", "PCM_32", "FLOAT"])
    def test_every_usual_width_is_taken(self, folder: Path, subtype: str) -> None:
        reading = make_reading()
        content = written([0.1, -0.1] * 40_000, subtype=subtype)

        assert sent(api_as("technician", reading.site), reading, content).status_code == 201

    def test_flac_is_told_by_its_content(self, folder: Path) -> None:
        reading = make_reading()
        content = written([0.1, -0.1] * 40_000, form="FLAC")
        answer = sent(api_as("inspector", reading.site), reading, content, "walk.wav")

        assert answer.json()["container"] == "flac"

    def test_the_same_file_again_is_the_same_recording(self, folder: Path) -> None:
        reading, content = make_reading(), wav()
        api = api_as("inspector", reading.site)
        first, again = sent(api, reading, content), sent(api, reading, content, "other name.wav")

        assert (first.status_code, again.status_code) == (201, 200)
        assert again.json()["id"] == first.json()["id"]
        assert Entry.objects.filter(act="recording.added").count() == 1

    def test_the_same_file_told_otherwise_is_a_conflict(self, folder: Path) -> None:
        reading, content = make_reading(), wav()
        api = api_as("inspector", reading.site)
        sent(api, reading, content)
        answer = sent(api, reading, content, gain_locked="yes")

        assert (answer.status_code, answer.json()["code"]) == (409, "recording_told_otherwise")

    def test_a_void_one_that_comes_late_stays_void(self, folder: Path) -> None:
        reading, content = make_reading(), wav()
        api = api_as("manager", reading.site)
        made = sent(api, reading, content).json()
        api.post(f"/recordings/{made['id']}/void", {"reason": "Another machine"})
        answer = sent(api, reading, content)

        assert (answer.status_code, answer.json()["state"]) == (200, "void")

    def test_a_void_one_may_come_again_told_otherwise(self, folder: Path) -> None:
        reading, content = make_reading(), wav()
        api = api_as("manager", reading.site)
        made = sent(api, reading, content).json()
        api.post(f"/recordings/{made['id']}/void", {"reason": "The gain was locked"})

        assert sent(api, reading, content, gain_locked="yes").status_code == 201

    def test_a_reading_has_few_recordings(self, folder: Path) -> None:
        reading = make_reading()
        for _ in range(MOST_PER_READING):
            make_recording(reading)
        answer = sent(api_as("inspector", reading.site), reading, wav())

        assert (answer.status_code, answer.json()["code"]) == (409, "too_many_recordings")


HOSTILE = [
    ("nothing at all", b"", 400, "invalid"),
    ("a few bytes", b"RIFF", 415, "recording_not_a_recording"),
    ("a page", b"<html><script>alert(1)</script></html>", 415, "recording_not_a_recording"),
    ("a drawing", b"<svg xmlns='http://www.w3.org/2000/svg'/>", 415, "recording_not_a_recording"),
    ("lossy sound", b"ID3\x04" + bytes(100), 415, "recording_lossy"),
    ("a header cut off", plain(frames=64_000)[:20], 422, "recording_truncated"),
    ("samples cut off", plain(frames=64_000)[:5_000], 422, "recording_truncated"),
    ("a length that lies", riff(fmt_chunk(), data_chunk(bytes(100), size=10**9)), 422, "recording_truncated"),
    ("too low a rate", plain(frames=64_000, rate=4_000), 422, "recording_sample_rate"),
    ("too high a rate", plain(frames=64_000, rate=2_000_000), 422, "recording_sample_rate"),
    ("too many channels", plain(frames=64_000, channels=64), 422, "recording_channels"),
    ("no samples", plain(frames=0), 422, "recording_empty"),
    ("too long", plain(frames=301 * 8_000), 422, "recording_too_long"),
    ("a bomb of FLAC", flac_claiming(2**36 - 1), 422, "recording_too_long"),
]


class TestHostileFiles:
    @pytest.mark.parametrize(
        ("content", "status", "code"), [row[1:] for row in HOSTILE], ids=[row[0] for row in HOSTILE]
    )
    def test_is_refused_with_a_stable_word_and_leaves_nothing(
        self, folder: Path, content: bytes, status: int, code: str
    ) -> None:
        reading = make_reading()
        answer = sent(api_as("inspector", reading.site), reading, content)

        assert (answer.status_code, answer.json()["code"]) == (status, code)
        assert (Recording.objects.count(), stored(folder)) == (0, [])

    def test_a_channel_that_is_not_there_is_refused_at_its_field(self, folder: Path) -> None:
        reading = make_reading()
        answer = sent(api_as("inspector", reading.site), reading, wav(), channel=2)

        assert answer.status_code == 400
        assert answer.json()["errors"][0]["pointer"] == "/channel"

    def test_a_file_beyond_the_limit_is_too_large(self, folder: Path, monkeypatch: Any) -> None:
        monkeypatch.setattr("plantcare.api.fields.FileField.to_internal_value", lambda _, data: data)
        reading = make_reading()
        content = struct.pack("<4sI4s", b"RIFF", 36, b"WAVE") + bytes(64 * 1024 * 1024)
        answer = sent(api_as("inspector", reading.site), reading, content)

        assert (answer.status_code, answer.json()["code"]) == (413, "recording_too_large")

    def test_a_body_beyond_every_limit_is_not_read(self, settings: Any, folder: Path) -> None:
        settings.PLANTCARE_BODY_MAX_BYTES = 10_000
        reading = make_reading()
        answer = sent(api_as("inspector", reading.site), reading, wav())

        assert (answer.status_code, answer.json()["code"]) == (413, "too_large")


class TestAccess:
    def test_a_foreign_reading_is_not_found(self, folder: Path) -> None:
        assert sent(api_as("manager", make_site()), make_reading(), wav()).status_code == 404

    def test_nobody_is_asked_to_sign_in(self, folder: Path) -> None:
        assert sent(Api(), make_reading(), wav()).status_code == 401


class TestStore:
    def test_a_store_that_fails_half_way_keeps_nothing(self, folder: Path, monkeypatch: Any) -> None:
        def half(self: Any, name: str, content: Any) -> str:
            raise OSError(28, "No space left on device")

        monkeypatch.setattr("plantcare.api.whole_files.WholeFileStorage._save", half)
        reading = make_reading()
        answer = sent(api_as("inspector", reading.site), reading, wav())

        assert (answer.status_code, answer.json()["code"]) == (503, "file_store_unavailable")
        assert Recording.objects.count() == 0

    def test_a_disk_that_fills_leaves_no_part_of_a_file(self, folder: Path, monkeypatch: Any) -> None:
        def full(_: int) -> None:
            raise OSError(28, "No space left on device")

        monkeypatch.setattr("plantcare.api.whole_files.os.fsync", full)
        reading = make_reading()
        answer = sent(api_as("inspector", reading.site), reading, wav())

        assert answer.status_code == 503
        assert stored(folder) == []

    def test_a_row_that_fails_leaves_a_file_that_nothing_names(self, folder: Path, monkeypatch: Any) -> None:
        def broken(**_: Any) -> None:
            message = "the logbook is away"
            raise RuntimeError(message)

        monkeypatch.setattr("findings.recordings.actions.keeping.logbook.write", broken)
        reading = make_reading()
        api = api_as("inspector", reading.site)
        api.raise_request_exception = False
        answer = sent(api, reading, wav())

        assert answer.status_code == 500
        assert (Recording.objects.count(), len(stored(folder))) == (0, 1)
        assert list(files.names())
