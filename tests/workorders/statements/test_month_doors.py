"""What a manager reads of months over the API."""

from __future__ import annotations

import csv
import io
import uuid
from decimal import Decimal

import pytest
from django.utils import timezone

from findings.kinds.base import Medium
from findings.register.models import Finding
from findings.supply.rules import Quantity
from plantcare.api.actor import Actor
from tests.makers import (
    make_area,
    make_asset,
    make_connection,
    make_point,
    make_site,
    make_system,
    make_us_site,
    make_value,
)
from tests.people import api_as, api_for, api_of_nobody, make_user, member
from tests.workorders.statements.plantlife import (
    MARCH,
    leaking,
    local,
    point_on,
    priced_point,
    repaired,
)
from workorders.statements.actions import book_corrections, close_month
from workorders.statements.models import ClosedMonth
from workorders.statements.queries import month_told, months_of, months_told
from workorders.statements.rules import DEFINITIONS, FIGURES

pytestmark = pytest.mark.django_db

JOB = Actor.job("close-months")


@pytest.fixture
def site():
    """Three leaks found in March 2026, the second repaired and not checked."""
    point = priced_point()
    leaking(point, local(3, 10, 8), 12)
    repaired(leaking(another(point), local(3, 12), 7), local(3, 20))
    leaking(another(point), local(3, 15), 3)
    return point.site


def another(point):
    return point_on(point.site, Finding.objects.get(point=point).system)


@pytest.fixture
def api(site):
    return api_as("manager", site)


def path(site, month="2026-03", rest=""):
    return f"/sites/{site.pk}/months/{month}{rest}"


class TestAMonth:
    def test_is_told_as_known_now(self, api, site):
        figures = api.get(path(site)).json()["as_known_now"]

        assert [figures["found"], figures["repaired"], figures["open_end"]] == [3, 1, 3]

    def test_gives_money_as_text_with_its_currency(self, api, site):
        figures = api.get(path(site)).json()["as_known_now"]

        # (519 × 12 + 192 × 7 + 407 × 3) m³ × 0.108333 kWh × 0.18
        assert figures["accrued_cost"] == {"amount": "171.46", "currency": "EUR"}

    def test_gives_its_bounds_by_the_clock_of_the_site(self, api, site):
        body = api.get(path(site)).json()

        assert [body["from_at"], body["to_at"]] == ["2026-02-28T23:00:00Z", "2026-03-31T22:00:00Z"]

    def test_gives_a_sentence_for_every_figure_that_can_be_opened(self, api, site):
        assert set(FIGURES) <= set(api.get(path(site)).json()["definitions"])

    def test_gives_a_share_of_nothing_no_value(self, api, site):
        assert api.get(path(site, "2026-01")).json()["as_known_now"]["verified_share"]["value"] is None

    def test_says_why_there_is_no_co2e(self, api, site):
        figures = api.get(path(site)).json()["as_known_now"]

        assert figures["co2e_kg"] is None
        assert [(row["figure"], row["code"]) for row in figures["refused"]] == [("co2e_kg", "factor_missing")]

    def test_is_open_until_it_is_closed(self, api, site):
        body = api.get(path(site)).json()

        assert [body["status"], body["as_closed"], body["inputs_digest"]] == ["open", None, None]

    def test_without_a_price_tells_the_rest(self):
        point = priced_point(price="")
        leaking(point, local(3, 10))

        figures = api_as("manager", point.site).get(path(point.site)).json()["as_known_now"]

        assert [figures["accrued_cost"], figures["energy_kwh"], figures["found"]] == [None, None, 1]
        assert "No electricity price per kWh" in figures["refused"][0]["detail"]

    @pytest.mark.parametrize("month", ["2026-13", "0000-01", "1989-12", "9999-01", "march", "2026-3", "%00"])
    def test_that_is_none_is_not_found(self, api, site, month):
        assert api.get(path(site, month)).status_code == 404

    def test_to_come_has_not_begun(self, api, site):
        response = api.get(path(site, "2199-01"))

        assert (response.status_code, response.json()["code"]) == (404, "month_not_begun")

    def test_in_other_units_keeps_the_money(self, api, site):
        figures = api.get(path(site), units="us").json()["as_known_now"]

        assert figures["accrued_cost"]["amount"] == "171.46"
        assert figures["volume_ft3"] > 1000


