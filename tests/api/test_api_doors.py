"""Doors are closed unless declared, and tell nothing of what the caller may not see."""

from __future__ import annotations

import uuid

import pytest
from django.urls import path
from rest_framework.test import APIClient
from rest_framework.views import APIView

from plantcare.api.checks import every_door_declares_its_needs, missing_needs
from plantcare.api.views import ChangeDoor, Door, ListDoor
from tests.api import toys


def crate_body(**values):
    return {"site_id": str(toys.HERE), "name": uuid.uuid4().hex, **values}


class TestDetail:
    def test_gives_the_version_as_etag(self, api, crates):
        assert api.get(f"/api/v1/crates/{crates().pk}").headers["ETag"] == '"v1"'

    @pytest.mark.parametrize("sent", ['"v1"', 'W/"v1"', '"v0", "v1"', "*"])
    def test_says_that_a_copy_still_holds(self, api, crates, sent):
        response = api.get(f"/api/v1/crates/{crates().pk}", headers={"If-None-Match": sent})
        assert (response.status_code, response.content) == (304, b"")

    def test_gives_a_newer_version(self, api, crates):
        response = api.get(f"/api/v1/crates/{crates(version=2).pk}", headers={"If-None-Match": '"v1"'})
        assert response.status_code == 200

    def test_answers_hidden_and_unknown_alike(self, api, crates):
        hidden = api.get(f"/api/v1/crates/{crates(site_id=toys.THERE).pk}")
        unknown = api.get(f"/api/v1/crates/{uuid.uuid4()}")
        assert hidden.status_code == unknown.status_code == 404
        told = [{**r.json(), "instance": "", "request_id": ""} for r in (hidden, unknown)]
        assert told[0] == told[1]

    def test_is_not_kept_by_shared_caches(self, api, crates):
        assert "private" in api.get(f"/api/v1/crates/{crates().pk}").headers["Cache-Control"]


class TestChange:
    def change(self, api, crate, **headers):
        body = {"name": "new"}
        return api.patch(f"/api/v1/crates/{crate.pk}", body, format="json", headers=headers)

    def test_needs_a_version(self, api, crates):
        response = self.change(api, crates())
        assert (response.status_code, response.json()["code"]) == (428, "if_match_required")

    def test_tells_the_present_version_when_stale(self, api, crates):
        response = self.change(api, crates(version=3), **{"If-Match": '"v2"'})
        assert (response.status_code, response.json()["current_version"]) == (412, 3)
        assert response.headers["ETag"] == '"v3"'

    @pytest.mark.parametrize("sent", ["v1", "*", "1"])
    def test_refuses_what_is_no_etag(self, api, crates, sent):
        assert self.change(api, crates(), **{"If-Match": sent}).json()["code"] == "if_match_malformed"

    def test_compares_strongly(self, api, crates):
        # RFC 9110 section 13.1.1: If-Match uses the strong comparison; from memory.
        assert self.change(api, crates(), **{"If-Match": 'W/"v1"'}).status_code == 412

    def test_moves_the_version_on(self, api, crates):
        response = self.change(api, crates(), **{"If-Match": '"v1"'})
        assert (response.status_code, response.headers["ETag"]) == (200, '"v2"')

    def test_refuses_members_it_does_not_offer(self, api, crates):
        crate = crates()
        response = api.patch(
            f"/api/v1/crates/{crate.pk}",
            {"site_id": str(toys.THERE)},
            format="json",
            headers={"If-Match": '"v1"'},
        )
        assert response.json()["errors"][0]["code"] == "unknown_member"

    def test_names_a_wrong_value_before_a_stale_version(self, api, crates):
        # RFC 9110 section 13.2.1: preconditions come after the other checks; from memory.
        response = api.patch(
            f"/api/v1/crates/{crates().pk}", {"name": 1}, format="json", headers={"If-Match": '"v9"'}
        )
        assert response.status_code == 400

    def test_answers_hidden_and_unknown_alike(self, api, crates):
        assert self.change(api, crates(site_id=toys.THERE)).status_code == 404


class TestRights:
    def test_missing_on_a_visible_site_is_told(self, api, crates):
        response = api.post(f"/api/v1/crates/{crates().pk}/burn", {}, format="json")
        assert (response.status_code, response.json()["code"]) == (403, "right_missing")

    def test_missing_on_a_hidden_site_is_not(self, api, crates):
        crate = crates(site_id=toys.THERE)
        assert api.post(f"/api/v1/crates/{crate.pk}/burn", {}, format="json").status_code == 404

    def test_are_asked_for_the_site_in_the_body(self, send):
        response = send("crates", crate_body(site_id=str(toys.THERE)))
        assert (response.status_code, response.json()["code"]) == (400, "unknown_reference")
        assert toys.Crate.objects.count() == 0


