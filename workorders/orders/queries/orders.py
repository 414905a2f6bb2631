"""Read work orders with their findings, their promised times and what a day of waiting costs."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import (
    BooleanField,
    Case,
    DateTimeField,
    DurationField,
    Exists,
    ExpressionWrapper,
    F,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Sum,
    Value,
    When,
)
from django.db.models.functions import Coalesce, Greatest, Least

from findings.deferrals.models import Deferral
from findings.kinds.base import Kind
from findings.kinds.pricing import energy_per_m3, price_by_mass, price_by_volume
from findings.kinds.wear_condition import ADVANCED_SEVERITY
from findings.logbook.queries import history_of
from findings.panels.queries import kept_shut, who_may_release
from findings.plant.models import MeasuringPoint
from findings.register.models import Finding
from findings.register.queries import findings
from findings.register.rules import FindingStatus
from findings.supply.models import SupplySystem
from findings.supply.queries import price_in_force, supply_state, value_in_force
from findings.supply.rules import Quantity
from plantcare.people.queries import people
from workorders.orders.models import (
    OPEN,
    OrderFinding,
    RepairReport,
    ServiceLevel,
    WorkOrder,
)
from workorders.orders.rules import (
    FINAL_STATES,
    SERIOUS_SEVERITY,
    SMALL_COST_PER_DAY,
    OrderState,
    Prices,
    rate_that_costs,
)


def orders() -> QuerySet[WorkOrder]:
    """Return all orders with what a list shows; a door narrows them to the caller's sites."""
    return WorkOrder.objects.select_related("site", "area", "asset", "assignee")


def open_orders(site_ids: Iterable[uuid.UUID] | None = None) -> QuerySet[WorkOrder]:
    """Return the orders that are still somebody's work, checks of a repair included."""
    rows = orders().filter(OPEN)
    return rows if site_ids is None else rows.filter(site_id__in=list(site_ids))


def with_clock(rows: QuerySet[WorkOrder], at: datetime | None) -> QuerySet[WorkOrder]:
    """Add `clock_due_at`: the promised time, moved by every approved deferral that began before it.

    A deferral still in force moves it on with the clock, so that it cannot run out meanwhile; of
    several findings the one that waited longest counts. A wait that holds the clock does the same from
    its beginning on, and what of a deferral lies in it is not counted twice. Without a moment everything is
    taken to run its term, so that the answer stands still; a wait of which nobody knows the end adds nothing.
    """
    now = Value(at, output_field=DateTimeField())
    # Without a moment it is NULL, which LEAST and GREATEST leave out.
    stops = Coalesce(OuterRef("clock_paused_at"), now)
    until = Least(Coalesce("ended_at", "until_at"), "until_at", now, stops)
    pauses = (
        Deferral.objects.filter(
            finding_id__in=OrderFinding.objects.filter(order_id=OuterRef(OuterRef("pk"))).values(
                "finding_id"
            ),
            approved_at__isnull=False,
            approved_at__gte=OuterRef("clock_from_at"),
            approved_at__lt=Least(OuterRef("due_at"), now, stops),
        )
        .values("finding_id")
        .annotate(length=Sum(ExpressionWrapper(until - F("approved_at"), output_field=DurationField())))
        .order_by("-length")
        .values("length")[:1]
    )
    none = Value(timedelta(0), output_field=DurationField())
    held_to = Greatest(Least(now, Coalesce("clock_paused_until_at", now)), "clock_paused_at")
    waited = ExpressionWrapper(held_to - F("clock_paused_at"), output_field=DurationField())
    moved = ExpressionWrapper(
        F("due_at") + Coalesce(Subquery(pauses), none) + Coalesce(waited, none), output_field=DateTimeField()
    )
    return rows.annotate(clock_due_at=moved)


def _late(at: datetime) -> Q:
    """Say when an order's time has run out: for the repair, or for its check once it is reported."""
    to_repair = OPEN & ~Q(state=OrderState.REPAIRED) & Q(due_at__lt=at, clock_due_at__lt=at)
    return to_repair | Q(state=OrderState.REPAIRED, verify_by_at__isnull=False, verify_by_at__lt=at)


def shown(at: datetime) -> QuerySet[WorkOrder]:
    """Return all orders with `clock_due_at` and `overdue` as they stand at a moment."""
    late = Case(When(_late(at), then=Value(True)), default=Value(False), output_field=BooleanField())
    return with_clock(orders(), at).annotate(overdue=late)


