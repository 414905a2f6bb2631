"""From an upload to what was heard in it, by real processes; and what happens when one of them dies."""

from __future__ import annotations

import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from threading import Thread
from typing import Any

import pytest
from django.conf import settings as django_settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connections
from django.utils import timezone

from findings.recordings.actions import analyse_recording, keep_recording
from findings.recordings.models import AnalysisAttempt, Recording, RecordingAnalysis
from findings.sound.synthetic import Truth, synthetic, wav_bytes
from findings.sound.told import Told
from plantcare.api.actor import Actor
from tests.makers import make_reading, make_recording
from tests.people import api_as
from tests.processes.patience import environment, wait_for

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.processes]

BEARING = wav_bytes(synthetic(Truth.BEARING, 1))
SLOW = """
import sys, time, uuid, django
django.setup()
import findings.sound.hearing
from django.utils import timezone
from findings.recordings.actions import analyse_recording
from plantcare.api.actor import Actor

def hear(*_, **__):
    print("hearing", flush=True)
    time.sleep(600)

findings.sound.hearing.hear = hear
analyse_recording(actor=Actor.job("test"), at=timezone.now(), subject=uuid.UUID(sys.argv[1]))
"""


def upload(reading: Any, content: bytes = BEARING) -> Any:
    api = api_as("inspector", reading.site)
    return api.upload(f"/readings/{reading.pk}/recordings", {"file": SimpleUploadedFile("a.wav", content)})


def heard_now(recording: Recording) -> bool:
    return analyse_recording(actor=Actor.job("test"), at=timezone.now(), subject=recording.pk)


class TestWorker:
    def test_an_upload_is_heard_and_shown(self, worker: subprocess.Popen[bytes]) -> None:
        reading = make_reading()
        made = upload(reading).json()
        wait_for(RecordingAnalysis.objects.exists, worker)
        api = api_as("inspector", reading.site)
        told = api.get(f"/recordings/{made['id']}").json()
        picture = b"".join(api.get(f"/recordings/{made['id']}/picture").streaming_content)

        assert (told["state"], told["analysis"]["result"]["character"]) == ("done", "rhythmic")
        assert picture.startswith(b"<svg")

    def test_a_damaged_one_is_refused_and_the_worker_goes_on(self, worker: subprocess.Popen[bytes]) -> None:
        damaged = bytearray(BEARING)
        damaged[20:22] = (3).to_bytes(2, "little")
        damaged[34:36] = (32).to_bytes(2, "little")
        damaged[32:34] = (4).to_bytes(2, "little")
        damaged[28:32] = (16_000 * 4).to_bytes(4, "little")
        damaged[44:] = b"\x00\x00\x80\x7f" * (len(damaged[44:]) // 4)
        first, second = upload(make_reading(), bytes(damaged)), upload(make_reading())
        wait_for(lambda: RecordingAnalysis.objects.count() == 2, worker)
        states = dict(RecordingAnalysis.objects.values_list("recording_id", "state"))

        assert {str(pk): state for pk, state in states.items()} == {
            first.json()["id"]: "refused",
            second.json()["id"]: "done",
        }


@pytest.fixture
def hearing(request: Any) -> Iterator[tuple[Recording, subprocess.Popen[bytes]]]:
    """Give a recording that another process is hearing this moment."""
    recording = make_recording(content=BEARING, sample_rate_hz=16_000, seconds=10.0)
    process = subprocess.Popen(
        [sys.executable, "-c", SLOW, str(recording.pk)],
        env=environment(django_settings),
        cwd=str(Path(django_settings.BASE_DIR)),
        stdout=subprocess.PIPE,
    )
    try:
        assert process.stdout is not None
        assert process.stdout.readline().strip() == b"hearing"
        yield recording, process
    finally:
        process.kill()
        process.wait()


class TestDeath:
    def test_nobody_hears_it_beside_another(self, hearing: tuple[Recording, Any]) -> None:
        assert not heard_now(hearing[0])

    def test_a_killed_process_is_followed_by_the_next(self, hearing: tuple[Recording, Any]) -> None:
        recording, process = hearing
        process.kill()
        process.wait()
        wait_until_free(recording)

        assert RecordingAnalysis.objects.get(recording=recording).state == "done"
        assert AnalysisAttempt.objects.filter(recording=recording).count() == 2


def wait_until_free(recording: Recording) -> None:
    """Hear it as soon as the database has noticed that the other process is gone."""
    for _ in range(300):
        if heard_now(recording):
            return
        time.sleep(0.1)
    pytest.fail("the lock of a dead process was kept")


class TestQueue:
    def test_one_that_is_down_does_not_fail_the_upload(self, settings: Any) -> None:
        settings.CELERY_BROKER_URL = "redis://127.0.0.1:1/0"

        assert upload(make_reading()).status_code == 201

    def test_one_that_hangs_does_not_fail_the_upload(self, settings: Any) -> None:
        with socket.socket() as silent:
            silent.bind(("127.0.0.1", 0))
            silent.listen()
            settings.CELERY_BROKER_URL = f"redis://127.0.0.1:{silent.getsockname()[1]}/0"

            assert upload(make_reading()).status_code == 201

    def test_what_it_lost_is_heard_by_the_schedule(self, settings: Any) -> None:
        settings.CELERY_BROKER_URL = "redis://127.0.0.1:1/0"
        made = upload(make_reading()).json()

        assert heard_now(Recording.objects.get(pk=made["id"]))


def test_the_same_file_sent_twice_at_once_is_one_recording(settings: Any) -> None:
    settings.CELERY_BROKER_URL = "redis://127.0.0.1:1/0"
    reading, kept = make_reading(), []

    def send() -> None:
        try:
            with Path(django_settings.RECORDINGS_DIR, "sent.wav").open("rb") as file:
                values = {"reading_id": reading.pk, "file_name": "a.wav", "told": Told()}
                kept.append(keep_recording(actor=Actor.job("test"), at=timezone.now(), file=file, **values))
        finally:
            connections.close_all()

    Path(django_settings.RECORDINGS_DIR, "sent.wav").write_bytes(BEARING)
    threads = [Thread(target=send) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert sorted(one.created for one in kept) == [False, False, False, True]
    assert len({one.recording.pk for one in kept}) == 1