class TestReferences:
    def test_answer_hidden_and_unknown_alike(self, send, crates):
        hidden = send("crates", crate_body(inside_id=str(crates(site_id=toys.THERE).pk)))
        unknown = send("crates", crate_body(inside_id=str(uuid.uuid4())))
        assert hidden.status_code == unknown.status_code == 400
        assert hidden.json()["errors"] == unknown.json()["errors"]
        assert hidden.json()["errors"][0]["pointer"] == "/inside_id"

    def test_may_not_join_two_sites(self, user, crates):
        user.is_superuser = True
        client = APIClient()
        client.force_authenticate(user)
        body = crate_body(inside_id=str(crates(site_id=toys.THERE).pk))
        response = client.post("/api/v1/crates", body, format="json", headers={"Idempotency-Key": "k"})
        assert (response.status_code, response.json()["code"]) == (400, "mixed_sites")

    def test_within_the_site_are_taken(self, send, crates):
        assert send("crates", crate_body(inside_id=str(crates().pk))).status_code == 201


class TestCreate:
    def test_says_where_the_new_thing_is(self, api, send):
        response = send("crates", crate_body(name="one"))
        assert api.get(response.headers["Location"]).json()["name"] == "one"


class TestBatch:
    def results(self, response):
        assert response.status_code == 200, response.content
        return [
            (r["index"], r["status"], r["problem"] and r["problem"]["code"])
            for r in response.json()["results"]
        ]

    def test_keeps_the_good_items(self, send):
        items = [
            crate_body(name="a"),
            crate_body(weight_kg=-1),
            crate_body(name="a"),
            crate_body(colour=1),
            crate_body(),
        ]
        assert self.results(send("crates/batch", {"items": items})) == [
            (0, 201, None),
            (1, 400, "value_refused"),
            (2, 409, "name_taken"),
            (3, 400, "invalid"),
            (4, 201, None),
        ]
        assert toys.Crate.objects.count() == 2

    def test_keeps_nothing_when_all_or_nothing_is_asked(self, send):
        items = [crate_body(name="a"), crate_body(weight_kg="x")]
        response = send("crates/batch", {"items": items, "all_or_nothing": True})
        assert (response.status_code, response.json()["code"]) == (422, "batch_refused")
        assert response.json()["errors"][0]["pointer"] == "/items/1/weight_kg"
        assert toys.Crate.objects.count() == 0

    def test_refuses_each_item_of_a_hidden_site(self, send):
        items = [crate_body(site_id=str(toys.THERE)), crate_body()]
        assert self.results(send("crates/batch", {"items": items})) == [
            (0, 400, "unknown_reference"),
            (1, 201, None),
        ]

    @pytest.mark.parametrize(
        ("body", "at"),
        [
            ([], ""),
            ({}, "/items"),
            ({"items": []}, "/items"),
            ({"items": [1] * 6}, "/items"),
            ({"items": [1], "x": 1}, "/x"),
            ({"items": [1], "all_or_nothing": "yes"}, "/all_or_nothing"),
        ],
    )
    def test_refuses_a_wrong_form(self, send, body, at):
        response = send("crates/batch", body)
        assert (response.status_code, response.json()["errors"][0]["pointer"]) == (400, at)

    def test_repeats_its_answer(self, send):
        body = {"items": [crate_body()]}
        assert send("crates/batch", body, key="k").content == send("crates/batch", body, key="k").content


class TestCheck:
    def found(self, *views):
        return [error.id for error in missing_needs([path("x", view.as_view()) for view in views])]

    def test_finds_a_method_without_a_need(self):
        class Open(ListDoor):
            pass

        assert self.found(Open) == ["plantcare.E001"]

    def test_finds_a_half_declared_door(self):
        class Half(ChangeDoor):
            needs = {"GET": "read"}

        assert self.found(Half) == ["plantcare.E001"]

    def test_finds_a_need_without_a_method(self):
        class Over(Door):
            needs = {"GET": "read"}

        assert self.found(Over) == ["plantcare.E002"]

    def test_finds_a_view_that_is_no_door(self):
        class Foreign(APIView):
            def get(self, request):
                return None

        assert self.found(Foreign) == ["plantcare.E001"]

    def test_passes_the_toy_service(self):
        assert every_door_declares_its_needs() == []

    def test_keeps_an_undeclared_method_closed(self, api, monkeypatch):
        monkeypatch.setattr(toys.Crates, "needs", {})
        assert api.get("/api/v1/crates").status_code == 403
