"""Pages, orderings, filters, sparse members."""

from __future__ import annotations

import datetime as dt
from urllib.parse import parse_qs, urlsplit

import pytest
from django.core import signing

from tests.api import toys


def names(response):
    assert response.status_code == 200, response.content
    return [row["name"] for row in response.json()["results"]]


def walk(api, address):
    seen = []
    while address:
        page = api.get(address).json()
        seen.append([row["name"] for row in page["results"]])
        address = page["next"]
    return seen


def complaint(response):
    assert response.status_code == 400, response.content
    return [(error["pointer"], error["code"]) for error in response.json()["errors"]]


class TestPages:
    def test_hold_every_row_once(self, api, crates):
        for name in "edcba":
            crates(name)
        assert walk(api, "/api/v1/crates?limit=2") == [["a", "b"], ["c", "d"], ["e"]]

    def test_keep_their_place_when_a_row_comes_before(self, api, crates):
        for name in "bcd":
            crates(name)
        following = api.get("/api/v1/crates?limit=2").json()["next"]
        crates("a")
        assert names(api.get(following)) == ["d"]

    @pytest.mark.parametrize("ordering", ["note", "-note"])
    def test_put_rows_without_a_value_last(self, api, crates, ordering):
        for name, note in (("a", None), ("b", "2"), ("c", "1"), ("d", None)):
            crates(name, note=note)
        pages = walk(api, f"/api/v1/crates?limit=1&ordering={ordering}")
        seen = [name for page in pages for name in page]
        assert sorted(seen) == list("abcd")
        assert set(seen[2:]) == {"a", "d"}

    @pytest.mark.parametrize("ordering", ["name", "-name", "note", "-note", "-packed_at"])
    @pytest.mark.parametrize("limit", [1, 2, 3])
    def test_lead_back_the_way_they_came(self, api, crates, ordering, limit):
        moment = dt.datetime(2026, 3, 1, tzinfo=dt.UTC)
        for number, name in enumerate("abcdefg"):
            crates(
                name,
                note=None if number % 3 == 0 else name,
                packed_at=None if number % 2 else moment,
                weight_kg=number // 2,
            )
        forth, address = [], f"/api/v1/crates?limit={limit}&ordering={ordering}"
        while address:
            page = api.get(address).json()
            forth.append([row["name"] for row in page["results"]])
            address = page["next"]
        back, address = [], page["previous"]
        while address:
            page = api.get(address).json()
            back.insert(0, [row["name"] for row in page["results"]])
            address = page["previous"]
        assert back == forth[:-1]

    def test_name_their_neighbours_in_a_link(self, api, crates):
        for name in "abc":
            crates(name)
        response = api.get("/api/v1/crates?limit=2")
        assert response.headers["Link"] == f'<{response.json()["next"]}>; rel="next"'

    def test_show_no_row_of_a_hidden_site(self, api, crates):
        crates("a")
        crates("hidden", site_id=toys.THERE)
        assert names(api.get("/api/v1/crates")) == ["a"]

    @pytest.mark.parametrize("limit", ["0", "201", "-1", "x", "", "1e2", "٣"])
    def test_have_1_to_200_rows(self, api, limit):
        assert complaint(api.get("/api/v1/crates", {"limit": limit})) == [("?limit", "out_of_range")]


class TestCursor:
    @pytest.mark.parametrize("cursor", ["", "x", "cD1hYmM%3D", "e30.x", "\u00e9", "a" * 5000])
    def test_is_refused_when_it_was_not_made_here(self, api, cursor):
        assert complaint(api.get("/api/v1/crates", {"cursor": cursor})) == [("?cursor", "cursor_refused")]

    def test_is_refused_when_changed(self, api, crates):
        for name in "abc":
            crates(name)
        cursor = parse_qs(urlsplit(api.get("/api/v1/crates?limit=1").json()["next"]).query)["cursor"][0]
        changed = ("f" if cursor[0] != "f" else "e") + cursor[1:]
        assert complaint(api.get("/api/v1/crates", {"cursor": changed})) == [("?cursor", "cursor_refused")]

    def test_is_refused_for_another_ordering(self, api, crates):
        for name in "abc":
            crates(name)
        following = api.get("/api/v1/crates?limit=1").json()["next"]
        assert complaint(api.get(following + "&ordering=-name")) == [("?cursor", "cursor_refused")]

    def test_is_refused_when_signed_but_of_another_form(self, api):
        signed = signing.Signer(salt="plantcare.cursor", sep=".").sign_object([1])
        assert complaint(api.get("/api/v1/crates", {"cursor": signed})) == [("?cursor", "cursor_refused")]


