"""One finding's page: danger first, figures in the person's units, every fact, nothing unescaped."""

from __future__ import annotations

from datetime import timedelta

import pytest

from findings.kinds.base import Kind, Medium
from findings.kinds.cautions import cautions
from findings.supply.rules import Quantity
from tests.makers import NOW, make_compressor, make_instrument, make_site, make_survey, make_value
from tests.workorders.desk.reader import content_of, reader
from tests.workorders.desk.test_first_page import MEASURED, leak
from tests.workorders.scene import (
    after_reading,
    air_point,
    gas_heard,
    gas_point,
    heard,
    listen,
    ordered,
    repaired,
    walk,
)

pytestmark = pytest.mark.django_db

HOUR = timedelta(hours=1)


class TestTheFinding:
    def test_shows_every_caution_before_anything_else(self):
        gas = gas_heard()

        words = content_of(reader(gas.site).get(f"/findings/{gas.pk}/"))

        where = words.index("What and where")
        told = [caution.text for caution in cautions(Kind.PRESSURE_LEAK, Medium.NATURAL_GAS)]
        assert told
        assert all(words.index(text) < where for text in told)

    def test_shows_rate_interval_method_and_cost(self):
        finding = leak(make_site())

        words = content_of(reader(finding.site).get(f"/findings/{finding.pk}/"))

        # 36 m³/h at 0.1 kWh per m³ and 0.20 per kWh: 0.72 an hour, 6307.20 in 8,760 hours.
        assert "36.0 m³/h, " in words
        assert "0.72 EUR an hour, 6 310 EUR a year" in words
        assert "version" in words

    def test_tells_what_a_repair_is_expected_to_save_beside_what_the_air_is_worth(self):
        finding = leak(make_site())
        make_compressor(finding.system, unloaded_share=0.25)
        make_value(finding.site, Quantity.MEAN_DEMAND_M3_PER_S, "0.1", system=finding.system)

        words = content_of(reader(finding.site).get(f"/findings/{finding.pk}/"))

        # 36 m³/h of 608 m³/h take 5.92 % of 60 kW; three quarters of it answer: 2.66 kW at 0.20 per kWh.
        assert "Expected from a repair 0.53 EUR an hour" in words
        assert "only it answers" in words
        assert "0.2 EUR since" in words
        assert "0.4 kg CO2e/kWh, 2024: supply contract" in words

    def test_says_why_a_saving_cannot_be_expected(self):
        finding = leak(make_site())

        words = content_of(reader(finding.site).get(f"/findings/{finding.pk}/"))

        assert "Expected from a repair not known No compressor in use is recorded" in words

    def test_shows_an_order_of_magnitude_as_such_and_makes_no_money_of_it(self):
        site = make_site()
        make_survey(site, instrument=make_instrument(site, scale="absolute"))
        finding = heard(air_point(site), level_db=62.0, distance_m=1.0, attachment="open_horn")

        words = content_of(reader(finding.site).get(f"/findings/{finding.pk}/"))

        assert "Leak rate about 0.2 to 20 l/min, order of magnitude, not calibrated" in words
        assert "Worth at full load not known: no money is made of an order of magnitude" in words
        assert "Kept as history" not in words
        assert "EUR" not in words.split("Worth at full load")[1].split("Method")[0]

    def test_tells_why_a_rate_is_not_known(self):
        gas = gas_heard()

        words = content_of(reader(gas.site).get(f"/findings/{gas.pk}/"))

        assert "Leak rate not known" in words
        assert "(refused)" in words

    def test_is_in_the_persons_units(self):
        finding = leak(make_site())

        words = content_of(reader(finding.site, unit_system="us").get(f"/findings/{finding.pk}/"))

        # 600 kPa is 87.0 psi (1 psi = 6894.757 Pa, NIST SP 811), 0.5 m is 1.64 ft.
        assert "87 psi gauge" in words
        assert "21.2 cfm" in words
        assert "1.64 ft" in words
        assert "bar" not in words.split("Readings")[1]

    def test_tells_its_whole_story(self):
        site = make_site()
        finding = leak(site)
        order = repaired(ordered(finding, at=NOW + HOUR), NOW + 2 * HOUR)
        after_reading(finding, NOW + 3 * HOUR)

        words = content_of(reader(site).get(f"/findings/{finding.pk}/"))

        assert f"W-{order.number}" in words
        assert "Repair report: fixed" in words
        assert "not yet verified" in words
        history = words[words.index("History From the logbook") :]
        assert history.index("Found by") < history.index("Work order opened") < history.index("started")

    def test_shows_what_people_wrote_as_text_only(self):
        site = make_site()
        survey = walk(site, note="<script>alert(1)</script>")
        finding = listen(
            air_point(site, name='Wrapper "><img src=x onerror=alert(2)>'),
            survey=survey,
            note="<script>alert('note')</script>",
        ).finding
        browser = reader(site)

        for path in (f"/findings/{finding.pk}/", f"/surveys/{survey.pk}/", f"/sites/{site.code}/"):
            body = browser.get(path).content.decode()
            assert "<script" not in body
            assert "<img" not in body
        assert (
            "&lt;script&gt;alert(&#x27;note&#x27;)&lt;/script&gt;"
            in browser.get(f"/findings/{finding.pk}/").content.decode()
        )

    def test_takes_as_many_queries_for_a_long_story(self, django_assert_max_num_queries):
        site = make_site()
        point = air_point(site)
        finding = heard(point, **MEASURED)
        for hours in range(1, 12):
            listen(point, NOW + hours * HOUR, **MEASURED)
        browser = reader(site)
        browser.get(f"/findings/{finding.pk}/")

        with django_assert_max_num_queries(23):
            assert browser.get(f"/findings/{finding.pk}/").status_code == 200

    def test_of_gas_offers_no_act_to_an_integrator(self):
        gas = gas_heard(gas_point())

        body = reader(gas.site, "integrator").get(f"/findings/{gas.pk}/").content.decode()

        assert "/acts/dismiss/" not in body
        assert "/acts/order/" in body
