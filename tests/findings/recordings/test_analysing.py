"""What comes of a recording in the worker: heard, refused, tried again, given up."""

from __future__ import annotations

import uuid
from pathlib import Path
from typing import Any

import pytest
from celery.exceptions import SoftTimeLimitExceeded
from django.conf import settings as django_settings

from findings.kinds.base import Kind
from findings.plant.rules import Method
from findings.recordings import queries
from findings.recordings.actions import analyse_recording, analyse_waiting, mark_judged
from findings.recordings.models import AnalysisAttempt, Recording, RecordingAnalysis
from findings.recordings.rules import features_in, key_of, lines_in
from findings.sound.discharge import Sound, classify
from findings.sound.rhythm import Match, hits
from findings.sound.synthetic import Truth, synthetic, wav_bytes
from plantcare.api.actor import Actor
from tests.makers import NOW, make_analysis, make_point, make_reading, make_recording
from tests.sounds import wav

pytestmark = pytest.mark.django_db

JOB = Actor.job("analyse_recordings")


def heard(recording: Recording) -> RecordingAnalysis:
    assert analyse_recording(actor=JOB, at=NOW, subject=recording.pk)
    return RecordingAnalysis.objects.get(recording=recording)


def of(truth: Truth, reading: Any = None, **values: Any) -> Recording:
    return make_recording(
        reading, wav_bytes(synthetic(truth, 1)), seconds=10.0, sample_rate_hz=16_000, **values
    )


def stopped(*_: Any, **__: Any) -> None:
    raise SoftTimeLimitExceeded


class TestHearing:
    def test_a_bearing_with_a_defect_is_rhythmic(self) -> None:
        analysis = heard(of(Truth.BEARING))

        assert (analysis.state, analysis.result["character"]) == ("done", "rhythmic")
        assert analysis.result["fundamental_hz"] == pytest.approx(107.36, abs=0.5)

    def test_the_parts_of_a_bearing_are_found_in_what_is_kept(self) -> None:
        analysis = heard(of(Truth.BEARING))
        [hit] = hits(lines_in(analysis.result), {"outer ring": 107.36})

        assert hit.match is Match.FOUND

    def test_its_picture_stands_in_the_store_with_its_words(self) -> None:
        analysis = heard(of(Truth.BEARING))
        kept = Path(django_settings.RECORDINGS_DIR) / key_of(analysis.picture_sha256, "svg")

        assert kept.read_text().startswith("<svg")
        assert "107." in analysis.picture_words

    def test_a_class_of_discharge_is_named_at_an_electrical_point(self) -> None:
        point = make_point(method=Method.ELECTRICAL)
        analysis = heard(of(Truth.CORONA, make_reading(point), gain_locked="yes"))

        assert analysis.result["discharge"]["sound"] == Sound.CORONA
        assert analysis.result["discharge"]["keeps_doors_shut"]

    def test_a_class_of_discharge_is_named_for_an_electrical_reading(self) -> None:
        reading = make_reading(kind=Kind.ELECTRICAL_DISCHARGE)

        assert heard(of(Truth.TRACKING, reading)).result["discharge"]["sound"] == Sound.TRACKING

    def test_at_a_machine_no_class_is_named_but_its_figures_are_kept(self) -> None:
        analysis = heard(of(Truth.CORONA))
        features = features_in(analysis.result)

        assert analysis.result["discharge"] is None
        assert features is not None
        assert classify(features).sound is Sound.CORONA

    @pytest.mark.parametrize(("word", "code"), [("no", "gain_moved"), ("unknown", "gain_unknown")])
    def test_a_gain_that_may_have_moved_is_said(self, word: str, code: str) -> None:
        analysis = heard(of(Truth.NOISE, gain_locked=word))

        assert code in {reason["code"] for reason in analysis.reasons}

    def test_a_short_one_has_a_level_and_no_rhythm(self) -> None:
        recording = make_recording(content=wav_bytes(synthetic(Truth.NOISE, 1, seconds=3.0)), seconds=3.0)
        result = heard(recording).result

        assert result["level"]["value"] is not None
        assert (result["character"], result["kurtosis"]["status"]) == ("not determined", "refused")

    def test_each_version_hears_a_recording_once(self) -> None:
        recording = of(Truth.NOISE)
        heard(recording)

        assert not analyse_recording(actor=JOB, at=NOW, subject=recording.pk)
        assert RecordingAnalysis.objects.count() == 1

    def test_an_older_version_does_not_count(self) -> None:
        recording = of(Truth.NOISE)
        make_analysis(recording, method_version="0")

        assert analyse_recording(actor=JOB, at=NOW, subject=recording.pk)

    def test_what_is_void_is_not_heard(self) -> None:
        recording = make_recording(void_at=NOW, void_reason="Another machine")

        assert not analyse_recording(actor=JOB, at=NOW, subject=recording.pk)

    def test_what_is_gone_is_no_error(self) -> None:
        assert not analyse_recording(actor=JOB, at=NOW, subject=uuid.uuid4())


