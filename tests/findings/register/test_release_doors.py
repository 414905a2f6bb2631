"""A dangerous leak is told by what it lets out before what it costs, wherever its cost is told."""

from __future__ import annotations

import pytest

from findings.supply.rules import Quantity
from tests.findings.chain import Plant
from tests.makers import make_value
from tests.people import api_as

pytestmark = pytest.mark.django_db


def gas_plant(medium: str = "natural_gas") -> Plant:
    plant = Plant(medium=medium, pressure_gauge_pa=30_000.0)
    make_value(plant.site, Quantity.GAS_PRICE_PER_M3, "0.55", system=plant.system)
    return plant


class TestADangerousFinding:
    def test_shows_its_release_before_its_cost(self):
        plant = gas_plant()
        finding = plant.leak(0.6, medium="natural_gas")

        shown = api_as("inspector", plant.site).get(f"/findings/{finding.pk}").json()

        names = list(shown)
        assert names.index("release") < names.index("cost")
        assert names.index("cautions") < names.index("cost")
        # 0.6 m3/h of methane at 0.65817 kg/m3 (ideal gas law) are 1.097e-4 kg/s.
        assert shown["release"]["mass_kg_per_s"] == pytest.approx(1.097e-4, rel=1e-3)
        assert shown["release"]["release_class"] == "moderate"
        assert "never a clearance" in shown["release"]["notice"]
        assert [one["key"] for one in shown["release"]["dilutions"]] == [
            "quarter_of_lower_limit",
            "half_of_lower_limit",
        ]

    def test_has_it_in_the_list_too(self):
        plant = gas_plant("oxygen")
        plant.leak(0.6, medium="oxygen")

        (row,) = api_as("inspector", plant.site).get("/findings").json()["results"]

        assert row["release"]["caution_keys"][0] == "oxygen"

    @pytest.mark.parametrize("path", ["/findings", "/findings/{id}"])
    def test_is_never_shown_by_its_cost_alone(self, path):
        plant = gas_plant()
        finding = plant.leak(0.6, medium="natural_gas")

        answer = api_as("planner", plant.site).get(path.format(id=finding.pk), fields="number,cost").json()

        row = answer["results"][0] if "results" in answer else answer
        assert set(row) == {"number", "release", "cost"}
        assert next(iter(row)) == "release"

    def test_of_unknown_rate_says_so_and_is_of_no_small_class(self):
        plant = gas_plant()
        finding = plant.take(medium="natural_gas", level_db=30.0).finding

        release = api_as("inspector", plant.site).get(f"/findings/{finding.pk}").json()["release"]

        assert (release["release_class"], release["mass_kg_per_s"]) == ("unknown", None)
        assert release["reasons"][0]["code"] == "release_rate_unknown"

    def test_of_an_unknown_gas_counts_as_dangerous(self):
        plant = Plant()
        finding = plant.take(medium="", level_db=30.0).finding

        release = api_as("inspector", plant.site).get(f"/findings/{finding.pk}").json()["release"]

        assert release["caution_keys"][0] == "unknown_gas"


class TestAnotherFinding:
    def test_has_no_release(self):
        plant = Plant()
        finding = plant.leak(10.0)

        shown = api_as("inspector", plant.site).get(f"/findings/{finding.pk}").json()

        assert shown["release"] is None
        # 10 m3/h of dry air at 1.18835 kg/m3 (ideal gas law).
        assert shown["mass_flow_kg_per_s"] == pytest.approx(10 / 3600 * 1.18835, rel=1e-4)


class TestSteam:
    def test_shows_its_mass_flow(self):
        plant = Plant(medium="steam", pressure_gauge_pa=400_000.0)
        finding = plant.take(medium="steam", hole_diameter_m=0.002, edge="sharp").finding

        shown = api_as("inspector", plant.site).get(f"/findings/{finding.pk}").json()

        # Napier by API 520: 1.45678e-3 × 0.61 × π/4 × (2 mm)² × 5.01325 bar = 1.3996e-3 kg/s.
        assert shown["mass_flow_kg_per_s"] == pytest.approx(1.3996e-3, rel=1e-3)
        assert shown["mass_flow_kg_per_s"] == pytest.approx(
            shown["assessment"]["inputs"]["mass_flow_kg_per_s"], rel=1e-6
        )
        assert (shown["cost"]["per_hour"], shown["cost"]["reasons"][0]["code"]) == (
            None,
            "gas_price_per_kg_missing",
        )


class TestAnEnclosure:
    def test_says_at_its_cost_that_a_tone_gives_no_flow(self):
        plant = Plant()
        finding = plant.take(kind="enclosure_leak", level_db=38.0, medium="").finding

        shown = api_as("inspector", plant.site).get(f"/findings/{finding.pk}").json()

        assert [reason["code"] for reason in shown["cost"]["reasons"]] == ["no_flow_from_tone"]
        assert [reason["code"] for reason in shown["assessment"]["reasons"]] == ["no_flow_from_tone"]
