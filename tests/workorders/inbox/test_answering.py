"""What people do with their notices, and how they choose to hear."""

from __future__ import annotations

import pytest

from findings.logbook.models import Entry
from findings.plant.rules import Role, rights_of
from plantcare.api.problems import NotFound, PreconditionFailed
from tests.makers import NOW
from tests.people import actor, make_user
from tests.workorders.inbox.post import DAY, JOB, Crew, crew, told
from tests.workorders.scene import EVERY_RIGHT, air_point, at_once, gas_heard, gas_point, heard, ordered
from workorders.clocks.actions import EscalationTaken, escalate
from workorders.clocks.models import Escalation
from workorders.inbox.actions import (
    NothingAsked,
    NoticeTaken,
    PersonNeeded,
    QuietHoursHalf,
    choose,
    mark_seen,
    see_all,
    take,
)
from workorders.inbox.models import News, Notice, Preference

pytestmark = pytest.mark.django_db


def danger() -> tuple[Crew, Notice, Notice]:
    """Tell of a danger; return the planner's notice and the manager's."""
    here = crew()
    gas_heard(gas_point(here.site))
    told()
    return here, Notice.objects.get(user=here.planner), Notice.objects.get(user=here.manager)


class TestSeen:
    def test_is_kept_with_when_for_the_one_who_saw(self) -> None:
        here, mine, theirs = danger()

        assert mark_seen(actor=here.act("planner"), at=NOW, notice_ids=[mine.pk]) == 1

        mine.refresh_from_db()
        theirs.refresh_from_db()
        assert (mine.seen_at, theirs.seen_at) == (NOW, None)

    def test_twice_changes_nothing(self) -> None:
        here, mine, _ = danger()
        for days in (0, 1):
            mark_seen(actor=here.act("planner"), at=NOW + days * DAY, notice_ids=[mine.pk])

        mine.refresh_from_db()
        assert mine.seen_at == NOW

    def test_is_never_said_for_another(self) -> None:
        here, _, theirs = danger()

        assert mark_seen(actor=here.act("planner"), at=NOW, notice_ids=[theirs.pk]) == 0

    def test_of_all_leaves_what_came_later(self) -> None:
        here, _, _ = danger()
        gas_heard(gas_point(here.site), NOW + DAY)
        told(NOW + DAY)

        assert see_all(actor=here.act("planner"), at=NOW, site_id=here.site.pk) == 1

    def test_is_nothing_that_a_job_can_say(self) -> None:
        _, mine, _ = danger()

        with pytest.raises(PersonNeeded):
            mark_seen(actor=JOB, at=NOW, notice_ids=[mine.pk])