class TestRefusing:
    def test_sound_that_cannot_be_decoded_is_refused_with_its_reason(self) -> None:
        content = bytearray(wav(6.0))
        content[20:22] = (3).to_bytes(2, "little")  # it says now that its samples are floating-point numbers
        analysis = heard(make_recording(content=bytes(content)))

        assert (analysis.state, analysis.result) == ("refused", {})
        assert analysis.reasons[0]["text"]

    def test_a_stored_file_that_changed_is_refused(self) -> None:
        recording = make_recording()
        (Path(django_settings.RECORDINGS_DIR) / key_of(recording.sha256, "wav")).write_bytes(wav())

        assert heard(recording).reasons[0]["code"] == "file_changed"

    def test_a_failure_of_ours_is_refused_and_told_as_such(self, monkeypatch: Any) -> None:
        monkeypatch.setattr("findings.sound.hearing.hear", lambda *_, **__: 1 / 0)

        assert heard(make_recording()).reasons[0]["code"] == "not_understood"

    def test_three_tries_that_ended_without_a_word_are_enough(self, monkeypatch: Any) -> None:
        monkeypatch.setattr("findings.sound.hearing.hear", stopped)
        recording = make_recording()
        for _ in range(3):
            with pytest.raises(SoftTimeLimitExceeded):
                analyse_recording(actor=JOB, at=NOW, subject=recording.pk)

        assert heard(recording).reasons[0]["code"] == "gave_up"
        assert AnalysisAttempt.objects.filter(recording=recording).count() == 3

    def test_a_store_that_is_away_uses_up_no_try(self, settings: Any, tmp_path: Path) -> None:
        recording = make_recording()
        stores = {**settings.STORAGES}
        stores["recordings"] = {**stores["recordings"], "OPTIONS": {"location": str(tmp_path)}}
        settings.STORAGES = stores
        with pytest.raises(Exception, match="away"):
            analyse_recording(actor=JOB, at=NOW, subject=recording.pk)

        assert AnalysisAttempt.objects.count() == 0


class TestLeftOver:
    def test_the_schedule_hears_what_waits(self) -> None:
        of(Truth.NOISE)
        make_recording()

        assert analyse_waiting(actor=JOB, at=NOW, site_ids=None) == {"heard": 2, "waiting": 0, "away": 0}

    def test_a_store_that_is_away_leaves_the_rest_of_the_run_alone(self) -> None:
        lost, kept = make_recording(), make_recording()
        (Path(django_settings.RECORDINGS_DIR) / key_of(lost.sha256, "wav")).unlink()

        assert analyse_waiting(actor=JOB, at=NOW, site_ids=None) == {"heard": 1, "waiting": 1, "away": 1}
        assert RecordingAnalysis.objects.get().recording_id == kept.pk


class TestJudging:
    def test_a_new_analysis_waits_to_be_judged(self) -> None:
        analysis = heard(of(Truth.NOISE))

        assert [one.pk for one in queries.unjudged()] == [analysis.pk]

    def test_one_that_was_judged_is_no_more(self) -> None:
        analysis = heard(of(Truth.NOISE))

        assert mark_judged(at=NOW, analysis_id=analysis.pk)
        assert not mark_judged(at=NOW, analysis_id=analysis.pk)
        assert not queries.unjudged().exists()

    def test_a_void_recording_is_not_judged(self) -> None:
        make_analysis(make_recording(void_at=NOW, void_reason="Another machine"))

        assert not queries.unjudged().exists()
