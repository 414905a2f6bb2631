"""What feeds the plant, by program: systems, connections, machines, prices."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from findings.logbook.models import Entry
from findings.supply import actions, queries
from findings.supply.models import Compressor, Connection, DatedValue, SupplySystem
from findings.supply.rules import Quantity
from tests import makers, people

pytestmark = pytest.mark.django_db
PRICE = Quantity.ELECTRICITY_PRICE_PER_KWH


@pytest.fixture
def site():
    return makers.make_site()


@pytest.fixture
def api(site):
    return people.api_as("planner", site)


def price(site, **values):
    given = {
        "site_id": str(site.pk),
        "quantity": "electricity_price_per_kwh",
        "value": "0.2131",
        "currency": "EUR",
        "from_at": "2026-01-01T00:00:00+01:00",
        "source": "supply contract 2026",
    }
    return {**given, **values}


def error(answer):
    found = answer.json()["errors"]
    return (found[0]["pointer"], found[0]["code"]) if found else answer.json()["code"]


class TestSupplySystems:
    def test_refuse_a_vacuum_above_the_atmosphere(self, api, site):
        answer = api.post(
            "/supply-systems",
            {"site_id": str(site.pk), "code": "V", "name": "V", "medium": "vacuum", "pressure_gauge_pa": 1},
        )

        assert error(answer) == ("/pressure_gauge_pa", "not_a_vacuum")
        assert not SupplySystem.objects.exists()

    def test_read_in_the_units_of_the_caller(self, api, site):
        system = makers.make_system(site, pressure_gauge_pa=689_475.729)

        answer = api.get(f"/supply-systems/{system.pk}", units="us").json()

        # 1 psi is 6894.75729 Pa (NIST SP 811, appendix B).
        assert answer["pressure_psig"] == pytest.approx(100.0, rel=1e-6)

    def test_have_a_storage_in_the_units_of_the_caller(self, api, site):
        system = makers.make_system(site)

        api.patch(f"/supply-systems/{system.pk}", {"storage_m3": 5.0}, version=1)

        assert api.get(f"/supply-systems/{system.pk}").json()["storage_m3"] == 5.0

    def test_judge_a_change_against_the_medium(self, api, site):
        system = makers.make_system(site)

        answer = api.patch(f"/supply-systems/{system.pk}", {"pressure_gauge_pa": -5.0}, version=1)

        assert error(answer) == ("/pressure_gauge_pa", "not_above_atmosphere")


class TestCompressors:
    def test_refuse_a_change_that_no_machine_could_follow(self, api, site):
        machine = makers.make_compressor(makers.make_system(site))

        answer = api.patch(f"/compressors/{machine.pk}", {"rated_power_w": 1_000.0}, version=1)

        assert error(answer) == ("/rated_power_w", "below_isothermal")
        assert Compressor.objects.get(pk=machine.pk).version == 1

    def test_retire_after_they_began(self, api, site):
        machine = makers.make_compressor(makers.make_system(site), commissioned_on=makers.NOW.date())

        early = api.patch(f"/compressors/{machine.pk}", {"retired_on": "2020-01-01"}, version=1)
        later = api.patch(f"/compressors/{machine.pk}", {"retired_on": "2030-01-01"}, version=1)

        assert error(early) == ("/retired_on", "before_start")
        assert later.json()["retired_on"] == "2030-01-01"

    def test_say_how_they_follow_demand(self, api, site):
        machine = makers.make_compressor(makers.make_system(site))
        told = {"unloaded_share": 0.28, "load_order": 1, "part_load_points": [[0.0, 0.28], [1.0, 1.0]]}

        api.patch(f"/compressors/{machine.pk}", told, version=1)
        shown = api.get(f"/compressors/{machine.pk}").json()

        assert {name: shown[name] for name in told} == told

    def test_refuse_points_that_end_below_full_load(self, api, site):
        machine = makers.make_compressor(makers.make_system(site))

        answer = api.patch(
            f"/compressors/{machine.pk}", {"part_load_points": [[0, 0.3], [0.9, 1]]}, version=1
        )

        assert error(answer) == ("/part_load_points", "full_load_missing")

    def test_refuse_a_least_share_where_nothing_regulates(self, api, site):
        machine = makers.make_compressor(makers.make_system(site))

        answer = api.patch(f"/compressors/{machine.pk}", {"least_share": 0.3}, version=1)

        assert error(answer) == ("/least_share", "least_share_needless")

    def test_have_each_place_of_the_cascade_once(self, api, site):
        system = makers.make_system(site)
        makers.make_compressor(system, load_order=1)
        makers.make_compressor(system, load_order=2, retired_on=makers.NOW.date())
        second = makers.make_compressor(system)

        taken = api.patch(f"/compressors/{second.pk}", {"load_order": 1}, version=1)
        free = api.patch(f"/compressors/{second.pk}", {"load_order": 2}, version=1)

        assert (taken.status_code, taken.json()["code"]) == (409, "load_order_taken")
        assert free.json()["load_order"] == 2

    def test_stand_in_their_order_with_the_unordered_last(self, site):
        system = makers.make_system(site)
        last = makers.make_compressor(system)
        trim = makers.make_compressor(system, load_order=2)
        base = makers.make_compressor(system, load_order=1)
        makers.make_compressor(system, load_order=3, retired_on=makers.NOW.date())

        station = queries.stations([(system, site)], makers.NOW)[system.pk]

        assert [machine.key for machine in station.machines] == [base.code, trim.code, last.code]
        assert not station.is_ordered


class TestConnections:
    def test_feed_the_parts_below_unless_they_have_their_own(self, site):
        line = makers.make_asset(site)
        part = makers.make_asset(parent=makers.make_asset(parent=line))
        main, own = makers.make_system(site), makers.make_system(site)
        makers.make_connection(line, main)

        assert queries.system_feeding(part.pk, "compressed_air") == main
        makers.make_connection(part, own)
        assert queries.system_feeding(part.pk, "compressed_air") == own
        assert queries.system_feeding(part.pk, "nitrogen") is None

    def test_name_one_system_per_medium(self, api, site):
        asset = makers.make_asset(site)
        makers.make_connection(asset, makers.make_system(site))
        second = makers.make_system(site)

        answer = api.post("/connections", {"asset_id": str(asset.pk), "system_id": str(second.pk)})

        assert (answer.status_code, answer.json()["code"]) == (409, "medium_connected")

    def test_end_and_stay_in_the_logbook(self, api, site):
        made = makers.make_connection(makers.make_asset(site), makers.make_system(site))

        api.post(f"/connections/{made.pk}/end", {"reason": "line removed"})

        assert not Connection.objects.exists()
        assert (Entry.objects.get().act, Entry.objects.get().reason) == ("connection.ended", "line removed")


class TestDatedValues:
    def test_keep_every_digit(self, api, site):
        made = api.post("/dated-values", price(site))

        assert made.status_code == 201
        assert made.json()["value"] == "0.2131000000"
        assert DatedValue.objects.get().value == Decimal("0.2131")

    @pytest.mark.parametrize(
        ("values", "where"),
        [
            ({"currency": "USD"}, ("/currency", "currency_differs")),
            ({"value": 0.21}, ("/value", "not_text")),
            ({"value": "1e30"}, ("/value", "invalid")),
            ({"value": "-1"}, ("/value", "out_of_range")),
            ({"source": " "}, ("/source", "blank")),
            ({"from_at": "2026-01-01T00:00:00"}, ("/from_at", "naive")),
            ({"from_at": "0000-01-01T00:00:00Z"}, ("/from_at", "invalid")),
            ({"quantity": "pressurised_share", "currency": "EUR"}, ("/system_id", "required")),
            ({"quantity": "grid_factor_kg_per_kwh", "value": "0.4"}, ("/currency", "currency_needless")),
        ],
    )
    def test_refuse_what_cannot_be_and_keep_nothing(self, api, site, values, where):
        answer = api.post("/dated-values", price(site, **values))

        assert (answer.status_code, error(answer)) == (400, where)
        assert not DatedValue.objects.exists()
        assert not Entry.objects.exists()

    def test_refuse_a_price_without_currency(self, api, site):
        given = price(site)
        del given["currency"]

        assert error(api.post("/dated-values", given)) == ("/currency", "currency_missing")

    def test_refuse_a_grid_factor_without_its_year(self, api, site):
        given = price(site, quantity="grid_factor_kg_per_kwh", value="0.363")
        del given["currency"]

        assert error(api.post("/dated-values", given)) == ("/source_year", "source_year_missing")
        assert api.post("/dated-values", {**given, "source_year": 2024}).status_code == 201

    def test_refuse_an_energy_below_the_least_work(self, api, site):
        system = makers.make_system(site)
        given = price(site, quantity="specific_energy_j_per_m3", system_id=str(system.pk))
        del given["currency"]

        low = api.post("/dated-values", {**given, "value": "100000"})
        high = api.post("/dated-values", {**given, "value": "900000"})

        assert error(low) == ("/value", "below_isothermal")
        assert error(high) == ("/value", "specific_power_too_high")
        # 360 kJ/m3 is 6 kW per m3/min: common practice at 6 bar.
        assert api.post("/dated-values", {**given, "value": "360000"}).status_code == 201

    def test_refuse_a_system_for_what_holds_for_the_site(self, api, site):
        system = makers.make_system(site)

        answer = api.post("/dated-values", price(site, system_id=str(system.pk)))

        assert error(answer) == ("/system_id", "system_needless")

    def test_begin_once_at_a_moment_until_void(self, api, site):
        first = api.post("/dated-values", price(site)).json()

        twice = api.post("/dated-values", price(site, value="0.3"))
        api.post(f"/dated-values/{first['id']}/void", {"reason": "typing error"})
        third = api.post("/dated-values", price(site, value="0.3"))

        assert (twice.status_code, twice.json()["code"]) == (409, "value_dated")
        assert third.status_code == 201

    def test_are_voided_once_and_with_a_reason(self, api, site):
        value = makers.make_value(site, PRICE, "0.2")
        path = f"/dated-values/{value.pk}/void"

        assert api.post(path, {"reason": ""}).status_code == 400
        assert api.post(path, {"reason": "typing error"}).json()["void_reason"] == "typing error"
        assert api.post(path, {"reason": "again"}).json()["code"] == "value_void"

    def test_are_listed_without_the_void_ones(self, api, site):
        value = makers.make_value(site, PRICE, "0.2")
        makers.make_value(site, PRICE, "9", void_at=makers.NOW, void_reason="wrong")

        rows = api.get("/dated-values", void="false").json()["results"]

        assert [row["id"] for row in rows] == [str(value.pk)]


class TestValueInForce:
    JANUARY = datetime(2026, 1, 1, tzinfo=UTC)

    def test_is_the_last_that_began(self, site):
        makers.make_value(site, PRICE, "0.2")
        makers.make_value(site, PRICE, "0.3", from_at=self.JANUARY)

        def at(moment):
            found = queries.value_in_force(site.pk, PRICE, moment)
            return found and found.value

        assert at(self.JANUARY) == Decimal("0.3")
        assert at(self.JANUARY - timedelta(seconds=1)) == Decimal("0.2")
        assert at(makers.LONG_AGO - timedelta(seconds=1)) is None

    def test_of_a_system_is_not_the_site_s(self, site):
        system = makers.make_system(site)
        makers.make_value(site, Quantity.PRESSURISED_SHARE, "0.7", system=system)

        assert queries.value_in_force(site.pk, Quantity.PRESSURISED_SHARE, makers.NOW) is None
        assert queries.value_in_force(site.pk, Quantity.PRESSURISED_SHARE, makers.NOW, system.pk) is not None

    def test_as_it_was_known_then_has_what_was_voided_later(self, site):
        value = makers.make_value(site, PRICE, "0.2")
        who = people.actor_at(site, "planner")
        actions.void_value(actor=who, at=makers.NOW, value_id=value.pk, reason="typing error")
        before, after = makers.NOW - timedelta(days=1), makers.NOW + timedelta(days=1)

        assert queries.series(site.pk, PRICE, as_of=before) == [value]
        assert queries.series(site.pk, PRICE, as_of=after) == []
        assert queries.series(site.pk, PRICE) == []
        assert queries.series(site.pk, PRICE, as_of=makers.LONG_AGO - timedelta(days=1)) == []
