"""Who works where, who is asking, and the keys that speak for them."""

from datetime import timedelta

import pytest
from django.utils import timezone

from findings.logbook.models import Entry
from findings.plant.models import Membership
from plantcare.api.models import IdempotencyKey
from plantcare.people.models import ApiKey
from tests import makers, people

pytestmark = pytest.mark.django_db


@pytest.fixture
def site():
    return makers.make_site()


@pytest.fixture
def api(site):
    return people.api_as("manager", site)


def key(**values):
    until = (timezone.now() + timedelta(days=30)).isoformat()
    return {"name": "bridge", "scopes": ["view", "record"], "expires_at": until, **values}


class TestMemberships:
    def test_give_a_role_once(self, api, site):
        people.make_user("ines")
        body = {"site_id": str(site.pk), "username": "ines", "role": "inspector"}

        made, again = api.post("/memberships", body), api.post("/memberships", body)

        assert (made.status_code, made.json()["username"]) == (201, "ines")
        assert (again.status_code, again.json()["code"]) == (409, "role_held")

    @pytest.mark.parametrize("username", ["nobody", "gone"])
    def test_refuse_who_cannot_sign_in(self, api, site, username):
        people.make_user("gone", is_active=False)

        answer = api.post(
            "/memberships", {"site_id": str(site.pk), "username": username, "role": "inspector"}
        )

        assert answer.json()["errors"][0]["pointer"] == "/username"

    def test_end_at_once(self, api, site):
        user = people.member(site, "planner")
        theirs = people.api_for(user)

        ended = api.post(f"/memberships/{Membership.objects.get(user=user).pk}/end")

        assert ended.json()["ended_at"] is not None
        assert theirs.get("/sites").json()["results"] == []
        assert Entry.objects.get().act == "membership.ended"

    def test_never_end_with_the_last_manager(self, site):
        user = people.member(site, "manager")
        membership = Membership.objects.get(user=user)

        answer = people.api_for(user).post(f"/memberships/{membership.pk}/end")

        assert (answer.status_code, answer.json()["code"]) == (409, "last_manager")
        membership.refresh_from_db()
        assert membership.ended_at is None

    def test_end_once(self, api, site):
        pk = Membership.objects.get(user=people.member(site, "planner")).pk

        api.post(f"/memberships/{pk}/end")

        assert api.post(f"/memberships/{pk}/end").json()["code"] == "membership_ended"

    def test_hold_again_after_they_ended(self, api, site):
        user = people.member(site, "planner")
        api.post(f"/memberships/{Membership.objects.get(user=user).pk}/end")

        body = {"site_id": str(site.pk), "username": user.username, "role": "planner"}

        assert api.post("/memberships", body).status_code == 201


class TestMe:
    def test_says_who_asks_and_what_they_may_where(self, site):
        user = people.member(site, "technician", first_name="Tom", last_name="Ahl")
        people.member(makers.make_us_site("CML"), "inspector", user)

        me = people.api_for(user).get("/me").json()

        assert (me["username"], me["name"], me["key"]) == (user.username, "Tom Ahl", None)
        here = {place["code"]: (place["roles"], place["rights"]) for place in me["sites"]}
        assert here[site.code] == (["technician"], ["defer", "record", "release_opening", "repair", "view"])
        assert here["CML"][0] == ["inspector"]

    def test_shows_a_key_no_more_than_its_scopes(self, site):
        me = people.api_as("technician", site, scopes=["view", "close_by_reason"]).get("/me").json()

        assert me["key"] == "test"
        assert me["sites"][0]["rights"] == ["view"]


class TestApiKeys:
    def test_tell_their_secret_once(self, api):
        made = api.post("/api-keys", key())

        assert made.status_code == 201
        assert made.headers["Cache-Control"] == "no-store"
        assert made.json()["secret"].startswith("pc_")
        assert api.get(f"/api-keys/{made.json()['id']}").json()["secret"] is None
        assert [row["secret"] for row in api.get("/api-keys").json()["results"]] == [None]

    def test_leave_their_secret_in_no_kept_answer(self, api):
        api.post("/api-keys", key(), key="same-key")

        assert not IdempotencyKey.objects.exists()

    def test_open_the_doors_until_they_are_revoked(self, api, site):
        made = api.post("/api-keys", key()).json()
        bearer = people.api_of_nobody()
        bearer.credentials(HTTP_AUTHORIZATION=f"Bearer {made['secret']}")
        assert bearer.get("/sites").status_code == 200

        revoked = api.post(f"/api-keys/{made['id']}/revocation")

        assert revoked.json()["revoked_at"] is not None
        assert bearer.get("/sites").status_code == 401

    def test_are_not_made_by_keys(self, site):
        answer = people.api_as("manager", site, scopes=["view", "members"]).post("/api-keys", key())

        assert (answer.status_code, answer.json()["code"]) == (403, "key_by_key")
        assert ApiKey.objects.count() == 1

    @pytest.mark.parametrize(
        ("values", "code"),
        [
            ({"scopes": []}, "min_length"),
            ({"scopes": ["everything"]}, "invalid_choice"),
            ({"expires_at": "2020-01-01T00:00:00Z"}, "key_life_over"),
            ({"expires_at": "2190-01-01T00:00:00Z"}, "key_life_too_long"),
            ({"name": "  "}, "blank"),
        ],
    )
    def test_refuse_what_would_be_too_much_or_nothing(self, api, values, code):
        answer = api.post("/api-keys", key(**values))

        assert answer.status_code == 400
        assert answer.json()["errors"][0]["code"] == code
        assert not ApiKey.objects.exists()
