"""What tests of work orders stand on: findings that were really heard, orders that were really opened."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from django.db import connections

from findings.kinds.base import Kind, Medium
from findings.plant.models import MeasuringPoint, Site
from findings.plant.rules import Right
from findings.readings.actions import NewReading
from findings.readings.models import Reading
from findings.register.actions import Taken, take_readings
from findings.register.actions.conditions import consider
from findings.register.models import Finding
from findings.supply.models import SupplySystem
from findings.surveys.models import Survey
from plantcare.api.actor import Actor
from tests.findings.conditions.judged import keep
from tests.makers import (
    NOW,
    make_asset,
    make_connection,
    make_instrument,
    make_point,
    make_priced_system,
    make_site,
    make_survey,
    make_system,
    number,
)
from tests.people import actor_at
from workorders.orders.actions import move, open_order
from workorders.orders.models import WorkOrder
from workorders.orders.rules import MoveName, OrderState

EVERY_RIGHT = frozenset(Right)
LOUD: dict[str, Any] = {
    "level_db": 55.0,
    "background_db": 20.0,
    "distance_m": 0.5,
    "pressure_gauge_pa": 600_000.0,
    "severity": 3,
}
"""A marked leak under like conditions."""

SILENT: dict[str, Any] = {**LOUD, "level_db": 20.0, "severity": None, "kind": "", "medium": ""}
"""Nothing heard where the leak was, under like conditions."""


def air_point(site: Site | None = None, **values: Any) -> MeasuringPoint:
    """Make a point at an asset fed with compressed air whose loss has a price."""
    site = site or make_site()
    asset = make_asset(site, **values)
    system = SupplySystem.objects.filter(site=site, medium=Medium.COMPRESSED_AIR).first()
    make_connection(asset, system or make_priced_system(site))
    return make_point(asset=asset)


def gas_point(site: Site | None = None) -> MeasuringPoint:
    """Make a point at a burner fed with natural gas."""
    site = site or make_site()
    asset = make_asset(site, name="Oven burner")
    make_connection(asset, make_system(site, medium=Medium.NATURAL_GAS, pressure_gauge_pa=10_000.0))
    return make_point(asset=asset)


def walk(site: Site, at: datetime = NOW, **values: Any) -> Survey:
    """Make a survey that was on at a moment, with one detector for the whole site."""
    held = Survey.objects.filter(site=site, instrument__isnull=False).first()
    instrument = held.instrument if held is not None else make_instrument(site)
    return make_survey(site, started_at=at - timedelta(hours=1), instrument=instrument, **values)


def listen(
    point: MeasuringPoint,
    at: datetime = NOW,
    *,
    by: Actor | None = None,
    survey: Survey | None = None,
    **said: Any,
) -> Taken:
    """Take a reading at a point: a marked leak of compressed air unless said otherwise."""
    given = {"kind": Kind.PRESSURE_LEAK, "medium": Medium.COMPRESSED_AIR, **LOUD, **said}
    survey = survey or walk(point.site, at)
    item = NewReading(
        client_id=f"reading-{number()}",
        point_id=point.pk,
        taken_at=at,
        instrument_id=survey.instrument_id,
        **given,
    )
    [taken] = take_readings(
        actor=by or actor_at(point.site, "inspector"), at=at, survey_id=survey.pk, items=[item]
    )
    assert isinstance(taken, Taken), taken
    return taken


def heard(point: MeasuringPoint | None = None, at: datetime = NOW, **said: Any) -> Finding:
    """Hear a fault and return its finding."""
    finding = listen(point or air_point(), at, **said).finding
    assert finding is not None
    return finding


def gas_heard(point: MeasuringPoint | None = None, at: datetime = NOW, **said: Any) -> Finding:
    """Hear a leak of fuel gas: a safety finding."""
    said = {"medium": Medium.NATURAL_GAS, "pressure_gauge_pa": 10_000.0, **said}
    return heard(point or gas_point(), at, **said)


def judged(point: MeasuringPoint, at: datetime, severity: int) -> Finding:
    """Judge the condition of a bearing, and let it count for its finding."""
    said = {"kind": Kind.MECHANICAL_WEAR, "medium": "", "distance_m": None, "pressure_gauge_pa": None}
    reading = listen(point, at, **said).reading
    condition = keep(reading, at=at, severity=severity)
    finding = consider(actor=actor_at(point.site, "inspector"), at=at, condition=condition)
    assert finding is not None
    return finding


def after_reading(finding: Finding, at: datetime, **said: Any) -> Reading:
    """Take a reading at a finding's point: silence unless said otherwise."""
    quiet = {**SILENT, "pressure_gauge_pa": 10_000.0 if finding.is_safety else 600_000.0}
    return listen(finding.point, at, **{**quiet, **said}).reading


def ordered(*found: Finding, at: datetime = NOW, by: Actor | None = None, **said: Any) -> WorkOrder:
    """Open an order for findings."""
    by = by or actor_at(found[0].site, "planner")
    return open_order(actor=by, at=at, finding_ids=[finding.pk for finding in found], **said)


def moved(
    order: WorkOrder, name: MoveName, at: datetime = NOW, by: Actor | None = None, **proof: Any
) -> WorkOrder:
    """Make a move with every right."""
    by = by or actor_at(order.site, "manager")
    return move(actor=by, at=at, order_id=order.pk, name=name, evidence=proof, rights=EVERY_RIGHT)


def repaired(order: WorkOrder, at: datetime = NOW, by: Actor | None = None) -> WorkOrder:
    """Start an order that is ready, and report its repair at the same moment."""
    moved(order, MoveName.START, at, by, isolation_confirmed=True)
    return moved(
        order,
        MoveName.REPORT_REPAIR,
        at,
        by,
        outcome="fixed",
        action_taken="New seal fitted.",
        repaired_at=at,
        isolation_confirmed=True,
    )


def in_state(state: OrderState, finding: Finding | None = None, at: datetime = NOW) -> WorkOrder:
    """Bring an order to a state by the moves that lead there."""
    order = ordered(finding or heard(at=at), at=at, released=state is not OrderState.DRAFT)
    technician = actor_at(order.site, "technician")
    match state:
        case OrderState.SCHEDULED:
            order = moved(order, MoveName.SCHEDULE, at, scheduled_for=at, assignee=technician.user_id)
        case OrderState.IN_PROGRESS:
            order = moved(order, MoveName.START, at, technician, isolation_confirmed=True)
        case OrderState.WAITING:
            order = moved(order, MoveName.WAIT, at, wait_reason="parts")
        case OrderState.REPAIRED:
            order = repaired(order, at, technician)
        case OrderState.CLOSED:
            order = moved(
                order,
                MoveName.CLOSE,
                at,
                closure_reason="branch_isolated",
                closure_text="Valve 12 is locked shut.",
            )
        case OrderState.CANCELLED:
            order = moved(order, MoveName.CANCEL, at, cancel_reason="duplicate")
    assert order.state == state
    return order


def at_once(*works: Callable[[], Any]) -> list[Any]:
    """Run works in threads that start together; return what each gave or raised."""
    gate = threading.Barrier(len(works))
    results: list[Any] = [None] * len(works)

    def run(index: int, work: Callable[[], Any]) -> None:
        try:
            gate.wait(timeout=20)
            results[index] = work()
        except Exception as exc:  # noqa: BLE001 - what was raised is the result
            results[index] = exc
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=(index, work)) for index, work in enumerate(works)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    return results
