"""What a recording of a bearing comes to once it is analysed: judged once, by its own machine."""

from __future__ import annotations

import math
from typing import Any

import pytest

from findings.conditions.models import BearingParticulars, Condition
from findings.kinds.base import Kind
from findings.readings.models import Reading
from findings.readings.rules import Attachment
from findings.recordings.models import RecordingAnalysis
from findings.register import actions
from findings.register.models import Finding
from findings.sound.rhythm import Line
from plantcare.api.actor import Actor
from tests.findings.chain import LATER, Plant
from tests.makers import LONG_AGO, make_analysis, make_recording

pytestmark = pytest.mark.django_db

JOB = Actor.job("judge_wear_recordings")
SHAFT_HZ = 29.95
OUTER_HZ = 107.36
UNHEARD = [{"code": "too_short", "text": "It is too short."}]
LISTED: dict[str, Any] = {"character": "rhythmic", "fundamental_hz": OUTER_HZ}


def judge() -> dict[str, int]:
    return dict(actions.judge_wear_recordings(actor=JOB, at=LATER))


def touched(plant: Plant, kind: str = "") -> Reading:
    """A reading by contact probe, with the speed of the shaft."""
    values = {"level_db": 40.0, "attachment": Attachment.CONTACT_PROBE, "shaft_speed_hz": SHAFT_HZ}
    return plant.take(kind=kind, medium="", **values).reading


def particulars(plant: Plant) -> None:
    BearingParticulars.objects.create(
        site=plant.site,
        point=plant.point,
        elements=9,
        element_diameter_m=0.00794,
        pitch_diameter_m=0.03904,
        from_at=LONG_AGO,
        recorded_at=LONG_AGO,
        source="drawing of the drive",
    )


def analysed(reading: Reading, *lines: Line, **result: Any) -> RecordingAnalysis:
    told = {**LISTED, "lines": [line._asdict() for line in lines], **result}
    return make_analysis(make_recording(reading), result=told)


class TestARecordingOfABearing:
    def test_that_was_called_quiet_opens_a_finding_when_a_part_is_heard(self) -> None:
        plant = Plant()
        particulars(plant)
        analysed(touched(plant), Line(OUTER_HZ, 20.0), Line(2 * OUTER_HZ, 12.0), Line(3 * OUTER_HZ, 9.0))

        assert judge() == {"judged": 1}

        finding = Finding.objects.get()
        assert (finding.kind, finding.condition_severity) == (Kind.MECHANICAL_WEAR, 4)
        assert finding.condition is not None
        assert (finding.condition.state, finding.condition.order_due) == ("part_heard", True)

    def test_that_is_smooth_leaves_the_graver_level_standing(self) -> None:
        plant = Plant()
        reading = touched(plant, Kind.MECHANICAL_WEAR)
        analysed(reading, character="smooth", fundamental_hz=None)
        before = Finding.objects.get()

        judge()

        finding = Finding.objects.get()
        assert finding.condition_severity == before.condition_severity
        assert Condition.objects.get(method="wear_by_sound").severity is None

    def test_is_judged_once_and_names_its_file(self) -> None:
        analysis = analysed(touched(Plant()), Line(OUTER_HZ, 20.0))

        assert [judge(), judge()] == [{"judged": 1}, {"judged": 0}]
        kept = Condition.objects.get(method="wear_by_sound").inputs["result"]
        assert kept["sha256"] == analysis.recording.sha256

    def test_that_could_not_be_heard_is_left_without_a_judgement(self) -> None:
        analysis = make_analysis(
            make_recording(touched(Plant())), state="refused", result={}, reasons=UNHEARD
        )

        judge()

        analysis.refresh_from_db()
        assert analysis.judged_at is not None
        assert not Condition.objects.filter(method="wear_by_sound").exists()

    def test_at_a_panel_is_left_to_those_who_judge_panels(self) -> None:
        plant = Plant()
        reading = plant.take(kind=Kind.ELECTRICAL_DISCHARGE, medium="", level_db=30.0).reading
        analysed(reading, Line(100.0, 20.0))

        assert judge() == {"judged": 0}


def test_the_judgement_is_by_the_speed_that_was_noted() -> None:
    plant = Plant()
    particulars(plant)
    analysed(touched(plant), Line(OUTER_HZ, 20.0))

    judge()

    parts = {one["part"]: one for one in Condition.objects.get(method="wear_by_sound").figures["parts"]}
    expected = 9 * SHAFT_HZ / 2 * (1 - 0.00794 / 0.03904 * math.cos(0))
    assert parts["outer_ring"]["expected_hz"] == pytest.approx(expected)
