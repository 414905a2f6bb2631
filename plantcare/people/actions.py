"""Make people; issue and revoke keys."""

from __future__ import annotations

import secrets
import uuid
from collections.abc import Iterable
from datetime import datetime, timedelta

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from plantcare.api.problems import Conflict, FieldError, Invalid, NotFound
from plantcare.people.authentication import digest_of
from plantcare.people.models import ApiKey, User

LONGEST_KEY_LIFE = timedelta(days=730)


class ScopeMissing(Invalid):
    """A key without any scope could do nothing."""

    code = "scope_missing"
    title = "A key needs at least one scope."


class KeyLifeTooLong(Invalid):
    """A key must end."""

    code = "key_life_too_long"
    title = "A key may live for at most two years."


class KeyLifeOver(Invalid):
    """A key must live at all."""

    code = "key_life_over"
    title = "A key has to end after now."


class KeyUnknown(NotFound):
    """No such key of this person."""


def issue_key(
    *, user: User, name: str, scopes: Iterable[str], at: datetime, expires_at: datetime
) -> tuple[ApiKey, str]:
    """Make a key for ``user`` and return it with its secret, which is nowhere kept.

    Raises ScopeMissing, KeyLifeOver, KeyLifeTooLong.
    """
    wanted = sorted(set(scopes))
    if not wanted:
        raise ScopeMissing
    if expires_at <= at:
        raise KeyLifeOver(errors=[FieldError("/expires_at", KeyLifeOver.code, KeyLifeOver.title)])
    if expires_at - at > LONGEST_KEY_LIFE:
        raise KeyLifeTooLong(errors=[FieldError("/expires_at", KeyLifeTooLong.code, KeyLifeTooLong.title)])
    prefix = secrets.token_hex(4)
    secret = secrets.token_urlsafe(32)
    key = ApiKey.objects.create(
        user=user,
        name=name,
        prefix=prefix,
        digest=digest_of(secret),
        scopes=wanted,
        created_at=at,
        expires_at=expires_at,
    )
    return key, f"pc_{prefix}_{secret}"


def revoke_key(*, user: User, key_id: uuid.UUID, at: datetime) -> ApiKey:
    """End a key at once and return it. Raises KeyUnknown for a key of someone else."""
    keys = ApiKey.objects.filter(pk=key_id, user=user)
    keys.filter(revoked_at__isnull=True).update(revoked_at=at)
    key = keys.first()
    if key is None:
        raise KeyUnknown
    return key


def choose_units(*, user_id: int, unit_system: str) -> None:
    """Keep the units in which a person reads figures; raises ValueError for an unknown system."""
    User.objects.filter(pk=user_id).update(unit_system=User.UnitSystem(unit_system))


class NameTaken(Conflict):
    """Two people cannot share a log-in name."""

    code = "name_taken"
    title = "This log-in name is taken."


class PasswordWeak(Invalid):
    """The password does not hold against a guess."""

    code = "password_weak"
    title = "The password is too weak."


def add_person(
    *,
    username: str,
    first_name: str,
    last_name: str,
    password: str | None,
    email: str = "",
    unit_system: str = User.UnitSystem.METRIC,
    is_service: bool = False,
) -> User:
    """Make a person, or the account of an outside system; without a password nobody can log in as it.

    Raises NameTaken, PasswordWeak.
    """
    if User.objects.filter(username__iexact=username).exists():
        raise NameTaken
    user = User(
        username=username,
        first_name=first_name,
        last_name=last_name,
        email=email,
        unit_system=unit_system,
        is_service=is_service,
    )
    if password is None:
        user.set_unusable_password()
    else:
        try:
            validate_password(password, user)
        except ValidationError as error:
            raise PasswordWeak(" ".join(error.messages)) from None
        user.set_password(password)
    user.save()
    return user
