"""Is the process alive, and can it serve: for the supervisor and the load balancer."""

from __future__ import annotations

from datetime import timedelta

from django.core.cache import cache
from django.db import DatabaseError, InterfaceError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from redis.exceptions import RedisError

from plantcare.jobs.queries import age_of_heartbeat

HEARTBEAT_LATE_AFTER = timedelta(minutes=5)


def livez(request: HttpRequest) -> JsonResponse:  # noqa: ARG001 - a view's signature
    """Answer that the process runs; it asks nothing else, or a database restart would kill it."""
    return _answer({"status": "alive"}, 200)


def readyz(request: HttpRequest) -> JsonResponse:  # noqa: ARG001 - a view's signature
    """Answer 200 when requests can be served, 503 when not.

    A missing Redis or a late schedule only delays work that is already stored, so they are
    told as "degraded" and the process keeps serving.
    """
    parts = {"database": _database(), "redis": _redis(), "migrations": "unknown", "schedule": "unknown"}
    if parts["database"] == "ok":
        parts["migrations"] = _migrations()
        if parts["migrations"] == "ok":
            parts["schedule"] = _schedule()
    serving = parts["database"] == "ok" and parts["migrations"] == "ok"
    well = serving and all(state == "ok" for state in parts.values())
    status = "ready" if well else "degraded" if serving else "not ready"
    return _answer({"status": status, "parts": parts}, 200 if serving else 503)


def _answer(body: dict[str, object], status: int) -> JsonResponse:
    return JsonResponse(body, status=status, headers={"Cache-Control": "no-store"})


def _database() -> str:
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except (DatabaseError, InterfaceError):
        return "away"
    return "ok"


def _redis() -> str:
    try:
        cache.set("readyz", 1, timeout=5)
    except (RedisError, OSError):
        return "away"
    return "ok"


def _migrations() -> str:
    executor = MigrationExecutor(connection)
    pending = executor.migration_plan(executor.loader.graph.leaf_nodes())
    return f"{len(pending)} pending" if pending else "ok"


def _schedule() -> str:
    age = age_of_heartbeat(timezone.now())
    if age is None:
        return "never ran"
    return "ok" if age <= HEARTBEAT_LATE_AFTER else f"last ran {int(age.total_seconds())} s ago"
