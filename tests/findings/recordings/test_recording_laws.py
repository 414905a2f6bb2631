"""The laws of recordings are the database's own."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction

from findings.recordings.models import Recording, RecordingAnalysis
from tests.makers import NOW, make_analysis, make_recording, make_site

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("values", "law"),
    [
        ({"sha256": "../../etc/passwd"}, "recording_hash_is_one"),
        ({"seconds": 0.0}, "recording_holds_sound"),
        ({"channel": 2}, "recording_channel_is_there"),
        ({"container": "html"}, "recording_words_known"),
        ({"gain_locked": "perhaps"}, "recording_words_known"),
        ({"void_at": NOW}, "recording_void_has_reason"),
        ({"void_reason": "wrong"}, "recording_void_has_reason"),
    ],
)
def test_a_recording_that_makes_no_sense_is_refused(values: dict[str, Any], law: str) -> None:
    with pytest.raises(IntegrityError, match=law):
        make_recording(**values)


def test_a_reading_has_a_file_once() -> None:
    one = make_recording()
    with pytest.raises(IntegrityError, match="recording_once_per_reading"):
        make_recording(one.reading, sha256=one.sha256)


def test_a_recording_is_never_changed_but_voided() -> None:
    one = make_recording()
    with pytest.raises(IntegrityError, match="only added"), transaction.atomic():
        Recording.objects.filter(pk=one.pk).update(seconds=9.0)
    Recording.objects.filter(pk=one.pk).update(void_at=NOW, void_reason="Another machine")

    with pytest.raises(IntegrityError, match="only once"):
        Recording.objects.filter(pk=one.pk).update(void_reason="Another reason")


def test_nothing_of_it_is_deleted() -> None:
    analysis = make_analysis(make_recording())
    with pytest.raises(IntegrityError, match="never deleted"), transaction.atomic():
        RecordingAnalysis.objects.filter(pk=analysis.pk).delete()


def test_a_version_hears_it_once() -> None:
    one = make_recording()
    make_analysis(one)
    with pytest.raises(IntegrityError, match="recording_analysed_once_per_version"):
        make_analysis(one)


def test_a_refusal_has_its_reasons() -> None:
    with pytest.raises(IntegrityError, match="recording_refused_with_reasons"):
        make_analysis(make_recording(), state="refused")


def test_a_recording_is_of_its_readings_site() -> None:
    with pytest.raises(IntegrityError, match="same_site"), transaction.atomic():
        _of_another_site()


def _of_another_site() -> None:
    make_recording(site=make_site())
    connection.check_constraints()
