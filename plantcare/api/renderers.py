"""Write JSON: decimals as text, moments in UTC with Z, no NaN, units as asked."""

from __future__ import annotations

import json
import math
import uuid
from collections.abc import Mapping
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from enum import Enum
from typing import Any

from django.utils.functional import Promise
from rest_framework.renderers import BaseRenderer

from plantcare.api import units


class ApiJsonRenderer(BaseRenderer):
    """The one encoder of answers."""

    media_type = "application/json"
    format = "json"
    charset = None  # JSON is UTF-8 by RFC 8259; a charset parameter has no meaning

    def render(
        self,
        data: Any,
        accepted_media_type: str | None = None,  # noqa: ARG002 - the framework's signature
        renderer_context: Mapping[str, Any] | None = None,
    ) -> bytes:
        """Return the JSON text; ``?units=`` of the request chooses the unit system."""
        if data is None:
            return b""
        request = (renderer_context or {}).get("request")
        system = units.asked_for(request.query_params) if request is not None else units.SI
        return dumps(units.rendered(data, system)).encode()


def dumps(data: Any) -> str:
    """Return compact JSON; a number that is not finite becomes null."""
    try:
        return json.dumps(data, default=plain, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    except ValueError:
        return json.dumps(
            _finite(data), default=plain, ensure_ascii=False, allow_nan=False, separators=(",", ":")
        )


def plain(value: Any) -> Any:
    """Return the JSON value of a Python value; raise TypeError for an unknown type."""
    if isinstance(value, datetime):
        if value.tzinfo is None:
            message = "a naive datetime reached the encoder"
            raise TypeError(message)
        return value.astimezone(UTC).isoformat().replace("+00:00", "Z")
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, timedelta):
        return value.total_seconds()
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, uuid.UUID | Promise):
        return str(value)
    if isinstance(value, set | frozenset | tuple):
        return list(value)
    message = f"{type(value).__name__} has no JSON form"
    raise TypeError(message)


def _finite(value: Any) -> Any:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {name: _finite(inner) for name, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(inner) for inner in value]
    return value
