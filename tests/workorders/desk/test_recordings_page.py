"""Recordings on a finding's page: shown with what they can't tell, played, sent by those who may."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from findings.recordings.models import Recording
from findings.register.models import Evidence
from tests.makers import NOW, make_analysis, make_recording, make_site
from tests.sounds import wav
from tests.workorders.desk.reader import content_of, reader
from tests.workorders.desk.test_first_page import leak

pytestmark = pytest.mark.django_db

FIGURE = {"unit": "1", "status": "measured", "reasons": []}
RESULT = {
    "level": {**FIGURE, "unit": "dB re full scale", "value": -21.3, "low": -21.7, "high": -20.9},
    "crest_factor": {**FIGURE, "value": 10.2, "low": 9.7, "high": 10.7},
    "kurtosis": {
        **FIGURE,
        "value": None,
        "low": None,
        "high": None,
        "status": "refused",
        "reasons": [{"code": "clipped", "text": "The peaks are cut off."}],
    },
    "character": "rhythmic",
    "fundamental_hz": 107.4,
    "lines": [{"frequency_hz": 107.4, "above_floor_db": 27.0}],
}


@pytest.fixture
def finding() -> Any:
    return leak(make_site())


@pytest.fixture
def recording(finding: Any) -> Recording:
    return make_recording(Evidence.objects.filter(finding=finding).first().reading)


def page(finding: Any, role: str = "inspector") -> Any:
    return reader(finding.site, role).get(f"/findings/{finding.pk}/")


def sent(finding: Any, content: bytes, role: str = "inspector") -> Any:
    reading = Evidence.objects.filter(finding=finding).first().reading_id
    given = {"reading": str(reading), "gain_locked": "yes", "sound_band": "unknown", "channel": "1"}
    file = SimpleUploadedFile("walk.wav", content)
    return reader(finding.site, role).post(f"/findings/{finding.pk}/recordings/", {**given, "file": file})


def test_one_that_waits_says_so_and_can_be_played(finding: Any, recording: Recording) -> None:
    answer = page(finding)

    assert "Waiting for the worker." in content_of(answer)
    assert f'src="/api/v1/recordings/{recording.pk}/sound"' in answer.content.decode()


def test_one_that_was_heard_shows_figures_beside_what_they_cannot_tell(
    finding: Any, recording: Recording
) -> None:
    make_analysis(recording, result=RESULT, picture_words="lines stand out at 107.4 Hz")
    answer = page(finding)
    words = content_of(answer)

    assert "-21.3 dB re full scale, interval -21.7 to -20.9" in words
    assert "Not determined. The peaks are cut off." in words
    assert "Rhythmic at 107.4 Hz" in words
    assert "never judge by it alone" in words
    assert 'alt="lines stand out at 107.4 Hz"' in answer.content.decode()


def test_one_that_was_refused_says_why(finding: Any, recording: Recording) -> None:
    make_analysis(recording, state="refused", result={}, reasons=[{"code": "x", "text": "Copy it again."}])

    assert "Nothing can be told of it. Copy it again." in content_of(page(finding))


def test_what_a_discharge_forbids_is_shown(finding: Any, recording: Recording) -> None:
    discharge = {"label": "corona-like", "why": "Pulses.", "cautions": ["Keep the doors closed."]}
    make_analysis(recording, result={**RESULT, "discharge": discharge})

    assert "Keep the doors closed." in content_of(page(finding))


def test_a_void_one_is_not_shown(finding: Any) -> None:
    reading = Evidence.objects.filter(finding=finding).first().reading
    make_recording(reading, file_name="wrong.wav", void_at=NOW, void_reason="Another machine")

    assert "wrong.wav" not in content_of(page(finding))


def test_a_file_name_is_never_markup(finding: Any) -> None:
    reading = Evidence.objects.filter(finding=finding).first().reading
    make_recording(reading, file_name="<script>alert(1)</script>.wav")

    assert "<script>alert(1)" not in page(finding).content.decode()


def test_who_may_record_sends_one(finding: Any) -> None:
    answer = sent(finding, wav())

    assert (answer.status_code, answer.url) == (302, f"/findings/{finding.pk}/#recordings")
    assert Recording.objects.get().gain_locked == "yes"


def test_a_file_that_is_none_is_refused_beside_its_field(finding: Any) -> None:
    answer = sent(finding, b"<html><script>alert(1)</script></html>")

    assert answer.status_code == 415
    assert "The file is neither WAV nor FLAC." in content_of(answer)


def test_a_foreign_finding_is_not_found(finding: Any) -> None:
    browser = reader(make_site(), "manager")

    assert browser.post(f"/findings/{finding.pk}/recordings/", {}).status_code == 404
