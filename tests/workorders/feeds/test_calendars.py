"""What a calendar shows of the work, and how its secret address is kept."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.core.cache import cache
from django.db import IntegrityError, transaction
from django.test import Client
from icalendar import Calendar

from findings.deferrals.models import Deferral
from findings.logbook.models import Entry
from findings.plant.models import Membership, Site
from plantcare.people.models import User
from tests.makers import NOW, make_point, make_site, make_visit
from tests.people import actor, actor_at, member
from tests.workorders.scene import air_point, heard, moved, ordered
from workorders.feeds.actions import (
    FeedByKey,
    FeedRevoked,
    TooManyFeeds,
    make_feed,
    revoke_feed,
    rotate_feed,
)
from workorders.feeds.models import CalendarFeed
from workorders.feeds.rules import MOST_LIVE_FEEDS
from workorders.orders.models import WorkOrder
from workorders.orders.rules import MoveName

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def _clock(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Read every calendar a day after NOW, and count its readers anew."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW + DAY)
    cache.clear()
    yield
    cache.clear()


def made(site: Site, user: User | None = None, scope: str = "site") -> str:
    """Make a calendar and return its path."""
    user = user or member(site, "planner")
    _, address = make_feed(actor=actor(user), at=NOW, site_id=site.pk, scope=scope, name="Desk")
    return "/" + address.split("/", 3)[3]


def events(path: str) -> dict[str, Any]:
    """Read a calendar as a program does: its events by uid."""
    answer = Client().get(path)
    assert answer.status_code == 200, answer.content
    return {str(event["uid"]): event for event in Calendar.from_ical(answer.content).walk("VEVENT")}


def order_at(site: Site, **given: Any) -> WorkOrder:
    return ordered(heard(air_point(site)), **given)


def scheduled(order: WorkOrder, when: datetime, assignee: User) -> WorkOrder:
    return moved(order, MoveName.SCHEDULE, scheduled_for=when, assignee=assignee.pk)


class TestWhatASiteShows:
    def test_the_promised_time_of_an_open_order(self) -> None:
        order = order_at(make_site())

        event = events(made(order.site))[f"due-{order.pk}"]

        assert event["dtstart"].dt == order.due_at.replace(microsecond=0)
        assert str(event["summary"]) == f"{order} due: {order.title}"

    def test_when_an_order_is_to_be_done(self) -> None:
        order = order_at(make_site())
        scheduled(order, NOW + 3 * DAY, member(order.site, "technician"))

        event = events(made(order.site))[f"work-{order.pk}"]

        assert (event["dtstart"].dt, str(event["transp"])) == (NOW + 3 * DAY, "OPAQUE")

    def test_a_visit_as_a_whole_day(self) -> None:
        visit = make_visit(make_point(), due_on=date(2026, 3, 20))

        event = events(made(visit.site))[f"visit-{visit.pk}"]

        assert (event["dtstart"].dt, event["dtend"].dt) == (date(2026, 3, 20), date(2026, 3, 21))

    def test_what_was_taken_off_the_plan_as_cancelled(self) -> None:
        order = order_at(make_site())
        technician = member(order.site, "technician")
        scheduled(order, NOW + 3 * DAY, technician)
        path = made(order.site)
        before = events(path)[f"work-{order.pk}"]
        moved(order, MoveName.WAIT, wait_reason="parts")
        moved(order, MoveName.RESUME)

        after = events(path)[f"work-{order.pk}"]

        assert (str(before["status"]), str(after["status"])) == ("CONFIRMED", "CANCELLED")
        assert after["sequence"] > before["sequence"]

    def test_a_cancelled_order_as_cancelled(self) -> None:
        order = order_at(make_site())
        moved(order, MoveName.CANCEL, cancel_reason="duplicate")

        assert str(events(made(order.site))[f"due-{order.pk}"]["status"]) == "CANCELLED"

    def test_nothing_of_an_order_that_ended_long_ago(self) -> None:
        order = order_at(make_site())
        moved(order, MoveName.CANCEL, cancel_reason="duplicate")
        WorkOrder.objects.filter(pk=order.pk).update(ended_at=NOW + DAY - timedelta(days=31))

        assert events(made(order.site)) == {}

    def test_a_visit_that_was_dropped_as_cancelled(self) -> None:
        visit = make_visit(make_point(), state="dropped")

        assert str(events(made(visit.site))[f"visit-{visit.pk}"]["status"]) == "CANCELLED"

    def test_the_later_time_while_a_finding_may_wait_and_the_same_tomorrow(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        finding = heard()
        order = ordered(finding)
        user = member(order.site, "manager")
        Deferral.objects.create(
            site=order.site,
            finding=finding,
            is_safety=False,
            reason="parts",
            text="The seal is on order.",
            until_at=NOW + 10 * DAY,
            requested_by=member(order.site, "planner"),
            requested_at=NOW,
            approved_by=user,
            approved_at=NOW,
        )
        path = made(order.site)

        shown = []
        for days in (1, 2):
            monkeypatch.setattr("django.utils.timezone.now", lambda days=days: NOW + days * DAY)
            shown.append(events(path)[f"due-{order.pk}"]["dtstart"].dt)

        assert shown == [order.due_at.replace(microsecond=0) + 10 * DAY] * 2

    def test_the_time_before_a_wait_of_which_nobody_knows_the_end(self) -> None:
        order = moved(order_at(make_site()), MoveName.WAIT, wait_reason="parts")

        event = events(made(order.site))[f"due-{order.pk}"]

        assert event["dtstart"].dt == order.due_at

    def test_nothing_of_another_site(self) -> None:
        order_at(make_site())

        assert events(made(make_site())) == {}

    def test_a_hostile_title_as_one_event(self) -> None:
        title = "Seal\r\nEND:VEVENT\r\nBEGIN:VEVENT\r\nSUMMARY:planted"
        order = order_at(make_site(), title=title)

        assert list(events(made(order.site))) == [f"due-{order.pk}"]


class TestWhatIsMine:
    def test_only_the_orders_that_name_me(self) -> None:
        site = make_site()
        technician = member(site, "technician")
        mine, _ = order_at(site, assignee_id=technician.pk), order_at(site)

        assert list(events(made(site, technician, "mine"))) == [f"due-{mine.pk}"]

    def test_work_that_went_to_another_as_cancelled(self) -> None:
        site = make_site()
        first, second = member(site, "technician"), member(site, "technician")
        order = scheduled(order_at(site), NOW + 3 * DAY, first)
        scheduled(order, NOW + 4 * DAY, second)

        assert str(events(made(site, first, "mine"))[f"work-{order.pk}"]["status"]) == "CANCELLED"
        assert str(events(made(site, second, "mine"))[f"work-{order.pk}"]["status"]) == "CONFIRMED"

    @pytest.mark.parametrize(("role", "shown"), [("inspector", 1), ("technician", 0)])
    def test_visits_for_who_walks(self, role: str, shown: int) -> None:
        visit = make_visit(make_point())

        assert len(events(made(visit.site, member(visit.site, role), "mine"))) == shown


class TestAddress:
    def test_is_kept_as_a_digest_only(self) -> None:
        path = made(make_site())
        secret = path.rpartition("_")[2].removesuffix(".ics")

        kept = CalendarFeed.objects.get()

        assert secret not in f"{kept.prefix} {kept.name} {bytes(kept.digest).hex()}"
        assert secret not in str(list(Entry.objects.values_list("detail", flat=True)))

    def test_reads_as_a_calendar_without_a_log_in(self) -> None:
        answer = Client().get(made(make_site()))

        assert answer.headers["Content-Type"] == "text/calendar; charset=utf-8"

    def test_reaches_no_other_site_and_no_index(self) -> None:
        headers = Client().get(made(make_site())).headers

        assert headers["Referrer-Policy"] == "no-referrer"
        assert headers["X-Robots-Tag"] == "noindex, nofollow"
        assert headers["Cache-Control"] == "private, no-cache"

    def test_answers_that_the_readers_copy_still_holds(self) -> None:
        path = made(order_at(make_site()).site)
        etag = Client().get(path).headers["ETag"]

        answer = Client().get(path, headers={"If-None-Match": etag})

        assert (answer.status_code, answer.content) == (304, b"")

    def test_answers_anew_after_an_act(self) -> None:
        order = order_at(make_site())
        path = made(order.site)
        etag = Client().get(path).headers["ETag"]
        scheduled(order, NOW + 3 * DAY, member(order.site, "technician"))

        assert Client().get(path, headers={"If-None-Match": etag}).status_code == 200

    def test_answers_alike_whatever_is_wrong_with_it(self) -> None:
        path = made(make_site())
        feed = CalendarFeed.objects.get()
        wrong = [
            f"/calendar/{feed.prefix}_{'x' * 43}.ics",
            "/calendar/00000000_nothing.ics",
            "/calendar/nothing.ics",
            "/calendar/_.ics",
        ]
        revoke_feed(actor=actor(feed.user), at=NOW, feed_id=feed.pk)

        answers = {(a.status_code, a.content) for a in map(Client().get, [path, *wrong])}

        assert answers == {(404, b"Not found.")}

    @pytest.mark.parametrize("gone", ["role", "account"])
    def test_ends_with_the_right_to_see_the_site(self, gone: str) -> None:
        site = make_site()
        user = member(site, "planner")
        path = made(site, user)
        if gone == "role":
            Membership.objects.filter(user=user).update(ended_at=NOW)
        else:
            User.objects.filter(pk=user.pk).update(is_active=False)

        assert Client().get(path).status_code == 404

    def test_takes_reads_only(self) -> None:
        assert Client().post(made(make_site())).status_code == 405

    def test_is_answered_so_often_and_no_more(self, settings: Any) -> None:
        rates = {**settings.REST_FRAMEWORK["DEFAULT_THROTTLE_RATES"], "calendar": "2/d"}
        settings.REST_FRAMEWORK = {**settings.REST_FRAMEWORK, "DEFAULT_THROTTLE_RATES": rates}
        path = made(make_site())

        answers = [Client().get(path) for _ in range(3)]

        assert [answer.status_code for answer in answers] == [200, 200, 429]
        assert int(answers[-1].headers["Retry-After"]) > 0

    def test_is_not_shut_by_somebody_who_guesses_from_the_same_place(self, settings: Any) -> None:
        rates = {**settings.REST_FRAMEWORK["DEFAULT_THROTTLE_RATES"], "calendar": "2/d"}
        settings.REST_FRAMEWORK = {**settings.REST_FRAMEWORK, "DEFAULT_THROTTLE_RATES": rates}
        path = made(make_site())

        guesses = [Client().get("/calendar/00000000_guess.ics").status_code for _ in range(3)]

        assert (guesses, Client().get(path).status_code) == ([404, 404, 429], 200)


class TestActs:
    def test_a_new_address_ends_the_old_one(self) -> None:
        path = made(make_site())
        feed = CalendarFeed.objects.get()

        _, address = rotate_feed(actor=actor(feed.user), at=NOW, feed_id=feed.pk)

        new = "/" + address.split("/", 3)[3]
        assert [Client().get(one).status_code for one in (path, new)] == [404, 200]

    def test_a_revoked_one_gets_no_new_address(self) -> None:
        made(make_site())
        feed = CalendarFeed.objects.get()
        revoke_feed(actor=actor(feed.user), at=NOW, feed_id=feed.pk)

        with pytest.raises(FeedRevoked):
            rotate_feed(actor=actor(feed.user), at=NOW, feed_id=feed.pk)

    def test_revoking_twice_is_one_entry(self) -> None:
        made(make_site())
        feed = CalendarFeed.objects.get()
        for _ in range(2):
            revoke_feed(actor=actor(feed.user), at=NOW, feed_id=feed.pk)

        assert Entry.objects.filter(act="calendar_feed.revoked").count() == 1

    def test_a_job_has_no_calendar(self) -> None:
        site = make_site()
        job = actor_at(site).job("x")

        with pytest.raises(FeedByKey):
            make_feed(actor=job, at=NOW, site_id=site.pk, scope="mine", name="x")

    def test_there_are_only_so_many(self) -> None:
        site = make_site()
        user = member(site, "planner")
        for _ in range(MOST_LIVE_FEEDS):
            made(site, user)

        with pytest.raises(TooManyFeeds):
            made(site, user)

    def test_nobody_takes_a_revocation_back(self) -> None:
        made(make_site())
        CalendarFeed.objects.update(revoked_at=NOW)

        with pytest.raises(IntegrityError), transaction.atomic():
            CalendarFeed.objects.update(revoked_at=None)
