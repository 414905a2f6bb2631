"""The doors of notices, wishes and mails."""

from __future__ import annotations

import pytest

from tests.makers import NOW
from tests.people import api_for
from tests.workorders.inbox.post import Crew, crew, told
from tests.workorders.scene import gas_heard, gas_point
from workorders.inbox.models import Mail, Notice

pytestmark = pytest.mark.django_db


def danger() -> Crew:
    here = crew()
    gas_heard(gas_point(here.site))
    told()
    return here


class TestNotices:
    def test_are_the_callers_own(self) -> None:
        here = danger()

        [row] = api_for(here.planner).get("/notices").data["results"]

        assert row["id"] == str(Notice.objects.get(user=here.planner).pk)
        assert (row["kind"], row["is_safety"], row["seen_at"]) == ("safety_found", True, None)

    def test_name_the_entry_of_the_logbook(self) -> None:
        here = danger()

        [row] = api_for(here.planner).get("/notices").data["results"]

        entries = api_for(here.planner).get("/logbook-entries", site_id=str(here.site.pk)).data["results"]
        assert row["logbook_sequence"] in {entry["sequence"] for entry in entries}

    @pytest.mark.parametrize(("query", "count"), [({"seen": "true"}, 0), ({"seen": "false"}, 1)])
    def test_are_narrowed_by_seen(self, query: dict[str, str], count: int) -> None:
        here = danger()

        assert len(api_for(here.planner).get("/notices", **query).data["results"]) == count

    @pytest.mark.parametrize(("query", "count"), [({"taken": "true"}, 1), ({"taken": "false"}, 0)])
    def test_are_narrowed_by_taken(self, query: dict[str, str], count: int) -> None:
        here = danger()
        mine = Notice.objects.get(user=here.planner)
        api_for(here.planner).post(f"/notices/{mine.pk}/take")

        assert len(api_for(here.manager).get("/notices", **query).data["results"]) == count

    def test_of_others_answer_like_unknown_ones(self) -> None:
        here = danger()
        theirs = Notice.objects.get(user=here.manager)

        answers = [
            api_for(here.planner).get(f"/notices/{theirs.pk}").status_code,
            api_for(here.planner).post(f"/notices/{theirs.pk}/seen").status_code,
            api_for(here.planner).post(f"/notices/{theirs.pk}/take").status_code,
        ]

        assert answers == [404, 404, 404]

    def test_are_seen(self) -> None:
        here = danger()
        mine = Notice.objects.get(user=here.planner)

        answer = api_for(here.planner).post(f"/notices/{mine.pk}/seen")

        assert (answer.status_code, answer.data["seen_at"] is None) == (200, False)

    def test_are_taken_by_one_whom_the_others_see(self) -> None:
        here = danger()
        mine = Notice.objects.get(user=here.planner)
        api_for(here.planner).post(f"/notices/{mine.pk}/take")

        [row] = api_for(here.manager).get("/notices").data["results"]

        assert row["taken_by_id"] == str(here.planner.public_id)

    def test_are_taken_once(self) -> None:
        here = danger()
        mine, theirs = Notice.objects.get(user=here.planner), Notice.objects.get(user=here.manager)
        api_for(here.planner).post(f"/notices/{mine.pk}/take")

        answer = api_for(here.manager).post(f"/notices/{theirs.pk}/take")

        assert (answer.status_code, answer.json()["code"]) == (409, "notice_taken")


class TestPreference:
    def test_is_the_usual_until_chosen(self) -> None:
        here = crew()

        answer = api_for(here.planner).get(f"/sites/{here.site.pk}/notice-preference")

        assert (answer.data["mail"], answer.data["digest_hour"], answer.data["version"]) == ("daily", 7, 1)

    def test_is_changed_from_the_version_that_was_read(self) -> None:
        here = crew()
        api, path = api_for(here.planner), f"/sites/{here.site.pk}/notice-preference"

        changed = api.patch(path, {"mail": "at_once"}, version=1)
        stale = api.patch(path, {"mail": "off"}, version=1)

        assert (changed.data["mail"], changed.data["version"], stale.status_code) == ("at_once", 2, 412)

    def test_refuses_an_hour_that_no_day_has(self) -> None:
        here = crew()

        answer = api_for(here.planner).patch(
            f"/sites/{here.site.pk}/notice-preference", {"digest_hour": 24}, version=1
        )

        assert answer.status_code == 400


class TestMails:
    def test_are_listed_without_their_words(self) -> None:
        here = danger()

        rows = api_for(here.planner).get("/mails", state="waiting").data["results"]

        assert len(rows) == 2
        assert {"text", "html", "subject"} & set(rows[0]) == set()

    def test_that_were_given_up_are_taken_up_again(self) -> None:
        here = danger()
        mail = Mail.objects.get(user=here.manager)
        Mail.objects.filter(pk=mail.pk).update(state="parked", last_error="550", ended_at=NOW)

        answer = api_for(here.planner).post(f"/mails/{mail.pk}/retry")

        assert (answer.status_code, answer.data["state"], answer.data["attempts"]) == (200, "waiting", 0)

    def test_that_wait_are_not(self) -> None:
        here = danger()

        answer = api_for(here.planner).post(f"/mails/{Mail.objects.get(user=here.manager).pk}/retry")

        assert (answer.status_code, answer.json()["code"]) == (409, "mail_not_parked")
