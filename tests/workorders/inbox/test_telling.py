"""People are told of what the logbook holds, once."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from findings.deferrals.actions import approve, request_deferral
from findings.deferrals.rules import DeferralReason
from findings.logbook.models import Entry
from plantcare.people.models import User
from tests.makers import NOW, make_point, make_site
from tests.people import actor_at, make_user, member
from tests.workorders.inbox.post import DAY, JOB, Crew, crew, heard_by, told
from tests.workorders.scene import (
    after_reading,
    air_point,
    at_once,
    gas_heard,
    gas_point,
    heard,
    judged,
    moved,
    ordered,
    repaired,
)
from workorders.clocks.actions import escalate
from workorders.inbox.models import News, Notice
from workorders.orders.actions import change_order
from workorders.orders.rules import MoveName
from workorders.verification.actions import verify

pytestmark = pytest.mark.django_db


def asked_to_wait(here: Crew, days: int = 5) -> object:
    """Ask to let a new finding wait."""
    return request_deferral(
        actor=here.act("planner"),
        at=NOW,
        finding_id=heard(air_point(here.site)).pk,
        reason=DeferralReason.PARTS,
        text="The seal is on order.",
        until_at=NOW + days * DAY,
    )


class TestWho:
    def test_an_order_is_told_to_whom_it_names(self) -> None:
        here = crew()
        ordered(heard(air_point(here.site)), assignee_id=here.technician.pk)

        told()

        assert heard_by(here.technician) == ["assigned"]

    def test_an_order_that_names_nobody_is_told_to_nobody(self) -> None:
        here = crew()
        ordered(heard(air_point(here.site)))

        assert told() == {"notices": 0, "mails": 0}

    def test_an_order_given_to_another_is_told_to_the_other(self) -> None:
        here = crew()
        order = ordered(heard(air_point(here.site)), assignee_id=here.technician.pk)
        other = member(here.site, "technician")
        change_order(actor=here.act("planner"), at=NOW, order_id=order.pk, assignee_id=other.pk)

        told()

        assert "assigned" in heard_by(other)

    def test_a_new_title_alone_is_no_news(self) -> None:
        here = crew()
        order = ordered(heard(air_point(here.site)), assignee_id=here.technician.pk)
        change_order(actor=here.act("planner"), at=NOW, order_id=order.pk, title="Another seal")

        told()

        assert heard_by(here.technician) == ["assigned"]

    def test_who_gives_an_order_to_oneself_is_not_told(self) -> None:
        here = crew()
        ordered(heard(air_point(here.site)), by=here.act("technician"), assignee_id=here.technician.pk)

        told()

        assert heard_by(here.technician) == []

    def test_a_danger_is_told_to_planner_and_manager(self) -> None:
        here = crew()
        gas_heard(gas_point(here.site))

        told()

        assert (heard_by(here.planner), heard_by(here.manager)) == (["safety_found"], ["safety_found"])

    def test_an_air_leak_rings_no_bell(self) -> None:
        here = crew()
        heard(air_point(here.site))

        assert told()["notices"] == 0

    def test_each_step_up_is_told_to_its_role(self) -> None:
        here = crew()
        gas_heard(gas_point(here.site))
        escalate(actor=JOB, at=NOW + 2 * DAY)

        told(NOW + 2 * DAY)

        assert heard_by(here.technician) == ["escalated"]
        assert heard_by(here.planner).count("escalated") == 1
        assert heard_by(here.manager).count("escalated") == 1

    def test_of_several_steps_at_once_the_highest_is_told(self) -> None:
        here = crew()
        gas_heard(gas_point(here.site))
        escalate(actor=JOB, at=NOW + 2 * DAY)

        told(NOW + 2 * DAY)

        notice = Notice.objects.get(user=here.planner, news__kind="escalated")
        assert notice.news.escalation is not None
        assert notice.news.escalation.step == 3

    def test_a_repair_that_failed_is_told_to_planner_and_repairer(self) -> None:
        here = crew()
        finding = heard(air_point(here.site))
        repaired(ordered(finding, assignee_id=here.technician.pk), by=here.act("technician"))
        reading = after_reading(
            finding, NOW + DAY, level_db=55.0, kind="pressure_leak", medium="compressed_air"
        )
        verify(
            actor=here.act("inspector"),
            at=NOW + DAY,
            finding_id=finding.pk,
            reading_id=reading.pk,
            rights=frozenset({"verify"}),  # type: ignore[arg-type]
        )

        told(NOW + DAY)

        assert heard_by(here.planner) == ["repair_failed"]
        assert "repair_failed" in heard_by(here.technician)

    def test_a_condition_that_got_worse_is_told_to_planner_and_manager(self) -> None:
        here = crew()
        point = make_point(here.site, method="contact")
        for hours, severity in enumerate((2, 4, 4, 3)):
            judged(point, NOW + timedelta(hours=hours), severity)

        told(NOW + timedelta(hours=4))

        assert heard_by(here.planner) == heard_by(here.manager) == ["worsened"]
        assert "went from 2 to 4 of 5" in News.objects.get().headline

    def test_an_order_that_waits_no_longer_is_told_to_the_planner(self) -> None:
        here = crew()
        order = ordered(heard(air_point(here.site)))
        moved(order, MoveName.WAIT, wait_reason="parts")
        moved(order, MoveName.RESUME)

        told()

        assert heard_by(here.planner) == ["resumed"]

    def test_a_wish_to_wait_is_told_to_the_manager_and_the_answer_to_who_asked(self) -> None:
        here = crew()
        deferral = asked_to_wait(here)
        approve(actor=here.act("manager"), at=NOW, deferral_id=deferral.pk)  # type: ignore[attr-defined]

        told()

        assert (heard_by(here.manager), heard_by(here.planner)) == (["deferral_asked"], ["deferral_answered"])

    def test_an_outside_system_has_no_inbox(self) -> None:
        here = crew()
        service = make_user(is_service=True)
        member(here.site, "manager", service)
        gas_heard(gas_point(here.site))

        told()

        assert heard_by(service) == []

    def test_who_left_the_site_hears_nothing(self) -> None:
        here = crew()
        User.objects.filter(pk=here.manager.pk).update(is_active=False)
        gas_heard(gas_point(here.site))

        told()

        assert heard_by(here.manager) == []


class TestDeferralEnding:
    def test_is_spoken_of_three_days_before_and_once(self) -> None:
        here = crew()
        deferral = asked_to_wait(here)
        approve(actor=here.act("manager"), at=NOW, deferral_id=deferral.pk)  # type: ignore[attr-defined]

        told(NOW + DAY)
        early = heard_by(here.planner).count("deferral_ending")
        for days in (2, 3):
            told(NOW + days * DAY)

        assert (early, heard_by(here.planner).count("deferral_ending")) == (0, 1)

    def test_stands_in_the_logbook_too(self) -> None:
        here = crew()
        deferral = asked_to_wait(here)
        approve(actor=here.act("manager"), at=NOW, deferral_id=deferral.pk)  # type: ignore[attr-defined]

        told(NOW + 3 * DAY)

        assert Entry.objects.filter(act="deferral.ending", subject_id=deferral.pk).count() == 1  # type: ignore[attr-defined]


class TestOnce:
    def test_a_second_run_tells_nobody_again(self) -> None:
        here = crew()
        gas_heard(gas_point(here.site))
        told()

        assert told()["notices"] == 0

    def test_an_act_of_long_ago_is_no_news(self) -> None:
        here = crew()
        gas_heard(gas_point(here.site))

        assert told(NOW + 20 * DAY)["notices"] == 0

    def test_goes_chunk_by_chunk_to_the_end(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr("workorders.inbox.actions.telling.CHUNK", 1)
        here = crew()
        for _ in range(3):
            gas_heard(gas_point(here.site))

        assert told()["notices"] == 6

    def test_keeps_to_the_sites_it_is_given(self) -> None:
        here = crew()
        gas_heard(gas_point(here.site))

        assert told(site_ids=[make_site().pk])["notices"] == 0

    def test_every_news_names_the_entry_that_it_comes_from(self) -> None:
        here = crew()
        gas_heard(gas_point(here.site))
        told()

        news = News.objects.get()

        entry = Entry.objects.get(site=here.site, sequence=news.sequence)
        assert (entry.act, entry.subject_id) == ("finding.opened", news.finding_id)


@pytest.mark.django_db(transaction=True)
class TestTwoRuns:
    def test_tell_nobody_twice(self) -> None:
        here = crew()
        for _ in range(3):
            gas_heard(gas_point(here.site))

        results = at_once(*[told] * 2)

        assert sum(result["notices"] for result in results) == Notice.objects.count() == 6


class TestLaws:
    def test_keep_every_notice(self) -> None:
        gas_heard(gas_point(crew().site))
        told()

        with pytest.raises(IntegrityError), transaction.atomic():
            Notice.objects.all().delete()

    def test_let_a_notice_be_seen_once(self) -> None:
        gas_heard(gas_point(crew().site))
        told()
        Notice.objects.update(seen_at=NOW)

        with pytest.raises(IntegrityError), transaction.atomic():
            Notice.objects.update(seen_at=NOW + DAY)

    def test_let_no_word_of_the_news_change(self) -> None:
        gas_heard(gas_point(crew().site))
        told()

        with pytest.raises(IntegrityError), transaction.atomic():
            News.objects.update(headline="Nothing happened.")

    def test_let_nobody_be_told_of_what_the_logbook_does_not_hold(self) -> None:
        site = crew().site
        heard(air_point(site), by=actor_at(site, "inspector"))

        News.objects.create(site=site, sequence=999_999, kind="assigned", headline="x", todo="y", at=NOW)

        with pytest.raises(IntegrityError):
            transaction.get_connection().check_constraints()
