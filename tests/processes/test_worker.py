"""A real Celery worker on a real broker runs the jobs of a real database."""

import subprocess

import pytest

from plantcare.celery import app
from plantcare.jobs.models import JobRun
from plantcare.jobs.schedule import TASK
from tests.findings.chain import Plant
from tests.processes.patience import QUEUE, wait_for
from workorders.orders.models import WorkOrder

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.processes]


def send(name: str) -> None:
    app.send_task(TASK, kwargs={"name": name}, queue=QUEUE)


def test_it_opens_the_orders_that_are_due(worker: subprocess.Popen[bytes]) -> None:
    finding = Plant().leak(30.0)
    send("open_due_orders")
    wait_for(lambda: JobRun.objects.filter(job="open_due_orders", outcome="done").exists(), worker)

    assert WorkOrder.objects.get().site_id == finding.site_id


def test_a_message_that_comes_twice_does_its_work_once(worker: subprocess.Popen[bytes]) -> None:
    Plant().leak(30.0)
    for _ in range(4):
        send("open_due_orders")
    wait_for(
        lambda: JobRun.objects.filter(job="open_due_orders", ended_at__isnull=False).count() >= 4, worker
    )

    assert WorkOrder.objects.count() == 1


def test_an_unknown_job_does_not_stop_the_worker(worker: subprocess.Popen[bytes]) -> None:
    send("no_such_job")
    send("heartbeat")
    wait_for(lambda: JobRun.objects.filter(job="heartbeat", outcome="done").exists(), worker)

    assert worker.poll() is None
