"""Batches: a whole tree in one go, each thing with its own result."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from findings.logbook.models import Entry
from findings.logbook.queries import check_chain
from findings.plant.models import Asset, MeasuringPoint
from tests import makers, people

pytestmark = pytest.mark.django_db


@pytest.fixture
def site():
    return makers.make_site()


@pytest.fixture
def area(site):
    return makers.make_area(site, code="H1")


@pytest.fixture
def api(site):
    return people.api_as("integrator", site)


def asset(site, code, parent="", **values):
    given = {"site_id": str(site.pk), "area_code": "H1", "code": code, "name": code}
    return {**given, **({"parent_code": parent} if parent else {}), **values}


def send(api, items, **options):
    return api.post("/asset-batches", {"items": items, **options})


def codes(answer):
    return [r["problem"] and r["problem"]["code"] for r in answer.json()["results"]]


class TestAssetBatches:
    def test_load_a_tree_whose_parents_come_last(self, api, site, area):
        answer = send(api, [asset(site, "C", "B"), asset(site, "B", "A"), asset(site, "A")])

        assert codes(answer) == [None, None, None]
        leaf = Asset.objects.get(code="C")
        assert (leaf.parent.code, leaf.parent.parent.code) == ("B", "A")
        assert Entry.objects.count() == 3
        assert check_chain(site.pk).whole

    def test_hang_new_parts_under_what_is_there_by_code_or_id(self, api, site, area):
        old = makers.make_asset(site, area=area, code="OLD")

        send(api, [asset(site, "A", "OLD"), asset(site, "B", parent_id=str(old.pk))])

        assert set(Asset.objects.filter(parent=old).values_list("code", flat=True)) == {"A", "B"}

    def test_refuse_bad_items_and_keep_the_good_ones(self, api, site, area):
        makers.make_asset(site, area=area, code="OLD")
        items = [
            asset(site, "GOOD"),
            asset(site, "OLD"),
            asset(site, "TWICE"),
            asset(site, "TWICE"),
            asset(site, "LOST", "NOWHERE"),
            asset(site, "X", area_code="H9"),
            asset(site, "Y", criticality="Z"),
            asset(site, "ORPHAN", "X"),
            {"nonsense": True},
            "not an object",
        ]

        answer = send(api, items)

        assert answer.status_code == 200
        assert codes(answer) == [
            None,
            "code_taken",
            "code_taken",
            "code_taken",
            "unknown_reference",
            "unknown_reference",
            "invalid",
            "unknown_reference",
            "invalid",
            "invalid",
        ]
        assert Asset.objects.filter(site=site).count() == 2

    def test_find_circles(self, api, site, area):
        answer = send(api, [asset(site, "A", "B"), asset(site, "B", "A"), asset(site, "C", "C")])

        assert codes(answer) == ["asset_under_itself"] * 3
        assert not Asset.objects.exists()

    def test_all_or_nothing_keeps_nothing(self, api, site, area):
        answer = send(api, [asset(site, "A"), asset(site, "B", "NOWHERE")], all_or_nothing=True)

        assert (answer.status_code, answer.json()["code"]) == (422, "batch_refused")
        assert answer.json()["errors"][0]["pointer"] == "/items/1/parent_code"
        assert not Asset.objects.exists()
        assert not Entry.objects.exists()

    def test_give_a_stranger_s_site_no_hint(self, api, site, area):
        theirs = makers.make_us_site()

        answer = send(api, [asset(site, "A"), asset(theirs, "B")])

        assert codes(answer) == [None, "unknown_reference"]
        assert not Asset.objects.filter(site=theirs).exists()

    def test_refuse_a_role_without_the_right(self, site, area):
        answer = send(people.api_as("technician", site), [asset(site, "A")])

        assert codes(answer) == ["right_missing"]
        assert not Asset.objects.exists()

    def test_take_as_many_statements_for_five_hundred_as_for_five(self, api, site, area):
        def statements(count, letter):
            items = [asset(site, f"{letter}{n}", f"{letter}0" if n else "") for n in range(count)]
            with CaptureQueriesContext(connection) as seen:
                assert codes(send(api, items)) == [None] * count
            return len(seen)

        statements(1, "W")  # the site's first entry starts its chain

        assert statements(500, "B") == statements(5, "A")

    def test_refuse_more_than_five_hundred(self, api, site, area):
        assert send(api, [asset(site, f"A{n}") for n in range(501)]).status_code == 400

    def test_need_a_key(self, api, site, area):
        answer = api.post("/asset-batches", {"items": [asset(site, "A")]}, key="")

        assert answer.json()["code"] == "idempotency_key_missing"


class TestMeasuringPointBatches:
    def test_name_their_assets_by_code(self, api, site, area):
        machine = makers.make_asset(site, area=area, code="WR-1")
        point = {"site_id": str(site.pk), "asset_code": "WR-1"}

        answer = api.post(
            "/measuring-point-batches",
            {
                "items": [
                    {**point, "code": "P1", "medium": "compressed_air"},
                    {**point, "code": "P2", "method": "contact"},
                    {**point, "code": "P2"},
                    {**point, "code": "P3", "asset_code": "WR-9"},
                    {"site_id": str(site.pk), "code": "P4"},
                ]
            },
        )

        assert codes(answer) == [None, "code_taken", "code_taken", "unknown_reference", "unknown_reference"]
        assert MeasuringPoint.objects.get().asset == machine

    def test_refuse_points_on_what_is_out_of_service(self, api, site, area):
        makers.make_asset(
            site, area=area, code="OLD", decommissioned_at=makers.NOW, decommissioned_reason="sold"
        )
        item = {"site_id": str(site.pk), "asset_code": "OLD", "code": "P1"}

        assert codes(api.post("/measuring-point-batches", {"items": [item]})) == ["asset_decommissioned"]
