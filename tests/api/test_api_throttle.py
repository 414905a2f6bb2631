"""A caller that asks too often is told when to come back."""

from __future__ import annotations

import threading

import pytest
from redis.exceptions import TimeoutError as RedisTimeoutError

from plantcare.api import throttling
from plantcare.api.throttling import PrincipalThrottle, rate_of


@pytest.fixture(autouse=True)
def five_a_day(settings, monkeypatch):
    rates = {"DEFAULT_THROTTLE_RATES": {"api": "5/day"}}
    settings.REST_FRAMEWORK = {**settings.REST_FRAMEWORK, **rates}
    monkeypatch.setattr(PrincipalThrottle, "_away_until", 0.0)


class TestPrincipalThrottle:
    def test_refuses_beyond_the_rate(self, api):
        answers = [api.get("/api/v1/crates") for _ in range(6)]
        assert [answer.status_code for answer in answers] == [200] * 5 + [429]
        assert answers[5].json()["code"] == "too_many_requests"
        assert 0 < int(answers[5].headers["Retry-After"]) <= 86_400

    def test_tells_what_is_left(self, api):
        response = api.get("/api/v1/crates")
        assert (response.headers["RateLimit-Limit"], response.headers["RateLimit-Remaining"]) == ("5", "4")

    def test_opens_when_redis_is_away(self, api, monkeypatch):
        def away(*_, **__):
            raise RedisTimeoutError

        monkeypatch.setattr(throttling.cache, "add", away)
        assert [api.get("/api/v1/crates").status_code for _ in range(7)] == [200] * 7

    def test_leaves_an_absent_redis_alone_for_a_while(self, api, monkeypatch):
        tries = []

        def away(*_, **__):
            tries.append(1)
            raise RedisTimeoutError

        monkeypatch.setattr(throttling.cache, "add", away)
        for _ in range(4):
            api.get("/api/v1/crates")
        assert len(tries) == 1

    def test_counts_exactly_under_threads(self, settings):
        counts = []
        threads = [
            threading.Thread(target=lambda: counts.append(throttling._count("rate:test", 60)))
            for _ in range(20)
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert sorted(counts) == list(range(1, 21))


class TestRateOf:
    def test_reads_counts_and_windows(self):
        assert rate_of("api") == (5, 86_400)

    def test_refuses_an_unreadable_rate(self, settings):
        settings.REST_FRAMEWORK = {"DEFAULT_THROTTLE_RATES": {"api": "often"}}
        with pytest.raises(ValueError, match="often"):
            rate_of("api")
