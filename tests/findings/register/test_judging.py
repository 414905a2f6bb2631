"""Dismissing, merging and classifying findings, and taking it back."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from findings.logbook.models import Entry
from findings.losses.models import LossSegment
from findings.register import actions
from findings.register.models import Evidence
from plantcare.api.actor import Actor
from plantcare.api.problems import PersonRequired, Refusal
from tests.findings.chain import ACTOR, LATER, Plant, chain
from tests.makers import NOW, make_connection, make_system
from tests.people import actor_at

pytestmark = pytest.mark.django_db

WHY = "both tags hang on one hose"
DAY = timedelta(days=1)


def june(day: int) -> datetime:
    """Return a day of June 2026."""
    return datetime(2026, 6, day, tzinfo=UTC)


def merge(duplicate, survivor):
    """Merge two findings."""
    return actions.merge(
        actor=ACTOR, at=LATER, duplicate_id=duplicate.pk, survivor_id=survivor.pk, reason=WHY
    )


class TestADismissedFinding:
    def test_never_cost_anything_but_keeps_its_history(self):
        finding = Plant().leak(10)

        actions.dismiss(
            actor=ACTOR,
            at=LATER,
            finding_id=finding.pk,
            dismiss_reason="works_as_meant",
            text="a bleed valve",
        )

        assert chain(finding) == []
        assert LossSegment.objects.get(finding=finding).void_reason == "dismissed"

    def test_that_is_reinstated_counts_again_as_it_did(self):
        finding = Plant().leak(10)
        actions.dismiss(
            actor=ACTOR,
            at=LATER,
            finding_id=finding.pk,
            dismiss_reason="no_fault_found",
            text="nothing heard",
        )

        actions.reinstate(actor=ACTOR, at=LATER, finding_id=finding.pk, text="heard it after all")

        assert chain(finding) == [(NOW, None, 10.0, "corrected", "")]

    def test_is_not_reinstated_beside_an_open_one_at_the_same_point(self):
        plant = Plant()
        finding = plant.leak(10)
        actions.dismiss(
            actor=ACTOR,
            at=LATER,
            finding_id=finding.pk,
            dismiss_reason="no_fault_found",
            text="nothing heard",
        )
        plant.leak(8, taken_at=NOW + DAY)

        with pytest.raises(Exception, match="finding_open_once_per_point_and_kind"):
            actions.reinstate(actor=ACTOR, at=LATER, finding_id=finding.pk, text="heard it after all")

    def test_is_not_found_again_by_the_next_reading(self):
        plant = Plant()
        finding = plant.leak(10)
        actions.dismiss(
            actor=ACTOR,
            at=LATER,
            finding_id=finding.pk,
            dismiss_reason="no_fault_found",
            text="nothing heard",
        )

        again = plant.take(m3_per_h=8.0, taken_at=NOW + DAY)

        assert (again.outcome, again.finding.follows) == ("found", None)


class TestAMerge:
    def test_counts_the_survivor_from_the_earlier_find_at_its_own_rate(self):
        # A 10 m3/h found 11 June; B 7 found 6 June, merged into A: A from 6 June at A's flow.
        plant = Plant()
        survivor = plant.leak(10, taken_at=june(11))
        duplicate = plant.leak(7, plant.another_point(), taken_at=june(6))

        merge(duplicate, survivor)

        assert chain(survivor) == [
            (june(6), june(11), 10.0, "merged", "changed"),
            (june(11), None, 10.0, "found", ""),
        ]
        assert chain(duplicate) == []

    def test_of_a_later_find_leaves_the_survivor_as_it_was(self):
        plant = Plant()
        survivor = plant.leak(10, taken_at=june(6))
        duplicate = plant.leak(7, plant.another_point(), taken_at=june(11))

        merge(duplicate, survivor)

        assert chain(survivor) == [(june(6), None, 10.0, "found", "")]

    def test_gives_the_duplicates_loss_to_a_survivor_that_had_none(self):
        plant = Plant()
        survivor = plant.take(level_db=40.0, taken_at=june(11)).finding
        duplicate = plant.leak(7, plant.another_point(), taken_at=june(6))

        merge(duplicate, survivor)

        assert chain(survivor) == [(june(6), None, 7.0, "merged", "")]

    def test_shows_the_duplicates_readings_at_the_survivor(self):
        plant = Plant()
        survivor = plant.leak(10)
        duplicate = plant.leak(7, plant.another_point())

        merge(duplicate, survivor)

        roles = Evidence.objects.filter(finding=survivor).order_by("recorded_at", "id")
        assert list(roles.values_list("role", flat=True)) == ["found", "moved_here"]

    def test_that_is_taken_back_leaves_both_as_they_were(self):
        plant = Plant()
        survivor = plant.leak(10, taken_at=june(11))
        duplicate = plant.leak(7, plant.another_point(), taken_at=june(6))
        merge(duplicate, survivor)

        separated = actions.separate(
            actor=ACTOR, at=LATER + DAY, finding_id=duplicate.pk, text="two hoses, one above the other"
        )

        survivor.refresh_from_db()
        assert chain(survivor) == [(june(11), None, 10.0, "found", "")]
        assert chain(duplicate) == [(june(6), None, 7.0, "separated", "")]
        assert (separated.status, survivor.found_at) == ("open", june(11))

    def test_writes_one_entry_for_each_of_the_two(self):
        plant = Plant()
        survivor = plant.leak(10)
        duplicate = plant.leak(7, plant.another_point())
        before = Entry.objects.count()

        merge(duplicate, survivor)

        assert list(Entry.objects.order_by("sequence").values_list("act", "subject_id")[before:]) == [
            ("finding.merged", duplicate.pk),
            ("finding.took_over", survivor.pk),
        ]

    def test_never_hides_a_safety_finding_in_a_harmless_one(self):
        plant = Plant()
        survivor = plant.leak(10)
        gas = plant.take(plant.another_point(), medium="natural_gas", level_db=30.0).finding

        with pytest.raises(actions.MergeLowersSafety):
            merge(gas, survivor)

    def test_of_different_kinds_is_refused(self):
        plant = Plant()
        survivor = plant.leak(10)
        bearing = plant.take(kind="mechanical_wear").finding

        with pytest.raises(actions.MergeRefused):
            merge(bearing, survivor)

    def test_into_itself_is_refused(self):
        finding = Plant().leak(10)

        with pytest.raises(actions.MergeRefused):
            merge(finding, finding)

    def test_into_a_finding_of_another_site_is_refused(self):
        with pytest.raises(actions.SurvivorUnknown):
            merge(Plant().leak(10), Plant().leak(10))


class TestAnUnknownGas:
    def test_that_gets_its_name_counts_from_the_find(self):
        plant = Plant()
        finding = plant.take(medium="", m3_per_h=10.0).finding

        named = actions.classify(
            actor=actor_at(plant.site),
            at=LATER,
            finding_id=finding.pk,
            medium="compressed_air",
            text="traced to the ring main",
        )

        assert (named.medium, named.is_safety, named.hazard) == ("compressed_air", False, "pressure")
        assert chain(finding) == [(NOW, None, 10.0, "found", "")]

    def test_is_not_made_harmless_by_a_key(self):
        plant = Plant()
        finding = plant.take(medium="").finding
        key = Actor(user_id=None, name="by key", key_id=finding.pk, kind="key")

        with pytest.raises(PersonRequired):
            actions.classify(
                actor=key, at=LATER, finding_id=finding.pk, medium="compressed_air", text="traced to the main"
            )

    def test_that_is_known_is_not_renamed(self):
        plant = Plant()
        make_connection(plant.asset, make_system(plant.site, medium="nitrogen"))
        finding = plant.take(medium="nitrogen").finding

        with pytest.raises(Refusal) as refused:
            actions.classify(
                actor=actor_at(plant.site),
                at=LATER,
                finding_id=finding.pk,
                medium="compressed_air",
                text="traced to the main",
            )

        assert refused.value.code == "medium_known"
