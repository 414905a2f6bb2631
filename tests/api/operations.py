"""Read the API's own description: its operations, where ids stand in them, and a body that fits."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from drf_spectacular.generators import SchemaGenerator

PREFIX = "/api/v1/"
UPLOAD = "multipart/form-data"
METHODS = ("get", "post", "put", "patch", "delete")

_numbers = itertools.count(1)


@dataclass(frozen=True, slots=True)
class Place:
    """Where an id stands: the steps that lead to it ("*" is any item of a list) and its name."""

    steps: tuple[str, ...]
    name: str

    @property
    def is_list(self) -> bool:
        """Tell whether the id stands in a list of ids."""
        return self.steps[-1] == "*"


@dataclass(frozen=True)
class Operation:
    """One method of one path, with every reference of its description filled in."""

    id: str
    method: str
    path: str
    document: Mapping[str, Any] = field(repr=False)
    parameters: tuple[Mapping[str, Any], ...] = field(repr=False)
    body: Mapping[str, Any] | None = field(repr=False)
    media: str = "application/json"

    @property
    def collection(self) -> str:
        """Return the first word of the path."""
        return self.path.removeprefix(PREFIX).split("/")[0]

    @property
    def path_names(self) -> list[str]:
        """Return what stands in braces in the path."""
        return [part[1:-1] for part in self.path.split("/") if part.startswith("{")]

    @property
    def query(self) -> dict[str, Mapping[str, Any]]:
        """Return the query parameters by name."""
        return {found["name"]: found for found in self.parameters if found["in"] == "query"}

    @property
    def headers(self) -> dict[str, Mapping[str, Any]]:
        """Return the header parameters by name."""
        return {found["name"]: found for found in self.parameters if found["in"] == "header"}

    @property
    def is_list(self) -> bool:
        """Tell whether the answer is a page of rows."""
        return "cursor" in self.query

    @property
    def creates(self) -> bool:
        """Tell whether the operation demands an Idempotency-Key."""
        return bool(self.headers.get("Idempotency-Key", {}).get("required"))


@lru_cache(maxsize=4)
def described(urlconf: str = "plantcare.urls") -> dict[str, Any]:
    """Return the OpenAPI document of an URLconf."""
    return dict(SchemaGenerator(urlconf=urlconf).get_schema(public=True))


def operations(document: Mapping[str, Any]) -> list[Operation]:
    """Return every operation of a document, by operationId."""
    found = []
    for path, item in document["paths"].items():
        for method in METHODS:
            if method not in item:
                continue
            told = item[method]
            content = told.get("requestBody", {}).get("content", {})
            media = next(iter(content), "application/json")
            body = filled(content[media]["schema"], document) if content else None
            parameters = tuple(filled(one, document) for one in told.get("parameters", ()))
            found.append(Operation(told["operationId"], method, path, told, parameters, body, media))
    return sorted(found, key=lambda one: one.id)


def filled(schema: Any, document: Mapping[str, Any]) -> Any:
    """Return a schema with each reference replaced by what it names."""
    if isinstance(schema, list):
        return [filled(one, document) for one in schema]
    if not isinstance(schema, Mapping):
        return schema
    if "$ref" in schema:
        found: Any = document
        for step in schema["$ref"].removeprefix("#/").split("/"):
            found = found[step]
        rest = {name: value for name, value in schema.items() if name != "$ref"}
        return {**filled(found, document), **filled(rest, document)}
    return {name: filled(value, document) for name, value in schema.items()}


def looks_like_id(name: str, schema: Mapping[str, Any]) -> bool:
    """Tell whether a member or parameter may name a thing: by its name or by its form."""
    if name == "id" or name.endswith(("_id", "_ids")):
        return True
    inner = schema.get("items") or {}
    return "uuid" in (schema.get("format"), inner.get("format"))


def id_places(schema: Any, steps: tuple[str, ...] = (), name: str = "") -> Iterator[Place]:
    """Return where ids stand in a body, at any depth."""
    for form in _forms(schema):
        if "properties" in form:
            for inner_name, inner in form["properties"].items():
                yield from id_places(inner, (*steps, inner_name), inner_name)
        elif "items" in form:
            items = form["items"]
            if any("properties" in inner for inner in _forms(items)):
                yield from id_places(items, (*steps, "*"), name)
            elif looks_like_id(name, form):
                yield Place((*steps, "*"), name)
        elif steps and looks_like_id(name, form):
            yield Place(steps, name)


def _forms(schema: Any) -> list[Any]:
    """Return the forms of which one, or all, may hold."""
    for word in ("oneOf", "anyOf", "allOf"):
        if word in schema:
            return [form for one in schema[word] for form in _forms(one)]
    return [schema]


def sample(schema: Any, ids: Mapping[str, Any], name: str = "") -> Any:
    """Return a value that fits a schema: required members only, ids by their names."""
    schema = next((form for form in _forms(schema) if form.get("type") != "null"), schema)
    if schema.get("examples"):
        return schema["examples"][0]
    if "enum" in schema:
        return next(value for value in schema["enum"] if value not in (None, ""))
    kind = schema.get("type", "string")
    kind = next(one for one in kind if one != "null") if isinstance(kind, list) else kind
    if kind == "object":
        members = schema.get("properties", {})
        return {
            inner: sample(members[inner], ids, inner)
            for inner in members
            if inner in schema.get("required", ())
        }
    if kind == "array":
        return [sample(schema["items"], ids, name)] if schema.get("minItems") or name in ids else []
    return ids[name] if name in ids else _scalar(kind, schema, name)


def _scalar(kind: str, schema: Mapping[str, Any], name: str) -> Any:
    if kind == "boolean":
        return True
    if kind in ("integer", "number"):
        least = schema.get("minimum", schema.get("exclusiveMinimum", 0))
        return max(1, least + 1) if "maximum" not in schema else min(least + 1, schema["maximum"])
    form = schema.get("format")
    if form == "date":
        return "2026-03-31"
    if form == "date-time":
        return "2026-03-20T08:00:00Z"
    if form == "decimal" or "decimal" in str(schema.get("pattern", "")) or _only_digits(schema):
        return "1.00"
    longest = schema.get("maxLength", 60)
    return f"Made {name} {next(_numbers)}"[-longest:].strip()


def _only_digits(schema: Mapping[str, Any]) -> bool:
    return r"\d" in str(schema.get("pattern", ""))


def put(body: Any, steps: Sequence[str], value: Any) -> Any:
    """Return a copy of a body with a value put where the steps lead; what is missing on the way is made."""
    if not steps:
        return value
    head, rest = steps[0], steps[1:]
    if head == "*":
        items = list(body) if body else [{}]
        if not rest:
            return value if isinstance(value, list) else [value]
        return [put(items[0], rest, value), *items[1:]]
    known = dict(body or {})
    return {**known, head: put(known.get(head), rest, value)}
