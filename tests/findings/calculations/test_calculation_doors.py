"""Calculations by name: over the API, in its description, and at the command line."""

from __future__ import annotations

import contextlib
import io
import json
import sys

import jsonschema
import pytest
from django.core.management import CommandError, call_command
from drf_spectacular.generators import SchemaGenerator
from hypothesis import given, settings
from hypothesis import strategies as st

from findings.kinds.calculations import CALCULATIONS, InvalidInput, calculate
from tests.people import api_for, api_of_nobody, make_user

NAMES = sorted(CALCULATIONS)


@pytest.fixture
def api(db):
    """Somebody without a role at any site."""
    return api_for(make_user())


class TestOverTheApi:
    @pytest.mark.parametrize("name", NAMES)
    def test_every_example_is_worked_out(self, api, name):
        response = api.post(f"/calculations/{name}", dict(CALCULATIONS[name].example))

        assert response.status_code == 200
        assert response.json() == json.loads(json.dumps(calculate(name, CALCULATIONS[name].example)))

    def test_a_key_will_do(self, db):
        client = api_for(make_user(), scopes=["view"])

        response = client.post("/calculations/co2e-electricity", CALCULATIONS["co2e-electricity"].example)

        assert response.status_code == 200

    def test_nobody_calculates_without_signing_in(self, db):
        assert api_of_nobody().post("/calculations/leak-cost", {}).status_code == 401

    def test_an_unknown_name_is_not_found(self, api):
        assert api.post("/calculations/perpetual-motion", {}).status_code == 404

    def test_every_wrong_place_is_named(self, api):
        body = api.post("/calculations/leak-cost", {"flow_m3_per_s": "many", "colour": "red"}).json()

        pointers = {error["pointer"] for error in body["errors"]}
        assert {"/flow_m3_per_s", "/colour", "/price_per_kwh", "/currency"} <= pointers

    @pytest.mark.parametrize("body", [[], [1], {"diameter_m": 1e30, "pressure_gauge_pa": 1e30}])
    def test_what_fits_nowhere_is_refused(self, api, body):
        assert api.post("/calculations/orifice-flow", body).status_code == 400

    def test_figures_leave_in_the_units_asked_for(self, api):
        flow = {"flow_m3_per_s": 0.01, "from_state": "normal", "to_state": "bar20"}

        answer = api.post("/calculations/convert-flow-reference?units=us", flow).json()

        # 0.01 m³/s × 1.01325 × 293.15 / 273.15 = 0.010874556 m³/s; 1 cfm = 0.028316846592 m³ / 60 s
        assert answer["flow_cfm"] == pytest.approx(23.042, abs=0.001)

    def test_the_list_has_all_of_them_with_schema_and_source(self, api):
        rows = api.get("/calculations").json()["results"]

        assert [row["name"] for row in rows] == list(CALCULATIONS)
        assert all(row["schema"]["properties"] and row["source"] and row["example"] for row in rows)


class TestInTheDescription:
    @pytest.fixture
    def paths(self):
        return SchemaGenerator().get_schema(request=None, public=True)["paths"]

    @pytest.mark.parametrize("name", NAMES)
    def test_each_has_its_own_schema_and_example(self, paths, name):
        body = paths[f"/api/v1/calculations/{name}"]["post"]["requestBody"]["content"]["application/json"]

        assert set(body["schema"]["properties"]) == set(CALCULATIONS[name].schema["properties"])
        assert body["schema"]["examples"] == [dict(CALCULATIONS[name].example)]


class TestInOtherUnits:
    @pytest.mark.parametrize("system", ["si", "metric", "us"])
    def test_answers_keep_to_their_description(self, api, system):
        paths = SchemaGenerator().get_schema(request=None, public=True)["paths"]
        for name in NAMES:
            told = paths[f"/api/v1/calculations/{name}"]["post"]["responses"]["200"]["content"]
            answer = api.post(f"/calculations/{name}?units={system}", dict(CALCULATIONS[name].example)).json()

            jsonschema.validate(answer, told["application/json"]["schema"])


class TestAtTheCommandLine:
    def run(self, monkeypatch, text, *arguments):
        told = io.StringIO()
        monkeypatch.setattr(sys, "stdin", io.StringIO(text))
        call_command("calculate", *arguments, stdout=told)
        return told.getvalue()

    def test_reads_and_writes_json(self, monkeypatch):
        example = CALCULATIONS["leak-cost"].example

        told = self.run(monkeypatch, json.dumps(dict(example)), "leak-cost")

        assert json.loads(told) == calculate("leak-cost", example)

    def test_lists_the_names(self, monkeypatch):
        assert self.run(monkeypatch, "").count("\n") == len(CALCULATIONS)

    def test_prints_an_example_that_works(self, monkeypatch):
        example = self.run(monkeypatch, "", "load-unload", "--example")

        assert self.run(monkeypatch, example, "load-unload")

    @pytest.mark.parametrize("text", ["", "{", '{"flow_m3_per_s": "x"}', "[]"])
    def test_refuses_what_does_not_fit(self, monkeypatch, text):
        with pytest.raises(CommandError):
            self.run(monkeypatch, text, "leak-cost")

    def test_refuses_an_unknown_name(self, monkeypatch):
        with pytest.raises(CommandError, match="invalid choice"):
            self.run(monkeypatch, "{}", "perpetual-motion")


scalars = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**30), 10**30),
    st.floats(),
    st.text(max_size=12),
    st.sampled_from(["0", "1e40", "NaN", "-1", "0.0000001", "EUR", "air", "normal"]),
    st.lists(st.floats(0, 1e6), max_size=3),
)


class TestWhateverIsSent:
    @pytest.mark.parametrize("name", NAMES)
    @settings(max_examples=60)
    @given(data=st.data())
    def test_is_worked_out_or_refused(self, name, data):
        names = [*CALCULATIONS[name].schema["properties"], "other"]
        changes = data.draw(st.dictionaries(st.sampled_from(names), scalars, max_size=4))

        result = None
        with contextlib.suppress(InvalidInput):
            result = calculate(name, {**CALCULATIONS[name].example, **changes})

        assert json.loads(json.dumps(result, allow_nan=False)) == result
