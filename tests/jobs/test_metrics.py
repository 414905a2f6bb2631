"""Who may read /metrics, and that it is in the text exposition format."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.utils import timezone

from plantcare import metrics
from plantcare.api.actor import Actor
from plantcare.jobs.actions import run_job

pytestmark = pytest.mark.django_db
# Prometheus documentation, "Exposition formats", text-based format 0.0.4: one sample a line.
SAMPLE = re.compile(r'[a-z_]+(\{[a-z_]+="[^"\\]*"(,[a-z_]+="[^"\\]*")*\})? -?[0-9.e+-]+')
COMMENT = re.compile(r"# (HELP|TYPE) [a-z_]+ .+")


def ask(**headers: str):
    return Client().get("/metrics", headers=headers)


class TestWhoMayRead:
    def test_nobody_by_default(self):
        assert ask().status_code == 404

    def test_who_sends_the_token(self, settings):
        settings.PLANTCARE_METRICS_TOKEN = "drum-and-fife"
        assert ask(authorization="Bearer drum-and-fife").status_code == 200
        assert ask(authorization="Bearer drum").status_code == 404
        assert ask().status_code == 404

    def test_who_asks_from_a_named_network(self, settings):
        settings.PLANTCARE_METRICS_NETWORKS = ["127.0.0.0/8"]
        assert ask().status_code == 200
        settings.PLANTCARE_METRICS_NETWORKS = ["10.0.0.0/8"]
        assert ask().status_code == 404

    def test_nobody_by_network_through_a_proxy(self, settings):
        settings.PLANTCARE_METRICS_NETWORKS = ["127.0.0.0/8"]
        assert ask(x_forwarded_for="203.0.113.7").status_code == 404

    def test_nobody_writes(self, settings):
        settings.PLANTCARE_METRICS_NETWORKS = ["127.0.0.0/8"]
        assert Client().post("/metrics").status_code == 404


class TestFigures:
    @pytest.fixture(autouse=True)
    def _open(self, settings):
        settings.PLANTCARE_METRICS_NETWORKS = ["127.0.0.0/8"]

    def lines(self) -> list[str]:
        return ask().content.decode().splitlines()

    def test_every_line_is_well_formed(self):
        run_job(name="count", actor=Actor.job("count"), at=timezone.now(), due_at=timezone.now())
        for line in self.lines():
            assert SAMPLE.fullmatch(line) or COMMENT.fullmatch(line), line

    def test_runs_are_counted(self):
        run_job(name="count", actor=Actor.job("count"), at=timezone.now())
        assert 'plantcare_job_runs_total{job="count",outcome="done"} 1.0' in self.lines()

    def test_both_servers_are_told(self):
        assert {"plantcare_broker_up 1.0", "plantcare_database_up 1.0"} <= set(self.lines())

    def test_a_queue_that_is_away_is_told_and_the_rest_remains(self, settings):
        settings.CELERY_BROKER_URL = "redis://127.0.0.1:1/0"
        lines = self.lines()
        assert "plantcare_broker_up 0.0" in lines
        assert not any(line.startswith("plantcare_queue_length") for line in lines)
        assert "plantcare_database_up 1.0" in lines

    def test_words_in_labels_are_escaped(self):
        assert metrics._labels({"a": 'x"\\\n'}) == '{a="x\\"\\\\\\n"}'
