"""Closing months and booking what becomes known of them later."""

from __future__ import annotations

from decimal import Decimal
from functools import partial

import pytest
from django.db import DatabaseError, transaction

from findings.logbook.models import Entry
from findings.supply.actions import set_value, void_tariff_table, void_value
from findings.supply.models import DatedValue
from findings.supply.rules import Quantity
from plantcare.api.actor import Actor
from tests.makers import make_site, make_tariff_table, make_us_site
from tests.workorders.scene import at_once
from tests.workorders.statements.plantlife import (
    APRIL,
    MARCH,
    MAY,
    judged,
    leaking,
    local,
    manager,
    priced_point,
    repaired,
)
from workorders.statements.actions import (
    MonthBeforeStart,
    MonthNotEnded,
    MonthUnpriced,
    book_corrections,
    close_due_months,
    close_month,
)
from workorders.statements.models import ClosedMonth, Correction
from workorders.statements.queries import digest_of, facts_for, figures_of
from workorders.statements.rules import month_after

JOB = Actor.job("close-months")
AFTER_MARCH, EARLY_IN_APRIL, LATE_IN_APRIL = local(4, 4), local(4, 5), local(4, 20)


def close(site, month_on=MARCH, at=AFTER_MARCH) -> ClosedMonth:
    return close_month(actor=JOB, at=at, site_id=site.pk, month_on=month_on)


def entries(site, act):
    return Entry.objects.filter(site=site, act=act).count()


@pytest.fixture
def site():
    """A leak of 12 m³/h from 10 March 08:00 that goes on."""
    point = priced_point()
    leaking(point, local(3, 10, 8))
    return point.site


@pytest.mark.django_db
class TestClosing:
    def test_keeps_the_rounded_columns(self, site):
        # 519 h × 12 m³ × 0.108333 kWh × 0.18
        assert close(site).accrued_cost == Decimal("121.45")

    def test_keeps_every_figure_down_to_the_findings(self, site):
        [line] = close(site).figures["lines"]

        assert line["label"] == "F-1"
        assert Decimal(line["accrued"]).quantize(Decimal("0.01")) == Decimal("121.45")

    def test_at_prices_by_the_hour_can_be_proved_again(self, site):
        table = make_tariff_table(site, from_at=local(3, 15), recorded_at=local(3, 15))
        month = close(site)
        void_tariff_table(actor=JOB, at=local(4, 10), table_id=table.pk, reason="the wrong contract")

        then, now = facts_for(site, MARCH, AFTER_MARCH), facts_for(site, MARCH, LATE_IN_APRIL)

        assert figures_of(then, MARCH).total.accrued == Decimal(month.figures["total"]["accrued"])
        assert digest_of(then, MARCH) == bytes(month.inputs_digest)
        assert figures_of(now, MARCH).total.accrued != figures_of(then, MARCH).total.accrued

    def test_a_second_time_changes_nothing(self, site):
        assert close(site, at=local(4, 20)).pk == close(site).pk

    def test_is_one_entry_in_the_logbook(self, site):
        close(site)
        close(site)

        assert entries(site, "month.closed") == 1

    def test_later_facts_leave_it_as_it_is(self, site):
        before = close(site).accrued_cost
        leaking(priced_point(site, price=""), local(4, 5), 100)

        assert close(site, at=local(4, 20)).accrued_cost == before

    @pytest.mark.parametrize("at", [local(3, 31, 23, 59), local(3, 10, 9)])
    def test_is_refused_before_the_month_has_ended(self, site, at):
        with pytest.raises(MonthNotEnded):
            close(site, at=at)

    def test_ends_by_the_clock_of_the_site(self):
        point = priced_point(make_us_site())
        leaking(point, local(3, 10))

        # 06:59 in Berlin is 23:59 of 31 March in Chicago
        with pytest.raises(MonthNotEnded):
            close(point.site, at=local(4, 1, 6, 59))

    def test_is_refused_while_a_price_is_missing(self):
        point = priced_point(price="")
        leaking(point, local(3, 10))

        with pytest.raises(MonthUnpriced, match="No electricity price per kWh"):
            close(point.site)

    def test_is_refused_for_a_month_before_everything(self):
        with pytest.raises(MonthBeforeStart):
            close(make_site(), month_on=MARCH.replace(year=1999))

    @pytest.mark.parametrize("change", ["update", "delete"])
    def test_is_frozen_by_the_database(self, site, change):
        row = ClosedMonth.objects.filter(pk=close(site).pk)

        with pytest.raises(DatabaseError), transaction.atomic():
            row.update(accrued_cost=0) if change == "update" else row.delete()


