"""The laws of findings are the database's own: even a write past the actions can't break them."""

from __future__ import annotations

import threading
from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, connections

from findings.losses.models import LossSegment
from findings.readings.models import Reading
from findings.register import actions
from findings.register.models import Assessment, Evidence, Finding
from tests.findings.chain import ACTOR, LATER, Plant
from tests.makers import NOW, new_reading

DAY = timedelta(days=1)


def check_now() -> None:
    """Let the database judge what it would judge at commit."""
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")


@pytest.mark.django_db
class TestAClosure:
    def test_without_proof_is_refused_by_the_database(self):
        finding = Plant().leak(10)

        with pytest.raises(IntegrityError, match="finding_closed_with_proof"):
            Finding.objects.filter(pk=finding.pk).update(status="closed", closed_at=LATER)

    def test_by_a_reading_from_before_the_repair_is_refused_by_the_database(self):
        plant = Plant()
        first = plant.take(m3_per_h=10.0)

        with pytest.raises(IntegrityError, match="not taken at this point after the repair"):
            Finding.objects.filter(pk=first.finding.pk).update(
                status="closed", closed_at=LATER, repaired_at=NOW + DAY, closing_reading=first.reading
            )

    def test_by_a_reading_of_another_point_is_refused_by_the_database(self):
        plant = Plant()
        finding = plant.leak(10)
        elsewhere = plant.take(plant.another_point(), kind="", taken_at=NOW + 2 * DAY).reading

        with pytest.raises(IntegrityError, match="not taken at this point after the repair"):
            Finding.objects.filter(pk=finding.pk).update(
                status="closed", closed_at=LATER, repaired_at=NOW + DAY, closing_reading=elsewhere
            )

    def test_by_nine_characters_of_reason_is_refused_by_the_database(self):
        finding = Plant().leak(10)

        with pytest.raises(IntegrityError, match="finding_closed_with_proof"):
            Finding.objects.filter(pk=finding.pk).update(
                status="closed", closed_at=LATER, closure_reason="branch_isolated", closure_text="cut  off."
            )


@pytest.mark.django_db
class TestTheAssessmentThatStands:
    def test_is_never_one_of_another_site(self):
        mine, theirs = Plant().leak(10), Plant().leak(10)

        Finding.objects.filter(pk=mine.pk).update(standing=theirs.standing_id)

        with pytest.raises(IntegrityError, match="standing_id_same_site"):
            check_now()

    def test_never_stands_without_a_rate(self):
        finding = Plant().leak(10)

        with pytest.raises(IntegrityError, match="finding_standing_has_rate"):
            Finding.objects.filter(pk=finding.pk).update(leak_rate_m3_per_s=None)


@pytest.mark.django_db
class TestAReadingPastTheActions:
    @pytest.mark.parametrize(
        ("value", "law"),
        [
            ({"air_temperature_k": 20.0}, "reading_air_temperature_plausible"),
            ({"relative_humidity": 45.0}, "reading_humidity_a_share"),
            ({"band_centre_hz": 40.0}, "reading_band_plausible"),
        ],
    )
    def test_in_another_unit_is_refused_by_the_database(self, value, law):
        plant = Plant()

        with pytest.raises(IntegrityError, match=law):
            Reading.objects.create(
                site=plant.site,
                survey=plant.survey,
                point=plant.point,
                client_id="past",
                fingerprint=b"0" * 32,
                taken_at=NOW,
                recorded_at=NOW,
                **value,
            )


@pytest.mark.django_db
class TestFactsThatAreOnlyAdded:
    @pytest.mark.parametrize("model", [Reading, Evidence, Assessment, LossSegment, Finding])
    def test_are_never_deleted(self, model):
        Plant().leak(10)

        with pytest.raises(IntegrityError, match="never deleted"):
            model.objects.all()._raw_delete("default")

    def test_a_reading_is_not_changed(self):
        Plant().leak(10)

        with pytest.raises(IntegrityError, match="only added"):
            Reading.objects.update(level_db=1.0)

    def test_an_assessment_is_not_changed(self):
        Plant().leak(10)

        with pytest.raises(IntegrityError, match="only added"):
            Assessment.objects.update(leak_rate_m3_per_s=0.0)

    def test_a_segments_rate_is_not_changed(self):
        Plant().leak(10)

        with pytest.raises(IntegrityError, match="only added"):
            LossSegment.objects.update(leak_rate_m3_per_s=0)

    def test_a_segments_end_is_set_once(self):
        finding = Plant().leak(10)
        actions.report_repaired(actor=ACTOR, at=LATER, finding_id=finding.pk, repaired_at=NOW + DAY)

        with pytest.raises(IntegrityError, match="set only once"):
            LossSegment.objects.update(ended_at=LATER)


