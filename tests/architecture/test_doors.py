"""Every address of the API declares its right, and every job's name leads somewhere."""

import pytest
from django.core.checks import run_checks
from django.urls import URLPattern, URLResolver, get_resolver
from django.utils.module_loading import import_string

from findings.plant.rules import Right
from plantcare.api.views import SIGNED_IN, Door
from plantcare.celery import app as celery_app
from plantcare.jobs.registry import TASK, jobs


def routes(resolver: URLResolver, prefix: str = "") -> list[tuple[str, URLPattern]]:
    found = []
    for pattern in resolver.url_patterns:
        path = f"{prefix}{pattern.pattern}"
        if isinstance(pattern, URLResolver):
            found += routes(pattern, path)
        else:
            found.append((path, pattern))
    return found


API = [
    (path, pattern.callback.cls)
    for path, pattern in routes(get_resolver())
    if path.startswith("api/v1/") and issubclass(getattr(pattern.callback, "cls", object), Door)
]


def test_there_is_an_api() -> None:
    assert len(API) > 40


@pytest.mark.parametrize(("path", "door"), API, ids=[path for path, _ in API])
def test_every_method_declares_a_known_right(path: str, door: type[Door]) -> None:
    answered = {
        method.upper() for method in ("get", "post", "put", "patch", "delete") if hasattr(door, method)
    }

    assert set(door.needs) == answered
    assert {str(need) for need in door.needs.values()} <= {right.value for right in Right} | {SIGNED_IN}


def test_nothing_can_be_deleted_over_the_api() -> None:
    assert [path for path, door in API if hasattr(door, "delete")] == []


def test_the_systems_own_checks_find_nothing() -> None:
    assert run_checks() == []


@pytest.mark.parametrize("name", sorted(jobs()))
def test_every_job_leads_to_an_action(name: str) -> None:
    assert callable(import_string(jobs()[name].run))


def test_the_worker_knows_the_task_that_the_schedule_names() -> None:
    celery_app.loader.import_default_modules()

    assert TASK in celery_app.tasks
