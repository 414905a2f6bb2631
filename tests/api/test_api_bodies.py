"""What is taken from a body, and what isn't."""

from __future__ import annotations

import json

import pytest

from plantcare.api.parsers import Malformed, loads
from plantcare.api.problems import Invalid
from plantcare.api.shapes import validated
from tests.api import toys


def codes(response):
    assert response.status_code == 400, response.content
    return {error["pointer"]: error["code"] for error in response.json()["errors"]}


def body(**values):
    return {"site_id": str(toys.HERE), "name": "crate", **values}


class TestLoads:
    @pytest.mark.parametrize(
        "text",
        [
            "",
            "{",
            "nul",
            '{"a": NaN}',
            '{"a": -Infinity}',
            '{"a": 1e999}',
            "1" * 5000,
            '{"a": 1, "a": 2}',
            "[" * 100_000,
            "[" * 33 + "]" * 33,
            '"\\u0000"',
            '{"\\u0000": 1}',
            '"\\ud800"',
            "﻿{}",
        ],
    )
    def test_refuses(self, text):
        with pytest.raises(Malformed):
            loads(text)

    def test_refuses_other_encodings(self):
        with pytest.raises(Malformed):
            loads('{"a": "é"}'.encode("latin-1"))

    def test_names_the_place_of_a_null_character(self):
        with pytest.raises(Malformed) as refused:
            loads('{"a": ["x", "\\u0000"]}')
        assert refused.value.errors[0].pointer == "/a/1"

    def test_takes_32_levels(self):
        assert loads("[" * 32 + "]" * 32)

    def test_takes_a_character_outside_of_the_basic_plane(self):
        assert loads('"\\ud83d\\udd27"') == "🔧"


class TestParser:
    def test_refuses_a_body_above_the_limit(self, api, settings):
        settings.PLANTCARE_MAX_JSON_BYTES = 100
        response = api.post(
            "/api/v1/crates", body(name="x" * 100), format="json", headers={"Idempotency-Key": "k"}
        )
        assert response.status_code == 413

    def test_refuses_a_packed_body(self, send):
        assert send("crates", body(), **{"Content-Encoding": "gzip"}).status_code == 415

    def test_answers_a_depth_bomb(self, api):
        response = api.generic(
            "POST",
            "/api/v1/crates",
            "[" * 100_000,
            content_type="application/json",
            headers={"Idempotency-Key": "k"},
        )
        assert response.json()["code"] == "too_deep"


class TestInputShape:
    def test_names_unknown_members_beside_other_errors(self, send):
        found = codes(send("crates", {"site_id": str(toys.HERE), "surprise": 1}))
        assert found == {"/surprise": "unknown_member", "/name": "required"}

    def test_names_the_place_in_a_list(self, send):
        readings = [{"level_db": 1}, {"level_db": "loud"}, {"level_db": 1, "hue": 2}]
        found = codes(send("crates", body(readings=readings)))
        assert found == {"/readings/1/level_db": "invalid", "/readings/2/hue": "unknown_member"}

    @pytest.mark.parametrize("whole", [[], "x", 3])
    def test_takes_only_an_object(self, send, whole):
        assert codes(send("crates", whole)) == {"": "invalid"}

    @pytest.mark.parametrize(
        ("member", "value", "code"),
        [
            ("weight_kg", 1e300, "max_value"),
            ("weight_kg", 10**400, "overflow"),
            ("weight_kg", "NaN", "invalid"),
            ("weight_kg", "inf", "invalid"),
            ("weight_kg", True, "invalid"),
            ("price", 1.5, "not_text"),
            ("price", "1e5", "invalid"),
            ("price", "NaN", "invalid"),
            ("price", "1.005", "max_decimal_places"),
            ("price", "99999999999.00", "max_digits"),
            ("packed_at", "2026-03-01T08:00:00", "naive"),
            ("packed_at", "0000-03-01T08:00:00Z", "invalid"),
            ("packed_at", "0001-01-01T00:00:00+14:00", "year"),
            ("packed_at", "2026-02-30T08:00:00Z", "invalid"),
            ("packed_at", 1772352000, "invalid"),
            ("name", 3, "invalid"),
            ("name", "x" * 41, "max_length"),
            ("name", " \t", "blank"),
            ("site_id", 7, "invalid"),
            ("site_id", "urn:uuid:0193", "invalid"),
            ("tags", [1], "not_object"),
            ("tags", {"a": {"b": {"c": {"d": {"e": {"f": {"g": {"h": {"i": 1}}}}}}}}}, "refused"),
            ("count", 10**30, "max_value"),
            ("count", 1.5, "invalid"),
            ("count", True, "invalid"),
        ],
        ids=lambda value: str(value)[:40],
    )
    def test_refuses(self, send, member, value, code):
        assert codes(send("crates", body(**{member: value}))) == {f"/{member}": code}

    def test_refuses_a_number_that_only_the_column_finds_too_large(self, send):
        assert send("crates", body(count=2**40)).json()["code"] == "value_out_of_range"

    def test_keeps_a_moment_in_utc(self, send):
        answer = send("crates", body(packed_at="2026-03-01T09:30:00+01:00")).json()
        assert answer["packed_at"] == "2026-03-01T08:30:00Z"

    def test_keeps_text_as_it_came(self, send):
        assert send("crates", body(name=" a ")).json()["name"] == " a "

    def test_gives_money_as_text(self, send):
        assert send("crates", body(price="12.50")).json()["price"] == "12.50"

    def test_refuses_a_change_of_nothing(self):
        with pytest.raises(Invalid) as refused:
            validated(toys.CrateChange, {}, partial=True)
        assert refused.value.code == "nothing_to_change"

    def test_names_a_null_character_in_free_members(self, api):
        raw = json.dumps(body(tags={"a": "x\x00"}))
        response = api.generic(
            "POST", "/api/v1/crates", raw, content_type="application/json", headers={"Idempotency-Key": "k"}
        )
        assert codes(response) == {"/tags/a": "character_refused"}