@pytest.mark.django_db
class TestKeysOfAnotherSite:
    def test_are_refused_for_a_finding(self):
        finding, foreign = Plant().leak(10), Plant()

        Finding.objects.filter(pk=finding.pk).update(asset=foreign.asset)

        with pytest.raises(IntegrityError, match="same_site"):
            check_now()

    def test_are_refused_for_evidence(self):
        finding, foreign = Plant().leak(10), Plant().take(level_db=40.0).reading

        Evidence.objects.create(
            site=finding.site, finding=finding, reading=foreign, role="quiet", recorded_at=LATER
        )

        with pytest.raises(IntegrityError, match="same_site"):
            check_now()

    def test_are_refused_for_a_reading_by_the_action(self):
        plant, foreign = Plant(), Plant()

        with pytest.raises(Exception, match="can't be kept"):
            plant.take(foreign.point, level_db=40.0)


@pytest.mark.django_db
class TestSegmentsOfOneFinding:
    def test_never_overlap(self):
        finding = Plant().leak(10)
        running = LossSegment.objects.get(finding=finding)

        with pytest.raises(IntegrityError, match="segments_do_not_overlap"):
            LossSegment.objects.create(
                site=finding.site,
                finding=finding,
                system=running.system,
                started_at=NOW + DAY,
                start_reason="changed",
                leak_rate_m3_per_s=1,
                method="meter",
                method_version="1",
                recorded_at=LATER,
            )


@pytest.mark.django_db
class TestOneFaultAtOnePoint:
    def test_is_one_open_finding(self):
        finding = Plant().leak(10)
        finding.pk, finding.number = None, 99
        finding._state.adding = True

        with pytest.raises(IntegrityError, match="finding_open_once_per_point_and_kind"):
            Finding.objects.bulk_create([Finding(**_columns(finding))])


def _columns(finding: Finding) -> dict[str, object]:
    return {f.attname: getattr(finding, f.attname) for f in Finding._meta.fields if f.name != "id"}


@pytest.mark.django_db(transaction=True)
class TestTwoSendersAtOnce:
    def _both(self, plant: Plant, items) -> list[object]:
        gate, results = threading.Barrier(len(items)), {}

        def send(index: int) -> None:
            try:
                gate.wait(timeout=20)
                results[index] = actions.take_reading(
                    actor=ACTOR, at=LATER, survey_id=plant.survey.pk, item=items[index]
                )
            finally:
                connections.close_all()

        threads = [threading.Thread(target=send, args=(index,)) for index in range(len(items))]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(timeout=60)
        return [results[index] for index in range(len(items))]

    def test_make_one_finding_of_one_leak(self):
        plant = Plant()

        taken = self._both(plant, [new_reading(plant.point, hole_diameter_m=0.002) for _ in range(4)])

        assert sorted(one.outcome for one in taken) == ["found", "heard_again", "heard_again", "heard_again"]
        assert len({one.finding.pk for one in taken}) == 1

    def test_keep_one_reading_of_one_client_id(self):
        plant = Plant()

        taken = self._both(plant, [new_reading(plant.point, client_id="same") for _ in range(2)])

        assert sorted(one.created for one in taken) == [False, True]
        assert len({one.reading.pk for one in taken}) == 1

    def test_give_no_number_twice_and_leave_none_out(self):
        plant = Plant()

        taken = self._both(plant, [new_reading(plant.another_point()) for _ in range(4)])

        assert sorted(one.finding.number for one in taken) == [1, 2, 3, 4]
