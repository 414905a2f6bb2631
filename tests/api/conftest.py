"""The toy service's table, routes and policy, for the tests of the plumbing."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from typing import Any

import pytest
from django.contrib.auth import get_user_model
from django.core.cache import cache
from django.db import connection
from rest_framework.test import APIClient

from plantcare.api.throttling import PrincipalThrottle
from tests.api import ledger, siteplan, toys, world


@pytest.fixture(scope="session")
def toy_table(django_db_setup: None, django_db_blocker: Any) -> None:
    with django_db_blocker.unblock(), connection.schema_editor() as editor:
        editor.create_model(toys.Crate)


@pytest.fixture(autouse=True)
def toy_service(settings: Any) -> None:
    settings.ROOT_URLCONF = "tests.api.toys"
    settings.PLANTCARE_ACCESS_POLICY = "tests.api.toys.POLICY"
    settings.PLANTCARE_UNIT_TABLE = ""
    cache.clear()


@pytest.fixture
def user(db: None, toy_table: None) -> Any:
    return get_user_model().objects.create_user(f"walker-{uuid.uuid4().hex[:8]}")


@pytest.fixture
def api(user: Any) -> APIClient:
    client = APIClient(raise_request_exception=False)
    client.force_authenticate(user)
    return client


@pytest.fixture
def crates(api: APIClient) -> Any:
    def make(name: str = "", **values: Any) -> toys.Crate:
        given = {"site_id": toys.HERE, "name": name or uuid.uuid4().hex, **values}
        return toys.Crate.objects.create(**given)

    return make


@pytest.fixture
def send(api: APIClient) -> Any:
    def post(path: str, body: Any, *, key: str = "", **headers: str) -> Any:
        sent = {"Idempotency-Key": key or str(uuid.uuid4()), **headers}
        return api.post(f"/api/v1/{path}", body, format="json", headers=sent)

    return post


@pytest.fixture(scope="module")
def two_sites(django_db_setup: None, django_db_blocker: Any) -> Iterator[world.TwoSites]:
    """Two sites of the real service, built once for a module, under a clock that stands still."""
    with pytest.MonkeyPatch.context() as patch, django_db_blocker.unblock(), ledger.undone():
        patch.setattr("django.utils.timezone.now", lambda: siteplan.AT)
        patch.setattr(PrincipalThrottle, "_away_until", float("inf"))
        yield world.two_sites()
