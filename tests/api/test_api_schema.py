"""The API describes itself, offline."""

from __future__ import annotations

import pytest
from django.test import Client
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.validation import validate_schema

from plantcare.api.identifiers import uuid7


@pytest.fixture
def schema(toy_service):
    return SchemaGenerator().get_schema(public=True)


def parameters(operation):
    return {(found["in"], found["name"]): found for found in operation["parameters"]}


class TestSchema:
    def test_is_valid_openapi_3_1(self, schema):
        assert schema["openapi"].startswith("3.1")
        validate_schema(schema)

    def test_names_operations_by_noun_and_verb(self, schema):
        names = {op["operationId"] for item in schema["paths"].values() for op in item.values()}
        assert names == {
            "crate_list",
            "crate_create",
            "crate_batch",
            "crate_read",
            "crate_change",
            "crate_shut",
            "crate_burn",
            "trouble_read",
            "sheet_create",
        }

    def test_names_the_room(self, schema):
        assert schema["paths"]["/api/v1/crates"]["get"]["tags"] == ["store"]

    def test_names_the_problems_of_a_change(self, schema):
        statuses = set(schema["paths"]["/api/v1/crates/{id}"]["patch"]["responses"])
        assert statuses >= {"200", "400", "401", "403", "404", "409", "412", "415", "422", "428", "429"}

    def test_names_the_form_of_a_problem(self, schema):
        refused = schema["paths"]["/api/v1/crates"]["get"]["responses"]["400"]
        assert refused == {"$ref": "#/components/responses/Problem400"}
        assert schema["components"]["responses"]["Problem400"]["content"] == {
            "application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}
        }

    def test_demands_the_key_where_something_is_made(self, schema):
        found = parameters(schema["paths"]["/api/v1/crates"]["post"])
        assert found["header", "Idempotency-Key"]["required"] is True

    def test_offers_the_key_for_acts(self, schema):
        found = parameters(schema["paths"]["/api/v1/crates/{id}/shut"]["post"])
        assert "required" not in found["header", "Idempotency-Key"]

    def test_demands_the_version_of_a_change(self, schema):
        found = parameters(schema["paths"]["/api/v1/crates/{id}"]["patch"])
        assert found["header", "If-Match"]["required"] is True

    def test_names_filters_pages_and_orderings(self, schema):
        found = parameters(schema["paths"]["/api/v1/crates"]["get"])
        query = {name for place, name in found if place == "query"}
        assert query == {
            "site_id",
            "name",
            "heavy",
            "packed_after",
            "q",
            "limit",
            "cursor",
            "ordering",
            "fields",
            "expand",
            "units",
        }

    def test_gives_201_to_what_is_made(self, schema):
        assert "201" in schema["paths"]["/api/v1/crates"]["post"]["responses"]

    def test_gives_a_page_of_rows(self, schema):
        page = schema["components"]["schemas"]["PaginatedInsideList"]
        assert set(page["properties"]) == {"results", "next", "previous"}

    def test_closes_inputs(self, schema):
        assert schema["components"]["schemas"]["CrateInput"]["additionalProperties"] is False

    def test_names_both_ways_of_proving(self, schema):
        assert set(schema["components"]["securitySchemes"]) == {"bearerKey", "session"}


class TestPages:
    @pytest.mark.parametrize(
        "address",
        [
            "/api/v1/openapi.json",
            "/api/v1/openapi.yaml",
            "/api/docs/",
            "/api/docs/?script=",
            "/api/reference/",
            "/api/v1/problems",
        ],
    )
    def test_are_served(self, db, address):
        assert Client().get(address).status_code == 200

    @pytest.mark.parametrize("address", ["/api/docs/", "/api/reference/"])
    def test_fetch_nothing_from_elsewhere(self, db, address):
        text = Client().get(address).content.decode()
        assert "https://" not in text
        assert "<script>" not in text
        assert "<style>" not in text

    def test_keep_scripts_to_our_own(self, db):
        policy = Client().get("/api/reference/").headers["Content-Security-Policy"]
        directives = dict(part.strip().split(" ", 1) for part in policy.split(";"))
        assert directives.get("script-src", directives["default-src"]) == "'self'"


class TestIdentifiers:
    def test_rise(self):
        made = [uuid7() for _ in range(5000)]
        assert made == sorted(made)

    def test_are_of_version_7(self):
        # RFC 9562 section 5.7: version 7 in bits 48 to 51, variant 10.
        one = uuid7()
        assert (one.version, one.variant) == (7, "specified in RFC 4122")