class TestAClosedMonth:
    @pytest.fixture(autouse=True)
    def _closed(self, site):
        close_month(actor=JOB, at=local(4, 4), site_id=site.pk, month_on=MARCH)

    def test_stands_beside_what_is_known_now(self, api, site):
        leaking(priced_point(site, price=""), local(3, 30), 50)

        body = api.get(path(site)).json()

        assert [body["status"], body["as_closed"]["found"], body["as_known_now"]["found"]] == ["closed", 3, 4]

    def test_shows_its_corrections(self, api, site):
        leaking(priced_point(site, price=""), local(3, 30), 50)
        book_corrections(actor=JOB, at=local(5, 5), site_ids=[site.pk])

        [row] = api.get(path(site)).json()["corrections"]

        # 48 h × 50 m³ × 0.108333 kWh × 0.18
        assert [row["booked_in"], row["accrued_cost"], row["counts"]] == [
            "2026-05",
            "46.80",
            {"found": 1, "open_end": 1},
        ]

    def test_shows_the_digest_of_its_inputs(self, api, site):
        assert len(bytes.fromhex(api.get(path(site)).json()["inputs_digest"])) == 32

    def test_keeps_its_lines(self, api, site):
        leaking(priced_point(site, price=""), local(3, 30), 50)

        body = api.get(path(site, rest="/lines"), figure="found", known="at_closing").json()

        assert [body["total"], body["count"]] == ["3", 3]


class TestTheList:
    def test_begins_with_the_present_and_ends_with_the_first(self, api, site):
        rows = api.get(f"/sites/{site.pk}/months").json()["results"]

        assert rows[-1]["month"] == "2026-03"
        assert rows[0]["month"] == f"{timezone.now():%Y-%m}"

    def test_shows_the_money_of_closed_months_only(self, api, site):
        close_month(actor=JOB, at=local(4, 4), site_id=site.pk, month_on=MARCH)

        rows = api.get(f"/sites/{site.pk}/months").json()["results"]

        assert [rows[-1]["status"], rows[-1]["accrued_cost"]] == ["closed", "171.46"]
        assert {row["accrued_cost"] for row in rows[:-1]} <= {None}

    def test_of_a_site_without_findings_is_the_present_month(self):
        site = make_site()

        rows = api_as("technician", site).get(f"/sites/{site.pk}/months").json()["results"]

        assert [row["status"] for row in rows] == ["open"]


class TestLines:
    def test_add_up_to_the_figure(self, api, site):
        body = api.get(path(site, rest="/lines"), figure="accrued_cost").json()

        assert sum(Decimal(line["value"]) for line in body["lines"]) == Decimal(body["total"])
        assert body["total"] == "171.46"

    def test_begin_with_the_largest(self, api, site):
        body = api.get(path(site, rest="/lines"), figure="accrued_cost").json()

        assert [line["finding"] for line in body["lines"]] == ["F-1", "F-2", "F-3"]

    def test_name_only_findings_that_add_something(self, api, site):
        body = api.get(path(site, rest="/lines"), figure="avoided_claimed").json()

        assert [line["finding"] for line in body["lines"]] == ["F-2"]

    def test_say_what_the_figure_means(self, api, site):
        body = api.get(path(site, rest="/lines"), figure="closed").json()

        assert [body["definition"], body["unit"]] == [DEFINITIONS["closed"], "findings"]

    def test_come_in_parts(self, api, site):
        body = api.get(path(site, rest="/lines"), figure="found", limit=1, offset=1).json()

        assert [body["count"], len(body["lines"])] == [3, 1]

    def test_of_an_unknown_figure_are_refused(self, api, site):
        response = api.get(path(site, rest="/lines"), figure="profit")

        assert (response.status_code, response.json()["errors"][0]["pointer"]) == (400, "?figure")

    def test_at_the_closing_of_an_open_month_are_not_there(self, api, site):
        response = api.get(path(site, rest="/lines"), figure="found", known="at_closing")

        assert (response.status_code, response.json()["code"]) == (404, "month_not_closed")

    def test_as_a_table_hold_the_same(self, api, site):
        response = api.get(path(site, rest="/lines"), figure="accrued_cost", format="csv")

        rows = list(csv.DictReader(io.StringIO(response.content.decode())))
        assert response.headers["Content-Type"].startswith("text/csv")
        assert sum(Decimal(row["value"]) for row in rows) == Decimal("171.46")

    def test_as_a_table_hold_no_formula(self, api, site):
        asset = make_asset(area=make_area(site, code="=1+1"))
        make_connection(asset, Finding.objects.filter(site=site)[0].system)
        leaking(make_point(asset=asset), local(3, 10))

        response = api.get(path(site, rest="/lines"), figure="found", format="csv")

        assert ",'=1+1," in response.content.decode()


class TestClosingByHand:
    def test_answers_the_closed_month(self, api, site):
        response = api.post(path(site, rest="/closing"))

        assert (response.status_code, response.json()["status"]) == (200, "closed")

    def test_a_second_time_answers_the_same(self, api, site):
        digests = {api.post(path(site, rest="/closing")).json()["inputs_digest"] for _ in range(2)}

        assert len(digests) == 1

    def test_the_present_month_is_refused(self, api, site):
        response = api.post(path(site, f"{timezone.now():%Y-%m}", "/closing"))

        assert (response.status_code, response.json()["code"]) == (409, "month_not_ended")

    def test_a_month_without_a_price_is_refused_with_the_gap(self):
        point = priced_point(price="")
        leaking(point, local(3, 10))

        body = api_as("manager", point.site).post(path(point.site, rest="/closing")).json()

        assert body["code"] == "price_missing"
        assert "No electricity price" in body["gaps"]["accrued"]


