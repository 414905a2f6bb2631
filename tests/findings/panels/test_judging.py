"""The job that judges what was read and recorded at electrical equipment."""

from __future__ import annotations

import threading
from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, connection, connections

from findings.conditions.models import Condition
from findings.logbook.models import Entry
from findings.panels import queries
from findings.panels.actions import add_particulars, judging, listening
from findings.recordings.actions import analyse_recording
from findings.recordings.models import RecordingAnalysis
from findings.recordings.rules import RecordingState
from findings.register.models import Finding
from findings.sound.synthetic import Truth, synthetic, wav_bytes
from tests.findings.panels.scene import DAY, JOB, Panel
from tests.makers import NOW, make_analysis, make_instrument, make_point, make_reading, make_recording
from tests.people import actor

pytestmark = pytest.mark.django_db


def record(panel: Panel, truth: Truth, *, seed: int = 901, mains_hz: float = 50.0, **read: Any) -> Any:
    """Record an invented sound at a reading that named nothing, and have it heard."""
    reading = panel.quiet(**read)
    sound = wav_bytes(synthetic(truth, seed, snr_db=12.0, mains_hz=mains_hz))
    recording = make_recording(reading, sound, seconds=10.0, sample_rate_hz=16_000, gain_locked="yes")
    analyse_recording(actor=JOB, at=NOW, subject=recording.pk)
    return RecordingAnalysis.objects.get(recording=recording)


def figures(panel: Panel, **values: Any) -> RecordingAnalysis:
    """Put an analysis of tracking beside a new quiet reading, without any sound."""
    features = {
        "seconds": 10.0,
        "level_db": -24.0,
        "clipped_share": 0.0,
        "mains_hz": 50.0,
        "harmonics": 9,
        "other_lines": 0,
        "comb_db": 4.0,
        "depth": 1.0,
        "second_to_first_db": 6.0,
        "high_share": 0.5,
        "high_share_at_most": 0.5,
        "cycle_cv": 1.6,
        "loud_cycles_per_s": 3.0,
        "bursts_per_s": 1.0,
        "burst_duty": 0.2,
    }
    at = values.pop("at", NOW)
    return make_analysis(
        make_recording(panel.quiet(at)), result={"discharge_features": {**features, **values}}
    )


class TestARecording:
    @pytest.mark.parametrize("mains_hz", [50.0, 60.0])
    def test_of_tracking_at_a_reading_that_named_nothing_opens_a_finding(self, mains_hz):
        panel = Panel()
        record(panel, Truth.TRACKING, mains_hz=mains_hz)

        counts = panel.judge(NOW + DAY)

        finding = panel.finding()
        assert counts == {"recordings": 1, "readings": 0, "failed": 0}
        assert (finding.kind, finding.condition.state) == ("electrical_discharge", "tracking-like")
        assert (finding.condition_severity, finding.condition.keeps_shut) == (4, True)

    def test_of_hum_opens_none(self):
        panel = Panel()
        record(panel, Truth.HUM)

        panel.judge(NOW + DAY)

        assert not Finding.objects.exists()
        assert Condition.objects.get().state == "mains hum"

    def test_that_could_not_be_heard_is_inconclusive_and_says_why(self):
        panel = Panel()
        reasons = [{"code": "not_understood", "text": "The analysis failed on this file."}]
        make_analysis(make_recording(panel.quiet()), state=RecordingState.REFUSED, result={}, reasons=reasons)

        panel.judge(NOW + DAY)

        condition = Condition.objects.get()
        assert condition.state == "inconclusive"
        assert "not_understood" in {reason["code"] for reason in condition.reasons}

    def test_is_judged_by_the_panel_that_stood_there_when_it_was_made(self):
        panel = Panel()
        state = {"enclosure": "cabinet", "point_id": panel.point.pk}
        for days, volts in ((-9, 400.0), (9, 11_000.0)):
            judging_at = NOW + days * DAY
            add_particulars(
                actor=actor(panel.manager), at=judging_at, from_at=judging_at, nominal_v=volts, **state
            )
        figures(panel, cycle_cv=0.3)

        panel.judge(NOW + 20 * DAY)

        assert "corona unlikely" in Condition.objects.get().figures["label"]

    def test_of_quiet_leaves_an_earlier_discharge_standing(self):
        panel = Panel()
        figures(panel)
        panel.judge(NOW + DAY)
        figures(
            panel,
            at=NOW + 2 * DAY,
            harmonics=0,
            comb_db=-40.0,
            cycle_cv=0.1,
            loud_cycles_per_s=0.0,
            bursts_per_s=0.0,
        )

        panel.judge(NOW + 3 * DAY)

        assert Condition.objects.count() == 2
        assert panel.finding().condition.state == "tracking-like"

    def test_elsewhere_than_at_electrical_equipment_is_left_to_others(self):
        make_analysis(make_recording(make_reading(make_point())))

        assert judging.judge_discharge(actor=JOB, at=NOW)["recordings"] == 0


