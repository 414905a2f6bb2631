"""Makers: everything that the other tests start from can be made and stored."""

import pytest

from tests import makers, people

pytestmark = pytest.mark.django_db


class TestMakers:
    def test_make_a_plant_of_one_site(self):
        site = makers.make_site()
        point = makers.make_point(site)
        system = makers.make_priced_system(site)
        makers.make_connection(point.asset, system)
        makers.make_compressor(system)
        route = makers.make_route(points=[point])
        visit = makers.make_visit(point)
        survey = makers.make_survey(site, route=route, instrument=makers.make_instrument(site))

        rows = (point, system, route, visit, survey)
        assert {row.site_id for row in rows} == {site.pk}

    def test_hang_an_asset_under_another(self):
        parent = makers.make_asset()

        assert makers.make_asset(parent=parent).area_id == parent.area_id

    def test_make_a_member_whose_client_is_signed_in(self):
        site = makers.make_us_site()

        assert people.api_as("planner", site).get("/no-such-thing").status_code == 404
