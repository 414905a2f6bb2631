"""The first page of a site: its sentence, its lists, its figures, and what it costs to show."""

from __future__ import annotations

import csv
import io
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from findings.plant.models import Site
from findings.register.models import Finding
from findings.supply.models import SupplySystem
from findings.supply.rules import Quantity
from tests.makers import NOW, make_site, make_tariff_table, make_us_site, make_value
from tests.people import actor_at, member
from tests.workorders.desk.conftest import TODAY
from tests.workorders.desk.reader import content_of, reader, reader_for
from tests.workorders.scene import (
    after_reading,
    air_point,
    gas_heard,
    gas_point,
    heard,
    ordered,
    repaired,
)
from workorders.clocks.models import Escalation
from workorders.desk.queries.costs import costs_at, losses_since
from workorders.desk.rules.months import bounds, month_of
from workorders.statements.actions import close_month
from workorders.statements.queries import month_figures
from workorders.verification.actions import judge_waiting

pytestmark = pytest.mark.django_db

MEASURED = {"flow_m3_per_s": 0.01, "flow_u_m3_per_s": 0.0005, "flow_method": "bag"}
"""36 m³/h: at 0.1 kWh per m³ and 0.20 per kWh it costs 0.72 an hour, 525.60 a month of 730 hours."""


def leak(site: Site, at=NOW):
    """Hear a leak whose flow was measured."""
    return heard(air_point(site), at, **MEASURED)


class TestTheSentence:
    def test_counts_what_is_open_and_closed_and_prices_what_leaks(self):
        site = make_site()
        for _ in range(2):
            leak(site)

        words = content_of(reader(site).get(f"/sites/{site.code}/"))

        assert "2 findings open, 0 closed this month; about 1 050 EUR a month is leaking away." in words

    def test_prices_nothing_without_a_price(self):
        site = make_site()
        heard(gas_point(site), medium="natural_gas", pressure_gauge_pa=10_000.0, **MEASURED)

        words = content_of(reader(site).get(f"/sites/{site.code}/"))

        assert "what leaks away has no price yet." in words

    def test_of_an_empty_site_says_so(self):
        site = make_site()

        words = content_of(reader(site).get(f"/sites/{site.code}/"))

        assert "0 findings open, 0 closed this month; nothing with a known rate is leaking now." in words

    def test_is_in_the_currency_and_units_of_site_and_person(self):
        site = make_us_site()
        leak(site)

        words = content_of(reader(site, unit_system="us").get(f"/sites/{site.code}/"))

        # 0.01 m³/s is 21.2 cfm (1 cfm = 0.3048³ m³ a minute, by the definition of the foot).
        assert "about 526 USD a month" in words
        assert "(21.2 cfm)" in words


class TestSafetyFindings:
    def test_come_first_with_their_cautions(self):
        site = make_site()
        leak(site)
        gas = gas_heard(gas_point(site))

        words = content_of(reader(site).get(f"/sites/{site.code}/"))

        first = words.index("Safety first")
        named = words.index(f"F-{gas.number}", first)
        caution = words.index("Keep flames, sparks, switches and telephones away", named)
        assert first < named < caution < words.index("Past their time")


class TestWhatIsAsked:
    def told(self, site: Site, finding: Finding | None = None, step: int = 1, **values) -> Escalation:
        told = {"to_role": "planner", "reason": "Half its time is gone.", "at": NOW, **values}
        return Escalation.objects.create(
            site=site, finding=finding or leak(site), episode=0, step=step, **told
        )

    def test_names_a_finding_once_by_its_highest_step(self):
        site = make_site()
        first = self.told(site)
        self.told(site, first.finding, 2, reason="All its time is gone.")

        words = content_of(reader(site).get(f"/sites/{site.code}/"))

        assert "All its time is gone." in words
        assert "Half its time is gone." not in words

    def test_is_done_with_a_finding_by_taking_it(self):
        site = make_site()
        first = self.told(site)
        second = self.told(site, first.finding, 2)
        browser = reader(site)

        browser.post(f"/escalations/{second.pk}/taken/")

        assert "Asked of you" not in content_of(browser.get(f"/sites/{site.code}/"))

    def test_begins_with_safety_and_leads_to_the_rest(self):
        site = make_site()
        late = [self.told(site, step=3).finding for _ in range(6)]
        danger = self.told(site, gas_heard(gas_point(site))).finding
        browser = reader(site)

        first = content_of(browser.get(f"/sites/{site.code}/"))
        behind = content_of(browser.get(f"/sites/{site.code}/findings/?asked=on"))

        asked = first[first.index("Asked of you") : first.index("Dearest")]
        assert "2 more" in asked
        assert asked.count("I take it") == 5
        assert asked.index(f"F-{danger.number} ") < min(
            asked.index(f"F-{one.number} ") for one in late if f"F-{one.number} " in asked
        )
        assert all(f"F-{one.number} " in behind for one in [danger, *late])

    def test_can_be_taken_on_the_findings_own_page(self):
        site = make_site()
        told = self.told(site)
        leak(site)
        browser = reader(site)

        words = content_of(browser.get(f"/findings/{told.finding_id}/"))

        assert "Half its time is gone." in words
        assert "I take it" in words

    def test_is_shown_to_those_it_is_for_and_can_be_taken_once(self):
        site = make_site()
        told = self.told(site)
        user = member(site, "planner")
        browser = reader_for(user)

        shown = content_of(browser.get(f"/sites/{site.code}/"))
        taken = browser.post(f"/escalations/{told.pk}/taken/")
        again = browser.post(f"/escalations/{told.pk}/taken/")

        told.refresh_from_db()
        assert "Half its time is gone." in shown
        assert (taken.status_code, again.status_code, told.taken_by_id) == (302, 409, user.pk)

    def test_is_not_shown_to_others_and_not_theirs_to_take(self):
        site = make_site()
        told = self.told(site)
        browser = reader(site, "technician")

        assert "Half its time is gone." not in content_of(browser.get(f"/sites/{site.code}/"))
        assert browser.post(f"/escalations/{told.pk}/taken/").status_code == 403


