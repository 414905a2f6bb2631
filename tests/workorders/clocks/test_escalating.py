"""Telling people that findings are ageing."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from findings.deferrals.models import Deferral
from findings.logbook.queries import history_of
from findings.plant.models import Site
from findings.plant.rules import Right, Role, rights_of
from findings.register.models import Finding
from plantcare.api.actor import Actor
from plantcare.api.problems import Forbidden
from tests.makers import NOW, make_asset, make_point, make_site, make_working_week
from tests.people import actor_at, make_user
from tests.workorders.scene import (
    EVERY_RIGHT,
    air_point,
    at_once,
    gas_heard,
    heard,
    judged,
    listen,
    moved,
    ordered,
    repaired,
)
from workorders.clocks.actions import EscalationTaken, escalate, take_escalation
from workorders.clocks.models import Escalation
from workorders.clocks.queries import missing_steps
from workorders.clocks.rules import DEFAULT_STEPS, TAKEN_HOLDS, escalation_step
from workorders.orders.actions import change_level, levels_of
from workorders.orders.models import WorkOrder
from workorders.orders.rules import MoveName

JOB = Actor.job("escalate_findings")
DAY = timedelta(days=1)
SHARES = (0.0, 0.49, 0.5, 0.79, 0.8, 0.99, 1.0, 1.49, 1.5, 3.0)


def told(at: datetime) -> int:
    """Run the job and return how many were told."""
    return escalate(actor=JOB, at=at)["told"]


def steps() -> list[tuple[int, str]]:
    """Return what was told, in order."""
    return list(Escalation.objects.order_by("step").values_list("step", "to_role"))


@pytest.mark.django_db
class TestEscalate:
    def test_tells_nobody_of_a_fresh_finding(self) -> None:
        heard()

        assert told(NOW + DAY) == 0

    def test_reminds_the_technician_at_half_time(self) -> None:
        order = ordered(heard())

        told(NOW + (order.due_at - NOW) / 2)

        assert steps() == [(1, "technician")]

    def test_tells_every_step_up_to_the_one_reached(self) -> None:
        ordered(gas_heard())

        told(NOW + 2 * DAY)

        assert steps() == [(1, "technician"), (2, "planner"), (3, "planner"), (4, "manager")]

    def test_changes_nothing_the_second_time(self) -> None:
        ordered(gas_heard())
        told(NOW + 2 * DAY)

        assert told(NOW + 2 * DAY) == 0

    def test_watches_a_hazard_that_nobody_has_ordered(self) -> None:
        gas_heard()

        told(NOW + timedelta(hours=12))

        assert steps() == [(1, "technician")]

    def test_watches_what_nobody_has_ranked_by_the_middle_class(self) -> None:
        heard()

        assert (told(NOW + 14 * DAY), told(NOW + 15 * DAY)) == (0, 1)

    def test_stands_still_while_a_deferral_is_in_force(self) -> None:
        finding = heard()
        order = ordered(finding)
        deferred(finding, NOW + DAY, NOW + 300 * DAY)

        assert told(NOW + (order.due_at - NOW)) == 0

    def test_goes_on_after_the_deferral_from_where_it_stood(self) -> None:
        finding = heard()
        half = (ordered(finding).due_at - NOW) / 2
        deferred(finding, NOW + DAY, NOW + 11 * DAY)

        assert (told(NOW + half + 9 * DAY), told(NOW + half + 10 * DAY)) == (0, 1)

    def test_counts_working_hours_where_they_were_promised(self) -> None:
        site = make_site()
        make_working_week(site)
        for row in levels_of(site_id=site.pk, at=NOW):
            if row.priority in {"P3", "P4"}:
                change_level(actor=actor_at(site), at=NOW, level_id=row.pk, repair_working_hours=40)
        ordered(heard(air_point(site), severity=2))

        # Half of 40 hours are used on Tuesday at 13:00 of the site: 13 on Monday from 09:00, 7 from 06:00 on.
        assert (told(NOW + timedelta(hours=27, minutes=59)), told(NOW + timedelta(hours=28))) == (0, 1)

    def test_stands_still_while_the_order_waits_for_parts(self) -> None:
        order = ordered(heard(severity=2))
        moved(order, MoveName.WAIT, NOW + DAY, wait_reason="parts")

        assert told(order.due_at + DAY) == 0

    def test_watches_a_repair_that_nobody_checks(self) -> None:
        order = repaired(ordered(heard()), NOW)
        assert order.verify_by_at is not None

        told(order.verify_by_at)

        assert steps()[-1] == (3, "planner")

    def test_forgets_a_closed_finding(self) -> None:
        moved(
            ordered(gas_heard()),
            MoveName.CLOSE,
            closure_reason="branch_isolated",
            closure_text="The branch is capped off.",
        )

        assert told(NOW + 9 * DAY) == 0

    def test_writes_an_entry_for_each_step(self) -> None:
        finding = gas_heard()
        told(NOW + 2 * DAY)

        acts = [entry.act for entry in history_of(finding.pk)]

        assert acts.count("finding.escalated") == 4

    def test_keeps_to_the_sites_it_is_given(self) -> None:
        gas_heard()

        assert escalate(actor=JOB, at=NOW + 9 * DAY, site_ids=[make_site().pk]) == {"told": 0}

    def test_goes_chunk_by_chunk_to_the_end(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr("workorders.clocks.actions.CHUNK", 3)
        site = make_site()
        for _ in range(3):
            listen(make_point(asset=make_asset(site)), severity=1)

        assert told(NOW + 400 * DAY) == 12


@pytest.mark.django_db
class TestReopened:
    def test_climbs_again_in_a_new_episode(self) -> None:
        finding = gas_heard()
        told(NOW + 2 * DAY)
        Finding.objects.filter(pk=finding.pk).update(reopened_count=1, last_heard_at=NOW + 30 * DAY)

        told(NOW + 32 * DAY)

        assert list(
            Escalation.objects.filter(step=1).order_by("episode").values_list("episode", flat=True)
        ) == [
            0,
            1,
        ]


@pytest.mark.django_db
@pytest.mark.parametrize("share", SHARES)
def test_the_database_climbs_as_the_rule_does(share: float) -> None:
    order = ordered(heard())
    now = NOW + (order.due_at - NOW) * share

    found = missing_steps(order.site_id, now, DEFAULT_STEPS)

    assert len(found) == escalation_step(NOW, order.due_at, now)


@pytest.mark.django_db(transaction=True)
class TestTwoRuns:
    def test_tell_nobody_twice(self) -> None:
        site = make_site()
        for _ in range(4):
            heard(air_point(site))

        results = at_once(*[lambda: told(NOW + 400 * DAY)] * 2)

        assert sum(results) == Escalation.objects.count() == 16


@pytest.mark.django_db
class TestTake:
    def test_is_kept_with_who_and_when(self) -> None:
        escalation = reminder()
        technician = actor_at(escalation.site, "technician")

        taken = take(escalation, technician, Role.TECHNICIAN)

        assert (taken.taken_by_id, taken.taken_at) == (technician.user_id, NOW)

    def test_is_refused_the_second_time_naming_the_first(self) -> None:
        escalation = reminder()
        first = actor_at(escalation.site, "technician")
        take(escalation, first, Role.TECHNICIAN)

        with pytest.raises(EscalationTaken, match=first.name):
            take(escalation, actor_at(escalation.site, "manager"), Role.MANAGER)

    def test_takes_every_step_that_asks_for_a_part_of_ones_own(self) -> None:
        first = reminder()
        manager = actor_at(first.site, "manager")

        take(Escalation.objects.get(step=4), manager, Role.MANAGER)

        taken = Escalation.objects.order_by("step").values_list("step", "taken_by_id")
        entries = [entry for entry in history_of(first.finding_id) if entry.act == "escalation.taken"]
        assert list(taken) == [(step, manager.user_id) for step in (1, 2, 3, 4)]
        assert [entry.detail["steps"] for entry in entries] == [[1, 2, 3, 4]]

    def test_leaves_the_steps_that_ask_for_more(self) -> None:
        first = reminder()

        take(first, actor_at(first.site, "technician"), Role.TECHNICIAN)

        left = Escalation.objects.filter(taken_at=None).order_by("step")
        assert list(left.values_list("step", flat=True)) == [2, 3, 4]

    def test_of_one_step_refuses_the_others_to_the_next_person(self) -> None:
        first = reminder()
        manager, other = (actor_at(first.site, "manager") for _ in range(2))
        last = Escalation.objects.get(step=4)

        take(first, manager, Role.MANAGER)
        with pytest.raises(EscalationTaken, match=manager.name):
            take(last, other, Role.MANAGER)

    def test_is_not_for_a_lower_role(self) -> None:
        reminder()
        warning = Escalation.objects.get(step=2)

        with pytest.raises(Forbidden):
            take(warning, actor_at(warning.site, "technician"), Role.TECHNICIAN)

    def test_is_set_only_once_by_the_database(self) -> None:
        escalation = reminder()
        take(escalation, actor_at(escalation.site, "technician"), Role.TECHNICIAN)

        with pytest.raises(IntegrityError), transaction.atomic():
            Escalation.objects.filter(pk=escalation.pk).update(taken_by=make_user())


@pytest.mark.django_db
class TestTakenHolds:
    def test_the_next_step_waits_while_somebody_sees_to_it(self) -> None:
        order = ordered(heard())
        span = order.due_at - NOW
        told(NOW + span * 0.6)
        taken_at = NOW + span * 0.79
        take_escalation(
            actor=actor_at(order.site, "technician"),
            at=taken_at,
            escalation_id=Escalation.objects.get(step=1).pk,
            rights=rights_of([Role.TECHNICIAN]),
        )

        held = told(taken_at + TAKEN_HOLDS - timedelta(hours=1))

        assert (held, told(taken_at + TAKEN_HOLDS + timedelta(hours=1))) == (0, 1)

    def test_a_danger_is_left_to_them_for_a_day_only(self) -> None:
        finding = gas_heard()
        taken_at = NOW + timedelta(hours=13)
        told(taken_at)
        take_escalation(
            actor=actor_at(finding.site, "manager"),
            at=taken_at,
            escalation_id=Escalation.objects.get().pk,
            rights=EVERY_RIGHT,
        )

        held = told(taken_at + timedelta(hours=23))

        assert (held, told(taken_at + timedelta(hours=25))) == (0, 3)


@pytest.mark.django_db
class TestGrowth:
    def test_a_leak_that_grew_by_half_goes_a_step_up_once(self) -> None:
        finding = heard(flow_m3_per_s=0.001, flow_u_m3_per_s=0.00005, flow_method="flow_meter")
        listen(
            finding.point,
            NOW + timedelta(hours=1),
            flow_m3_per_s=0.002,
            flow_u_m3_per_s=0.0001,
            flow_method="flow_meter",
        )

        counts = [told(NOW + timedelta(hours=hours)) for hours in (2, 3)]

        assert counts == [1, 0]
        assert Escalation.objects.get().reason.startswith("It leaks 1.5 times as much")

    def test_a_leak_that_grew_little_stays(self) -> None:
        finding = heard(flow_m3_per_s=0.001, flow_u_m3_per_s=0.00005, flow_method="flow_meter")
        listen(
            finding.point,
            NOW + timedelta(hours=1),
            flow_m3_per_s=0.0014,
            flow_u_m3_per_s=0.00005,
            flow_method="flow_meter",
        )

        assert told(NOW + timedelta(hours=2)) == 0

    def test_growth_counts_from_the_last_step(self) -> None:
        finding = heard(flow_m3_per_s=0.001, flow_u_m3_per_s=0.00005, flow_method="flow_meter")
        for hours, flow in ((1, 0.002), (3, 0.0025), (5, 0.004)):
            listen(
                finding.point,
                NOW + timedelta(hours=hours),
                flow_m3_per_s=flow,
                flow_u_m3_per_s=0.00005,
                flow_method="flow_meter",
            )
            told(NOW + timedelta(hours=hours + 1))

        assert list(Escalation.objects.order_by("step").values_list("step", flat=True)) == [1, 2]

    def test_a_condition_that_got_worse_goes_a_step_up_once(self) -> None:
        point = make_point(method="contact")
        judged(point, NOW, 2)
        judged(point, NOW + timedelta(hours=1), 4)

        counts = [told(NOW + timedelta(hours=hours)) for hours in (2, 3)]

        assert counts == [1, 0]
        assert Escalation.objects.get().reason == "Its condition is worse than at the last step."

    def test_a_condition_that_is_the_first_one_is_no_growth(self) -> None:
        judged(make_point(method="contact"), NOW, 4)

        assert told(NOW + timedelta(hours=1)) == 0

    def test_what_gets_worse_is_told_though_somebody_has_taken_it(self) -> None:
        finding = judged(make_point(method="contact"), NOW, 2)
        judged(finding.point, NOW + timedelta(hours=1), 3)
        told(NOW + timedelta(hours=2))
        step = Escalation.objects.get()
        take_escalation(
            actor=actor_at(finding.site, "manager"),
            at=NOW + timedelta(hours=3),
            escalation_id=step.pk,
            rights=EVERY_RIGHT,
        )
        judged(finding.point, NOW + timedelta(hours=4), 5)

        assert told(NOW + timedelta(hours=5)) == 1


@pytest.mark.django_db
class TestReadClocks:
    """Clocks that run in working hours, or stood still: 40 hours of two shifts a day, from Monday 09:00."""

    def test_the_reason_names_the_share_that_was_read(self) -> None:
        small_order()

        told(NOW + timedelta(hours=28))

        assert Escalation.objects.get().reason == "50% of the time allowed is used up."

    def test_what_nobody_has_ordered_runs_in_working_hours_too(self) -> None:
        site = make_site()
        make_working_week(site)
        in_working_hours(site)
        heard(air_point(site))

        assert (told(NOW + timedelta(hours=27)), told(NOW + timedelta(hours=28))) == (0, 1)

    def test_growth_goes_a_step_up_while_the_clock_is_held(self) -> None:
        order = small_order()
        moved(order, MoveName.WAIT, NOW + timedelta(hours=1), wait_reason="parts")
        grow(order, NOW + timedelta(hours=2), 0.002)

        counts = [told(NOW + timedelta(hours=hours)) for hours in (3, 4)]

        assert counts == [1, 0]
        assert Escalation.objects.get().reason.startswith("It leaks 1.5 times as much")

    def test_growth_stops_at_the_step_after_the_last_one_told(self) -> None:
        order = small_order()
        told(NOW + timedelta(hours=28))
        grow(order, NOW + timedelta(hours=29), 0.002)

        told(NOW + timedelta(hours=30))

        assert steps() == [(1, "technician"), (2, "planner")]

    def test_the_next_step_waits_while_somebody_sees_to_it(self) -> None:
        order = small_order()
        told(NOW + timedelta(hours=28))
        taken_at = NOW + timedelta(hours=29)
        take_escalation(
            actor=actor_at(order.site, "technician"),
            at=taken_at,
            escalation_id=Escalation.objects.get().pk,
            rights=rights_of([Role.TECHNICIAN]),
        )

        held = told(taken_at + TAKEN_HOLDS - timedelta(hours=1))

        assert (held, told(taken_at + TAKEN_HOLDS + timedelta(hours=1))) == (0, 3)

    def test_go_chunk_by_chunk_to_the_end(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr("workorders.clocks.actions.CHUNK", 3)
        site = make_site()
        make_working_week(site)
        in_working_hours(site)
        for _ in range(3):
            ordered(heard(air_point(site), severity=2))

        assert told(NOW + 400 * DAY) == 12


@pytest.mark.django_db
class TestLaw:
    def test_keeps_every_escalation(self) -> None:
        escalation = reminder()

        with pytest.raises(IntegrityError), transaction.atomic():
            escalation.delete()


def in_working_hours(site: Site) -> None:
    """Promise the repairs of P3 and P4 in 40 working hours."""
    for row in levels_of(site_id=site.pk, at=NOW):
        if row.priority in {"P3", "P4"}:
            change_level(actor=actor_at(site), at=NOW, level_id=row.pk, repair_working_hours=40)


def small_order() -> WorkOrder:
    """An order of a measured leak, promised in working hours."""
    site = make_site()
    make_working_week(site)
    in_working_hours(site)
    finding = heard(air_point(site), flow_m3_per_s=0.001, flow_u_m3_per_s=0.00005, flow_method="flow_meter")
    order = ordered(finding)
    assert order.priority in {"P3", "P4"}
    return order


def grow(order: WorkOrder, at: datetime, flow_m3_per_s: float) -> None:
    """Measure the order's leak once more."""
    finding = Finding.objects.get(site=order.site)
    given = {"flow_m3_per_s": flow_m3_per_s, "flow_u_m3_per_s": 0.00005, "flow_method": "flow_meter"}
    listen(finding.point, at, **given)


def reminder() -> Escalation:
    """Let a hazard age and return the first step that was told."""
    gas_heard()
    told(NOW + 2 * DAY)
    return Escalation.objects.get(step=1)


def take(escalation: Escalation, actor: Any, role: Role) -> Escalation:
    """Take an escalation in a role."""
    rights: frozenset[Right] = rights_of([role])
    return take_escalation(actor=actor, at=NOW, escalation_id=escalation.pk, rights=rights)


def deferred(finding: Finding, from_at: datetime, until_at: datetime) -> None:
    """Let a finding wait by an approved deferral."""
    Deferral.objects.create(
        site=finding.site,
        finding=finding,
        is_safety=False,
        reason="parts",
        text="The seal is on order.",
        until_at=until_at,
        requested_by=make_user(),
        requested_at=from_at,
        approved_by=make_user(),
        approved_at=from_at,
    )
