"""Who may do what at the doors of the register: role by role, and nothing at all from another site."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone

from findings.logbook.models import Entry
from findings.plant.models import Asset, Membership
from findings.supply.rules import Quantity
from tests import makers, people

pytestmark = pytest.mark.django_db

EVERYBODY = "inspector planner technician manager integrator"
REGISTRARS = "planner manager integrator"
PRICERS = "planner manager"
RECORDERS = "inspector planner technician manager integrator"

# verb, path with the names of World, body, who may
DOORS: list[tuple[str, str, Any, str]] = [
    ("get", "/sites/{site}", None, EVERYBODY),
    ("patch", "/sites/{site}", {"name": "Tarnbeck"}, "manager"),
    ("get", "/areas/{area}", None, EVERYBODY),
    ("post", "/areas", {"site_id": "{site}", "code": "H9", "name": "Hall nine"}, REGISTRARS),
    ("patch", "/areas/{area}", {"name": "Hall two"}, REGISTRARS),
    ("get", "/assets/{asset}", None, EVERYBODY),
    ("get", "/assets/{asset}/subtree", None, EVERYBODY),
    ("post", "/assets", {"area_id": "{area}", "code": "OV-9", "name": "Oven"}, REGISTRARS),
    ("patch", "/assets/{asset}", {"name": "Wrapper two"}, REGISTRARS),
    ("post", "/assets/{asset}/decommissioning", {"reason": "scrapped"}, REGISTRARS),
    ("post", "/assets/{retired}/recommissioning", {"reason": "needed again"}, REGISTRARS),
    ("get", "/measuring-points/{point}", None, EVERYBODY),
    ("post", "/measuring-points", {"asset_id": "{asset}", "code": "P-9"}, REGISTRARS),
    ("patch", "/measuring-points/{point}", {"retired": True}, REGISTRARS),
    ("get", "/supply-systems/{system}", None, EVERYBODY),
    (
        "post",
        "/supply-systems",
        {
            "site_id": "{site}",
            "code": "N2",
            "name": "Nitrogen",
            "medium": "nitrogen",
            "pressure_gauge_pa": 400000,
        },
        REGISTRARS,
    ),
    ("patch", "/supply-systems/{system}", {"pressure_gauge_pa": 650000}, REGISTRARS),
    ("get", "/compressors/{compressor}", None, EVERYBODY),
    (
        "post",
        "/compressors",
        {
            "system_id": "{system}",
            "code": "C9",
            "control": "variable_speed",
            "rated_flow_m3_per_s": 0.1,
            "rated_power_w": 40000,
        },
        REGISTRARS,
    ),
    ("patch", "/compressors/{compressor}", {"control": "variable_speed"}, REGISTRARS),
    ("get", "/connections/{connection}", None, EVERYBODY),
    ("post", "/connections", {"asset_id": "{retired}", "system_id": "{system}"}, REGISTRARS),
    ("post", "/connections/{connection}/end", {}, REGISTRARS),
    ("get", "/dated-values/{price}", None, EVERYBODY),
    (
        "post",
        "/dated-values",
        {
            "site_id": "{site}",
            "quantity": "electricity_price_per_kwh",
            "value": "0.31",
            "currency": "EUR",
            "from_at": "2026-01-01T00:00:00Z",
            "source": "contract 2026",
        },
        PRICERS,
    ),
    ("post", "/dated-values/{price}/void", {"reason": "typing error"}, PRICERS),
    ("get", "/instruments/{instrument}", None, EVERYBODY),
    ("post", "/instruments", {"site_id": "{site}", "code": "D9", "name": "Detector"}, REGISTRARS),
    ("patch", "/instruments/{instrument}", {"serial": "0815"}, REGISTRARS),
    (
        "post",
        "/instruments/{instrument}/calibrations",
        {"calibration_due_on": "2190-01-01", "certificate": "K-17"},
        RECORDERS,
    ),
    ("get", "/routes/{route}", None, EVERYBODY),
    ("get", "/routes/{route}/stops", None, EVERYBODY),
    ("post", "/routes", {"site_id": "{site}", "code": "R9", "name": "Walk nine"}, REGISTRARS),
    ("patch", "/routes/{route}", {"interval_days": 30}, REGISTRARS),
    ("post", "/routes/{route}/stops", {"point_ids": ["{point}"]}, REGISTRARS),
    ("get", "/visit-requests/{visit}", None, EVERYBODY),
    ("post", "/visit-requests", {"point_id": "{point}", "due_on": "2026-05-01"}, REGISTRARS),
    ("patch", "/visit-requests/{visit}", {"due_on": "2026-06-01"}, REGISTRARS),
    ("post", "/visit-requests/{visit}/drop", {"reason": "line stands still"}, REGISTRARS),
    ("get", "/memberships/{membership}", None, EVERYBODY),
    ("post", "/memberships", {"site_id": "{site}", "username": "newcomer", "role": "planner"}, "manager"),
    ("post", "/memberships/{membership}/end", {}, "manager"),
    ("get", "/logbook-check?site_id={site}", None, "manager"),
]
LISTS = [
    *["sites", "areas", "assets", "measuring-points", "supply-systems", "compressors", "connections"],
    *["dated-values", "instruments", "routes", "visit-requests", "memberships"],
]
ROLES = EVERYBODY.split()


@dataclass
class World:
    """One of everything at one site."""

    ids: dict[str, str]

    def fill(self, value: Any) -> Any:
        if isinstance(value, dict):
            return {name: self.fill(inner) for name, inner in value.items()}
        if isinstance(value, list):
            return [self.fill(inner) for inner in value]
        return value.format(**self.ids) if isinstance(value, str) else value


@pytest.fixture
def site():
    return makers.make_site()


@pytest.fixture
def world(site):
    point = makers.make_point(site)
    retired = makers.make_asset(
        site, area=point.asset.area, decommissioned_at=makers.NOW, decommissioned_reason="old"
    )
    system = makers.make_system(site)
    people.make_user("newcomer")
    user = people.member(site, "inspector")
    rows = {
        "site": site,
        "area": point.asset.area,
        "asset": point.asset,
        "retired": retired,
        "point": point,
        "system": system,
        "compressor": makers.make_compressor(system),
        "connection": makers.make_connection(point.asset, system),
        "price": makers.make_value(site, Quantity.ELECTRICITY_PRICE_PER_KWH, "0.20"),
        "instrument": makers.make_instrument(site),
        "route": makers.make_route(points=[point]),
        "visit": makers.make_visit(point),
        "membership": Membership.objects.get(user=user),
    }
    return World({name: str(row.pk) for name, row in rows.items()})


def ask(api, world, verb, path, body):
    where = world.fill(path)
    if verb == "get":
        return api.get(where)
    if verb == "patch" or path.endswith("/stops"):
        return getattr(api, verb)(where, world.fill(body), version=1)
    return api.post(where, world.fill(body))


def names(doors):
    return [f"{verb} {path}" for verb, path, _, _ in doors]


class TestDoorsOfTheRegister:
    @pytest.mark.parametrize("role", ROLES)
    @pytest.mark.parametrize(("verb", "path", "body", "who"), DOORS, ids=names(DOORS))
    def test_let_in_exactly_the_roles_of_the_table(self, site, world, verb, path, body, who, role):
        before = Entry.objects.count()

        answer = ask(people.api_as(role, site), world, verb, path, body)

        if role in who.split():
            assert answer.status_code in {200, 201}, answer.content
            assert Entry.objects.count() == before + (verb != "get")
        else:
            assert answer.status_code == 403, answer.content
            assert Entry.objects.count() == before

    @pytest.mark.parametrize(("verb", "path", "body", "who"), DOORS, ids=names(DOORS))
    def test_are_not_there_for_the_manager_of_another_site(self, world, verb, path, body, who):
        stranger = people.api_as("manager", makers.make_us_site())

        answer = ask(stranger, world, verb, path, body)

        by_path = "{" in path
        assert answer.status_code == (404 if by_path else 400), answer.content
        assert answer.json()["code"] == ("not_found" if by_path else "unknown_reference")
        assert Entry.objects.count() == 0

    @pytest.mark.parametrize(("verb", "path", "body", "who"), DOORS, ids=names(DOORS))
    def test_stay_shut_for_who_has_not_signed_in(self, world, verb, path, body, who):
        assert ask(people.api_of_nobody(), world, verb, path, body).status_code == 401

    @pytest.mark.parametrize("path", LISTS)
    def test_list_only_the_caller_s_sites(self, site, world, path):
        mine, stranger = people.api_as("technician", site), people.api_as("manager", makers.make_us_site())
        rows = {row["id"] for row in mine.get(f"/{path}").json()["results"]}

        seen_by_stranger = {row["id"] for row in stranger.get(f"/{path}").json()["results"]}

        assert rows & set(world.ids.values())
        assert not rows & seen_by_stranger


class TestKeyScopes:
    def test_a_key_may_no_more_than_its_scopes(self, site, world):
        api = people.api_as("manager", site, scopes=["view"])

        refused = api.post("/areas", world.fill({"site_id": "{site}", "code": "H9", "name": "Hall"}))

        assert (api.get("/areas").status_code, refused.status_code) == (200, 403)

    def test_a_key_may_no_more_than_its_owner(self, site, world):
        api = people.api_as("technician", site, scopes=["view", "register"])

        assert api.patch(world.fill("/assets/{asset}"), {"name": "X"}, version=1).status_code == 403

    def test_an_ended_membership_shows_nothing(self, site, world):
        user = people.member(site, "manager")
        Membership.objects.filter(user=user).update(ended_at=timezone.now())

        assert people.api_for(user).get(world.fill("/assets/{asset}")).status_code == 404


class TestReferencesIntoAnotherSite:
    def test_an_asset_of_one_site_cannot_hang_under_one_of_another(self, site):
        user = people.member(site, "manager")
        theirs = makers.make_asset(makers.make_us_site())
        people.member(theirs.site, "manager", user)
        mine = makers.make_asset(site)

        answer = people.api_for(user).patch(f"/assets/{mine.pk}", {"parent_id": str(theirs.pk)}, version=1)

        assert answer.status_code == 400
        assert answer.json()["code"] == "mixed_sites"
        assert Asset.objects.get(pk=mine.pk).parent_id is None

    def test_a_batch_takes_no_parent_by_code_from_another_site(self, site):
        theirs = makers.make_asset(makers.make_us_site())
        area = makers.make_area(site)
        item = {"site_id": str(site.pk), "area_id": str(area.pk), "code": "X", "name": "X"}

        answer = people.api_as("planner", site).post(
            "/asset-batches", {"items": [{**item, "parent_code": theirs.code}]}
        )

        problem = answer.json()["results"][0]["problem"]
        assert problem["errors"][0]["pointer"] == "/parent_code"
        assert not Asset.objects.filter(site=site).exists()


class TestOwnKeys:
    def test_nobody_sees_or_ends_the_key_of_another(self, site):
        owner, other = people.member(site, "manager"), people.member(site, "manager")
        until = (timezone.now() + timedelta(days=10)).isoformat()
        made = people.api_for(owner).post(
            "/api-keys", {"name": "mine", "scopes": ["view"], "expires_at": until}
        )

        api = people.api_for(other)

        assert made.status_code == 201
        assert api.get("/api-keys").json()["results"] == []
        assert api.post(f"/api-keys/{made.json()['id']}/revocation").status_code == 404
