"""Log-in, log-out, one's own account, and the pages that tell of a failure."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client, override_settings
from django.urls import path

from plantcare.api import failures
from plantcare.urls import urlpatterns as real
from tests.people import PASSWORD, make_user

pytestmark = pytest.mark.django_db


def signed_in(**values: Any) -> tuple[Client, Any]:
    """Return a browser and the person who logged in with it."""
    user = make_user(**values)
    client = Client()
    client.force_login(user)
    return client, user


class TestLogIn:
    def test_lets_in_and_leads_back_to_where_one_was_going(self):
        user = make_user()

        answer = Client().post(
            "/login/", {"username": user.username, "password": PASSWORD, "next": "/account/"}
        )

        assert (answer.status_code, answer.headers["Location"]) == (302, "/account/")

    @pytest.mark.parametrize(
        "where", ["https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)"]
    )
    def test_leads_to_no_other_place(self, where):
        user = make_user()

        answer = Client().post("/login/", {"username": user.username, "password": PASSWORD, "next": where})

        assert answer.headers["Location"] == "/"

    @pytest.mark.parametrize(
        ("username", "password"),
        [("", ""), ("somebody", "wrong"), ("\x00", "\x00"), ("x" * 5000, "y" * 5000)],
    )
    def test_refuses_without_telling_which_was_wrong(self, username, password):
        make_user("somebody")

        answer = Client().post("/login/", {"username": username, "password": password})

        body = answer.content.decode()
        assert answer.status_code == 200
        assert 'role="alert"' in body
        assert "_auth_user_id" not in answer.client.session

    @override_settings(AXES_ENABLED=True)
    def test_pauses_after_eight_wrong_passwords_even_for_the_right_one(self):
        user, client = make_user(), Client()
        for _ in range(8):
            client.post("/login/", {"username": user.username, "password": "wrong"})

        answer = client.post("/login/", {"username": user.username, "password": PASSWORD})

        assert answer.status_code == 429
        assert "Log-in is paused" in answer.content.decode()

    def test_gives_a_new_session_so_that_a_planted_one_is_worth_nothing(self):
        user, client = make_user(), Client()
        client.get("/login/")
        session = client.session
        session["planted"] = True
        session.save()
        client.cookies["sessionid"] = before = session.session_key

        client.post("/login/", {"username": user.username, "password": PASSWORD})

        assert client.cookies["sessionid"].value != before


class TestLogOut:
    def test_asks_first_and_ends_the_session_by_a_post(self):
        client, _ = signed_in()

        asked = client.get("/logout/")
        still = client.get("/account/").status_code
        client.post("/logout/")

        assert (asked.status_code, still, client.get("/account/").status_code) == (200, 200, 302)


class TestTheAccount:
    def test_keeps_the_units(self):
        client, user = signed_in()

        answer = client.post("/account/", {"act": "units", "unit_system": "us"})

        user.refresh_from_db()
        assert (answer.status_code, user.unit_system) == (200, "us")

    def test_refuses_units_it_does_not_know(self):
        client, user = signed_in()

        answer = client.post("/account/", {"act": "units", "unit_system": "cubits"})

        user.refresh_from_db()
        assert (answer.status_code, user.unit_system) == (400, "metric")

    def test_changes_the_password_and_ends_other_sessions(self):
        client, user = signed_in()
        other = Client()
        other.force_login(user)
        given = {
            "act": "password",
            "old_password": PASSWORD,
            "new_password1": "hear-the-hiss-4",
            "new_password2": "hear-the-hiss-4",
        }

        client.post("/account/", given)

        user.refresh_from_db()
        assert user.check_password("hear-the-hiss-4")
        assert client.get("/account/").status_code == 200
        assert other.get("/account/").status_code == 302

    @pytest.mark.parametrize(
        "wrong", [{"old_password": "no"}, {"new_password2": "other-words-5"}, {"new_password1": "short"}]
    )
    def test_keeps_the_password_when_anything_is_wrong(self, wrong):
        client, user = signed_in()
        right = {
            "old_password": PASSWORD,
            "new_password1": "hear-the-hiss-4",
            "new_password2": "hear-the-hiss-4",
        }

        answer = client.post("/account/", {"act": "password", **right, **wrong})

        user.refresh_from_db()
        assert answer.status_code == 400
        assert user.check_password(PASSWORD)


def broken(_request: Any) -> None:
    """Fail as no view should."""
    message = "secret words"
    raise RuntimeError(message)


class _Routes:
    urlpatterns = [*real, path("broken/", broken)]
    handler400 = failures.bad_request
    handler403 = failures.permission_denied
    handler404 = failures.page_not_found
    handler500 = failures.server_error


class TestFailures:
    def test_of_an_unknown_address_are_a_page(self):
        answer = Client().get("/nowhere/")

        assert answer.status_code == 404
        assert "There is nothing at this address" in answer.content.decode()

    def test_of_our_own_tell_nothing_inner(self):
        client = Client(raise_request_exception=False)

        with override_settings(ROOT_URLCONF=_Routes):
            answer = client.get("/broken/")

        body = answer.content.decode()
        assert answer.status_code == 500
        assert "Something failed on our side" in body
        assert "secret words" not in body
