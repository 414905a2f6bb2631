"""One site of the world on which the doors are tried: its people, its things, its word."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from findings.plant.models import Site
from plantcare.api.actor import Actor
from plantcare.people.actions import issue_key
from plantcare.people.models import User
from tests.people import actor
from tests.workorders.scene import EVERY_RIGHT

AT = datetime(2026, 3, 20, 8, 0, tzinfo=UTC)
"""The moment at which everything is asked."""

HOME, MARKER = "Tarnbeck", "Kestrel"
"""The word in every text of the own site, and of the other one."""

ROLES = ("inspector", "planner", "technician", "manager", "integrator")
DAY = timedelta(days=1)
KEY_LIFE = timedelta(days=300)

_numbers = itertools.count(1)


@dataclass
class SitePlan:
    """One site's people and things by name."""

    word: str
    site: Site
    people: dict[str, User]
    keys: dict[str, str]
    things: dict[str, Any] = field(default_factory=dict)

    def __getitem__(self, name: str) -> Any:
        return self.things[name]

    def __setitem__(self, name: str, thing: Any) -> None:
        self.things[name] = thing

    def actor(self, role: str) -> Actor:
        """Return somebody with a role, as the actions see them."""
        return actor(self.people[role])

    def words(self, text: str) -> str:
        """Return a text that carries this site's word."""
        return f"{self.word} {text}"

    def code(self, text: str) -> str:
        """Return a code that carries this site's word and that no other thing has."""
        return f"{self.word}-{text}{next(_numbers)}"

    @property
    def ids(self) -> dict[str, Any]:
        """Return the id of every thing by the thing's name."""
        return {name: _id(thing) for name, thing in self.things.items()}

    @property
    def person_ids(self) -> list[int]:
        """Return the numbers of the people who work here only."""
        return [user.pk for user in self.people.values()]


def _id(thing: Any) -> Any:
    if isinstance(thing, User):
        return str(thing.public_id)
    return str(thing.pk) if hasattr(thing, "pk") else thing


def key_for(user: User, *, without: str = "", only: tuple[str, ...] = (), **life: Any) -> str:
    """Return the secret of a new key with every scope, or all but one, or only some."""
    scopes = only or [right.value for right in EVERY_RIGHT if right.value != without]
    given = {"at": AT - DAY, "expires_at": AT + KEY_LIFE, **life}
    return issue_key(user=user, name=f"{user.username} key", scopes=scopes, **given)[1]


def version_of(thing: Any) -> int | None:
    """Return the version of a thing as it is stored now."""
    if not hasattr(thing, "version"):
        return None
    return int(type(thing).objects.values_list("version", flat=True).get(pk=thing.pk))


def filled_in(value: Any, ids: Mapping[str, Any]) -> Any:
    """Return a body with each "$name" replaced by the id of that thing."""
    if isinstance(value, dict):
        return {name: filled_in(inner, ids) for name, inner in value.items()}
    if isinstance(value, list):
        return [filled_in(inner, ids) for inner in value]
    if isinstance(value, str) and value.startswith("$"):
        return ids[value[1:]]
    return value
