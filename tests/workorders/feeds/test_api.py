"""The doors of calendars."""

from __future__ import annotations

import pytest
from django.test import Client

from findings.plant.models import Site
from plantcare.people.models import User
from tests.makers import make_site
from tests.people import api_for, member
from workorders.feeds.models import CalendarFeed

pytestmark = pytest.mark.django_db


def somebody() -> tuple[Site, User]:
    site = make_site()
    return site, member(site, "technician")


def made(site: Site, user: User) -> dict[str, str]:
    body = {"site_id": str(site.pk), "scope": "mine", "name": "Phone"}
    answer = api_for(user).post("/calendar-feeds", body, key="")
    assert answer.status_code == 201, answer.data
    assert answer.headers["Cache-Control"] == "no-store"
    return dict(answer.data)


class TestCalendarFeeds:
    def test_tell_the_address_once(self) -> None:
        site, user = somebody()

        told = made(site, user)

        [row] = api_for(user).get("/calendar-feeds").data["results"]
        assert told["address"].endswith(".ics")
        assert (row["id"], row["address"]) == (told["id"], None)

    def test_are_not_made_by_a_key(self) -> None:
        site, user = somebody()
        body = {"site_id": str(site.pk), "scope": "mine", "name": "Phone"}

        answer = api_for(user, ["view"]).post("/calendar-feeds", body, key="")

        assert (answer.status_code, answer.json()["code"]) == (403, "calendar_feed_by_key")

    def test_get_a_new_address(self) -> None:
        site, user = somebody()
        told = made(site, user)

        answer = api_for(user).post(f"/calendar-feeds/{told['id']}/rotation", key="")

        old, new = ("/" + one["address"].split("/", 3)[3] for one in (told, answer.data))
        assert [Client().get(path).status_code for path in (old, new)] == [404, 200]

    def test_are_revoked(self) -> None:
        site, user = somebody()
        told = made(site, user)

        answer = api_for(user).post(f"/calendar-feeds/{told['id']}/revocation")

        assert answer.data["revoked_at"] is not None
        assert CalendarFeed.objects.get().revoked_at is not None

    def test_of_others_answer_like_unknown_ones(self) -> None:
        site, user = somebody()
        told = made(site, user)

        answer = api_for(member(site, "manager")).post(f"/calendar-feeds/{told['id']}/revocation")

        assert answer.status_code == 404