class TestQuery:
    @pytest.mark.parametrize(
        ("query", "expected"),
        [
            ("?nam=a", ("?nam", "unknown_parameter")),
            ("?site=1", ("?site", "unknown_parameter")),
            ("?site_id=x", ("?site_id", "invalid")),
            ("?name=z", ("?name", "invalid_choice")),
            ("?name=a,z", ("?name", "invalid_choice")),
            ("?name=", ("?name", "blank")),
            ("?name=a&name=b", ("?name", "repeated")),
            ("?heavy=yes", ("?heavy", "invalid")),
            ("?packed_after=2026-03-01T08:00:00", ("?packed_after", "naive")),
            ("?packed_after=2026-03-01", ("?packed_after", "invalid")),
            ("?q=%00", ("?q", "character_refused")),
            ("?ordering=site_id", ("?ordering", "invalid_choice")),
            ("?fields=", ("?fields", "invalid_choice")),
            ("?fields=name,colour", ("?fields", "invalid_choice")),
            ("?expand=site", ("?expand", "invalid_choice")),
            ("?units=stone", ("?units", "invalid_choice")),
            ("?format=xml", ("?format", "invalid_choice")),
        ],
    )
    def test_is_refused(self, api, query, expected):
        assert complaint(api.get("/api/v1/crates" + query)) == [expected]

    def test_chooses_among_several(self, api, crates):
        for name in "abc":
            crates(name)
        assert names(api.get("/api/v1/crates?name=a,c")) == ["a", "c"]

    def test_searches_words_without_regard_to_case(self, api, crates):
        crates("Blower seal")
        crates("Valve")
        assert names(api.get("/api/v1/crates?q=SEAL blow")) == ["Blower seal"]

    def test_takes_a_moment_with_its_offset(self, api, crates):
        crates("a", packed_at=dt.datetime(2026, 3, 1, 8, tzinfo=dt.UTC))
        address = "/api/v1/crates?packed_after=2026-03-01T09:00:00%2B01:00"
        assert names(api.get(address)) == ["a"]

    def test_is_checked_on_a_detail_too(self, api, crates):
        address = f"/api/v1/crates/{crates().pk}?limit=3"
        assert complaint(api.get(address)) == [("?limit", "unknown_parameter")]


class TestShape:
    def test_leaves_only_the_named_members(self, api, crates):
        crates("a")
        assert api.get("/api/v1/crates?fields=name,version").json()["results"] == [
            {"name": "a", "version": 1}
        ]

    def test_hides_an_expandable_member_until_asked(self, api, crates):
        outer = crates("a")
        crates("b", inside=outer)
        assert "inside" not in api.get("/api/v1/crates").json()["results"][0]

    def test_shows_an_expandable_member_when_asked(self, api, crates):
        outer = crates("a")
        inner = crates("b", inside=outer)
        answer = api.get(f"/api/v1/crates/{inner.pk}?expand=inside").json()
        assert answer["inside"]["id"] == str(outer.pk)

    def test_renders_the_asked_units(self, api, crates, settings):
        settings.PLANTCARE_UNIT_TABLE = "tests.api.test_api_units.TABLE"
        crate = crates(weight_kg=10.0)
        answer = api.get(f"/api/v1/crates/{crate.pk}?units=us").json()
        assert answer["weight_lb"] == pytest.approx(22.0462, abs=1e-4)