@pytest.mark.django_db
class TestDigest:
    def digest(self, site, at=AFTER_MARCH):
        return digest_of(facts_for(site, MARCH, at), MARCH)

    def test_is_kept_with_the_month(self, site):
        assert bytes(close(site).inputs_digest) == self.digest(site)

    def test_is_the_same_whenever_it_is_taken_of_what_was_known(self, site):
        before = self.digest(site)
        finding = leaking(priced_point(site, price=""), local(4, 5))
        repaired(finding, local(4, 6))

        assert self.digest(site) == before

    def test_changes_with_a_reading(self, site):
        before = self.digest(site)
        leaking(priced_point(site, price=""), local(3, 20))

        assert self.digest(site) != before

    def test_changes_with_a_price(self, site):
        before = self.digest(site)
        price = DatedValue.objects.get(site=site, quantity=Quantity.ELECTRICITY_PRICE_PER_KWH)
        void_value(actor=manager(site), at=local(4, 2), value_id=price.pk, reason="misread")

        assert self.digest(site) != before

    def test_changes_with_a_late_report(self):
        point = priced_point()
        finding = leaking(point, local(3, 10))
        before = self.digest(point.site)
        repaired(finding, local(3, 20), known_at=local(4, 3))

        assert self.digest(point.site) != before


@pytest.mark.django_db
class TestDueMonths:
    def test_are_closed_in_their_order(self, site):
        close_due_months(actor=JOB, at=local(6, 5))

        months = ClosedMonth.objects.filter(site=site).order_by("id")
        assert list(months.values_list("month_on", flat=True)) == [MARCH, APRIL, MAY]

    def test_a_second_run_closes_none(self, site):
        runs = [close_due_months(actor=JOB, at=local(6, 5))["closed"] for _ in range(2)]

        assert runs == [3, 0]

    @pytest.mark.parametrize(("at", "closed"), [(local(4, 3, 23, 59), 0), (local(4, 4), 1)])
    def test_have_three_days_to_settle(self, site, at, closed):
        assert close_due_months(actor=JOB, at=at)["closed"] == closed

    def test_are_those_of_the_named_sites_only(self, site):
        assert close_due_months(actor=JOB, at=local(6, 5), site_ids=[make_site().pk])["closed"] == 0

    def test_one_without_a_price_stops_its_own_site_and_is_told(self, site):
        point = priced_point(price="")
        leaking(point, local(3, 10))

        result = close_due_months(actor=JOB, at=local(4, 4))

        assert [result["closed"], result["refused"]] == [1, 1]
        assert result["reasons"][0].startswith(f"{point.site.code}: 2026-03: No electricity price")

    def test_are_bounded_in_one_run(self, site):
        assert close_due_months(actor=JOB, at=local(6, 5), limit=2)["closed"] == 2

    def test_of_a_site_without_findings_are_none(self):
        site = make_site()

        close_due_months(actor=JOB, at=local(6, 5))

        assert not ClosedMonth.objects.filter(site=site).exists()


@pytest.mark.django_db(transaction=True)
class TestAtOnce:
    def test_two_hands_close_one_month(self, site):
        told = at_once(partial(close, site), partial(close, site))

        assert [getattr(row, "pk", row) for row in told] == [ClosedMonth.objects.get(site=site).pk] * 2
        assert entries(site, "month.closed") == 1

    def test_two_runs_close_each_month_once(self, site):
        run = partial(close_due_months, actor=JOB, at=local(6, 5))
        at_once(run, run)

        assert [ClosedMonth.objects.filter(site=site).count(), entries(site, "month.closed")] == [3, 3]

    def test_two_runs_book_a_correction_once(self, site):
        close(site)
        voided(site)
        run = partial(book_corrections, actor=JOB, at=local(4, 20))
        at_once(run, run)

        assert [Correction.objects.filter(site=site).count(), entries(site, "month.corrected")] == [1, 1]


