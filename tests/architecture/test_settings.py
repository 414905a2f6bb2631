"""Settings that would harm a plant are refused."""

from typing import Any

import pytest
from django.core.checks import run_checks

from plantcare.celery import VISIBILITY_TIMEOUT_S
from plantcare.celery import app as celery_app
from plantcare.jobs.registry import jobs


@pytest.mark.parametrize(("ephemeral", "found"), [(True, ["plantcare.E101"]), (False, [])])
def test_a_deployment_without_a_kept_secret_is_refused(
    settings: Any, ephemeral: bool, found: list[str]
) -> None:
    settings.SECRET_KEY_IS_EPHEMERAL = ephemeral
    ids = [check.id for check in run_checks(include_deployment_checks=True)]

    assert [one for one in ids if one == "plantcare.E101"] == found


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("task_acks_late", True),
        ("task_reject_on_worker_lost", True),
        ("worker_prefetch_multiplier", 1),
        ("worker_cancel_long_running_tasks_on_connection_loss", True),
        ("broker_connection_max_retries", None),
        ("accept_content", ["json"]),
        ("task_ignore_result", True),
    ],
)
def test_the_queue_is_only_a_hint(name: str, value: object) -> None:
    assert celery_app.conf[name] == value


def test_no_task_outlives_its_message() -> None:
    assert celery_app.conf.task_soft_time_limit < celery_app.conf.task_time_limit < VISIBILITY_TIMEOUT_S


def test_no_wait_for_the_queue_is_endless() -> None:
    options = celery_app.conf.broker_transport_options

    assert 0 < options["socket_connect_timeout"] <= options["socket_timeout"] <= 10


@pytest.mark.parametrize("name", sorted(jobs()))
def test_a_job_is_asked_to_end_before_it_is_killed(name: str) -> None:
    job = jobs()[name]

    assert 0 < job.soft_limit_s < job.hard_limit_s <= celery_app.conf.task_time_limit
