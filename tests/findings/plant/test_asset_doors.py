"""Sites, areas, assets and points by program: the tree, its moves and its end."""

from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from findings.logbook.models import Entry
from findings.logbook.queries import check_chain
from findings.plant import queries
from findings.plant.models import Area, Asset, MeasuringPoint, Membership, Site
from tests import makers, people

pytestmark = pytest.mark.django_db


@pytest.fixture
def site():
    return makers.make_site()


@pytest.fixture
def api(site):
    return people.api_as("planner", site)


def pointers(answer):
    return {(e["pointer"], e["code"]) for e in answer.json()["errors"]}


class TestSites:
    GIVEN = {"code": "TBW", "name": "Tarnbeck", "time_zone": "Europe/Berlin", "currency": "EUR"}

    def test_are_made_by_a_superuser_who_becomes_manager(self):
        root = people.make_superuser()

        made = people.api_for(root).post("/sites", self.GIVEN)

        assert made.status_code == 201
        assert made.headers["Location"] == f"/api/v1/sites/{made.json()['id']}"
        assert Membership.objects.get(site_id=made.json()["id"]).user == root

    def test_may_name_another_manager(self):
        head = people.make_user("hela")

        made = people.api_for(people.make_superuser()).post(
            "/sites", {**self.GIVEN, "manager_username": "hela"}
        )

        assert Membership.objects.get(site_id=made.json()["id"]).user == head

    def test_are_not_made_by_managers_or_by_keys(self, site):
        manager, key = people.api_as("manager", site), people.api_for(people.make_superuser(), ["register"])

        assert manager.post("/sites", self.GIVEN).json()["code"] == "superuser_needed"
        assert key.post("/sites", self.GIVEN).json()["code"] == "superuser_needed"
        assert Site.objects.count() == 1

    @pytest.mark.parametrize(
        ("member", "value", "code"),
        [
            ("time_zone", "Mars/Base", "time_zone_unknown"),
            ("currency", "EUE", "currency_unknown"),
            ("currency", "eur", "currency"),
            ("code", "   ", "blank"),
            ("atmosphere_pa", 10, "min_value"),
            ("manager_username", "nobody", "person_unknown"),
        ],
    )
    def test_refuse_what_cannot_be_and_keep_nothing(self, member, value, code):
        answer = people.api_for(people.make_superuser()).post("/sites", {**self.GIVEN, member: value})

        assert answer.status_code == 400
        assert (f"/{member}", code) in pointers(answer)
        assert not Site.objects.exists()

    def test_keep_their_currency(self, site):
        answer = people.api_as("manager", site).patch(f"/sites/{site.pk}", {"currency": "USD"}, version=1)

        assert pointers(answer) == {("/currency", "unknown_member")}


class TestAddSiteCommand:
    def test_makes_a_site_with_its_manager(self, capsys):
        people.make_user("hela")

        call_command(
            "add_site", code="CML", name="Corran Mill", zone="America/Chicago", currency="USD", manager="hela"
        )

        site = Site.objects.get(code="CML")
        assert Membership.objects.get(site=site).user.username == "hela"
        assert Entry.objects.get(site=site).actor_name == "job add_site"
        assert "CML is there" in capsys.readouterr().out

    def test_says_why_not(self):
        with pytest.raises(CommandError, match="Nobody who may sign in"):
            call_command("add_site", code="A", name="A", zone="UTC", currency="USD", manager="nobody")


class TestAreas:
    def test_refuse_a_code_that_is_taken(self, api, site):
        makers.make_area(site, code="H1")

        answer = api.post("/areas", {"site_id": str(site.pk), "code": " H1 ", "name": "Hall"})

        assert (answer.status_code, answer.json()["code"]) == (409, "code_taken")
        assert pointers(answer) == {("/code", "code_taken")}

    def test_another_site_may_use_the_same_code(self, api, site):
        makers.make_area(makers.make_us_site(), code="H1")

        assert api.post("/areas", {"site_id": str(site.pk), "code": "H1", "name": "Hall"}).status_code == 201

    def test_change_only_from_the_version_that_was_read(self, api, site):
        area = makers.make_area(site)
        api.patch(f"/areas/{area.pk}", {"name": "Ovens"}, version=1)

        late = api.patch(f"/areas/{area.pk}", {"name": "Doughs"}, version=1)

        assert late.status_code == 412
        assert api.patch(f"/areas/{area.pk}", {"name": "X"}).status_code == 428
        assert Area.objects.get(pk=area.pk).name == "Ovens"

    def test_saying_the_same_again_is_no_act(self, api, site):
        area = makers.make_area(site)

        answer = api.patch(f"/areas/{area.pk}", {"name": area.name}, version=1)

        assert answer.json()["version"] == 1
        assert Entry.objects.count() == 0


