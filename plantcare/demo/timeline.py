"""The days of the demo plant, one after another: who does what, and the set pieces that a visitor should find."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any, Final

from django.db.models import QuerySet

from findings.deferrals.actions import approve, end_lapsed, request_deferral
from findings.deferrals.rules import DeferralReason
from findings.kinds.base import Kind, Medium
from findings.plant.rules import Right
from findings.register.actions import merge
from findings.register.queries import findings
from plantcare.api.actor import Actor
from plantcare.demo.bearings import first_listenings
from plantcare.demo.nights import read_the_meter, time_the_machine
from plantcare.demo.nozzles import hear_by_level
from plantcare.demo.sounds import (
    judge_panels,
    listen_closely,
    record_bearing,
    record_panel,
    release_for_work,
    say_what_is_known,
    walk_the_door,
)
from plantcare.demo.story import Fault, Plant
from workorders.clocks.actions import escalate, schedule_reinspections
from workorders.orders.actions import move, open_due_orders, open_order
from workorders.orders.queries import open_order_of, order_findings, orders
from workorders.orders.rules import MoveName, OrderState, RepairOutcome
from workorders.statements.actions import book_corrections, close_due_months
from workorders.verification.actions import judge_waiting, verify

ALL_RIGHTS: Final = frozenset(Right)
REPAIR_DAYS: Final = {"P1": (1, 2), "P2": (2, 9), "P3": (6, 26), "P4": (15, 70)}
"""How long a repair takes from its order, by priority: invented."""
CAUSES: Final = (
    "worn seal",
    "loose fitting",
    "cracked hose",
    "hardened gasket",
    "missing lubrication",
    "abrasion",
)
PARTS: Final = ("seal kit", "push-in fitting 8 mm", "hose 10 mm", "gasket sheet", "grease", "bearing 6205")


@dataclass(slots=True)
class Diary:
    """What is planned for which day."""

    plant: Plant
    begin: date
    end: date
    repairs: dict[date, list[uuid.UUID]] = field(default_factory=dict)
    checks: dict[date, list[uuid.UUID]] = field(default_factory=dict)
    planned: set[uuid.UUID] = field(default_factory=set)

    def wear_at(self, day: date) -> float:
        """Return how fast new faults come up: less and less, for the plant learns (invented)."""
        share = (day - self.begin) / (self.end - self.begin)
        return 1.35 - 0.75 * share


def tell(plant: Plant, begin: date, end: date, progress: Callable[[str], None] = print) -> None:
    """Play every day from ``begin`` up to, not including, ``end``."""
    diary = Diary(plant, begin, end)
    pieces = _set_pieces(plant, begin, end)
    day = begin
    while day < end:
        if day.day == 1:
            progress(f"{day:%Y-%m}")
        for piece in pieces.get(day, ()):
            piece(day)
        _play_day(diary, day)
        day += timedelta(days=1)


def shut_down(day: date) -> bool:
    """Say whether the plant stands still for its two summer weeks."""
    return day.month == 8 and 3 <= day.day <= 16


def _play_day(diary: Diary, day: date) -> None:
    plant = diary.plant
    plant.let_a_day_pass(day, 0.0 if shut_down(day) else diary.wear_at(day))
    _repair(diary, day)
    site = [plant.world.site_id]
    at = plant.local(day, 16)
    if day.day == 4:
        close_due_months(actor=Actor.job("close_months"), at=at, site_ids=site)
        book_corrections(actor=Actor.job("book_corrections"), at=at, site_ids=site)
    end_lapsed(actor=Actor.job("end_lapsed_deferrals"), at=at, site_ids=site)
    if day.weekday() == 6 or shut_down(day):
        return
    if day.weekday() == 1:
        _walk(plant, day)
    if day.weekday() == 3:
        _check(diary, day)
    if day.weekday() in {1, 3}:
        judge_panels(plant, day)
        judge_waiting(actor=Actor.job("judge_repairs"), at=at, site_ids=site)
        open_due_orders(actor=Actor.job("open_due_orders"), at=at, site_ids=site)
        if day.weekday() == 3:
            _order_by_hand(plant, day)
        _plan_repairs(diary, day)
    if day.weekday() == 0:
        escalate(actor=Actor.job("escalate_findings"), at=at, site_ids=site)
    if day.day <= 7 and day.weekday() == 1:
        schedule_reinspections(actor=Actor.job("schedule_reinspections"), at=at, site_ids=site)


def _walk(plant: Plant, day: date) -> None:
    """Walk one area a week, each every four weeks."""
    week = day.toordinal() // 7
    area = ("DOUGH", "WRAP", "UTIL", "STORE")[week % 4]
    inspector, instrument = (("ines.falk", "D-1"), ("jonas.brandt", "D-2"))[(week // 4) % 2]
    spots = [spot for spot in plant.world.spots if spot.area == area]
    plant.survey(day, f"{area} {day.isoformat()}", spots, inspector, instrument)


def _check(diary: Diary, day: date) -> None:
    """Listen again where a repair waits for its check."""
    due = [point for planned, points in list(diary.checks.items()) if planned <= day for point in points]
    diary.checks = {planned: points for planned, points in diary.checks.items() if planned > day}
    plant = diary.plant
    taken = plant.listen_again(day, [plant.by_point[point] for point in dict.fromkeys(due)])
    for one in taken:
        finding = one.finding
        if finding is None or finding.status != "repaired" or finding.kind != Kind.ELECTRICAL_DISCHARGE:
            continue
        verify(
            actor=plant.world.actor("ines.falk"),
            at=plant.local(day, 15, 30),
            finding_id=finding.pk,
            reading_id=one.reading.pk,
            rights=ALL_RIGHTS,
            energised=True,
            qualified=True,
        )


def _order_by_hand(plant: Plant, day: date) -> None:
    """Let the planner order what no rule ordered: the small ones of one asset on one order."""
    waiting: dict[uuid.UUID, list[uuid.UUID]] = {}
    for finding in _open(plant).filter(found_at__lt=plant.local(day, 0) - timedelta(days=8)):
        if open_order_of(finding.pk) is None:
            waiting.setdefault(finding.asset_id, []).append(finding.pk)
    for finding_ids in waiting.values():
        open_order(
            actor=plant.world.actor("petra.kern"), at=plant.local(day, 15), finding_ids=finding_ids[:6]
        )


def _plan_repairs(diary: Diary, day: date) -> None:
    """Give each new order a day, by its priority."""
    plant = diary.plant
    ready = orders().filter(site_id=plant.world.site_id, state=OrderState.READY).order_by("number")
    for order in ready:
        if order.pk in diary.planned:
            continue
        first, last = REPAIR_DAYS[order.priority]
        on = day + timedelta(days=plant.dice.randint(first, last))
        while on.weekday() == 6:
            on += timedelta(days=1)
        diary.repairs.setdefault(on, []).append(order.pk)
        diary.planned.add(order.pk)


def _repair(diary: Diary, day: date) -> None:
    plant = diary.plant
    for order_id in diary.repairs.pop(day, []):
        order = orders().filter(pk=order_id).first()
        if order is not None and order.state == OrderState.WAITING:
            order = _wait_or_resume(plant, day, order_id, MoveName.RESUME)
        if order is None or order.state not in {OrderState.READY, OrderState.SCHEDULED}:
            continue
        if plant.dice.random() < 0.06:
            # Parts did not come: it waits a fortnight more, and says so.
            _wait_or_resume(plant, day, order_id, MoveName.WAIT, wait_reason="parts", text="on their way")
            diary.repairs.setdefault(day + timedelta(days=14), []).append(order_id)
            continue
        _repair_order(diary, day, order)


def _wait_or_resume(plant: Plant, day: date, order_id: uuid.UUID, name: MoveName, **evidence: object) -> Any:
    """Let the planner stop an order in the morning, or take it up again."""
    at, by = plant.local(day, 8), plant.world.actor("petra.kern")
    return move(actor=by, at=at, order_id=order_id, name=name, evidence=evidence, rights=ALL_RIGHTS)


def _repair_order(diary: Diary, day: date, order: Any) -> None:
    plant = diary.plant
    person = plant.world.actor(plant.dice.choice(("tomas.weiss", "lea.sommer")))
    begin = plant.local(day, plant.dice.randint(12, 14), plant.dice.randint(0, 59))
    done = begin + timedelta(minutes=plant.dice.randint(15, 95))
    found = list(order_findings(order.pk))
    release_for_work(plant, day, found)
    outcomes = [plant.repair(finding.point_id) for finding in found]
    outcome = max(outcomes, key=("fixed", "partial", "not_found").index, default="not_found")
    if outcome == "not_found":
        outcome = "fixed"  # nothing is heard any more: the fitting was tightened
    move(
        actor=person,
        at=begin,
        order_id=order.pk,
        name=MoveName.START,
        evidence={"isolation_confirmed": True},
        rights=ALL_RIGHTS,
    )
    move(
        actor=person,
        at=done,
        order_id=order.pk,
        name=MoveName.REPORT_REPAIR,
        evidence={
            "outcome": RepairOutcome(outcome),
            "action_taken": "replaced what was worn and tightened the rest",
            "cause": plant.dice.choice(CAUSES),
            "parts": [plant.dice.choice(PARTS)],
            "labour_hours": Decimal((done - begin).seconds) / 3600,
            "cost": Decimal(plant.dice.randint(8, 160)),
            "repaired_at": done,
            "isolation_confirmed": True,
        },
        rights=ALL_RIGHTS,
    )
    diary.planned.discard(order.pk)
    check_on = day + timedelta(days=plant.dice.choice((3, 5, 8, 12)))
    diary.checks.setdefault(check_on, []).extend(finding.point_id for finding in found)


def _set_pieces(plant: Plant, begin: date, end: date) -> dict[date, list[Callable[[date], None]]]:
    """Plant the stories that a visitor should find, each on its day."""
    pieces = first_listenings(plant, begin)

    def on(days_before_end: int, act: Callable[[date], None]) -> None:
        day = max(begin, end - timedelta(days=days_before_end))
        pieces.setdefault(day, []).append(act)

    bearing = plant.spot("OV-1-FAN", 0).point_id
    seal = plant.spot("WR-2", 6).point_id
    panel = plant.spot("EP-3", 0).point_id
    fan = plant.spot("DF-2", 0).point_id
    door = plant.spot("PC-1", 4).point_id
    plant.silenced.add(door)
    twins = (plant.spot("WR-1", 2).point_id, plant.spot("WR-1", 3).point_id)
    # Grease does not help it; only the replacement does.
    on(400, lambda day: _set_fault(plant, bearing, day, 1.0, 0.0105, holds=False))
    on(45, lambda _: _let_repairs_hold(plant, bearing))
    on(150, lambda day: _set_fault(plant, seal, day, 1.6e-3, 0.0, holds=False))
    on(40, lambda _: _let_repairs_hold(plant, seal))
    on(10_000, lambda day: say_what_is_known(plant, day, bearing, panel, door))
    on(330, lambda day: record_bearing(plant, day, bearing, snr_db=-6.0))
    on(70, lambda day: record_bearing(plant, day, bearing, snr_db=6.0))
    on(40, lambda day: _set_fault(plant, fan, day, 0.1, 0.045, holds=False))
    for days_before_end in range(39, 1, -6):
        on(days_before_end, lambda day: listen_closely(plant, day, fan))
    on(200, lambda day: walk_the_door(plant, day, door, torn=False))
    on(3, lambda day: walk_the_door(plant, day, door, torn=True))
    on(1, lambda day: _set_fault(plant, panel, day, 3.0, 0.0))
    on(1, lambda day: record_panel(plant, day, panel))
    on(6, lambda day: _by_level(plant, day, "D-1", 0.8e-3))
    on(5, lambda day: _by_level(plant, day, "D-3", 1.1e-3))
    for days_before_end in range(220, 100, -1):
        on(days_before_end, lambda day: _twins(plant, day, *twins))
    for days_before_end in (420, 260, 170, 75, 33):
        on(days_before_end, lambda day: _defer_one(plant, day, is_safety=False))
    for days_before_end in (560, 330, 130, 40):
        if begin <= end - timedelta(days=days_before_end):
            on(days_before_end, lambda day: time_the_machine(plant, day))
    on(6, lambda day: read_the_meter(plant, day))
    for days_before_end in (300, 8):
        on(days_before_end, lambda day: _defer_one(plant, day, is_safety=True))
    return pieces


def _set_fault(
    plant: Plant, point_id: uuid.UUID, day: date, size: float, growth: float, *, holds: bool = True
) -> None:
    plant.faults[point_id] = Fault(plant.local(day, 6), size, growth, holds)


def _let_repairs_hold(plant: Plant, point_id: uuid.UUID) -> None:
    if point_id in plant.faults:
        plant.faults[point_id].holds_repairs = True


def _by_level(plant: Plant, day: date, instrument: str, hole_m: float) -> None:
    """One leak whose hole nobody sees: its level tells the flow, or only its order of magnitude."""
    taken = set(_open(plant).values_list("point_id", flat=True)) | plant.silenced | plant.faults.keys()
    free = [spot for spot in plant.world.spots if spot.medium is Medium.COMPRESSED_AIR]
    hear_by_level(plant, day, next(spot for spot in free if spot.point_id not in taken), instrument, hole_m)


def _twins(plant: Plant, day: date, first: uuid.UUID, second: uuid.UUID) -> None:
    """One leak between two fittings that two people tag as two, until the planner sees it."""
    if second in plant.silenced:
        return
    open_ones = {finding.point_id: finding for finding in _open(plant).filter(point_id__in=[first, second])}
    if len(open_ones) < 2:
        for point_id in (first, second):
            plant.faults.setdefault(point_id, Fault(plant.local(day, 6), 1.1e-3))
        return
    merge(
        actor=plant.world.actor("petra.kern"),
        at=plant.local(day, 10),
        duplicate_id=open_ones[second].pk,
        survivor_id=open_ones[first].pk,
        reason="one leak between two fittings, tagged twice",
    )
    plant.faults.pop(second, None)
    plant.silenced.add(second)


def _open(plant: Plant) -> QuerySet[Any]:
    return findings().filter(site_id=plant.world.site_id, status="open").order_by("found_at", "number")


def _defer_one(plant: Plant, day: date, *, is_safety: bool) -> None:
    """Let one open finding wait, asked for by the planner and granted by a manager."""
    finding = _open(plant).filter(is_safety=is_safety).first()
    if finding is None:
        return
    at: datetime = plant.local(day, 9)
    deferral = request_deferral(
        actor=plant.world.actor("petra.kern"),
        at=at,
        finding_id=finding.pk,
        reason=DeferralReason.SHUTDOWN_NEEDED if not is_safety else DeferralReason.PARTS,
        text="needs the branch shut off; bundled with the next stop",
        until_at=at + timedelta(days=21 if is_safety else 60),
        interim_measures="barrier and sign at the spot, checked by the shift each day" if is_safety else "",
    )
    approve(
        actor=plant.world.actor("marta.lindner"),
        at=at + timedelta(hours=2),
        deferral_id=deferral.pk,
        version=deferral.version,
    )
