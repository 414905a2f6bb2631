"""How figures are written."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from workorders.desk.rules import figures

AT = datetime(2026, 3, 2, 23, 30, tzinfo=UTC)
BERLIN = "Europe/Berlin"


class TestMoney:
    @pytest.mark.parametrize(
        ("amount", "currency", "text"),
        [
            (Decimal("1240.5"), "EUR", "1\u202f240.50\u00a0EUR"),
            (Decimal("0.005"), "USD", "0.01\u00a0USD"),
            (Decimal("-12.3"), "EUR", "−12.30\u00a0EUR"),
            (Decimal("1200.4"), "JPY", "1\u202f200\u00a0JPY"),
            (None, "EUR", "–"),
        ],
    )
    def test_carries_its_currency_and_thin_groups(
        self, amount: Decimal | None, currency: str, text: str
    ) -> None:
        assert figures.money(amount, currency) == text

    @pytest.mark.parametrize(
        ("amount", "rounded"), [("1237.4", "1240"), ("99.5", "100"), ("0.4", "0"), ("98765", "98800")]
    )
    def test_said_as_about_has_three_digits(self, amount: str, rounded: str) -> None:
        assert figures.rough(Decimal(amount)) == Decimal(rounded)


class TestMassFlow:
    @pytest.mark.parametrize(
        ("kg_per_s", "system", "text"),
        [
            (0.001, "metric", "3.6\u00a0kg/h"),
            # 1 lb = 0.45359237 kg, by definition: 0.001 kg/s is 7.94 lb/h.
            (0.001, "us", "7.94\u00a0lb/h"),
            (None, "metric", "–"),
        ],
    )
    def test_is_written_per_hour(self, kg_per_s: float | None, system: str, text: str) -> None:
        assert figures.mass_flow(kg_per_s, system) == text

    def test_interval_has_one_unit(self) -> None:
        assert figures.mass_flow_range(0.001, 0.002, "metric") == "3.60 to 7.20\u00a0kg/h"
        assert figures.mass_flow_range(None, 0.002, "metric") == "–"


class TestTradeUnits:
    @pytest.mark.parametrize(
        ("m3_per_s", "system", "text"),
        [
            (0.001, "metric", "60.0\u00a0l/min"),
            (0.01, "metric", "36.0\u00a0m³/h"),
            # 1 cfm = 0.3048³ m³ a minute, by the definition of the foot: 0.001 m³/s is 2.12 cfm.
            (0.001, "us", "2.12\u00a0cfm"),
            (Decimal(0), "metric", "0\u00a0l/min"),
            (None, "us", "–"),
        ],
    )
    def test_of_a_leak_rate(self, m3_per_s: float | None, system: str, text: str) -> None:
        assert figures.flow(m3_per_s, system) == text

    def test_of_an_interval_is_one_unit(self):
        assert figures.flow_range(0.002, 0.003, "metric") == "7.20 to 10.8\u00a0m³/h"

    def test_an_order_of_magnitude_has_one_digit_and_says_what_it_is(self):
        said = figures.flow_order(3.1e-6, 2.9e-4, "metric")

        assert said == "about 0.2 to 20\u00a0l/min, order of magnitude, not calibrated"
        assert figures.flow_order(None, None, "metric") == figures.NOTHING

    @pytest.mark.parametrize(
        ("pa", "system", "text"),
        [(600_000.0, "metric", "6\u00a0bar\u00a0gauge"), (689_475.73, "us", "100\u00a0psi\u00a0gauge")],
    )
    def test_of_a_pressure(self, pa: float, system: str, text: str) -> None:
        assert figures.pressure(pa, system) == text

    @pytest.mark.parametrize(("system", "text"), [("metric", "20\u00a0°C"), ("us", "68\u00a0°F")])
    def test_of_a_temperature(self, system: str, text: str) -> None:
        assert figures.temperature(293.15, system) == text

    def test_of_a_distance(self) -> None:
        assert figures.length(0.3048, "us") == "1\u00a0ft"

    def test_of_a_level(self) -> None:
        assert [figures.level(value) for value in (41.25, 42.0, None)] == ["41.3\u00a0dB", "42\u00a0dB", "–"]

    @pytest.mark.parametrize("odd", [float("nan"), float("inf")])
    def test_of_no_number_is_a_dash(self, odd: float) -> None:
        assert figures.significant(odd) == "–"


class TestTimes:
    def test_are_by_the_sites_clocks(self) -> None:
        assert figures.time_of(AT, BERLIN) == "3\u00a0Mar\u00a02026 00:30"

    @pytest.mark.parametrize(
        ("passed", "text"),
        [
            (timedelta(minutes=5), "under an hour"),
            (timedelta(hours=1), "1\u00a0hour"),
            (timedelta(hours=30), "30\u00a0hours"),
            (timedelta(days=1200), "1\u202f200\u00a0days"),
        ],
    )
    def test_of_an_age_is_no_finer_than_it_is_worth(self, passed: timedelta, text: str) -> None:
        assert figures.age(AT - passed, AT) == text
