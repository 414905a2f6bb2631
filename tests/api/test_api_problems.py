"""Every refusal has one form and tells no inner detail."""

from __future__ import annotations

import uuid

import pytest
from django.db import OperationalError
from django.test import Client
from rest_framework.exceptions import ErrorDetail, ValidationError
from rest_framework.test import APIClient

from plantcare.api.failures import flatten, refusal_of, server_error
from plantcare.api.problems import pointer
from tests.api import toys

MEMBERS = {"type", "title", "status", "detail", "instance", "code", "errors", "request_id"}


def assert_problem(response, status, code):
    assert response.status_code == status, response.content
    assert response.headers["Content-Type"] == "application/problem+json"
    problem = response.json()
    assert set(problem) >= MEMBERS
    assert (problem["status"], problem["code"]) == (status, code)
    assert problem["type"] == f"/api/v1/problems#{code}"
    assert problem["request_id"] == response.headers["X-Request-ID"]
    return problem


class TestProblems:
    def test_name_nobody_with_a_challenge(self, db):
        response = APIClient().get("/api/v1/crates")
        assert_problem(response, 401, "not_signed_in")
        assert response.headers["WWW-Authenticate"].startswith("Bearer")

    def test_answer_an_unknown_address(self, api):
        assert_problem(api.get("/api/v1/nowhere"), 404, "not_found")

    def test_leave_pages_to_pages(self, db):
        response = Client().get("/livez")
        assert response.headers["Content-Type"] == "application/json"

    def test_answer_a_wrong_method(self, api):
        response = api.delete("/api/v1/crates")
        assert_problem(response, 405, "method_not_allowed")
        assert "DELETE" not in response.headers.get("Allow", "")

    @pytest.mark.parametrize(
        "media_type", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"]
    )
    def test_answer_an_unread_media_type(self, api, media_type):
        response = api.generic(
            "POST", "/api/v1/crates", b"a=1", content_type=media_type, headers={"Idempotency-Key": "k"}
        )
        assert_problem(response, 415, "media_type")

    def test_answer_an_unoffered_form(self, api):
        assert_problem(api.get("/api/v1/crates", headers={"Accept": "text/csv"}), 406, "not_acceptable")

    def test_hide_a_bug_behind_the_request_id(self, api):
        problem = assert_problem(api.get("/api/v1/trouble?kind=bug"), 500, "internal_error")
        assert "SELECT" not in str(problem)
        assert "passwd" not in str(problem)

    def test_hide_a_wrong_statement(self, api):
        response = api.get("/api/v1/trouble?kind=gone")
        assert b"no_such" not in response.content
        assert_problem(response, 500, "internal_error")

    def test_call_a_value_too_large_for_its_column_a_bad_value(self, api):
        assert_problem(api.get("/api/v1/trouble?kind=range"), 400, "value_out_of_range")

    def test_ask_to_send_again_when_the_database_is_away(self, api, monkeypatch):
        def away(self):
            raise OperationalError("connection to server at 10.0.0.1 failed")

        monkeypatch.setattr(toys.Crates, "rows", away)
        response = api.get("/api/v1/crates")
        problem = assert_problem(response, 503, "unavailable")
        assert response.headers["Retry-After"] == "5"
        assert "10.0.0.1" not in str(problem)

    def test_name_a_constraint_in_the_rooms_words(self, send):
        body = {"site_id": str(toys.HERE), "name": "one"}
        send("crates", body)
        problem = assert_problem(send("crates", body), 409, "name_taken")
        assert problem["errors"] == [{"pointer": "/name", "code": "name_taken", "detail": "Taken."}]

    def test_call_an_unnamed_unique_constraint_a_conflict(self, send):
        send("crates", {"site_id": str(toys.HERE), "name": "one", "note": "n"})
        problem = assert_problem(
            send("crates", {"site_id": str(toys.HERE), "name": "two", "note": "n"}), 409, "conflict"
        )
        assert "crate_note" not in str(problem)

    def test_call_an_unnamed_check_constraint_a_bad_value(self, send):
        response = send("crates", {"site_id": str(toys.HERE), "name": "one", "weight_kg": -1})
        assert_problem(response, 400, "value_refused")

    def test_list_every_code_under_its_anchor(self, client, db):
        page = client.get("/api/v1/problems").content.decode()
        assert 'id="unknown_reference"' in page

    def test_answer_a_bug_outside_of_the_views(self, rf):
        try:
            raise RuntimeError("inside")
        except RuntimeError:
            response = server_error(rf.get("/api/v1/x"))
        assert response.status_code == 500
        assert b"inside" not in response.content


class TestFlatten:
    def test_names_the_place_of_a_nested_error(self):
        wrong = ErrorDetail("A valid number is required.", "invalid")
        details = ValidationError({"readings": [{}, {}, {}, {"level_db": [wrong]}]}).get_full_details()
        assert [error.pointer for error in flatten(details)] == ["/readings/3/level_db"]

    def test_names_the_whole_for_an_error_of_no_member(self):
        details = ValidationError({"non_field_errors": ["no"]}).get_full_details()
        assert [error.pointer for error in flatten(details)] == [""]

    def test_takes_members_called_message_and_code_for_members(self):
        details = ValidationError({"message": ["a"], "code": ["b"]}).get_full_details()
        assert [error.pointer for error in flatten(details)] == ["/message", "/code"]


class TestPointer:
    def test_escapes_by_the_standard(self):
        # RFC 6901 section 3: "~" is written ~0 and "/" is written ~1.
        assert pointer("a/b", "m~n", 0) == "/a~1b/m~0n/0"


class TestRefusalOf:
    def test_calls_the_unknown_a_bug(self):
        assert refusal_of(KeyError("x")).status == 500


class TestRequestId:
    def test_returns_the_one_that_was_sent(self, api):
        assert (
            api.get("/api/v1/crates", headers={"X-Request-ID": "walk-7.a"}).headers["X-Request-ID"]
            == "walk-7.a"
        )

    @pytest.mark.parametrize("sent", ["", "a b", "x" * 65, "é", "a\r\nSet-Cookie: b"])
    def test_replaces_one_that_could_do_harm(self, api, sent):
        returned = api.get("/api/v1/crates", headers={"X-Request-ID": sent}).headers["X-Request-ID"]
        assert uuid.UUID(returned)
