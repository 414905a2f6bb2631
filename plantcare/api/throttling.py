"""How often one caller may ask; counted in Redis by one atomic step, open while Redis is away.

This keeps one client from crowding out the others. It is no guard of passwords.
"""

from __future__ import annotations

import re
import time
from typing import Any

from django.conf import settings
from django.core.cache import cache
from redis.exceptions import RedisError
from rest_framework.request import Request
from rest_framework.throttling import BaseThrottle

from plantcare.api.actor import actor_of

DEFAULT_RATE = "1200/min"
# After a failed try Redis is left alone for a while, so that a hung one delays one request only.
PAUSE_S = 5.0
_SECONDS = {"s": 1, "m": 60, "h": 3600, "d": 86_400}
_RATE = re.compile(r"(\d{1,9})/([smhd])[a-z]*")


class PrincipalThrottle(BaseThrottle):
    """Count a caller's requests in fixed windows, per ``rate`` name of the door.

    The numbers stand in REST_FRAMEWORK["DEFAULT_THROTTLE_RATES"] under the name of the rate;
    a door with ``rate = None`` isn't counted.
    """

    _away_until = 0.0
    _reset_s = 1.0

    def allow_request(self, request: Request, view: Any) -> bool:
        """Tell whether the request is within the rate, and note the state for the headers."""
        name = getattr(view, "rate", "api")
        if name is None or time.monotonic() < PrincipalThrottle._away_until:
            return True
        limit, window_s = rate_of(name)
        now = time.time()
        number = int(now // window_s)
        self._reset_s = (number + 1) * window_s - now
        count = _count(f"rate:{name}:{_caller(request, self)}:{number}", window_s)
        if count is None:
            PrincipalThrottle._away_until = time.monotonic() + PAUSE_S
            return True
        headers = {
            "RateLimit-Limit": str(limit),
            "RateLimit-Remaining": str(max(0, limit - count)),
            "RateLimit-Reset": str(int(self._reset_s) + 1),
        }
        request._request.rate_headers = headers  # type: ignore[attr-defined] # noqa: SLF001
        return count <= limit

    def wait(self) -> float:
        """Return the seconds until the next window."""
        return self._reset_s


def spent(name: str, caller: str) -> int | None:
    """Count a request from outside the API; return the seconds to wait where its rate is used up.

    Open while Redis is away, as at the doors.
    """
    limit, window_s = rate_of(name)
    now = time.time()
    number = int(now // window_s)
    count = _count(f"rate:{name}:{caller}:{number}", window_s)
    return None if count is None or count <= limit else int((number + 1) * window_s - now) + 1


def rate_of(name: str) -> tuple[int, int]:
    """Return how many requests in how many seconds."""
    framework: dict[str, Any] = settings.REST_FRAMEWORK
    rates = framework.get("DEFAULT_THROTTLE_RATES", {})
    text = rates.get(name) or rates.get("principal") or DEFAULT_RATE
    found = _RATE.fullmatch(text)
    if found is None:
        message = f"A rate reads like 1200/min, not {text!r}."
        raise ValueError(message)
    return int(found[1]), _SECONDS[found[2]]


def _caller(request: Request, throttle: BaseThrottle) -> str:
    if request.user is not None and request.user.is_authenticated:
        return actor_of(request).principal
    return f"address:{throttle.get_ident(request)}"


def _count(key: str, window_s: int) -> int | None:
    """Return the count with this request, or None while Redis is away."""
    try:
        cache.add(key, 0, timeout=window_s + 5)
        return int(cache.incr(key))
    except (RedisError, OSError):
        return None
    except ValueError:  # the window ended between the two steps
        return 1
