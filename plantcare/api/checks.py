"""System checks: a method without a declared need is an error, and so is a plant without a secret key."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error
from django.urls import URLPattern, URLResolver, get_resolver

# Methods of HTTP that a handler can be written for; HEAD shares the need of GET.
HANDLED = ("get", "post", "put", "patch", "delete")


def every_door_declares_its_needs(app_configs: Sequence[Any] | None = None, **_: Any) -> list[CheckMessage]:
    """Return plantcare.E001 for every method of an API view that names no right."""
    if app_configs is not None:
        return []
    return list(missing_needs(get_resolver().url_patterns))


def missing_needs(patterns: Iterable[URLPattern | URLResolver]) -> Iterator[CheckMessage]:
    """Yield one error per method without a need, and per need without a method."""
    for view in _views(patterns):
        allowed = {name for name in view.http_method_names if name in HANDLED}
        handled = {name.upper() for name in allowed if hasattr(view, name)}
        needs = set(getattr(view, "needs", {}))
        for method in sorted(handled - needs):
            yield Error(
                f"{view.__module__}.{view.__name__} answers {method} without a declared need.",
                hint="Name the right in `needs`.",
                obj=view,
                id="plantcare.E001",
            )
        for method in sorted(needs - handled):
            yield Error(
                f"{view.__module__}.{view.__name__} declares a need for {method}, which it lacks.",
                hint="Remove it from `needs`, or inherit the right building block.",
                obj=view,
                id="plantcare.E002",
            )


def the_secret_key_is_kept(app_configs: Sequence[Any] | None = None, **_: Any) -> list[CheckMessage]:
    """Return plantcare.E101 (at deployment) where each process would make up a key of its own."""
    if app_configs is not None or not getattr(settings, "SECRET_KEY_IS_EPHEMERAL", False):
        return []
    return [
        Error(
            "PLANTCARE_SECRET_KEY is not set: every process and every start would sign with another key.",
            hint="Set it to 50 or more random characters, and keep it.",
            id="plantcare.E101",
        )
    ]


def _views(patterns: Iterable[URLPattern | URLResolver]) -> Iterator[Any]:
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            yield from _views(pattern.url_patterns)
        elif hasattr(pattern.callback, "cls"):  # set by as_view() of the REST framework only
            yield pattern.callback.cls
