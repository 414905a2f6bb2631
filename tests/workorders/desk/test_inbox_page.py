"""The inbox as a page: what is new first, who saw it, who takes it, and the calendars."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from tests.makers import NOW
from tests.workorders.desk.reader import content_of, reader_for, words_of
from tests.workorders.inbox.post import Crew, crew, told
from tests.workorders.scene import air_point, gas_heard, gas_point, heard, moved, ordered
from workorders.feeds.models import CalendarFeed
from workorders.inbox.models import Notice, Preference
from workorders.orders.rules import MoveName

pytestmark = pytest.mark.django_db
NO_QUIET = {"quiet_from_hour": "", "quiet_until_hour": ""}


def place(here: Crew, more: str = "") -> str:
    return f"/sites/{here.site.code}/inbox/{more}"


def danger() -> tuple[Crew, Client, Notice]:
    """Tell of a danger; return the planner's browser and notice."""
    here = crew()
    gas_heard(gas_point(here.site))
    told()
    return here, reader_for(here.planner), Notice.objects.get(user=here.planner)


class TestList:
    def test_says_what_happened_and_what_to_do(self) -> None:
        here, browser, notice = danger()

        page = content_of(browser.get(place(here)))

        assert "New. Danger: F-1" in page
        assert notice.news.headline in page
        assert notice.news.todo in page

    def test_counts_what_is_new_in_the_head_of_every_page(self) -> None:
        here, browser, _ = danger()

        assert "Inbox (1 new)" in words_of(browser.get(f"/sites/{here.site.code}/").content.decode())

    def test_shows_what_was_not_seen_before_what_was(self) -> None:
        here, browser, notice = danger()
        Notice.objects.filter(pk=notice.pk).update(seen_at=NOW)
        order = ordered(heard(air_point(here.site)))
        for name, proof in ((MoveName.WAIT, {"wait_reason": "parts"}), (MoveName.RESUME, {})):
            moved(order, name, **proof)
        told()

        page = content_of(browser.get(place(here)))

        assert page.index("waits no longer:") < page.index(notice.news.headline)

    def test_names_who_saw_it(self) -> None:
        here, browser, _ = danger()
        Notice.objects.filter(user=here.manager).update(seen_at=NOW)

        assert f"seen by {here.manager}" in content_of(browser.get(place(here)))

    def test_of_somebody_else_stays_theirs(self) -> None:
        here, _, _ = danger()

        assert "Danger." not in content_of(reader_for(here.technician).get(place(here)))

    def test_narrows_to_what_is_asked(self) -> None:
        here, browser, notice = danger()
        browser.post(f"/notices/{notice.pk}/taken/")

        assert notice.news.headline not in content_of(browser.get(place(here), {"which": "asking"}))


class TestAnswers:
    def test_taking_it_is_shown_to_the_others(self) -> None:
        here, browser, notice = danger()

        answer = browser.post(f"/notices/{notice.pk}/taken/")

        assert (answer.status_code, answer.headers["Location"]) == (302, place(here))
        assert "you see to it" in content_of(browser.get(place(here)))
        assert f"{here.planner} sees to it" in content_of(reader_for(here.manager).get(place(here)))

    def test_seeing_it_empties_the_count(self) -> None:
        here, browser, notice = danger()
        browser.post(f"/notices/{notice.pk}/seen/")

        assert "You have seen everything" in content_of(browser.get(place(here)))

    def test_all_are_seen_at_once(self) -> None:
        here, browser, _ = danger()
        browser.post(place(here, "seen/"))

        assert "You have seen everything" in content_of(browser.get(place(here)))

    def test_an_unknown_answer_is_not_found(self) -> None:
        _, browser, notice = danger()

        assert browser.post(f"/notices/{notice.pk}/eaten/").status_code == 404

    def test_of_anothers_notice_is_not_found(self) -> None:
        here, _, notice = danger()

        assert reader_for(here.manager).post(f"/notices/{notice.pk}/taken/").status_code == 404


class TestWishes:
    def test_are_kept(self) -> None:
        here = crew()
        given = {"version": 1, "mail": "at_once", "digest_hour": 9, **NO_QUIET}

        answer = reader_for(here.planner).post(place(here, "wishes/"), given)

        kept = Preference.objects.get(user=here.planner)
        assert answer.headers["Location"] == place(here, "#wishes")
        assert (kept.mail, kept.digest_hour, kept.quiet_from_hour) == ("at_once", 9, None)

    def test_of_half_quiet_hours_are_told_why_not(self) -> None:
        here = crew()
        given = {"version": 1, "mail": "daily", "digest_hour": 7, **NO_QUIET, "quiet_from_hour": 21}

        answer = reader_for(here.planner).post(place(here, "wishes/"), given)

        assert answer.status_code == 400
        assert "Quiet hours have a beginning and an end" in content_of(answer)


class TestCalendars:
    def test_show_the_address_once(self) -> None:
        here = crew()
        browser = reader_for(here.planner)

        answer = browser.post(place(here, "calendars/"), {"name": "Phone", "scope": "mine"})

        assert "/calendar/" in content_of(answer)
        assert answer.headers["Cache-Control"] == "no-store"
        assert "/calendar/" not in content_of(browser.get(place(here)))

    def test_are_renewed_and_revoked(self) -> None:
        here = crew()
        browser = reader_for(here.planner)
        first = browser.post(place(here, "calendars/"), {"name": "Phone", "scope": "mine"})
        path = re.search(r"/calendar/\S+\.ics", content_of(first))
        assert path is not None

        browser.post(f"/calendars/{CalendarFeed.objects.get().pk}/renew/")
        new = CalendarFeed.objects.get(revoked_at=None)
        browser.post(f"/calendars/{new.pk}/revoke/")

        assert Client().get(path[0]).status_code == 404
        assert not CalendarFeed.objects.filter(revoked_at=None).exists()

    def test_of_others_are_not_found(self) -> None:
        here = crew()
        reader_for(here.planner).post(place(here, "calendars/"), {"name": "Phone", "scope": "mine"})
        feed = CalendarFeed.objects.get()

        assert reader_for(here.manager).post(f"/calendars/{feed.pk}/revoke/").status_code == 404