class TestLateOrders:
    def test_are_listed_and_counted_behind_their_link(self):
        site = make_site()
        order = ordered(gas_heard(gas_point(site), NOW - timedelta(days=60)), at=NOW - timedelta(days=60))
        browser = reader(site)

        first, behind = (
            content_of(browser.get(path))
            for path in (f"/sites/{site.code}/", f"/sites/{site.code}/orders/?overdue=on")
        )

        assert f"W-{order.number}" in first[first.index("Past their time") :]
        assert f"W-{order.number}" in behind
        assert "past its time" in behind


class TestTheMoneyOfTheMonth:
    def test_so_far_is_that_of_the_statement(self):
        site = make_site()
        leak(site, NOW - timedelta(days=10))
        leak(site)
        system = SupplySystem.objects.get(site=site)
        make_value(
            site,
            Quantity.SPECIFIC_ENERGY_J_PER_M3,
            "400000",
            system=system,
            from_at=TODAY - timedelta(hours=5),
        )
        month_on = month_of(TODAY, site.time_zone)

        losses = losses_since(site, costs_at(site, TODAY), bounds(month_on, site.time_zone)[0], TODAY)

        told = month_figures(site, month_on, TODAY).total.accrued
        assert told
        assert losses.accrued == pytest.approx(told, abs=Decimal("1e-9"))

    def test_so_far_at_prices_by_the_hour_is_that_of_the_statement(self):
        site = make_site()
        leak(site, NOW - timedelta(days=10))
        leak(site)
        make_tariff_table(site, from_at=TODAY - timedelta(days=3, hours=5))
        month_on = month_of(TODAY, site.time_zone)

        losses = losses_since(site, costs_at(site, TODAY), bounds(month_on, site.time_zone)[0], TODAY)

        told = month_figures(site, month_on, TODAY).total.accrued
        assert told
        assert losses.accrued == pytest.approx(told, abs=Decimal("1e-9"))

    def test_stands_in_the_csv_beside_the_closed_months(self):
        site = make_site()
        leak(site, NOW - timedelta(days=10))
        close_month(
            actor=actor_at(site),
            at=TODAY,
            site_id=site.pk,
            month_on=date(2026, 2, 1),
        )

        answer = reader(site).get(f"/sites/{site.code}/months.csv")

        rows = list(csv.DictReader(io.StringIO(answer.content.decode())))
        assert answer.headers["Content-Type"] == "text/csv; charset=utf-8"
        assert [row["month"] for row in rows][-2:] == ["2026-02", "2026-03"]
        assert Decimal(rows[-2]["accrued_cost"]) > 0
        assert rows[-2]["month_closed_at"] != ""
        assert (Decimal(rows[-1]["accrued_cost"]) > 0, rows[-1]["avoided_verified"]) == (True, "")


