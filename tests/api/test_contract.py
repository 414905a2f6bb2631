"""The API keeps to its own description, and the description is complete and kept beside the code."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import schemathesis
import yaml
from django.conf import settings
from django.core.signals import request_finished, request_started
from django.core.wsgi import get_wsgi_application
from django.db import IntegrityError, close_old_connections, connection, transaction
from drf_spectacular.renderers import OpenApiYamlRenderer
from drf_spectacular.validation import validate_schema
from hypothesis import HealthCheck, Phase, given, seed
from hypothesis import settings as hypothesis_settings
from schemathesis import GenerationMode, checks
from schemathesis.specs.openapi import checks as openapi_checks

from plantcare.api.problems import CONTENT_TYPE
from tests.api import ledger
from tests.api.asking import Asker
from tests.api.operations import Operation, described, id_places, operations, put
from tests.api.recipes import NAMES
from tests.api.world import TwoSites

pytestmark = pytest.mark.django_db

OPERATIONS = operations(described())
COMMITTED = Path(settings.BASE_DIR) / "plantcare" / "api" / "openapi.yaml"
REFRESH = "python manage.py spectacular --validate --fail-on-warn --file plantcare/api/openapi.yaml"
EVERY_CALLER_MEETS = {"400", "401", "403", "404", "406", "429", "503"}
SEED = 20_260_302
EXAMPLES = {GenerationMode.POSITIVE: 3, GenerationMode.NEGATIVE: 2}
CHECKS = [
    checks.not_a_server_error,
    openapi_checks.status_code_conformance,
    openapi_checks.content_type_conformance,
    openapi_checks.response_schema_conformance,
    openapi_checks.response_headers_conformance,
]


@pytest.fixture(autouse=True)
def toy_service() -> None:
    """Stay with the real service."""


class TestDocument:
    def test_is_valid_openapi(self) -> None:
        assert described()["openapi"].startswith("3.1")
        validate_schema(described())

    def test_is_the_one_kept_beside_the_code(self) -> None:
        made = OpenApiYamlRenderer().render(described(), renderer_context={})

        assert yaml.safe_load(made) == yaml.safe_load(COMMITTED.read_text()), f"Run: {REFRESH}"

    def test_names_each_operation_once(self) -> None:
        names = Counter(one.document["operationId"] for one in OPERATIONS)

        assert [name for name, times in names.items() if times > 1] == []

    @pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.id)
    def test_tells_everything_about_an_operation(self, operation: Operation) -> None:
        told = operation.document

        assert len(told["tags"]) == 1
        assert told["summary"]
        assert told["description"].endswith(".")
        assert told["security"] == [{"bearerKey": []}, {"session": []}]
        assert set(told["responses"]) >= EVERY_CALLER_MEETS

    def test_gives_every_refusal_the_one_form(self) -> None:
        answers = described()["components"]["responses"]

        assert {status for one in answers.values() for status in one["content"]} == {CONTENT_TYPE}
        named = {
            told.get("$ref")
            for one in OPERATIONS
            for status, told in one.document["responses"].items()
            if status[0] in "45"
        }
        assert named == {f"#/components/responses/{name}" for name in answers}


class Fuzzer:
    """Throws made-up requests at an operation of the running service, and counts them."""

    def __init__(self, world: TwoSites) -> None:
        self.asker = Asker(world)
        self.key = world.home.keys["manager"]
        self.cases = 0
        self.statuses: Counter[int] = Counter()
        schema = schemathesis.openapi.from_dict(described())
        schema.app = get_wsgi_application()
        self.operations = {one.ok().label: one.ok() for one in schema.get_all_operations()}

    def fuzz(self, operation: Operation, mode: GenerationMode) -> None:
        """Try some requests that fit the description, or that don't."""
        found = self.operations[f"{operation.method.upper()} {operation.path}"]
        question = self.asker.question(operation, self.asker.world.home)
        given_path = dict(zip(operation.path_names, self._names(operation, question.path), strict=True))
        strategy = found.as_strategy(
            generation_mode=mode, path_parameters=given_path, headers=dict(question.headers)
        )

        @seed(SEED)
        @hypothesis_settings(
            max_examples=EXAMPLES[mode],
            derandomize=True,
            database=None,
            phases=[Phase.generate],
            suppress_health_check=list(HealthCheck),
        )
        @given(case=strategy)
        def run(case: Any) -> None:
            if mode is GenerationMode.POSITIVE:
                case.body = self._with_real_ids(operation, case.body)
            with ledger.undone():
                self._try(case)

        run()

    def _with_real_ids(self, operation: Operation, body: Any) -> Any:
        """Let the ids of a made-up body name things, so that it gets past the first look."""
        for place in id_places(operation.body or {}):
            kind = NAMES[place.name]
            if kind and isinstance(body, dict) and body.get(place.steps[0]):
                body = put(body, place.steps, self.asker.world.home.ids[kind])
        return body

    def _names(self, operation: Operation, path: str) -> list[str]:
        parts = zip(operation.path.split("/"), path.split("/"), strict=True)
        return [value for name, value in parts if name.startswith("{")]

    def _try(self, case: Any) -> None:
        self.cases += 1
        response = case.call(headers={"Authorization": f"Bearer {self.key}"})
        self.statuses[response.status_code] += 1
        case.validate_response(response, checks=CHECKS)
        try:
            with transaction.atomic():
                connection.check_constraints()
        except IntegrityError as error:
            pytest.fail(f"Only the commit would refuse: {error}")
        if response.status_code >= 400:
            kind = response.headers["content-type"]
            assert str(kind[0] if isinstance(kind, list) else kind).startswith(CONTENT_TYPE)
            assert response.json()["request_id"]


@pytest.fixture(scope="module")
def fuzzer(two_sites: TwoSites) -> Iterator[Fuzzer]:
    """Keep the one connection, with its unfinished transaction, from request to request."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield Fuzzer(two_sites)
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


class TestService:
    @pytest.mark.parametrize("mode", list(EXAMPLES), ids=lambda mode: mode.value)
    @pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.id)
    def test_answers_as_described(self, fuzzer: Fuzzer, operation: Operation, mode: GenerationMode) -> None:
        fuzzer.fuzz(operation, mode)

    def test_was_asked_often_enough(self, fuzzer: Fuzzer) -> None:
        assert fuzzer.cases >= 2 * len(OPERATIONS)
        assert any(200 <= status < 300 for status in fuzzer.statuses)
        assert any(400 <= status < 500 for status in fuzzer.statuses)
