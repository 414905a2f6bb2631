"""Ask an operation as somebody, about somebody's things."""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, connection, transaction
from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart
from rest_framework.test import APIClient

from plantcare.jobs.registry import jobs
from tests.api.operations import UPLOAD, Operation, id_places, sample
from tests.api.recipes import COLLECTIONS, NAMES, Recipe, recipe_of
from tests.api.siteplan import SitePlan, filled_in, version_of
from tests.api.world import TwoSites

_REQUEST_ID = re.compile(r'"request_id": ?"[^"]*"')


@dataclass(frozen=True)
class Question:
    """One request, not yet asked."""

    method: str
    path: str
    query: Mapping[str, Any] = field(default_factory=dict)
    body: Any = None
    media: str = "application/json"
    headers: Mapping[str, str] = field(default_factory=dict)

    def but(self, **changes: Any) -> Question:
        """Return the question with some parts changed."""
        return Question(**{**vars(self), **changes})


@dataclass(frozen=True)
class Answer:
    """What came back."""

    status: int
    text: str
    headers: Mapping[str, str]

    @property
    def ok(self) -> bool:
        """Tell whether the request was granted."""
        return 200 <= self.status < 300

    @property
    def data(self) -> Any:
        """Return the body as JSON, or None."""
        try:
            return json.loads(self.text)
        except ValueError:
            return None

    @property
    def did_nothing(self) -> bool:
        """Tell whether the answer says that nothing was done: a refusal, or a batch of refusals."""
        if not self.ok:
            return True
        results = self.data.get("results") if isinstance(self.data, dict) else None
        return bool(results) and all(one.get("problem") for one in results if isinstance(one, dict))

    def without(self, *sent: str) -> str:
        """Return status and text with what was sent, and what differs by request, taken out."""
        text = _REQUEST_ID.sub('"request_id": ""', self.text)
        for one in sent:
            text = text.replace(one, "<sent>") if one else text
        return f"{self.status} {text}"


def unknown_like(value: Any) -> Any:
    """Return an id that names nothing, of the kind of another id."""
    return 2_000_000_001 if isinstance(value, int) else str(uuid.uuid4())


class Asker:
    """Makes questions from operations, and asks them."""

    def __init__(self, world: TwoSites, recipes: Mapping[str, Recipe] | None = None) -> None:
        self.world = world
        self.own_recipes = recipes or {}

    def recipe(self, operation: Operation, variant: str = "") -> Recipe:
        """Return how the operation is asked."""
        return self.own_recipes.get(operation.id) or recipe_of(operation, variant)

    def question(
        self, operation: Operation, place: SitePlan, *, variant: str = "", thing: Any = None
    ) -> Question:
        """Return the request that the owner of a place would be granted."""
        recipe = self.recipe(operation, variant)
        thing = thing if thing is not None else self.target(operation, place, variant)
        ids = {name: place.ids[kind] for name, kind in NAMES.items() if kind}
        body = filled_in(recipe.body, place.ids)
        if body is None and operation.body is not None:
            body = self._body(operation, ids)
        query = filled_in(dict(recipe.query), place.ids)
        return Question(
            operation.method,
            self.path(operation, variant, place.ids, thing),
            query,
            body,
            operation.media,
            self._headers(operation, thing),
        )

    def target(self, operation: Operation, place: SitePlan, variant: str = "") -> Any:
        """Return the thing that the path names, or None."""
        if not any(name in ("id", *NAMES) for name in operation.path_names):
            return None
        return place[self.target_name(operation, variant)]

    def target_name(self, operation: Operation, variant: str = "") -> str:
        """Return the name of the thing that the path names."""
        return self.recipe(operation, variant).target or COLLECTIONS[operation.collection]

    def path(self, operation: Operation, variant: str, ids: Mapping[str, Any], thing: Any) -> str:
        """Return the path with its names filled in."""
        path = operation.path
        given = filled_in(dict(self.recipe(operation, variant).path), ids)
        if operation.id == "job_run":
            given.setdefault("name", next(name for name, job in jobs().items() if job.right))
        for name in operation.path_names:
            value = given.get(name, getattr(thing, "pk", thing))
            path = path.replace("{" + name + "}", str(value))
        return path

    def _body(self, operation: Operation, ids: Mapping[str, Any]) -> Any:
        body = sample(operation.body, ids)
        if operation.method == "patch" and not body:
            members = operation.body["properties"] if operation.body else {}
            names = {place.steps[0] for place in id_places(operation.body)}
            first = next(name for name in members if name not in names)
            body = {first: sample(members[first], ids, first)}
        return body

    def _headers(self, operation: Operation, thing: Any) -> dict[str, str]:
        headers = {}
        if "If-Match" in operation.headers and version_of(thing) is not None:
            headers["If-Match"] = f'"v{version_of(thing)}"'
        if "Idempotency-Key" in operation.headers:
            headers["Idempotency-Key"] = str(uuid.uuid4())
        return headers

    def ask(self, question: Question, key: str | None = None, login: Any = None) -> Answer:
        """Send a request with a key, at a log-in, or as nobody."""
        client = APIClient(raise_request_exception=False)
        headers = dict(question.headers)
        if login is not None:
            client.force_authenticate(login)
        elif key is not None:
            headers["Authorization"] = f"Bearer {key}"
        data, media = _encoded(question)
        response = client.generic(
            question.method.upper(),
            question.path,
            data,
            content_type=media,
            headers=headers,
            query_params=question.query,
        )
        status = response.status_code
        try:
            with transaction.atomic():
                connection.check_constraints()
        except IntegrityError:
            status = 500  # what the database would have said at the commit
        text = b"".join(response) if response.streaming else response.content
        return Answer(status, text.decode(errors="replace"), dict(response.headers))

    def ask_as(self, who: str, question: Question, place: SitePlan) -> Answer:
        """Send a request as the recipe says: by key, at a log-in, or as the superuser."""
        if who == "login":
            return self.ask(question, login=place.people["owner"])
        if who == "superuser":
            return self.ask(question, login=self.world.superuser)
        return self.ask(question, place.keys[who])


def _encoded(question: Question) -> tuple[bytes, str]:
    if question.body is None:
        return b"", "application/json"
    if question.media != UPLOAD:
        return json.dumps(question.body).encode(), "application/json"
    parts = {
        name: SimpleUploadedFile(value[0], value[1]) if isinstance(value, tuple) else value
        for name, value in question.body.items()
    }
    return encode_multipart(BOUNDARY, parts), MULTIPART_CONTENT