class TestWhoMay:
    @pytest.mark.parametrize("role", ["inspector", "planner", "technician", "manager", "integrator"])
    def test_every_role_reads(self, site, role):
        assert api_as(role, site).get(path(site)).status_code == 200

    @pytest.mark.parametrize(
        ("role", "status"),
        [("inspector", 403), ("technician", 403), ("integrator", 403), ("planner", 200), ("manager", 200)],
    )
    def test_closing_takes_the_right_to_run_jobs(self, site, role, status):
        assert api_as(role, site).post(path(site, rest="/closing")).status_code == status

    @pytest.mark.parametrize("rest", ["", "/2026-03", "/2026-03/lines?figure=found"])
    def test_a_foreign_site_is_not_there(self, site, rest):
        stranger = api_as("manager", make_site())

        told = [stranger.get(f"/sites/{pk}/months{rest}") for pk in (site.pk, uuid.uuid4())]

        assert [response.status_code for response in told] == [404, 404]

    def test_nobody_closes_a_foreign_month(self, site):
        api_as("manager", make_site()).post(path(site, rest="/closing"))

        assert not ClosedMonth.objects.exists()

    def test_a_key_needs_the_scope(self, site):
        assert api_as("manager", site, scopes=["view"]).post(path(site, rest="/closing")).status_code == 403

    def test_nobody_reads_without_signing_in(self, site):
        assert api_of_nobody().get(path(site)).status_code == 401


class TestAllSites:
    def test_adds_up_by_currency_only(self, site):
        us = priced_point(make_us_site())
        leaking(us, local(3, 10, 8), 12)
        user = member(site, "manager")
        member(us.site, "manager", user)

        body = api_for(user).get("/months", month="2026-03").json()

        assert [row["currency"] for row in body["totals"]] == ["EUR", "USD"]
        assert body["totals"][0]["accrued_cost"] == "171.46"

    def test_names_only_sites_that_the_caller_sees(self, api, site):
        leaking(priced_point(), local(3, 10))

        body = api.get("/months", month="2026-03").json()

        assert [row["site_id"] for row in body["sites"]] == [str(site.pk)]

    def test_gives_no_sum_that_lacks_a_part(self, site):
        unpriced = priced_point(price="")
        leaking(unpriced, local(3, 10))
        user = member(site, "manager")
        member(unpriced.site, "manager", user)

        [total] = api_for(user).get("/months", month="2026-03").json()["totals"]

        assert [total["accrued_cost"], total["found"]] == [None, 4]

    @pytest.mark.parametrize("month", ["", "2026", "2026-00", "zzzz-zz"])
    def test_needs_a_month(self, api, month):
        assert api.get("/months", month=month).status_code == 400

    def test_without_a_site_are_none(self):
        body = api_for(make_user()).get("/months", month="2026-03").json()

        assert [body["sites"], body["totals"]] == [[], []]


class TestHowOftenTheDatabaseIsAsked:
    @pytest.mark.parametrize("more", [0, 12])
    def test_is_the_same_for_many_findings(self, site, more, django_assert_num_queries):
        system = Finding.objects.filter(site=site)[0].system
        for day in range(1, more + 1):
            leaking(point_on(site, system), local(3, day))

        with django_assert_num_queries(10):
            month_told(site, MARCH, local(4, 4))

    def test_is_the_same_for_many_sites(self, site, django_assert_num_queries):
        sites = [site, priced_point().site, priced_point(make_us_site()).site]

        with django_assert_num_queries(11):
            months_told(sites, MARCH, local(4, 4))

    def test_is_three_for_the_list(self, site, django_assert_num_queries):
        with django_assert_num_queries(3):
            months_of(site, local(4, 4))


class TestTheLineOfADangerousFinding:
    def test_tells_beside_its_money_what_it_lets_out(self):
        site = make_site()
        system = make_system(site, medium=Medium.NATURAL_GAS, pressure_gauge_pa=30_000.0)
        make_value(site, Quantity.GAS_PRICE_PER_M3, "0.55", system=system)
        leaking(point_on(site, system), local(3, 10), 0.6, medium=Medium.NATURAL_GAS)

        body = api_as("manager", site).get(path(site, rest="/lines"), figure="accrued_cost").json()

        (line,) = body["lines"]
        assert line["release"]["caution_keys"][0] == "fuel_gas"
        assert Decimal(line["value"]) > 0
