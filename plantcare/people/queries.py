"""Read people and keys."""

from __future__ import annotations

from django.db.models import QuerySet

from plantcare.people.models import ApiKey, User


def people() -> QuerySet[User]:
    """Return everybody who may sign in."""
    return User.objects.filter(is_active=True)


def person(username: str) -> User | None:
    """Return who has this name at the log-in, or None."""
    return people().filter(username=username).first()


def keys_of(user_id: int | None) -> QuerySet[ApiKey]:
    """Return a person's keys, ended ones too."""
    return ApiKey.objects.filter(user_id=user_id) if user_id is not None else ApiKey.objects.none()
