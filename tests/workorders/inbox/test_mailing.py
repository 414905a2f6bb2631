"""What becomes a mail, and when."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from django.db import IntegrityError, transaction

from tests.makers import NOW
from tests.workorders.inbox.post import DAY, Crew, crew, mails_to, told, wish
from tests.workorders.scene import air_point, gas_heard, gas_point, heard, ordered
from workorders.inbox.models import Mail, Notice
from workorders.inbox.rules import MOST_SINGLE_MAILS

pytestmark = pytest.mark.django_db

MORNING = NOW + timedelta(hours=23)
"""A minute after the next seven o'clock in Berlin would do; an hour is as good."""


def given(here: Crew, count: int = 1, at: datetime = NOW) -> None:
    """Give the technician work orders."""
    for _ in range(count):
        ordered(heard(air_point(here.site), at), at=at, assignee_id=here.technician.pk)


class TestDaily:
    def test_comes_in_the_morning_with_everything(self) -> None:
        here = crew()
        given(here, 2)
        told()
        before = mails_to(here.technician)

        told(MORNING)

        [mail] = mails_to(here.technician)
        assert (before, mail.subject) == ([], f"{here.site.code}: 2 notices")

    def test_leaves_out_what_was_seen_meanwhile(self) -> None:
        here = crew()
        given(here)
        told()
        Notice.objects.update(seen_at=NOW)

        told(MORNING)

        assert mails_to(here.technician) == []

    def test_comes_once(self) -> None:
        here = crew()
        given(here)
        for days in range(4):
            told(NOW + days * DAY)

        assert len(mails_to(here.technician)) == 1

    def test_of_one_notice_says_it_in_the_subject(self) -> None:
        here = crew()
        given(here)
        told()

        told(MORNING)

        assert mails_to(here.technician)[0].subject.startswith(f"{here.site.code}: W-1 is yours:")


class TestAtOnce:
    def test_comes_with_the_notice(self) -> None:
        here = crew()
        wish(here.technician, here.site, mail="at_once")
        given(here)

        told()

        assert len(mails_to(here.technician)) == 1

    def test_comes_one_by_one_while_there_are_few(self) -> None:
        here = crew()
        wish(here.technician, here.site, mail="at_once")
        given(here, MOST_SINGLE_MAILS)

        told()

        assert len(mails_to(here.technician)) == MOST_SINGLE_MAILS

    def test_becomes_one_mail_in_a_flood(self) -> None:
        here = crew()
        wish(here.technician, here.site, mail="at_once")
        given(here, MOST_SINGLE_MAILS + 1)

        told()

        assert len(mails_to(here.technician)) == 1

    def test_waits_for_the_end_of_quiet_hours(self) -> None:
        here = crew()
        wish(here.technician, here.site, mail="at_once", quiet_from_hour=8, quiet_until_hour=12)
        given(here)
        told()
        before = mails_to(here.technician)

        told(NOW + timedelta(hours=4))

        assert (before, len(mails_to(here.technician))) == ([], 1)


class TestDanger:
    def test_is_written_of_at_once_in_a_mail_of_its_own(self) -> None:
        here = crew()
        for _ in range(MOST_SINGLE_MAILS + 1):
            gas_heard(gas_point(here.site))

        told()

        assert len(mails_to(here.manager)) == MOST_SINGLE_MAILS + 1

    def test_heeds_no_quiet_hours(self) -> None:
        here = crew()
        wish(here.manager, here.site, mail="at_once", quiet_from_hour=0, quiet_until_hour=23)
        gas_heard(gas_point(here.site))

        told()

        assert [mail.is_safety for mail in mails_to(here.manager)] == [True]

    def test_carries_its_caution_and_where_it_is_read(self, settings: object) -> None:
        settings.PLANTCARE_PUBLIC_URL = "https://plantcare.plant.example"  # type: ignore[attr-defined]
        here = crew()
        finding = gas_heard(gas_point(here.site))

        told()

        [mail] = mails_to(here.manager)
        assert "Keep flames, sparks, switches and telephones away" in mail.text
        assert f"https://plantcare.plant.example/findings/{finding.pk}/" in mail.text
        assert "never a clearance" in mail.text


class TestOff:
    def test_keeps_the_notice_and_writes_nothing(self) -> None:
        here = crew()
        wish(here.manager, here.site, mail="off")
        gas_heard(gas_point(here.site))

        told()

        assert (Notice.objects.filter(user=here.manager).count(), mails_to(here.manager)) == (1, [])


class TestWords:
    def test_escape_a_hostile_title_in_html_and_keep_it_in_text(self) -> None:
        here = crew()
        wish(here.technician, here.site, mail="at_once")
        title = "<script>alert(1)</script> & more"
        ordered(heard(air_point(here.site)), title=title, assignee_id=here.technician.pk)

        told()

        [mail] = mails_to(here.technician)
        assert ("<script>" in mail.html, title in mail.text) == (False, True)

    def test_let_no_title_make_a_header(self) -> None:
        here = crew()
        wish(here.technician, here.site, mail="at_once")
        title = "Seal\r\nBcc: everybody@plant.example"
        ordered(heard(air_point(here.site)), title=title, assignee_id=here.technician.pk)

        told()

        assert "\n" not in mails_to(here.technician)[0].subject

    def test_tell_no_key_and_no_calendar_address(self) -> None:
        here = crew()
        gas_heard(gas_point(here.site))

        told()

        assert not any(word in mail.text for mail in Mail.objects.all() for word in ("pc_", "/calendar/"))


class TestLaws:
    def test_keep_every_mail(self) -> None:
        gas_heard(gas_point(crew().site))
        told()

        with pytest.raises(IntegrityError), transaction.atomic():
            Mail.objects.all().delete()

    def test_let_no_mail_be_given_up_without_a_reason(self) -> None:
        gas_heard(gas_point(crew().site))
        told()

        with pytest.raises(IntegrityError), transaction.atomic():
            Mail.objects.update(state="parked", ended_at=NOW)

    def test_let_a_notice_be_mailed_once(self) -> None:
        here = crew()
        gas_heard(gas_point(here.site))
        told()
        other = mails_to(here.planner)[0]

        with pytest.raises(IntegrityError), transaction.atomic():
            Notice.objects.filter(user=here.manager).update(mail=other)