class TestTheJob:
    def test_changes_nothing_the_second_time(self):
        panel = Panel()
        figures(panel)
        panel.read(NOW, pattern="arcing")
        panel.judge(NOW + DAY)
        before = (Condition.objects.count(), Entry.objects.count())

        counts = panel.judge(NOW + DAY)

        assert counts == {"recordings": 0, "readings": 0, "failed": 0}
        assert (Condition.objects.count(), Entry.objects.count()) == before

    def test_that_drops_one_finds_it_at_the_next_run(self, monkeypatch):
        panel = Panel()
        dropped = figures(panel)
        kept = figures(panel)
        step = listening.judge_recording

        def careless(by: Any, at: Any, pk: Any) -> bool:
            return True if pk == dropped.pk else step(by, at, pk)

        monkeypatch.setattr(judging, "judge_recording", careless)
        panel.judge(NOW + DAY)
        assert [row.inputs["analysis_id"] for row in Condition.objects.all()] == [str(kept.pk)]

        monkeypatch.undo()
        panel.judge(NOW + DAY)

        assert Condition.objects.filter(inputs__analysis_id=str(dropped.pk)).count() == 1

    def test_finds_an_analysis_that_is_marked_as_judged_and_has_no_judgement(self):
        panel = Panel()
        analysis = figures(panel)
        RecordingAnalysis.objects.filter(pk=analysis.pk).update(judged_at=NOW)

        assert panel.judge(NOW + DAY)["recordings"] == 1

    def test_that_fails_at_one_judges_the_others_and_comes_back_to_it(self, monkeypatch):
        panel = Panel()
        bad, _ = figures(panel), figures(panel)
        hear = listening.features_in

        def failing(result: Any) -> Any:
            if RecordingAnalysis.objects.get(pk=bad.pk).result is not None and failing.first:
                failing.first = False
                raise RuntimeError
            return hear(result)

        failing.first = True
        monkeypatch.setattr(listening, "features_in", failing)

        assert panel.judge(NOW + DAY) == {"recordings": 1, "readings": 0, "failed": 1}
        assert panel.judge(NOW + DAY) == {"recordings": 1, "readings": 0, "failed": 0}

    def test_keeps_nothing_of_a_judgement_whose_sequel_fails(self, monkeypatch):
        panel = Panel()
        figures(panel)
        monkeypatch.setattr("findings.panels.actions.listening.mark_judged", lambda **_: 1 / 0)

        assert panel.judge(NOW + DAY)["failed"] == 1
        assert not Condition.objects.exists()
        assert not Finding.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_two_runs_at_once_judge_each_recording_once():
    panel = Panel()
    for _ in range(4):
        figures(panel)
    barrier = threading.Barrier(2)
    counts = []

    def run() -> None:
        try:
            barrier.wait()
            counts.append(panel.judge(NOW + DAY))
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    panel.judge(NOW + DAY)

    assert [count["failed"] for count in counts] == [0, 0]
    assert Condition.objects.count() == 4
    assert Finding.objects.count() == 1


class TestAReading:
    def test_is_judged_by_the_inspectors_word_where_nothing_was_recorded(self):
        panel = Panel()

        condition = panel.hear("corona")

        assert (condition.source, condition.state, condition.severity) == ("reading", "corona-like", 4)
        assert panel.finding().condition_id == condition.pk

    def test_that_waits_for_its_recording_is_left_alone(self):
        panel = Panel()
        make_recording(panel.read())

        assert panel.judge(NOW + DAY)["readings"] == 0

    def test_that_is_louder_than_the_ones_before_is_followed_up_though_it_named_nothing(self):
        panel = Panel()
        for days in (0, 30, 60):
            panel.quiet(NOW + days * DAY, level_db=20.0)
        panel.judge(NOW + 61 * DAY)
        assert not Finding.objects.exists()
        panel.quiet(NOW + 90 * DAY, level_db=27.0)

        panel.judge(NOW + 91 * DAY)

        condition = panel.finding().condition
        assert (condition.state, condition.severity, condition.keeps_shut) == ("nothing heard", 3, True)

    @pytest.mark.parametrize("other", ["instrument", "distance"])
    def test_compares_only_with_the_same_instrument_at_the_same_distance(self, other):
        panel = Panel()
        values = {"distance_m": 1.0} if other == "distance" else {}
        if other == "instrument":
            values["instrument_id"] = make_instrument(panel.site).pk
        panel.quiet(NOW, level_db=20.0, **values)

        reading = panel.quiet(NOW + DAY, level_db=40.0)

        assert queries.rise_of(reading).trend == "unknown"

    def test_of_another_kind_is_none_of_the_jobs(self):
        panel = Panel()
        panel.read(kind="mechanical_wear")

        assert panel.judge(NOW + DAY)["readings"] == 0


class TestTheDatabase:
    @pytest.mark.parametrize(
        ("make", "law"),
        [(figures, "condition_of_analysis_once"), (Panel.read, "discharge_of_reading_once")],
    )
    def test_keeps_one_judgement_of_each(self, make, law):
        panel = Panel()
        make(panel)
        panel.judge(NOW + DAY)
        again = Condition.objects.get()
        again.pk = None
        again._state.adding = True

        with pytest.raises(IntegrityError, match=law):
            again.save(force_insert=True)


def test_the_law_of_the_shut_enclosure_can_be_asked_of_many_points_at_once():
    panel = Panel()
    panel.hear()
    calm = make_point(panel.site)

    assert queries.kept_shut([panel.point.pk, calm.pk], NOW + timedelta(days=2)) == {panel.point.pk}
    assert connection.in_atomic_block
