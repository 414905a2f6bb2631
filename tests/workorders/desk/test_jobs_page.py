"""The page of jobs: how each stands, and what is parked, with a button to take it up again."""

from __future__ import annotations

import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from findings.plant.models import Site
from plantcare.api.actor import Actor
from plantcare.jobs.actions import run_job
from plantcare.jobs.models import Stumble
from tests.makers import NOW, make_site
from tests.workorders.desk.reader import content_of, reader

pytestmark = pytest.mark.django_db


def make_parked(site: Site) -> Stumble:
    return Stumble.objects.create(
        job="open_due_orders",
        site_id=site.pk,
        item_id=uuid.uuid4(),
        failures=5,
        reason="ValueError",
        first_at=NOW,
        last_at=NOW,
        parked_at=NOW,
    )


def page(site: Site) -> str:
    return content_of(reader(site, "planner").get(reverse("desk_jobs", kwargs={"code": site.code})))


def test_it_tells_how_late_the_schedule_was_and_what_is_next() -> None:
    site, now = make_site(), timezone.now()
    run_job(name="judge_repairs", actor=Actor.job("judge_repairs"), at=now, due_at=now)

    assert "done begun 0.0 s late" in page(site)


def test_it_shows_what_is_parked_on_this_site_only() -> None:
    here, there = make_parked(make_site()), make_parked(make_site())

    text = page(Site.objects.get(pk=here.site_id))

    assert str(here.item_id) in text
    assert str(there.item_id) not in text


def test_a_parked_thing_is_taken_up_again() -> None:
    site = make_site()
    parked = make_parked(site)

    answer = reader(site, "planner").post(reverse("desk_parked_taken_up", kwargs={"id": parked.pk}))

    parked.refresh_from_db()
    assert (answer.status_code, parked.parked_at, parked.failures) == (302, None, 0)


def test_only_who_runs_jobs_may_take_it_up() -> None:
    site = make_site()
    parked = make_parked(site)

    answer = reader(site, "technician").post(reverse("desk_parked_taken_up", kwargs={"id": parked.pk}))

    parked.refresh_from_db()
    assert (answer.status_code, parked.parked_at) == (403, NOW)