@pytest.mark.django_db
class TestCorrections:
    def book(self, site, at=LATE_IN_APRIL):
        return book_corrections(actor=JOB, at=at, site_ids=[site.pk])

    def test_none_while_nothing_new_is_known(self, site):
        close(site)

        assert self.book(site) == {"booked": 0, "unpriced": 0}

    def test_a_late_report_is_booked_beside_the_month(self):
        point = priced_point()
        finding = leaking(point, local(3, 10))
        was = close(point.site).accrued_cost
        repaired(finding, local(3, 20), known_at=local(4, 5))
        self.book(point.site)

        row = Correction.objects.get(site=point.site)
        # 287 h × 12 m³ × 0.108333 kWh × 0.18 less, and claimed as avoided
        assert [row.accrued_cost, row.avoided_claimed] == [Decimal("-67.16"), Decimal("67.16")]
        assert ClosedMonth.objects.get(site=point.site).accrued_cost == was
        assert row.detail["counts"] == {"repaired": 1}
        assert row.detail["findings"] == [str(finding.pk)]

    def test_it_is_dated_in_the_present_month_of_the_site(self, site):
        close(site)
        voided(site)
        self.book(site)

        assert Correction.objects.get(site=site).booked_in_on == APRIL

    def test_a_check_moves_the_claimed_to_the_verified(self):
        point = priced_point()
        finding = leaking(point, local(3, 10))
        repaired(finding, local(3, 20))
        close(point.site)
        judged(finding, local(4, 5))
        self.book(point.site)

        row = Correction.objects.get(site=point.site)
        assert [row.accrued_cost, row.avoided_claimed + row.avoided_verified] == [0, 0]
        assert row.avoided_verified > 0

    def test_a_second_run_books_nothing(self, site):
        close(site)
        voided(site)

        assert [self.book(site)["booked"], self.book(site)["booked"]] == [1, 0]

    def test_the_next_month_takes_what_came_after(self, site):
        close(site)
        voided(site)
        self.book(site)
        voided(site, "0.20", at=local(4, 25))
        self.book(site, at=local(5, 5))

        row = Correction.objects.get(site=site, booked_in_on=MAY)
        # 519 h × 12 m³ × 0.108333 kWh × (0.20 - 0.36)
        assert row.accrued_cost == Decimal("-107.95")

    def test_all_of_them_add_up_to_what_is_known(self, site):
        closed = close(site)
        voided(site)
        self.book(site)
        voided(site, "0.20", at=local(4, 25))
        self.book(site, at=local(5, 5))

        rows = Correction.objects.filter(site=site)
        # 519 h × 12 m³ × 0.108333 kWh × 0.20
        assert closed.accrued_cost + sum(row.accrued_cost for row in rows) == Decimal("134.94")

    def test_a_month_that_lost_its_price_waits(self, site):
        close(site)
        price = DatedValue.objects.get(site=site, quantity=Quantity.ELECTRICITY_PRICE_PER_KWH)
        void_value(actor=manager(site), at=local(4, 5), value_id=price.pk, reason="misread")

        assert self.book(site) == {"booked": 0, "unpriced": 1}


@pytest.mark.django_db
class TestEachMonthOnItsOwn:
    def test_sums_of_months_are_the_whole(self, site):
        close_due_months(actor=JOB, at=local(6, 5))

        told = sum(row.accrued_cost for row in ClosedMonth.objects.filter(site=site))
        # 519 + 720 + 744 h, each month rounded once
        assert told == Decimal("464.03")

    def test_a_month_is_closed_after_the_next_where_it_was_left_out(self, site):
        close(site, month_after(MARCH), at=local(5, 4))

        close_due_months(actor=JOB, at=local(5, 4))

        assert set(ClosedMonth.objects.filter(site=site).values_list("month_on", flat=True)) == {MARCH, APRIL}


def voided(site, price="0.36", at=EARLY_IN_APRIL):
    """Say that the price of electricity was another one all along."""
    old = DatedValue.objects.get(site=site, quantity=Quantity.ELECTRICITY_PRICE_PER_KWH, void_at__isnull=True)
    void_value(actor=manager(site), at=at, value_id=old.pk, reason="misread")
    set_value(
        actor=manager(site),
        at=at,
        site_id=site.pk,
        quantity=Quantity.ELECTRICITY_PRICE_PER_KWH,
        value=Decimal(price),
        from_at=local(1, 1),
        source="supply contract",
        currency="EUR",
    )
