"""Jobs over the API act on the caller's sites only; health tells what is away."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest
from django.contrib.auth import get_user_model
from django.core.cache import cache
from django.db import DatabaseError
from django.test import Client
from django.urls import include, path
from django.utils import timezone
from redis.exceptions import ConnectionError as RedisConnectionError
from rest_framework.test import APIClient

from plantcare import health
from plantcare.api.actor import Actor
from plantcare.api.problems import NotFound
from plantcare.jobs.actions import run_job

HERE, THERE = uuid.UUID(int=7 << 76 | 1), uuid.UUID(int=7 << 76 | 2)
urlpatterns = [
    path("livez", health.livez),
    path("readyz", health.readyz),
    path("api/v1/", include("plantcare.jobs.urls")),
]
handler404 = "plantcare.api.failures.page_not_found"


class OnePolicy:
    def sites(self, actor, right):
        return [] if actor.name == "guest" else [HERE]

    def time_zones(self):
        return {HERE: "Europe/Berlin", THERE: "America/Chicago"}

    def all_sites(self):
        return [HERE, THERE]

    def require(self, actor, right, site_id):
        if site_id != HERE or actor.name == "guest":
            raise NotFound


POLICY = OnePolicy()


@pytest.fixture(autouse=True)
def _service(settings, db):
    settings.ROOT_URLCONF = "tests.jobs.test_job_doors"
    settings.PLANTCARE_ACCESS_POLICY = "tests.jobs.test_job_doors.POLICY"
    settings.PLANTCARE_UNIT_TABLE = ""
    cache.clear()


def client_of(name):
    client = APIClient()
    client.force_authenticate(get_user_model().objects.create_user(name))
    return client


class TestJobs:
    def test_lists_what_can_be_started_by_hand(self):
        answer = client_of("planner").get("/api/v1/jobs").json()
        assert [job["name"] for job in answer["results"]] == ["count", "daily", "nightly", "fails"]

    def last_run(self, name, **values):
        run_job(name="count", actor=Actor.job("count"), at=timezone.now(), **values)
        return client_of(name).get("/api/v1/jobs").json()["results"][0]["last_run"]

    def test_shows_when_each_ran_last_and_no_figures_of_other_sites(self):
        run = self.last_run("planner")
        assert (run["outcome"], run["result"], run["error"]) == ("done", {"made": 1}, "")

    def test_shows_nothing_of_a_run_for_another_site(self):
        assert self.last_run("planner", site_ids=[THERE]) is None

    def test_shows_what_a_run_did_on_the_callers_site(self):
        run = self.last_run("planner", site_ids=[HERE])
        assert (run["result"], run["error"]) == ({"made": 1}, "")

    def test_is_closed_without_the_right(self):
        assert client_of("guest").get("/api/v1/jobs").status_code == 403


class TestJobRuns:
    def post(self, name="planner", job="count", body=None):
        return client_of(name).post(f"/api/v1/jobs/{job}/runs", body or {}, format="json")

    def test_acts_on_the_callers_sites(self, declared_jobs):
        assert self.post().json()["outcome"] == "done"
        assert declared_jobs[0]["site_ids"] == [HERE]

    def test_acts_on_the_named_site(self, declared_jobs):
        self.post(body={"site_id": str(HERE)})
        assert declared_jobs[0]["site_ids"] == [HERE]

    def test_refuses_a_hidden_site(self, declared_jobs):
        assert self.post(body={"site_id": str(THERE)}).json()["code"] == "unknown_reference"
        assert declared_jobs == []

    def test_refuses_housekeeping(self, declared_jobs):
        assert self.post(job="inner").status_code == 403
        assert declared_jobs == []

    def test_answers_an_unknown_job(self):
        assert self.post(job="nothing").status_code == 404

    def test_refuses_without_the_right(self, declared_jobs):
        assert self.post("guest").status_code == 403
        assert declared_jobs == []

    def test_tells_a_failure_without_its_words(self):
        answer = self.post(job="fails").json()
        assert (answer["outcome"], answer["error"]) == ("failed", "RuntimeError")


class TestHealth:
    def parts(self):
        response = Client().get("/readyz")
        return response.status_code, response.json()["status"], response.json().get("parts")

    def test_lives_without_asking_anything(self, django_assert_num_queries):
        with django_assert_num_queries(0):
            assert Client().get("/livez").status_code == 200

    def test_is_ready_when_all_is_well(self):
        run_job(name="heartbeat", actor=Actor.job("heartbeat"), at=timezone.now())
        assert self.parts()[:2] == (200, "ready")

    def test_serves_with_a_late_schedule(self):
        run_job(name="heartbeat", actor=Actor.job("heartbeat"), at=timezone.now() - timedelta(hours=1))
        status, word, parts = self.parts()
        assert (status, word) == (200, "degraded")
        assert parts["schedule"].startswith("last ran 36")

    def test_serves_without_redis(self, monkeypatch):
        def away(*_, **__):
            raise RedisConnectionError

        monkeypatch.setattr(health.cache, "set", away)
        status, _, parts = self.parts()
        assert (status, parts["redis"]) == (200, "away")

    def test_is_not_ready_without_the_database(self, monkeypatch):
        def away():
            raise DatabaseError

        with monkeypatch.context() as broken:
            broken.setattr(health.connection, "cursor", away)
            status, _, parts = self.parts()
        assert (status, parts["database"]) == (503, "away")

    def test_is_not_ready_with_pending_migrations(self, monkeypatch):
        monkeypatch.setattr(health, "_migrations", lambda: "2 pending")
        status, word, _ = self.parts()
        assert (status, word) == (503, "not ready")