class TestTheFirstLook:
    def test_says_whether_fewer_are_open_than_a_year_ago(self):
        site = make_site()
        leak(site)

        words = content_of(reader(site).get(f"/sites/{site.code}/"))

        assert "1 open now, 1 more than at the end of Apr 2025." in words

    def test_shows_the_charts_before_the_lists(self):
        site = make_site()

        words = content_of(reader(site).get(f"/sites/{site.code}/"))

        parts = ["Safety first", "Open and closed", "What leaks cost", "Past their time", "Dearest"]
        places = [words.index(part) for part in [*parts, "Oldest", "How old", "What can be told at once"]]
        assert places == sorted(places)

    def test_shows_the_figures_that_matter_of_the_last_closed_month(self):
        site = make_site()
        leak(site, NOW - timedelta(days=10))
        close_month(actor=actor_at(site), at=TODAY, site_id=site.pk, month_on=date(2026, 2, 1))

        words = content_of(reader(site).get(f"/sites/{site.code}/"))

        closed = words[words.index("Feb 2026, closed") : words.index("All figures with what they mean")]
        for label in ("Leak cost", "Avoided, verified", "Avoided, not yet verified", "Closed, verified"):
            assert label in closed
        assert "Open at the end 1" in closed


class TestTheMonths:
    def test_balance_open_ones_with_what_came_and_went(self):
        site = make_site()
        old = leak(site, NOW - timedelta(days=40))
        leak(site, NOW - timedelta(days=5))
        order = repaired(ordered(old, at=NOW - timedelta(days=39)), NOW - timedelta(days=30))
        assert order.state == "repaired"

        answer = reader(site).get(f"/sites/{site.code}/months.csv")

        rows = list(csv.DictReader(io.StringIO(answer.content.decode())))
        assert [(row["found"], row["closed"], row["open_at_end"]) for row in rows[-3:]] == [
            ("1", "0", "1"),
            ("1", "0", "2"),
            ("0", "0", "2"),
        ]

    def test_say_of_closed_months_what_their_statements_say(self):
        site = make_site()
        finding = leak(site, NOW - timedelta(days=60))
        repaired(ordered(finding, at=NOW - timedelta(days=59)), NOW - timedelta(days=30))
        after_reading(finding, NOW - timedelta(days=29))
        judge_waiting(actor=actor_at(site), at=NOW - timedelta(days=28))
        for month_on in (date(2026, 1, 1), date(2026, 2, 1)):
            close_month(actor=actor_at(site), at=NOW - timedelta(hours=1), site_id=site.pk, month_on=month_on)
        heard(finding.point, NOW, **MEASURED)

        answer = reader(site).get(f"/sites/{site.code}/months.csv")

        rows = list(csv.DictReader(io.StringIO(answer.content.decode())))
        assert [(row["found"], row["closed"], row["open_at_end"]) for row in rows[-3:]] == [
            ("1", "0", "1"),
            ("0", "1", "0"),
            ("0", "0", "1"),
        ]

    def test_tell_what_came_back_in_closed_months_and_nothing_of_it_in_others(self):
        site = make_site()
        finding = leak(site, NOW - timedelta(days=60))
        repaired(ordered(finding, at=NOW - timedelta(days=59)), NOW - timedelta(days=30))
        after_reading(finding, NOW - timedelta(days=29))
        judge_waiting(actor=actor_at(site), at=NOW - timedelta(days=28))
        heard(finding.point, NOW - timedelta(days=10), **MEASURED)
        for month_on in (date(2026, 1, 1), date(2026, 2, 1)):
            close_month(actor=actor_at(site), at=NOW - timedelta(hours=1), site_id=site.pk, month_on=month_on)

        answer = reader(site).get(f"/sites/{site.code}/months.csv")

        rows = list(csv.DictReader(io.StringIO(answer.content.decode())))
        assert [row["came_back"] for row in rows[-3:]] == ["0", "1", ""]


def queries_of_first_page(site: Site) -> list[str]:
    """Return the statements that the page takes, without those of session and person."""
    browser = reader(site)
    browser.get(f"/sites/{site.code}/")
    with CaptureQueriesContext(
        connection,
    ) as caught:
        assert browser.get(f"/sites/{site.code}/").status_code == 200
    # Who asks and where: the session, the person, the roles, the sites. The rest are the page's data.
    asking = ("django_session", "people_user", "findings_membership", 'FROM "findings_site"')
    return [
        query["sql"]
        for query in caught.captured_queries
        if not any(table in query["sql"].split("WHERE")[0] for table in asking) and "SELECT" in query["sql"]
    ]


class TestItsQueries:
    def test_are_twelve_at_most_and_no_more_for_many_findings(self):
        few, many = make_site(), make_site()
        for site, count in ((few, 1), (many, 12)):
            for _ in range(count):
                ordered(gas_heard(gas_point(site), NOW - timedelta(days=50)), at=NOW - timedelta(days=50))
                leak(site)

        counts = [len(queries_of_first_page(site)) for site in (few, many)]

        assert counts[0] == counts[1]
        assert counts[1] <= 12, counts
