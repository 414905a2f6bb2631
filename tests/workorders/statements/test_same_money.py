"""One loss is one money: the finding's own cost, the order's cost of waiting and the month's statement."""

from __future__ import annotations

from decimal import Decimal

import pytest

from findings.kinds.base import Kind, Medium
from findings.plant.models import MeasuringPoint, Site
from findings.register.models import Finding
from findings.register.queries import costs_of
from findings.supply.models import SupplySystem
from findings.supply.rules import Quantity
from tests.makers import make_site, make_system, make_value
from tests.workorders.scene import listen
from tests.workorders.statements.plantlife import APRIL, local, point_on
from workorders.desk.queries.costs import costs_at
from workorders.orders.queries import prices_at
from workorders.orders.rules import daily_cost
from workorders.statements.queries import month_figures

pytestmark = pytest.mark.django_db

FOUND_AT, END_OF_APRIL = local(4, 1), local(5, 1)
HOURS_OF_APRIL = 720
HOLE = {"hole_diameter_m": 0.002, "edge": "sharp", "pressure_gauge_pa": None}


def vacuum(site: Site) -> tuple[MeasuringPoint, dict]:
    system = make_system(site, medium=Medium.VACUUM, pressure_gauge_pa=-70_000.0, temperature_k=303.15)
    make_value(site, Quantity.SPECIFIC_ENERGY_J_PER_M3, "85000", system=system)
    make_value(site, Quantity.PRESSURISED_SHARE, "0.86", system=system)
    return point_on(site, system), {"kind": Kind.VACUUM_LEAK, "medium": Medium.VACUUM}


def steam(site: Site) -> tuple[MeasuringPoint, dict]:
    system = make_system(site, medium=Medium.STEAM, pressure_gauge_pa=400_000.0, temperature_k=425.0)
    make_value(site, Quantity.GAS_PRICE_PER_KG, "0.045", system=system)
    make_value(site, Quantity.PRESSURISED_SHARE, "1", system=system)
    return point_on(site, system), {"medium": Medium.STEAM}


def argon(site: Site) -> tuple[MeasuringPoint, dict]:
    system = make_system(site, medium=Medium.ARGON)
    make_value(site, Quantity.GAS_PRICE_PER_KG, "1.80", system=system)
    make_value(site, Quantity.PRESSURISED_SHARE, "1", system=system)
    return point_on(site, system), {"medium": Medium.ARGON}


def air(site: Site) -> tuple[MeasuringPoint, dict]:
    system = make_system(site)
    make_value(site, Quantity.SPECIFIC_ENERGY_J_PER_M3, "390000", system=system)
    make_value(site, Quantity.PRESSURISED_SHARE, "1", system=system)
    return point_on(site, system), {}


@pytest.fixture(params=[air, vacuum, steam, argon], ids=lambda supply: supply.__name__)
def leak(request: pytest.FixtureRequest) -> Finding:
    site = make_site()
    make_value(site, Quantity.ELECTRICITY_PRICE_PER_KWH, "0.18")
    point, said = request.param(site)
    finding = listen(point, FOUND_AT, **HOLE, **said).finding
    assert finding is not None
    return Finding.objects.select_related("site", "system").get(pk=finding.pk)


def of_the_finding(leak: Finding) -> Decimal:
    per_hour = costs_of([leak], END_OF_APRIL)[leak.pk].per_hour
    assert per_hour is not None
    return per_hour


class TestTheCostOfAFinding:
    def test_is_above_nothing(self, leak):
        assert of_the_finding(leak) > 0

    def test_through_a_month_is_the_months_accrued_cost(self, leak):
        figures = month_figures(leak.site, APRIL, END_OF_APRIL)

        assert figures.total.accrued == pytest.approx(
            of_the_finding(leak) * HOURS_OF_APRIL, rel=Decimal("1e-15")
        )

    def test_through_a_day_is_the_orders_cost_of_waiting(self, leak):
        cost, _ = daily_cost(leak.leak_rate_m3_per_s, prices_at(leak.site_id, leak.system, END_OF_APRIL))

        assert cost == pytest.approx(of_the_finding(leak) * 24, rel=Decimal("1e-15"))

    def test_is_what_its_page_shows(self, leak):
        shown = costs_at(leak.site, END_OF_APRIL).per_hour(leak.system_id, leak.leak_rate_m3_per_s)

        assert shown == pytest.approx(of_the_finding(leak), rel=Decimal("1e-15"))


class TestAVacuum:
    def test_costs_the_pumps_power_worked_by_hand(self):
        site = make_site()
        make_value(site, Quantity.ELECTRICITY_PRICE_PER_KWH, "0.18")
        point, said = vacuum(site)
        finding = listen(point, FOUND_AT, **HOLE, **said).finding
        leak = Finding.objects.select_related("site", "system").get(pk=finding.pk)

        # 9.484 l/min of free air through 1 mm at coefficient 1 (ideal nozzle, choked) × 4 × 0.61, at
        # 31.325 kPa and 30 °C: × 100/31.325 × 303.15/293.15 = 76.39 l/min at the pump; × 85 kJ/m3 = 108.2 W.
        assert float(of_the_finding(leak)) == pytest.approx(0.1082 * 0.86 * 0.18, rel=2e-3)

    def test_never_takes_a_compressors_specific_energy(self):
        site = make_site()
        make_value(site, Quantity.ELECTRICITY_PRICE_PER_KWH, "0.18")
        compressed: SupplySystem = make_system(site)
        make_value(site, Quantity.SPECIFIC_ENERGY_J_PER_M3, "390000", system=compressed)
        system = make_system(site, medium=Medium.VACUUM, pressure_gauge_pa=-70_000.0)
        point = point_on(site, system)
        finding = listen(point, FOUND_AT, **HOLE, kind=Kind.VACUUM_LEAK, medium=Medium.VACUUM).finding
        leak = Finding.objects.select_related("site", "system").get(pk=finding.pk)

        cost = costs_of([leak], END_OF_APRIL)[leak.pk]

        assert (cost.per_hour, cost.reasons[0].code) == (None, "specific_energy_missing")


class TestSteam:
    def test_costs_its_mass_worked_by_hand(self):
        site = make_site()
        point, said = steam(site)
        finding = listen(point, FOUND_AT, **HOLE, **said).finding
        leak = Finding.objects.select_related("site", "system").get(pk=finding.pk)

        # Napier by API 520: 1.45678e-3 × 0.61 × π/4 × (2 mm)² × 5.01325 bar = 1.3996e-3 kg/s; × 3600 × 0.045.
        assert float(of_the_finding(leak)) == pytest.approx(1.3996e-3 * 3600 * 0.045, rel=1e-3)