def only_overdue(rows: QuerySet[Any], at: datetime, *, yes: bool) -> QuerySet[Any]:
    """Return the rows of `shown` whose time has run out, or the others."""
    # The conditions on stored columns stand for themselves, so that an index serves.
    return rows.filter(_late(at)) if yes else rows.filter(overdue=False)


def only_open(rows: QuerySet[WorkOrder], *, yes: bool) -> QuerySet[WorkOrder]:
    """Return the orders that are still work, or those that ended."""
    return rows.filter(OPEN) if yes else rows.filter(state__in=list(FINAL_STATES))


def sheet(order_id: uuid.UUID, at: datetime) -> WorkOrder:
    """Return an order of `shown` with `findings` and `repair_reports`: what belongs on its paper."""
    order = shown(at).get(pk=order_id)
    vars(order).update(findings=list(order_findings(order_id)), repair_reports=list(reports_of(order_id)))
    vars(order).update(warnings=shut_warnings(order, at))
    return order


def kept_shut_points(order_id: uuid.UUID, at: datetime) -> list[MeasuringPoint]:
    """Return the measuring points of an order whose enclosure a discharge keeps shut at a moment."""
    tied = OrderFinding.objects.filter(order_id=order_id, ended_at__isnull=True)
    point_ids = set(tied.values_list("finding__point_id", flat=True))
    shut = kept_shut(point_ids, at) if point_ids else set()
    return list(MeasuringPoint.objects.filter(pk__in=shut).order_by("code"))


def shut_warnings(order: WorkOrder, at: datetime) -> list[dict[str, str]]:
    """Say which enclosures of an order that is still work may not be opened, and who may release them."""
    if order.state in FINAL_STATES:
        return []
    return [
        {
            "code": "enclosure_kept_shut",
            "text": f"{point.code} is kept shut by a discharge: work can't begin. "
            f"{who_may_release(order.site_id, at)}",
        }
        for point in kept_shut_points(order.pk, at)
    ]


def order_findings(order_id: uuid.UUID) -> QuerySet[Finding]:
    """Return the findings that an order is to repair, by number."""
    return findings().filter(pk__in=linked_to(order_id).values("finding_id")).order_by("number")


def linked_to(order_id: uuid.UUID) -> QuerySet[OrderFinding]:
    """Return the ties of an order to its findings."""
    return OrderFinding.objects.filter(order_id=order_id)


def kinds_of(order_id: uuid.UUID) -> set[str]:
    """Return the kinds of the findings that an order is to repair."""
    return set(linked_to(order_id).values_list("finding__kind", flat=True))


def having_finding(rows: QuerySet[WorkOrder], finding_id: uuid.UUID) -> QuerySet[WorkOrder]:
    """Return the orders, past ones too, that were to repair a finding."""
    return rows.filter(pk__in=OrderFinding.objects.filter(finding_id=finding_id).values("order_id"))


def open_order_of(finding_id: uuid.UUID) -> WorkOrder | None:
    """Return the one open order of a finding, if it has one."""
    tied = OrderFinding.objects.filter(finding_id=finding_id, ended_at__isnull=True)
    return orders().filter(pk__in=tied.values("order_id")).first()


def reports_of(order_id: uuid.UUID) -> QuerySet[RepairReport]:
    """Return what technicians reported on an order, oldest first."""
    rows = RepairReport.objects.filter(order_id=order_id).select_related("user")
    return rows.order_by("repaired_at", "id")


def person_pk(public_id: uuid.UUID) -> int | None:
    """Return the key of somebody who may sign in, by the id that the outside knows."""
    return people().filter(public_id=public_id).values_list("pk", flat=True).first()


def last_actor_name(order_id: uuid.UUID) -> str:
    """Return who did the last act on an order."""
    last = history_of(order_id).last()
    return last.actor_name if last is not None else ""


def service_levels() -> QuerySet[ServiceLevel]:
    """Return every site's times; a site has rows from its first use on."""
    return ServiceLevel.objects.select_related("site")


