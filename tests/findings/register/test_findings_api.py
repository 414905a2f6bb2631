"""The doors of findings."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from findings.kinds.base import Medium
from findings.register import actions
from findings.register.models import Finding
from findings.supply.rules import Quantity
from tests.findings.chain import ACTOR, LATER, Plant
from tests.makers import (
    NOW,
    make_compressor,
    make_connection,
    make_system,
    make_tariff_table,
    make_value,
)
from tests.people import api_as, api_of_nobody

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)
WHY = "both tags hang on one hose"


class TestTheListOfFindings:
    def test_costs_the_same_number_of_queries_for_three_as_for_a_hundred(self):
        few, many = Plant(), Plant()
        for plant, count in ((few, 3), (many, 100)):
            for _ in range(count):
                plant.leak(10, plant.another_point())
        counts = []
        for plant in (few, many):
            api = api_as("manager", plant.site)
            with CaptureQueriesContext(
                connection,
            ) as queries:
                found = api.get("/findings", site_id=str(plant.site.pk), limit=100).json()["results"]
            counts.append((len(found), len(queries)))

        assert [number for number, _ in counts] == [3, 100]
        assert counts[0][1] == counts[1][1]

    def test_shows_what_each_costs_now(self):
        plant = Plant()
        plant.leak(10)

        (row,) = api_as("inspector", plant.site).get("/findings").json()["results"]

        # 10 m3/h at 360 kJ/m3 is 1 kW; at 0.20 per kWh that is 0.20 an hour.
        assert row["cost"]["full_load"]["per_hour"] == "0.2000"
        assert row["cost"]["full_load"]["per_year"] == "1752.00"
        assert row["cost"]["currency"] == "EUR"

    @pytest.mark.parametrize(
        ("query", "expected"),
        [
            ({"kind": "mechanical_wear"}, 1),
            ({"kind": "pressure_leak,mechanical_wear"}, 3),
            ({"status": "dismissed"}, 1),
            ({"open": "true"}, 2),
            ({"open": "false"}, 1),
            ({"is_safety": "true"}, 1),
            ({"medium": "natural_gas"}, 1),
            ({"found_from": "2026-03-02T08:00:00Z"}, 3),
            ({"found_to": "2026-03-02T08:00:00Z"}, 0),
            ({"q": "2"}, 1),
        ],
    )
    def test_is_narrowed_by(self, query, expected):
        plant = Plant()
        plant.take(medium="natural_gas", level_db=20.0)
        plant.take(kind="mechanical_wear")
        plant.asset.code = "ZZ"
        plant.asset.save()
        type(plant.point).objects.filter(pk=plant.point.pk).update(code="PP")
        none = plant.another_point()
        type(none).objects.filter(pk=none.pk).update(code="QQ")
        gone = plant.leak(1, none)
        actions.dismiss(
            actor=ACTOR, at=LATER, finding_id=gone.pk, dismiss_reason="no_fault_found", text="nothing heard"
        )

        assert len(api_as("planner", plant.site).get("/findings", query).json()["results"]) == expected

    def test_is_ordered_by_leak_rate_with_the_unknown_last(self):
        plant = Plant()
        for rate in (5, 20, None):
            plant.take(plant.another_point(), m3_per_h=rate)

        rows = api_as("planner", plant.site).get("/findings", ordering="-leak_rate").json()["results"]

        assert [row["number"] for row in rows] == [2, 1, 3]

    def test_shows_nothing_of_another_site(self):
        Plant().leak(10)
        plant = Plant()

        assert api_as("manager", plant.site).get("/findings").json()["results"] == []


class TestOneFinding:
    def test_shows_its_assessment_cautions_and_moves(self):
        plant = Plant()
        finding = plant.leak(10)

        shown = api_as("technician", plant.site).get(f"/findings/{finding.pk}").json()

        assert shown["assessment"]["method"] == "meter"
        assert "pressure_jet" in [caution["key"] for caution in shown["cautions"]]
        assert {"dismiss", "merge", "report_repair"} <= set(shown["moves"])

    def test_without_a_price_has_no_cost_and_says_why(self):
        plant = Plant()
        bare = make_system(plant.site, medium=Medium.NITROGEN)
        make_connection(plant.asset, bare)
        finding = plant.take(medium="nitrogen", m3_per_h=3.0).finding

        cost = api_as("technician", plant.site).get(f"/findings/{finding.pk}").json()["cost"]

        assert cost["full_load"]["per_hour"] is None
        assert [reason["code"] for reason in cost["full_load"]["reasons"]] == ["specific_energy_missing"]

    def test_that_is_repaired_costs_nothing_now_and_says_so(self):
        plant = Plant()
        finding = plant.leak(10)
        actions.report_repaired(actor=ACTOR, at=LATER, finding_id=finding.pk, repaired_at=NOW + DAY)

        cost = api_as("technician", plant.site).get(f"/findings/{finding.pk}").json()["cost"]

        assert [cost[figure]["per_hour"] for figure in ("full_load", "expected")] == [None, None]
        assert cost["expected"]["reasons"][0]["code"] == "not_losing"

    def test_never_takes_the_expected_saving_as_the_full_load_value(self):
        plant = Plant()
        finding = plant.leak(10)

        cost = api_as("technician", plant.site).get(f"/findings/{finding.pk}").json()["cost"]

        assert cost["full_load"]["per_hour"] == "0.2000"
        assert cost["expected"]["per_hour"] is None
        assert [reason["code"] for reason in cost["expected"]["reasons"]] == ["no_machine"]

    def test_saves_what_the_trimming_machine_gives_back(self):
        plant = Plant()
        system = plant.system
        make_compressor(system, unloaded_share=0.25, rated_flow_m3_per_s=0.1, rated_power_w=36_000.0)
        make_value(plant.site, Quantity.MEAN_DEMAND_M3_PER_S, "0.06", system=system)
        finding = plant.leak(10)

        cost = api_as("technician", plant.site).get(f"/findings/{finding.pk}").json()["cost"]

        # 10 m3/h of 0.1 m3/s of inlet air at 1.01325 bar; with ample storage 75 % of full-load power answers:
        # 36 kW x 0.75 x (10/3600)/0.101325 = 0.7402 kW, at 0.20 per kWh.
        assert cost["expected"]["per_hour"] == "0.1480"
        assert cost["expected"]["co2e_kg_per_hour"] == "0.2961"
        assert float(cost["expected"]["low_per_year"]) < float(cost["expected"]["per_year"])
        assert "trim_machine" in [reason["code"] for reason in cost["expected"]["reasons"]]

    def test_names_the_price_and_the_emission_factor(self):
        plant = Plant()
        finding = plant.leak(10)

        cost = api_as("technician", plant.site).get(f"/findings/{finding.pk}").json()["cost"]

        assert cost["prices"] == [
            {
                "quantity": "electricity_price_per_kwh",
                "value": "0.2000000000",
                "currency": "EUR",
                "from_at": "2024-01-01T00:00:00Z",
                "source": "supply contract",
                "parts": [],
            }
        ]
        assert cost["demand_charge"] is None
        assert cost["co2e_factors"] == [
            {"value": "0.4000000000", "unit": "kg CO2e/kWh", "source": "supply contract", "year": 2024}
        ]

    def test_at_prices_by_the_hour_names_them_and_their_mean(self):
        plant = Plant()
        make_tariff_table(plant.site, day="0.30", rest="0.30", from_at=NOW - timedelta(days=1))
        finding = plant.leak(10)

        cost = api_as("technician", plant.site).get(f"/findings/{finding.pk}").json()["cost"]

        # 0.2000 at 0.20 per kWh.
        assert cost["full_load"]["per_hour"] == "0.3000"
        assert cost["prices"][0]["value"] == "0.3000000000"
        assert [part["name"] for part in cost["prices"][0]["parts"]] == ["day", "day night", "day rest"]

    def test_shows_the_demand_charge_beside_the_cost(self):
        plant = Plant()
        finding = plant.leak(10)
        api = api_as("technician", plant.site)
        before = api.get(f"/findings/{finding.pk}").json()["cost"]
        make_value(plant.site, Quantity.DEMAND_CHARGE_PER_KW_MONTH, "9.5", currency="EUR")

        cost = api.get(f"/findings/{finding.pk}").json()["cost"]

        # 10 m3/h at 360 kJ/m3 is 1 kW.
        assert cost["demand_charge"]["full_load_per_month"] == "9.50"
        assert cost["demand_charge"]["expected_per_month"] is None
        assert {**cost, "demand_charge": None} == before

    def test_of_another_site_is_not_found(self):
        finding, plant = Plant().leak(10), Plant()

        assert api_as("manager", plant.site).get(f"/findings/{finding.pk}").status_code == 404

    def test_is_shown_to_nobody_unknown(self):
        assert api_of_nobody().get(f"/findings/{Plant().leak(10).pk}").status_code == 401

    @pytest.mark.parametrize(
        ("page", "number"), [("readings", 2), ("assessments", 1), ("segments", 1), ("history", 2)]
    )
    def test_opens_down_to_its(self, page, number):
        plant = Plant()
        finding = plant.leak(10)
        plant.take(level_db=40.0, taken_at=NOW + DAY)

        rows = api_as("inspector", plant.site).get(f"/findings/{finding.pk}/{page}").json()["results"]

        assert len(rows) == number

    @pytest.mark.parametrize("page", ["readings", "assessments", "segments", "history"])
    def test_of_another_site_opens_to_nothing(self, page):
        finding, plant = Plant().leak(10), Plant()

        answer = api_as("manager", plant.site).get(f"/findings/{finding.pk}/{page}")

        assert answer.status_code == 404


class TestAMoveOnAFinding:
    def test_needs_the_version_it_was_made_from(self):
        plant = Plant()
        finding = plant.leak(10)
        body = {"move": "dismiss", "dismiss_reason": "no_fault_found", "text": "nothing heard"}

        assert api_as("inspector", plant.site).post(f"/findings/{finding.pk}/moves", body).status_code == 428

    def test_from_an_older_version_is_refused(self):
        plant = Plant()
        finding = plant.leak(10)
        body = {"move": "dismiss", "dismiss_reason": "no_fault_found", "text": "nothing heard"}

        answer = api_as("inspector", plant.site).post(f"/findings/{finding.pk}/moves", body, version=7)

        assert (answer.status_code, answer.json()["code"]) == (412, "version_stale")

    def test_dismisses(self):
        plant = Plant()
        finding = plant.leak(10)
        body = {"move": "dismiss", "dismiss_reason": "no_fault_found", "text": "nothing heard"}

        answer = api_as("inspector", plant.site).post(
            f"/findings/{finding.pk}/moves", body, version=finding.version
        )

        assert (answer.status_code, answer.json()["status"]) == (200, "dismissed")
        assert answer.headers["ETag"] == '"v2"'

    def test_merges(self):
        plant = Plant()
        survivor, duplicate = plant.leak(10), plant.leak(7, plant.another_point())
        body = {"move": "merge", "survivor_id": str(survivor.pk), "text": WHY}

        answer = api_as("planner", plant.site).post(f"/findings/{duplicate.pk}/moves", body, version=1)

        assert answer.json()["merged_into_id"] == str(survivor.pk)

    def test_into_a_foreign_survivor_names_nothing(self):
        plant, foreign = Plant(), Plant().leak(10)
        body = {"move": "merge", "survivor_id": str(foreign.pk), "text": WHY}

        answer = api_as("planner", plant.site).post(f"/findings/{plant.leak(7).pk}/moves", body, version=1)

        assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (400, "/survivor_id")

    def test_to_close_by_a_reason_takes_a_manager(self):
        plant = Plant()
        finding = plant.leak(10)
        body = {"move": "close_by_reason", "closure_reason": "branch_isolated", "text": "cut off and blinded"}

        statuses = [
            api_as(role, plant.site).post(f"/findings/{finding.pk}/moves", body, version=1).status_code
            for role in ("inspector", "planner", "technician", "integrator", "manager")
        ]

        assert statuses == [403, 403, 403, 403, 200]

    @pytest.mark.parametrize("role", ["technician", "integrator"])
    def test_that_judges_is_refused_to_the(self, role):
        plant = Plant()
        finding = plant.leak(10)
        body = {"move": "dismiss", "dismiss_reason": "no_fault_found", "text": "nothing heard"}

        answer = api_as(role, plant.site).post(f"/findings/{finding.pk}/moves", body, version=1)

        assert (answer.status_code, answer.json()["code"]) == (403, "right_missing")

    def test_with_evidence_of_another_move_is_refused(self):
        plant = Plant()
        finding = plant.leak(10)
        body = {"move": "reinstate", "medium": "nitrogen"}

        answer = api_as("inspector", plant.site).post(f"/findings/{finding.pk}/moves", body, version=1)

        assert answer.json()["code"] == "move_evidence"
        assert {error["pointer"] for error in answer.json()["errors"]} == {"/text", "/medium"}

    def test_that_the_status_forbids_is_a_conflict(self):
        plant = Plant()
        body = {"move": "reinstate", "text": "heard it after all"}

        answer = api_as("inspector", plant.site).post(f"/findings/{plant.leak(10).pk}/moves", body, version=1)

        assert (answer.status_code, answer.json()["code"]) == (409, "status_change_not_allowed")

    def test_that_would_make_two_open_findings_of_one_spot_is_a_conflict(self):
        plant = Plant()
        gone = plant.leak(10)
        actions.dismiss(
            actor=ACTOR, at=LATER, finding_id=gone.pk, dismiss_reason="no_fault_found", text="nothing heard"
        )
        plant.leak(8, taken_at=NOW + DAY)
        body = {"move": "reinstate", "text": "heard it after all"}

        answer = api_as("inspector", plant.site).post(f"/findings/{gone.pk}/moves", body, version=2)

        assert (answer.status_code, answer.json()["code"]) == (409, "finding_open_at_spot")

    def test_sent_twice_with_one_key_is_made_once(self):
        plant = Plant()
        finding = plant.leak(10)
        api, key = api_as("inspector", plant.site), str(uuid.uuid4())
        body = {"move": "dismiss", "dismiss_reason": "no_fault_found", "text": "nothing heard"}

        answers = [api.post(f"/findings/{finding.pk}/moves", body, key=key, version=1) for _ in range(2)]

        assert [answer.status_code for answer in answers] == [200, 200]
        assert Finding.objects.get(pk=finding.pk).version == 2
