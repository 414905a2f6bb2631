"""Opening work orders."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from findings.deferrals.models import Deferral
from findings.logbook.queries import history_of
from findings.register.actions import dismiss
from findings.register.models import Finding
from findings.supply.rules import Quantity
from plantcare.api.actor import Actor
from tests.makers import NOW, make_asset, make_connection, make_point, make_site, make_system, make_value
from tests.people import actor_at, api_as, make_user
from tests.workorders.scene import air_point, at_once, gas_heard, heard, listen, moved, ordered
from workorders.orders.actions import (
    AssigneeUnknown,
    FindingAlreadyOrdered,
    FindingNotOpen,
    FindingsRefused,
    open_due_orders,
    open_order,
)
from workorders.orders.models import OrderFinding, WorkOrder
from workorders.orders.rules import MoveName

JOB = Actor.job("open-due-orders")


@pytest.mark.django_db
class TestOpenOrder:
    def test_is_ready_and_numbered_within_its_site(self) -> None:
        site = make_site()

        orders = [ordered(heard(air_point(site))) for _ in range(2)]

        assert [(order.state, order.number) for order in orders] == [("ready", 1), ("ready", 2)]

    def test_copies_the_cautions_of_its_findings(self) -> None:
        order = ordered(gas_heard())

        assert [caution["key"] for caution in order.cautions][:2] == ["fuel_gas", "not_a_gas_test"]

    def test_ranks_fuel_gas_first_whatever_it_costs(self) -> None:
        order = ordered(gas_heard(severity=1))

        assert (order.priority, order.is_safety) == ("P1", True)

    @pytest.mark.parametrize("medium", ["natural_gas", "propane", "hydrogen", "oxygen"])
    def test_ranks_a_small_leak_of_fuel_gas_or_oxygen_that_costs_nothing_first(self, medium: str) -> None:
        site = make_site()
        system = make_system(site, medium=medium, pressure_gauge_pa=3_000.0)
        make_value(site, Quantity.GAS_PRICE_PER_M3, "0", system=system)
        asset = make_asset(site, criticality="C")
        make_connection(asset, system)
        hole = {"hole_diameter_m": 0.0001, "severity": 1, "pressure_gauge_pa": 3_000.0}

        order = ordered(heard(make_point(asset=asset), medium=medium, **hole))

        assert (order.cost_of_delay_per_day, order.priority) == (Decimal(0), "P1")

    def test_shows_on_its_sheet_what_a_dangerous_finding_lets_out(self) -> None:
        order = ordered(gas_heard())
        planner = api_as("planner", order.site)

        (row,) = planner.get(f"/work-orders/{order.pk}").json()["findings"]

        assert row["release"]["caution_keys"][0] == "fuel_gas"

    def test_promises_a_danger_to_be_repaired_within_a_day(self) -> None:
        assert ordered(gas_heard()).due_at == NOW + timedelta(hours=24)

    def test_tells_why_a_cost_of_delay_is_not_known(self) -> None:
        asset = make_asset()
        order = ordered(heard(make_point(asset=asset)))

        codes = {reason["code"] for reason in order.priority_reasons}

        assert order.cost_of_delay_per_day is None
        assert {"rate_missing", "cost_of_delay_unknown"} <= codes

    def test_prices_a_day_of_waiting_by_the_values_in_force(self) -> None:
        # 0.01 m3/s x 360 kJ/m3 = 3.6 kW; x 24 h x 0.20 per kWh = 17.28 a day.
        finding = heard(flow_m3_per_s=0.01, flow_method="flow_meter", flow_u_m3_per_s=0.001)

        order = ordered(finding)

        assert (order.cost_of_delay_per_day, order.currency) == (Decimal("17.28"), "EUR")

    def test_writes_one_entry_of_its_own(self) -> None:
        order = ordered(heard())

        assert [entry.act for entry in history_of(order.pk)] == ["work_order.opened"]

    def test_refuses_findings_of_two_sites(self) -> None:
        with pytest.raises(FindingsRefused):
            ordered(heard(), heard())

    def test_refuses_no_findings(self) -> None:
        planner = actor_at(make_site(), "planner")

        with pytest.raises(FindingsRefused):
            open_order(actor=planner, at=NOW, finding_ids=[])

    def test_refuses_a_finding_that_was_dismissed(self) -> None:
        finding = heard()
        dismiss(
            actor=actor_at(finding.site),
            at=NOW,
            finding_id=finding.pk,
            dismiss_reason="works_as_meant",
            text="The drain opens so by design.",
        )

        with pytest.raises(FindingNotOpen):
            ordered(finding)

    def test_refuses_a_second_open_order_naming_the_first(self) -> None:
        finding = heard()
        first = ordered(finding)

        with pytest.raises(FindingAlreadyOrdered) as refused:
            ordered(finding)

        assert refused.value.members["order_id"] == str(first.pk)

    def test_refuses_an_assignee_who_does_not_repair_here(self) -> None:
        with pytest.raises(AssigneeUnknown):
            ordered(heard(), assignee_id=make_user().pk)

    def test_leaves_nothing_behind_when_refused(self) -> None:
        with pytest.raises(AssigneeUnknown):
            ordered(heard(), assignee_id=make_user().pk)

        assert not WorkOrder.objects.exists()


@pytest.mark.django_db(transaction=True)
class TestTwoPlanners:
    def test_get_one_order_for_one_finding(self) -> None:
        finding = heard()
        planners = [actor_at(finding.site, "planner") for _ in range(2)]

        results = at_once(*(lambda by=by: ordered(finding, by=by) for by in planners))

        assert sorted(type(result).__name__ for result in results) == ["FindingAlreadyOrdered", "WorkOrder"]
        assert OrderFinding.objects.filter(finding=finding).count() == 1


@pytest.mark.django_db
class TestOpenDueOrders:
    def test_opens_for_safety_findings(self) -> None:
        gas_heard(severity=1)

        assert open_due_orders(actor=JOB, at=NOW) == {"opened": 1, "refused": 0}

    def test_opens_for_serious_findings(self) -> None:
        heard(severity=3)

        assert open_due_orders(actor=JOB, at=NOW)["opened"] == 1

    def test_opens_for_what_loses_more_than_a_little(self) -> None:
        heard(severity=1, flow_m3_per_s=0.01, flow_method="flow_meter", flow_u_m3_per_s=0.001)

        assert open_due_orders(actor=JOB, at=NOW)["opened"] == 1

    def test_leaves_small_findings_to_people(self) -> None:
        heard(severity=2)

        assert open_due_orders(actor=JOB, at=NOW)["opened"] == 0

    def test_changes_nothing_the_second_time(self) -> None:
        heard()
        open_due_orders(actor=JOB, at=NOW)

        assert open_due_orders(actor=JOB, at=NOW)["opened"] == 0

    def test_leaves_alone_what_a_deferral_lets_wait(self) -> None:
        finding = heard()
        defer(finding)

        assert open_due_orders(actor=JOB, at=NOW)["opened"] == 0

    def test_comes_back_when_the_deferral_has_run_out(self) -> None:
        finding = heard()
        defer(finding)

        assert open_due_orders(actor=JOB, at=NOW + timedelta(days=11))["opened"] == 1

    def test_does_not_undo_a_cancellation(self) -> None:
        moved(ordered(heard()), MoveName.CANCEL, cancel_reason="rejected")

        assert open_due_orders(actor=JOB, at=NOW + timedelta(days=1))["opened"] == 0

    def test_opens_again_when_the_fault_is_heard_after_a_cancellation(self) -> None:
        finding = heard()
        moved(ordered(finding), MoveName.CANCEL, cancel_reason="rejected")
        listen(finding.point, NOW + timedelta(days=1))

        assert open_due_orders(actor=JOB, at=NOW + timedelta(days=1))["opened"] == 1

    def test_keeps_to_the_sites_it_is_given(self) -> None:
        heard()
        other = make_site()

        assert open_due_orders(actor=JOB, at=NOW, site_ids=[other.pk])["opened"] == 0


@pytest.mark.django_db(transaction=True)
class TestTwoRuns:
    def test_open_each_order_once(self) -> None:
        site = make_site()
        for _ in range(4):
            heard(air_point(site))

        results = at_once(*[lambda: open_due_orders(actor=JOB, at=NOW)] * 2)

        assert sum(result["opened"] for result in results) == 4
        assert WorkOrder.objects.count() == 4


def defer(finding: Finding) -> None:
    """Let a finding wait for ten days by a deferral in force."""
    asker, granter = make_user(), make_user()
    Deferral.objects.create(
        site=finding.site,
        finding=finding,
        is_safety=finding.is_safety,
        reason="parts",
        text="The seal is on order.",
        until_at=NOW + timedelta(days=10),
        requested_by=asker,
        requested_at=NOW,
        approved_by=granter,
        approved_at=NOW,
    )
    Finding.objects.filter(pk=finding.pk).update(status="deferred")
