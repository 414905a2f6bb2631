"""Lists: filters, orders, and "more" from where the last row was."""

from __future__ import annotations

import re
from datetime import timedelta
from urllib.parse import urlencode

import pytest

from findings.plant.models import Site
from findings.register.actions import dismiss
from findings.register.rules import DismissReason
from tests.makers import NOW, make_area, make_asset, make_connection, make_point, make_site, make_system
from tests.people import actor_at, member
from tests.workorders.desk.reader import content_of, reader, reader_for
from tests.workorders.desk.test_first_page import MEASURED, leak
from tests.workorders.scene import air_point, gas_heard, gas_point, heard, listen, moved, ordered, walk
from workorders.desk.queries import paging
from workorders.orders.rules import MoveName

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)


def listed(browser, site: Site, path: str = "findings", **query: str) -> list[str]:
    """Return the numbers of a list's rows, in order."""
    answer = browser.get(f"/sites/{site.code}/{path}/?{urlencode(query)}")
    assert answer.status_code == 200
    letter = "W" if path == "orders" else "F"
    body = answer.content.decode()
    return re.findall(rf'<td class="first">.*?({letter}-\d+)', body)


def names(*found) -> list[str]:
    return [str(one) for one in found]


class TestTheListOfFindings:
    @pytest.fixture
    def site(self) -> Site:
        return make_site()

    def test_shows_open_ones_newest_first(self, site):
        old, new = leak(site, NOW - DAY), leak(site)
        gone = leak(site)
        dismiss(
            actor=actor_at(site),
            at=NOW,
            finding_id=gone.pk,
            dismiss_reason=DismissReason.NO_FAULT_FOUND,
            text="Heard a relief valve at work.",
        )

        assert listed(reader(site), site) == names(new, old)

    def test_is_narrowed_by_each_filter(self, site):
        area = make_area(site, name="Dough")
        asset = make_asset(site, area, code="MX-7", name="Mixer")
        make_connection(asset, make_system(site))
        mixer = heard(make_point(asset=asset, code="MX-7-A"), NOW - 100 * DAY)
        gas = gas_heard(gas_point(site))
        wear = heard(air_point(site), kind="mechanical_wear", medium="")
        browser = reader(site)

        assert listed(browser, site, kind="mechanical_wear") == names(wear)
        assert listed(browser, site, area=str(area.pk)) == names(mixer)
        assert listed(browser, site, safety="on") == names(gas)
        assert listed(browser, site, text="mixer mx-7-a") == names(mixer)
        assert listed(browser, site, text=f"f-{gas.number}") == names(gas)
        assert listed(browser, site, age="half") == names(mixer)
        assert listed(browser, site, found="2025-11", status="counted") == names(mixer)
        assert listed(browser, site, status="closed") == []

    @pytest.mark.parametrize(
        "query",
        [
            {"kind": "nonsense"},
            {"status": "'; drop table"},
            {"area": "nowhere"},
            {"age": "x", "found": "2026-99", "closed": "9999"},
            {"text": "%_\\ \u202e" + "x" * 60},
            {"text": "9" * 30},
            {"after": "forged"},
            {"after": "WzFd:1abc:def"},
            {"order": "id"},
        ],
    )
    def test_bears_any_query(self, site, query):
        leak(site)

        assert reader(site).get(f"/sites/{site.code}/findings/", query).status_code == 200

    def test_bears_a_null_byte(self, site):
        answer = reader(site).get(f"/sites/{site.code}/findings/?text=%00&kind=%00&after=%00&found=%00")

        assert answer.status_code == 200

    def test_by_cost_has_the_dearest_first_and_the_unpriced_last(self, site):
        small = leak(site)
        gas = gas_heard(gas_point(site))
        big = heard(air_point(site), **{**MEASURED, "flow_m3_per_s": 0.02})

        assert listed(reader(site), site, order="dearest") == names(big, small, gas)

    @pytest.mark.parametrize("order", ["newest", "oldest", "dearest"])
    def test_goes_on_where_it_stopped(self, site, order, monkeypatch):
        monkeypatch.setattr(paging, "SIZE", 2)
        survey = walk(site)
        found = [
            listen(
                air_point(site),
                NOW - index * DAY if index != 1 else NOW,
                survey=survey,
                **{**MEASURED, "flow_m3_per_s": 0.01 if index % 2 else 0.02},
            ).finding
            for index in range(5)
        ]
        browser = reader(site)
        path, seen = f"/sites/{site.code}/findings/?order={order}", []
        while path:
            body = browser.get(path).content.decode()
            seen += re.findall(r'<td class="first">.*?(F-\d+)', body)
            more = re.search(r'href="(\?[^"]*)">More</a>', body)
            path = f"/sites/{site.code}/findings/{more[1].replace('&amp;', '&')}" if more else ""

        assert sorted(seen) == sorted(names(*found))
        assert len(seen) == len(set(seen))

    def test_shows_the_order_of_each_with_as_many_queries_for_many(self, site, django_assert_max_num_queries):
        orders = [ordered(leak(site)) for _ in range(8)]
        browser = reader(site)
        browser.get(f"/sites/{site.code}/findings/")

        with django_assert_max_num_queries(12):
            words = content_of(browser.get(f"/sites/{site.code}/findings/"))

        assert all(f"W-{order.number}" in words for order in orders)

    def test_says_so_where_nothing_fits(self, site):
        assert "Nothing fits." in content_of(reader(site).get(f"/sites/{site.code}/findings/"))


class TestTheListOfOrders:
    def test_is_most_urgent_first_and_narrowed(self):
        site = make_site()
        small, gas = ordered(leak(site)), ordered(gas_heard(gas_point(site)))
        user = member(site, "technician")
        moved(small, MoveName.SCHEDULE, scheduled_for=NOW + DAY, assignee=user.pk)
        browser = reader_for(user)

        assert listed(browser, site, "orders") == names(gas, small)
        assert listed(browser, site, "orders", state="scheduled") == names(small)
        assert listed(browser, site, "orders", priority=gas.priority) == names(gas)
        assert listed(browser, site, "orders", mine="on") == names(small)
        assert listed(browser, site, "orders", text=f"w-{gas.number}") == names(gas)
        assert listed(browser, site, "orders", order="newest") == names(gas, small)

    def test_bears_any_query(self):
        site = make_site()

        answer = reader(site).get(f"/sites/{site.code}/orders/?state=x&priority=%00&text=%00&order=y&after=z")

        assert answer.status_code == 200


class TestTheListOfSurveys:
    def test_counts_readings_and_new_findings(self):
        site = make_site()
        survey = walk(site, code="WALK-1")
        point = air_point(site)
        listen(point, survey=survey)
        listen(point, NOW + DAY / 24, survey=survey)
        browser = reader(site)

        row = content_of(browser.get(f"/sites/{site.code}/surveys/"))
        page = content_of(browser.get(f"/surveys/{survey.pk}/"))

        assert re.search(r"WALK-1 .* 2 1 ", row + " ")
        assert "Readings 2 " in page
        assert "heard nothing" not in page
        assert "heard again" in page