class TestTake:
    def test_is_kept_with_who_and_when_for_everybody(self) -> None:
        here, mine, theirs = danger()

        take(actor=here.act("planner"), at=NOW, notice_id=mine.pk, rights=EVERY_RIGHT)

        news = News.objects.get(pk=theirs.news_id)
        assert (news.taken_by, news.taken_at) == (here.planner, NOW)

    def test_has_seen_it(self) -> None:
        here, mine, _ = danger()

        notice = take(actor=here.act("planner"), at=NOW, notice_id=mine.pk, rights=EVERY_RIGHT)

        assert notice.seen_at == NOW

    def test_writes_one_entry(self) -> None:
        here, mine, _ = danger()
        take(actor=here.act("planner"), at=NOW, notice_id=mine.pk, rights=EVERY_RIGHT)

        entry = Entry.objects.get(act="notice.taken")

        assert (entry.subject_kind, entry.user_id) == ("finding", here.planner.pk)

    def test_is_refused_the_second_time_naming_the_first(self) -> None:
        here, mine, theirs = danger()
        take(actor=here.act("planner"), at=NOW, notice_id=mine.pk, rights=EVERY_RIGHT)

        with pytest.raises(NoticeTaken, match=str(here.planner)):
            take(actor=here.act("manager"), at=NOW, notice_id=theirs.pk, rights=EVERY_RIGHT)

    def test_of_somebody_elses_notice_is_of_none(self) -> None:
        here, _, theirs = danger()

        with pytest.raises(NotFound):
            take(actor=here.act("planner"), at=NOW, notice_id=theirs.pk, rights=EVERY_RIGHT)

    def test_is_for_what_asks_something(self) -> None:
        here, _, _ = danger()
        quiet = News.objects.create(
            site=here.site,
            sequence=1,
            kind="month_closed",
            headline="February 2026 is closed.",
            todo="Read it.",
            at=NOW,
        )
        notice = Notice.objects.create(site=here.site, news=quiet, user=here.planner, at=NOW)

        with pytest.raises(NothingAsked):
            take(actor=here.act("planner"), at=NOW, notice_id=notice.pk, rights=EVERY_RIGHT)

    def test_of_a_step_up_takes_the_step_itself(self) -> None:
        here = crew()
        order = ordered(heard(air_point(here.site)))
        escalate(actor=JOB, at=NOW + (order.due_at - NOW) * 0.6)
        told(NOW + (order.due_at - NOW) * 0.6)
        mine = Notice.objects.get(user=here.technician)

        notice = take(
            actor=here.act("technician"), at=NOW, notice_id=mine.pk, rights=rights_of([Role.TECHNICIAN])
        )

        step = Escalation.objects.get()
        assert (step.taken_by, notice.taker, notice.news_taken_at) == (here.technician, here.technician, NOW)

    def test_of_a_step_up_that_was_taken_elsewhere_is_refused(self) -> None:
        here = crew()
        order = ordered(heard(air_point(here.site)))
        escalate(actor=JOB, at=NOW + (order.due_at - NOW) * 0.6)
        told(NOW + (order.due_at - NOW) * 0.6)
        Escalation.objects.update(taken_by=here.manager, taken_at=NOW)
        mine = Notice.objects.get(user=here.technician)

        with pytest.raises(EscalationTaken):
            take(actor=here.act("technician"), at=NOW, notice_id=mine.pk, rights=EVERY_RIGHT)


@pytest.mark.django_db(transaction=True)
def test_two_who_take_it_at_once_are_one_who_took_it() -> None:
    here, mine, theirs = danger()

    results = at_once(
        lambda: take(actor=here.act("planner"), at=NOW, notice_id=mine.pk, rights=EVERY_RIGHT),
        lambda: take(actor=here.act("manager"), at=NOW, notice_id=theirs.pk, rights=EVERY_RIGHT),
    )

    assert sorted(isinstance(result, NoticeTaken) for result in results) == [False, True]


class TestChoose:
    def test_keeps_what_was_chosen_and_raises_the_version(self) -> None:
        here = crew()

        row = choose(actor=here.act("planner"), at=NOW, site_id=here.site.pk, mail="off", digest_hour=9)

        assert (row.mail, row.digest_hour, row.version) == ("off", 9, 2)

    def test_of_the_same_writes_nothing(self) -> None:
        here = crew()
        for _ in range(2):
            choose(actor=here.act("planner"), at=NOW, site_id=here.site.pk, mail="off")

        assert Entry.objects.filter(act="preference.changed").count() == 1

    def test_from_an_old_version_is_refused(self) -> None:
        here = crew()
        choose(actor=here.act("planner"), at=NOW, site_id=here.site.pk, mail="off")

        with pytest.raises(PreconditionFailed):
            choose(actor=here.act("planner"), at=NOW, site_id=here.site.pk, version=1, mail="daily")

    def test_of_half_quiet_hours_is_refused(self) -> None:
        here = crew()

        with pytest.raises(QuietHoursHalf):
            choose(actor=here.act("planner"), at=NOW, site_id=here.site.pk, quiet_from_hour=None)

    def test_is_ones_own(self) -> None:
        here = crew()
        choose(actor=here.act("planner"), at=NOW, site_id=here.site.pk, mail="off")

        choose(actor=actor(make_user()), at=NOW, site_id=here.site.pk, mail="at_once")

        assert Preference.objects.get(user=here.planner).mail == "off"
