"""Make people for tests, and ask the API as one of them."""

from __future__ import annotations

import itertools
import uuid
from collections.abc import Iterable
from datetime import timedelta
from typing import Any

from django.utils import timezone
from rest_framework.test import APIClient

from findings.plant.models import Membership, Site
from plantcare.api.actor import Actor
from plantcare.people.actions import issue_key
from plantcare.people.models import User
from tests.makers import LONG_AGO

PREFIX = "/api/v1"
PASSWORD = "walk-the-lines-9"

_numbers = itertools.count(1)


def make_user(username: str = "", **values: Any) -> User:
    """Make a person without any role; the password is PASSWORD."""
    return User.objects.create_user(
        username or f"person{next(_numbers)}", password=values.pop("password", PASSWORD), **values
    )


def make_superuser(username: str = "", **values: Any) -> User:
    """Make somebody who may make sites."""
    return make_user(username, is_staff=True, is_superuser=True, **values)


def member(site: Site, role: str = "manager", user: User | None = None, **values: Any) -> User:
    """Give a person (a new one, where none is named) a role at a site, and return the person."""
    user = user or make_user(f"{role}{next(_numbers)}", **values)
    Membership.objects.create(site=site, user=user, role=role, since_at=LONG_AGO)
    return user


def actor(user: User, scopes: Iterable[str] | None = None) -> Actor:
    """Return a person as the actions see them."""
    return Actor(
        user_id=user.pk,
        name=user.get_full_name() or user.username,
        scopes=None if scopes is None else frozenset(scopes),
        is_superuser=user.is_superuser,
        request_id="req-test",
    )


def actor_at(site: Site, role: str = "manager") -> Actor:
    """Return somebody new with a role at the site, as the actions see them."""
    return actor(member(site, role))


class Api(APIClient):
    """A client that speaks JSON to paths below /api/v1 and does the habits of a good caller.

    A POST gets a fresh Idempotency-Key unless ``key`` names one (or "" for none); ``version`` becomes
    If-Match. Paths are given without the prefix: ``api.get("/assets", q="wrapper")``.
    """

    def get(self, path: str, data: Any = None, **query: Any) -> Any:
        """Ask for a path; keyword arguments are the query."""
        return super().get(self._at(path), data if data is not None else query)

    def post(self, path: str, data: Any = None, *, key: str | None = None, version: Any = None) -> Any:
        """Send a body, or none."""
        headers = self._headers(version)
        if key != "":
            headers["Idempotency-Key"] = key or str(uuid.uuid4())
        return super().post(self._at(path), {} if data is None else data, format="json", headers=headers)

    def patch(self, path: str, data: Any = None, *, version: Any = None) -> Any:
        """Send a change made from a version."""
        return super().patch(self._at(path), data or {}, format="json", headers=self._headers(version))

    def put(self, path: str, data: Any = None, *, version: Any = None) -> Any:
        """Send a replacement made from a version."""
        return super().put(self._at(path), data or {}, format="json", headers=self._headers(version))

    def upload(self, path: str, data: Any) -> Any:
        """Send a form with files."""
        headers = {"Idempotency-Key": str(uuid.uuid4())}
        return super().post(self._at(path), data, format="multipart", headers=headers)

    def _at(self, path: str) -> str:
        return path if path.startswith("/api/") else f"{PREFIX}/{path.lstrip('/')}"

    def _headers(self, version: Any) -> dict[str, str]:
        return {} if version is None else {"If-Match": f'"v{version}"'}


def api_for(user: User, scopes: Iterable[str] | None = None) -> Api:
    """Return a client that asks as this person: at a log-in, or by a real key with the scopes named."""
    client = Api()
    if scopes is None:
        client.force_authenticate(user)
        return client
    now = timezone.now()
    _, secret = issue_key(user=user, name="test", scopes=scopes, at=now, expires_at=now + timedelta(days=30))
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
    return client


def api_as(role: str, site: Site, scopes: Iterable[str] | None = None) -> Api:
    """Return a client that asks as somebody new with this role at the site."""
    return api_for(member(site, role), scopes)


def api_of_nobody() -> Api:
    """Return a client that has not signed in."""
    return Api()
