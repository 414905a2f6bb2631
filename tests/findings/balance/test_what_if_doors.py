"""What would be, asked by program: figures with intervals on the plant's own data, and nothing kept."""

import pytest

from findings.logbook.models import Entry
from findings.supply.rules import Quantity
from tests import makers
from tests.findings.chain import Plant
from tests.people import api_as

pytestmark = pytest.mark.django_db


@pytest.fixture
def plant():
    """Return a plant with one machine of 0.1 m3/s and 36 kW, a demand of half of it, and two leaks."""
    plant = Plant()
    makers.make_compressor(
        plant.system, unloaded_share=0.25, rated_flow_m3_per_s=0.1 / 1.01325, rated_power_w=36_000.0
    )
    makers.make_value(plant.site, Quantity.MEAN_DEMAND_M3_PER_S, "0.05", system=plant.system)
    plant.leak(7.2)
    plant.leak(1.8, plant.another_point())
    return plant


def ask(plant, name, body):
    return api_as("technician", plant.site).post(
        f"/supply-systems/{plant.system.pk}/what-if/{name}", body, key=""
    )


def error(answer):
    found = answer.json()["errors"][0]
    return found["pointer"], found["code"]


class TestHeaderPressure:
    def test_answers_with_intervals_and_names_the_findings(self, plant):
        told = ask(plant, "header-pressure", {"after_pressure_gauge_pa": 500_000.0}).json()

        assert told["before_pressure_gauge_pa"] == 600_000.0
        assert told["leakage"]["value_m3_per_s"] == pytest.approx(0.0025)
        assert told["together"]["low_w"] < told["together"]["value_w"] < told["together"]["high_w"]
        assert [one["number"] for one in told["findings"]] == [1, 2]
        assert float(told["saving"]["low_per_year"]) < float(told["saving"]["per_year"])

    def test_refuses_in_words_where_a_user_would_starve(self, plant):
        body = {
            "after_pressure_gauge_pa": 500_000.0,
            "points_of_use": [{"name": "Case packer", "least_pressure_gauge_pa": 550_000.0}],
        }

        told = ask(plant, "header-pressure", body).json()

        assert told["together"]["value_w"] is None
        assert "Case packer needs" in told["together"]["reasons"][0]["text"]


class TestRepairPlan:
    BODY = {"usual_cost": "80", "usual_hours": "1.5"}

    def test_answers_the_best_findings_within_the_budget(self, plant):
        told = ask(plant, "repair-plan", {**self.BODY, "money_budget": "100"}).json()

        # 0.002 m3/s: 720 W x 0.75 x 8760 h x 0.20.
        assert [(one["number"], one["saving"]) for one in told["findings"]] == [(1, "946.08")]
        assert (told["net"], told["is_proven"]) == ("866.08", True)
        assert told["together"]["low_w"] < told["together"]["value_w"]

    def test_takes_what_a_repair_really_costs(self, plant):
        finding = api_as("technician", plant.site).get("/findings", ordering="number").json()["results"][0]
        dear = [{"finding_id": finding["id"], "cost": "2000", "hours": "8"}]

        told = ask(plant, "repair-plan", {**self.BODY, "repairs": dear}).json()

        assert [one["number"] for one in told["findings"]] == [2]

    def test_is_refused_in_words_without_a_demand(self):
        plant = Plant()
        plant.leak(7.2)

        told = ask(plant, "repair-plan", self.BODY).json()

        assert (told["findings"], told["net"]) == ([], None)
        assert told["reasons"][0]["code"] == "no_machine"

    def test_needs_to_know_what_a_repair_takes(self, plant):
        assert ask(plant, "repair-plan", {}).status_code == 400


class TestBranchShutOff:
    def test_counts_the_findings_below_an_asset(self, plant):
        part = makers.make_asset(parent=plant.asset)
        plant.leak(3.6, makers.make_point(asset=part))

        body = {"asset_id": str(plant.asset.pk), "hours_per_year": 2000}
        told = ask(plant, "branch-shut-off", body).json()

        # 0.0035 m3/s: 1.26 kW x 0.75 x 2000 h.
        assert told["energy"]["value_kwh"] == pytest.approx(1890.0)
        assert told["saving"]["per_year"] == "378.00"
        assert len(told["findings"]) == 3

    def test_counts_an_area(self, plant):
        other = makers.make_area(plant.site)

        here = ask(plant, "branch-shut-off", {"area_id": str(plant.asset.area_id), "hours_per_year": 100})
        there = ask(plant, "branch-shut-off", {"area_id": str(other.pk), "hours_per_year": 100})

        assert len(here.json()["findings"]) == 2
        assert there.json()["energy"]["reasons"][0]["code"] == "no_finding_in_branch"

    def test_comes_with_its_caution(self, plant):
        body = {"asset_id": str(plant.asset.pk), "hours_per_year": 2000}

        assert ask(plant, "branch-shut-off", body).json()["reasons"][0]["code"] == "who_needs_the_air"

    def test_takes_one_branch(self, plant):
        assert error(ask(plant, "branch-shut-off", {"hours_per_year": 1})) == ("/asset_id", "one_branch")


class TestTariffChange:
    def test_answers_before_after_and_the_difference(self, plant):
        told = ask(plant, "tariff-change", {"price_per_kwh": "0.30"}).json()

        # 0.0025 m3/s: 0.9 kW over 8760 h.
        assert told["before"]["full_load"]["per_year"] == "1576.80"
        assert told["after"]["full_load"]["per_year"] == "2365.20"
        assert told["difference"]["expected"]["per_year"] == "591.30"

    def test_takes_a_table_by_its_mean_price(self, plant):
        bands = [
            {"name": "day", "price_per_kwh": "0.30", "windows": [{"start": "06:00", "end": "18:00"}]},
            {
                "name": "night",
                "price_per_kwh": "0.10",
                "windows": [{"start": "00:00", "end": "06:00"}, {"start": "18:00", "end": "24:00"}],
            },
        ]

        told = ask(plant, "tariff-change", {"bands": bands}).json()

        assert float(told["after"]["price_per_kwh"]) == pytest.approx(0.20, abs=1e-4)

    def test_refuses_a_table_with_a_gap(self, plant):
        bands = [{"name": "day", "price_per_kwh": "0.30", "windows": [{"start": "06:00", "end": "24:00"}]}]

        assert error(ask(plant, "tariff-change", {"bands": bands})) == ("/bands", "no_price")

    def test_points_at_what_is_no_band(self, plant):
        bands = [{"name": "day", "price_per_kwh": 0.3, "windows": [{"start": "00:00", "end": "24:00"}]}]

        answer = ask(plant, "tariff-change", {"bands": bands})

        assert error(answer) == ("/bands/0/price_per_kwh", "price_wrong")

    def test_takes_one_tariff(self, plant):
        assert error(ask(plant, "tariff-change", {})) == ("/price_per_kwh", "one_tariff")


@pytest.mark.parametrize(
    ("name", "body"),
    [
        ("header-pressure", {"after_pressure_gauge_pa": 500_000.0}),
        ("repair-plan", {"usual_cost": "80", "usual_hours": "1"}),
        ("tariff-change", {"price_per_kwh": "0.30"}),
    ],
)
def test_a_question_leaves_nothing_behind(plant, name, body):
    before = Entry.objects.count()

    assert ask(plant, name, body).status_code == 200
    assert Entry.objects.count() == before
