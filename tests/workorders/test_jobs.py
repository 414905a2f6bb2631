"""The scheduled work of the upper floor."""

from __future__ import annotations

import pytest

from plantcare.api.actor import Actor
from plantcare.jobs.actions import run_job
from tests.makers import NOW
from tests.workorders.scene import gas_heard, heard
from workorders.jobs import JOBS
from workorders.orders.models import WorkOrder

NAMES = [job.name for job in JOBS]


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("name", NAMES)
def test_every_job_is_done_twice_without_harm(name: str) -> None:
    gas_heard()

    outcomes = [run_job(name=name, actor=Actor.job(name), at=NOW).outcome for _ in range(2)]

    assert outcomes == ["done", "done"]


@pytest.mark.django_db(transaction=True)
def test_a_job_keeps_to_the_sites_of_who_started_it() -> None:
    finding, _ = heard(), heard()

    run_job(name="open_due_orders", actor=Actor.job("test"), at=NOW, site_ids=[finding.site_id])

    assert [order.site_id for order in WorkOrder.objects.all()] == [finding.site_id]
