"""Files that nothing names are taken away, all others stay."""

from __future__ import annotations

import io
import os
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone

from findings.recordings import files
from findings.recordings.actions import sweep_files
from findings.recordings.rules import key_of
from plantcare.api.actor import Actor
from tests.makers import make_analysis, make_recording

pytestmark = pytest.mark.django_db

ORPHAN = "ab" * 32


@pytest.fixture(autouse=True)
def folder(settings: Any, tmp_path: Path) -> Path:
    stores = {**settings.STORAGES}
    stores["recordings"] = {**stores["recordings"], "OPTIONS": {"location": str(tmp_path)}}
    settings.STORAGES = stores
    return tmp_path


def swept(days: float = 2.0) -> int:
    at = timezone.now() + timedelta(days=days)
    return sweep_files(actor=Actor.job("sweep"), at=at, site_ids=None)["deleted"]


def test_a_file_that_nothing_names_goes_after_a_day(folder: Path) -> None:
    files.write(io.BytesIO(b"RIFF"), ORPHAN, "wav")

    assert swept() == 1
    assert not (folder / key_of(ORPHAN, "wav")).exists()


def test_a_young_one_stays(folder: Path) -> None:
    files.write(io.BytesIO(b"RIFF"), ORPHAN, "wav")

    assert swept(days=0.5) == 0


def test_one_that_was_stored_again_is_young_again(folder: Path) -> None:
    files.write(io.BytesIO(b"RIFF"), ORPHAN, "wav")
    long_ago = timezone.now().timestamp() - 10 * 86_400
    os.utime(folder / key_of(ORPHAN, "wav"), (long_ago, long_ago))
    files.write(io.BytesIO(b"RIFF"), ORPHAN, "wav")

    assert swept(days=0.5) == 0


def test_recordings_and_pictures_stay_even_void_ones(folder: Path) -> None:
    make_analysis(make_recording(void_at=timezone.now(), void_reason="Another machine"))

    assert swept() == 0


def test_what_a_killed_process_left_half_written_goes(folder: Path) -> None:
    (folder / "ab" / "ab").mkdir(parents=True)
    (folder / "ab" / "ab" / "tmpx.part").write_bytes(b"RI")

    assert swept() == 1


def test_an_empty_store_is_no_error() -> None:
    assert swept() == 0
