"""The Celery app. The queue is only a hint: every fact and every debt of work stands in PostgreSQL.

So a task may run late, twice or on two workers at once without harm, and Redis may be emptied at any time.
"""

from __future__ import annotations

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "plantcare.settings")

VISIBILITY_TIMEOUT_S = 3600
CONNECT_LIMIT_S = 4
ANSWER_LIMIT_S = 10

app = Celery("plantcare")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.conf.update(
    task_acks_late=True,
    task_reject_on_worker_lost=True,
    worker_prefetch_multiplier=1,
    worker_cancel_long_running_tasks_on_connection_loss=True,
    worker_soft_shutdown_timeout=10,
    worker_lost_wait=2.0,
    worker_hijack_root_logger=False,
    task_time_limit=900,
    task_soft_time_limit=840,
    task_serializer="json",
    accept_content=["json"],
    broker_connection_retry_on_startup=True,
    broker_connection_max_retries=None,
    # A server that hangs must not hold the sender of the schedule, nor a worker, for ever.
    broker_connection_timeout=CONNECT_LIMIT_S,
    broker_transport_options={
        "visibility_timeout": VISIBILITY_TIMEOUT_S,
        "socket_timeout": ANSWER_LIMIT_S,
        "socket_connect_timeout": CONNECT_LIMIT_S,
        "socket_keepalive": True,
    },
    result_backend_transport_options={"visibility_timeout": VISIBILITY_TIMEOUT_S},
    visibility_timeout=VISIBILITY_TIMEOUT_S,
)
app.autodiscover_tasks(["plantcare.jobs", "findings", "workorders"])