class TestAssets:
    def test_are_made_with_windows_that_cross_midnight_and_say_so(self, api, site):
        area = makers.make_area(site)
        windows = [{"days": [0, 1, 2, 3, 4], "start": "22:00", "end": "06:00"}]

        made = api.post(
            "/assets", {"area_id": str(area.pk), "code": "OV-1", "name": "Oven", "running_windows": windows}
        )

        assert made.status_code == 201
        assert made.json()["running_windows"] == [{**windows[0], "ends_next_day": True}]
        assert made.json()["runs_minutes_per_week"] == 5 * 8 * 60

    @pytest.mark.parametrize(
        ("member", "value", "error"),
        [
            ("code", " ", ("/code", "blank")),
            ("code", "A\x00B", ("", "malformed")),
            ("criticality", "D", ("/criticality", "invalid_choice")),
            (
                "running_windows",
                [{"days": [9], "start": "1", "end": "2"}],
                ("/running_windows/0/days/0", "max_value"),
            ),
            (
                "running_windows",
                [{"days": [0], "start": "6:00", "end": "22:00"}],
                ("/running_windows/0/start", "clock_time"),
            ),
            ("parent_id", "0190d2a0-0000-7000-8000-000000000000", ("/parent_id", "unknown_reference")),
        ],
    )
    def test_refuse_what_cannot_be_and_say_where(self, api, site, member, value, error):
        area = makers.make_area(site)
        given = {"area_id": str(area.pk), "code": "OV-1", "name": "Oven", member: value}

        answer = api.post("/assets", given)

        assert answer.status_code == 400
        assert error in pointers(answer) or error[1] == answer.json()["code"]
        assert not Asset.objects.exists()

    def test_list_by_area_parent_criticality_and_service(self, api, site):
        hall = makers.make_area(site)
        line = makers.make_asset(site, area=hall, criticality="A", name="Line")
        part = makers.make_asset(parent=line, name="Actuator")
        old = makers.make_asset(site, decommissioned_at=makers.NOW, decommissioned_reason="scrapped")

        def found(**query):
            return {row["id"] for row in api.get("/assets", **query).json()["results"]}

        assert found(area_id=str(hall.pk)) == {str(line.pk), str(part.pk)}
        assert found(parent_id=str(line.pk)) == {str(part.pk)}
        assert found(criticality="A") == {str(line.pk)}
        assert found(in_service="false") == {str(old.pk)}
        assert found(is_root="true", in_service="true") == {str(line.pk)}
        assert found(q="actu") == {str(part.pk)}

    def test_answer_304_while_unchanged(self, api, site):
        asset = makers.make_asset(site)
        tag = api.get(f"/assets/{asset.pk}").headers["ETag"]

        api.credentials(HTTP_IF_NONE_MATCH=tag)

        assert api.get(f"/assets/{asset.pk}").status_code == 304


