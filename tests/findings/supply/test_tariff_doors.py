"""Time-of-use tables of electricity, by program."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import Error, IntegrityError, transaction

from findings.logbook.models import Entry
from findings.supply import queries
from findings.supply.models import TariffTable
from findings.supply.rules import Quantity
from tests import makers, people

pytestmark = pytest.mark.django_db
PRICE = Quantity.ELECTRICITY_PRICE_PER_KWH
JANUARY = datetime(2026, 1, 1, tzinfo=UTC)
WORK, REST = ["mon", "tue", "wed", "thu", "fri"], ["sat", "sun", "holiday"]


@pytest.fixture
def site():
    return makers.make_site()


@pytest.fixture
def api(site):
    return people.api_as("planner", site)


def band(name, price, days, *windows):
    hours = [{"start": start, "end": end} for start, end in windows]
    return {"name": name, "price_per_kwh": price, "days": days, "windows": hours}


def table(site, **values):
    given = {
        "site_id": str(site.pk),
        "bands": [
            band("day", "0.2450", WORK, ("06:00", "22:00")),
            band("night", "0.1720", WORK, ("00:00", "06:00"), ("22:00", "24:00")),
            band("rest", "0.1650", REST, ("00:00", "24:00")),
        ],
        "holidays": ["2026-12-26", "2026-12-25"],
        "currency": "EUR",
        "from_at": "2026-01-01T00:00:00Z",
        "source": "supply contract 2026",
    }
    return {**given, **values}


def errors(answer):
    return [(error["pointer"], error["code"]) for error in answer.json()["errors"]]


class TestTables:
    def test_are_taken_whole_and_told_in_full(self, api, site):
        answer = api.post("/tariff-tables", table(site))

        told = answer.json()
        assert answer.status_code == 201
        assert told["holidays"] == ["2026-12-25", "2026-12-26"]
        assert told["bands"][0] == {
            "name": "day",
            "price_per_kwh": "0.2450000000",
            "months": list(range(1, 13)),
            "days": WORK,
            "windows": [{"start": "06:00", "end": "22:00"}],
        }
        assert api.get(f"/tariff-tables/{told['id']}").json() == told
        assert Entry.objects.filter(act="tariff_table.set", subject_id=told["id"]).count() == 1

    def test_that_leave_an_hour_without_a_price_are_refused_in_plain_words(self, api, site):
        bands = [band("day", "0.2", WORK, ("06:00", "22:00")), *table(site)["bands"][2:]]

        answer = api.post("/tariff-tables", table(site, bands=bands))

        assert (answer.status_code, errors(answer)) == (400, [("/bands", "no_price"), ("/bands", "no_price")])
        assert "from 00:00 to 06:00 on mon, tue, wed, thu, fri" in answer.json()["detail"]
        assert not TariffTable.objects.exists()

    @pytest.mark.parametrize(
        ("change", "where"),
        [
            ({"bands": []}, ("/bands", "not_a_list")),
            ({"bands": [band("x", "0.2", WORK, ("22:00", "06:00"))]}, ("/bands/0/windows/0", "window_wrong")),
            ({"currency": "USD"}, ("/currency", "currency_differs")),
            ({"source": " "}, ("/source", "blank")),
        ],
    )
    def test_that_cannot_be_are_refused_with_their_place(self, api, site, change, where):
        assert errors(api.post("/tariff-tables", table(site, **change)))[0] == where

    def test_begin_once_at_a_moment_until_void(self, api, site):
        first = api.post("/tariff-tables", table(site)).json()

        twice = api.post("/tariff-tables", table(site))
        api.post(f"/tariff-tables/{first['id']}/void", {"reason": "typing error"})
        third = api.post("/tariff-tables", table(site))

        assert (twice.status_code, twice.json()["code"]) == (409, "tariff_dated")
        assert third.status_code == 201

    def test_and_flat_prices_do_not_begin_at_once(self, api, site):
        makers.make_value(site, PRICE, "0.2", from_at=JANUARY)

        answer = api.post("/tariff-tables", table(site))

        assert answer.json()["code"] == "tariff_dated"

    def test_keep_a_flat_price_from_beginning_at_once(self, api, site):
        makers.make_tariff_table(site, from_at=JANUARY)
        flat = {
            "site_id": str(site.pk),
            "quantity": "electricity_price_per_kwh",
            "value": "0.2",
            "currency": "EUR",
            "from_at": "2026-01-01T00:00:00Z",
            "source": "contract",
        }

        assert api.post("/dated-values", flat).json()["code"] == "value_dated"

    def test_are_voided_once_and_with_a_reason(self, api, site):
        path = f"/tariff-tables/{makers.make_tariff_table(site).pk}/void"

        assert api.post(path, {"reason": ""}).status_code == 400
        assert api.post(path, {"reason": "typing error"}).json()["void_reason"] == "typing error"
        assert api.post(path, {"reason": "again"}).json()["code"] == "tariff_void"

    def test_are_listed_without_the_void_ones(self, api, site):
        kept = makers.make_tariff_table(site)
        makers.make_tariff_table(site, void_at=makers.NOW, void_reason="wrong")

        rows = api.get("/tariff-tables", void="false").json()["results"]

        assert [row["id"] for row in rows] == [str(kept.pk)]


class TestLaws:
    def test_keep_a_table_as_it_was_written(self, site):
        kept = makers.make_tariff_table(site)

        with pytest.raises(Error, match="only added"), transaction.atomic():
            TariffTable.objects.filter(pk=kept.pk).update(source="another")
        with pytest.raises(Error, match="never deleted"), transaction.atomic():
            TariffTable.objects.filter(pk=kept.pk).delete()

    @pytest.mark.parametrize("bands", [[], {}, "all day", [{}] * 41])
    def test_want_bands(self, site, bands):
        with pytest.raises(IntegrityError, match="tariff_table_holds_bands"):
            makers.make_tariff_table(site, bands=bands)


class TestPriceInForce:
    def test_is_the_tables_mean_of_the_coming_year_with_its_parts(self, site):
        makers.make_tariff_table(site, day="0.30", rest="0.10")

        found = queries.price_in_force(site.pk, JANUARY)

        # 2026 has 261 working days of 16 h by day.
        hours = 261 * 16
        mean = (Decimal("0.30") * hours + Decimal("0.10") * (8760 - hours)) / 8760
        assert found.value == round(mean, 10)
        assert [part.hours for part in found.parts] == [hours, 261 * 8, 104 * 24]

    @pytest.mark.parametrize(("days", "value"), [(-1, "0.2"), (1, "0.3")])
    def test_is_the_newer_of_flat_price_and_table(self, site, days, value):
        makers.make_value(site, PRICE, "0.2", from_at=JANUARY)
        makers.make_tariff_table(site, day="0.3", rest="0.3", from_at=JANUARY + timedelta(days=days))

        assert queries.price_in_force(site.pk, makers.NOW).value == Decimal(value)

    def test_is_none_before_the_first(self, site):
        makers.make_tariff_table(site, from_at=JANUARY)

        assert queries.price_in_force(site.pk, JANUARY - timedelta(seconds=1)) is None

    def test_leaves_void_tables_out(self, site):
        makers.make_tariff_table(site, void_at=makers.NOW, void_reason="wrong")

        assert queries.price_in_force(site.pk, makers.NOW) is None
