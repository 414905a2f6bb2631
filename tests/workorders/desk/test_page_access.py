"""Who sees which page: a log-in for all, one's own sites only, and the right that a page names."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from findings.plant.models import Membership, Site
from findings.register.models import Evidence
from plantcare.api.policy import SIGNED_IN
from plantcare.jobs.models import Stumble
from plantcare.web.pages import Page
from tests.makers import NOW, make_site
from tests.people import make_user, member
from tests.workorders.desk.reader import ROLES, content_of, reader, reader_for
from tests.workorders.scene import gas_heard, gas_point, ordered
from workorders.urls import page_urlpatterns

pytestmark = pytest.mark.django_db


@dataclass
class Plant:
    """A site with one of everything that has a page."""

    site: Site
    pages: dict[str, str]
    posts: dict[str, str]


def make_plant() -> Plant:
    site = make_site()
    finding = gas_heard(gas_point(site))
    order = ordered(finding)
    code = site.code
    pages = {
        "first page": reverse("site_desk", kwargs={"code": code}),
        "findings": reverse("desk_findings", kwargs={"code": code}),
        "finding": reverse("desk_finding", kwargs={"id": finding.pk}),
        "orders": reverse("desk_orders", kwargs={"code": code}),
        "order": reverse("desk_order", kwargs={"id": order.pk}),
        "surveys": reverse("desk_surveys", kwargs={"code": code}),
        "survey": reverse("desk_survey", kwargs={"id": finding_survey(finding)}),
        "months": reverse("desk_months", kwargs={"code": code}),
        "month": reverse("desk_month", kwargs={"code": code, "month": "2026-03"}),
        "csv": reverse("desk_months_csv", kwargs={"code": code}),
        "inbox": reverse("desk_inbox", kwargs={"code": code}),
        "jobs": reverse("desk_jobs", kwargs={"code": code}),
    }
    posts = {
        "move": reverse("desk_order_move", kwargs={"id": order.pk, "name": "start"}),
        "parked": reverse("desk_parked_taken_up", kwargs={"id": make_parked(site)}),
        "act": reverse("desk_finding_act", kwargs={"id": finding.pk, "name": "dismiss"}),
    }
    return Plant(site, pages, posts)


def make_parked(site: Site) -> uuid.UUID:
    return Stumble.objects.create(
        job="open_due_orders",
        site_id=site.pk,
        item_id=uuid.uuid4(),
        failures=5,
        reason="ValueError",
        first_at=NOW,
        last_at=NOW,
        parked_at=NOW,
    ).pk


def finding_survey(finding: Any) -> uuid.UUID:
    return Evidence.objects.get(finding=finding).reading.survey_id


WITHOUT_JOBS = {"inspector", "technician", "integrator"}


class TestPages:
    @pytest.mark.parametrize("role", ROLES)
    def test_open_for_every_role_and_name_the_right_where_it_is_missing(self, role: str) -> None:
        plant = make_plant()
        browser = reader(plant.site, role)

        answers = {name: browser.get(path).status_code for name, path in plant.pages.items()}

        refused = {name for name, status in answers.items() if status != 200}
        assert refused == ({"jobs"} if role in WITHOUT_JOBS else set())
        assert set(answers.values()) <= {200, 403}

    def test_ask_for_a_log_in_and_come_back_after_it(self) -> None:
        plant = make_plant()

        answers = {path: Client().get(path) for path in [*plant.pages.values(), "/"]}

        assert {path: (a.status_code, a.headers["Location"]) for path, a in answers.items()} == {
            path: (302, f"/login/?next={path}") for path in answers
        }

    def test_of_a_foreign_site_answer_like_unknown_ones(self) -> None:
        plant = make_plant()
        stranger = reader(make_site())
        unknown = content_of(stranger.get(f"/findings/{uuid.uuid4()}/"))

        answers = {name: stranger.get(path) for name, path in plant.pages.items()}

        assert {answer.status_code for answer in answers.values()} == {404}
        assert {content_of(answer) for answer in answers.values()} == {unknown}

    def test_of_a_foreign_site_take_no_post(self) -> None:
        plant = make_plant()
        stranger = reader(make_site())

        assert {stranger.post(path, {"version": 1}).status_code for path in plant.posts.values()} == {404}

    def test_show_nothing_to_somebody_without_a_role_even_a_superuser(self) -> None:
        plant = make_plant()
        browser = reader_for(make_user(is_superuser=True, is_staff=True))

        assert {browser.get(path).status_code for path in plant.pages.values()} == {404}
        assert "no role at any site" in content_of(browser.get("/"))

    def test_stay_closed_for_somebody_whose_role_ended(self) -> None:
        plant = make_plant()
        user = member(plant.site)

        Membership.objects.filter(user=user).update(ended_at="2026-03-01T00:00:00Z")

        assert reader_for(user).get(plant.pages["first page"]).status_code == 404

    def test_are_kept_by_no_shared_cache(self) -> None:
        plant = make_plant()

        answer = reader(plant.site).get(plant.pages["finding"])

        assert answer.headers["Cache-Control"] == "private, no-cache"

    def test_run_no_foreign_or_inline_code(self) -> None:
        plant = make_plant()
        browser = reader(plant.site)

        for path in plant.pages.values():
            answer = browser.get(path)
            body = answer.content.decode()
            assert "default-src 'self'" in answer.headers["Content-Security-Policy"]
            assert not any(mark in body for mark in ("<script", " style=", "javascript:", " onclick"))


class TestEveryPage:
    @pytest.mark.parametrize("pattern", page_urlpatterns, ids=lambda pattern: str(pattern.name))
    def test_names_a_need_for_each_method_it_answers(self, pattern: Any) -> None:
        view = pattern.callback.view_class

        assert issubclass(view, Page)
        answered = {
            name.upper()
            for name in view.http_method_names
            if name not in {"head", "options"} and hasattr(view, name)
        }
        assert answered <= set(view.needs)
        assert SIGNED_IN not in view.needs.values()


class TestFirstAddress:
    def test_leads_to_the_site_seen_last(self) -> None:
        one, other = make_site("AAA"), make_site("BBB")
        user = member(one)
        member(other, "inspector", user)
        browser = reader_for(user)

        first = browser.get("/").headers["Location"]
        browser.get("/sites/BBB/")

        assert (first, browser.get("/").headers["Location"]) == ("/sites/AAA/", "/sites/BBB/")

    def test_of_a_site_bears_any_code(self) -> None:
        site = make_site("A/1 ö")
        browser = reader(site)

        answer = browser.get("/", follow=True)

        assert answer.status_code == 200
        assert browser.get(reverse("desk_findings", kwargs={"code": site.code})).status_code == 200