class TestAssetTree:
    def test_a_part_never_holds_the_whole(self, api, site):
        whole = makers.make_asset(site)
        part = makers.make_asset(parent=makers.make_asset(parent=whole))

        answer = api.patch(f"/assets/{whole.pk}", {"parent_id": str(part.pk)}, version=1)

        assert (answer.status_code, answer.json()["code"]) == (422, "asset_under_itself")
        assert api.patch(f"/assets/{whole.pk}", {"parent_id": str(whole.pk)}, version=1).status_code == 422
        assert Asset.objects.get(pk=whole.pk).version == 1

    def test_a_part_moves_to_another_whole_and_out(self, api, site):
        one, other = makers.make_asset(site), makers.make_asset(site)
        part = makers.make_asset(parent=one)

        api.patch(f"/assets/{part.pk}", {"parent_id": str(other.pk)}, version=1)
        api.patch(f"/assets/{part.pk}", {"parent_id": None}, version=2)

        moves = [e.detail["changed"]["parent_id"] for e in Entry.objects.order_by("sequence")]
        assert moves == [[str(one.pk), str(other.pk)], [str(other.pk), None]]

    def test_the_subtree_holds_everything_below(self, api, site):
        whole = makers.make_asset(site)
        part = makers.make_asset(parent=whole)
        leaf = makers.make_asset(parent=part)
        makers.make_asset(site)

        rows = api.get(f"/assets/{whole.pk}/subtree").json()["results"]

        assert {row["id"] for row in rows} == {str(whole.pk), str(part.pk), str(leaf.pk)}
        assert set(queries.asset_subtree_ids(whole.pk)) == {whole.pk, part.pk, leaf.pk}

    def test_ancestors_come_nearest_first(self, site):
        whole = makers.make_asset(site)
        part = makers.make_asset(parent=whole)
        leaf = makers.make_asset(parent=part)

        assert queries.ancestors(leaf) == [part, whole]


class TestDecommissioning:
    def test_takes_everything_below_along_with_one_entry_each(self, api, site):
        whole = makers.make_asset(site)
        part = makers.make_asset(parent=whole)

        answer = api.post(f"/assets/{whole.pk}/decommissioning", {"reason": "sold"}, version=1)

        assert answer.json()["in_service"] is False
        part.refresh_from_db()
        assert part.decommissioned_reason == f"With {whole.code}: sold"
        assert {e.subject_id for e in Entry.objects.all()} == {whole.pk, part.pk}
        assert check_chain(site.pk).whole

    def test_happens_once_and_not_tomorrow(self, api, site):
        asset = makers.make_asset(site)
        path = f"/assets/{asset.pk}/decommissioning"
        tomorrow = (timezone.now() + timedelta(days=1)).isoformat()

        assert api.post(path, {"reason": "sold", "decommissioned_at": tomorrow}).status_code == 400
        assert api.post(path, {"reason": "  "}).status_code == 400
        assert api.post(path, {"reason": "sold"}).status_code == 200
        assert api.post(path, {"reason": "sold"}).json()["code"] == "asset_decommissioned"

    def test_leaves_nothing_to_add_to(self, api, site):
        old = makers.make_asset(site, decommissioned_at=makers.NOW, decommissioned_reason="sold")

        point = api.post("/measuring-points", {"asset_id": str(old.pk), "code": "P1"})
        part = api.post(
            "/assets", {"area_id": str(old.area_id), "parent_id": str(old.pk), "code": "X", "name": "X"}
        )

        assert {point.json()["code"], part.json()["code"]} == {"asset_decommissioned"}
        assert (point.status_code, part.status_code) == (409, 409)

    def test_can_be_taken_back_with_a_reason(self, api, site):
        old = makers.make_asset(site, decommissioned_at=makers.NOW, decommissioned_reason="sold")

        answer = api.post(f"/assets/{old.pk}/recommissioning", {"reason": "the sale fell through"})

        assert answer.json()["in_service"] is True
        assert Entry.objects.get().reason == "the sale fell through"


class TestMeasuringPoints:
    def test_are_retired_and_taken_back(self, api, site):
        point = makers.make_point(site)

        retired = api.patch(f"/measuring-points/{point.pk}", {"retired": True}, version=1)
        back = api.patch(f"/measuring-points/{point.pk}", {"retired": False}, version=2)

        assert retired.json()["retired_at"] is not None
        assert back.json()["retired_at"] is None

    def test_never_move_to_another_asset(self, api, site):
        point = makers.make_point(site)

        answer = api.patch(
            f"/measuring-points/{point.pk}", {"asset_id": str(makers.make_asset(site).pk)}, version=1
        )

        assert pointers(answer) == {("/asset_id", "unknown_member")}

    def test_one_key_makes_one_point(self, api, site):
        asset = makers.make_asset(site)
        body = {"asset_id": str(asset.pk), "code": "P1"}

        first, again = (api.post("/measuring-points", body, key="one-point") for _ in range(2))

        assert first.json() == again.json()
        assert MeasuringPoint.objects.count() == 1
        assert Entry.objects.count() == 1
