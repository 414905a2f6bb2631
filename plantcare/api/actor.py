"""Who acts: a person, a key that speaks for a person, or a job."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from typing import Any

from plantcare.api.requestid import current_request_id


@dataclass(frozen=True, slots=True)
class Actor:
    """The one who does an act, as every action and the logbook see them.

    ``scopes`` is None for a person at a log-in (all rights of their roles); for an API key it
    is the set of rights that the key may use at most.
    """

    user_id: int | None
    name: str
    key_id: uuid.UUID | None = None
    scopes: frozenset[str] | None = None
    is_superuser: bool = False
    request_id: str = ""
    kind: str = field(default="person")

    @classmethod
    def job(cls, name: str) -> Actor:
        """Return the actor of a scheduled job, which acts for no person."""
        return cls(user_id=None, name=f"job {name}", kind="job")

    @property
    def principal(self) -> str:
        """Return the stable owner of idempotency keys: a key, a person or a job."""
        if self.key_id is not None:
            return f"key:{self.key_id}"
        if self.user_id is not None:
            return f"user:{self.user_id}"
        return self.name


def actor_of(request: Any) -> Actor:
    """Return who asks, from the user and, when a key was sent, from ``request.auth``.

    A key is any object with ``id``, ``name`` and ``scopes``.
    """
    user, key = request.user, getattr(request, "auth", None)
    name = user.get_full_name() or user.get_username()
    if key is None:
        return Actor(
            user_id=user.pk,
            name=name,
            is_superuser=bool(user.is_superuser),
            request_id=current_request_id(),
        )
    return Actor(
        user_id=user.pk,
        name=f"{name} by key {key.name}",
        key_id=key.id,
        scopes=frozenset(key.scopes),
        is_superuser=bool(user.is_superuser),
        request_id=current_request_id(),
        kind="key",
    )
