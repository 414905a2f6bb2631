"""Which failures pass by themselves, so that trying again makes sense."""

from __future__ import annotations

from django.db import InterfaceError, OperationalError
from kombu.exceptions import OperationalError as BrokerError
from redis.exceptions import ConnectionError as RedisAway
from redis.exceptions import TimeoutError as RedisSilent

PASSING = (OperationalError, InterfaceError, BrokerError, RedisAway, RedisSilent)
"""What is raised while a server restarts, is out of reach, or holds a row for somebody else."""

_NOT_PASSING = {"57014"}
"""A statement that ran into its time limit (PostgreSQL manual, appendix A) will do so again."""


def passes(exc: BaseException) -> bool:
    """Tell whether the same work may well succeed a little later."""
    state = getattr(exc.__cause__, "sqlstate", None)
    return isinstance(exc, PASSING) and state not in _NOT_PASSING
