"""A site's month from what the rooms below wrote down."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from findings.deferrals.actions import approve, request_deferral
from findings.deferrals.rules import DeferralReason
from findings.kinds.base import Medium
from findings.plant.actions import decommission_asset
from findings.register import actions as register
from findings.register.models import Finding
from findings.register.rules import ClosureReason, DismissReason
from findings.supply.actions import set_value
from findings.supply.queries import system_feeding
from findings.supply.rules import Quantity
from tests.makers import make_point, make_site, make_system, make_value
from tests.people import actor_at
from tests.workorders.scene import ordered
from tests.workorders.statements.plantlife import (
    APRIL,
    MARCH,
    MAY,
    judged,
    leaking,
    local,
    point_on,
    priced_point,
    repaired,
)
from workorders.statements.queries import month_figures
from workorders.statements.rules import quantise

pytestmark = pytest.mark.django_db

END_OF_MARCH, END_OF_APRIL, END_OF_MAY = local(4, 1), local(5, 1), local(6, 1)


def shown(value: Decimal | None, places: int = 2) -> str:
    return "refused" if value is None else str(quantise(value, places))


class TestPriceChangeReestimateAndClockChange:
    """12 m³/h from 10 March 08:00, 9 m³/h from 20 March 12:00, repaired 27 March 10:00, proven 2 April;
    0.18 a kWh, from 15 March 0.21; 6.5 kW/(m³/min). By hand:

    112 h × 12 × 0.108333 × 0.18 + 132 h × 12 × 0.108333 × 0.21 + 166 h × 9 × 0.108333 × 0.21 = 96.2325;
    9 × 0.108333 × 0.21 = 0.20475 an hour avoided, in March for 109 h (the clock goes on), in April 720 h.
    """

    @pytest.fixture
    def site(self):
        point = priced_point()
        make_value(
            point.site, Quantity.ELECTRICITY_PRICE_PER_KWH, "0.21", from_at=local(3, 15), source="contract"
        )
        finding = leaking(point, local(3, 10, 8), 12)
        leaking(point, local(3, 20, 12), 9)
        repaired(finding, local(3, 27, 10))
        assert judged(finding, local(4, 2, 9)) == "passed"
        return point.site

    def test_accrued(self, site):
        assert shown(month_figures(site, MARCH, END_OF_MARCH).total.accrued, 4) == "96.2325"

    def test_avoided_is_claimed_while_nobody_has_checked(self, site):
        total = month_figures(site, MARCH, END_OF_MARCH).total

        assert shown(total.avoided_claimed, 4) == "22.3178"
        assert total.avoided_verified == 0

    def test_avoided_is_verified_once_the_check_is_known(self, site):
        total = month_figures(site, MARCH, local(4, 3)).total

        assert [shown(total.avoided_verified, 4), total.avoided_claimed] == ["22.3178", 0]

    def test_the_next_month_earns_its_own_hours(self, site):
        assert shown(month_figures(site, APRIL, END_OF_APRIL).total.avoided_verified) == "147.42"

    def test_closes_in_the_month_of_the_reading(self, site):
        months = [month_figures(site, month, END_OF_APRIL).total.closed for month in (MARCH, APRIL)]

        assert months == [0, 1]

    def test_energy_is_told_without_a_grid_factor_and_co2e_is_not(self, site):
        figures = month_figures(site, MARCH, END_OF_MARCH)

        # 244 h × 12 + 166 h × 9 m³, each 0.108333 kWh
        assert shown(figures.total.energy_kwh, 2) == "479.05"
        assert figures.total.co2e_kg is None
        assert "grid factor" in figures.refused["co2e_kg"]


class TestCounts:
    """Open at the start 8, found 5 of which one is merged and one dismissed, closed 4."""

    @pytest.fixture
    def site(self):
        first = priced_point()
        site, system = first.site, first_system(first)
        old = [leaking(point_on(site, system), local(2, 3, hour)) for hour in range(8, 16)]
        new = [leaking(point_on(site, system), local(3, 4, hour)) for hour in range(8, 13)]
        by = actor_at(site, "inspector")
        for finding in old[:4]:
            repaired(finding, local(3, 10))
            judged(finding, local(3, 12))
        register.merge(
            actor=by,
            at=local(3, 14),
            duplicate_id=new[0].pk,
            survivor_id=new[1].pk,
            reason="one and the same hole",
        )
        dismiss(new[2], local(3, 14))
        return site

    def test_the_ledger_balances(self, site):
        total = month_figures(site, MARCH, END_OF_MARCH).total

        assert [total.open_start, total.found, total.closed, total.open_end] == [8, 3, 4, 7]

    def test_cleared_with_the_interval_of_wilson(self, site):
        share = month_figures(site, MARCH, END_OF_MARCH).rates.clearance

        # 4 of 11: 15.2 to 64.6 %, Wilson (1927), computed by hand
        assert [share.part, share.whole] == [4, 11]
        assert [round(share.low, 3), round(share.high, 3)] == [0.152, 0.646]

    def test_a_merged_one_was_there_until_it_was_merged(self, site):
        assert month_figures(site, MARCH, local(3, 13)).total.found == 5


class TestFailedCheck:
    """Repaired 5 May, read again 9 May just as loud: the loss never stopped."""

    @pytest.fixture
    def site(self):
        point = priced_point()
        finding = leaking(point, local(4, 20), 12)
        repaired(finding, local(5, 5))
        loud = {"level_db": 55.0, "severity": 3, "kind": "pressure_leak", "medium": "compressed_air"}
        assert judged(finding, local(5, 9), **loud) == "failed"
        return point.site

    def test_the_loss_runs_on_without_a_gap(self, site):
        # 31 days of 24 h × 12 m³ × 0.108333 kWh × 0.18
        assert shown(month_figures(site, MAY, END_OF_MAY).total.accrued) == "174.10"

    def test_the_repair_counts_and_nothing_is_closed(self, site):
        total = month_figures(site, MAY, END_OF_MAY).total

        assert [total.repaired, total.repairs_rejected, total.closed, total.open_end] == [1, 1, 0, 1]

    def test_nothing_is_saved(self, site):
        total = month_figures(site, MAY, END_OF_MAY).total

        assert [total.avoided_verified, total.avoided_claimed] == [0, 0]

    def test_was_claimed_until_it_was_known(self, site):
        total = month_figures(site, MAY, local(5, 8)).total

        assert total.avoided_claimed > 0


class TestReleak:
    def test_counts_as_reopened_and_ends_the_saving(self):
        point = priced_point()
        finding = leaking(point, local(3, 2), 12)
        repaired(finding, local(3, 6))
        judged(finding, local(3, 7))
        leaking(point, local(3, 21), 12)

        total = month_figures(point.site, MARCH, END_OF_MARCH).total

        assert [total.reopened, total.closed, total.open_end] == [1, 1, 1]
        # 15 days × 24 h × 12 m³ × 0.108333 kWh × 0.18
        assert shown(total.avoided_verified) == "84.24"


class TestSetAside:
    def test_a_dismissed_finding_never_cost_anything(self):
        point = priced_point()
        finding = leaking(point, local(3, 10))
        dismiss(finding, local(4, 10))

        assert month_figures(point.site, MARCH, local(4, 11)).total.accrued == 0

    def test_it_did_as_it_was_known_before(self):
        point = priced_point()
        dismiss(leaking(point, local(3, 10)), local(4, 10))

        assert month_figures(point.site, MARCH, local(4, 9)).total.accrued > 0

    def test_a_reinstated_one_costs_again(self):
        point = priced_point()
        finding = leaking(point, local(3, 10))
        before = month_figures(point.site, MARCH, END_OF_MARCH).total.accrued
        dismiss(finding, local(4, 2))
        register.reinstate(
            actor=actor_at(point.site, "inspector"),
            at=local(4, 3),
            finding_id=finding.pk,
            text="heard it with my own ears",
        )

        assert month_figures(point.site, MARCH, local(4, 4)).total.accrued == before

    def test_a_merged_pair_costs_once_from_the_earlier_find(self):
        point = priced_point()
        site, system = point.site, first_system(point)
        survivor = leaking(point, local(3, 11), 10)
        duplicate = leaking(point_on(site, system), local(3, 6), 7)
        merge(duplicate, survivor, local(3, 12))

        total = month_figures(site, MARCH, END_OF_MARCH).total

        # from 6 March 26 days less the lost hour = 623 h × 10 m³ × 0.108333 kWh × 0.18
        assert [total.found, shown(total.accrued)] == [1, "121.49"]

    def test_a_separated_pair_is_as_it_was(self):
        point = priced_point()
        site, system = point.site, first_system(point)
        survivor = leaking(point, local(3, 11), 10)
        duplicate = leaking(point_on(site, system), local(2, 6), 7)
        before = month_figures(site, MARCH, END_OF_MARCH).total
        merge(duplicate, survivor, local(4, 2))
        register.separate(
            actor=actor_at(site, "inspector"),
            at=local(4, 3),
            finding_id=duplicate.pk,
            text="two holes after all",
        )

        assert month_figures(site, MARCH, local(4, 4)).total == before


class TestOutOfService:
    def test_ends_the_loss_and_saves_nothing(self):
        point = priced_point()
        finding = leaking(point, local(3, 10))
        by = actor_at(point.site, "manager")
        decommission_asset(
            actor=by,
            at=local(3, 20),
            asset_id=point.asset_id,
            reason="line taken down",
            decommissioned_at=local(3, 16),
        )
        register.close_by_reason(
            actor=by,
            at=local(3, 20),
            finding_id=finding.pk,
            closure_reason=ClosureReason.ASSET_DECOMMISSIONED,
            closure_text="The line was taken down.",
        )

        total = month_figures(point.site, MARCH, END_OF_MARCH).total

        # 6 days × 24 h × 12 m³ × 0.108333 kWh × 0.18
        assert shown(total.accrued) == "33.70"
        assert [total.removed, total.repaired, total.avoided_verified, total.open_end] == [1, 0, 0, 0]

    def test_ends_the_saving_of_an_earlier_repair(self):
        point = priced_point()
        finding = leaking(point, local(3, 2), 12)
        repaired(finding, local(3, 6))
        judged(finding, local(3, 7))
        decommission_asset(
            actor=actor_at(point.site, "manager"),
            at=local(3, 16),
            asset_id=point.asset_id,
            reason="line taken down",
        )

        total = month_figures(point.site, MARCH, END_OF_MARCH).total

        # 10 days × 24 h × 12 m³ × 0.108333 kWh × 0.18
        assert shown(total.avoided_verified) == "56.16"

    def test_closed_by_other_proof_is_no_verified_closure(self):
        point = priced_point()
        finding = leaking(point, local(3, 10))
        register.close_by_reason(
            actor=actor_at(point.site, "manager"),
            at=local(3, 20),
            finding_id=finding.pk,
            closure_reason=ClosureReason.VERIFIED_BY_OTHER_MEANS,
            closure_text="Bubble test by the fitter.",
        )

        figures = month_figures(point.site, MARCH, END_OF_MARCH)

        assert [figures.total.closed_by_reason, figures.verified_share.value] == [1, 0]


class TestPrices:
    def test_a_missing_one_takes_the_money_and_leaves_the_counts(self):
        point = priced_point(price="")
        leaking(point, local(3, 10))

        figures = month_figures(point.site, MARCH, END_OF_MARCH)

        assert [figures.total.accrued, figures.total.found] == [None, 1]
        assert "No electricity price per kWh is in force from 2026-03-09T23:00Z" in figures.refused["accrued"]

    def test_a_system_without_a_specific_energy_is_named(self):
        point = priced_point()
        system = make_system(point.site, code="AIR2", name="Packing air")
        leaking(point_on(point.site, system), local(3, 10))

        figures = month_figures(point.site, MARCH, END_OF_MARCH)

        assert "No specific energy of AIR2 Packing air is in force" in figures.refused["accrued"]

    def test_a_gas_is_sold_by_mass_or_by_volume(self):
        site = make_site()
        system = make_system(site, medium=Medium.NITROGEN)
        make_value(site, Quantity.GAS_PRICE_PER_KG, "0.50", system=system)
        leaking(point_on(site, system), local(3, 10), 12, medium=Medium.NITROGEN)

        total = month_figures(site, MARCH, END_OF_MARCH).total

        # 527 h × 12 m³ × 1.1494 kg/m³ (28.0134 g/mol at 1 bar, 20 °C, ideal) × 0.50
        assert float(total.accrued) == pytest.approx(527 * 12 * 1.1494 * 0.50, rel=1e-3)

    def test_one_entered_later_was_missing_then(self):
        point = priced_point(price="")
        leaking(point, local(3, 10))
        set_value(
            actor=actor_at(point.site, "planner"),
            at=local(4, 5),
            site_id=point.site.pk,
            quantity=Quantity.ELECTRICITY_PRICE_PER_KWH,
            value=Decimal("0.18"),
            from_at=local(1, 1),
            source="supply contract",
            currency="EUR",
        )

        told = [month_figures(point.site, MARCH, at).total.accrued for at in (local(4, 4), local(4, 6))]

        assert [amount is None for amount in told] == [True, False]


class TestDelay:
    def test_costs_from_the_due_time_of_the_order(self):
        point = priced_point()
        order = ordered(leaking(point, local(3, 2, 8)), at=local(3, 2, 9))

        months = [month_figures(point.site, month, END_OF_MAY).total for month in (MARCH, APRIL, MAY)]

        hours = Decimal((END_OF_MAY - order.due_at) // timedelta(seconds=1)) / 3600
        told = sum(total.cost_past_due for total in months)
        assert shown(told, 2) == shown(hours * 12 * Decimal(390_000) / 3_600_000 * Decimal("0.18"), 2)

    def test_is_nothing_without_an_order(self):
        point = priced_point()
        leaking(point, local(3, 2, 8))

        assert month_figures(point.site, MARCH, END_OF_MAY).total.cost_past_due == 0


class TestDeferral:
    """Found 2 March, let wait from 6 to 16 March."""

    @pytest.fixture
    def site(self):
        point = priced_point()
        finding = leaking(point, local(3, 2))
        asked = request_deferral(
            actor=actor_at(point.site, "technician"),
            at=local(3, 6),
            finding_id=finding.pk,
            reason=DeferralReason.SHUTDOWN_NEEDED,
            text="needs the line at a standstill",
            until_at=local(3, 16),
        )
        approve(actor=actor_at(point.site, "manager"), at=local(3, 6), deferral_id=asked.pk)
        return point.site

    def test_the_loss_goes_on_and_its_part_is_told(self, site):
        total = month_figures(site, MARCH, END_OF_MARCH).total

        # 719 h, and 10 days × 24 h of them, × 12 m³ × 0.108333 kWh × 0.18
        assert [shown(total.accrued), shown(total.accrued_deferred)] == ["168.25", "56.16"]

    def test_is_open_and_shown_apart_while_it_runs(self, site):
        assert month_figures(site, MARCH, local(3, 10)).open_end_by_state["deferred"] == 1

    def test_is_over_at_its_term_whether_a_job_ran_or_not(self, site):
        assert month_figures(site, MARCH, local(3, 17)).open_end_by_state["deferred"] == 0

    def test_takes_nothing_off_the_age_but_is_shown_beside(self, site):
        backlog = month_figures(site, MARCH, local(3, 22)).backlog

        assert [backlog.since_found.median, backlog.less_deferral.median] == [20, 10]

    def test_moves_the_due_time_on_and_never_the_money(self):
        point = priced_point()
        finding = leaking(point, local(3, 2, 8))
        order = ordered(finding, at=local(3, 2, 9))
        asked = request_deferral(
            actor=actor_at(point.site, "technician"),
            at=local(3, 3),
            finding_id=finding.pk,
            reason=DeferralReason.PARTS,
            text="the seal has to be ordered",
            until_at=local(3, 13),
        )
        approve(actor=actor_at(point.site, "manager"), at=local(3, 3), deferral_id=asked.pk)

        months = [month_figures(point.site, month, END_OF_MAY).total for month in (MARCH, APRIL, MAY)]

        late = sum(total.cost_past_due - total.cost_past_extended_due for total in months)
        assert order.due_at < END_OF_MAY
        # the ten days of the deferral: 240 h × 12 m³ × 0.108333 kWh × 0.18
        assert shown(late) == "56.16"


class TestFoundWithoutItsAct:
    def test_counts_from_its_own_row(self):
        point = priced_point()
        finding = leaking(point, local(3, 10))
        row = Finding.objects.get(pk=finding.pk)
        row.pk, row.number, row.point = None, 99, make_point(asset=point.asset)
        row.save(force_insert=True)

        assert month_figures(point.site, MARCH, END_OF_MARCH).total.found == 2


class TestOtherSites:
    def test_are_not_counted(self):
        point = priced_point()
        leaking(priced_point(make_site()), local(3, 10))

        assert month_figures(point.site, MARCH, END_OF_MARCH).total.found == 0


def first_system(point):
    return system_feeding(point.asset_id, Medium.COMPRESSED_AIR)


def dismiss(finding, at):
    register.dismiss(
        actor=actor_at(finding.site, "inspector"),
        at=at,
        finding_id=finding.pk,
        dismiss_reason=DismissReason.NO_FAULT_FOUND,
        text="a fan, not a leak",
    )


def merge(duplicate, survivor, at):
    register.merge(
        actor=actor_at(survivor.site, "inspector"),
        at=at,
        duplicate_id=duplicate.pk,
        survivor_id=survivor.pk,
        reason="one and the same hole",
    )
