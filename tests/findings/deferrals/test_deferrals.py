"""Letting a finding wait: who may, how long, and what happens at the end of the term."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from django.db import IntegrityError
from django.utils import timezone

from findings.deferrals import actions, queries
from findings.deferrals.models import Deferral
from findings.logbook.models import Entry
from findings.register import actions as register
from findings.register.models import Finding
from plantcare.api.actor import Actor
from plantcare.api.problems import PersonRequired
from tests.findings.chain import LATER, Plant, chain
from tests.makers import NOW, new_reading
from tests.people import actor_at, api_as, api_for, member

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)
JOB = Actor.job("end_lapsed_deferrals")


def wanted(finding: Finding, person: Actor, **values) -> Deferral:
    """Ask for a deferral of twenty days."""
    given = {
        "reason": "parts",
        "text": "the seal kit comes in two weeks",
        "until_at": NOW + 20 * DAY,
        "interim_measures": "fence and sign, checked each shift",
    }
    at = values.pop("at", NOW)
    return actions.request_deferral(actor=person, at=at, finding_id=finding.pk, **{**given, **values})


def gas_leak(plant: Plant) -> Finding:
    """Find a leak of natural gas."""
    return plant.take(medium="natural_gas", level_db=22.0).finding


class TestARequest:
    def test_lets_nothing_wait_by_itself(self):
        plant = Plant()
        finding = plant.leak(10)

        wanted(finding, actor_at(plant.site))

        finding.refresh_from_db()
        assert finding.status == "open"

    def test_for_a_safety_finding_says_what_keeps_people_safe(self):
        plant = Plant()

        with pytest.raises(actions.DeferralRefused) as refused:
            wanted(gas_leak(plant), actor_at(plant.site), interim_measures="  ")

        assert [error.pointer for error in refused.value.errors] == ["/interim_measures"]

    def test_to_save_money_is_refused_for_a_safety_finding(self):
        plant = Plant()

        with pytest.raises(actions.DeferralRefused) as refused:
            wanted(gas_leak(plant), actor_at(plant.site), reason="budget")

        assert [error.code for error in refused.value.errors] == ["not_for_safety"]

    @pytest.mark.parametrize(
        ("days", "medium", "allowed"),
        [
            (30, "natural_gas", True),
            (31, "natural_gas", False),
            (365, "compressed_air", True),
            (366, "compressed_air", False),
            (0, "compressed_air", False),
        ],
    )
    def test_is_bound_to_a_longest_term(self, days, medium, allowed):
        plant = Plant()
        finding = plant.take(medium=medium, level_db=22.0).finding
        ask = {"finding": finding, "person": actor_at(plant.site), "until_at": NOW + days * DAY}

        if allowed:
            assert wanted(**ask).pk
        else:
            with pytest.raises(actions.DeferralRefused):
                wanted(**ask)

    def test_beside_a_standing_one_is_refused(self):
        plant = Plant()
        finding = plant.leak(10)
        wanted(finding, actor_at(plant.site))

        with pytest.raises(actions.DeferralStanding):
            wanted(finding, actor_at(plant.site))

    def test_without_words_is_refused(self):
        plant = Plant()

        with pytest.raises(actions.DeferralRefused):
            wanted(plant.leak(10), actor_at(plant.site), text="later")


class TestAnApproval:
    def test_defers_the_finding_and_its_loss_goes_on(self):
        plant = Plant()
        finding = plant.leak(10)
        person = actor_at(plant.site)

        actions.approve(actor=person, at=NOW + DAY, deferral_id=wanted(finding, person).pk)

        finding.refresh_from_db()
        assert finding.status == "deferred"
        assert chain(finding) == [(NOW, None, 10.0, "found", "")]

    def test_of_ones_own_request_is_refused_for_a_safety_finding(self):
        plant = Plant()
        person = actor_at(plant.site)
        deferral = wanted(gas_leak(plant), person)

        with pytest.raises(actions.TwoPeopleRequired):
            actions.approve(actor=person, at=NOW + DAY, deferral_id=deferral.pk)

    def test_by_one_person_is_refused_by_the_database_itself(self):
        plant = Plant()
        person = actor_at(plant.site)
        deferral = wanted(gas_leak(plant), person)

        with pytest.raises(IntegrityError, match="deferral_safety_by_two_people"):
            Deferral.objects.filter(pk=deferral.pk).update(
                approved_by_id=person.user_id, approved_at=NOW + DAY
            )

    def test_by_a_second_person_stands(self):
        plant = Plant()
        finding = gas_leak(plant)
        deferral = wanted(finding, actor_at(plant.site, "technician"))

        actions.approve(actor=actor_at(plant.site), at=NOW + DAY, deferral_id=deferral.pk)

        finding.refresh_from_db()
        assert finding.status == "deferred"

    def test_by_a_key_is_refused_for_a_safety_finding(self):
        plant = Plant()
        deferral = wanted(gas_leak(plant), actor_at(plant.site, "technician"))
        key = replace(actor_at(plant.site), key_id=deferral.pk, kind="key")

        with pytest.raises(PersonRequired):
            actions.approve(actor=key, at=NOW + DAY, deferral_id=deferral.pk)

    def test_after_the_term_is_refused(self):
        plant = Plant()
        deferral = wanted(plant.leak(10), actor_at(plant.site))

        with pytest.raises(actions.DeferralDecided):
            actions.approve(actor=actor_at(plant.site), at=NOW + 20 * DAY, deferral_id=deferral.pk)

    def test_of_a_refused_one_is_refused(self):
        plant = Plant()
        person = actor_at(plant.site)
        deferral = wanted(plant.leak(10), person)
        actions.refuse(actor=person, at=NOW + DAY, deferral_id=deferral.pk, text="the kit is on the shelf")

        with pytest.raises(actions.DeferralDecided):
            actions.approve(actor=person, at=NOW + DAY, deferral_id=deferral.pk)

    def test_of_a_finding_that_was_repaired_meanwhile_is_refused(self):
        plant = Plant()
        finding, person = plant.leak(10), actor_at(plant.site)
        deferral = wanted(finding, person)
        register.report_repaired(actor=person, at=LATER, finding_id=finding.pk, repaired_at=NOW + DAY)

        with pytest.raises(actions.FindingNotOpen):
            actions.approve(actor=person, at=NOW + DAY, deferral_id=deferral.pk)

    def test_writes_one_entry_for_the_deferral_and_one_for_its_finding(self):
        plant = Plant()
        person = actor_at(plant.site)
        deferral = wanted(plant.leak(10), person)
        before = Entry.objects.count()

        actions.approve(actor=person, at=NOW + DAY, deferral_id=deferral.pk)

        acts = list(Entry.objects.order_by("sequence").values_list("act", flat=True)[before:])
        assert acts == ["deferral.approved", "finding.deferred"]


class TestTheEndOfTheTerm:
    def deferred(self, plant: Plant) -> Finding:
        """Return a finding deferred for twenty days."""
        finding, person = plant.leak(10), actor_at(plant.site)
        actions.approve(actor=person, at=NOW, deferral_id=wanted(finding, person).pk)
        return finding

    def test_is_judged_when_it_is_read_before_any_job_ran(self):
        self.deferred(Plant())

        assert queries.in_force(NOW + 20 * DAY - timedelta(seconds=1)).count() == 1
        assert queries.in_force(NOW + 20 * DAY).count() == 0

    def test_puts_the_finding_back_on_the_list(self):
        finding = self.deferred(Plant())

        counts = actions.end_lapsed(actor=JOB, at=NOW + 21 * DAY)

        finding.refresh_from_db()
        assert counts == {"ended": 1}
        assert finding.status == "open"

    def test_is_worked_through_once(self):
        self.deferred(Plant())
        actions.end_lapsed(actor=JOB, at=NOW + 21 * DAY)

        assert actions.end_lapsed(actor=JOB, at=NOW + 21 * DAY) == {"ended": 0}

    def test_leaves_a_repaired_finding_repaired(self):
        plant = Plant()
        finding = self.deferred(plant)
        register.report_repaired(
            actor=actor_at(plant.site), at=LATER, finding_id=finding.pk, repaired_at=NOW + DAY
        )

        actions.end_lapsed(actor=JOB, at=NOW + 21 * DAY)

        finding.refresh_from_db()
        assert finding.status == "repaired"

    def test_ends_a_wish_that_nobody_granted(self):
        plant = Plant()
        deferral = wanted(plant.leak(10), actor_at(plant.site))

        actions.end_lapsed(actor=JOB, at=NOW + 21 * DAY)

        deferral.refresh_from_db()
        assert deferral.ended_at is not None

    def test_leaves_room_for_another_request(self):
        plant = Plant()
        finding = self.deferred(plant)
        actions.end_lapsed(actor=JOB, at=NOW + 21 * DAY)

        again = wanted(finding, actor_at(plant.site), until_at=NOW + 60 * DAY)

        assert again.approved_at is None

    def test_before_it_comes_by_hand(self):
        plant = Plant()
        finding = self.deferred(plant)
        deferral = Deferral.objects.get()

        actions.end(actor=actor_at(plant.site), at=NOW + DAY, deferral_id=deferral.pk, text="parts came")

        finding.refresh_from_db()
        assert finding.status == "open"

    def test_after_a_repair_that_failed_does_not_block_a_new_request(self):
        plant = Plant()
        finding, person = self.deferred(plant), actor_at(plant.site)
        register.report_repaired(actor=person, at=LATER, finding_id=finding.pk, repaired_at=NOW + DAY)
        after = plant.take(level_db=40.0, taken_at=NOW + 2 * DAY)
        register.reject_repair(actor=person, at=LATER, finding_id=finding.pk, reading_id=after.reading.pk)

        assert wanted(finding, person).pk


class TestTheDoorsOfDeferrals:
    def body(self, finding: Finding) -> dict[str, str]:
        """Return a request that holds at the real clock."""
        return {
            "finding_id": str(finding.pk),
            "reason": "parts",
            "text": "the seal kit comes in two weeks",
            "until_at": "2199-01-01T00:00:00Z",
            "interim_measures": "fence and sign, checked each shift",
        }

    def test_show_where_a_deferral_stands_now(self):
        plant = Plant()
        deferral = wanted(plant.leak(10), actor_at(plant.site), until_at=NOW + timedelta(seconds=1))

        shown = api_as("planner", plant.site).get(f"/deferrals/{deferral.pk}").json()

        assert shown["state"] == "lapsed"

    def test_refuse_a_term_without_end(self):
        plant = Plant()

        answer = api_as("planner", plant.site).post("/deferrals", self.body(plant.leak(10)))

        assert (answer.status_code, answer.json()["errors"][0]["code"]) == (400, "too_long")

    def test_take_no_finding_of_another_site(self):
        plant, foreign = Plant(), Plant()

        answer = api_as("planner", plant.site).post("/deferrals", self.body(foreign.leak(10)))

        assert answer.json()["errors"][0]["pointer"] == "/finding_id"

    def test_let_only_those_grant_who_may(self):
        plant = Plant()
        deferral = wanted(plant.leak(10), actor_at(plant.site))

        statuses = [
            api_as(role, plant.site).post(f"/deferrals/{deferral.pk}/approval", version=1).status_code
            for role in ("inspector", "planner", "technician", "integrator")
        ]

        assert statuses == [403, 403, 403, 403]

    def test_let_no_key_grant_a_safety_deferral(self):
        plant, now = Plant(), timezone.now()
        person = actor_at(plant.site, "technician")
        deferral = wanted(gas_leak(plant), person, at=now, until_at=now + 20 * DAY)
        manager = member(plant.site, "manager")

        by_key = api_for(manager, ["view", "approve_deferral"]).post(
            f"/deferrals/{deferral.pk}/approval", version=1
        )
        in_person = api_for(manager).post(f"/deferrals/{deferral.pk}/approval", version=1)

        assert (by_key.status_code, by_key.json()["code"]) == (403, "person_required")
        assert (in_person.status_code, in_person.json()["state"]) == (200, "in_force")


def test_a_reading_of_a_deferred_finding_is_the_same_finding():
    plant = Plant()
    finding, person = plant.leak(10), actor_at(plant.site)
    actions.approve(actor=person, at=NOW, deferral_id=wanted(finding, person).pk)

    again = register.take_reading(
        actor=person,
        at=LATER,
        survey_id=plant.survey.pk,
        item=new_reading(plant.point, level_db=40.0, taken_at=NOW + DAY),
    )

    assert (again.finding, again.finding.status) == (finding, "deferred")
