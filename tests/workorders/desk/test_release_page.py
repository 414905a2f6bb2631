"""What a dangerous leak lets out stands on its page before any money; what is history is told."""

from __future__ import annotations

from datetime import timedelta

import pytest

from findings.kinds.base import Kind, Medium
from tests.makers import NOW, make_asset, make_connection, make_point, make_site, make_system
from tests.workorders.desk.reader import content_of, reader
from tests.workorders.desk.test_first_page import MEASURED
from tests.workorders.scene import air_point, gas_heard, heard, listen

pytestmark = pytest.mark.django_db

HOLE = {"hole_diameter_m": 0.001, "edge": "sharp"}
HOUR = timedelta(hours=1)


def page_of(finding, **person) -> str:
    return content_of(reader(finding.site, **person).get(f"/findings/{finding.pk}/"))


class TestAGasLeak:
    def test_tells_what_escapes_after_the_cautions_and_before_any_money(self):
        words = page_of(gas_heard(**HOLE))

        released = words.index("What escapes")
        assert words.index("Before anyone goes near") < released < words.index("Cost")
        assert words.index("never a clearance") < words.index("Cost")

    def test_tells_mass_class_and_clean_air_with_their_intervals(self):
        words = page_of(gas_heard(flow_m3_per_s=1e-2 / 60, flow_u_m3_per_s=1e-3 / 60, flow_method="bag"))

        # 10 l/min of methane at 0.65817 kg/m3 (ideal gas law) are 0.3949 kg/h; a quarter of 4.4 % (IEC
        # 60079-20-1, from memory) takes 53.9 m³/h, worked by hand in tests/kinds/test_release.py.
        assert "Release 0.395 kg/h, interval 0.318 to 0.472 kg/h" in words
        assert "53.9 m³/h, interval 43.3 to 64.4 m³/h, for 25 % of the lower flammable limit" in words
        assert "Moderate: more than a closed room usually changes by itself." in words

    def test_of_unknown_size_is_to_be_taken_as_very_large(self):
        words = page_of(gas_heard())

        assert "Release not known. Not known: treat it as very large until somebody knows it." in words

    def test_is_in_the_persons_units(self):
        words = page_of(gas_heard(**HOLE), unit_system="us")

        assert "lb/h" in words
        assert "kg/h" not in words


class TestAnAirLeak:
    def test_tells_no_release(self):
        assert "What escapes" not in page_of(heard(**MEASURED))

    def test_rests_on_its_measurement_and_tells_the_later_estimate_as_history(self):
        site = make_site()
        finding = heard(air_point(site), **MEASURED)
        listen(finding.point, NOW + HOUR, **HOLE)

        words = page_of(finding)

        assert "36.0 m³/h, " in words
        kept = words[words.index("Kept as history") :]
        assert "A measurement of 2026-03-02 stands; an estimate never replaces it" in kept
        assert "Heard again; its rate stays" in words


class TestSteamAndVacuum:
    def _heard(self, kind: Kind, medium: Medium, pressure_gauge_pa: float):
        site = make_site()
        asset = make_asset(site)
        make_connection(asset, make_system(site, medium=medium, pressure_gauge_pa=pressure_gauge_pa))
        return heard(make_point(asset=asset), kind=kind, medium=medium, pressure_gauge_pa=None, **HOLE)

    def test_steam_is_told_by_mass(self):
        words = page_of(self._heard(Kind.PRESSURE_LEAK, Medium.STEAM, 400_000.0))

        # Napier by API 520: 1.45678e-3 × 0.61 × π/4 × (1 mm)² × 5.01325 bar × 3600 = 1.26 kg/h.
        assert "Mass flow 1.26 kg/h, interval" in words

    def test_vacuum_tells_what_the_pump_takes(self):
        words = page_of(self._heard(Kind.VACUUM_LEAK, Medium.VACUUM, -61_325.0))

        # 23.711 l/min at the pump at 40 kPa absolute, coefficient 1 (ideal nozzle, choked) × 0.61.
        assert "At the pump 14.5 l/min" in words
