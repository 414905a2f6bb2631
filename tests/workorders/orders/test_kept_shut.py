"""No work begins at an enclosure that a discharge keeps shut, until a qualified person has released it."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest
from django.db import IntegrityError

from findings.panels import actions as panels
from findings.panels.queries import releases_of
from tests.findings.panels.scene import DAY, Panel
from tests.makers import NOW
from tests.people import actor
from tests.workorders.scene import EVERY_RIGHT
from workorders.orders.actions import move, open_order
from workorders.orders.actions.shut import EnclosureKeptShut
from workorders.orders.models import OrderFinding, WorkOrder
from workorders.orders.queries import sheet
from workorders.orders.rules import MoveName, OrderState

pytestmark = pytest.mark.django_db


def ordered(panel: Panel, at: datetime) -> WorkOrder:
    """Open an order for the panel's finding."""
    return open_order(actor=actor(panel.manager), at=at, finding_ids=[panel.finding().pk])


def step(panel: Panel, order: WorkOrder, name: MoveName, at: datetime, **proof: Any) -> WorkOrder:
    by = actor(panel.electrician)
    return move(actor=by, at=at, order_id=order.pk, name=name, evidence=proof, rights=EVERY_RIGHT)


def start(panel: Panel, order: WorkOrder, at: datetime) -> WorkOrder:
    return step(panel, order, MoveName.START, at, isolation_confirmed=True)


class TestStart:
    def test_is_refused_released_allowed_and_refused_again_after_a_new_discharge(self):
        panel = Panel()
        panel.hear("tracking")
        order = ordered(panel, NOW + 2 * DAY)
        with pytest.raises(EnclosureKeptShut):
            start(panel, order, NOW + 2 * DAY)
        panel.qualify()
        panel.release(NOW + 3 * DAY)

        started = start(panel, order, NOW + 4 * DAY)
        assert started.state == OrderState.IN_PROGRESS

        step(panel, order, MoveName.WAIT, NOW + 4 * DAY, wait_reason="parts")
        step(panel, order, MoveName.RESUME, NOW + 4 * DAY)
        panel.hear("tracking", NOW + 4 * DAY)
        with pytest.raises(EnclosureKeptShut):
            start(panel, order, NOW + 6 * DAY)
        [(_, state)] = releases_of(panel.finding(), NOW + 6 * DAY)
        assert state == "withdrawn"

    def test_names_the_point_and_who_may_release_it(self):
        panel = Panel()
        panel.hear()
        panel.qualify()

        with pytest.raises(EnclosureKeptShut) as refused:
            start(panel, ordered(panel, NOW + 2 * DAY), NOW + 2 * DAY)

        assert refused.value.code == "enclosure_kept_shut"
        assert panel.point.code in refused.value.detail
        assert panel.electrician.username in refused.value.detail

    def test_is_refused_once_the_release_has_lapsed(self):
        panel = Panel()
        panel.hear()
        panel.qualify()
        order = ordered(panel, NOW + 2 * DAY)
        panel.release(NOW + 2 * DAY, days=1)

        with pytest.raises(EnclosureKeptShut):
            start(panel, order, NOW + 4 * DAY)

    def test_is_refused_once_the_release_is_taken_back(self):
        panel = Panel()
        panel.hear()
        panel.qualify()
        order = ordered(panel, NOW + 2 * DAY)
        release = panel.release(NOW + 2 * DAY)
        panels.void_release(
            actor=actor(panel.manager), at=NOW + 3 * DAY, release_id=release.pk, reason="It rained in."
        )

        with pytest.raises(EnclosureKeptShut):
            start(panel, order, NOW + 3 * DAY)

    def test_is_not_let_in_by_a_milder_judgement_alone(self):
        panel = Panel()
        condition = panel.hear()
        order = ordered(panel, NOW + 2 * DAY)
        panels.overrule(
            actor=actor(panel.inspector),
            at=NOW + 2 * DAY,
            condition_id=condition.pk,
            sound="mains hum",
            reason="It is the transformer next to it.",
        )

        with pytest.raises(EnclosureKeptShut):
            start(panel, order, NOW + 3 * DAY)

    def test_is_free_where_hum_was_heard_only(self):
        panel = Panel()
        panel.hear("hum")

        assert start(panel, ordered(panel, NOW + 2 * DAY), NOW + 2 * DAY).state == OrderState.IN_PROGRESS


class TestTheDatabase:
    def test_refuses_what_the_act_would_let_through(self):
        panel = Panel()
        panel.hear()
        order = ordered(panel, NOW + 2 * DAY)

        with pytest.raises(IntegrityError, match="kept shut"):
            WorkOrder.objects.filter(pk=order.pk).update(state="in_progress", started_at=NOW + 2 * DAY)

    def test_refuses_a_shut_enclosure_in_work_that_has_begun(self):
        panel = Panel()
        panel.hear("hum")
        order = start(panel, ordered(panel, NOW + 2 * DAY), NOW + 2 * DAY)
        OrderFinding.objects.filter(order=order).update(ended_at=NOW)
        panel.point = type(panel.point).objects.create(
            site=panel.site, asset=panel.point.asset, code="E-2", method="electrical", created_at=NOW
        )
        panel.hear("arcing", NOW + 3 * DAY)

        with pytest.raises(IntegrityError, match="kept shut"):
            OrderFinding.objects.create(site=panel.site, order=order, finding=panel.finding())

    def test_lets_running_work_be_written_down(self):
        panel = Panel()
        panel.hear("hum")
        order = start(panel, ordered(panel, NOW + 2 * DAY), NOW + 2 * DAY)
        panel.hear("tracking", NOW + 3 * DAY)

        assert WorkOrder.objects.filter(pk=order.pk).update(title="Renew the joint", state="in_progress")


def test_the_paper_warns_when_it_is_scheduled_all_the_same():
    panel = Panel()
    panel.hear()
    order = ordered(panel, NOW + 2 * DAY)

    step(
        panel,
        order,
        MoveName.SCHEDULE,
        NOW + 2 * DAY,
        scheduled_for=NOW + 5 * DAY,
        assignee=panel.electrician.pk,
    )

    paper: Any = sheet(order.pk, NOW + 2 * DAY)
    assert [one["code"] for one in paper.warnings] == ["enclosure_kept_shut"]