def prices_at(site_id: uuid.UUID, system: SupplySystem | None, at: datetime) -> Prices:
    """Return the values in force for a system; a finding without a system has none."""
    if system is None:
        return Prices()

    def value(quantity: Quantity, system_id: uuid.UUID | None) -> Decimal | None:
        found = value_in_force(site_id, quantity, at, system_id=system_id)
        return None if found is None else found.value

    electricity = price_in_force(site_id, at)
    supply = supply_state(system, system.site.atmosphere_pa)
    energy = value(Quantity.SPECIFIC_ENERGY_J_PER_M3, system.pk)
    per_m3 = value(Quantity.GAS_PRICE_PER_M3, system.pk)
    per_kg = value(Quantity.GAS_PRICE_PER_KG, system.pk)
    price = None if per_m3 is None else price_by_volume(supply.medium, per_m3)
    if price is None and per_kg is not None:
        price = price_by_mass(supply.medium, supply.gas_name, per_kg)
    return Prices(
        electricity_per_kwh=None if electricity is None else electricity.value,
        specific_energy_j_per_m3=None if energy is None else energy_per_m3(supply, energy),
        pressurised_share=value(Quantity.PRESSURISED_SHARE, system.pk),
        gas_per_m3=price,
    )


def due_an_order(at: datetime, site_ids: Iterable[uuid.UUID] | None = None) -> QuerySet[Finding]:
    """Return the open findings that deserve an order and have none, the gravest first.

    Deserving are safety findings, serious ones, those whose judged condition asks for an order, and those
    that lose more than a little a day. Wear waits for its second alarm (see ``_wear_may_be_ordered``).
    Left out is what an approved deferral lets wait, and what a cancelled order answered unless it
    was heard again since.
    """
    tied = OrderFinding.objects.filter(finding_id=OuterRef("pk"))
    in_force = Deferral.objects.filter(
        finding_id=OuterRef("pk"), approved_at__isnull=False, ended_at__isnull=True, until_at__gt=at
    )
    answered = tied.filter(order__state=OrderState.CANCELLED, ended_at__gte=OuterRef("last_heard_at"))
    rows = findings().filter(
        Q(is_safety=True)
        | Q(severity__gte=SERIOUS_SEVERITY)
        | Q(condition__order_due=True)
        | _loses_more_than_a_little(at, site_ids),
        _wear_may_be_ordered(),
        ~Exists(tied.filter(ended_at__isnull=True)),
        ~Exists(answered),
        ~Exists(in_force),
        status__in=[FindingStatus.OPEN, FindingStatus.DEFERRED],
    )
    if site_ids is not None:
        rows = rows.filter(site_id__in=list(site_ids))
    return rows.order_by("-is_safety", F("severity").desc(nulls_last=True), "found_at", "id")


def _wear_may_be_ordered() -> Q:
    """Say which findings a job may order for: of wear, those whose condition asks for it.

    A first alarm asks for a second reading before. Where a level can't tell, only what is advanced by the
    ear or by another word is ordered. People may order by hand at any time.
    """
    advanced = Q(severity__gte=ADVANCED_SEVERITY) | Q(condition_severity__gte=ADVANCED_SEVERITY)
    untold = Q(condition__order_due__isnull=True) & advanced
    return ~Q(kind=Kind.MECHANICAL_WEAR) | Q(condition__isnull=True) | Q(condition__order_due=True) | untold


def _loses_more_than_a_little(at: datetime, site_ids: Iterable[uuid.UUID] | None) -> Q:
    """Turn the limit of money into one leak rate per system, so that the database can compare."""
    systems = SupplySystem.objects.select_related("site")
    if site_ids is not None:
        systems = systems.filter(site_id__in=list(site_ids))
    anywhere = Q(pk__in=[])
    for system in systems:
        rate = rate_that_costs(SMALL_COST_PER_DAY, prices_at(system.site_id, system, at))
        if rate is not None:
            anywhere |= Q(system_id=system.pk, leak_rate_m3_per_s__gt=rate)
    return anywhere


def without_open_finding(site_ids: Iterable[uuid.UUID] | None = None) -> QuerySet[WorkOrder]:
    """Return open orders whose findings have all ended one way or another."""
    still_open = OrderFinding.objects.filter(
        order_id=OuterRef("pk"),
        ended_at__isnull=True,
        finding__status__in=[FindingStatus.OPEN, FindingStatus.DEFERRED, FindingStatus.REPAIRED],
    )
    return open_orders(site_ids).filter(~Exists(still_open)).order_by("opened_at", "id")
