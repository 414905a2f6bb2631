"""Working calendars as the outside sees them."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import DatabaseError, transaction

from findings.logbook.models import Entry
from findings.plant.models import Site
from tests.makers import make_site, make_site_day, make_working_week
from tests.people import api_for, member
from workorders.calendars.models import SiteDay, WorkingWeek

NIGHT = {"days": ["mon", "tue"], "start": "22:00", "end": "06:00"}


def week_body(site: Site, **values: Any) -> dict[str, Any]:
    """The body of a new week."""
    given = {
        "site_id": str(site.pk),
        "from_on": "2026-01-01",
        "shifts": [NIGHT],
        "country": "DE",
        "subdivision": "BW",
        "known_until_on": "2026-12-31",
        "source": "shift plan",
    }
    return {**given, **values}


def day_body(site: Site, **values: Any) -> dict[str, Any]:
    """The body of a new shutdown."""
    given = {
        "site_id": str(site.pk),
        "kind": "shutdown",
        "first_on": "2026-08-03",
        "last_on": "2026-08-16",
        "name": "summer",
        "source": "works calendar",
    }
    return {**given, **values}


@pytest.mark.django_db
class TestWorkingWeek:
    def test_is_kept_as_it_was_given(self) -> None:
        site = make_site()

        answer = api_for(member(site, "planner")).post("/working-weeks", week_body(site))

        assert (answer.status_code, answer.json()["shifts"], answer.json()["country"]) == (201, [NIGHT], "DE")

    @pytest.mark.parametrize(
        ("values", "where"),
        [
            ({"country": "ZZ"}, "/country"),
            ({"subdivision": "ZZ"}, "/subdivision"),
            ({"known_until_on": "2025-12-31"}, "/known_until_on"),
            ({"shifts": [{**NIGHT, "end": "22:00"}]}, "/shifts/0/end"),
            ({"shifts": []}, "/shifts"),
            ({"source": " "}, "/source"),
        ],
    )
    def test_is_refused_where_it_cannot_be(self, values: dict[str, Any], where: str) -> None:
        site = make_site()

        answer = api_for(member(site, "planner")).post("/working-weeks", week_body(site, **values))

        assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (400, where)

    def test_of_one_day_is_one(self) -> None:
        site = make_site()
        api = api_for(member(site, "planner"))
        api.post("/working-weeks", week_body(site))

        assert api.post("/working-weeks", week_body(site)).json()["code"] == "working_week_dated"

    def test_is_voided_once(self) -> None:
        week = make_working_week()
        api = api_for(member(week.site, "planner"))
        path, why = f"/working-weeks/{week.pk}/void", {"reason": "typed wrong"}

        assert [api.post(path, why).status_code, api.post(path, why).status_code] == [200, 409]

    def test_leaves_one_entry_in_the_logbook(self) -> None:
        site = make_site()
        api_for(member(site, "planner")).post("/working-weeks", week_body(site))

        assert list(Entry.objects.filter(site=site).values_list("act", flat=True)) == ["working_week.set"]

    def test_is_never_rewritten(self) -> None:
        make_working_week()

        with pytest.raises(DatabaseError, match="only added"), transaction.atomic():
            WorkingWeek.objects.update(source="other")


@pytest.mark.django_db
class TestSiteDay:
    def test_says_a_shutdown_with_its_name(self) -> None:
        site = make_site()

        answer = api_for(member(site, "planner")).post("/site-days", day_body(site))

        assert (answer.status_code, answer.json()["name"]) == (201, "summer")

    @pytest.mark.parametrize(
        ("values", "where"),
        [
            ({"last_on": "2026-08-02"}, "/last_on"),
            ({"last_on": "2027-08-04"}, "/last_on"),
            ({"shifts": [NIGHT]}, "/shifts"),
            ({"name": " "}, "/name"),
        ],
    )
    def test_is_refused_where_it_cannot_be(self, values: dict[str, Any], where: str) -> None:
        site = make_site()

        answer = api_for(member(site, "planner")).post("/site-days", day_body(site, **values))

        assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (400, where)

    def test_is_never_rewritten(self) -> None:
        make_site_day()

        with pytest.raises(DatabaseError, match="only added"), transaction.atomic():
            SiteDay.objects.update(name="other")


@pytest.mark.django_db
class TestYear:
    def year(self, site: Site, year: int) -> dict[str, Any]:
        answer = api_for(member(site, "inspector")).get(f"/sites/{site.pk}/working-calendar", year=year)
        assert answer.status_code == 200, answer.json()
        body: dict[str, Any] = answer.json()
        return body

    def test_lists_what_is_counted_and_where_it_comes_from(self) -> None:
        week = make_working_week()
        make_site_day(week.site)

        days = self.year(week.site, 2026)["days"]

        # Twelve by law in Baden-Württemberg, fourteen of the shutdown, none of which is both in 2026.
        assert (len(days), {day["source"].partition(",")[0] for day in days}) == (
            26,
            {"public holidays of DE-BW", "the site's own days"},
        )

    def test_a_voided_row_is_not_counted(self) -> None:
        week = make_working_week()
        day = make_site_day(week.site)
        api_for(member(week.site, "planner")).post(f"/site-days/{day.pk}/void", {"reason": "put off"})

        assert len(self.year(week.site, 2026)["days"]) == 12

    def test_warns_when_the_knowledge_ends(self) -> None:
        week = make_working_week()

        assert [one["code"] for one in self.year(week.site, 2028)["warnings"]] == ["days_unknown"]

    def test_warns_where_no_week_is_recorded(self) -> None:
        assert [one["code"] for one in self.year(make_site(), 2026)["warnings"]] == ["week_assumed"]
