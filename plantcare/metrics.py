"""/metrics: what an operator's monitoring reads, in the Prometheus text exposition format 0.0.4.

Closed unless the settings open it: to whoever sends the bearer token, or to networks that are named. To
everybody else the address does not exist. The figures are those of PostgreSQL and of the queue, so each web
process tells the same.
"""

from __future__ import annotations

import hmac
import ipaddress
from collections.abc import Iterable, Mapping, Sequence

from django.conf import settings
from django.db import DatabaseError, InterfaceError
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django_celery_beat.models import PeriodicTask
from redis import Redis
from redis.exceptions import RedisError

from plantcare.jobs.registry import TASK, jobs
from plantcare.jobs.standing import Standing, standings, tallies

CONTENT_TYPE = "text/plain; version=0.0.4; charset=utf-8"
QUEUE = "celery"
ANSWER_LIMIT_S = 1.0

Sample = tuple[Mapping[str, str], float]


def metrics(request: HttpRequest) -> HttpResponse:
    """Answer every figure that can be had; a part that is away is told as such, and the rest left out."""
    if request.method not in ("GET", "HEAD") or not may_read(request):
        raise Http404
    length = _queue_length()
    text = _part("plantcare_broker_up", "gauge", "Whether the queue answers.", [({}, length is not None)])
    if length is not None:
        text += _part("plantcare_queue_length", "gauge", "Messages that wait.", [({}, length)])
    try:
        figures = _from_database()
    except (DatabaseError, InterfaceError):
        figures = None
    text += _part(
        "plantcare_database_up", "gauge", "Whether PostgreSQL answers.", [({}, figures is not None)]
    )
    return HttpResponse(
        text + (figures or ""), content_type=CONTENT_TYPE, headers={"Cache-Control": "no-store"}
    )


def may_read(request: HttpRequest) -> bool:
    """Tell whether the caller has the token or asks from a named network."""
    sent = request.headers.get("Authorization", "").encode()
    token = settings.PLANTCARE_METRICS_TOKEN
    if token and hmac.compare_digest(sent, f"Bearer {token}".encode()):
        return True
    try:
        address = ipaddress.ip_address(request.META.get("REMOTE_ADDR", ""))
    except ValueError:
        return False
    # Behind a proxy every request comes from the proxy: then only the token tells callers apart.
    if "HTTP_X_FORWARDED_FOR" in request.META or "HTTP_FORWARDED" in request.META:
        return False
    return any(address in ipaddress.ip_network(one) for one in settings.PLANTCARE_METRICS_NETWORKS)


def _queue_length() -> int | None:
    try:
        with Redis.from_url(
            settings.CELERY_BROKER_URL,
            socket_timeout=ANSWER_LIMIT_S,
            socket_connect_timeout=ANSWER_LIMIT_S,
        ) as line:
            return int(line.llen(QUEUE))
    except (RedisError, OSError):
        return None


def _from_database() -> str:
    counted = tallies()
    runs: list[Sample] = [({"job": row.job, "outcome": row.outcome}, row.runs) for row in counted]
    spent: list[Sample] = [({"job": row.job, "outcome": row.outcome}, row.duration_s) for row in counted]
    off = PeriodicTask.objects.filter(task=TASK, enabled=False).count()
    return (
        _part("plantcare_job_runs_total", "counter", "Runs since the beginning.", runs)
        + _part("plantcare_job_seconds_total", "counter", "Time spent in runs, in seconds.", spent)
        + _part("plantcare_jobs_switched_off", "gauge", "Jobs that an operator switched off.", [({}, off)])
        + _of_jobs(standings(list(jobs().values()), timezone.now()))
    )


def _of_jobs(found: Sequence[Standing]) -> str:
    def gauge(name: str, told: str, values: Iterable[tuple[str, float | None]]) -> str:
        samples = [({"job": job}, value) for job, value in values if value is not None]
        return _part(f"plantcare_job_{name}", "gauge", told, samples)

    success = [(one.job.name, _epoch_s(one.last_success_at)) for one in found]
    coming = [(one.job.name, _epoch_s(one.next_due_at)) for one in found]
    return (
        gauge("last_success_timestamp_seconds", "When a scheduled run last succeeded.", success)
        + gauge("next_due_timestamp_seconds", "When the next run is due.", coming)
        + gauge(
            "failures_in_a_row",
            "Failed runs since the last success.",
            [(one.job.name, one.failures_in_a_row) for one in found],
        )
        + gauge("lag_seconds", "How late the last run began.", [(one.job.name, one.lag_s) for one in found])
        + gauge(
            "duration_seconds",
            "How long the last successful run took.",
            [(one.job.name, one.duration_s) for one in found],
        )
        + gauge("parked", "Things left alone after failures.", [(one.job.name, one.parked) for one in found])
    )


def _epoch_s(moment: object) -> float | None:
    timestamp = getattr(moment, "timestamp", None)
    return None if timestamp is None else float(timestamp())


def _part(name: str, kind: str, told: str, samples: Iterable[Sample]) -> str:
    """Write one metric with its help, its type and its samples."""
    lines = [f"# HELP {name} {told}", f"# TYPE {name} {kind}"]
    lines += [f"{name}{_labels(labels)} {float(value)!r}" for labels, value in samples]
    return "\n".join(lines) + "\n"


def _labels(labels: Mapping[str, str]) -> str:
    if not labels:
        return ""
    return "{" + ",".join(f'{name}="{_escaped(value)}"' for name, value in labels.items()) + "}"


def _escaped(value: str) -> str:
    return value.replace("\\", "\\\\").replace("\n", "\\n").replace('"', '\\"')
